"""Batches of 100 events through the append duty beside bare inserts; then on a record that grows.

The events are the invented hospital's own: sealed, carried, weighed, treated, with planted faults.
"""

import json
import sqlite3
from collections.abc import Iterator
from functools import partial
from itertools import count
from pathlib import Path

from scenario.quarter import Quarter, simulate
from service.access.caller import Caller
from service.custody.words import Role
from service.duties.record import Told as When
from service.duties.record import record_events
from service.store.store import Store
from tests.benchmarks.frame import Curve, Rounds, Row, Size, Told, at_least, rate, taken_s
from tests.benchmarks.serving import room

SEED, BATCH = 20_261, 100
PER_DAY = {"tiny": 1, "quick": 4, "full": 40}
EVENTS = {"tiny": 200, "quick": 2_000, "full": 4_000}
GROWTH = {"tiny": (), "quick": (1, 2), "full": (1, 3, 10)}
STEP = {"tiny": 0, "quick": 800, "full": 2_000}
Batches = list[tuple[When, list[dict[str, object]]]]


def measure(size: Size, rounds: int) -> Told:
    """Compare, then grow."""
    quarter = simulate(SEED, containers_per_day=PER_DAY[size])
    with room() as folder:
        yield from _compared(folder, quarter, EVENTS[size], rounds)
    if GROWTH[size]:
        with room() as folder:
            yield _grown(folder, quarter, size)


def batches(
    quarter: Quarter, most: int | None = None
) -> Iterator[tuple[When, list[dict[str, object]]]]:
    """The stream in batches of at most 100, as if devices sent more often."""
    left = quarter.events if most is None else most
    for batch in quarter.batches:
        for low in range(0, len(batch.events), BATCH):
            if left <= 0:
                return
            some = list(batch.events[low : low + BATCH])[:left]
            left -= len(some)
            yield When(batch.recorded_at, batch.clock_offset_s), some


def opened(url: str, quarter: Quarter) -> tuple[Store, Caller]:
    """A store with the hospital set up in it."""
    store = Store(url)
    store.set_up(quarter.site, quarter.start, b"k" * 32)
    return store, Caller(quarter.site.id, "bench", Role.OFFICER)


def _append(store: Store, caller: Caller, told: Batches) -> None:
    for when, events in told:
        record_events(store, caller, events, when)


def _compared(folder: Path, quarter: Quarter, most: int, rounds: int) -> Told:
    told = list(batches(quarter, most))
    events = sum(len(some) for _, some in told)
    rows = [json.dumps(event) for _, some in told for event in some]
    numbers = count()
    written: dict[str, int] = {}

    def ours() -> float:
        store, caller = opened(f"sqlite:///{folder / f'ours-{next(numbers)}.db'}", quarter)
        spent = taken_s(lambda: _append(store, caller, told))
        with store.reading() as connection:
            for table in ("event", "leaf", "node", "named", "container", "violation"):
                asked = f"SELECT count(*) FROM {table}"  # noqa: S608
                written[table] = connection.exec_driver_sql(asked).scalar_one()
        store.close()
        return spent

    found = Rounds.of(rounds, {"ours": ours, "bare": partial(_bare, folder, rows, numbers)})
    per_event = sum(written.values()) / events
    yield Row(
        f"batches of {BATCH}, {events:,} events, {per_event:.1f} rows an event",
        rate(events / found["ours"], "events"),
        f"`executemany`, a row an event, one commit: {rate(events / found['bare'], 'rows')}",
        found.ratios("bare", "ours"),
        at_least(0.10),
    )


def _bare(folder: Path, rows: list[str], numbers: "count[int]") -> float:
    connection = sqlite3.connect(folder / f"bare-{next(numbers)}.db")
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE event (seq INTEGER PRIMARY KEY, body TEXT NOT NULL)")

    def insert() -> None:
        connection.executemany("INSERT INTO event VALUES (?, ?)", enumerate(rows))
        connection.commit()

    connection.commit()
    spent = taken_s(insert)
    connection.close()
    return spent


def _grown(folder: Path, quarter: Quarter, size: Size) -> Curve:
    """The same number of events once more, when the record holds more and more."""
    store, caller = opened(f"sqlite:///{folder / 'grown.db'}", quarter)
    stream, held, lines = batches(quarter), 0, []

    def some(wanted: int) -> Batches:
        nonlocal held
        taken: Batches = []
        until = held + wanted
        while held < until and (each := next(stream, None)) is not None:
            held += len(each[1])
            taken.append(each)
        return taken

    for factor in GROWTH[size]:
        _append(store, caller, some(STEP[size] * factor - held))
        before, told = held, some(STEP[size] // 2)
        spent = taken_s(partial(_append, store, caller, told))
        lines.append([f"{before:,}", f"{(held - before) / spent:,.0f}"])
    store.close()
    heads = ("events on record before", "events a second")
    return Curve(f"batches of {BATCH} on a record that grows", heads, lines)
