"""A small record in memory, with no store, and bundles made from it, whole or tampered with."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cache
from hashlib import sha256
from io import BytesIO
from typing import Any
from zipfile import ZipFile

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from scenario import simulate
from service.bundles import names
from service.bundles.archive import Writer
from service.bundles.material import Earlier, Material, Signed, sizes_wanted
from service.bundles.reckoned import reckoned
from service.bundles.verify import Check, verify
from service.bundles.write import write
from service.custody.cycle_events import TraceAttached
from service.custody.events import EVENT, Entry
from service.custody.gathering import Gathering, named_in
from service.custody.rules import Rules
from service.custody.site import Site
from service.ledger.checkpoint import Checkpoint
from service.ledger.leaf import SiteVersion, entry_leaf, read, setup_leaf
from service.ledger.merkle import (
    Node,
    consistency_proof,
    grow,
    inclusion_proof,
    leaf_hash,
    peaks,
    root,
)
from service.ledger.note import Signer, note_text, sign
from service.ledger.vouching import Vouching
from service.ledger.vouching import read as read_change
from service.manifests.quarter import Quarter
from service.regimes.load import BUNDLED, assemble
from tests.scenario.reading import bare

Q2, Q3 = Quarter(2026, 2), Quarter(2026, 3)
SHIFTED = timedelta(days=-45)
"""The simulated third quarter, told so much earlier, lies across the end of the second."""


def signer(origin: str, number: int = 1) -> Signer:
    """A key that is the same in every run."""
    return Signer(origin, Ed25519PrivateKey.from_private_bytes(sha256(b"%d" % number).digest()))


@dataclass
class Record:
    """A facility's log in memory: its leaves, and what was signed of it."""

    site: Site
    leaves: list[bytes] = field(default_factory=list)
    signers: list[Signer] = field(default_factory=list)
    vouching: list[str] = field(default_factory=list)
    noted: list[int] = field(default_factory=list)
    """The sizes of which checkpoints were signed before."""

    @property
    def origin(self) -> str:
        """The name of the log."""
        return f"custody.example/{self.site.id}"

    @property
    def size(self) -> int:
        """How many leaves there are."""
        return len(self.leaves)

    def known(self) -> dict[int, Entry | SiteVersion]:
        """Every leaf, read."""
        return {n: read(leaf) for n, leaf in enumerate(self.leaves)}

    def nodes(self, size: int | None = None) -> dict[Node, bytes]:
        """The hash of every node of the log."""
        hashes = [leaf_hash(leaf) for leaf in self.leaves[:size]]
        return dict(grow(0, [], hashes)[0]) | {(0, n): h for n, h in enumerate(hashes)}

    def state(self, size: int) -> Checkpoint:
        """The log as it stood."""
        nodes = self.nodes(size)
        return Checkpoint(self.origin, size, root([nodes[node] for node in peaks(size)]))

    def note(self, size: int, by: Signer | None = None) -> str:
        """The checkpoint over the first entries, signed."""
        return sign(self.state(size).text, by or self.signers[-1])

    def rotate(self, at: datetime) -> None:
        """Put a new key in place of the last."""
        old, new = self.signers[-1], signer(self.origin, len(self.signers) + 1)
        change = Vouching(self.state(self.size), old.verifier, new.verifier, at, "every two years")
        self.signers.append(new)
        self.vouching.append(sign(change.text, old, new))


def record(
    entries: Sequence[Entry], site: Site, first_at: datetime, noted: Sequence[int] = ()
) -> Record:
    """A log that begins with the set-up."""
    made = Record(site, [setup_leaf(SiteVersion(site, 1, first_at))], noted=list(noted))
    made.leaves += [entry_leaf(entry) for entry in entries]
    made.signers.append(signer(made.origin))
    return made


@cache
def stream(
    per_day: int = 2, shift: timedelta = timedelta(0), seed: int = 5
) -> tuple[Site, tuple[Entry, ...]]:
    """A simulated quarter as entries, moved in time."""
    quarter, found = simulate(seed, containers_per_day=per_day), {}
    for batch in quarter.batches:
        for event in batch.events:
            said = event | {"containers": [bare(code) for code in event["containers"]]}
            said |= {"parent": bare(event["parent"])} if "parent" in event else {}
            at = datetime.fromisoformat(event["occurred_at"]) + shift
            said |= {"occurred_at": at.isoformat()}
            for name in ("in_use_since", "started_at"):
                if name in event:
                    since = datetime.fromisoformat(event[name]) + shift
                    said |= {name: since.isoformat()}
            recorded_at = batch.recorded_at + shift
            entry = Entry(EVENT.validate_python(said), recorded_at, batch.clock_offset_s)
            found.setdefault(event["id"], entry)
    TRACES.update(quarter.traces)
    return quarter.site, tuple(found.values())


def regimes_of(site: Site) -> dict[str, bytes]:
    """The files of the site's regime and of all it adds to."""
    found: dict[str, bytes] = {}
    waiting = [site.regime]
    while waiting:
        name = waiting.pop()
        found[f"{name}.toml"] = (BUNDLED / f"{name}.toml").read_bytes()
        waiting += assemble(name).adds_to
    return found


TRACES: dict[str, bytes] = {}
"""The loggers' files of all streams, by their SHA-256."""


def told_of(entries: Iterable[Entry]) -> set[str]:
    """The traces that the entries tell of."""
    return {e.event.sha256 for e in entries if isinstance(e.event, TraceAttached)} & TRACES.keys()


def material(log: Record, quarter: Quarter) -> tuple[Any, Material]:
    """The figures and what proves them, as a duty gets them from the store."""
    known, rules = log.known(), Rules(assemble(log.site.regime), log.site)
    entries = {n: one for n, one in known.items() if isinstance(one, Entry)}
    start, end = quarter.start(log.site.zone), quarter.end(log.site.zone)
    first = min((n for n, one in known.items() if one.recorded_at >= start), default=log.size)
    now = max(end, max(e.recorded_at for e in entries.values()))
    every = sorted(named_in(entries.values()))
    traces = {one: TRACES[one] for one in told_of(entries.values())}
    figures = reckoned(entries, every, rules, quarter, now, traces)
    named = named_in(e for n, e in entries.items() if n >= first)
    listed = {line.container for line in figures.lines}
    older = Gathering(entries.items()).bearing_on(listed | named)
    older |= {n for n, e in entries.items() if e.event.kind == "amended" and e.at >= start}
    older |= {n for n, one in known.items() if isinstance(one, SiteVersion)} | {first - 1}
    past = min((n for n, one in known.items() if one.recorded_at >= end), default=log.size)
    changes = [read_change(note_text(note)).state.size for note in log.vouching]
    noted = sorted(sizes_wanted(log.noted, first, past, changes))
    nodes = log.nodes()
    setup, version = max((n, v) for n, v in known.items() if isinstance(v, SiteVersion))
    return figures, Material(
        origin=log.origin,
        first=first,
        size=log.size,
        now=now,
        began=None if first else known[0].recorded_at,
        version=version,
        setup_number=setup,
        leaves=log.leaves[first:],
        before=[nodes[node] for node in peaks(first)],
        earlier=[
            Earlier(n, log.leaves[n], inclusion_proof(n, log.size, lambda _: nodes))
            for n in sorted(older)
            if 0 <= n < first
        ],
        brought_forward=sorted(listed - named),
        checkpoint=log.note(log.size),
        checkpoints=[
            Signed(log.note(n, log.signers[0]), consistency_proof(n, log.size, lambda _: nodes))
            for n in noted
        ],
        vkeys=[one.verifier.vkey for one in log.signers],
        vouching=log.vouching,
        sign=lambda text: sign(text, log.signers[-1]),
        traces=sorted(
            (s, c) for s, c in traces.items() if any(s in p.judged for p in figures.proofs)
        ),
    )


def bundle(log: Record, quarter: Quarter, **changed: Any) -> bytes:
    """The bundle of a quarter; what the test says replaces what the record gives."""
    figures, made = material(log, quarter)
    out = BytesIO()
    write(out, figures, replace(made, **changed), regimes_of(log.site))
    return out.getvalue()


@cache
def whole() -> tuple[Record, bytes]:
    """A quarter whose record begins with it."""
    site, entries = stream()
    log = record(entries, site, entries[0].recorded_at, noted=(1, 100, 700))
    return log, bundle(log, Q3)


@cache
def later() -> tuple[Record, bytes, bytes]:
    """A quarter with another before it: the record, and the bundles of both."""
    site, entries = stream(shift=SHIFTED)
    start = Q3.start(site.zone)
    before = [e for e in entries if e.recorded_at < start]
    log = record(before, site, entries[0].recorded_at)
    earlier = bundle(log, Q2)
    log.leaves += [entry_leaf(e) for e in entries if e.recorded_at >= start]
    log.noted += [len(before) + 1, len(before) + 100]
    return log, earlier, bundle(log, Q3)


def before_and_after() -> tuple[Record, list[Entry]]:
    """The record as it stood when the quarter began, and the entries of the quarter."""
    site, entries = stream(shift=SHIFTED)
    start = Q3.start(site.zone)
    log = record([e for e in entries if e.recorded_at < start], site, entries[0].recorded_at)
    return log, [e for e in entries if e.recorded_at >= start]


@cache
def rotated() -> tuple[Record, bytes]:
    """The key was changed in the middle of the quarter, and once before it."""
    log, entries = before_and_after()
    log.noted = [log.size - 3]
    log.rotate(entries[0].recorded_at)
    log.leaves += [entry_leaf(e) for e in entries[:300]]
    log.rotate(entries[300].recorded_at)
    log.leaves += [entry_leaf(e) for e in entries[300:]]
    return log, bundle(log, Q3)


def checked(made: bytes, **held: Any) -> list[Check]:
    """All checks of a bundle."""
    return list(verify(BytesIO(made), **held))


def failed(made: bytes, **held: Any) -> dict[str, str]:
    """What does not hold, and why."""
    return {c.name: c.said for c in checked(made, **held) if c.holds is False}


def unknown(made: bytes, **held: Any) -> dict[str, str]:
    """What could not be checked, and why."""
    return {c.name: c.said for c in checked(made, **held) if c.holds is None}


def files_of(made: bytes) -> dict[str, bytes]:
    """The files of a bundle."""
    with ZipFile(BytesIO(made)) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def packed(files: Mapping[str, bytes]) -> bytes:
    """Files packed as a bundle is."""
    out = BytesIO()
    writing = Writer(out)
    for name, content in files.items():
        with writing.file(name) as file:
            file.write(content)
    writing.close()
    return out.getvalue()


def changed(made: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """The bundle with one file changed, and nothing else."""
    files = files_of(made)
    files[name] = change(files[name])
    return packed(files)


def signed_anew(files: Mapping[str, bytes], by: Signer) -> bytes:
    """The files with contents that list them as they are now, signed: as the service could."""
    text = files[names.CONTENTS].decode().rpartition("\n\n")[0]
    head = text.split("\n")[:3]
    lines = [
        f"{sha256(content).hexdigest()}  {name}"
        for name, content in files.items()
        if name != names.CONTENTS
    ]
    note = sign("\n".join([*head, *lines, ""]), by)
    rest = {n: content for n, content in files.items() if n != names.CONTENTS}
    return packed(rest | {names.CONTENTS: note.encode()})
