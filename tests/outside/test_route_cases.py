"""Treatment routes against the published schedules: what may follow what, and what never.

Sources: India, Bio-Medical Waste Management Rules 2016, Schedule I and II (from memory; deep
burial and chlorine read); WHO, Safe management of wastes from health-care activities, 2nd ed.,
2014, ch. 8 (from memory, the suitability grid of the 1st ed. 1999, table 8.3).
"""

from datetime import timedelta

import pytest

from service.custody.acts import Outlet, act
from service.custody.rules import Rules
from service.regimes.load import assemble
from tests.house import hospital
from tests.trade import Story, at, bag, sharps_box

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
RURAL = ("no_common_facility_access", "remote_burial_approved")
NO_PLANT = ("no_destroying_plant",)


def done(category: str, acts: str) -> Story:
    """A container of the category to which these acts were done, an hour apart."""
    story = sharps_box(category) if category in ("white", "sharps") else bag(category)
    story.sealed(T0, hub_cut=True)
    for hours, name in enumerate(acts.split(), 1):
        when = T0 + hours * HOUR
        if name == "dispatch":
            story.dispatched(when)
        elif isinstance(act(name), Outlet):
            story.disposed(when, name)
        else:
            story.treated(when, name)
    return story


def findings(story: Story, regime: str, facts: tuple[str, ...]) -> list[str]:
    """The findings on its route in order, without ``route.``."""
    text = Rules(assemble(regime), hospital(regime=regime, facts=list(facts)))
    codes = [c for c in story.codes(text) if c.startswith("route.")]
    return [c.removeprefix("route.") for c in codes]


INDIA: list[tuple[str, str, tuple[str, ...], list[str]]] = [
    # Worked cases on the grammar.
    ("red", "incinerate", (), ["not_permitted"]),
    ("red", "autoclave shred landfill", (), ["forbidden"]),
    ("yellow-d1", "autoclave", (), ["forbidden"]),
    ("yellow-c", "hypochlorite incinerate", (), ["not_permitted", "forbidden"]),
    ("yellow-a", "deep_burial", (), ["forbidden", "incomplete"]),
    ("yellow-a", "deep_burial", RURAL, []),
    ("yellow-a", "deep_burial", RURAL[:1], ["forbidden", "incomplete"]),
    ("white", "shred autoclave sharps_pit", (), ["out_of_order"]),
    # Y-a, Y-b: incinerate, plasma; microwave denied; single step.
    ("yellow-a", "incinerate ash_landfill", (), []),
    ("yellow-b", "plasma ash_landfill", (), []),
    ("yellow-a", "microwave", (), ["forbidden"]),
    ("yellow-b", "autoclave incinerate ash_landfill", (), ["forbidden"]),
    ("yellow-a", "shred", (), ["not_permitted"]),
    # Y-c: heat, then shred, then energy, only where no destroying plant exists.
    ("yellow-c", "incinerate ash_landfill", (), []),
    ("yellow-c", "autoclave shred energy_recovery", NO_PLANT, []),
    ("yellow-c", "shred autoclave energy_recovery", NO_PLANT, ["out_of_order"]),
    ("yellow-c", "autoclave energy_recovery", NO_PLANT, ["incomplete"]),
    ("yellow-c", "ash_landfill", (), ["incomplete"]),
    # Y-d cytotoxic: return, encapsulate, or fire above 1200 °C as recorded; microwave denied.
    ("yellow-d1", "return_to_supplier", (), []),
    ("yellow-d1", "encapsulate hazardous_landfill", (), []),
    ("yellow-d1", "incinerate_1200 ash_landfill", (), []),
    ("yellow-d1", "plasma_1200 ash_landfill", (), []),
    ("yellow-d1", "incinerate", (), ["not_permitted"]),
    ("yellow-d1", "microwave", (), ["forbidden"]),
    ("yellow-d1", "hazardous_landfill", (), ["incomplete"]),
    # Y-d other, Y-e.
    ("yellow-d2", "incinerate ash_landfill", (), []),
    ("yellow-d2", "plasma", (), ["not_permitted"]),
    ("yellow-e", "encapsulate hazardous_landfill", (), []),
    ("yellow-e", "microwave", (), ["forbidden"]),
    # Y-f: recover, pre-treat, effluent plant.
    ("yellow-f", "resource_recovery chemical effluent_treatment sewer", (), []),
    ("yellow-f", "effluent_treatment", (), ["out_of_order"]),
    ("yellow-f", "sewer", (), ["incomplete"]),
    # Y-g: non-chlorinated disinfection first.
    ("yellow-g", "chemical incinerate ash_landfill", (), []),
    ("yellow-g", "chemical energy_recovery", (), []),
    ("yellow-g", "hypochlorite", (), ["forbidden"]),
    ("yellow-g", "incinerate", (), ["out_of_order"]),
    ("yellow-g", "chemical shred", (), ["not_permitted"]),
    ("yellow-g", "chemical shred energy_recovery", NO_PLANT, []),
    ("yellow-g", "chemical ash_landfill", (), ["incomplete"]),
    # Y-h: pre-treated on the site, then incinerated.
    ("yellow-h", "autoclave dispatch incinerate ash_landfill", (), []),
    ("yellow-h", "dispatch", (), ["forbidden"]),
    ("yellow-h", "incinerate", (), ["forbidden"]),
    ("yellow-h", "hypochlorite", (), ["forbidden"]),
    # Red: heat, shred, recycle.
    ("red", "autoclave shred recycler", (), []),
    ("red", "microwave mutilate road_making", (), []),
    ("red", "autoclave autoclave shred recycler", (), []),
    ("red", "shred autoclave recycler", (), ["out_of_order"]),
    ("red", "autoclave recycler", (), ["incomplete"]),
    ("red", "shred recycler", (), ["out_of_order", "incomplete"]),
    ("red", "landfill", (), ["forbidden", "incomplete"]),
    ("red", "sewer", (), ["incomplete", "not_permitted"]),
    # White: heat, then shred, mutilate or encapsulate.
    ("white", "autoclave shred foundry", (), []),
    ("white", "dry_heat encapsulate landfill", (), []),
    ("white", "dry_heat sharps_pit", (), ["incomplete"]),
    # Blue: disinfected before recycling.
    ("blue-a", "hypochlorite recycler", (), []),
    ("blue-b", "autoclave recycler", (), []),
    ("blue-a", "recycler", (), ["incomplete"]),
]


@pytest.mark.parametrize(("category", "acts", "facts", "expected"), INDIA)
def test_india(category: str, acts: str, facts: tuple[str, ...], expected: list[str]) -> None:
    """Each sequence gives exactly the findings that the Schedule does."""
    assert findings(done(category, acts), "india-2016", facts) == expected


WHO: list[tuple[str, str, list[str]]] = [
    ("infectious", "autoclave landfill", []),
    ("infectious", "autoclave shred recycler", []),
    ("infectious", "incinerate ash_landfill", []),
    ("infectious", "shred autoclave landfill", ["out_of_order"]),
    ("infectious", "hypochlorite incinerate", ["forbidden"]),
    ("highly-infectious", "dispatch", ["forbidden"]),
    ("highly-infectious", "autoclave dispatch landfill", []),
    ("pathological", "cremation", []),
    ("pathological", "autoclave", ["forbidden"]),
    ("sharps", "sharps_pit", []),
    ("sharps", "autoclave shred landfill", []),
    ("sharps", "landfill", ["forbidden", "incomplete"]),
    ("cytotoxic", "autoclave", ["forbidden"]),
    ("cytotoxic", "incinerate", ["not_permitted"]),
    ("cytotoxic", "incinerate_1200 ash_landfill", []),
    ("cytotoxic", "inertise hazardous_landfill", []),
    ("radioactive", "incinerate", ["forbidden"]),
    ("radioactive", "decay_storage incinerate ash_landfill", []),
    ("general", "landfill", []),
]


@pytest.mark.parametrize(("category", "acts", "expected"), WHO)
def test_who(category: str, acts: str, expected: list[str]) -> None:
    """Each sequence gives exactly the findings that the book's chapter on treatment does."""
    assert findings(done(category, acts), "who-2014", ()) == expected


@pytest.mark.parametrize(
    ("category", "acts", "following"),
    [
        ("red", "", {"autoclave", "microwave", "hydroclave"}),
        ("red", "autoclave", {"shred", "mutilate"}),
        ("red", "shred", {"autoclave", "microwave", "hydroclave"}),
        ("red", "autoclave shred", {"recycler", "energy_recovery", "fuel_oil", "road_making"}),
        ("white", "dry_heat", {"shred", "mutilate", "encapsulate"}),
        ("red", "autoclave shred recycler", set()),
    ],
)
def test_what_comes_next(category: str, acts: str, following: set[str]) -> None:
    """The next acts are those of the route's first stage that is not done."""
    text = Rules(assemble("india-2016"), hospital(regime="india-2016"))
    assert {a.value for a in done(category, acts).standing(text).next_acts} == following


def test_fire_is_not_offered_after_chlorine() -> None:
    """India, Schedule II: waste treated with a chlorinated disinfectant is not incinerated."""
    text = Rules(assemble("india-2016"), hospital(regime="india-2016"))
    following = {a.value for a in done("yellow-c", "hypochlorite").standing(text).next_acts}
    assert following == {"plasma", "plasma_1200"}
