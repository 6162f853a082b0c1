"""The key of a facility's log: shown, signed with, and changed on the administrator's word."""

from dataclasses import dataclass
from datetime import datetime

from service.custody.words import Role
from service.duties.access import Caller, demand
from service.ledger.checkpoint import Checkpoint, log_name
from service.ledger.note import Verifier
from service.store.keyring import Grown, Keyring
from service.store.store import Store

_KEEPERS = frozenset({Role.ADMINISTRATOR})


@dataclass(frozen=True, slots=True)
class SignedState:
    """A state of the log and the note that signs it."""

    state: Checkpoint
    note: str


def public_key(caller: Caller, keyring: Keyring, label_url: str) -> Verifier:
    """Give the public key in force; the first time the key is made, and the log's name fixed.

    Raises:
        KeyringError: the key cannot be used as it lies there.
    """
    return keyring.signer(caller.facility, log_name(label_url, caller.facility)).verifier


def sign_log(store: Store, caller: Caller, keyring: Keyring, label_url: str) -> SignedState:
    """Sign the log as it stands.

    Raises:
        ForkError: entries that were signed are lost or changed: nothing is signed.
        KeyringError: the key cannot be used as it lies there.
    """
    name = public_key(caller, keyring, label_url).name
    with store.log(caller.facility) as log:
        state = Checkpoint(name, log.size, log.root)
    return SignedState(
        state, keyring.sign(caller.facility, state, grown_in(store, caller.facility))
    )


def growth(store: Store, caller: Caller, first: int, second: int) -> list[bytes]:
    """Prove that the log of ``second`` entries begins with that of ``first``.

    Raises:
        ValueError: it was never so long, or the first is larger than the second.
    """
    with store.log(caller.facility) as log:
        return log.consistency(first, second)


def change_key(
    store: Store,
    caller: Caller,
    keyring: Keyring,
    now: datetime,
    *,
    reason: str,
    after_loss: bool = False,
) -> str:
    """Put a new key in place of the one in force; gives the note by which the old vouches for it.

    Raises:
        NotAllowedError: the caller is no administrator.
        ForkError: entries that were signed are lost or changed, and ``after_loss`` is not set.
        KeyringError: there is no key, it cannot be used, or nothing is lost though it was said.
        VouchingError: the reason is not one line of words.
    """
    demand(caller, _KEEPERS, "changing the key")
    keys = keyring.vkeys(caller.facility).keys
    with store.log(caller.facility) as log:
        state = Checkpoint(keys[-1].name if keys else "", log.size, log.root)
    return keyring.rotate(
        caller.facility,
        state,
        now,
        reason,
        grown=grown_in(store, caller.facility),
        after_loss=after_loss,
    )


def grown_in(store: Store, facility: str) -> Grown:
    """Give the question whether a log, read anew each time, begins with a checkpoint."""

    def grown(last: Checkpoint) -> bool:
        with store.log(facility) as log:
            return last.size <= log.size and log.root_at(last.size) == last.root

    return grown
