"""However entries arrive, the projections are those of folding all of them at once."""

from datetime import timedelta
from typing import Any
from uuid import UUID

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.custody.events import EVENT, Entry
from service.custody.history import History, fold
from service.store import queries
from service.store.store import Store
from tests.custody.test_any_order import CYCLE, facts, records
from tests.pace import tries
from tests.store.record import exactly, folded, kept, named, new_facility
from tests.trade import USUAL, at

T0 = at("2026-07-06 06:00")
BAGS = ["BAG-1", "BAG-2"]
AROUND = ["CART-1", "CART-2", "OUTER-1"]
EVERYTHING = [*BAGS, *AROUND]
MOVES = [
    "packed", "packed", "packed", "unpacked", "unpacked", "double_bagged", "stored", "collected",
    "dispatched", "dispatched", "received", "received", "registered", "weighed", "lost", "refused",
]  # fmt: skip

often = settings(
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


@st.composite
def moves(draw: st.DrawFn, number: int) -> dict[str, Any]:
    """A move of bags, carts and outer bags; instants coincide often."""
    kind = draw(st.sampled_from(MOVES))
    one = kind in ("registered", "weighed")
    containers = draw(
        st.lists(
            st.sampled_from(EVERYTHING),
            min_size=0 if kind in ("unpacked", "received") else 1,
            max_size=1 if one else 2,
            unique=True,
        )
    )
    said: dict[str, Any] = USUAL.get(kind, {}) | {
        "id": UUID(int=number),
        "kind": kind,
        "occurred_at": T0 + timedelta(hours=draw(st.integers(0, 9))),
        "actor": "somebody",
    }
    around = [c for c in AROUND if c not in containers]
    if kind in ("packed", "unpacked"):
        said["parent"] = draw(st.sampled_from(around))
    if kind == "double_bagged":
        said["outer"] = draw(st.sampled_from(around))
    if kind == "registered":
        said |= {"category": "yellow-c", "container_kind": "bag", "weight_g": 3_400}
    if kind == "weighed":
        said["weight_g"] = draw(st.sampled_from([3_400, 5_000]))
    if kind == "stored" and draw(st.booleans()):
        said |= {"store": "cold-room", "temperature_c": draw(st.sampled_from(["4", "25.00"]))}
    if kind in ("dispatched", "received"):
        said["consignment"] = draw(st.sampled_from(["C-1", "C-2"]))
    if kind == "received":
        said["complete"] = not containers or draw(st.booleans())
    return said | {"containers": tuple(containers)}


@st.composite
def journeys(draw: st.DrawFn) -> list[Entry]:
    """Moves of a few containers, and amendments of them: content, time, container, or struck."""
    told = [draw(moves(n)) for n in range(1, draw(st.integers(4, 14)) + 1)]
    for number in range(100, 100 + draw(st.integers(0, 5))):
        wrong = draw(st.sampled_from([t for t in told if t["kind"] != "amended"]))
        changed = wrong | {"occurred_at": T0 + timedelta(hours=draw(st.integers(0, 9)))}
        told.append(
            {
                "id": UUID(int=number),
                "kind": "amended",
                "containers": draw(st.sampled_from([(), wrong["containers"]])),
                "occurred_at": T0 + timedelta(hours=draw(st.integers(0, 9))),
                "actor": "officer",
                "supersedes": wrong["id"],
                "reason": "slip",
                "corrected": draw(st.none() | st.just(changed) | moves(wrong["id"].int)),
            }
        )
    missing = draw(st.sets(st.sampled_from([t["id"] for t in told]), max_size=2))
    return [
        Entry(
            EVENT.validate_python(said),
            T0 + timedelta(hours=draw(st.sampled_from([10, 60]))),
            draw(st.sampled_from([0, 0, 7_200])),
        )
        for said in told
        if said["id"] not in missing
    ]


def cut(chance: Any, entries: list[Entry]) -> list[list[Entry]]:
    """The entries shuffled and cut into batches."""
    left, batches = list(entries), []
    chance.shuffle(left)
    while left:
        size = chance.choice([1, 1, 2, 3, 20])
        batches.append(left[:size])
        left = left[size:]
    return batches


def of_content(history: History) -> tuple[Any, ...]:
    """A history without the list of amendments read, which is longer where more was read."""
    return (history.happened, history.stays, history.receipts, history.carries)


def arrive_twice(store: Store, entries: list[Entry], chance: Any) -> None:
    """Post entries in two orders to two facilities; both must hold what a fold of all gives."""
    one, other = new_facility(store), new_facility(store)
    for facility in (one, other):
        for batch in cut(chance, entries):
            outcomes = store.append(facility, batch)
            assert {o.outcome for o in outcomes} == {"recorded"}
    found, rules = kept(store, one), store.rules(one)
    for name, expected in folded(entries, rules).items():
        assert found[name] == expected, name
    assert kept(store, other) == found
    with store.reading() as connection:
        for container in named(entries):
            asked = queries.history(connection, one, container)
            assert of_content(asked) == of_content(fold(container, entries))
    before = exactly(store, one)
    list(store.rebuild(one))
    assert exactly(store, one) == before


@settings(often, max_examples=tries(70))
@given(journeys(), st.randoms(use_true_random=False))
def test_carts_and_consignments_arrive_in_any_order(
    store: Store, entries: list[Entry], chance: Any
) -> None:
    """Carts in carts, outer bags, receipts and their amendments: one history, whatever came first.

    The rows are those of a fold of everything, and a rebuild changes none.
    """
    arrive_twice(store, entries, chance)


OF_CYCLES = [
    "treated", "treated", "cycle_run", "cycle_run", "trace_attached", "indicator_read",
    "load_observed", "spore_tested", "packed", "registered", "disposed", "amended", "amended",
]  # fmt: skip


@st.composite
def cycles(draw: st.DrawFn, number: int) -> dict[str, Any]:
    """What is told of two cycles on two machines and of what was in them."""
    kind = draw(st.sampled_from([k for k in OF_CYCLES if k != "amended"]))
    said = draw(facts(number, kind))
    said["occurred_at"] = T0 + timedelta(hours=draw(st.integers(0, 400)))
    if kind == "cycle_run":
        said["started_at"] = said["occurred_at"] - timedelta(hours=draw(st.integers(1, 4)))
    if kind == "treated":
        said |= {"step": "autoclave", "party": "plant", "cycle": draw(CYCLE)}
    if kind == "registered":
        said |= {"category": "red", "unit": "ward-3"}
        said.pop("in_use_since", None)
    return said


@st.composite
def runs(draw: st.DrawFn) -> list[Entry]:
    """Cycles with all that is told of them, and amendments: content, time, cycle, or struck."""
    told = [draw(cycles(n)) for n in range(1, draw(st.integers(3, 14)) + 1)]
    for number in range(100, 100 + draw(st.integers(0, 4))):
        wrong = draw(st.sampled_from([t for t in told if t["kind"] != "amended"]))
        told.append(
            {
                "id": UUID(int=number), "kind": "amended", "containers": wrong["containers"],
                "occurred_at": T0 + timedelta(hours=draw(st.integers(0, 400))),
                "actor": "officer", "supersedes": wrong["id"], "reason": "slip",
                "corrected": draw(st.none() | cycles(wrong["id"].int)),
            }
        )  # fmt: skip
    missing = draw(st.sets(st.sampled_from([t["id"] for t in told]), max_size=1))
    return [
        Entry(
            EVENT.validate_python(t), T0 + timedelta(hours=500), draw(st.sampled_from([0, 7_200]))
        )
        for t in told
        if t["id"] not in missing
    ]


@settings(often, max_examples=tries(120))
@given(runs(), st.randoms(use_true_random=False))
def test_cycles_and_their_evidence_arrive_in_any_order(
    store: Store, entries: list[Entry], chance: Any
) -> None:
    """Runs, traces, indicators, spore tests and loads: one proof, whatever came first.

    The rows are those of a fold of everything, and a rebuild changes none.
    """
    arrive_twice(store, entries, chance)


@settings(often, max_examples=tries(40))
@given(records().filter(bool), st.randoms(use_true_random=False))
def test_any_events_at_all_arrive_in_any_order(
    store: Store, entries: list[Entry], chance: Any
) -> None:
    """So it is for events that make no sense, with wrong clocks, false labels and imports."""
    arrive_twice(store, entries, chance)
