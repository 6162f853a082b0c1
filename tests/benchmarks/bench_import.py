"""Times an import of registrations beside a bare insert of as many rows by `sqlite3`.

Run `python -m tests.benchmarks.bench_import [ROWS]`; both are timed in turn, in one run, and given
as a ratio. Reading alone is timed too: what is left is what the record asks for.
"""

import csv
import sqlite3
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from service.access.caller import Caller
from service.custody import identifiers
from service.custody.site import Site
from service.custody.words import Role
from service.duties.importing import import_file, plain
from service.duties.imports.rows import table
from service.duties.imports.sheet import sound
from service.store.store import Store
from tests.house import HOSPITAL

ROUNDS = 3
START = datetime(2026, 7, 1, 6, 0, tzinfo=UTC)
HEADER = ("kind", "containers", "occurred_at", "actor", "category", "unit", "container_kind",
          "weight_g")  # fmt: skip


def write_list(path: Path, count: int) -> None:
    """Write a ledger of registrations, one a row."""
    with path.open("w", encoding="utf-8", newline="") as file:
        to = csv.writer(file)
        to.writerow(HEADER)
        for n in range(count):
            at = (START + timedelta(seconds=20 * n)).isoformat()
            code = identifiers.derived_id("bench", str(n))
            to.writerow(
                ("registered", code, at, "nurse", "yellow-c", "ward-3", "bag", 1000 + n % 4000)
            )


def imported(path: Path, folder: Path) -> float:
    """Seconds of an import into a new store."""
    store = Store(f"sqlite:///{folder / 'record.sqlite3'}")
    site = Site.model_validate(HOSPITAL | {"regime": "india-2016"})
    store.set_up(site, START, b"k" * 32)
    caller = Caller(site.id, "bench", Role.OFFICER)
    now = START + timedelta(days=30)
    begun = time.perf_counter()
    report = import_file(store, caller, path, plain("bench"), now, rejects=folder / "rejects.csv")
    taken = time.perf_counter() - begun
    store.close()
    assert report.refused == report.repeated == 0
    return taken


def read_only(path: Path) -> float:
    """Seconds of reading the list into events, with nothing recorded."""
    begun = time.perf_counter()
    with sound(path, "auto").open() as text:
        assert all(line.event for line in table(text, plain("bench"), path.name).lines)
    return time.perf_counter() - begun


def bare(path: Path, folder: Path) -> float:
    """Seconds of `executemany` of the same rows as text, committed once."""
    begun = time.perf_counter()
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.reader(file)
        next(rows)
        to = sqlite3.connect(folder / "bare.sqlite3")
        to.execute(f"CREATE TABLE bare ({', '.join(HEADER)})")
        to.executemany("INSERT INTO bare VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        to.commit()
        to.close()
    return time.perf_counter() - begun


def main(count: int) -> None:
    """Print the medians and their ratio."""
    taken: list[tuple[float, float, float]] = []
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            path = folder / "list.csv"
            write_list(path, count)
            taken.append((imported(path, folder), read_only(path), bare(path, folder)))
    for name, column in (("import", 0), ("reading alone", 1), ("bare insert", 2)):
        seconds = statistics.median(t[column] for t in taken)
        print(f"{name:14} {count} rows {seconds:7.2f} s {count / seconds:9.0f} rows/s")  # noqa: T201
    ratio = statistics.median(t[0] / t[2] for t in taken)
    print(f"the import takes {ratio:.0f} times as long as the bare insert")  # noqa: T201


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
