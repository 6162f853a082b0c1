"""Evidence that names no cycle on record is kept, shown, and tied as soon as it can be."""

from datetime import date, timedelta
from itertools import permutations
from typing import Any

import pytest

from service.access.caller import Caller, Scope
from service.custody.words import Role
from service.duties import cycles
from service.duties.balance import Days
from tests.api.client import NOON, event
from tests.duties.desk import Desk

DAYS = Days(date(2026, 7, 1), date(2026, 7, 1))
HOUR = timedelta(hours=1)
KILN = Scope(parties=frozenset({"plant-kiln"}))
TARN = Scope(parties=frozenset({"plant-tarn"}))


def ran(cycle: str, machine: str = "kiln-autoclave-1", hours: int = 2) -> dict[str, Any]:
    """An hour's run that ended some hours before noon."""
    end = NOON - hours * HOUR
    return event(
        "cycle_run", at=end, cycle=cycle, machine=machine, step="autoclave", party="plant-kiln",
        started_at=(end - HOUR).isoformat(),
    )  # fmt: skip


def read(cycle: str) -> dict[str, Any]:
    """An indicator that turned."""
    return event("indicator_read", at=NOON - HOUR, cycle=cycle, turned=True)


def spores(machine: str, cycle: str | None = None) -> dict[str, Any]:
    """A spore test without growth."""
    named = {"cycle": cycle} if cycle else {}
    return event("spore_tested", at=NOON - 2 * HOUR, machine=machine, grew=False, **named)


def loose(desk: Desk, scope: Scope | None = None, name: str = "reader") -> list[str]:
    """Why evidence belongs nowhere, as somebody sees it."""
    caller = Caller(desk.facility, name, Role.PLANT if scope else Role.OFFICER, scope or Scope())
    return [one.because for one in cycles.untied_evidence(desk.store, caller, DAYS)]


@pytest.mark.parametrize(
    ("evidence", "why"),
    [
        (read("K-7"), "no run of cycle K-7 is on record here"),
        (
            event("load_observed", at=NOON - HOUR, cycle="K-7", wet=False),
            "no run of cycle K-7 is on record here",
        ),
        (
            event("trace_attached", at=NOON - HOUR, cycle="K-7", sha256="ab" * 32,
                  media_type="text/csv", size_bytes=9),
            "no run of cycle K-7 is on record here",
        ),
        (spores("kiln-autoclave-1", "K-7"), "no run of cycle K-7 is on record here"),
        (spores("kiln-autoclave-1", "K-8"), "cycle K-8 ran on tarn-autoclave-1, not on"),
        (spores("kiln-autoclave-l"), "no machine 'kiln-autoclave-l' is in the register"),
    ],
)  # fmt: skip
def test_what_names_nothing_known_is_recorded_and_shown(
    desk: Desk, evidence: dict[str, Any], why: str
) -> None:
    """Nothing is sent back: it may be first to arrive; who looks at the cycles sees it."""
    desk.tell(ran("K-8", machine="tarn-autoclave-1"))
    desk.tell(evidence)
    [said] = loose(desk)
    assert said.startswith(why)


def test_in_any_order_of_arrival_it_is_tied_when_the_run_is_there(desk: Desk) -> None:
    """Run, indicator and spore test, in all six orders: nothing is loose, the cycle has both."""
    for number, order in enumerate(permutations(range(3))):
        name = f"K-{number}"
        told = [ran(name), read(name), spores("kiln-autoclave-1", name)]
        for place, which in enumerate(order):
            desk.tell(told[which])
            expected = 0 if 0 in order[: place + 1] else place + 1
            assert len(loose(desk)) == expected, (order, place)
        held = cycles.cycle(desk.store, desk.caller(), name)
        assert len(held.cycle.indicators) == 1


def test_another_facilitys_cycle_is_unknown_here_and_unchanged_there(desk: Desk) -> None:
    """A number is of its own facility: the other's cycle gets no indicator and tells nobody."""
    other = Desk.at(desk.store)
    other.tell(ran("K-9"))
    desk.tell(read("K-9"))
    assert loose(desk) == ["no run of cycle K-9 is on record here"]
    assert loose(other) == []
    assert cycles.cycle(other.store, other.caller(), "K-9").cycle.indicators == ()


def test_an_amendment_puts_a_wrong_number_right(desk: Desk) -> None:
    """Told of K-70, meant K-7; struck out or corrected, it is loose no more."""
    slip, again = read("K-70"), read("K-71")
    desk.tell(ran("K-7"), slip, again)
    assert len(loose(desk)) == 2
    right = slip | {"cycle": "K-7"}
    desk.tell(
        event("amended", supersedes=slip["id"], reason="a slip", corrected=right),
        event("amended", supersedes=again["id"], reason="told twice"),
    )
    assert loose(desk) == []
    assert len(cycles.cycle(desk.store, desk.caller(), "K-7").cycle.indicators) == 1


def test_a_plant_sees_what_is_of_its_machines_and_what_it_sent(desk: Desk) -> None:
    """Of others it sees nothing, nor that there is any."""
    desk.tell(spores("kiln-autoclave-1", "K-7"), read("K-5"))
    assert len(loose(desk)) == 2
    assert loose(desk, KILN) == ["no run of cycle K-7 is on record here"]
    assert loose(desk, TARN) == []
    assert loose(desk, TARN, name="officer-device") == loose(desk)
