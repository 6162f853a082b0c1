"""A quarter's bundle written and verified, beside reading, hashing and parsing its entries."""

import json
import math
import sqlite3
import statistics
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

from scenario.quarter import simulate
from service.access.caller import Caller
from service.bundles import names
from service.bundles.verify import verify
from service.custody.words import Role
from service.duties import evidence, officer
from service.duties.evidence import Keeping
from service.duties.record import Told as When
from service.duties.record import record_events
from service.manifests.pdf import pdf
from service.manifests.xlsx import xlsx
from service.store.keyring import Keyring
from service.store.store import Store
from tests.benchmarks.frame import (
    Curve,
    Rounds,
    Row,
    Size,
    Told,
    at_most,
    cpu_s,
    seconds,
)
from tests.benchmarks.serving import room
from tests.faults.world import ROOT

SEED, QUARTER = 20_261, "2026-Q3"
NOW = datetime(2026, 10, 5, tzinfo=UTC)
PER_DAY = {"tiny": (1,), "quick": (3, 6), "full": (5, 10, 20)}
MOST = {"tiny": 300, "quick": 10**9, "full": 10**9}
DATABASE, BUNDLE = "record.sqlite3", "bundle.zip"


def measure(size: Size, rounds: int) -> Told:
    """Compare at the largest quarter; show how time and memory grow."""
    lines, spans, peaks, held = [], [], [], []
    rows: list[Row] = []
    for per_day in PER_DAY[size]:
        with room() as folder:
            events = fill(folder, per_day, MOST[size])
            found, slow = _compared(folder, rounds)
            peak = _peak_mb(folder)
            rows = [r for r in _rows(found, events, peak, slow) if isinstance(r, Row)]
            bundle_mb = (folder / BUNDLE).stat().st_size / 1e6
        spans.append(found["whole"])
        peaks.append(peak)
        held.append(events)
        cells = (found[n] for n in ("whole", "pdf", "xlsx", "verify"))
        lines.append([f"{events:,}", *map(seconds, cells), f"{peak:.0f} MB", f"{bundle_mb:.2g} MB"])
    yield from rows
    if len(spans) > 1:
        more = math.log(2) / math.log(held[-1] / held[-2])
        what = f"twice the events, from {held[-2]:,} and {held[-1]:,}"
        for name, grown, goal in (("time", spans, 2.2), ("memory", peaks, 1.1)):
            yield Row(f"{what}: {name}", "", "", [(grown[-1] / grown[-2]) ** more], at_most(goal))
    heads = (
        "events",
        "bundle",
        "of it PDF",
        "of it XLSX",
        "verify",
        "most memory",
        "bundle's size",
    )
    yield Curve("a quarter that grows, processor time", heads, lines)


def fill(folder: Path, per_day: int, most: int) -> int:
    """Record a quarter of the invented hospital, or its beginning; give its number of events."""
    quarter = simulate(SEED, containers_per_day=per_day)
    store = Store(f"sqlite:///{folder / DATABASE}")
    store.set_up(quarter.site, quarter.start, b"k" * 32)
    caller = Caller(quarter.site.id, "bench", Role.OFFICER)
    recorded = 0
    for batch in quarter.batches:
        if recorded >= most:
            break
        recorded += len(batch.events)
        brought = (str(e["sha256"]) for e in batch.events if e["kind"] == "trace_attached")
        if files := {sha256: quarter.traces[sha256] for sha256 in brought}:
            store.keep_traces(quarter.site.id, files)
        told = When(batch.recorded_at, batch.clock_offset_s)
        record_events(store, caller, batch.events, told)
    store.close()
    return min(quarter.events, recorded)


@contextmanager
def opened(folder: Path) -> Iterator[tuple[Store, Caller]]:
    """The store while the block runs."""
    store = Store(f"sqlite:///{folder / DATABASE}")
    try:
        [facility] = store.facilities()
        yield store, Caller(facility, "bench", Role.OFFICER)
    finally:
        store.close()


def bundled(folder: Path) -> None:
    """Write the bundle, as `custody manifest` does."""
    with opened(folder) as (store, caller), (folder / BUNDLE).open("w+b") as out:
        keeping = Keeping(store, Keyring(folder / "keys"), "https://custody.example")
        evidence.bundle(keeping, caller, QUARTER, NOW, out)


def _compared(folder: Path, rounds: int) -> tuple[Rounds, list[tuple[str, float]]]:
    """All ways in turn; and which checks of a verification took longest."""
    bundled(folder)
    with opened(folder) as (store, caller):
        figures = officer.manifest(store, caller, QUARTER, NOW)
    found = Rounds.of(
        rounds,
        {
            "whole": lambda: cpu_s(lambda: bundled(folder)),
            "pdf": lambda: cpu_s(lambda: pdf(figures)),
            "xlsx": lambda: cpu_s(lambda: xlsx(figures)),
            "reading": lambda: cpu_s(lambda: _read(folder)),
            "verify": lambda: cpu_s(lambda: _verified(folder)),
            "parsing": lambda: cpu_s(lambda: _parsed(folder)),
        },
    )
    return found, _checks(folder)


def _read(folder: Path) -> None:
    """The limit: read every row of the record and hash what was said."""
    connection = sqlite3.connect(folder / DATABASE)
    for row in connection.execute("SELECT * FROM event ORDER BY facility, seq"):
        sha256(str(row).encode()).digest()
    connection.close()


def _parsed(folder: Path) -> None:
    """The limit: parse every entry of the bundle and hash it."""
    with zipfile.ZipFile(folder / BUNDLE) as archive, archive.open(names.ENTRIES) as lines:
        for line in lines:
            json.loads(line)
            sha256(b"\0" + line[:-1]).digest()


def _verified(folder: Path) -> None:
    with (folder / BUNDLE).open("rb") as file:
        wrong = [check for check in verify(file) if check.holds is False]
    assert not wrong, wrong


def _checks(folder: Path) -> list[tuple[str, float]]:
    spent: list[tuple[str, float]] = []
    with (folder / BUNDLE).open("rb") as file:
        checks = verify(file)
        before = time.process_time()
        for check in checks:
            spent.append((check.name, time.process_time() - before))
            before = time.process_time()
    return sorted(spent, key=lambda each: -each[1])


def _peak_mb(folder: Path) -> float:
    """Write it once more in a process of its own: only so does it tell how much memory it took."""
    words = [sys.executable, "-m", "tests.benchmarks.apart", "bundle", str(folder)]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    return float(json.loads(done.stdout)["peak_mb"])


def _rows(found: Rounds, events: int, peak_mb: float, slow: list[tuple[str, float]]) -> Told:
    f = found.found
    rest = [w - p - x for w, p, x in zip(f["whole"], f["pdf"], f["xlsx"], strict=True)]
    yield Row(f"bundle of a quarter of {events:,} events, all forms, without PDF and XLSX",
              seconds(statistics.median(rest)),
              f"reading and hashing the rows {seconds(found['reading'])}",
              [a / b for a, b in zip(rest, f["reading"], strict=True)], at_most(3))  # fmt: skip
    yield Row("most memory while it is written, MB", "", "", [peak_mb], at_most(300))
    total = sum(spent for _, spent in slow)
    most = ", ".join(f"{name} {spent / total:.0%}" for name, spent in slow[:4])
    yield Row(f"`custody verify` of it ({most})", seconds(found["verify"]),
              f"parsing and hashing its entries {seconds(found['parsing'])}",
              found.ratios("verify", "parsing"), at_most(6))  # fmt: skip
