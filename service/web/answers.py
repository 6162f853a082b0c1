"""What threads have done, told to the loop that serves: what is done together is told together.

``asyncio.wrap_future`` wakes the loop for each one; with many requests at a time a good part of a
request was that.
"""

import asyncio
from collections import deque
from concurrent.futures import Future
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

T = TypeVar("T")


def answered(future: "Future[T]") -> "asyncio.Future[T]":
    """Give what the running loop can wait for; who waits no more does not end the work."""
    loop = asyncio.get_running_loop()
    desk = _DESKS.get(loop)
    if desk is None:
        desk = _DESKS[loop] = _Desk(loop)
    return desk.expect(future)


class _Desk:
    """Of one loop: what is done, until the loop has taken it."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._call = loop.call_soon_threadsafe
        self._expected = loop.create_future
        self._done: deque[tuple[asyncio.Future[Any], Future[Any]]] = deque()
        self._called = False

    def expect(self, future: "Future[T]") -> "asyncio.Future[T]":
        waiting: asyncio.Future[T] = self._expected()
        future.add_done_callback(lambda done: self._put(waiting, done))
        return waiting

    def _put(self, waiting: "asyncio.Future[Any]", done: "Future[Any]") -> None:
        self._done.append((waiting, done))
        if not self._called:
            self._called = True
            self._call(self._tell)

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


_DESKS: "WeakKeyDictionary[asyncio.AbstractEventLoop, _Desk]" = WeakKeyDictionary()
