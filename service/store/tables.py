"""The tables. ``setup``, ``event`` and ``leaf`` are the record; projections can be derived anew.

Triggers (see the migrations) refuse a change of what was written, whoever asks for it.

Every table has the facility first in its primary key, and no query crosses facilities. Instants
are aware UTC: the column type refuses a naive one.
"""

from datetime import datetime

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Index,
    LargeBinary,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlmodel import Field, SQLModel

BY_KEY = {"sqlite_with_rowid": False}
"""Rows are kept in the order of their primary key itself, not beside an index of it."""


class SetupRow(SQLModel, table=True):
    """A version of the facility's set-up; the latest holds. ``number`` is its leaf in the log."""

    __tablename__ = "setup"

    facility: str = Field(primary_key=True)
    version: int = Field(primary_key=True)
    number: int = Field(sa_column=Column(BigInteger, nullable=False))
    recorded_at: datetime
    document: str = Field(sa_column=Column(Text, nullable=False))


class SecretRow(SQLModel, table=True):
    """A key that label tags are made with: see ``labelling``."""

    __tablename__ = "secret"

    facility: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    value: bytes


class EventRow(SQLModel, table=True):
    """An entry of the record, in order of arrival. Never changed, never deleted.

    ``seq`` is one more than the number of its leaf in the log; versions of the set-up take numbers
    of the same series.
    """

    __tablename__ = "event"
    __table_args__ = (
        Index("ix_event_id", "facility", "id", unique=True),
        Index(
            "ix_event_supersedes",
            "facility",
            "supersedes",
            sqlite_where=text("supersedes IS NOT NULL"),
            postgresql_where=text("supersedes IS NOT NULL"),
        ),
        Index("ix_event_kind", "facility", "kind", "at"),
    )

    facility: str = Field(primary_key=True)
    seq: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))
    id: str
    kind: str
    at: datetime
    recorded_at: datetime
    clock_offset_s: int = Field(sa_column=Column(BigInteger, nullable=False))
    false_codes: str
    origin: str
    supersedes: str | None = None
    body: str = Field(sa_column=Column(Text, nullable=False))
    sender: str = Field(default="", sa_column_kwargs={"server_default": ""})


class LeafRow(SQLModel, table=True):
    """The hash of an entry, or of a version of the set-up, in the facility's log.

    Each follows on one other, and no two on the same: a log that forks is an error, not a row.
    """

    __tablename__ = "leaf"
    __table_args__ = (
        UniqueConstraint("facility", "previous", name="uq_leaf_previous"),
        CheckConstraint("number >= 0", name="ck_leaf_number"),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    number: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))
    hash: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))
    previous: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))


class NodeRow(SQLModel, table=True):
    """The hash of a complete subtree of the log: it spans 2^level leaves and never changes."""

    __tablename__ = "node"
    __table_args__ = (BY_KEY,)

    facility: str = Field(primary_key=True)
    level: int = Field(primary_key=True)
    number: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))
    hash: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))


class LogRow(SQLModel, table=True):
    """The head of a facility's log: derived from its leaves, read and moved by every append."""

    __tablename__ = "log"

    facility: str = Field(primary_key=True)
    size: int = Field(sa_column=Column(BigInteger, nullable=False))
    last: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))
    peaks: bytes = Field(sa_column=Column(LargeBinary, nullable=False))


class CheckpointRow(SQLModel, table=True):
    """A state of a log that was signed."""

    __tablename__ = "checkpoint"
    __table_args__ = (BY_KEY,)

    facility: str = Field(primary_key=True)
    size: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))
    signed_by: str = Field(primary_key=True)
    signed_at: datetime
    note: str = Field(sa_column=Column(Text, nullable=False))


class NamedRow(SQLModel, table=True):
    """Which entries name a container, at the time they speak of.

    ``reaches`` says that the entry also bears on what is inside the container then.
    """

    __tablename__ = "named"
    __table_args__ = BY_KEY

    facility: str = Field(primary_key=True)
    container: str = Field(primary_key=True)
    at: datetime = Field(primary_key=True)
    seq: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))
    reaches: bool


class ConsignedRow(SQLModel, table=True):
    """Which entries close the receipt of a consignment, or amend one that does."""

    __tablename__ = "consigned"
    __table_args__ = BY_KEY

    facility: str = Field(primary_key=True)
    consignment: str = Field(primary_key=True)
    seq: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))


class ContainerRow(SQLModel, table=True):
    """A container as it stands."""

    __tablename__ = "container"
    __table_args__ = (
        CheckConstraint("weight_g IS NULL OR weight_g >= 0", name="ck_container_weight"),
        Index(
            "ix_container_due",
            "facility",
            "due_at",
            sqlite_where=text("due_at IS NOT NULL"),
            postgresql_where=text("due_at IS NOT NULL"),
        ),
        Index("ix_container_sealed", "facility", "sealed_at"),
        Index("ix_container_closed", "facility", "closed_at"),
        Index("ix_container_consignment", "facility", "consignment"),
        Index("ix_container_custodian", "facility", "custodian", "state"),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    container: str = Field(primary_key=True)
    state: str
    category: str | None = None
    unit: str | None = None
    kind: str | None = None
    weight_g: int | None = None
    scale: str | None = None
    received_g: int | None = None
    received_scale: str | None = None
    sealed_at: datetime | None = None
    custodian: str | None = None
    since: datetime | None = None
    place: str | None = None
    condition: str | None = None
    parent: str | None = None
    consignment: str | None = None
    steps: str = ""
    outlet: str | None = None
    next_acts: str = ""
    due_at: datetime | None = None
    closed_at: datetime | None = None
    carries: bool = False


class StayRow(SQLModel, table=True):
    """When a container was inside which parent."""

    __tablename__ = "stay"
    __table_args__ = (
        Index("ix_stay_child", "facility", "child"),
        Index("ix_stay_until", "facility", "parent", "until_at"),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    parent: str = Field(primary_key=True)
    from_at: datetime = Field(primary_key=True)
    child: str = Field(primary_key=True)
    until_at: datetime | None = None


class CarriedRow(SQLModel, table=True):
    """A container's part in a consignment."""

    __tablename__ = "carried"
    __table_args__ = (
        Index("ix_carried_container", "facility", "container"),
        # The facility stands last: SQLite holds a key that begins with it for the better one.
        Index(
            "ix_carried_seal",
            "seal",
            "facility",
            sqlite_where=text("seal IS NOT NULL"),
            postgresql_where=text("seal IS NOT NULL"),
        ),
        Index(
            "ix_carried_seal_received",
            "seal_received",
            "facility",
            sqlite_where=text("seal_received IS NOT NULL"),
            postgresql_where=text("seal_received IS NOT NULL"),
        ),
        Index(
            "ix_carried_under_way",
            "end",
            "facility",
            "consignment",
            "container",
            sqlite_where=text('"end" IS NULL'),
            postgresql_where=text('"end" IS NULL'),
        ),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    consignment: str = Field(primary_key=True)
    container: str = Field(primary_key=True)
    left_at: datetime = Field(primary_key=True)
    carrier: str
    consignee: str
    vehicle: str | None = None
    seal: str | None = None
    sent_g: int | None = None
    end: str | None = None
    ended_at: datetime | None = None
    ended_by: str | None = None
    seal_received: str | None = None
    received_g: int | None = None


class ViolationRow(SQLModel, table=True):
    """A violation with its opening and closing; an opening may lie ahead."""

    __tablename__ = "violation"
    __table_args__ = (
        Index("ix_violation_opened", "facility", "opened_at"),
        Index("ix_violation_code", "facility", "code", "opened_at"),
        Index("ix_violation_closed", "facility", "closed_at"),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    container: str = Field(primary_key=True)
    number: int = Field(primary_key=True)
    code: str
    severity: str
    opened_at: datetime
    closed_at: datetime | None = None
    clause: str
    evidence: str
    message: str
    next_action: str
    notified_at: datetime | None = None


class NoticeRow(SQLModel, table=True):
    """A notice to somebody outside, until it was taken and after; no part of the record."""

    __tablename__ = "notice"
    __table_args__ = (
        Index(
            "ix_notice_unsent",
            "facility",
            "recipient",
            "next_at",
            sqlite_where=text("sent_at IS NULL"),
            postgresql_where=text("sent_at IS NULL"),
        ),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    recipient: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    made_at: datetime
    told: str = Field(sa_column=Column(Text, nullable=False))
    tries: int
    next_at: datetime
    sent_at: datetime | None = None
    fault: str = ""


RECORD: Table = SQLModel.metadata.tables["event"]
LEAF: Table = SQLModel.metadata.tables["leaf"]
NODE: Table = SQLModel.metadata.tables["node"]
LOG: Table = SQLModel.metadata.tables["log"]
CHECKPOINT: Table = SQLModel.metadata.tables["checkpoint"]
NAMED: Table = SQLModel.metadata.tables["named"]
CONSIGNED: Table = SQLModel.metadata.tables["consigned"]
CONTAINER: Table = SQLModel.metadata.tables["container"]
CARRIED: Table = SQLModel.metadata.tables["carried"]
STAY: Table = SQLModel.metadata.tables["stay"]
VIOLATION: Table = SQLModel.metadata.tables["violation"]
NOTICE: Table = SQLModel.metadata.tables["notice"]
SETUP: Table = SQLModel.metadata.tables["setup"]
SECRET: Table = SQLModel.metadata.tables["secret"]
