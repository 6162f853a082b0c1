"""What the officer's desk shows, and in which order."""

from dataclasses import replace

import pytest

from service.access.caller import Scope
from service.custody.words import Role, Severity
from service.duties import desk as duty
from service.duties.desk import ROWS, URGENCY, Wanted
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk

OVERFULL, GONE, WARM, LATE, TOLD = ids(5, seed=61)


@pytest.fixture
def wrong(desk: Desk) -> Desk:
    """Something of every severity; of two overruns the authority was told of the older."""
    old, older = NOON.replace(month=6, day=20), NOON.replace(month=6, day=10)
    desk.tell(
        sealed(OVERFULL, fill_fraction=0.95),
        sealed(GONE),
        event("lost", GONE),
        sealed(LATE, at=old, unit="dialysis"),
        sealed(TOLD, at=older, unit="dialysis"),
        event("notified", TOLD, authority="the board", about="holding", reason="no plant"),
    )
    return desk


def _shown(desk: Desk, wanted: Wanted = Wanted(), **said: object) -> duty.DeskView:  # noqa: B008
    caller = replace(desk.caller(), **said)  # type: ignore[arg-type]
    return duty.desk(desk.store, caller, wanted, NOON)


def test_the_most_urgent_stands_first(wrong: Desk) -> None:
    """By severity, then what nobody was told of, then what has stood longest."""
    view = _shown(wrong)
    rows = [row.violation for row in view.rows]
    places = [(URGENCY.index(v.severity), v.notified_at is not None, v.opened_at) for v in rows]
    assert places == sorted(places)
    assert rows[0].container == OVERFULL
    overrun = [v.container for v in rows if v.code == "holding.exceeded"]
    assert overrun == [LATE, TOLD]
    assert view.found == len(rows) == sum(view.severities.values()) == sum(view.codes.values())


def test_counts_are_of_all_and_the_list_of_what_is_looked_for(wrong: Desk) -> None:
    """By severity, unit and holder; kinds are counted of the severity that is looked for."""
    everything = _shown(wrong)
    unsafe = _shown(wrong, Wanted(severity=Severity.UNSAFE))
    assert unsafe.severities == everything.severities
    assert {row.violation.severity for row in unsafe.rows} == {Severity.UNSAFE}
    assert sum(unsafe.codes.values()) == unsafe.found == everything.severities[Severity.UNSAFE]
    for wanted in (Wanted(unit="dialysis"), Wanted(party="dialysis")):
        assert {row.violation.container for row in _shown(wrong, wanted).rows} == {LATE, TOLD}


def test_what_was_put_right_or_opens_later_is_not_shown(desk: Desk) -> None:
    """A bag that was found again is lost no more; a limit that lies ahead is not passed."""
    desk.tell(sealed(GONE), event("lost", GONE), event("found", GONE, at=NOON), hours=0.01)
    assert _shown(desk).severities[Severity.LOST] == 0


def test_a_long_list_is_cut_into_pages(desk: Desk) -> None:
    """Each violation stands on one of them; a page too far is the last."""
    desk.tell(*(sealed(bag, fill_fraction=0.99) for bag in ids(ROWS + 7, seed=62)))
    pages = [_shown(desk, Wanted(page=number)) for number in (1, 2)]
    assert [len(page.rows) for page in pages] == [ROWS, 7]
    assert len({row.violation.container for page in pages for row in page.rows}) == ROWS + 7
    assert _shown(desk, Wanted(page=99)).page == 2
    assert _shown(desk, Wanted(page=-1)).page == 1


def test_who_has_a_scope_sees_what_is_in_it(wrong: Desk) -> None:
    """In the counts, too."""
    view = _shown(wrong, role=Role.INSPECTOR, scope=Scope(units=frozenset({"dialysis"})))
    assert {row.violation.container for row in view.rows} == {LATE, TOLD}
    assert view.severities[Severity.UNSAFE] == 0
