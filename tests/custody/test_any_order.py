"""Whatever is recorded, in whatever order: the rules give one verdict and never fail."""

from collections import Counter
from datetime import timedelta
from typing import Any
from uuid import UUID

from hypothesis import given, settings
from hypothesis import strategies as st

from service.custody.acts import Outlet, Step
from service.custody.events import EVENT, KINDS, Entry, Origin
from service.custody.history import fold
from service.custody.rules import Rules
from service.custody.standing import stand
from service.custody.violations import assess, judge
from service.custody.words import Condition, ContainerKind
from service.regimes.load import assemble
from tests.house import HOSPITAL, HOUSE, hospital, rules
from tests.trade import BAG, CART, OUTER, at

T0 = at("2026-06-30 00:00")
CONTAINERS = [BAG, "BAG-2", CART, OUTER]
PARTIES = ["ward-3", "handlers", "haulier", "plant", "hub", "nobody"]
TEXTS: list[Rules] = [
    rules(),
    rules({"facts": ["remote"], "time_zone": "Asia/Kolkata"}, holding=[]),
    rules(HOSPITAL | {"scale": [], "store": [], "party": []}),
    Rules(assemble("who-2014"), hospital(climate="warm")),
    Rules(assemble("england-htm-07-01"), hospital(time_zone="Europe/London")),
    Rules(assemble("india-2016"), hospital(time_zone="Asia/Kolkata")),
]
CATEGORIES = [c["id"] for c in HOUSE["category"]] + [
    "infectious", "sharps", "anatomical", "offensive", "yellow-c", "yellow-h", "white", "unknown",
]  # fmt: skip

one = st.sampled_from(CONTAINERS).map(lambda c: (c,))
several = st.lists(st.sampled_from(CONTAINERS), min_size=1, max_size=3, unique=True).map(tuple)
some = st.lists(st.sampled_from(CONTAINERS), max_size=3, unique=True).map(tuple)
party = st.sampled_from(PARTIES)
truth = st.none() | st.booleans()
weight = st.none() | st.integers(0, 20_000)
scale = st.sampled_from([None, "ward-scale", "plant-scale", "kitchen-scale"])
CYCLE = st.sampled_from(["K-1", "K-2"])
consignment = st.sampled_from(["C-1", "C-2"])
seal = st.sampled_from([None, "S-1", "S-2"])
# Hours on a coarse grid, so that instants coincide, and now and then far away.
hours = st.integers(0, 100) | st.sampled_from([-1_108_000, -20_000, 300, 5_000, 1_520_000])

FIELDS: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "labelled": {"containers": several, "layout": st.just("a4")},
    "registered": {
        "containers": one,
        "category": st.sampled_from(CATEGORIES),
        "unit": st.sampled_from(["ward-3", "theatre", "attic"]),
        "container_kind": st.sampled_from(ContainerKind),
        "weight_g": weight,
        "scale": scale,
        "fill_fraction": st.sampled_from([None, "0", "0.75", "0.76", "2"]),
        "closed": st.booleans(),
        "hub_cut": truth,
    },
    "weighed": {"containers": one, "weight_g": st.integers(0, 20_000), "scale": scale},
    "double_bagged": {
        "containers": several,
        "outer": st.none() | st.sampled_from(CONTAINERS),
        "tare_g": st.integers(0, 90),
    },
    "packed": {"containers": several, "parent": st.sampled_from(CONTAINERS)},
    "unpacked": {"containers": some, "parent": st.sampled_from(CONTAINERS)},
    "collected": {"containers": several, "from_party": party, "to_party": party},
    "stored": {
        "containers": several,
        "store": st.sampled_from(["yard-store", "cold-room", "freezer", "hub-apron", "shed"]),
        "temperature_c": st.sampled_from([None, "-20", "5", "9"]),
    },
    "dispatched": {
        "containers": several,
        "consignment": consignment,
        "carrier": party,
        "consignee": party,
        "seal": seal,
        "closed": st.booleans(),
        "condition": st.sampled_from(Condition),
    },
    "received": {
        "containers": some,
        "party": party,
        "consignment": consignment,
        "seal": seal,
        "seal_intact": truth,
        "complete": st.just(True),
    },
    "refused": {"containers": several, "party": party, "reason": st.just("full")},
    "treated": {
        "containers": several,
        "step": st.sampled_from(Step),
        "party": party,
        "cycle": CYCLE,
    },
    "cycle_run": {
        "containers": st.just(()),
        "cycle": CYCLE,
        "machine": st.sampled_from(["ac-1", "ac-2", "tub"]),
        "step": st.sampled_from([Step.AUTOCLAVE, Step.SHRED]),
        "party": party,
        "load_g": st.sampled_from([None, 900, 90_000]),
    },
    "trace_attached": {
        "containers": st.just(()),
        "cycle": CYCLE,
        "sha256": st.sampled_from(["0" * 64, "1" * 64]),
        "media_type": st.just("text/csv"),
        "size_bytes": st.just(10),
    },
    "indicator_read": {
        "containers": st.just(()),
        "cycle": CYCLE,
        "turned": st.booleans(),
    },
    "load_observed": {"containers": st.just(()), "cycle": CYCLE, "wet": st.booleans()},
    "spore_tested": {
        "containers": st.just(()),
        "machine": st.sampled_from(["ac-1", "ac-2"]),
        "grew": st.booleans(),
    },
    "disposed": {"containers": several, "outlet": st.sampled_from(Outlet), "party": party},
    "inspected": {"containers": several, "wrong_items": st.sampled_from([(), ("needle",)])},
    "lost": {"containers": several},
    "found": {"containers": several},
    "spilled": {"containers": some, "action_taken": st.just("mopped up")},
    "notified": {
        "containers": some,
        "authority": st.just("board"),
        "about": st.sampled_from(["holding", "spill", "loss", "route", "other"]),
        "reason": st.just("told"),
    },
    "activity_counted": {
        "containers": st.just(()),
        "unit": st.just("ward-3"),
        "day": st.just("2026-07-01"),
        "procedures": st.integers(0, 9),
        "source": st.just("census"),
    },
    "pit_covered": {
        "containers": st.just(()),
        "pit": st.just("pit-1"),
        "cover": st.sampled_from(["soil", "lime", "concrete"]),
    },
    "needles_counted": {
        "containers": st.just(()),
        "unit": st.just("ward-3"),
        "stage": st.sampled_from(["used", "cut"]),
        "needles": st.integers(0, 9),
        "source": st.just("hub cutter"),
    },
}


@st.composite
def facts(draw: st.DrawFn, number: int, kind: str = "") -> dict[str, Any]:
    """An event as somebody might send it, well-formed and not likely to make sense."""
    kind = kind or draw(st.sampled_from(sorted(FIELDS)))
    said = {name: draw(values) for name, values in FIELDS[kind].items()}
    said |= {
        "id": UUID(int=number),
        "kind": kind,
        "occurred_at": T0 + timedelta(hours=draw(hours)),
        "actor": "somebody",
        "place": draw(st.sampled_from([None, "ward-3", "yard-store", "plant", "moon"])),
    }
    if kind == "cycle_run":
        said["started_at"] = said["occurred_at"] - timedelta(hours=draw(st.integers(1, 90)))
    if kind == "labelled":
        said["count"] = len(said["containers"])
    if kind == "registered" and draw(st.booleans()):
        said["in_use_since"] = said["occurred_at"] - timedelta(hours=draw(st.integers(0, 90)))
    around = said.get("parent" if kind == "packed" else "outer")
    if kind in ("packed", "double_bagged") and around in said["containers"]:
        said["containers"] = tuple(c for c in CONTAINERS if c != around)
    return said


@st.composite
def records(draw: st.DrawFn) -> list[Entry]:
    """Entries over a few containers, with wrong clocks, false labels, imports and amendments."""
    told = [draw(facts(n)) for n in range(1, draw(st.integers(1, 14)) + 1)]
    for number in range(100, 100 + draw(st.integers(0, 4))):
        wrong = draw(st.sampled_from([t for t in told if t["kind"] != "amended"]))
        right = draw(st.none() | facts(wrong["id"].int))
        told.append(
            {
                "id": UUID(int=number),
                "kind": "amended",
                "containers": wrong["containers"],
                "occurred_at": T0 + timedelta(hours=draw(hours)),
                "actor": "officer",
                "supersedes": wrong["id"],
                "reason": "slip",
                "corrected": right,
            }
        )
    missing = draw(st.sets(st.sampled_from([t["id"] for t in told]), max_size=2))
    return [
        Entry(
            EVENT.validate_python(said),
            T0 + timedelta(hours=draw(hours)),
            draw(st.sampled_from([0, 0, 0, 60, 61, -7_200, 8_600_000_000, -8_600_000_000])),
            draw(st.sampled_from([(), (), (BAG,)])),
            draw(st.sampled_from([None, None, Origin("register.csv", 1, "clerk")])),
        )
        for said in told
        if said["id"] not in missing
    ]


def test_every_kind_of_event_is_told() -> None:
    """The stories below can hold every kind there is."""
    kinds = {str(k.model_fields["kind"].default) for k in KINDS}
    assert kinds == {*FIELDS, "amended"}


@settings(deadline=None, derandomize=True, max_examples=350)
@given(records(), st.sampled_from(TEXTS))
def test_no_record_is_beyond_judgement(entries: list[Entry], text: Rules) -> None:
    """Any events in any order are judged: nothing closes before it opens, nothing is said twice."""
    for container in CONTAINERS:
        history = fold(container, entries)
        stand(history, text)
        found = judge(history, text)
        assert all(v.closed_at is None or v.closed_at >= v.opened_at for v in found)
        assert all(v.evidence and v.clause and v.message and v.next_action for v in found)
        said = Counter((v.code, v.opened_at, v.evidence, v.message) for v in found)
        assert not [v for v, times in said.items() if times > 1]


@settings(deadline=None, derandomize=True, max_examples=120)
@given(records(), st.randoms(use_true_random=False), st.sampled_from(TEXTS))
def test_neither_order_of_arrival_nor_repetition_matters(
    entries: list[Entry], chance: Any, text: Rules
) -> None:
    """The same entries shuffled and sent twice give the same history, standing and violations."""
    again = [*entries, *chance.sample(entries, chance.randrange(len(entries) + 1))]
    chance.shuffle(again)
    for container in CONTAINERS:
        once, twice = fold(container, entries), fold(container, again)
        assert once == twice
        assert stand(once, text) == stand(twice, text)
        assert judge(once, text) == judge(twice, text)


@settings(deadline=None, derandomize=True, max_examples=120)
@given(records(), st.lists(hours, min_size=2, max_size=4), st.sampled_from(TEXTS))
def test_a_later_look_shows_what_an_earlier_one_did(
    entries: list[Entry], looks: list[int], text: Rules
) -> None:
    """Judging is pure, and assessing at a later moment only adds."""
    for container in CONTAINERS:
        history = fold(container, entries)
        whole = judge(history, text)
        assert judge(history, text) == whole
        earlier: set[Any] = set()
        for now in sorted(T0 + timedelta(hours=h) for h in looks):
            shown = assess(history, text, now)
            assert all(v.opened_at <= now for v in shown)
            assert earlier <= set(shown) <= set(whole)
            earlier = set(shown)


@settings(deadline=None, derandomize=True, max_examples=120)
@given(records())
def test_a_container_is_only_ever_reached_by_what_concerns_it(entries: list[Entry]) -> None:
    """History is in order, names it directly where it says so, and loses nothing that names it."""
    for container in CONTAINERS:
        history = fold(container, entries)
        assert [h.order for h in history.happened] == sorted(h.order for h in history.happened)
        for h in history.happened:
            assert h.direct == (container in h.event.containers)
        reached = {h.event.id for h in history.happened}
        amended = {e.event.supersedes for e in entries if e.event.kind == "amended"}
        for e in entries:
            if e.event.kind != "amended" and container in e.event.containers:
                assert e.event.id in reached or e.event.id in amended
