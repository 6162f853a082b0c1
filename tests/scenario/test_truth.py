"""The truth of the stream is its own arithmetic, and the rules find exactly it."""

import ast
from collections import Counter, defaultdict
from datetime import timedelta
from pathlib import Path

import pytest

import scenario
from scenario import Quarter
from scenario.bags import Bag
from scenario.truth import wrongs
from service.custody.cycles import proofs
from service.custody.events import EVENT, Dispatched, Entry, Packed, Received
from service.custody.history import History, fold, with_proofs
from service.custody.rules import Rules
from service.custody.violations import assess
from service.regimes.load import assemble
from service.treatment.cycles import TraceJudge
from tests.scenario.reading import Stream, bare

HOUR_S = 3_600
NOW_S = 100 * HOUR_S


def bag(category: str = "yellow-c") -> Bag:
    """A container sealed when the quarter begins."""
    return Bag(category, "bag", "icu", 0, 4_000, 60)


def test_the_simulator_does_not_ask_the_rules_under_test() -> None:
    """No file of the simulation imports the folding, holding, routes or violations.

    Only the demonstration, and the people it lets in, open the service: they make nothing up.
    """
    allowed = {"service.custody.identifiers", "service.custody.site"}
    files = set(Path(scenario.__file__).parent.glob("*.py"))
    for path in sorted(p for p in files if p.name not in ("demo.py", "people.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert {n for n in names if n.startswith("service")} <= allowed, path.name


@pytest.mark.parametrize(
    ("treated_s", "codes"),
    [
        (42 * HOUR_S, ()),
        (42 * HOUR_S + 1, ("holding.near",)),
        (48 * HOUR_S, ("holding.near",)),
        (48 * HOUR_S + 1, ("holding.near", "holding.exceeded")),
        (None, ("holding.near", "holding.exceeded")),
    ],
)
def test_holding_of_soiled_waste(treated_s: int | None, codes: tuple[str, ...]) -> None:
    """Soiled waste is near its limit after 42 h and past it after 48 h; at the limit is allowed."""
    soiled = bag()
    soiled.treated_s = treated_s
    assert wrongs(soiled, NOW_S, NOW_S) == codes


def test_plastics_have_no_hour_limit() -> None:
    """The text gives red waste no limit in hours."""
    assert wrongs(bag("red"), NOW_S, NOW_S) == ()


def test_what_nobody_has_heard_of_has_not_happened() -> None:
    """A treatment that reaches the service after the quarter leaves the waste untreated in it."""
    soiled = bag()
    soiled.treated_s = 41 * HOUR_S
    assert wrongs(soiled, 40 * HOUR_S, 43 * HOUR_S) == ("holding.near",)


@pytest.mark.parametrize(
    ("received_s", "codes"),
    [
        (25 * HOUR_S, ()),
        (25 * HOUR_S + 1, ("custody.overdue",)),
        (None, ("custody.overdue",)),
    ],
)
def test_time_on_the_road(received_s: int | None, codes: tuple[str, ...]) -> None:
    """On the road for a day is allowed, a second more is overdue."""
    plastic = bag("red")
    plastic.dispatched_s, plastic.received_s = HOUR_S, received_s
    assert wrongs(plastic, NOW_S, NOW_S) == codes


def test_planted_faults_are_in_the_truth(full: Stream) -> None:
    """Each planted fault's own code stands in the truth for its container."""
    truth = set(full.quarter.truth)
    assert all((fault.container, fault.code) in truth for fault in full.quarter.planned)


def test_only_lateness_comes_unplanted(full: Stream) -> None:
    """Without a planted fault only holding times go wrong: the incinerator stands still."""
    planted = {fault.container for fault in full.quarter.planned}
    natural = {code for container, code in full.quarter.truth if container not in planted}
    assert natural <= {"holding.near", "holding.exceeded"}
    assert "holding.near" in natural


def error_in_service_g(load_g: int, interval_g: int, steps: tuple[int, int]) -> float:
    """Twice the error of OIML R 76-1:2006 Table 6 at a load (UK SI 1995/1907 Sch. 2 para 4)."""
    intervals = load_g / interval_g
    return 2 * interval_g * (0.5 if intervals <= steps[0] else 1 if intervals <= steps[1] else 1.5)


SCALES = {"ward": (10, (500, 2_000)), "stor": (20, (500, 2_000)), "kiln": (50, (50, 200)),
          "tarn": (50, (50, 200))}  # fmt: skip
"""Interval in g and steps of class III or IIII of Table 6, by the scale's first letters."""


def test_honest_weighings_agree_within_scale_error(full: Stream) -> None:
    """Without a planted fault, weights differ by no more than both scales may err in service."""
    marked = {f.container for f in full.quarter.planned}
    marked |= {bare(t.event["containers"][0]) for t in full.told if t.event["kind"] == "amended"}
    for container in full.quarter.containers:
        if container in marked:
            continue
        last: tuple[int, float] | None = None
        for told in full.of(container):
            event = told.event
            if event["kind"] == "treated":
                break
            if event["kind"] == "double_bagged" and last:
                last = last[0] + event["tare_g"], last[1]
            if "weight_g" in event:
                weight_g = event["weight_g"]
                error_g = error_in_service_g(weight_g, *SCALES[event["scale"][:4]])
                assert last is None or abs(weight_g - last[0]) <= error_g + last[1], container
                last = weight_g, error_g


def entries_by_container(quarter: Quarter) -> dict[str, list[Entry]]:
    """Read the stream as the service does; completed receipts stand under their consignment."""
    entries: dict[str, list[Entry]] = defaultdict(list)
    seen: set[str] = set()
    for batch in quarter.batches:
        for sent in (event for event in batch.events if event["id"] not in seen):
            seen.add(sent["id"])
            codes = sent["containers"]
            false = tuple(bare(code) for code in codes if "/" in code)
            event = EVENT.validate_python(sent | {"containers": [bare(code) for code in codes]})
            entry = Entry(event, batch.recorded_at, batch.clock_offset_s, false)
            for container in event.named():
                entries[container].append(entry)
            if not event.containers:
                entries["cycles"].append(entry)
            if isinstance(event, Received) and event.complete and event.consignment:
                entries[event.consignment].append(entry)
    return entries


def of_one(container: str, entries: dict[str, list[Entry]]) -> list[Entry]:
    """Give a container's own entries, those of its carts while it rode in them, and receipts."""
    own = list(entries[container])
    for packed in entries[container]:
        if not isinstance(packed.event, Packed):
            continue
        for entry in entries[packed.event.parent]:
            if timedelta() <= entry.at - packed.at < timedelta(days=4):
                own.append(entry)
                if isinstance(entry.event, Dispatched):
                    own += entries[entry.event.consignment]
    return own


def test_the_rules_find_exactly_the_truth(small: Stream) -> None:
    """Judged at the quarter's end, each container shows what was planted and nothing else."""
    quarter = small.quarter
    rules = Rules(assemble(quarter.site.regime), quarter.site)
    entries = entries_by_container(quarter)
    proved = proofs(entries["cycles"], rules, TraceJudge(quarter.traces.get))

    def history(container: str) -> History:
        return with_proofs(fold(container, of_one(container, entries)), proved)

    found = Counter(
        (container, str(violation.code))
        for container in quarter.containers
        for violation in assess(history(container), rules, quarter.end)
    )
    assert found == Counter(quarter.truth)
