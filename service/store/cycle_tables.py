"""The tables of cycles: ``trace`` is part of the record, the others are projections of it."""

from datetime import datetime

from sqlalchemy import BigInteger, Column, Index, LargeBinary, Table, Text
from sqlmodel import Field, SQLModel

from service.store.tables import BY_KEY


class TraceRow(SQLModel, table=True):
    """The bytes of a logger's file, by their SHA-256; events tell which cycle they are of."""

    __tablename__ = "trace"

    facility: str = Field(primary_key=True)
    sha256: str = Field(primary_key=True)
    content: bytes = Field(sa_column=Column(LargeBinary, nullable=False))


class BearingRow(SQLModel, table=True):
    """Which entries bear on a cycle, or tell of a spore test of a machine."""

    __tablename__ = "bearing"
    __table_args__ = BY_KEY

    facility: str = Field(primary_key=True)
    subject: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    seq: int = Field(sa_column=Column(BigInteger, primary_key=True, autoincrement=False))


class SporeRow(SQLModel, table=True):
    """A spore test in the register of a machine."""

    __tablename__ = "spore"
    __table_args__ = BY_KEY

    facility: str = Field(primary_key=True)
    machine: str = Field(primary_key=True)
    at: datetime = Field(primary_key=True)
    event: str = Field(primary_key=True)
    grew: bool


class CycleRow(SQLModel, table=True):
    """A cycle of a machine with what it proves; without a machine its run is not on record."""

    __tablename__ = "cycle"
    __table_args__ = (
        Index("ix_cycle_machine", "facility", "machine", "started_at"),
        Index("ix_cycle_started", "facility", "started_at"),
        BY_KEY,
    )

    facility: str = Field(primary_key=True)
    cycle: str = Field(primary_key=True)
    machine: str | None = None
    party: str | None = None
    step: str | None = None
    started_at: datetime | None = None
    ended_at: datetime | None = None
    run: str | None = None
    outcome: str
    proof: str = Field(sa_column=Column(Text, nullable=False))


class LoadedRow(SQLModel, table=True):
    """What was in a cycle, by the histories of the containers."""

    __tablename__ = "loaded"
    __table_args__ = (Index("ix_loaded_container", "facility", "container"), BY_KEY)

    facility: str = Field(primary_key=True)
    cycle: str = Field(primary_key=True)
    container: str = Field(primary_key=True)


TRACE: Table = SQLModel.metadata.tables["trace"]
BEARING: Table = SQLModel.metadata.tables["bearing"]
SPORE: Table = SQLModel.metadata.tables["spore"]
CYCLE: Table = SQLModel.metadata.tables["cycle"]
LOADED: Table = SQLModel.metadata.tables["loaded"]
