"""The disk runs full or fails under the service: clear answers, nothing false, and on it goes."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.faults.clients import Collector, Line, Load
from tests.faults.holding import Tally, faults_of
from tests.faults.shim import Control, preload
from tests.faults.world import SERVE, Blank, World

CLIENTS = 16
ROOM = 150_000
TRIES = 60
"""Requests in which a fault that was asked for must have struck."""

FOR_GOOD = 1 << 40


@dataclass
class Ward:
    """A service on a disk that fails on demand, and clients that keep what they were told."""

    world: World
    control: Control
    collectors: list[Collector]
    tally: Tally

    def reads(self) -> None:
        """Reading must go on whatever became of the disk's writes."""
        status, page = self.world.ask("/v1/events?limit=5")
        if status != 200:
            self.tally.wrong.append(f"the record was not readable: {status} {page}")

    def send(self, line: Line) -> None:
        """Have the one client send; a connection that was closed on it is opened once more."""
        collector = self.collectors[0]
        if not collector.send_one(line) and not collector.send_one(line):
            self.tally.wrong.append("the service gave no answer")

    def close(self) -> None:
        """Compare the record with all that was acknowledged, and have the file checked."""
        tally = self.tally
        tally.wrong += faults_of(self.world.entries(), self.collectors)
        tally.wrong += (w for c in self.collectors for w in c.wrong)
        tally.acknowledged = sum(len(c.acknowledged()) for c in self.collectors)
        tally.notes["refused"] = sum(s.status >= 500 for c in self.collectors for s in c.sent)
        self.world.stop()
        tally.wrong += self.world.checked()


def opened(
    blank: Blank, folder: Path, library: Path, clients: int, command: tuple[str, ...] = SERVE
) -> Ward:
    """Start a service on a disk that works so far."""
    folder.mkdir(exist_ok=True)
    control = Control(folder / "control")
    world = World.copy_of(blank, folder / "world", command=command)
    world.environment = preload(library, world.database, control=folder / "control")
    world.start()
    return Ward(world, control, [Collector(4_000 + n) for n in range(clients)], Tally(""))


def fillings(
    blank: Blank, folder: Path, library: Path, times: int, told: Callable[[], None] = lambda: None
) -> Tally:
    """Fill the disk under load, look, make room; the same process must go on by itself."""
    ward = opened(blank, folder, library, CLIENTS)
    ward.tally.what = "disk full under 16 clients, then room again"
    with ward.world:
        for number in range(times):
            _fill(ward, Random(number).randrange(ROOM))
            ward.tally.tried += 1
            told()
        ward.close()
    full = [s for c in ward.collectors for s in c.told if "disk" not in s]
    ward.tally.wrong += [f"a full disk was told as: {s}" for s in set(full)]
    return ward.tally


def _fill(ward: Ward, room: int) -> None:
    world, control = ward.world, ward.control
    load = Load(ward.collectors, world.port, world.token)
    enough = load.answered() + 20
    load.until(lambda: load.answered() >= enough)
    refused = control.failed + CLIENTS
    control.leave_room(room)
    load.until(lambda: control.failed >= refused)
    ward.reads()
    control.work()
    again = load.answered() + 2 * CLIENTS
    load.until(lambda: load.answered() >= again)
    load.end()


def failures(
    blank: Blank,
    folder: Path,
    library: Path,
    first: int,
    command: tuple[str, ...] = SERVE,
    told: Callable[[], None] = lambda: None,
) -> Tally:
    """Have the n-th call of the disk fail, for each of the first so many: once, twice, for good.

    ``notes["restarts"]`` says after how many the service had to be started again.
    """
    ward = opened(blank, folder, library, 1, command)
    ward.tally.what = "input/output error at the n-th write, sync or cut"
    ward.tally.notes["restarts"] = 0
    with ward.world:
        for number in range(first):
            _fail(ward, number, (1, 2, FOR_GOOD)[number % 3])
            ward.tally.tried += 1
            told()
        ward.close()
    told_as = Counter(s for c in ward.collectors for s in c.told)
    ward.tally.notes["said"] = dict(told_as)
    return ward.tally


def _fail(ward: Ward, number: int, count: int) -> None:
    world, control, collector = ward.world, ward.control, ward.collectors[0]
    failed = control.failed
    with Line(world.port, world.token) as line:
        control.fail(number, count)
        for _ in range(TRIES):
            if control.failed > failed:
                break
            ward.send(line)
        else:
            ward.tally.wrong.append(f"call {number} never came")
        ward.reads()
        control.work()
        acknowledged = len(collector.acknowledged())
        ward.send(line)
    if len(collector.acknowledged()) == acknowledged:
        ward.tally.notes["restarts"] += 1
        world.stop()
        world.start()
        with Line(world.port, world.token) as line:
            ward.send(line)
        if len(collector.acknowledged()) == acknowledged:
            ward.tally.wrong.append(f"after call {number} failed nothing is taken any more")
