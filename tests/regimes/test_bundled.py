"""What the bundled regimes say on a day, assembled with those they add to."""

from datetime import date
from itertools import product

import pytest

from service.custody.acts import Act
from service.custody.regime import Denial, Regime, covering
from service.regimes.load import BUNDLED, assemble, available, load


@pytest.mark.parametrize("regime_id", available())
def test_each_bundled_regime_is_whole(regime_id: str) -> None:
    """Every file of the house is read, warns that it is no legal advice, and is complete."""
    regime = assemble(regime_id)
    assert "not legal advice" in regime.status.lower()
    assert "local codes" in regime.status
    for category in regime.category:
        assert covering(regime.container, category.id, category.from_)
        assert covering(regime.packing, category.id, category.from_)


def _containers(regime: Regime, category: str, day: date) -> list[str]:
    return [row.description for row in covering(regime.container, category, day)]


def test_blue_goes_in_a_cardboard_box_until_the_amendment_of_2018() -> None:
    """India, G.S.R. 234(E) of 16 March 2018 (from memory): judged by the text of the day."""
    india = load(BUNDLED / "india-2016.toml")
    before, after = date(2018, 3, 15), date(2018, 3, 16)
    assert _containers(india, "blue-a", before) == ["cardboard box with blue marking"]
    assert _containers(india, "blue-a", after) == [
        "puncture-proof and leak-proof box or container with blue marking"
    ]
    assert _containers(india, "blue-a", date(2016, 3, 27)) == []


def test_hypochlorite_is_weaker_from_2018() -> None:
    """India, Schedule I Part 2: at least 10 % in 2016, 1 to 2 % from 2018 (read in a summary)."""
    india = load(BUNDLED / "india-2016.toml")
    on = {
        day: {r.id: str(r.value) for r in india.limit if r.in_force(day)}
        for day in (date(2018, 3, 15), date(2018, 3, 16))
    }
    assert on[date(2018, 3, 15)]["hypochlorite-percent"] == "10"
    assert "hypochlorite-percent-max" not in on[date(2018, 3, 15)]
    assert on[date(2018, 3, 16)]["hypochlorite-percent"] == "1"
    assert on[date(2018, 3, 16)]["hypochlorite-percent-max"] == "2"


def test_florida_holds_the_federal_floor_and_good_practice_after_its_own_rows() -> None:
    """A State adds to the floor, the floor to good practice, each once, own rows first."""
    florida, floor = assemble("us-florida"), load(BUNDLED / "us-federal.toml")
    practice = load(BUNDLED / "good-practice.toml")
    assert [c.id for c in florida.category] == [c.id for c in floor.category]
    assert [r.id for r in florida.holding] == ["on-site", "on-site-sharps", "off-site"]
    assert florida.packing == floor.packing + practice.packing
    assert florida.caution[0].source == "fac-64e-16"
    assert set(florida.source) == {"fac-64e-16", *floor.source, *practice.source}


def test_the_band_of_a_regime_comes_before_that_of_the_house() -> None:
    """WHO gives 3 to 8 °C; where a regime gives none the house's 2 to 8 °C holds."""
    who, india = assemble("who-2014"), assemble("india-2016")
    first = [next(b for b in r.store_band if b.condition == "chilled") for r in (who, india)]
    assert [(str(b.temperature_c_min), str(b.temperature_c_max)) for b in first] == [
        ("3", "8"),
        ("2", "8"),
    ]


def _denies(row: Denial, act: Act, done: tuple[Act, ...], facts: tuple[str, ...]) -> bool:
    """Say whether the row denies the act after those done at a site with these facts."""
    return (
        act in row.acts
        and (not row.after or bool(set(row.after) & set(done)))
        and not set(row.unless_after) & set(done)
        and not (row.unless_where and set(row.unless_where) <= set(facts))
    )


@pytest.mark.parametrize("regime_id", available())
def test_no_permitted_route_leads_through_a_denied_act(regime_id: str) -> None:
    """A regime that permits with one row what it denies with another would contradict itself."""
    regime = assemble(regime_id)
    for category in regime.category:
        denials = covering(regime.denied, category.id, category.from_)
        for route in covering(regime.route, category.id, category.from_):
            for path in product(*route.stages):
                for place, act in enumerate(path):
                    denied = [
                        r.reason for r in denials if _denies(r, act, path[:place], route.only_where)
                    ]
                    assert denied == [], f"{category.id}: {route.id}: {act}"
