"""What left against what arrived, and what was sealed week by week."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from service.duties import balance as duty
from service.duties.balance import Days, PeriodError
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk

WHOLE, LIGHT, LEFT_OUT, TOO_MUCH = ids(4, seed=71)
DAY = Days(date(2026, 7, 1), date(2026, 7, 2))


@pytest.fixture
def sent(desk: Desk) -> Desk:
    """Three bags left; one is 2 kg lighter, one did not come, one came that never left."""
    at = [NOON - timedelta(minutes=minutes) for minutes in (50, 40, 30, 20, 10)]
    three = (WHOLE, LIGHT, LEFT_OUT)
    plant = {"party": "plant-kiln", "consignment": "C-9", "scale": "kiln-scale"}
    way = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "consignment": "C-9"}
    desk.tell(
        *(sealed(bag, at=at[0]) for bag in (*three, TOO_MUCH)),
        event("collected", *three, at=at[1], from_party="icu", to_party="handlers"),
        event("dispatched", *three, at=at[2], seal="S-1", **way),
        event("received", WHOLE, at=at[3], weight_g=3410, **plant),
        event("received", LIGHT, at=at[3], weight_g=1400, **plant),
        event("received", TOO_MUCH, at=at[4], weight_g=3400, complete=True, **plant),
    )
    return desk


def _view(desk: Desk, days: Days = DAY, page: int = 1) -> duty.BalanceView:
    return duty.balance(desk.store, desk.caller(), days, page, NOON + timedelta(hours=1))


def test_what_is_missing_extra_and_unlike_is_told_by_container(sent: Desk) -> None:
    """A scale of class III with e = 10 g and one of class IIII with e = 50 g may err by both.

    3.4 kg are 340 e of the first, 0.5 e = 5 g; 68 e of the second, 1 e = 50 g (OIML R 76-1:2006,
    table 6); in service twice as much: 110 g. Of 1.4 kg, 28 e: 0.5 e = 25 g, 60 g in all.
    """
    [line] = _view(sent).lines
    assert (line.missing, line.extra, line.unlike) == ((LEFT_OUT,), (TOO_MUCH,), (LIGHT,))
    figures = line.figures
    assert (figures.sent, figures.received, figures.missing, line.under_way) == (3, 2, 1, 0)
    assert (figures.sent_g, figures.received_g) == (10_200, 4_810)
    assert figures.tolerance_g == 110 + 60
    assert figures.unexplained_g == -(1_990 - 170)


def test_the_totals_are_of_all_that_left_in_the_period(sent: Desk) -> None:
    """And of nothing else."""
    totals = _view(sent).totals
    assert (totals.consignments, totals.containers, totals.received) == (1, 3, 2)
    assert (totals.sent_g, totals.received_g) == (10_200, 4_810)
    assert (totals.missing, totals.differences) == (1, 1)
    before = _view(sent, Days(date(2026, 6, 1), date(2026, 6, 30)))
    assert (before.totals.consignments, before.lines) == (0, [])
    assert before.totals.sent_g == 0


def test_a_receipt_that_was_put_right_counts_as_it_holds_now(sent: Desk) -> None:
    """A bag whose receipt named the wrong consignment is extra there no more."""
    [bag] = ids(1, seed=74)
    wrong = event(
        "received", bag, at=NOON - timedelta(minutes=10), party="plant-kiln", consignment="C-9"
    )
    sent.tell(wrong)
    assert bag in _view(sent).lines[0].extra
    right = {**wrong, "consignment": "C-10"}
    sent.tell(event("amended", supersedes=wrong["id"], reason="wrong note", corrected=right))
    assert _view(sent).lines[0].extra == (TOO_MUCH,)


def test_pages_hold_each_consignment_once(desk: Desk) -> None:
    """The latest first."""
    bags = ids(duty.ROWS + 3, seed=72)
    way = {"carrier": "carrier-quillow", "consignee": "plant-kiln"}
    for number, bag in enumerate(bags):
        at = NOON - timedelta(minutes=100 - number)
        desk.tell(
            sealed(bag, at=at - timedelta(hours=1)),
            event("dispatched", bag, at=at, consignment=f"C-{number}", **way),
        )
    pages = [_view(desk, page=number) for number in (1, 2)]
    shown = [line.figures.left_at for page in pages for line in page.lines]
    assert len(shown) == len(bags)
    assert all(one > other for one, other in pairwise(shown))
    assert pages[0].pages == 2


def test_weeks_run_from_monday_to_sunday_in_the_facilitys_own_days(desk: Desk) -> None:
    """1 July 2026 is a Wednesday; what is sealed after midnight there is of the next day."""
    [sunday, monday] = ids(2, seed=73)
    zone = desk.store.rules(desk.facility).site.zone
    midnight = NOON.astimezone(zone).replace(month=6, day=29, hour=0, minute=0)
    desk.tell(
        sealed(sunday, at=midnight - timedelta(minutes=1), weight_g=1000),
        sealed(monday, at=midnight, weight_g=2000),
    )
    weeks = _view(desk, Days(date(2026, 6, 24), date(2026, 7, 1))).weeks
    assert [(w.days.first.day, w.days.last.day) for w in weeks] == [(24, 28), (29, 1)]
    assert [w.by_unit for w in weeks] == [{"icu": (1, 1000)}, {"icu": (1, 2000)}]
    assert [w.by_category for w in weeks] == [{"yellow-c": (1, 1000)}, {"yellow-c": (1, 2000)}]


@pytest.mark.parametrize(
    ("first", "last"),
    [(date(2026, 7, 2), date(2026, 7, 1)), (date(2020, 1, 1), date(2026, 1, 1))],
)
def test_a_period_that_cannot_be_shown_is_refused(first: date, last: date) -> None:
    """It ends before it begins, or is too long."""
    with pytest.raises(PeriodError):
        Days(first, last)
