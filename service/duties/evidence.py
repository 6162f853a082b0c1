"""Evidence: sign the logs, prove what is in them, make a quarter's bundle that proves itself."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO
from uuid import UUID

from sqlalchemy import Connection

from service.access.entries import AccessKind
from service.bundles.archive import BundleError as BundleError
from service.bundles.material import Earlier, Material, Signed, sizes_wanted
from service.bundles.write import write
from service.duties import officer
from service.duties.access import Caller, demand
from service.duties.entering import enter
from service.duties.lookup import NotFoundError
from service.duties.signing import ACCESS as ACCESS
from service.duties.signing import LOGS as LOGS
from service.duties.signing import RECORD as RECORD
from service.duties.signing import Keeping as Keeping
from service.duties.signing import Log as Log
from service.duties.signing import SignedState as SignedState
from service.duties.signing import change_key as change_key
from service.duties.signing import growth as growth
from service.duties.signing import public_key as public_key
from service.duties.signing import sign_access_log as sign_access_log
from service.duties.signing import sign_daily as sign_daily
from service.duties.signing import sign_log as sign_log
from service.duties.signing import signed
from service.ledger.checkpoint import log_name as log_name
from service.ledger.checkpoint import parse
from service.ledger.leaf import read
from service.ledger.note import note_text, sign
from service.ledger.vouching import vouched
from service.manifests.figures import QuarterFigures
from service.regimes.load import files
from service.store import evidence
from service.store.cycles import traces_of
from service.store.gathering import older_bearing_on
from service.store.keyfiles import KeyringError as KeyringError
from service.store.keyring import ForkError as ForkError
from service.store.log import LogView


@dataclass(frozen=True, slots=True)
class Inclusion:
    """That an entry is in a log of that size and root, to be checked by anyone (RFC 9162)."""

    number: int
    leaf: bytes
    size: int
    root: bytes
    proof: list[bytes]


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
    with keeping.store.viewing(through=True) as connection:
        reckoned = officer.reckon(keeping.store, connection, caller.facility, quarter, now)
        material = _material(keeping, caller, connection, reckoned, now)
        write(out, reckoned.figures, material, files(reckoned.figures.site.regime))
    enter(keeping.store, caller, AccessKind.EXPORTED, now, form="bundle", quarter=quarter)


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
    first = reckoned.first
    state = signed(keeping, caller, log, now)
    past = evidence.recorded_from(connection, facility, reckoned.figures.end, log.size)
    keys = keeping.keyring.vkeys(facility)
    signer = keeping.keyring.signer(facility, state.state.origin)
    number, version = evidence.setup_in_force(connection, facility)
    named = evidence.named_from(connection, facility, first)
    return Material(
        origin=state.state.origin,
        first=first,
        size=log.size,
        now=reckoned.figures.now,
        began=None if first else _began(connection, facility),
        version=version,
        setup_number=number,
        leaves=(leaf for _, leaf in evidence.leaves(connection, facility, first, log.size)),
        before=log.peaks_at(first),
        earlier=_earlier(connection, facility, log, first, reckoned, named),
        brought_forward=sorted(reckoned.containers - named),
        checkpoint=state.note,
        checkpoints=_checkpoints(connection, facility, log, first, past, keys.vouching),
        vkeys=[key.vkey for key in keys.keys],
        vouching=keys.vouching,
        sign=lambda text: sign(text, signer),
        traces=traces_of(connection, facility, _traces_told(reckoned.figures)),
    )


def _traces_told(figures: QuarterFigures) -> set[str]:
    """The traces of all cycles that anything in the figures went through."""
    return {sha256 for proof in figures.proofs for sha256 in proof.judged}


def _earlier(
    connection: Connection,
    facility: str,
    log: LogView,
    first: int,
    reckoned: officer.Reckoned,
    named: set[str],
) -> Iterator[Earlier]:
    """What the quarter rests on though it was recorded before it, each with its proof."""
    numbers = reckoned.older
    numbers |= older_bearing_on(connection, facility, first, named - reckoned.containers)
    leaves = dict(evidence.leaves_at(connection, facility, numbers))
    of_setup, setup = evidence.setup_leaves(connection, facility)[-1]
    if of_setup < first:
        leaves[of_setup] = setup
    if first and first - 1 not in leaves:
        leaves |= dict(evidence.leaves(connection, facility, first - 1, first))
    for number in sorted(leaves):
        yield Earlier(number, leaves[number], log.inclusion(number, log.size))


def _began(connection: Connection, facility: str) -> datetime:
    """When the first entry was recorded; a log begins with the set-up."""
    [(_, leaf)] = evidence.leaves(connection, facility, 0, 1)
    return read(leaf).recorded_at


def _checkpoints(
    connection: Connection,
    facility: str,
    log: LogView,
    first: int,
    past: int,
    vouching: Sequence[str],
) -> list[Signed]:
    """Earlier signatures of this very log; after a loss those of the lost one are none of them."""
    notes = [
        (size, note)
        for size, note in evidence.checkpoints(connection, facility, below=log.size)
        if parse(note_text(note)).root == log.root_at(size)
    ]
    changes = {vouched(note).state.size for note in vouching}
    wanted = sizes_wanted({size for size, _ in notes}, first, past, changes)
    return [Signed(note, log.consistency(n, log.size)) for n, note in notes if n in wanted]
