"""Holding limits of texts that are not shipped, written out here from excerpts, as worked cases.

They show that the rules can carry clocks, quantities and temperatures of other jurisdictions.
"""

from datetime import date, timedelta

import pytest

from tests.house import holding, row, rules
from tests.trade import at, bag, sharps_box

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
SECOND = timedelta(seconds=1)
T0 = at("2026-07-06 10:00")  # a Monday

# California, Health and Safety Code 118280 (days from articles, medium confidence): 20 lb a month
# or more 7 days above 0 °C, less 30 days; at or below 0 °C 90 days. 20 lb is 9.0718474 kg.
TWENTY_LB_KG = "9.0718474"
CALIFORNIA = [
    holding(
        id="more",
        days=7,
        conditions=["ambient", "outdoors", "chilled"],
        monthly_kg_min=TWENTY_LB_KG,
    ),
    holding(
        id="less",
        days=30,
        conditions=["ambient", "outdoors", "chilled"],
        monthly_kg_below=TWENTY_LB_KG,
    ),
    holding(id="frozen", days=90, conditions=["frozen"]),
]
FREEZER_AT_0 = [row("band", condition="frozen", temperature_c_max="0")]


@pytest.mark.parametrize(
    ("pounds", "store", "temperature_c", "days"),
    [(25, "cold-room", "4", 7), (25, "freezer", "-1", 90), (15, "cold-room", "4", 30)],
)
def test_california(pounds: int, store: str, temperature_c: str, days: int) -> None:
    """The last day is allowed, the next one is an overrun, by quantity and temperature."""
    story = bag().sealed(T0).collected(T0).stored(T0, store=store, temperature_c=temperature_c)
    text = rules(
        {"monthly_kg": str(round(pounds * 0.45359237, 3))},
        holding=CALIFORNIA,
        store_band=FREEZER_AT_0,
    )
    assert not story.over(text, T0 + days * DAY)
    assert story.over(text, T0 + (days + 1) * DAY)


# Montana (read): firms that carry or store; from receipt, transport included; 32 to 45 °F 7 days,
# below 32 °F 30 days, never above 45 °F. 32 °F is 0 °C, 45 °F is 7.22 °C.
MONTANA = [
    holding(id="chilled", days=7, conditions=["chilled"], clock="collected"),
    holding(id="frozen", days=30, conditions=["frozen"], clock="collected"),
]
MONTANA_BANDS = [
    row("band", condition="chilled", temperature_c_min="0", temperature_c_max="7.22"),
    row("band", condition="frozen", temperature_c_max="0"),
]


@pytest.mark.parametrize(
    ("store", "temperature_c", "days"), [("cold-room", "4.4", 7), ("freezer", "-1.1", 30)]
)
def test_montana(store: str, temperature_c: str, days: int) -> None:
    """40 °F: day 7 allowed, day 8 not; 30 °F: day 30 allowed, day 31 not."""
    story = bag().sealed(T0 - HOUR).collected(T0)
    story.stored(T0, store=store, temperature_c=temperature_c)
    text = rules(holding=MONTANA, store_band=MONTANA_BANDS)
    assert not story.over(text, T0 + days * DAY)
    assert story.over(text, T0 + (days + 1) * DAY)


def test_montana_above_45_f_is_wrong_at_once() -> None:
    """46 °F (7.8 °C) in the cold room is flagged when it is put in."""
    story = bag().sealed(T0 - HOUR).collected(T0)
    story.stored(T0 + HOUR, store="cold-room", temperature_c="7.8")
    text = rules(holding=MONTANA, store_band=MONTANA_BANDS)
    assert story.only("holding.warm_store", text).opened_at == T0 + HOUR


def test_montana_counts_the_transport() -> None:
    """Two days on the road and six in store at 40 °F are eight: an overrun."""
    story = (
        bag().sealed(T0 - HOUR).collected(T0).dispatched(T0, condition="chilled", consignee="hub")
    )
    story.received(T0 + 2 * DAY, party="hub")
    story.stored(T0 + 2 * DAY, store="hub-cold", temperature_c="4.4")
    text = rules(holding=MONTANA, store_band=MONTANA_BANDS)
    assert not story.over(text, T0 + 7 * DAY)
    assert story.over(text, T0 + 8 * DAY)


# Virginia, older text (read): 7 days unrefrigerated, 15 days in any case, from the start date.
VIRGINIA = [
    holding(id="warm", days=7, conditions=["ambient", "outdoors"]),
    holding(id="any", days=15),
]


def test_virginia() -> None:
    """25 °C: 7 days allowed, day 8 not unless moved to cold; day 16 in no case."""
    text = rules(holding=VIRGINIA)
    warm = bag().sealed(T0).collected(T0).stored(T0)
    assert not warm.over(text, T0 + 7 * DAY)
    assert warm.over(text, T0 + 8 * DAY)
    moved = bag().sealed(T0).collected(T0).stored(T0)
    moved.stored(T0 + 6 * DAY, store="cold-room", temperature_c="4")
    assert not moved.over(text, T0 + 8 * DAY)
    assert not moved.over(text, T0 + 15 * DAY)
    assert moved.over(text, T0 + 16 * DAY)


def test_ethiopia_two_days_for_bags_and_a_week_for_locked_boxes() -> None:
    """Ethiopian directive (read in excerpt): bags 2 days, safety boxes 1 week."""
    text = rules(
        holding=[
            holding(id="bags", days=2, kinds=["bag"]),
            holding(id="boxes", days=7, kinds=["sharps_container"]),
        ]
    )
    assert bag().sealed(T0).over(text, T0 + 2 * DAY + SECOND)
    box = sharps_box().sealed(T0, hub_cut=True)
    assert not box.over(text, T0 + 7 * DAY)
    assert box.over(text, T0 + 7 * DAY + SECOND)


def test_a_container_is_judged_by_the_text_in_force_when_it_was_sealed() -> None:
    """A limit that ends on a day still holds for what was sealed before it."""
    old = holding(24, id="old", until=date(2026, 7, 6))
    new = holding(96, id="new", **{"from": date(2026, 7, 6)})
    text = rules({"time_zone": "Asia/Kolkata"}, holding=[old, new])
    before, after = at("2026-07-05 23:59+05:30"), at("2026-07-06 00:01+05:30")
    assert bag().sealed(before).standing(text).due_at == before + 24 * HOUR
    assert bag().sealed(after).standing(text).due_at == after + 96 * HOUR
