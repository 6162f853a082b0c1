"""Services on PostgreSQL, and what befalls them and their server under load."""

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from pathlib import Path
from random import Random

import psycopg

from service.store.store import Store
from tests.faults.clients import Collector, Load
from tests.faults.holding import Tally, faults_of
from tests.faults.kill import rebuilt
from tests.faults.world import World, set_up
from tests.postgres import Cluster

CLIENTS = 12
"""At each service."""

Blow = Callable[[Cluster, World], None]
"""What befalls the server, or a service, while all send."""


def killed(_: Cluster, world: World) -> None:
    """One service is killed, and started again."""
    world.kill()
    world.start()


def restarted(server: Cluster, _: World) -> None:
    """The server is stopped in good order and started."""
    server.stop("fast")
    server.start()


def crashed(server: Cluster, _: World) -> None:
    """The server stops as if its machine had, and recovers from its log."""
    server.stop("immediate")
    server.start()


def cut(server: Cluster, _: World) -> None:
    """Every connection is cut."""
    with psycopg.connect(server.url().replace("+psycopg", ""), autocommit=True) as plain:
        plain.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()"
        )


def blows(server: Cluster, folder: Path, seed: int, kinds: Sequence[Blow], times: int) -> Tally:
    """Two services write one facility's log; blow after blow, all acknowledged must be there."""
    random, tally = Random(seed), Tally("two services on one PostgreSQL server")
    url = server.made(f"faults_{seed}")
    blank = set_up(folder / "blank", url)
    with ExitStack() as ends:
        worlds = [
            ends.enter_context(World.copy_of(blank, folder / name, server=url))
            for name in ("one", "two")
        ]
        every: list[Collector] = []
        lines: list[list[Collector]] = []
        for number, world in enumerate(worlds):
            world.start()
            some = [Collector(seed * 1000 + 100 * number + n) for n in range(CLIENTS)]
            lines.append(some)
            every += some
        for turn in range(times):
            loads = [
                Load(some, world.port, world.token)
                for some, world in zip(lines, worlds, strict=True)
            ]
            before = sum(load.answered() for load in loads)
            wanted = before + random.randrange(20, 120)
            loads[0].until(lambda: sum(load.answered() for load in loads) >= wanted)  # noqa: B023
            kinds[turn % len(kinds)](server, worlds[turn % 2])
            # Who was not hit goes on; it must find its way back to the server by itself.
            spared = loads[1 - turn % 2]
            wanted = spared.answered() + 5
            spared.until(lambda: spared.answered() >= wanted)  # noqa: B023
            for load in loads:
                load.end()
            tally.tried += 1
            tally.wrong += faults_of(worlds[0].entries(), every)
        tally.wrong += worlds[0].checked()
        for world in worlds:
            world.stop()
        tally.wrong += rebuilt(worlds[0])
    with_store = Store(url)
    with with_store.log(blank.facility) as log:
        tally.notes["entries"] = log.size
    with_store.close()
    tally.wrong += (w for c in every for w in c.wrong)
    tally.acknowledged = sum(len(c.acknowledged()) for c in every)
    return tally
