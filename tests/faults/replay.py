"""The same requests from many senders at once, in any order: each event is recorded once."""

import threading
import time
from collections import defaultdict
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any

from tests.faults.clients import Answer, Event, Line, happenings, unclear
from tests.faults.holding import Tally
from tests.faults.world import Blank, World

COPIES = 16
TRIES = 50


def replays(blank: Blank, folder: Path, seed: int, ids: int) -> Tally:
    """Send ``ids`` events from 16 senders each, half of them in the same order."""
    tally = Tally(f"{COPIES} concurrent copies of an event")
    events = [e for e in islice(happenings(seed), 3 * ids) if e["kind"] == "registered"]
    answers: dict[str, list[Any]] = defaultdict(list)
    with World.copy_of(blank, folder) as world:
        world.start()

        def send(number: int) -> None:
            order = list(events)
            if number % 2:
                Random(seed + number).shuffle(order)
            with Line(world.port, world.token) as line:
                for event in order:
                    answers[event["id"]].append(_until_answered(line, event, tally.wrong))

        threads = [threading.Thread(target=send, args=(n,)) for n in range(COPIES)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        rows = [event["id"] for _, event in world.entries()]
    tally.tried = len(events)
    for event in events:
        tally.wrong += _faults(event, answers[event["id"]], rows.count(event["id"]))
    return tally


def _until_answered(line: Line, event: Event, wrong: list[str]) -> Any:
    """Send again as long as the service asks for it; give the outcome."""
    for _ in range(TRIES):
        answer = line.send("POST", "/v1/events", event)
        if answer.status == 200:
            return answer.body[0]
        wrong += unclear(answer)
        wait_as_told(answer)
    return {"outcome": "never taken"}


def wait_as_told(answer: Answer) -> None:
    """Wait as long as the answer says, at most a tenth of a second here."""
    time.sleep(min(float(answer.headers.get("retry-after", 0)), 0.1))


def _faults(event: Event, outcomes: list[Any], rows: int) -> list[str]:
    wrong = []
    told = sorted(o["outcome"] for o in outcomes)
    if told != ["recorded"] + ["repeated"] * (COPIES - 1):
        wrong.append(f"{event['id']} was answered {told}")
    contents = [{k: v for k, v in o.items() if k != "outcome"} for o in outcomes]
    if any(c != contents[0] for c in contents):
        flags = {", ".join(v["code"] for v in o.get("violations", [])) for o in outcomes}
        wrong.append(f"{event['id']} was answered differently; flagged: {sorted(flags)}")
    if rows != 1:
        wrong.append(f"{event['id']} has {rows} rows")
    return wrong
