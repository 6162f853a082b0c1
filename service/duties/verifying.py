"""Have a bundle checked here, and say how the log stands."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from io import BytesIO

from service.access.entries import AccessKind
from service.bundles.verify import Check as Check
from service.bundles.verify import verify
from service.duties.access import BusyError, Caller, demand
from service.duties.entering import enter
from service.duties.lookup import NotFoundError
from service.duties.signing import Keeping
from service.ledger.note import Verifier
from service.store import evidence
from service.store.log import LogView

UNPACKED_FREE = 10_000_000
UNPACKED_RATIO = 20
"""Bytes that one of a bundle may unpack to here: those of a record unpack to about ten."""
_turn = threading.Lock()
"""One bundle at a time: a quarter's takes half a minute of a core and hundreds of megabytes."""


@dataclass(frozen=True, slots=True)
class LogState:
    """The log as it is, and as it was last signed.

    Attributes:
        signed: Entries that the last checkpoint covers, and when it was signed.
        keys: Every public key, the last in force; none before the first signature.
    """

    size: int
    signed: tuple[int, datetime] | None
    keys: Sequence[Verifier]


def log_state(keeping: Keeping, caller: Caller) -> LogState:
    """Say how the log stands; nothing is signed, and no key made.

    Raises:
        NotAllowedError: the caller may not see the key.
        KeyringError: the keys cannot be used as they lie there.
    """
    demand(caller, "fetch_log_key")
    keys = keeping.keyring.vkeys(caller.facility).keys
    with keeping.store.reading() as connection:
        size = LogView(connection, caller.facility).size
        return LogState(size, evidence.last_signed(connection, caller.facility), keys)


def verify_bundle(
    keeping: Keeping, caller: Caller, archive: bytes, now: datetime, *, own_key: bool
) -> list[Check]:
    """Check a bundle that somebody brings; that it was brought is entered before.

    Args:
        keeping: The store and the keys.
        caller: Who asks.
        archive: The bundle.
        now: The time.
        own_key: Against the key of this facility's log; else the bundle's own is taken, and all
            that is shown is that it agrees with itself.

    Raises:
        NotAllowedError: the caller may not have bundles checked.
        NotFoundError: this facility has no key yet.
        BusyError: another one is being checked.
        BundleError: it is no bundle.
    """
    demand(caller, "verify_bundle")
    trusted = None
    if own_key:
        keys = keeping.keyring.vkeys(caller.facility).keys
        if not keys:
            raise NotFoundError("this facility's log was never signed: it has no key to hold to")
        trusted = keys[0]  # from the first, the bundle's own notes lead on to the one it is by
    if not _turn.acquire(blocking=False):
        raise BusyError("another bundle is being checked: send it again in a minute")
    try:
        digest = sha256(archive).hexdigest()
        held_to = "facility" if own_key else "bundle"
        kind = AccessKind.BUNDLE_CHECKED
        enter(keeping.store, caller, kind, now, sha256=digest, key=held_to)
        most = UNPACKED_FREE + UNPACKED_RATIO * len(archive)
        return list(verify(BytesIO(archive), key=trusted, unpacked_max=most))
    finally:
        _turn.release()
