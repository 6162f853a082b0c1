"""What the loop that serves asks of threads, and what they have done: much at once, never one each.

``asyncio.wrap_future`` wakes the loop for each answer, and a question by itself wakes a thread for
each; with many requests at a time a good part of a request was that.
"""

import asyncio
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextvars import copy_context
from functools import partial
from typing import Any, Protocol, TypeVar
from weakref import WeakKeyDictionary

T = TypeVar("T")
Question = Callable[..., T]


class Asked(Protocol):
    """Who answers questions, those that come together in one go."""

    def ask(self, questions: Sequence[Question[Any]]) -> "list[Future[Any]]":
        """Have them answered."""
        ...


def asked(of: Asked, question: Question[T]) -> "asyncio.Future[T]":
    """Ask with all that is asked in this turn of the running loop; give what it can wait for."""
    return _desk().ask(of, question)


def answered(future: "Future[T]") -> "asyncio.Future[T]":
    """Give what the running loop can wait for; who waits no more does not end the work."""
    return _desk().expect(future, asyncio.get_running_loop().create_future())


class _Desk:
    """Of one loop: what is to be asked at the end of its turn, and what is done."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._asking: list[tuple[Asked, Question[Any], asyncio.Future[Any]]] = []
        self._done: deque[tuple[asyncio.Future[Any], Future[Any]]] = deque()
        self._called = False

    def ask(self, of: Asked, question: Question[T]) -> "asyncio.Future[T]":
        waiting: asyncio.Future[T] = self._loop.create_future()
        if not self._asking:
            self._loop.call_soon(self._send)
        self._asking.append((of, partial(copy_context().run, question), waiting))
        return waiting

    def _send(self) -> None:
        asking, self._asking = self._asking, []
        for of in {id(of): of for of, _, _ in asking}.values():
            mine = [(question, waiting) for who, question, waiting in asking if who is of]
            try:
                futures = of.ask([question for question, _ in mine])
            except Exception as error:
                for _, waiting in mine:
                    if not waiting.cancelled():
                        waiting.set_exception(error)
                continue
            for future, (_, waiting) in zip(futures, mine, strict=True):
                self.expect(future, waiting)

    def expect(self, future: "Future[T]", waiting: "asyncio.Future[T]") -> "asyncio.Future[T]":
        future.add_done_callback(lambda done: self._put(waiting, done))
        return waiting

    def _put(self, waiting: "asyncio.Future[Any]", done: "Future[Any]") -> None:
        self._done.append((waiting, done))
        if not self._called:
            self._called = True
            self._loop.call_soon_threadsafe(self._tell)

    def _tell(self) -> None:
        self._called = False  # first: what is put from now on is taken below, or calls once more
        while self._done:
            waiting, done = self._done.popleft()
            if waiting.cancelled():
                continue
            error = done.exception()
            if error is None:
                waiting.set_result(done.result())
            else:
                waiting.set_exception(error)


def _desk() -> _Desk:
    loop = asyncio.get_running_loop()
    desk = _DESKS.get(loop)
    if desk is None:
        desk = _DESKS[loop] = _Desk(loop)
    return desk


_DESKS: "WeakKeyDictionary[asyncio.AbstractEventLoop, _Desk]" = WeakKeyDictionary()
