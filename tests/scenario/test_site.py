"""The invented hospital fits the regime it names and what the simulation asks of it."""

from datetime import date

from scenario.activity import UNITS
from scenario.bags import AT_PLANT
from scenario.hospital import load_site
from scenario.stories import RUNS
from service.regimes.load import assemble

DAY = date(2026, 8, 1)


def test_units_make_what_the_site_says_they_make() -> None:
    """Each unit's mix is exactly the categories that the site lists for it."""
    site = load_site()
    listed = {unit.id: set(unit.categories) for unit in site.unit}
    assert listed == {unit: set(activity.mix) for unit, activity in UNITS.items()}


def test_categories_are_those_of_the_regime() -> None:
    """Every category of the regime is made somewhere, and no other."""
    site = load_site()
    made = {category for unit in site.unit for category in unit.categories}
    assert made == {category.id for category in assemble(site.regime).categories_on(DAY)}
    assert made == set(AT_PLANT)


def test_no_fact_opens_an_exceptional_route() -> None:
    """The hospital is in reach of a common facility: none of the facts of remote places holds."""
    site = load_site()
    assert not set(site.facts) & set(assemble(site.regime).site_facts)


def test_one_carrier_and_one_plant_are_not_authorised() -> None:
    """The usual carrier and plant may take everything; the others' papers lack or lapsed."""
    site = load_site()
    for category in AT_PLANT:
        assert site.parties["carrier-quillow"].may("carry", category, DAY)
        assert site.parties["plant-kiln"].may("treat", category, DAY)
        assert not site.parties[RUNS["lapsed-carrier"].carrier].may("carry", category, DAY)
    for category in ("yellow-c", "red", "white"):
        assert not site.parties[RUNS["unauthorised-plant"].plant].may("treat", category, DAY)
