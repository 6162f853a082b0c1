"""Clients that go away in the middle of a request, or before its answer, beside others at work."""

import json
import socket
import struct
import time
from collections.abc import Callable
from itertools import islice
from pathlib import Path
from random import Random

from tests.faults.clients import Collector, Event, Line, Load, Sent, happenings
from tests.faults.holding import Tally, faults_of
from tests.faults.world import Blank, World

OTHERS = 16
EVENTS = 5
LATEST_S = 0.15
_AT_ONCE = struct.pack("ii", 1, 0)
"""SO_LINGER for a reset instead of a farewell."""


def hang_ups(
    blank: Blank, folder: Path, seed: int, times: int, told: Callable[[], None] = lambda: None
) -> Tally:
    """Hang up ``times`` times while others send; what was sent is on record whole or not at all.

    ``notes["whole"]`` says how many of the requests that were cut off were recorded all the same.
    """
    random = Random(seed)
    tally = Tally("a client hangs up beside 16 others")
    others = [Collector(5_000 + n) for n in range(OTHERS)]
    fickle = Collector(seed)
    source = happenings(seed)
    with World.copy_of(blank, folder) as world:
        world.start()
        load = Load(others, world.port, world.token)
        for _ in range(times):
            events = tuple(islice(source, EVENTS))
            hang_up(world, events, random)
            fickle.sent.append(Sent(events, None))
            tally.tried += 1
            told()
        enough = load.answered() + OTHERS
        load.until(lambda: load.answered() >= enough)
        load.end()
        entries = world.entries()
        tally.wrong += _again(world, [one.events for one in fickle.sent])
    tally.wrong += faults_of(entries, [*others, fickle])
    tally.wrong += (w for c in others for w in c.wrong)
    tally.wrong += ["another's connection broke"] * sum(
        s.acknowledged_ns is None for c in others for s in c.sent
    )
    tally.acknowledged = sum(len(c.acknowledged()) for c in others)
    on_record = {event["id"] for _, event in entries}
    tally.notes["whole"] = sum(one.events[0]["id"] in on_record for one in fickle.sent)
    return tally


def hang_up(world: World, events: tuple[Event, ...], random: Random) -> None:
    """Send a request up to some byte, or all of it, and go without waiting for the answer."""
    body = json.dumps(events).encode()
    head = (
        f"POST /v1/events HTTP/1.1\r\nHost: fault\r\nAuthorization: Bearer {world.token}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    ).encode()
    whole = head + body
    sent = whole if random.random() < 0.6 else whole[: random.randrange(len(whole))]
    with socket.create_connection(("127.0.0.1", world.port)) as line:
        line.sendall(sent)
        time.sleep(random.choice((0, random.random() * LATEST_S)))  # the fault's moment
        if random.random() < 0.5:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _AT_ONCE)


def _again(world: World, requests: list[tuple[Event, ...]]) -> list[str]:
    """Whoever hung up sends the same again, and is told that it is on record."""
    with Line(world.port, world.token) as line:
        answers = [line.send("POST", "/v1/events", list(events)) for events in requests]
    return [
        f"what was sent again was answered {a.status} {a.body}"
        for a in answers
        if a.status != 200 or len({o["outcome"] for o in a.body}) != 1
    ]
