"""Pits: how full by weight and by measuring, how long they last, when they are to be closed."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from service.custody.pits import PitShape
from service.custody.regime import Limit
from service.regimes.load import assemble
from service.treatment.pits import Covering, Load, PitState, pit_state

D = Decimal
DAY = date(2026, 9, 30)
FIRST = DAY - timedelta(weeks=20)


def shape(outlet: str = "deep_burial", **said: object) -> PitShape:
    """A pit of 2 m x 1 m x 1 m; a litre weighs a fifth to a quarter of a kilogram."""
    usual = {"outlet": outlet, "depth_m": "2", "area_m2": "1", "kg_per_l": ["0.2", "0.25"]}
    return PitShape.model_validate(usual | {"ground_water_m": "9"} | said)


def rows(regime: str = "india-2016") -> dict[str, Limit]:
    """The numbers of a regime as they stand on the day."""
    return {r.id: r for r in reversed(assemble(regime).limit) if r.in_force(DAY)}


def state(
    loads: list[Load],
    covers: list[Covering],
    of: PitShape | None = None,
    regime: str = "india-2016",
) -> PitState:
    """How such a pit stands."""
    return pit_state(of or shape(), loads, covers, DAY, rows(regime).get)


def load(day: date, kg: str) -> Load:
    """One container."""
    return Load(day, int(D(kg) * 1000), 1, 0)


def soil(day: date, layer_cm: str = "10", free_cm: str | None = None) -> Covering:
    """A layer of soil."""
    return Covering(day, "soil", D(layer_cm), D(free_cm) if free_cm else None)


def said(found: PitState) -> list[str]:
    """What is wrong with it."""
    return [flag.said for flag in found.flags]


# BMW Rules, Schedule II, deep burial (read in the text of 1998): half the depth of waste and soil,
# 10 cm of soil after each load, lime to within 50 cm of the surface. So a pit of 2 m x 1 m x 1 m
# takes 1 000 l, and two whole loads of 250 l under 100 l of soil each are 700 l.
def test_two_loads_of_a_quarter_cubic_metre_under_their_soil() -> None:
    """50 kg at 0.2 kg a litre are 250 l, at 0.25 they are 200 l; a third load would be too many."""
    loads = [load(FIRST, "50"), load(FIRST + timedelta(days=7), "50")]
    two = state(loads, [soil(one.day) for one in loads])
    assert two.usable_l == 1_000
    assert tuple(two.filled_l) == (600, 700)
    assert tuple(two.left_l) == (300, 400)
    assert said(two) == []
    loads.append(load(FIRST + timedelta(days=14), "50"))
    three = state(loads, [soil(one.day) for one in loads])
    assert tuple(three.filled_l) == (900, 1_050)
    assert said(three) == ["may be full: measure it before anything goes in"]


@pytest.mark.parametrize(("free_cm", "flag"), [("100.1", []), ("100", ["full"]), ("60", ["full"])])
def test_the_fill_rule_is_reached_at_half_the_depth(free_cm: str, flag: list[str]) -> None:
    """Measured 100 cm below the surface of a pit of 2 m: full; at 100.1 cm it is not."""
    found = state([load(FIRST, "1")], [soil(FIRST, free_cm=free_cm)])
    assert [one.partition(":")[0] for one in said(found)] == flag
    assert all(f.row is not None and f.row.id == "pit-filled" for f in found.flags)
    assert found.measured_on == FIRST


def test_a_sharps_pit_is_closed_half_a_metre_below_the_surface() -> None:
    """1 m deep, 1.6 m2: 800 l; 2.5 l a day last 320 days (arithmetic on an assumed box rate)."""
    pit = shape("sharps_pit", depth_m="1", area_m2="1.6", kg_per_l=["0.2", "0.2"])
    loads = [load(DAY - timedelta(days=n), "0.5") for n in reversed(range(140))]
    found = state(loads, [], pit)
    assert found.usable_l == 800
    assert tuple(found.filled_l) == (350, 350)
    assert found.litres_a_day is not None
    assert [float(x) for x in found.litres_a_day] == pytest.approx([2.5, 2.5])
    assert found.days_left == (180, 180)
    assert found.full_on == (DAY + timedelta(days=180),) * 2
    assert said(found) == []


def test_what_is_measured_goes_before_what_is_reckoned() -> None:
    """Waste settles: 130 cm free are 700 l in it, whatever went in before; later loads come on."""
    loads = [load(FIRST, "900"), load(FIRST + timedelta(days=2), "10")]
    found = state(loads, [soil(FIRST + timedelta(days=1), free_cm="130"), soil(DAY, "0")])
    assert tuple(found.filled_l) == (740, 750)


def test_how_long_it_lasts_is_a_range_that_scatter_widens() -> None:
    """Even weeks leave the weight of a litre alone; uneven ones of the same sum say less."""
    even = [load(DAY - timedelta(weeks=n), "2") for n in reversed(range(20))]
    odd = [load(DAY - timedelta(weeks=n), "4") for n in reversed(range(0, 20, 2))]
    (soon, late), (sooner, later) = (
        found.days_left or (0, 0) for found in (state(even, [soil(DAY, "0")]), state(odd, []))
    )
    assert late is not None
    assert later is not None
    assert sooner < soon < late < later
    few = state(even[-7:], [])
    assert (few.litres_a_day, few.days_left) == (None, None)


def test_a_pit_that_is_hardly_used_has_no_end_that_can_be_told() -> None:
    """One load in twenty weeks: from some day on, or never."""
    found = state([load(FIRST, "1")], [])
    assert found.days_left is not None
    assert found.days_left[1] is None
    assert state([], []).days_left is None


@pytest.mark.parametrize(
    ("regime", "water_m", "wrong"),
    [
        # India 6 m below the base (from memory); WHO course material 1.5 m (read).
        ("india-2016", "8", []),
        ("india-2016", "7.99", ["ground water 5.99 m below the base, 6 asked"]),
        ("who-2014", "3.5", []),
        ("who-2014", "3.49", ["ground water 1.49 m below the base, 1.5 asked"]),
        ("india-2016", None, ["how deep the ground water stands is not told"]),
    ],
)
def test_ground_water_is_held_against_the_regime(
    regime: str, water_m: str | None, wrong: list[str]
) -> None:
    """At the figure is enough."""
    assert said(state([], [], shape(ground_water_m=water_m), regime)) == wrong


def test_what_is_wrong_with_its_covers_is_told() -> None:
    """A burial without soil, and something put in after the concrete."""
    bare = state([load(FIRST, "1")], [])
    assert said(bare) == [f"no cover is on record over the load of {FIRST}"]
    after = FIRST + timedelta(days=1)
    closed = state([load(FIRST, "1"), load(after, "1")], [Covering(FIRST, "concrete", None, None)])
    assert f"something was put in on {after}, after it was closed" in said(closed)
    assert closed.closed_on == FIRST


def test_a_pit_without_volume_or_with_figures_swapped_is_refused() -> None:
    """In the set-up, before anything rests on it."""
    for wrong in ({"depth_m": "0"}, {"kg_per_l": ["0.3", "0.2"]}, {"kg_per_l": ["0", "1"]}):
        with pytest.raises(ValueError, match=r"kg_per_l|depth_m"):
            shape(**wrong)
