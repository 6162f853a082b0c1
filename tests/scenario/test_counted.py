"""Activity of the invented hospital, and the two changes planted in its figures."""

from collections import Counter
from datetime import date, timedelta
from random import Random
from statistics import mean, pstdev

from scenario.activity import UNITS
from scenario.bags import Bag
from scenario.counted import DROP_CATEGORY, DROP_UNIT, HEAVY_CATEGORY, HEAVY_UNIT, Changes
from service.custody.events import EVENT
from tests.scenario.reading import Stream


def test_each_unit_is_counted_once_a_day_by_beds_or_by_procedures(full: Stream) -> None:
    """On every day of the quarter, and never by both."""
    told = [e for b in full.quarter.batches for e in b.events if e["kind"] == "activity_counted"]
    places = Counter((e["unit"], e["day"]) for e in told)
    assert len(places) == len(told) == 92 * len(UNITS)
    measures: dict[str, set[str]] = {}
    for event in told:
        measures.setdefault(event["unit"], set()).add(
            "beds" if "occupied_bed_days" in event else "procedures"
        )
        EVENT.validate_python(event)
    assert all(len(by) == 1 for by in measures.values())


def test_the_changes_lie_in_whole_weeks_of_the_quarter() -> None:
    """The third quarter of 2026 begins on a Wednesday and ends on one."""
    changes = Changes.of(date(2026, 7, 1), 92)
    assert changes.heavy_monday == date(2026, 8, 10)
    assert (changes.drop_monday, changes.drop_sunday) == (date(2026, 9, 14), date(2026, 9, 27))


def test_only_what_is_planted_is_changed() -> None:
    """Another unit, category or week stays as it was."""
    changes = Changes.of(date(2026, 7, 1), 92)

    def day(on: date) -> list[Bag]:
        bags = [
            Bag(category, "bag", unit, 0, 4_000, 60)
            for unit in (DROP_UNIT, HEAVY_UNIT)
            for category in (DROP_CATEGORY, HEAVY_CATEGORY)
            for _ in range(100)
        ]
        return changes.change(Random(1), on, bags)

    usual = day(changes.heavy_monday - timedelta(days=1))
    assert (len(usual), {bag.weight_g for bag in usual}) == (400, {4_000})
    heavy = {(b.unit, b.category) for b in day(changes.heavy_monday) if b.weight_g != 4_000}
    assert heavy == {(HEAVY_UNIT, HEAVY_CATEGORY)}
    left = Counter((b.unit, b.category) for b in day(changes.drop_sunday))
    assert left.pop((DROP_UNIT, DROP_CATEGORY)) < 30
    assert set(left.values()) == {100}
    assert len(day(changes.drop_sunday + timedelta(days=1))) == 400


def test_by_plain_arithmetic_both_changes_stand_out(full: Stream) -> None:
    """Kilograms a week, by nothing but sums: the heavy week, and two weeks of little plastic."""
    grams: Counter[tuple[str, str, date]] = Counter()
    for batch in full.quarter.batches:
        for event in batch.events:
            if event["kind"] == "registered" and event.get("weight_g"):
                day = date.fromisoformat(event["occurred_at"][:10])
                monday = day - timedelta(days=day.weekday())
                grams[event["unit"], event["category"], monday] += event["weight_g"]
    truth = full.quarter.figures
    weeks = [date(2026, 7, 6) + timedelta(weeks=n) for n in range(12)]
    row = {w: grams[(*truth.signal, w)] for w in weeks}
    others = [row[w] for w in weeks if w != truth.signal_week]
    assert row[truth.signal_week] > mean(others) + 3 * pstdev(others)
    plastics = [grams[(*truth.drop, w)] for w in weeks]
    assert max(plastics[-2:]) < min(plastics[:-2]) / 2
