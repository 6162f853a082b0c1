"""Cut the power under load: what was acknowledged must be on the disk as it is found afterwards."""

import json
import shutil
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any, get_args

from tests.faults.clients import Collector, Load
from tests.faults.disk import Disk, Luck, Record, read_trace
from tests.faults.holding import Numbered, Tally, faults_of, lost
from tests.faults.shim import preload
from tests.faults.world import SERVE, Blank, World

CLIENTS = 32
WEAKER = ("-m", "tests.faults.tuned", "synchronous=NORMAL", "serve")
EAGER = ("-m", "tests.faults.tuned", "wal_autocheckpoint=50", "serve")
"""Works the log into the database every 50 pages, so that many cuts fall into that."""

LUCK: tuple[Luck, ...] = get_args(Luck)


@dataclass(frozen=True)
class Plan:
    """How often the power is cut.

    Attributes:
        cycles: Times that the service is started, loaded, cut off and started again.
        moments: Further moments of each cycle, for which the disk is made and looked into.
    """

    seed: int
    cycles: int
    moments: int
    weaker: bool = False


@dataclass
class _Trial:
    """What one series of cuts works on."""

    world: World
    plan: Plan
    library: Path
    collectors: list[Collector]
    random: Random
    tally: Tally


def cuts(
    blank: Blank,
    folder: Path,
    library: Path,
    plan: Plan,
    told: Callable[[], None] = lambda: None,
) -> Tally:
    """Cut the power again and again; the disk found is what the service goes on with.

    ``notes["lost"]`` counts acknowledged events that were gone, ``notes["in_flight"]`` the moments
    at which writes were on their way. In the last cycle the power goes while the service stops in
    good order. The control ends as soon as it has lost something.
    """
    name = "synchronous=NORMAL, the control" if plan.weaker else "power cut under 32 clients"
    tally = Tally(name, notes={"lost": 0, "moments": 0, "in_flight": 0})
    collectors = [Collector(plan.seed * 1000 + n) for n in range(CLIENTS)]
    with World.copy_of(blank, folder / "world") as world:
        trial = _Trial(world, plan, library, collectors, Random(plan.seed), tally)
        for number in range(plan.cycles):
            _cycle(trial, number)
            if tally.notes["lost"]:
                break
            tally.tried += 1
            told()
    tally.wrong += (w for c in collectors for w in c.wrong)
    tally.acknowledged = sum(len(c.acknowledged()) for c in collectors)
    return tally


def _cycle(trial: _Trial, number: int) -> None:
    """Start, load, cut, and look at what the service makes of the disk that is found."""
    world, random, plan = trial.world, trial.random, trial.plan
    trace = world.folder.parent / "trace"
    trace.unlink(missing_ok=True)
    disk = Disk(world.database)
    world.environment = preload(trial.library, world.database, trace=trace)
    world.command = WEAKER if plan.weaker else (SERVE, EAGER)[number % 2]
    world.start()
    load = Load(trial.collectors, world.port, world.token)
    wanted = load.answered() + random.randrange(20, 120)
    load.until(lambda: load.answered() >= wanted)
    if number < plan.cycles - 1 or plan.weaker:
        world.kill()
        load.end()
        first = 0
    else:
        load.end()
        first = len(read_trace(trace))
        world.stop()
    _cut(trial, disk, read_trace(trace), first)
    disk.cut_power(world.database, LUCK[number % len(LUCK)], random)
    world.database.with_name(world.database.name + "-shm").unlink(missing_ok=True)
    trial.tally.wrong += [] if plan.weaker else world.checked()
    world.environment, world.command = {}, SERVE
    world.start()
    _look(world.entries(), trial.collectors, trial.tally)
    world.kill()


def _look(
    entries: Numbered, collectors: Sequence[Collector], tally: Tally, until_ns: int = 1 << 62
) -> None:
    tally.wrong += faults_of(entries, collectors, until_ns)
    tally.notes["lost"] += lost(entries, collectors, until_ns)


def _cut(trial: _Trial, disk: Disk, records: Sequence[Record], first: int) -> None:
    """Take the trace to its end, and look at the disk of some moments from the first on."""
    random, tally = trial.random, trial.tally
    choice = range(first, len(records))
    moments = set(random.sample(choice, min(trial.plan.moments, len(choice))))
    spare = trial.world.folder.parent / "moment"
    for number, record in enumerate(records):
        disk.take(record)
        if number not in moments:
            continue
        shutil.rmtree(spare, ignore_errors=True)
        spare.mkdir()
        database = spare / trial.world.database.name
        disk.cut_power(database, random.choice(LUCK), random)
        _look(read_file(database, tally), trial.collectors, tally, record.at_ns)
        tally.notes["moments"] += 1
        tally.notes["in_flight"] += disk.unsynced > 0


def read_file(database: Path, tally: Tally) -> list[tuple[int, dict[str, Any]]]:
    """Open a database file as found and read its record; one that does not open clean is wrong."""
    try:
        with closing(sqlite3.connect(database)) as connection:
            for (said,) in connection.execute("PRAGMA integrity_check"):
                if said != "ok":
                    tally.wrong.append(f"integrity: {said}")
            rows = connection.execute("SELECT seq, body FROM event ORDER BY seq").fetchall()
    except sqlite3.DatabaseError as error:
        tally.wrong.append(f"the file does not open: {error}")
        return []
    return [(seq, json.loads(body)) for seq, body in rows]
