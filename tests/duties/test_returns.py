"""Returns: due when the text says, filled from the record, open where the record says nothing."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import openpyxl
import pytest

from service.access.caller import Caller, Scope
from service.custody.words import Role
from service.duties import returns
from service.duties.access import NotAllowedError
from service.duties.lookup import NotFoundError
from service.manifests.quarter import QuarterError
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk


def test_form_iv_is_due_on_30_june_for_the_year_before(desk: Desk) -> None:
    """BMW Rules 2016, rule 13 (from memory): by 30 June, for January to December before."""
    found = {d.rule.id: d for d in returns.due(desk.store, desk.caller(), NOON)}
    yearly = found["form-iv"]
    assert (yearly.period, yearly.due_on, yearly.days_left) == ("2025", date(2026, 6, 30), -1)
    assert (found["monthly-record"].period, found["monthly-record"].due_on) == ("2026-06", None)
    assert "form-i" not in found
    january = datetime(2026, 1, 1, tzinfo=UTC)
    early = {d.rule.id: d for d in returns.due(desk.store, desk.caller(), january)}
    assert early["form-iv"].days_left == 180
    october = {d.rule.id for d in returns.due(desk.store, desk.caller(), NOON.replace(month=10))}
    assert "form-iv" not in october


def test_form_i_is_a_matter_of_hours(desk: Desk) -> None:
    """BMW Rules 2016, rule 15 (from memory): in writing within 24 h."""
    [report] = returns.at_once(desk.store, desk.caller(), NOON)
    assert (report.id, report.due_hours) == ("form-i", 24)


def test_a_return_is_filled_from_the_record_and_open_elsewhere(desk: Desk) -> None:
    """Sums by colour are those of what was sealed; beds are in no record, and said to be so."""
    one, two, three = ids(3, seed=81)
    desk.tell(
        sealed(one, weight_g=3_000),
        sealed(two, weight_g=1_500, category="red"),
        sealed(three, weight_g=None),
        event("spilled", one, place="icu", people_exposed=2, action_taken="closed off"),
    )
    filled = returns.fill(desk.store, desk.caller(), "form-iv", "2026")
    fields = {f.name: f.said for f in filled.fields}
    assert [(s.of, s.value) for s in fields["Waste generated, kg per annum, by colour"] or ()] == [
        ("red", "1.500 kg"), ("yellow", "3.000 kg"),
    ]  # fmt: skip
    by_category = fields["Waste generated, kg per annum, by category"] or ()
    assert "3.000 kg in 2 containers, and 1 not weighed" in {s.value for s in by_category}
    assert fields["Type of facility and number of beds"] is None
    assert fields["People affected by accidents"] == (
        returns.Said("1 spills and injuries on record", "2"),
    )
    assert (filled.due_on, filled.verified) == (date(2027, 6, 30), "memory")
    empty = returns.fill(desk.store, desk.caller(), "form-iv", "2024")
    assert {f.name: f.said for f in empty.fields}["Accidents in the year"] == ()


def test_the_workbook_says_what_the_record_does_not_hold(desk: Desk) -> None:
    """Cell by cell, and the same again in the same bytes."""
    written = returns.paper(desk.store, desk.caller(), "form-iv", "2026", NOON)
    assert written == returns.paper(desk.store, desk.caller(), "form-iv", "2026", NOON)
    rows = list(openpyxl.load_workbook(BytesIO(written)).active.iter_rows(values_only=True))
    told = {row[0]: row[2] for row in rows}
    assert told["GPS coordinates"] == "not in the record"
    assert told["Accidents in the year"] == "none on record"
    assert rows[0][:2] == ("Form IV, annual report", "2026")


@pytest.mark.parametrize("period", ["2026-Q1", "2026-13", "next", "20266", "0000"])
def test_a_period_that_is_none_is_sent_back(desk: Desk, period: str) -> None:
    """With how it is written."""
    with pytest.raises(QuarterError):
        returns.fill(desk.store, desk.caller(), "form-iv", period)


def test_what_is_no_return_or_not_theirs_is_refused(desk: Desk) -> None:
    """A return is the facility's word: who acts for a part of it makes out none."""
    with pytest.raises(NotFoundError, match="form-iv"):
        returns.fill(desk.store, desk.caller(), "form-x", "2026")
    part = Caller(desk.facility, "part", Role.OFFICER, Scope(units=frozenset({"icu"})))
    with pytest.raises(NotAllowedError):
        returns.fill(desk.store, part, "form-iv", "2026")
    assert returns.due(desk.store, part, NOON + timedelta(days=1))
