"""The planted faults, each a sentence, what it fits, what it changes, and what is then wrong.

Only the plan of a container is changed here; the stream follows the plan.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from random import Random

from scenario.activity import HOUR_S
from scenario.bags import CHILLED, Bag

HOLDING_HOURS = {"yellow-a": 48, "yellow-b": 48, "yellow-c": 48, "yellow-h": 48}
"""Hours from sealing within which these must be treated, as the law of the place says."""

_CARTED = frozenset({"yellow-c", "yellow-d2", "yellow-g", "red", "white", "blue-a"})


@dataclass(frozen=True, slots=True)
class Fault:
    """One planted fault: the code it is about, its container, when, and what happened."""

    code: str
    container: str
    occurred_at: datetime
    story: str


@dataclass(frozen=True, slots=True)
class Story:
    """A kind of fault.

    Attributes:
        code: The violation it is planted for; empty where nothing is wrong in the end.
        per_quarter: Containers at full size.
        wrong: Everything that is wrong whatever the hour, its code among them; lateness follows
            from the times and is not listed.
        together: Containers that meet it at once, in a consignment of their own.
    """

    name: str
    code: str
    per_quarter: int
    sentence: str
    suits: Callable[[Bag], bool]
    plan: Callable[[Bag, Random], None]
    wrong: tuple[str, ...] = ()
    together: int = 1


@dataclass(frozen=True, slots=True)
class Run:
    """How a small consignment of its own differs from the usual."""

    sealed: bool = True
    other_seal: bool = False
    broken_seal: bool = False
    closed: bool = True
    carrier: str = "carrier-quillow"
    plant: str = "plant-kiln"
    extra_hours: int = 0


RUNS: dict[str, Run] = {
    "unsealed-van": Run(sealed=False),
    "other-seal": Run(other_seal=True),
    "broken-seal": Run(broken_seal=True),
    "open-van": Run(closed=False),
    "lapsed-carrier": Run(carrier="carrier-tressel"),
    "unauthorised-plant": Run(plant="plant-tarn"),
    "slow-van": Run(extra_hours=28),
}


def _of(*categories: str) -> Callable[[Bag], bool]:
    return lambda bag: bag.category in categories


def _any(_: Bag) -> bool:
    return True


def _in_cart(bag: Bag) -> bool:
    return bag.category in _CARTED


def _bagged(bag: Bag) -> bool:
    return bag.outer == "after"


def _hours_before_a_round(bag: Bag) -> bool:
    hour = bag.sealed_s // HOUR_S % 24
    return 8 <= hour < 11 or 16 <= hour < 23


def _heavy_in_cart(bag: Bag) -> bool:
    return bag.category in _CARTED and bag.weight_g >= 3_000


def _set(**plan: object) -> Callable[[Bag, Random], None]:
    def apply(bag: Bag, _: Random) -> None:
        for name, value in plan.items():
            setattr(bag, name, value)

    return apply


def _aged(hours_min: float, hours_max: float) -> Callable[[Bag, Random], None]:
    def apply(bag: Bag, rng: Random) -> None:
        bag.treated_age_s = round(rng.uniform(hours_min, hours_max) * HOUR_S)
        bag.notified = hours_max > 48 and rng.random() < 0.5

    return apply


def _overfilled(bag: Bag, rng: Random) -> None:
    bag.fill_percent = rng.randint(79, 97)


def _warm(bag: Bag, rng: Random) -> None:
    bag.warm_c = str(rng.randint(91, 149) / 10)


def _short(bag: Bag, rng: Random) -> None:
    bag.short_g = rng.randint(700, 1_600)


def _added(bag: Bag, rng: Random) -> None:
    bag.added_g = rng.randint(600, 1_500)


def _mixed(bag: Bag, rng: Random) -> None:
    strange = {"red": "dressing", "white": "glass vial", "blue-a": "syringe"}
    bag.wrong_items = (strange.get(bag.category, rng.choice(("needle", "glove", "tubing"))),)


def _false_code(bag: Bag, rng: Random) -> None:
    bag.false_at = rng.choice(("collected", "received"))


def _recorded_late(bag: Bag, rng: Random) -> None:
    bag.late_at = rng.choice(("registered", "collected", "weighed", "received"))


def _on_a_run(name: str) -> Callable[[Bag, Random], None]:
    return _set(run=name)


_C, _PLASTIC = _of("yellow-c"), _of("red")

STORIES: tuple[Story, ...] = (
    Story("forgotten", "holding.near", 28,
        "Lay forgotten at the plant and was burnt less than 6 h before its limit.",
        _C, _aged(42.3, 47.6)),
    Story("kept-too-long", "holding.exceeded", 28,
        "Lay forgotten at the plant beyond 48 h from sealing.",
        _of("yellow-b", "yellow-c"), _aged(50, 70)),
    Story("warm-store", "holding.warm_store", 28,
        "Was put in the chilled store while it was warm.",
        lambda bag: bag.category in CHILLED, _warm, ("holding.warm_store",)),
    Story("cytotoxic-autoclaved", "route.forbidden", 10,
        "Cytotoxic waste went through the autoclave before it was burnt.",
        _of("yellow-d1"), _set(steps=("autoclave", "incinerate_1200")), ("route.forbidden",)),
    Story("left-untreated", "route.forbidden", 9,
        "Laboratory waste left the site without pre-treatment.",
        _of("yellow-h"), _set(on_site=(), steps=("autoclave", "incinerate")),
        ("route.forbidden",)),
    Story("plastic-to-landfill", "route.forbidden", 9,
        "Shredded plastic went to landfill.",
        _PLASTIC, _set(outlet="landfill"), ("route.forbidden",)),
    Story("plastic-burnt", "route.not_permitted", 14,
        "A red container was burnt and its ash put in the landfill.",
        _PLASTIC, _set(steps=("incinerate",), outlet="ash_landfill"),
        ("route.not_permitted", "route.not_permitted", "route.incomplete")),
    Story("soiled-autoclaved", "route.not_permitted", 14,
        "Soiled waste was autoclaved before it was burnt.",
        _C, _set(steps=("autoclave", "incinerate")), ("route.not_permitted",)),
    Story("shredded-first", "route.out_of_order", 28,
        "Sharps were shredded before they were autoclaved.",
        _of("white"), _set(steps=("shred", "autoclave")), ("route.out_of_order",)),
    Story("not-shredded", "route.incomplete", 28,
        "Plastic went to the recycler without being shredded.",
        _PLASTIC, _set(steps=("autoclave",)), ("route.incomplete",)),
    Story("sharps-in-a-bag", "packing.wrong_container", 28,
        "Sharps were put in a bag.",
        _of("white"), _set(kind="bag", outer="after"), ("packing.wrong_container",)),
    Story("overfilled", "packing.overfilled", 28,
        "Was sealed more than three-quarters full.",
        _any, _overfilled, ("packing.overfilled",)),
    Story("open", "packing.open", 20,
        "Was registered without being closed.",
        _any, _set(closed=False), ("packing.open",)),
    Story("open-van", "packing.open", 12,
        "Left in a vehicle that was not closed.",
        _in_cart, _on_a_run("open-van"), ("packing.open",), together=4),
    Story("single-bagged", "packing.not_double", 28,
        "Left in a single bag.",
        _bagged, _set(outer="never"), ("packing.not_double",)),
    Story("hub-uncut", "sharps.hub_uncut", 28,
        "Needles were registered with their hubs uncut.",
        _of("white"), _set(hub_cut=False), ("sharps.hub_uncut",)),
    Story("unsealed-van", "transport.unsealed", 28,
        "Left in a consignment without a seal.",
        _in_cart, _on_a_run("unsealed-van"), ("transport.unsealed",), together=4),
    Story("other-seal", "transport.seal_changed", 16,
        "Arrived under another seal than it left with.",
        _in_cart, _on_a_run("other-seal"), ("transport.seal_changed",), together=4),
    Story("broken-seal", "transport.seal_changed", 16,
        "Arrived under a broken seal.",
        _in_cart, _on_a_run("broken-seal"), ("transport.seal_changed",), together=4),
    Story("not-signed-for", "custody.gap", 10,
        "Was taken from the ward without a collection and put in the store.",
        _in_cart, _set(collected=False), ("custody.gap",)),
    Story("wrong-unit", "custody.gap", 8,
        "Was collected in the name of another unit.",
        _any, _set(from_party="neighbour"), ("custody.gap",)),
    Story("bagged-unregistered", "custody.gap", 6,
        "Was in its outer bag before it was registered.",
        _bagged, _set(outer="before"), ("custody.gap",)),
    Story("sold-unsigned", "custody.gap", 6,
        "Was disposed of by a recycler that never took custody.",
        _PLASTIC, _set(disposer="recycler-ollibar"), ("custody.gap",)),
    Story("slow-van", "custody.overdue", 28,
        "Was on the road for more than a day.",
        _of("red", "white", "blue-a"), _on_a_run("slow-van"), together=4),
    Story("missing-then-found", "custody.missing", 12,
        "Was missing at receipt and found hours later.",
        _of("red", "white"), _set(missing="found"), ("custody.missing",)),
    Story("missing", "custody.missing", 10,
        "Was missing at receipt and never found.",
        _of("red", "white", "blue-a"), _set(missing="never"), ("custody.missing",)),
    Story("lost-in-store", "custody.missing", 8,
        "Was not in the store at the count and found the next day.",
        _of("red", "white"), _set(), ("custody.missing",)),
    Story("copied-label", "custody.two_places", 28,
        "A label like its own was seen at the plant minutes after it was sealed.",
        _hours_before_a_round, _set(), ("custody.two_places",)),
    Story("false-label", "label.not_genuine", 28,
        "A code with a false tag was scanned for it.",
        _in_cart, _false_code, ("label.not_genuine",)),
    Story("weight-missing", "weight.mismatch", 18,
        "Weighed less at the plant than in the store.",
        _heavy_in_cart, _short, ("weight.mismatch",)),
    Story("weight-added", "weight.mismatch", 10,
        "Weighed more in the store than on the ward.",
        _in_cart, _added, ("weight.mismatch",)),
    Story("mixed", "segregation.wrong_item", 28,
        "An audit found in it what does not belong.",
        _in_cart, _mixed, ("segregation.wrong_item",)),
    Story("lapsed-carrier", "party.not_authorised", 16,
        "Left with a carrier whose authorisation had lapsed.",
        _in_cart, _on_a_run("lapsed-carrier"), ("party.not_authorised",), together=4),
    Story("unauthorised-plant", "party.not_authorised", 16,
        "Went to a plant that is not authorised for its category.",
        _of("yellow-c", "red", "white"), _on_a_run("unauthorised-plant"),
        ("party.not_authorised",), together=4),
    Story("recorded-late", "record.late", 28,
        "One of its events was recorded two days after it happened.",
        _in_cart, _recorded_late, ("record.late",)),
    Story("typing-error", "", 44,
        "Its weight was typed wrong and put right.", _bagged, _set()),
    Story("voided", "", 8,
        "A weighing of another container was entered for it and struck out.", _in_cart, _set()),
    Story("refused", "", 10,
        "Was turned away at the gate, put in a further bag and taken in.",
        lambda bag: bag.outer == "after" and bag.category in _CARTED, _set()),
    Story("spilt", "", 6,
        "Was dropped on the ward; the spill was told to the authority.", _bagged, _set()),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CycleStory:
    """A kind of fault that everything in one load of an autoclave meets.

    Attributes:
        wrong: What is wrong with every container of the load, what it is planted for first.
        fails: The load is treated again.
        machine: Another machine than those of the register.
    """

    name: str
    sentence: str
    wrong: tuple[str, ...]
    fails: bool = False
    machine: str = ""


CYCLE_STORIES: dict[str, CycleStory] = {
    story.name: story
    for story in (
        CycleStory("short-hold", "Its cycle held 121 °C for 41 min where 60 are asked.",
            ("treatment.failed",), fails=True),
        CycleStory("cold-spot", "One probe of its load stayed below 121 °C.",
            ("treatment.failed",), fails=True),
        CycleStory("no-indicator", "No chemical indicator was in its load.",
            ("treatment.no_indicator",)),
        CycleStory("overloaded", "Its load was heavier than the machine takes.",
            ("cycle.overloaded",)),
        CycleStory("typed-twice", "Another cycle was entered for its machine at the same time.",
            ("cycle.conflict",)),
        CycleStory("borrowed-machine", "It went through a machine that is not in the register.",
            ("machine.not_fit", "treatment.unproved"), machine="borrowed-autoclave"),
        CycleStory("late-spore-test", "The spore test of its machine was two days late.",
            ("treatment.unproved",)),
    )
}  # fmt: skip
"""Faults of cycles by name, in the order in which they are planted."""
