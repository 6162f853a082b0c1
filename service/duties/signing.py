"""Sign a facility's two logs: that of the record, and the access log with a key of its own."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.access.entries import AccessKind, access_log, by
from service.duties.access import Caller, demand
from service.ledger.checkpoint import Checkpoint, log_name
from service.ledger.note import Verifier
from service.store import access_log as entered
from service.store import evidence
from service.store.keyfiles import KeyringError
from service.store.keyring import Grown, Keyring
from service.store.log import LogView
from service.store.store import Store

DAILY = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Keeping:
    """The store, and the keys by which what it holds is signed.

    Attributes:
        label_url: Gives a log its name at the first signature; later it changes nothing.
    """

    store: Store
    keyring: Keyring
    label_url: str


@dataclass(frozen=True, slots=True)
class Log:
    """One of the two logs.

    Attributes:
        word: What an entry calls it.
        of: Gives the name under which a facility's is kept.
        to_sign: The operation of signing it.
        to_prove: The operation of proving what is in it.
    """

    word: str
    of: Callable[[str], str]
    to_sign: str
    to_prove: str


RECORD = Log("record", str, "sign_checkpoint", "prove_consistency")
ACCESS = Log("access", access_log, "sign_access_log", "read_access_log")
LOGS = (RECORD, ACCESS)


@dataclass(frozen=True, slots=True)
class SignedState:
    """A state of the log and the note that signs it."""

    state: Checkpoint
    note: str


def public_key(keeping: Keeping, caller: Caller, log: Log = RECORD) -> Verifier:
    """Give the public key in force; the first time the key is made, and the log's name fixed.

    Raises:
        KeyringError: the key cannot be used as it lies there, or is not where it was.
    """
    kept_as = log.of(caller.facility)
    # In this order: whoever makes the key and signs meanwhile is not taken for one who signed
    # with a key that is gone.
    with keeping.store.reading() as connection:
        was_signed = evidence.last_signed(connection, kept_as) is not None
    if keys := keeping.keyring.vkeys(kept_as).keys:
        return keys[-1]
    if was_signed:
        raise KeyringError(
            "this log was signed before, but its key is not in the folder of keys: "
            "set CUSTODY_KEY_DIR to where it is"
        )
    name = log_name(keeping.label_url, kept_as)
    return keeping.keyring.signer(kept_as, name).verifier


def sign_log(keeping: Keeping, caller: Caller, now: datetime, log: Log = RECORD) -> SignedState:
    """Sign a log as it stands, and keep the signed checkpoint.

    A state that is signed for the first time is an entry of the access log.

    Raises:
        NotAllowedError: the caller may not sign it.
        ForkError: entries that were signed are lost or changed: nothing is signed.
        KeyringError: the key cannot be used as it lies there.
    """
    demand(caller, log.to_sign)
    with keeping.store.log(log.of(caller.facility)) as view:
        return signed(keeping, caller, view, now, log)


def sign_access_log(keeping: Keeping, caller: Caller, now: datetime) -> SignedState:
    """Sign the access log as it stands; as ``sign_log``."""
    return sign_log(keeping, caller, now, ACCESS)


def sign_daily(
    keeping: Keeping, caller: Caller, now: datetime, log: Log = RECORD
) -> SignedState | None:
    """Sign a log if it grew and the last signature is a day old, or dated later than now.

    That is not entered: the access log would grow by it, and be signed for ever.
    """
    demand(caller, log.to_sign)
    kept_as = log.of(caller.facility)
    with keeping.store.reading() as connection:
        last = evidence.last_signed(connection, kept_as)
        size = LogView(connection, kept_as).size
    if size == (last[0] if last else 0):
        return None
    if last and timedelta(0) <= now - last[1] < DAILY:
        return None
    with keeping.store.log(kept_as) as view:
        return signed(keeping, caller, view, now, log, enter=False)


def growth(
    keeping: Keeping, caller: Caller, first: int, second: int | None, log: Log = RECORD
) -> list[bytes]:
    """Prove that the log of ``second`` entries, or of all, begins with that of ``first``.

    Raises:
        NotAllowedError: the caller may not read the whole log.
        ValueError: it was never so long, or the first is larger than the second.
    """
    demand(caller, log.to_prove)
    with keeping.store.log(log.of(caller.facility)) as view:
        return view.consistency(first, view.size if second is None else second)


def change_key(
    keeping: Keeping,
    caller: Caller,
    now: datetime,
    *,
    reason: str,
    after_loss: bool = False,
    log: Log = RECORD,
) -> str:
    """Put a new key in place of the one in force; gives the note by which the old vouches for it.

    Raises:
        NotAllowedError: the caller is no administrator.
        ForkError: entries that were signed are lost or changed, and ``after_loss`` is not set.
        KeyringError: there is no key, it cannot be used, or nothing is lost though it was said.
        VouchingError: the reason is not one line of words.
    """
    demand(caller, "change_log_key")
    kept_as = log.of(caller.facility)
    keys = keeping.keyring.vkeys(kept_as).keys
    with keeping.store.log(kept_as) as view:
        state = Checkpoint(keys[-1].name if keys else "", view.size, view.root)
    grown = _grown_in(keeping.store, kept_as)
    kind = AccessKind.LOG_KEY_CHANGED
    with keeping.store.changing(caller.facility) as connection:
        # Entered before the key is changed, and taken back if it is not: never a change unentered.
        entry = by(caller, kind, now, log=log.word, size=state.size, after_loss=int(after_loss))
        entered.record(connection, caller.facility, entry)
        return keeping.keyring.rotate(
            kept_as, state, now, reason, grown=grown, after_loss=after_loss
        )


def signed(
    keeping: Keeping,
    caller: Caller,
    view: LogView,
    now: datetime,
    log: Log = RECORD,
    *,
    enter: bool = True,
) -> SignedState:
    """Sign a log as it stands in a reading that is open; errors as ``sign_log``."""
    kept_as = log.of(caller.facility)
    verifier = public_key(keeping, caller, log)
    state = Checkpoint(verifier.name, view.size, view.root)
    note = keeping.keyring.sign(kept_as, state, _grown_in(keeping.store, kept_as))
    entry = by(caller, AccessKind.LOG_SIGNED, now, log=log.word, size=view.size) if enter else None
    keeping.store.keep_checkpoint(
        kept_as, view.size, verifier.key_id.hex(), note, now, caller.facility, entry
    )
    return SignedState(state, note)


def _grown_in(store: Store, log: str) -> Grown:
    """Give the question whether a log, read anew each time, begins with a checkpoint."""

    def grown(last: Checkpoint) -> bool:
        with store.log(log) as view:
            return last.size <= view.size and view.root_at(last.size) == last.root

    return grown
