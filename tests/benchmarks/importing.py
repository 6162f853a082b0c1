"""A list of registrations imported beside a bare insert of its rows; what a longer one takes."""

import csv
import json
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path

from service.access.caller import Caller
from service.custody import identifiers
from service.custody.site import Site
from service.custody.words import Role
from service.duties.importing import import_file, plain
from service.store.store import Store
from tests.benchmarks.frame import Curve, Rounds, Row, Size, Told, at_least, cpu_s, rate
from tests.benchmarks.serving import room
from tests.faults.world import ROOT
from tests.house import HOSPITAL

START = datetime(2026, 7, 1, 6, 0, tzinfo=UTC)
HEADER = ("kind", "containers", "occurred_at", "actor", "category", "unit", "container_kind",
          "weight_g")  # fmt: skip
COUNTS = {"tiny": 50, "quick": 2_000, "full": 5_000}
GROWTH = {"tiny": (), "quick": (1, 10), "full": (1, 3, 10)}
STEP = {"tiny": 20, "quick": 500, "full": 2_000}


def measure(size: Size, rounds: int) -> Told:
    """Compare, then grow."""
    with room() as folder:
        path, rows = folder / "list.csv", COUNTS[size]
        write_list(path, rows)
        numbers = count()
        found = Rounds.of(
            rounds,
            {
                "ours": lambda: imported(path, folder / f"ours-{next(numbers)}"),
                "bare": lambda: _bare(path, folder / f"bare-{next(numbers)}.db"),
            },
        )
    yield Row(f"`custody import` of {rows:,} registrations, processor time",
              rate(rows / found["ours"], "rows"),
              f"reading and `executemany`: {rate(rows / found['bare'], 'rows')}",
              found.ratios("bare", "ours"), at_least(0.08))  # fmt: skip
    lines = []
    for factor in GROWTH[size]:
        rows = STEP[size] * factor
        with room() as folder:
            write_list(folder / "list.csv", rows)
            spent, peak_mb = _apart(folder)
        lines.append([f"{rows:,}", f"{rows / spent:,.0f}", f"{peak_mb:.0f} MB"])
    heads = ("rows", "rows a second of processor time", "most memory")
    yield Curve("`custody import`, a list that grows", heads, lines)


def write_list(path: Path, rows: int) -> None:
    """Write a ledger of registrations, one a row."""
    with path.open("w", encoding="utf-8", newline="") as file:
        to = csv.writer(file)
        to.writerow(HEADER)
        for n in range(rows):
            at = (START + timedelta(seconds=n)).isoformat()
            code = identifiers.derived_id("bench", str(n))
            weight_g = 1_000 + n % 4_000
            to.writerow(("registered", code, at, "nurse", "yellow-c", "ward-3", "bag", weight_g))


def imported(path: Path, folder: Path) -> float:
    """Seconds of an import into a new store."""
    folder.mkdir(exist_ok=True)
    store = Store(f"sqlite:///{folder / 'record.sqlite3'}")
    site = Site.model_validate(HOSPITAL | {"regime": "india-2016"})
    store.set_up(site, START, b"k" * 32)
    caller, now, rejects = Caller(site.id, "bench", Role.OFFICER), START + timedelta(days=30), []
    read = partial(import_file, store, caller, path, plain("bench"), now)

    def run() -> None:
        rejects.append(read(rejects=folder / "rejects.csv"))

    spent = cpu_s(run)
    store.close()
    assert rejects[0].refused == rejects[0].repeated == 0
    return spent


def _bare(path: Path, to: Path) -> float:
    def run() -> None:
        with path.open(encoding="utf-8", newline="") as file:
            rows = csv.reader(file)
            next(rows)
            connection = sqlite3.connect(to)
            connection.execute(f"CREATE TABLE bare ({', '.join(HEADER)})")
            connection.executemany("INSERT INTO bare VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
            connection.commit()
            connection.close()

    return cpu_s(run)


def _apart(folder: Path) -> tuple[float, float]:
    """Import in a process of its own: only so does it tell how much memory that took."""
    words = [sys.executable, "-m", "tests.benchmarks.apart", "import", str(folder)]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    told = json.loads(done.stdout)
    return told["seconds"], told["peak_mb"]
