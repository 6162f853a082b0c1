"""One thread answers short questions for the whole process: what waits is read in one transaction.

A thread and a transaction for each would cost many times what the answer does. What is asked sees
all that was on record when it was asked.
"""

import threading
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Any, TypeVar

from sqlalchemy import Connection

from service.store.faults import BusyError, or_said

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class _Asked:
    question: Callable[[Connection], Any]
    answer: "Future[Any]" = field(default_factory=Future)

    def put(self, connection: Connection) -> bool:
        """Answer it; say whether the transaction is fit for the next."""
        try:
            with or_said():
                found = self.question(connection)
        except Exception as error:
            self.answer.set_exception(error)
            return False
        self.answer.set_result(found)
        return True


class Reader:
    """Takes questions from any thread; its own thread starts with the first."""

    def __init__(self, reading: Callable[[], AbstractContextManager[Connection]]) -> None:
        self._reading = reading
        self._waiting: deque[_Asked] = deque()
        self._turn = threading.Condition()
        self._thread: threading.Thread | None = None
        self._closed = False

    def ask(self, questions: Sequence[Callable[[Connection], T]]) -> "list[Future[T]]":
        """Have questions asked that take a moment at most; they only read.

        Raises:
            BusyError: the reader is closed.
        """
        asked = [_Asked(question) for question in questions]
        with self._turn:
            if self._closed:
                raise BusyError("the service is stopping: send the same again in a moment")
            if self._thread is None:
                thread = threading.Thread(target=self._run, name="reader", daemon=True)
                thread.start()
                self._thread = thread
            self._waiting.extend(asked)
            self._turn.notify()
        return [each.answer for each in asked]

    def close(self) -> None:
        """Answer what waits, and end."""
        with self._turn:
            self._closed = True
            self._turn.notify()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while waiting := self._next():
            while waiting:
                self._serve(waiting)

    def _next(self) -> deque[_Asked]:
        with self._turn:
            self._turn.wait_for(lambda: self._waiting or self._closed)
            taken, self._waiting = self._waiting, deque()
        return deque(a for a in taken if a.answer.set_running_or_notify_cancel())

    def _serve(self, waiting: deque[_Asked]) -> None:
        """Answer in one transaction as far as it holds: what fails spoils it for those behind."""
        try:
            with self._reading() as connection:
                while waiting and waiting.popleft().put(connection):
                    pass
        except Exception as error:  # there was no transaction to be had, or it could not be ended
            while waiting:
                waiting.popleft().answer.set_exception(error)
