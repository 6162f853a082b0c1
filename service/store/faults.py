"""What a fault of the database means to who asked."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError


class UnusableError(RuntimeError):
    """The database cannot be used: its address or a setting is wrong, or it is none of ours."""


class BusyError(RuntimeError):
    """The database is held by another process; the same request may be made again."""


class TakenBackError(BusyError):
    """The database took the transaction back for another's sake: all of it may be tried anew."""


class UnwritableError(RuntimeError):
    """The disk is full or fails: nothing was recorded, and what was recorded can still be read."""

    def __init__(self, said: str, *, full: bool = False) -> None:
        super().__init__(said)
        self.full = full


@contextmanager
def or_said() -> Iterator[None]:
    """Say what a fault of the database means to who asked."""
    try:
        yield
    except UnicodeDecodeError as error:  # the driver, trying to say what is wrong with the schema
        raise UnusableError("the database is damaged: its schema is no text any more") from error
    except DBAPIError as error:
        state = getattr(error.orig, "sqlstate", "")  # None where there was nobody to name one
        if state != "":
            raise _of_server(state or NO_ANSWER, error) from error
        if "locked" in str(error.orig):
            raise BusyError("the database is busy: try again in a moment") from error
        why = getattr(error.orig, "sqlite_errorname", "").split("_")[:2]
        if why == ["SQLITE", "FULL"]:
            raise UnwritableError("the disk is full: nothing was recorded", full=True) from error
        if why in _FAULTY_DISK:
            raise UnwritableError("the disk cannot be written: nothing was recorded") from error
        if why == ["SQLITE", "CORRUPT"]:
            raise UnusableError(
                f"the database is damaged: {error.orig}; copy its whole folder as it is, and run "
                "'custody check'"
            ) from error
        raise


def _of_server(state: str, error: DBAPIError) -> Exception:
    """Say what a fault that PostgreSQL names by its SQLSTATE means to who asked.

    The classes are those of its manual, appendix A, "PostgreSQL Error Codes".
    """
    if state in ("53100", "58030"):  # disk_full, io_error
        full = state == "53100"
        return UnwritableError(
            "the database's disk is full or fails: nothing was recorded", full=full
        )
    if state == "25006":  # read_only_sql_transaction: a standby, or one told to take nothing
        return UnwritableError("the database takes no entries now: nothing was recorded")
    if state in ("40001", "40P01"):  # serialization_failure, deadlock_detected
        return TakenBackError("the database was busy with others' entries: send the same again")
    if state in _PASSING or state[:2] in _PASSING_CLASSES:
        return BusyError("the database does not answer now: try again in a moment")
    if state == "42501":  # insufficient_privilege
        return UnusableError(
            f"the database's user may not do what the service does: {error.orig}; make it the "
            "owner of the database and of every table in it"
        )
    if state in ("XX001", "XX002"):  # data_corrupted, index_corrupted
        return UnusableError(f"the database is damaged: {error.orig}")
    return error


NO_ANSWER = "08000"
_PASSING = ("55P03", "53300", "53400", "57P01", "57P02", "57P03", "57P05", "57014", "25P03")
"""No lock in time, too many connections, stopping or starting, told to stop, idle for too long."""
_PASSING_CLASSES = ("08",)
"""The connection broke. Whether the last commit held is not known: the same is sent again."""

_FAULTY_DISK = (["SQLITE", "IOERR"], ["SQLITE", "READONLY"], ["SQLITE", "CANTOPEN"])


@contextmanager
def or_unusable() -> Iterator[None]:
    """Say of the fault what its driver says, never the address: that may hold a password."""
    try:
        yield
    except ImportError as error:
        raise UnusableError(f"the database's driver is not installed: {error.name}") from error
    except (SQLAlchemyError, UnwritableError) as error:
        cause = error.__cause__ if isinstance(error, UnwritableError) else error
        why = getattr(cause, "orig", None) or error
        raise UnusableError(f"the database cannot be opened: {why}") from error
