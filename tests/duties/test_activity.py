"""Counts of activity in the record: who tells them, how they are put right, what holds."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

from service.access.caller import WHOLE, Caller, Scope
from service.custody.activity import Counted, holding
from service.custody.words import Role
from service.duties.importing import import_file, read_mapping
from service.duties.record import Told, record_events
from service.store.figures import counts
from tests.api.client import NOON, event
from tests.duties.desk import Desk

DAY = date(2026, 7, 1)
MAPPING = """
keeper = "census"
time_zone = "Asia/Kolkata"
[constants]
kind = "activity_counted"
actor = "officer"
source = "midnight census"
[columns]
Date = { field = "day", format = "%d.%m.%Y" }
Ward = { field = "unit", values = { ICU = "icu", Theatre = "theatres" } }
Beds = { field = "occupied_bed_days", decimal = "," }
Operations = "procedures"
"""


def count(unit: str = "icu", day: str = "2026-07-01", **said: Any) -> dict[str, Any]:
    """A count as somebody sends it."""
    told = {"unit": unit, "day": day, "source": "census", **said}
    return event("activity_counted", **({"occupied_bed_days": "17.5"} | told))


def held(desk: Desk, first: date = DAY, last: date = DAY, scope: Scope = WHOLE) -> list[Counted]:
    """What holds of some days."""
    with desk.store.reading() as connection:
        return holding(counts(connection, desk.facility, first, last, scope))


def test_a_count_that_was_put_right_holds_as_corrected(desk: Desk) -> None:
    """And one that was struck out holds no more."""
    told = count()
    desk.tell(told)
    right = told | {"occupied_bed_days": "18"}
    desk.tell(event("amended", supersedes=told["id"], reason="a bed more", corrected=right))
    [found] = held(desk)
    assert (found.count.occupied_bed_days, found.others) == (18, ())
    desk.tell(event("amended", supersedes=told["id"], reason="another hospital's"))
    assert held(desk) == []


def test_a_correction_that_tells_it_last_holds_over_a_later_count(desk: Desk) -> None:
    """The two stand as a conflict until one of them is struck out."""
    first, second = count(procedures=1), count(procedures=2)
    desk.tell(first, second)
    right = first | {"procedures": 3}
    desk.tell(event("amended", supersedes=first["id"], reason="again", corrected=right))
    [found] = held(desk)
    assert (found.count.procedures, [str(i) for i in found.others]) == (3, [second["id"]])
    desk.tell(event("amended", supersedes=second["id"], reason="the other list"))
    assert held(desk)[0].others == ()


def test_a_correction_keeps_unit_and_day(desk: Desk) -> None:
    """Else it would have to be looked for in every month of the record."""
    told, bag = count(), event("spilled", action_taken="mopped up")
    desk.tell(told, bag)
    for other in ({"unit": "theatres"}, {"day": "2026-06-30"}):
        amended = event("amended", supersedes=told["id"], reason="wrong", corrected=told | other)
        assert "keeps its unit and day" in desk.refused(amended)
    as_count = count() | {"id": bag["id"]}
    amended = event("amended", supersedes=bag["id"], reason="wrong", corrected=as_count)
    assert "keeps its unit and day" in desk.refused(amended)


def test_a_count_is_taken_on_its_day_or_in_the_month_after(desk: Desk) -> None:
    """By the facility's own calendar; the unit is one that there is."""
    assert "31 days after it" in desk.refused(count(day="2026-05-30"))
    assert "31 days after it" in desk.refused(count(day="2026-07-02"))
    desk.tell(count(day="2026-05-31"))
    assert "there is no unit 'moon'" in desk.refused(count("moon"))
    assert "is not a day, such as 2026-07-31" in desk.refused(count(day="1st of July"))
    [found] = held(desk, date(2026, 5, 31), DAY)
    assert found.count.day == date(2026, 5, 31)


def test_who_acts_for_a_unit_counts_that_unit_and_sees_no_other(desk: Desk) -> None:
    """A party has no beds."""
    desk.tell(count("icu"), count("theatres"))
    mine = Scope(units=frozenset({"icu"}))
    assert [c.count.unit for c in held(desk, scope=mine)] == ["icu"]
    assert held(desk, scope=Scope(parties=frozenset({"plant-kiln"}))) == []
    for scope in (mine, Scope(parties=frozenset({"plant-kiln"}))):
        caller = Caller(desk.facility, "somebody", Role.OFFICER, scope)
        [outcome] = record_events(desk.store, caller, [count("theatres")], Told(NOON))
        assert "none of those you act for" in outcome.reason


def test_only_who_answers_for_the_facility_counts(desk: Desk) -> None:
    """The figures that others are measured by are not their own to tell."""
    for role in (Role.WARD, Role.HANDLER, Role.PLANT):
        [outcome] = desk.send(count(), role=role)
        assert outcome.outcome == "refused"
    desk.tell(count(), role=Role.ADMINISTRATOR)


def test_a_list_of_days_is_imported_line_by_line(desk: Desk, tmp_path: Path) -> None:
    """A wrong line is sent back with its reason, the others are recorded, and none twice."""
    (tmp_path / "map.toml").write_text(MAPPING, encoding="utf-8")
    lines = [
        "Date;Ward;Beds;Operations",
        "29.06.2026;ICU;17,5;",
        "30.06.2026;ICU;18;",
        "30.06.2026;Theatre;;14",
        "31.06.2026;ICU;18;",
        "30.06.2026;Theatre;;",
        "30.06.2026;Kitchen;3;",
    ]
    listed = tmp_path / "beds.csv"
    listed.write_text("\n".join(lines), encoding="utf-8")

    def bring_in() -> Any:
        return import_file(
            desk.store, desk.caller(), listed, read_mapping(tmp_path / "map.toml"),
            NOON + timedelta(hours=1), rejects=tmp_path / "rejects.csv",
        )  # fmt: skip

    report = bring_in()
    assert (report.recorded, report.refused) == (3, 3)
    reasons = {o.line: o.reason for o in report.outcomes() if o.outcome == "refused"}
    assert "31.06.2026" in reasons[5]
    assert "occupied_bed_days, procedures or both" in reasons[6]
    assert "Kitchen" in reasons[7]
    found = held(desk, date(2026, 6, 29), date(2026, 6, 30))
    assert [(c.count.unit, c.count.occupied_bed_days, c.count.procedures) for c in found] == [
        ("icu", 17.5, None), ("icu", 18, None), ("theatres", None, 14),
    ]  # fmt: skip
    assert found[0].count.occurred_at.isoformat() == "2026-06-29T18:30:00+00:00"
    assert bring_in().repeated == 3
