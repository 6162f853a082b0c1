"""A region of many facilities in one database, lived through by the real append duty.

``python -m tests.benchmarks.region [--facilities 300] [--events 100] [--processes 2] [--sqlite]``:
each facility sends so many events of the invented hospital's stream, in order, in the batches its
devices sent; several threads in each process stand for the requests that come at once. Prints what
it took, what it wrote and what it came to in memory.
"""

import argparse
import multiprocessing
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Empty, SimpleQueue

import sqlalchemy

from scenario.quarter import simulate
from service.access.caller import Caller
from service.custody.words import Role
from service.duties import evidence
from service.duties.evidence import Keeping
from service.duties.lookup import ContainerFilter, containers
from service.duties.record import Told, record_events
from service.store.keyring import Keyring
from service.store.store import Store
from tests.benchmarks.apart import peak_mb
from tests.benchmarks.frame import number, seconds
from tests.postgres import cluster

SEED, PER_DAY, BATCH = 20_261, 6, 20
THREADS = 16
SPAWN = multiprocessing.get_context("spawn")
Batches = list[tuple[Told, list[dict[str, object]]]]


@dataclass(frozen=True, slots=True)
class Part:
    """What one process did.

    Attributes:
        events: Events recorded.
        spent_s: From the first to the last.
        commits: Transactions.
        slowest_s: How long each submission took, the longest 1 of 100.
    """

    events: int
    spent_s: float
    commits: int
    slowest_s: float
    cpu_s: float
    peak_mb: float


def stream(events: int) -> Batches:
    """The first events of the invented hospital, in small batches as devices send them."""
    quarter, left, told = simulate(SEED, containers_per_day=PER_DAY), events, []
    for batch in quarter.batches:
        for low in range(0, len(batch.events), BATCH):
            some = list(batch.events[low : low + BATCH])[:left]
            left -= len(some)
            if some:
                told.append((Told(batch.recorded_at, batch.clock_offset_s), some))
    return told


def name(facility: int) -> str:
    """The id of a facility of the region."""
    return f"house-{facility:05}"


def set_up(url: str, facilities: int) -> float:
    """Set up the region; give the seconds it took."""
    quarter, store, begun = simulate(SEED, containers_per_day=1), Store(url), time.perf_counter()
    for facility in range(facilities):
        site = quarter.site.model_copy(update={"id": name(facility)})
        store.set_up(site, quarter.start, b"k" * 32)
    store.close()
    return time.perf_counter() - begun


def live(url: str, mine: list[int], events: int, told: "multiprocessing.Queue[Part]") -> None:
    """Record what these facilities send; a facility's batches one after another, as they came."""
    store, batches = Store(url), stream(events)
    waiting: SimpleQueue[tuple[int, int]] = SimpleQueue()
    for facility in mine:
        waiting.put((facility, 0))
    left, took = len(mine) * len(batches), []
    lock, begun, worked = threading.Lock(), time.perf_counter(), time.process_time()

    def work() -> None:
        nonlocal left
        while left:
            try:
                facility, at = waiting.get(timeout=0.2)
            except Empty:
                continue
            when, some = batches[at]
            since = time.perf_counter()
            caller = Caller(name(facility), "bench", Role.OFFICER)
            outcomes = record_events(store, caller, some, when)
            assert not any(o.outcome == "refused" for o in outcomes), outcomes
            took.append(time.perf_counter() - since)
            if at + 1 < len(batches):
                waiting.put((facility, at + 1))
            with lock:
                left -= 1

    threads = [threading.Thread(target=work) for _ in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    spent_s, cpu_s = time.perf_counter() - begun, time.process_time() - worked
    took.sort()
    done = len(mine) * sum(len(some) for _, some in batches)
    slowest = took[int(len(took) * 0.99)]
    told.put(Part(done, spent_s, store.commits, slowest, cpu_s, peak_mb()))
    store.close()


@contextmanager
def database(*, sqlite: bool) -> Iterator[str]:
    """A database of its own while the block runs."""
    with ExitStack() as open_:
        if sqlite:
            folder = open_.enter_context(tempfile.TemporaryDirectory())
            yield f"sqlite:///{Path(folder) / 'region.db'}"
        else:
            yield open_.enter_context(cluster({})).made("region")


def written(url: str) -> dict[str, float]:
    """What is on the disk: bytes of the database, of its write-ahead log, and rows by table."""
    engine, tables = sqlalchemy.create_engine(url), {}
    with engine.connect() as connection:
        for table in ("event", "leaf", "node", "named", "container", "stay", "violation"):
            asked = sqlalchemy.text(f"SELECT count(*) FROM {table}")  # noqa: S608
            tables[table] = float(connection.execute(asked).scalar_one())
        if engine.dialect.name == "postgresql":
            asked = sqlalchemy.text("SELECT pg_database_size(current_database())")
            tables["bytes"] = float(connection.execute(asked).scalar_one())
            row = connection.execute(
                sqlalchemy.text("SELECT wal_bytes, wal_sync FROM pg_stat_wal")
            ).one()
            tables["log bytes"], tables["syncs"] = float(row[0]), float(row[1])
        else:
            asked = sqlalchemy.text("SELECT page_count * page_size FROM pragma_page_count, "
                                    "pragma_page_size")  # fmt: skip
            tables["bytes"] = float(connection.execute(asked).scalar_one())
    engine.dispose()
    return tables


def looked(url: str, facility: str) -> float:
    """Seconds to list what is due of one facility of the region."""
    store = Store(url)
    caller = Caller(facility, "bench", Role.OFFICER)
    at = simulate(SEED, containers_per_day=1).start + timedelta(days=3)
    asked = ContainerFilter(due_before=at, limit=100)
    containers(store, caller, asked)
    begun = time.perf_counter()
    for _ in range(20):
        containers(store, caller, asked)
    store.close()
    return (time.perf_counter() - begun) / 20


def signed(url: str, facilities: int) -> float:
    """Seconds that the daily look at a facility's two logs takes, its entries signed for once."""
    store, now = Store(url), datetime.now(UTC)
    with tempfile.TemporaryDirectory() as folder:
        keeping = Keeping(store, Keyring(Path(folder)), "https://custody.example")
        begun = time.perf_counter()
        for facility in range(facilities):
            caller = Caller(name(facility), "bench", Role.ADMINISTRATOR)
            for log in evidence.LOGS:
                evidence.sign_daily(keeping, caller, now, log)
        spent = time.perf_counter() - begun
    store.close()
    return spent / facilities


def main() -> None:
    """Live through it and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks.region")
    asked.add_argument("--facilities", type=int, default=300)
    asked.add_argument("--events", type=int, default=100, help="events of each facility")
    asked.add_argument("--processes", type=int, default=2)
    asked.add_argument("--sqlite", action="store_true", help="one process on one file")
    said = asked.parse_args()
    processes = 1 if said.sqlite else said.processes
    with database(sqlite=said.sqlite) as url:
        setting_up_s = set_up(url, said.facilities)
        before = written(url)
        told: multiprocessing.Queue[Part] = SPAWN.Queue()
        begun = time.perf_counter()
        workers = [
            SPAWN.Process(
                target=live,
                args=(url, list(range(said.facilities))[n::processes], said.events, told),
            )
            for n in range(processes)
        ]
        for worker in workers:
            worker.start()
        parts = [told.get() for _ in workers]
        for worker in workers:
            worker.join()
        spent_s, after = max(part.spent_s for part in parts), written(url)
        due_s = looked(url, name(said.facilities // 2))
        signing_s = signed(url, min(said.facilities, 50))
    sys.stderr.write(f"{time.perf_counter() - begun:.0f} s in all\n")
    events = sum(part.events for part in parts)
    more = {table: after[table] - before[table] for table in after}
    rows = sum(more[t] for t in more if t not in ("bytes", "log bytes", "syncs"))
    lines = {
        "facilities, and seconds to set one up": f"{said.facilities}, "
        f"{setting_up_s / said.facilities:.3f}",
        "events": f"{events:,}",
        "events a second": f"{events / spent_s:,.0f}",
        "processor time of the services, an event": seconds(sum(p.cpu_s for p in parts) / events),
        "99 of 100 submissions recorded within": seconds(max(p.slowest_s for p in parts)),
        "commits an event": number(sum(p.commits for p in parts) / events),
        "rows an event": number(rows / events),
        "bytes an event in the database": f"{more['bytes'] / events:,.0f}",
        "most memory of a process": f"{max(p.peak_mb for p in parts):,.0f} MB",
        "what is due at one facility": seconds(due_s),
        "a facility's logs signed": seconds(signing_s),
    }
    if "syncs" in more:
        lines["bytes an event in the write-ahead log"] = f"{more['log bytes'] / events:,.0f}"
        lines["syncs an event"] = number(more["syncs"] / events)
    for what, said_ in lines.items():
        sys.stdout.write(f"| {what} | {said_} |\n")


if __name__ == "__main__":
    main()
