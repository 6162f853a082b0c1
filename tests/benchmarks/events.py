"""One event a request over HTTP, everything on, beside the bare framework and the ordinary way."""

import statistics
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

from tests.benchmarks.frame import Curve, Rounds, Row, Size, Told, at_least, at_most, rate, seconds
from tests.benchmarks.serving import Load, commits, load, peer, requests, room
from tests.faults.world import World, set_up

CLIENTS = 32
COUNTS = {"tiny": 64, "quick": 1_000, "full": 2_000}
GROWTH = {"tiny": (1, 2), "quick": (1, 10), "full": (1, 10, 40)}
BASE = {"tiny": 60, "quick": 500, "full": 500}


def measure(size: Size, rounds: int) -> Told:
    """Compare on the disk and without one; then on a record that grows."""
    for in_memory in (False, True):
        with room(in_memory=in_memory) as folder:
            yield from _compared(folder, COUNTS[size], rounds, in_memory=in_memory)
    with room() as folder:
        yield _grown(folder, size)


def _compared(folder: Path, count: int, rounds: int, *, in_memory: bool) -> Told:
    where = "memory" if in_memory else "disk"
    blank = set_up(folder / "ours")
    world = World(folder / "ours", blank.facility, blank.token)
    loads: dict[str, list[Load]] = {"ours": [], "bare": [], "ordinary": []}
    shared: list[float] = []
    with ExitStack() as open_:
        open_.enter_context(world).start()
        ports = {
            "ours": world.port,
            "bare": open_.enter_context(peer("bare")),
            "ordinary": open_.enter_context(
                peer("ordinary", f"sqlite:///{folder / 'ordinary.db'}")
            ),
        }

        def way(name: str) -> Callable[[], float]:
            # The ordinary way is slow, and stays as slow with fewer.
            sent = count // 3 if name == "ordinary" else count

            def run() -> float:
                before = commits(world)
                done = load([ports[name]], CLIENTS, requests(sent, [world.token]))
                loads[name].append(done)
                if name == "ours":
                    shared.append((commits(world) - before) / sent)
                return done.rate

            return run

        for name in ports:  # a server's first requests are slower than all others
            load([ports[name]], CLIENTS, requests(max(count // 10, CLIENTS), [world.token]))
        found = Rounds.of(rounds, {name: way(name) for name in ports})
    what = f"one event a request, {CLIENTS} clients, SQLite on {where}"
    ours = rate(found["ours"], "events")
    yield Row(what, ours, f"bare async FastAPI {rate(found['bare'], 'requests')}",
              found.ratios("ours", "bare"), at_least(0.40 if in_memory else 0.25))  # fmt: skip
    yield Row(what, ours, f"FastAPI, a Session a request {rate(found['ordinary'], 'events')}",
              found.ratios("ours", "ordinary"), at_least(4))  # fmt: skip
    yield Row(f"commits an event, {where}", "", "", shared, at_most(0.10))
    p99 = {name: statistics.median(each.p99_s for each in kept) for name, kept in loads.items()}
    p50 = {name: statistics.median(each.p50_s for each in kept) for name, kept in loads.items()}
    pairs = zip(loads["ours"], loads["bare"], strict=True)
    yield Row(
        f"time that 99 of 100 answers take at most, {where}",
        f"{seconds(p99['ours'])} (half of them {seconds(p50['ours'])})",
        f"bare {seconds(p99['bare'])} ({seconds(p50['bare'])}), Session a request "
        f"{seconds(p99['ordinary'])} ({seconds(p50['ordinary'])})",
        [a.p99_s / b.p99_s for a, b in pairs],
        at_most(10),
    )


def _grown(folder: Path, size: Size) -> Curve:
    """The same on a record that holds more and more."""
    blank = set_up(folder)
    lines: list[list[str]] = []
    held = 0
    with World(folder, blank.facility, blank.token) as world:
        world.start()
        for factor in GROWTH[size]:
            wanted = BASE[size] * factor
            batch = 20 if size == "tiny" else 500
            while held < wanted:
                load([world.port], 1, requests(1, [world.token], batch))
                held += batch
            done = load([world.port], CLIENTS, requests(COUNTS[size] // 2, [world.token]))
            held += COUNTS[size] // 2
            lines.append([f"{wanted:,}", f"{done.rate:,.0f}", seconds(done.p99_s)])
    heads = ("events on record before", "events a second", "99 of 100 answered within")
    return Curve(f"one event a request, {CLIENTS} clients, on a record that grows", heads, lines)
