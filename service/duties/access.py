"""Who may do what: the one table of roles, kinds of event and readings, denied by default."""

from datetime import datetime

from service.custody.words import Role
from service.store.database import BusyError, UnusableError, UnwritableError
from service.store.store import Client as Caller
from service.store.store import NoSetupError, Store

_WARD = frozenset({"registered", "weighed", "inspected", "spilled", "amended", "labelled"})
_HANDLER = _WARD | {
    "double_bagged", "packed", "unpacked", "collected", "stored", "dispatched", "lost", "found",
    "treated",
}  # fmt: skip
_PLANT = frozenset(
    {
        "received", "refused", "weighed", "unpacked", "stored", "treated", "disposed", "inspected",
        "lost", "found", "spilled", "amended", "dispatched", "packed",
    }
)  # fmt: skip
_ALL = _HANDLER | _PLANT | {"notified"}

MAY_RECORD: dict[Role, frozenset[str]] = {
    Role.WARD: _WARD,
    Role.HANDLER: _HANDLER,
    Role.PLANT: _PLANT,
    Role.OFFICER: _ALL,
    Role.ADMINISTRATOR: _ALL,
    Role.INSPECTOR: frozenset(),
}
"""The kinds of event each role may record."""

MAY_PRINT_LABELS = frozenset({Role.WARD, Role.HANDLER, Role.OFFICER, Role.ADMINISTRATOR})
MAY_READ_ALL = frozenset({Role.OFFICER, Role.ADMINISTRATOR, Role.INSPECTOR})
"""Roles that may read the whole record and its manifests."""


class NotAllowedError(PermissionError):
    """The caller's role does not cover this; the message says which would."""


def sign_in(store: Store, token: str, now: datetime) -> Caller | None:
    """Give the caller that holds a token, or None if it is unknown, expired or revoked."""
    return store.client_of(token, now)


def demand(caller: Caller, roles: frozenset[Role], what: str) -> None:
    """Let the caller pass if it has one of the roles.

    Raises:
        NotAllowedError: it has not.
    """
    if caller.role not in roles:
        allowed = ", ".join(sorted(roles))
        raise NotAllowedError(f"{what} is for {allowed}; this token is for {caller.role}")


__all__ = [
    "MAY_PRINT_LABELS",
    "MAY_READ_ALL",
    "MAY_RECORD",
    "BusyError",
    "Caller",
    "NoSetupError",
    "NotAllowedError",
    "Store",
    "UnusableError",
    "UnwritableError",
    "demand",
    "sign_in",
]
