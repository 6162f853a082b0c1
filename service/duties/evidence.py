"""Evidence: sign the log, prove what is in it, and make a quarter's bundle that proves itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import BinaryIO
from uuid import UUID

from sqlalchemy import Connection

from service.bundles.archive import BundleError as BundleError
from service.bundles.material import Earlier, Material, Signed
from service.bundles.write import write
from service.duties import officer
from service.duties.access import Caller, demand
from service.duties.lookup import NotFoundError
from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.checkpoint import log_name as log_name
from service.ledger.note import Verifier, note_text, sign
from service.regimes.load import files
from service.store import evidence
from service.store.gathering import older_bearing_on
from service.store.keyfiles import KeyringError as KeyringError
from service.store.keyring import ForkError as ForkError
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
class SignedState:
    """A state of the log and the note that signs it."""

    state: Checkpoint
    note: str


@dataclass(frozen=True, slots=True)
class Inclusion:
    """That an entry is in a log of that size and root, to be checked by anyone (RFC 9162)."""

    number: int
    leaf: bytes
    size: int
    root: bytes
    proof: list[bytes]


def public_key(keeping: Keeping, caller: Caller) -> Verifier:
    """Give the public key in force; the first time the key is made, and the log's name fixed.

    Raises:
        KeyringError: the key cannot be used as it lies there, or is not where it was.
    """
    name = log_name(keeping.label_url, caller.facility)
    if not keeping.keyring.vkeys(caller.facility).keys:
        with keeping.store.reading() as connection:
            if evidence.last_signed(connection, caller.facility):
                raise KeyringError(
                    "this log was signed before, but its key is not in the folder of keys: "
                    "set CUSTODY_KEY_DIR to where it is"
                )
    return keeping.keyring.signer(caller.facility, name).verifier


def sign_log(keeping: Keeping, caller: Caller, now: datetime) -> SignedState:
    """Sign the log as it stands, and keep the signed checkpoint.

    Raises:
        NotAllowedError: the caller may not read the whole record.
        ForkError: entries that were signed are lost or changed: nothing is signed.
        KeyringError: the key cannot be used as it lies there.
    """
    demand(caller, "sign_checkpoint")
    with keeping.store.log(caller.facility) as log:
        return _signed(keeping, caller, log, now)


def sign_daily(keeping: Keeping, caller: Caller, now: datetime) -> SignedState | None:
    """Sign the log if it grew and the last signature is a day old."""
    with keeping.store.reading() as connection:
        last = evidence.last_signed(connection, caller.facility)
        size = LogView(connection, caller.facility).size
    if last and (now - last[1] < DAILY or last[0] == size):
        return None
    return sign_log(keeping, caller, now)


def growth(keeping: Keeping, caller: Caller, first: int, second: int | None) -> list[bytes]:
    """Prove that the log of ``second`` entries, or of all, begins with that of ``first``.

    Raises:
        NotAllowedError: the caller may not read the whole record.
        ValueError: it was never so long, or the first is larger than the second.
    """
    demand(caller, "prove_consistency")
    with keeping.store.log(caller.facility) as log:
        return log.consistency(first, log.size if second is None else second)


def inclusion(keeping: Keeping, caller: Caller, event_id: UUID, size: int | None) -> Inclusion:
    """Prove that an event is among the first ``size`` entries of the log, or among all.

    Raises:
        NotAllowedError: the caller may not read the whole record.
        NotFoundError: there is no such event.
        ValueError: it came later, or the log was never so long.
    """
    demand(caller, "prove_inclusion")
    facility = caller.facility
    with keeping.store.reading() as connection:
        number = evidence.number_of(connection, facility, str(event_id))
        if number is None:
            raise NotFoundError(f"no event {event_id} is on record")
        log = LogView(connection, facility)
        asked = log.size if size is None else size
        proof = log.inclusion(number, asked)
        [(_, leaf)] = evidence.leaves_at(connection, facility, [number])
        return Inclusion(number, leaf, asked, log.root_at(asked), proof)


def change_key(
    keeping: Keeping, caller: Caller, now: datetime, *, reason: str, after_loss: bool = False
) -> str:
    """Put a new key in place of the one in force; gives the note by which the old vouches for it.

    Raises:
        NotAllowedError: the caller is no administrator.
        ForkError: entries that were signed are lost or changed, and ``after_loss`` is not set.
        KeyringError: there is no key, it cannot be used, or nothing is lost though it was said.
        VouchingError: the reason is not one line of words.
    """
    demand(caller, "change_log_key")
    facility = caller.facility
    keys = keeping.keyring.vkeys(facility).keys
    with keeping.store.log(facility) as log:
        state = Checkpoint(keys[-1].name if keys else "", log.size, log.root)
    grown = _grown_in(keeping.store, facility)
    return keeping.keyring.rotate(facility, state, now, reason, grown=grown, after_loss=after_loss)


def bundle(keeping: Keeping, caller: Caller, quarter: str, now: datetime, out: BinaryIO) -> None:
    """Write a quarter's manifest with all that proves it; the same record gives the same bytes.

    Args:
        keeping: The store and the keys.
        caller: Who asks.
        quarter: Such as ``2026-Q3``.
        now: The time; of a finished quarter it changes nothing.
        out: Where to; it must be possible to go back in it.

    Raises:
        QuarterError: the name is not that of a quarter.
        NotAllowedError: the caller may not read the whole record.
        ForkError, KeyringError: the log cannot be signed.
        BundleError: the record does not agree with its own log.
    """
    demand(caller, "fetch_manifest")
    with keeping.store.reading() as connection:
        reckoned = officer.reckon(keeping.store, connection, caller.facility, quarter, now)
        material = _material(keeping, caller, connection, reckoned, now)
        write(out, reckoned.figures, material, files(reckoned.figures.site.regime))


def _material(
    keeping: Keeping,
    caller: Caller,
    connection: Connection,
    reckoned: officer.Reckoned,
    now: datetime,
) -> Material:
    """What the record gives for the bundle, all of one state."""
    facility = caller.facility
    log = LogView(connection, facility)
    first = evidence.recorded_from(connection, facility, reckoned.figures.start, log.size)
    signed = _signed(keeping, caller, log, now)
    keys = keeping.keyring.vkeys(facility)
    signer = keeping.keyring.signer(facility, signed.state.origin)
    number, version = evidence.setup_in_force(connection, facility)
    named = evidence.named_from(connection, facility, first)
    return Material(
        origin=signed.state.origin,
        first=first,
        size=log.size,
        now=reckoned.figures.now,
        version=version,
        setup_number=number,
        leaves=(leaf for _, leaf in evidence.leaves(connection, facility, first, log.size)),
        before=log.peaks_at(first),
        earlier=_earlier(connection, facility, log, first, reckoned, named),
        brought_forward=sorted(reckoned.containers - named),
        checkpoint=signed.note,
        checkpoints=_checkpoints(connection, facility, log),
        vkeys=[key.vkey for key in keys.keys],
        vouching=keys.vouching,
        sign=lambda text: sign(text, signer),
    )


def _earlier(
    connection: Connection,
    facility: str,
    log: LogView,
    first: int,
    reckoned: officer.Reckoned,
    named: set[str],
) -> Iterator[Earlier]:
    """What the quarter rests on though it was recorded before it, each with its proof."""
    numbers = {n for n in reckoned.rests_on if n < first}
    numbers |= older_bearing_on(connection, facility, first, named - reckoned.containers)
    leaves = dict(evidence.leaves_at(connection, facility, numbers))
    of_setup, setup = evidence.setup_leaves(connection, facility)[-1]
    if of_setup < first:
        leaves[of_setup] = setup
    if first and first - 1 not in leaves:
        leaves |= dict(evidence.leaves(connection, facility, first - 1, first))
    for number in sorted(leaves):
        yield Earlier(number, leaves[number], log.inclusion(number, log.size))


def _checkpoints(connection: Connection, facility: str, log: LogView) -> list[Signed]:
    """Earlier signatures of this very log; after a loss those of the lost one are none of them."""
    found = []
    for size, note in evidence.checkpoints(connection, facility, below=log.size):
        if parse(note_text(note)).root == log.root_at(size):
            found.append(Signed(note, log.consistency(size, log.size)))
    return found


def _signed(keeping: Keeping, caller: Caller, log: LogView, now: datetime) -> SignedState:
    facility = caller.facility
    verifier = public_key(keeping, caller)
    state = Checkpoint(verifier.name, log.size, log.root)
    note = keeping.keyring.sign(facility, state, _grown_in(keeping.store, facility))
    keeping.store.keep_checkpoint(facility, log.size, verifier.key_id.hex(), note, now)
    return SignedState(state, note)


def _grown_in(store: Store, facility: str) -> Grown:
    """Give the question whether a log, read anew each time, begins with a checkpoint."""

    def grown(last: Checkpoint) -> bool:
        with store.log(facility) as log:
            return last.size <= log.size and log.root_at(last.size) == last.root

    return grown
