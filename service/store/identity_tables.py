"""The tables of who may come in, and of the access log.

Of what somebody proves by only hashes are kept, but for the secret of a second factor. Every change
here goes with an entry in ``access``, whose rows are never changed: see ``checks``.
"""

from datetime import datetime

from sqlalchemy import BigInteger, Column, Index, Table, Text
from sqlmodel import Field, SQLModel


class ClientRow(SQLModel, table=True):
    """A device or program that may speak to the service; only the hash of its token is kept.

    ``kind`` is ``program``, ``device``, or ``enrolment`` for the code by which a device comes in.
    """

    __tablename__ = "client"

    facility: str = Field(primary_key=True)
    token_hash: str = Field(primary_key=True)
    name: str
    role: str
    created_at: datetime
    expires_at: datetime
    revoked_at: datetime | None = None
    kind: str = Field(default="program", sa_column_kwargs={"server_default": "program"})
    units: str = Field(default="", sa_column_kwargs={"server_default": ""})
    """Ids of the units it acts for, apart by blanks."""
    parties: str = Field(default="", sa_column_kwargs={"server_default": ""})


class PersonRow(SQLModel, table=True):
    """Somebody who may sign in."""

    __tablename__ = "person"

    facility: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    name: str
    role: str
    units: str
    parties: str
    valid_until: datetime | None = None
    disabled_at: datetime | None = None


class CredentialRow(SQLModel, table=True):
    """What is kept of something a person proves by."""

    __tablename__ = "credential"
    __table_args__ = (Index("ix_credential_value", "facility", "kind", "value"),)

    facility: str = Field(primary_key=True)
    person: str = Field(primary_key=True)
    kind: str = Field(primary_key=True)
    value: str
    set_at: datetime
    expires_at: datetime | None = None
    used_step: int = Field(sa_column=Column(BigInteger, nullable=False))


class SessionRow(SQLModel, table=True):
    """Somebody signed in; only the hash of the token is kept."""

    __tablename__ = "session"
    __table_args__ = (Index("ix_session_person", "facility", "person"),)

    facility: str = Field(primary_key=True)
    token_hash: str = Field(primary_key=True)
    person: str
    device: str
    proof: str
    created_at: datetime
    idle_until: datetime
    expires_at: datetime
    ended_at: datetime | None = None


class AttemptsRow(SQLModel, table=True):
    """Failed attempts to sign in, by what they were made on and from; ``subject`` is a hash."""

    __tablename__ = "attempts"

    facility: str = Field(primary_key=True)
    subject: str = Field(primary_key=True)
    failures: int
    last_at: datetime


class AccessRow(SQLModel, table=True):
    """An entry of the access log: never changed, never deleted. ``number`` is that of its leaf."""

    __tablename__ = "access"
    __table_args__ = (Index("ix_access_actor", "facility", "kind", "actor", "number"),)

    facility: str = Field(primary_key=True)
    number: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))
    kind: str
    at: datetime
    actor: str
    body: str = Field(sa_column=Column(Text, nullable=False))


CLIENT: Table = SQLModel.metadata.tables["client"]
PERSON: Table = SQLModel.metadata.tables["person"]
CREDENTIAL: Table = SQLModel.metadata.tables["credential"]
SESSION: Table = SQLModel.metadata.tables["session"]
ATTEMPTS: Table = SQLModel.metadata.tables["attempts"]
ACCESS: Table = SQLModel.metadata.tables["access"]
