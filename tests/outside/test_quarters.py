"""Quarters and the returns due after them, against published dates."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from service.custody.regime import RetentionRule, ReturnRule
from service.manifests.quarter import Quarter, keep_until
from service.regimes.load import assemble
from tests.house import house, row

LONDON = ZoneInfo("Europe/London")


def consignee_return(**said: Any) -> ReturnRule:
    """The consignee's quarterly return of SI 2005/894, regulation 53."""
    usual = {"id": "consignee", "title": "Consignee return", "period": "quarter"}
    return ReturnRule.model_validate(
        row("reg. 53(4)", **usual, due_months_after=1, to="agency") | said
    )


@pytest.mark.parametrize(
    ("quarter", "due_on"),
    [
        ("2026-Q1", date(2026, 4, 30)),
        ("2026-Q2", date(2026, 7, 31)),
        ("2026-Q3", date(2026, 10, 31)),
        ("2025-Q4", date(2026, 1, 31)),
    ],
)
def test_the_consignee_return_is_due_at_the_end_of_the_next_month(
    quarter: str, due_on: date
) -> None:
    """Hazardous Waste (England and Wales) Regulations 2005, SI 2005/894, reg. 53(4), read."""
    regime = house(returns=[consignee_return()])
    assert [r.due_on for r in Quarter.parse(quarter).due_on(regime)] == [due_on]


@pytest.mark.parametrize(
    ("moment", "due_on"),
    [
        ("2025-11-15 12:00", date(2026, 1, 31)),
        ("2026-03-31 23:59", date(2026, 4, 30)),
        ("2026-04-01 00:00", date(2026, 7, 31)),
    ],
)
def test_a_consignment_is_returned_with_the_quarter_of_its_local_day(
    moment: str, due_on: date
) -> None:
    """Worked on SI 2005/894 reg. 53(4): the last minute of March still belongs to March."""
    local = datetime.fromisoformat(moment).replace(tzinfo=LONDON)
    quarter = Quarter.of(local, LONDON)
    assert quarter.due_on(house(returns=[consignee_return()]))[0].due_on == due_on


def test_the_annual_report_of_2025_is_due_on_30_june_2026() -> None:
    """India, BMWM Rules 2016, rule 13, Form IV (from memory): after the year's last quarter."""
    due = {r.rule.id: r for r in Quarter.parse("2025-Q4").due_on(assemble("india-2016"))}
    assert (due["form-iv"].period, due["form-iv"].due_on) == ("2025", date(2026, 6, 30))


def test_the_annual_report_is_not_due_after_other_quarters() -> None:
    """India, BMWM Rules 2016, rule 13: the year ends with its fourth quarter only."""
    for number in (1, 2, 3):
        due = Quarter(2025, number).due_on(assemble("india-2016"))
        assert "form-iv" not in {r.rule.id for r in due}


def test_a_record_of_10_january_2026_is_kept_to_10_january_2031() -> None:
    """India, BMWM Rules 2016, rule 14 (from memory): five years."""
    (rule,) = assemble("india-2016").retention
    assert keep_until(date(2026, 1, 10), rule) == date(2031, 1, 10)


def test_three_years_from_a_leap_day_end_with_february() -> None:
    """SI 2005/894 reg. 49 keeps a producer's register three years; by plain calendar reckoning."""
    rule = RetentionRule.model_validate(row("reg. 49", who="producer", years=3))
    assert keep_until(date(2024, 2, 29), rule) == date(2027, 2, 28)
