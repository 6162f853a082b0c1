"""Devices that send events to a service that may die under them, and remember what it told them."""

import json
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from random import Random
from typing import Any

from service.custody.identifiers import new_id

TIMEOUT_S = 60
DAY = "2024-07-01"
"""Past on any clock, so that no event lies in the future."""
Event = dict[str, Any]


@dataclass(frozen=True)
class Answer:
    """What came back; the body is read as JSON."""

    status: int
    headers: dict[str, str]
    body: Any


class Line:
    """A connection to the service that is kept open from request to request."""

    def __init__(self, port: int, token: str) -> None:
        self._http = HTTPConnection("127.0.0.1", port, timeout=TIMEOUT_S)
        self._headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}

    def send(self, method: str, address: str, body: Any = None) -> Answer:
        """Send a request and wait for its answer.

        Raises:
            OSError, HTTPException: the service went away.
        """
        content = None if body is None else json.dumps(body)
        try:
            self._http.request(method, address, content, self._headers)
            got = self._http.getresponse()
            held = got.read()
        except (OSError, HTTPException):
            self._http.close()  # the next request opens it anew
            raise
        headers = {name.lower(): value for name, value in got.getheaders()}
        return Answer(got.status, headers, json.loads(held) if held else None)

    def __enter__(self) -> "Line":
        return self

    def __exit__(self, *_: object) -> None:
        self._http.close()


def happenings(seed: int) -> Iterator[Event]:
    """What one collector sees, without end: bags sealed, collected, stored, one after another."""
    random = Random(seed)
    while True:
        bag = new_id(random.randrange)
        minute = random.randrange(60)
        steps: list[Event] = [
            {
                "kind": "registered",
                "category": "yellow-c",
                "unit": "icu",
                "container_kind": "bag",
                "weight_g": random.randrange(500, 9_000),
                "scale": "ward-scale-a",
            },
            {"kind": "collected", "from_party": "icu", "to_party": "handlers"},
            {"kind": "stored", "store": "chilled-store"},
        ]
        for hour, said in enumerate(steps, 8):
            yield {
                "id": f"019f1a50-0000-7000-8000-{random.randrange(1 << 48):012x}",
                "containers": [bag],
                "occurred_at": f"{DAY}T{hour:02}:{minute:02}:00Z",
                "actor": f"badge-{seed}",
                **said,
            }


@dataclass(frozen=True)
class Sent:
    """A request of one or more events, and when its answer came, if it did."""

    events: tuple[Event, ...]
    acknowledged_ns: int | None
    status: int = 0


@dataclass
class Collector:
    """A client that sends on and on; a request that was not acknowledged it sends again first.

    Attributes:
        told: The sentences with which the service could not take a request.
        wrong: Answers that no service should give.
    """

    seed: int
    batch_max: int = 3
    sent: list[Sent] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    _next: Iterator[Event] = field(init=False)
    _random: Random = field(init=False)
    _again: tuple[Event, ...] = ()

    def __post_init__(self) -> None:
        self._next = happenings(self.seed)
        self._random = Random(self.seed)

    def work(self, port: int, token: str, over: threading.Event) -> None:
        """Send until told to stop, or until the service is gone."""
        with Line(port, token) as line:
            while not over.is_set():
                if not self.send_one(line):
                    return

    def send_one(self, line: Line) -> bool:
        """Send one request; say whether there was an answer."""
        size = self._random.randrange(1, self.batch_max + 1)
        events = self._again or tuple(next(self._next) for _ in range(size))
        try:
            body = list(events) if len(events) > 1 else events[0]
            answer = line.send("POST", "/v1/events", body)
        except (OSError, HTTPException):
            self._keep(events, None)
            return False
        if answer.status == 200:
            outcomes = [o["outcome"] for o in answer.body]
            if set(outcomes) - {"recorded", "repeated"} or len(outcomes) != len(events):
                self.wrong.append(f"a good event was answered {answer.body}")
            self._keep(events, time.monotonic_ns(), 200)
        else:
            self._keep(events, None, answer.status)
            self.told.append(str(answer.body.get("detail")))
            self.wrong += unclear(answer)
        return True

    def _keep(self, events: tuple[Event, ...], at_ns: int | None, status: int = 0) -> None:
        self.sent.append(Sent(events, at_ns, status))
        self._again = events if at_ns is None else ()

    def acknowledged(self, until_ns: int | None = None) -> list[Event]:
        """The events for which the service took responsibility, up to a moment."""
        return [
            event
            for one in self.sent
            if one.acknowledged_ns is not None and one.acknowledged_ns <= (until_ns or 1 << 62)
            for event in one.events
        ]


def unclear(answer: Answer) -> list[str]:
    """What is wrong with an answer that is no success: it must be a problem and say why."""
    kind = answer.headers.get("content-type", "")
    told = answer.body if isinstance(answer.body, dict) else {}
    if answer.status not in (503, 507):
        return [f"answered {answer.status}, neither 503 nor 507: {told.get('detail')}"]
    if kind != "application/problem+json" or not told.get("detail"):
        return [f"answered {answer.status} as {kind} without a sentence"]
    if answer.status == 503 and "retry-after" not in answer.headers:
        return ["answered 503 without Retry-After"]
    return []


class Load:
    """Many collectors at once, each on a thread and a connection of its own."""

    def __init__(self, collectors: Sequence[Collector], port: int, token: str) -> None:
        self._over = threading.Event()
        self._collectors = collectors
        self._threads = [
            threading.Thread(target=c.work, args=(port, token, self._over)) for c in collectors
        ]
        for thread in self._threads:
            thread.start()

    def until(self, enough: Callable[[], bool], deadline_s: float = TIMEOUT_S) -> None:
        """Wait until enough was done, or nobody sends any more."""
        end = time.monotonic() + deadline_s
        while not enough() and any(t.is_alive() for t in self._threads):
            assert time.monotonic() < end, "too little was done in time"
            time.sleep(0.001)  # between two counts

    def more(self, requests: int, unless: Callable[[], bool] = lambda: False) -> None:
        """Wait until so many more were acknowledged, or something else is so."""
        wanted = self.answered() + requests
        self.until(lambda: self.answered() >= wanted or unless())

    def answered(self) -> int:
        """How many requests were acknowledged so far."""
        return sum(s.acknowledged_ns is not None for c in self._collectors for s in list(c.sent))

    def end(self) -> None:
        """Have everybody stop after the answer that each waits for."""
        self._over.set()
        for thread in self._threads:
            thread.join(TIMEOUT_S)
