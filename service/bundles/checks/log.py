"""The log: entries, their hashes, the root that was signed, and that the log only ever grew."""

from collections import Counter
from collections.abc import Sequence

from service.bundles import names
from service.bundles.checks.case import SHOWN, Case, shortened, signed_by
from service.bundles.parts import Parts
from service.bundles.reading import Unknown, Unsound, hashes_of, read_leaf
from service.custody.events import Entry
from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.leaf import SiteVersion
from service.ledger.merkle import ProofError, check_consistency, check_inclusion, leaf_hash
from service.ledger.note import NoteError, note_text, opened


def checkpoint(case: Case) -> str:
    """The log's state is signed by its present key."""
    note = case.parts.text(names.CHECKPOINT)
    signed_by(note, case.parts.keys[-1], names.CHECKPOINT)
    found = case.parts.checkpoint
    if not found.origin.endswith(f"/{case.parts.told.facility}"):
        raise Unsound(f"the log {found.origin} is not that of {case.parts.told.facility}")
    return f"{found.size} entries of the log {found.origin}, root {found.root.hex()}"


def entries(case: Case) -> str:
    """Every line is an entry or a set-up, in its one form."""
    told, parts = case.parts.told, case.parts
    setups = sum(isinstance(one, SiteVersion) for one in parts.leaves.values())
    times = Counter(entry.event.id for entry in parts.entries.values())
    twice = [str(event) for event, count in times.items() if count > 1]
    if twice:
        raise Unsound(f"the event {twice[0]} is on record twice")
    return (
        f"{told.first} up to {told.size}: {len(parts.leaves) - setups} events, {setups} set-up(s)"
    )


def hashes(case: Case) -> str:
    """The hash of every line is the one listed for it."""
    parts = case.parts
    listed = hashes_of(parts.file(names.LEAVES), names.LEAVES)
    first = parts.told.first
    wrong = [
        n for n, pair in enumerate(zip(parts.computed, listed, strict=False)) if pair[0] != pair[1]
    ]
    if len(listed) != len(parts.computed):
        at = f"; the first to differ is {_named(parts, wrong[0])}" if wrong else ""
        raise Unsound(
            f"{len(parts.computed)} entries, but {len(listed)} hashes in {names.LEAVES}{at}"
        )
    if wrong:
        named = [_named(parts, n) if i < SHOWN else "" for i, n in enumerate(wrong)]
        raise Unsound(f"changed since its hash was listed: {shortened(named)}")
    return f"{len(listed)}, from entry {first}"


def _named(parts: Parts, line: int) -> str:
    """Name an entry by number, event and containers, as it reads now."""
    number = parts.told.first + line
    try:
        found = read_leaf(number, parts.file(names.ENTRIES).split(b"\n")[line])
    except Unsound:
        return f"entry {number}, line {line + 1}, which is no entry any more"
    if isinstance(found, SiteVersion):
        return f"entry {number}, set-up {found.version}"
    return f"entry {number}, {_event(found)}"


def _event(entry: Entry) -> str:
    event = entry.event
    of = ", ".join(event.named()[:3]) or "no container"
    return f"event {event.id}, {event.kind}, {of}"


def root(case: Case) -> str:
    """The entries, with what was before them, give the root that was signed."""
    parts = case.parts
    signed, size = parts.checkpoint, parts.told.first + len(parts.computed)
    if size == signed.size and parts.root_at(size) == signed.root:
        return "the entries are those the checkpoint was signed over, none less, none more"
    states = [parse(note_text(one.note)) for one in parts.signed]
    within = [s for s in states if parts.told.first <= s.size <= size]
    good = max((s.size for s in within if parts.root_at(s.size) == s.root), default=None)
    bad = min((s.size for s in within if parts.root_at(s.size) != s.root), default=None)
    where = f" Up to entry {good} they are as signed." if good is not None else ""
    where += f" The change lies before entry {bad}." if bad is not None else ""
    raise Unsound(
        f"the entries do not give the root that was signed.{where} What is reckoned from them "
        "below may be other for that alone"
    )


def earlier_entries(case: Case) -> str:
    """Each older entry that the figures rest on is in the same log."""
    included(case.parts, case.parts.checkpoint.root)
    return f"{len(case.parts.older)}, each proved to be in the log"


def included(parts: Parts, root: bytes) -> None:
    """See that the older entries of a bundle are in the log with that root."""
    for one in parts.earlier:
        try:
            check_inclusion(leaf_hash(one.leaf), one.number, parts.told.size, one.proof, root)
        except ProofError as error:
            raise Unsound(f"older entry {one.number} is not proved: {error}") from error


def earlier_checkpoints(case: Case) -> str:
    """Each earlier checkpoint is signed by the key of its time, and the log only grew since."""
    for one in case.parts.signed:
        state = _of_this_log(case, one.note)
        _grew(case, state, one.proof)
    return f"{len(case.parts.signed)}: the log only grew since each"


def given_checkpoint(case: Case, note: str) -> str:
    """A checkpoint that the verifier holds is one of this log's own past."""
    told = case.parts.told
    state = _of_this_log(case, note)
    if state.size > told.size:
        raise Unknown(
            f"it is of {state.size} entries, the bundle of {told.size}: ask for a newer one"
        )
    if state.size >= told.first:
        if case.parts.root_at(state.size) != state.root:
            raise Unsound(f"the first {state.size} entries are not those that it was signed over")
        return f"the log begins with the {state.size} entries that it was signed over"
    proofs = [
        one.proof for one in case.parts.signed if parse(note_text(one.note)).size == state.size
    ]
    if not proofs and state.size:
        return _held_against_earlier(case, state)
    _grew(case, state, proofs[0] if proofs else ())
    return f"the log only grew since its {state.size} entries"


def _held_against_earlier(case: Case, state: Checkpoint) -> str:
    """A checkpoint from before the first entry, of which the bundle has no proof."""
    earlier = case.previous
    if earlier is None or state.size < earlier.told.first:
        raise Unknown(
            f"it is of {state.size} entries, older than the first entry of the bundle, "
            f"{case.parts.told.first}, and no proof for it is in the bundle: give the bundle of "
            "the quarter in which it was signed with --previous"
        )
    demand_going_on(case.parts, earlier)
    if earlier.root_at(state.size) != state.root:
        raise Unsound(f"the first {state.size} entries are not those that it was signed over")
    return f"the earlier bundle begins with the {state.size} entries that it was signed over"


def demand_going_on(parts: Parts, earlier: Parts) -> None:
    """See that a bundle goes on from the entries of an earlier one."""
    if earlier.told.log != parts.told.log:
        raise Unsound(f"the earlier bundle is of another log, {earlier.told.log}")
    size = min(earlier.told.size, parts.told.size)
    if size < parts.told.first:
        raise Unknown(
            f"the earlier bundle ends before entry {size}, and this one begins with entry "
            f"{parts.told.first}: what lies between is in neither"
        )
    if earlier.root_at(size) != parts.root_at(size):
        raise Unsound(f"the first {size} entries of the two bundles are not the same")


def _of_this_log(case: Case, note: str) -> Checkpoint:
    keys = {*case.trusted, *case.parts.keys}
    try:
        found = opened(note, keys)
    except NoteError as error:
        raise Unsound(str(error)) from error
    state = parse(found.text)
    if state.origin != case.parts.told.log:
        raise Unsound(f"it is of another log, {state.origin}")
    for change in case.changes:
        if set(found.signed_by) == {change.old} and state.size > change.state.size:
            raise Unsound(
                f"{state.size} entries are signed by a key that was given up at {change.state.size}"
            )
    return state


def _grew(case: Case, state: Checkpoint, proof: Sequence[bytes]) -> None:
    now = case.parts.checkpoint
    try:
        check_consistency(state.size, state.root, now.size, now.root, proof)
    except ProofError as error:
        raise Unsound(f"the checkpoint of {state.size} entries: {error}") from error
