"""A plant's cycles: record a run with its load, attach its trace, and see what it proves."""

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any
from uuid import UUID, uuid5

from service.access.permissions import OPERATIONS
from service.custody.cycle_events import TraceAttached
from service.custody.cycles import Cycle
from service.custody.history import Happened, effective
from service.custody.identifiers import ALPHABET, check_character
from service.custody.proof import Around, Proof, SporeTest
from service.custody.rules import Rules
from service.custody.site import Machine
from service.custody.untied import EVIDENCE, Untied, cycles_named, untied
from service.duties import lookup
from service.duties.access import Caller, demand
from service.duties.balance import Days
from service.duties.lookup import NotFoundError
from service.duties.record import Told, record_events
from service.store import cycle_queries
from service.store.append import Outcome
from service.store.cycle_queries import CycleFilter as CycleFilter
from service.store.queries import with_amendments
from service.store.store import Store
from service.treatment.curves import Curves, curves
from service.treatment.cycles import kind_of, told_of

COLUMNS_MOST = 64
_FILE_TYPES = ("text/csv", "application/json")


class TooLargeError(ValueError):
    """A trace of more bytes than are taken."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A trace of a cycle, with what it shows and its lines to be drawn."""

    happened: Happened
    sha256: str
    figures: dict[str, Any]
    curves: Curves | None


@dataclass(frozen=True, slots=True)
class CycleView:
    """A cycle with what it proves, its load and what stands around it in the register."""

    cycle: Cycle
    proof: Proof
    load: tuple[str, ...]
    traces: tuple[Attached, ...]
    around: Around
    machine: Machine | None
    rules: Rules


def cycle_number(event_id: UUID) -> str:
    """Make a cycle's number from the id of the event of its run; the same gives the same."""
    number = event_id.int & (1 << 40) - 1
    body = "".join(ALPHABET[number >> 5 * i & 31] for i in range(8))
    return f"K{body}{check_character(body)}"


def run_cycle(
    store: Store, caller: Caller, submitted: dict[str, Any], told: Told
) -> tuple[str, list[Outcome]]:
    """Record a cycle's run and what was in it, in one go; without a number it is given one.

    The containers become one ``treated`` event, whose id follows from that of the run, so that
    the same request again is the same two events.
    """
    run = {k: v for k, v in submitted.items() if k != "containers"} | {"kind": "cycle_run"}
    try:
        run_id = UUID(str(run.get("id")))
        run["cycle"] = run.get("cycle") or cycle_number(run_id)
        load_id = str(uuid5(run_id, "load"))
    except ValueError:
        run_id, load_id = None, None  # refused below, with the reason
    events = [run]
    if submitted.get("containers"):
        same = ("occurred_at", "actor", "device", "place", "step", "party", "cycle")
        load = {k: run[k] for k in same if k in run}
        more = {"kind": "treated", "id": load_id, "containers": submitted["containers"]}
        events.append(load | more)
    return str(run.get("cycle")), record_events(store, caller, events, told)


def attach_trace(
    store: Store,
    caller: Caller,
    cycle: str,
    content: bytes,
    media_type: str,
    told: Told,
    bytes_max: int,
) -> Outcome:
    """Keep a logger's file, and record that it is of the cycle; the same again changes nothing.

    Other bytes for the same cycle are a further trace: both are kept.

    Raises:
        NotFoundError: no run of that cycle is on record that the caller may see.
        TooLargeError: the file is larger than is taken.
        ValueError: it is empty, or of a type that no trace is.
    """
    demand(caller, "attach_trace")
    found = _seen(store, caller, cycle)
    if found.run is None or found.ended_at is None:
        raise NotFoundError(f"no run of cycle {cycle} is on record: record it first")
    if not content:
        raise ValueError("the file is empty")
    if len(content) > bytes_max:
        raise TooLargeError(f"the file has {len(content):,} bytes; at most {bytes_max:,} are taken")
    kind = media_type.partition(";")[0].strip().lower() or _FILE_TYPES[0]
    if kind not in _FILE_TYPES:
        raise ValueError(f"a trace is {' or '.join(_FILE_TYPES)}, not {kind}")
    digest = sha256(content).hexdigest()
    store.keep_traces(caller.facility, {digest: content})
    event_id = uuid5(found.run, f"trace {cycle} {digest}")
    earlier = store.entry(caller.facility, event_id)
    if earlier is not None:
        return Outcome(event_id, "repeated", recorded_at=earlier.recorded_at)
    event = {
        "id": str(event_id),
        "kind": "trace_attached",
        "occurred_at": told.now.isoformat(),
        "actor": caller.name,
        "cycle": cycle,
        "sha256": digest,
        "media_type": kind,
        "size_bytes": len(content),
        "columns": list(_columns(content, kind)),
    }
    return record_events(store, caller, [event], Told(told.now))[0]


def _columns(content: bytes, kind: str) -> Sequence[str]:
    """The headers as far as they read as such; what is wrong with the file its judgement says."""
    text = content.decode("utf-8-sig", errors="replace")
    try:
        if kind == "application/json":
            told = json.loads(text)
            first = told[0] if isinstance(told, list) and told else told
            names = list(first) if isinstance(first, dict) else []
        else:
            head = text.partition("\n")[0]
            separator = next((s for s in ";\t" if s in head), ",")
            names = next(csv.reader(io.StringIO(head), delimiter=separator), [])
    except (ValueError, RecursionError, csv.Error):
        return ()
    plain = ("".join(c for c in str(n).strip() if c.isprintable())[:64] for n in names)
    return [name for name in plain if name][:COLUMNS_MOST]


def cycles(store: Store, caller: Caller, asked: CycleFilter) -> list[Proof]:
    """Give cycles of which a run is on record, within the caller's scope."""
    with store.reading() as connection:
        return cycle_queries.cycles(connection, caller.facility, asked, caller.scope)


def cycle(store: Store, caller: Caller, name: str) -> CycleView:
    """Give one cycle with all that is known of it.

    Raises:
        NotFoundError: nothing is on record about it that the caller may see.
    """
    proof = _seen(store, caller, name)
    with store.reading() as connection:
        rules = store.rules_in(connection, caller.facility)
        held = cycle_queries.cycle(connection, caller.facility, name)
        load = cycle_queries.load(connection, caller.facility, name)
        near = cycle_queries.near(connection, caller.facility, proof)
        bytes_of = {
            digest: cycle_queries.content(connection, caller.facility, digest)
            for digest in proof.judged
        }
    run = held.run
    machine = rules.site.machines.get(run.machine) if run else None
    kind = kind_of(machine, run.step) if run else None
    traces = [
        Attached(
            h,
            h.event.sha256,
            dict(proof.judged.get(h.event.sha256, {})),
            curves(content, kind, told_of(held, machine))
            if (content := bytes_of.get(h.event.sha256))
            else None,
        )
        for h in held.traces
        if isinstance(h.event, TraceAttached)
    ]
    return CycleView(held, proof, load, tuple(traces), near, machine, rules)


def trace(
    store: Store, caller: Caller, name: str, digest: str | None = None
) -> tuple[bytes, str, str]:
    """Give the bytes of a trace of a cycle, their type and hash; the last if none is named.

    Raises:
        NotFoundError: there is no such trace of that cycle that the caller may see.
    """
    for one in reversed(cycle(store, caller, name).traces):
        event = one.happened.event
        if isinstance(event, TraceAttached) and digest in (None, one.sha256):
            with store.reading() as connection:
                content = cycle_queries.content(connection, caller.facility, one.sha256)
            if content is not None:
                return content, event.media_type, one.sha256
    raise NotFoundError(f"cycle {name} has no such trace")


def _seen(store: Store, caller: Caller, name: str) -> Proof:
    with store.reading() as connection:
        proof = cycle_queries.proof(connection, caller.facility, name)
    scope = caller.scope
    if proof is None or proof.run is None or not (scope.whole or proof.party in scope.parties):
        raise NotFoundError(f"nothing is on record about cycle {name}")
    return proof


def untied_evidence(store: Store, caller: Caller, days: Days) -> list[Untied]:
    """Give the evidence of a period that belongs to no cycle on record, the latest first.

    Who acts for some parties sees what names a machine or a cycle of theirs, and what they sent.
    """
    demand(caller, "list_untied_evidence")
    facility, scope = caller.facility, caller.scope
    with store.reading() as connection:
        site = store.rules_in(connection, facility).site
        between = days.between(site.zone)
        entries = with_amendments(connection, facility, EVIDENCE, *between)
        told = effective(entries.values())
        runs = cycle_queries.ran_on(connection, facility, cycles_named(told))
    party_of = {m.id: m.party for m in site.machine}

    def seen(one: Untied) -> bool:
        run = runs.get(one.cycle or "")
        parties = {run.party if run else None, party_of.get(one.machine or "")}
        return scope.whole or one.sender == caller.name or bool(parties & scope.parties)

    found = untied(told, {name: run.machine for name, run in runs.items()}, site.machines)
    return sorted(filter(seen, found), key=lambda one: (one.at, one.event), reverse=True)


def machines(store: Store, caller: Caller) -> tuple[Machine, ...]:
    """Give the machines of the register that the caller may act for."""
    site = lookup.rules(store, caller).site
    scope = caller.scope
    return tuple(m for m in site.machine if scope.whole or m.party in scope.parties)


def spore_tests(store: Store, caller: Caller, machine: Machine, limit: int) -> list[SporeTest]:
    """Give the last spore tests of a machine, the latest first."""
    with store.reading() as connection:
        return cycle_queries.spore_tests(connection, caller.facility, machine.id, limit)


def may_attach(caller: Caller) -> bool:
    """Say whether the caller may add evidence to a cycle."""
    return caller.role in OPERATIONS["attach_trace"]
