"""What threads have done is told to the loop: each its own, in one call, and nobody is held up."""

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextvars import ContextVar
from threading import Thread
from typing import Any

import pytest

from service.store.faults import BusyError
from service.web.answers import answered, asked

SAID: ContextVar[str] = ContextVar("said", default="nothing")


class Readers:
    """Answers by a thread, and notes how much was asked in one go."""

    def __init__(self, fault: Exception | None = None) -> None:
        self.sizes: list[int] = []
        self._fault = fault

    def ask(self, questions: Sequence[Callable[..., Any]]) -> "list[Future[Any]]":
        """Answer all."""
        self.sizes.append(len(questions))
        if self._fault:
            raise self._fault
        futures: list[Future[Any]] = [Future() for _ in questions]

        def answer() -> None:
            for question, future in zip(questions, futures, strict=True):
                future.set_result(question("a connection"))

        by_thread(answer)
        return futures


def by_thread(work: Callable[[], None]) -> None:
    """Have it done by another thread, and wait for its end."""
    thread = Thread(target=work)
    thread.start()
    thread.join()


def test_each_gets_its_own_answer_and_the_loop_is_called_once() -> None:
    """A commit answers many: one call wakes the loop for all of them."""
    calls: list[object] = []

    async def run() -> list[int]:
        loop = asyncio.get_running_loop()
        call = loop.call_soon_threadsafe
        loop.call_soon_threadsafe = lambda *a, **k: (calls.append(a), call(*a, **k))[1]  # type: ignore[method-assign,assign]
        futures: list[Future[int]] = [Future() for _ in range(50)]
        waiting = [answered(future) for future in futures]
        by_thread(lambda: [future.set_result(n) for n, future in enumerate(futures)])  # type: ignore[func-returns-value]
        found = await asyncio.gather(*waiting)
        late: Future[int] = Future()
        waits = answered(late)
        by_thread(lambda: late.set_result(50))
        return [*found, await waits]

    assert asyncio.run(run()) == list(range(51))
    assert len(calls) == 2


def test_a_fault_is_told_to_whose_it_is_and_what_is_done_already_is_answered() -> None:
    """Faults cross as they are."""

    async def run() -> None:
        bad: Future[int] = Future()
        good: Future[int] = Future()
        good.set_result(1)
        waiting = answered(bad), answered(good)
        by_thread(lambda: bad.set_exception(KeyError("gone")))
        with pytest.raises(KeyError, match="gone"):
            await waiting[0]
        assert await waiting[1] == 1

    asyncio.run(run())


def test_who_waits_no_more_ends_nothing_and_holds_up_nobody() -> None:
    """A client that hangs up: the work goes on, and the others get their answers."""

    async def run() -> None:
        gone: Future[int] = Future()
        stays: Future[int] = Future()
        waits, other = answered(gone), answered(stays)
        waits.cancel()
        assert not gone.cancelled()

        def done() -> None:
            gone.set_result(1)
            stays.set_result(2)

        by_thread(done)
        assert await other == 2

    asyncio.run(run())


def test_what_is_asked_in_one_turn_goes_together_each_in_its_own_context() -> None:
    """Thirty requests that came together: one handing over, and what each has said of itself."""
    readers, others = Readers(), Readers()

    async def one(n: int) -> tuple[int, str]:
        SAID.set(f"request {n}")
        return await asked(readers, lambda _: (n, SAID.get()))

    async def run() -> list[tuple[int, str]]:
        found = await asyncio.gather(*(one(n) for n in range(30)))
        assert await asked(others, lambda held: held) == "a connection"
        return found

    assert asyncio.run(run()) == [(n, f"request {n}") for n in range(30)]
    assert (readers.sizes, others.sizes) == ([30], [1])


def test_where_nobody_answers_any_more_all_who_ask_are_told() -> None:
    """The service is stopping."""
    closed = Readers(BusyError("stopping"))

    async def run() -> list[object]:
        told = [asked(closed, lambda _: 1) for _ in range(3)]
        return await asyncio.gather(*told, return_exceptions=True)

    assert [type(each) for each in asyncio.run(run())] == [BusyError] * 3
