"""Appending a stream of the invented hospital beside the bare engine; prints, asserts nothing.

The measure is the ratio: both are timed in the same minute, on a file, with every commit synced.
Run it as ``python -m tests.benchmarks.bench_append``.
"""

import json
import sqlite3
import tempfile
import time
from itertools import takewhile
from pathlib import Path

from scenario.posting import Batch
from scenario.quarter import Quarter, simulate
from service.access.caller import Caller
from service.custody.words import Role
from service.duties.record import Told, record_events
from service.store.store import Store

SEED, CONTAINERS_PER_DAY, EVENTS, ROUNDS, SINGLE = 20_261, 40, 20_000, 2, 1_000


def stream(quarter: Quarter) -> list[Batch]:
    """The first batches of the quarter, up to about the wanted number of events."""
    told = 0

    def wanted(batch: Batch) -> bool:
        nonlocal told
        told += len(batch.events)
        return told <= EVENTS

    return list(takewhile(wanted, quarter.batches))


def through_the_service(folder: Path, quarter: Quarter, batches: list[Batch]) -> float:
    """Seconds for the batches as given: checked, folded, judged, each on disk before the next."""
    store = Store(f"sqlite:///{folder / 'service.sqlite3'}")
    store.set_up(quarter.site, quarter.start, b"k" * 32)
    caller = Caller(quarter.site.id, "bench", Role.OFFICER)
    start = time.perf_counter()
    for batch in batches:
        told = Told(batch.recorded_at, batch.clock_offset_s)
        record_events(store, caller, batch.events, told)
    taken_s = time.perf_counter() - start
    with store.reading() as connection:
        for table in ("event", "container", "stay", "violation"):
            rows = connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one()  # noqa: S608
            print(f"    {table}: {rows} rows", end="")  # noqa: T201
    print()  # noqa: T201
    start = time.perf_counter()
    for _ in store.rebuild(quarter.site.id):
        pass
    print(f"    rebuild: {time.perf_counter() - start:.1f} s")  # noqa: T201
    store.close()
    return taken_s


def one_by_one(folder: Path, quarter: Quarter, batches: list[Batch]) -> float:
    """Milliseconds an event where each is a submission and a synced commit of its own."""
    store = Store(f"sqlite:///{folder / 'single.sqlite3'}")
    store.set_up(quarter.site, quarter.start, b"k" * 32)
    caller = Caller(quarter.site.id, "bench", Role.OFFICER)
    told = [(e, Told(b.recorded_at, b.clock_offset_s)) for b in batches for e in b.events]
    start = time.perf_counter()
    for event, when in told[:SINGLE]:
        record_events(store, caller, [event], when)
    taken_s = time.perf_counter() - start
    store.close()
    return taken_s / SINGLE * 1e3


def bare(folder: Path, bodies: list[str]) -> float:
    """Seconds for the same bodies by ``executemany`` in one transaction: the engine's limit."""
    connection = sqlite3.connect(folder / "bare.sqlite3")
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE event (seq INTEGER PRIMARY KEY, body TEXT NOT NULL)")
    connection.commit()
    start = time.perf_counter()
    connection.executemany("INSERT INTO event VALUES (?, ?)", enumerate(bodies))
    connection.commit()
    taken_s = time.perf_counter() - start
    connection.close()
    return taken_s


def main() -> None:
    """Print events a second of both and their ratio."""
    quarter = simulate(SEED, containers_per_day=CONTAINERS_PER_DAY)
    batches = stream(quarter)
    bodies = [json.dumps(event) for batch in batches for event in batch.events]
    print(f"{len(bodies)} events in {len(batches)} batches")  # noqa: T201
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as name:
            raw_s = bare(Path(name), bodies)
            ours_s = through_the_service(Path(name), quarter, batches)
            single_ms = one_by_one(Path(name), quarter, batches)
        print(  # noqa: T201
            f"  service {len(bodies) / ours_s:,.0f} events/s, bare {len(bodies) / raw_s:,.0f}, "
            f"ratio 1 : {ours_s / raw_s:.0f}; {ours_s / len(bodies) * 1e6:.0f} us an event, "
            f"{ours_s / len(batches) * 1e3:.1f} ms a batch; {single_ms:.2f} ms an event one by one"
        )


if __name__ == "__main__":
    main()
