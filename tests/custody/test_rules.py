"""The rows that speak of one category, one site and one day."""

from datetime import date
from decimal import Decimal

import pytest

from service.custody.rules import Rules
from service.custody.words import Condition, ContainerKind
from tests.house import holding, hospital, house, row, rules
from tests.trade import at

DAY = date(2026, 7, 6)


@pytest.mark.parametrize(
    ("monthly_kg", "climate", "limits"),
    [
        ("9.9", "temperate", ["below", "temperate", "any"]),
        ("10", "temperate", ["from", "temperate", "any"]),
        ("10", "warm", ["from", "warm", "any"]),
    ],
)
def test_limits_for_sites_of_a_size_and_climate(
    monthly_kg: str, climate: str, limits: list[str]
) -> None:
    """At the quantity itself the row for so much or more holds."""
    text = rules(
        {"monthly_kg": monthly_kg, "climate": climate},
        holding=[
            holding(id="below", monthly_kg_below="10"),
            holding(id="from", monthly_kg_min="10"),
            holding(id="warm", climate="warm"),
            holding(id="temperate", climate="temperate"),
            holding(id="any"),
        ],
    ).on("soiled", DAY)
    assert text is not None
    assert [limit.id for limit in text.limits] == limits


def test_routes_and_denials_that_depend_on_what_the_site_declared() -> None:
    """All facts asked for must hold; a route then opens, a denial then falls."""
    plain, remote = rules().on("soiled", DAY), rules({"facts": ["remote"]}).on("soiled", DAY)
    assert plain is not None
    assert remote is not None
    assert [r.id for r in plain.routes] == ["burn"]
    assert [r.id for r in remote.routes] == ["burn", "bury"]
    assert [d.clause for d in plain.denials] == ["no chlorine in the fire", "burial"]
    assert [d.clause for d in remote.denials] == ["no chlorine in the fire"]


def test_an_unknown_category_has_no_rows() -> None:
    """None, and asked again none."""
    text = rules()
    assert text.on("no-such", DAY) is None
    assert text.on("no-such", DAY) is None


def test_a_time_rule_for_one_kind_stands_before_the_one_for_all() -> None:
    """The first row that speaks of the kind is taken."""
    text = rules(
        time=[
            row("old", rule="record_within", hours=1, until="2026-07-06"),
            row("transit", rule="transit_max", hours=2),
            row("weights", rule="record_within", hours=3, kinds=["weighed"]),
            row("all", rule="record_within", hours=4),
        ]
    )
    asked = [("weighed", DAY), ("stored", DAY), ("stored", date(2026, 7, 5))]
    found = [text.hours("record_within", kind, day) for kind, day in asked]
    assert [f[0] for f in found if f] == [3, 4, 1]
    assert text.hours("import_within", "stored", DAY) is None


def test_bands_and_weights_of_the_day() -> None:
    """Rows that ended are not taken."""
    text = rules(
        store_band=[
            row("old", condition="chilled", temperature_c_max="4", until="2026-07-06"),
            row("new", condition="chilled", temperature_c_max="8"),
        ],
        weight=[
            row("old", rule="in_service_factor", factor="3", until="2026-07-06"),
            row("old", rule="weight_max", kinds=["bag"], weight_g_max=1, until="2026-07-06"),
            row("new", rule="in_service_factor", factor="2"),
            row("box", rule="weight_max", kinds=["box"], weight_g_max=9_000),
            row("bag", rule="weight_max", kinds=["bag"], weight_g_max=30_000),
        ],
    )
    band, factor = text.band(Condition.CHILLED, DAY), text.in_service_factor(DAY)
    assert band is not None
    assert band.clause == "new"
    assert text.band(Condition.FROZEN, DAY) is None
    assert factor is not None
    assert factor[0] == Decimal(2)
    assert text.weight_g_max(ContainerKind.BAG, DAY) == 30_000
    assert text.weight_g_max(ContainerKind.BOTTLE, DAY) is None


def test_a_packing_rule_is_for_its_kinds_of_container() -> None:
    """Two bags are for bags."""
    text = rules().on("soiled", DAY)
    assert text is not None
    assert text.packing_rule("double_bagged", ContainerKind.BAG)
    assert text.packing_rule("double_bagged", ContainerKind.BOX) is None
    assert text.packing_rule("hub_cut", ContainerKind.SHARPS_CONTAINER) is None, "not for soiled"


def test_times_in_sentences_are_local_and_clauses_name_their_text() -> None:
    """As people on the site read them."""
    text = Rules(house(), hospital(time_zone="Asia/Kolkata"))
    assert text.local(at("2026-07-06 20:00")) == "2026-07-07 01:30"
    assert text.cite(text.regime.holding[0]) == "limit (House text)"
