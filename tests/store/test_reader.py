"""One thread answers: what waits is read in one transaction, and each gets its own answer."""

import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import Connection, text

from service.store.faults import BusyError
from service.store.reader import Reader
from service.store.store import Store
from tests.trade import bag

SOON_S = 10


class Readings:
    """Transactions that are counted; the first is held until it is let go."""

    def __init__(self) -> None:
        self.begun, self.free = threading.Event(), threading.Event()
        self.count = 0
        self.fault: Exception | None = None

    @contextmanager
    def __call__(self) -> Iterator[Any]:
        """Open one."""
        self.count += 1
        self.begun.set()
        assert self.free.wait(SOON_S)
        if self.fault:
            raise self.fault
        yield self.count


def ask(of: Reader | Store, question: Any) -> "Future[Any]":
    """Ask one alone."""
    [answer] = of.ask([question])
    return answer


def test_what_is_asked_while_others_are_answered_goes_together() -> None:
    """Twenty questions during the first: two transactions, not twenty-one."""
    readings = Readings()
    reader = Reader(readings)
    first = ask(reader, lambda number: number)
    assert readings.begun.wait(SOON_S)
    rest = [ask(reader, lambda number, n=n: (number, n)) for n in range(20)]  # type: ignore[misc]
    readings.free.set()
    assert first.result(SOON_S) == 1
    assert [future.result(SOON_S) for future in rest] == [(2, n) for n in range(20)]
    reader.close()


def test_a_question_that_fails_is_told_and_those_behind_it_are_asked_anew() -> None:
    """A server's transaction is spoilt by a fault; the others' questions are sound."""
    readings = Readings()
    reader = Reader(readings)

    def bad(_: Connection) -> int:
        raise ValueError("no such thing")

    before = ask(reader, lambda number: number)
    assert readings.begun.wait(SOON_S)
    fails, after = ask(reader, bad), ask(reader, lambda number: number)
    readings.free.set()
    assert before.result(SOON_S) == 1
    with pytest.raises(ValueError, match="no such thing"):
        fails.result(SOON_S)
    assert after.result(SOON_S) == 3
    reader.close()


def test_where_the_database_does_not_answer_all_are_told_and_the_next_are_served() -> None:
    """The thread lives on."""
    readings = Readings()
    readings.free.set()
    readings.fault = BusyError("the database does not answer now")
    reader = Reader(readings)
    with pytest.raises(BusyError):
        ask(reader, lambda number: number).result(SOON_S)
    readings.fault = None
    assert ask(reader, lambda _: "served").result(SOON_S) == "served"
    reader.close()


def test_who_is_gone_before_the_turn_is_not_asked_for() -> None:
    """A sender that hung up while others were answered."""
    readings, asked = Readings(), []
    reader = Reader(readings)
    first = ask(reader, lambda number: number)
    assert readings.begun.wait(SOON_S)
    gone, stays = ask(reader, asked.append), ask(reader, lambda number: number)
    assert gone.cancel()
    readings.free.set()
    assert (first.result(SOON_S), stays.result(SOON_S)) == (1, 2)
    assert asked == []
    reader.close()


def test_what_waits_at_the_end_is_answered_and_who_comes_later_is_told() -> None:
    """Nobody waits for ever."""
    readings = Readings()
    reader = Reader(readings)
    waiting = [ask(reader, lambda number: number) for _ in range(3)]
    readings.free.set()
    reader.close()
    assert all(future.result(0) for future in waiting)
    with pytest.raises(BusyError, match="stopping"):
        ask(reader, lambda number: number)


def test_a_question_sees_what_was_recorded_before_it_was_asked(store: Store, facility: str) -> None:
    """On both stores, however many questions are under way."""
    [entry] = bag("yellow-c").sealed("2026-07-01 08:00").entries
    store.append(facility, [entry])
    asked = text("SELECT count(*) FROM event WHERE facility = :facility")
    counts = [
        ask(store, lambda c: c.execute(asked, {"facility": facility}).scalar()) for _ in range(5)
    ]
    assert [future.result(SOON_S) for future in counts] == [1] * 5


def test_a_fault_of_one_question_spoils_no_other_on_either_store(
    store: Store, facility: str
) -> None:
    """PostgreSQL answers nothing more in a transaction in which something failed."""
    bad = [ask(store, lambda c: c.exec_driver_sql("SELECT nothing FROM nowhere")) for _ in range(3)]
    good = [ask(store, lambda c: c.exec_driver_sql("SELECT 7").scalar()) for _ in range(3)]
    assert [future.result(SOON_S) for future in good] == [7] * 3
    assert all(future.exception(SOON_S) for future in bad)
