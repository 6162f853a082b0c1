"""Services on PostgreSQL, and what befalls them and their server under load."""

import os
import signal
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from pathlib import Path
from random import Random

from service.store.store import Store
from tests.faults.clients import Collector, Load
from tests.faults.holding import Tally, faults_of, lost
from tests.faults.kill import rebuilt
from tests.faults.world import World, set_up
from tests.postgres import Cluster, cluster

CLIENTS = 12
"""At each service."""
HELD_UP = 30
"""Requests that a control acknowledges while nothing is written, or sent, to keep them."""

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


def killed_outright(server: Cluster, _: World) -> None:
    """The server's first process is killed; its others end by themselves, and it is started."""
    server.kill()
    server.start()


def one_killed(server: Cluster, _: World) -> None:
    """One of the processes that work for the services is killed.

    The server then ends all others, as their common memory may be damaged, and recovers by itself.
    """
    [(pid,)] = server.ask(
        "SELECT pid FROM pg_stat_activity WHERE backend_type = 'client backend'"
        " AND pid <> pg_backend_pid() ORDER BY state <> 'active', query_start DESC LIMIT 1"
    )
    os.kill(pid, signal.SIGKILL)


def at_once(server: Cluster, _: World) -> None:
    """All of its processes are killed at once, after none had written for another.

    What a commit itself does not see to on the disk is seen to later by the process that is
    stopped here, so nothing but the commits is tried.
    """
    hold_up_writer(server)
    server.kill(all_at_once=True)
    server.start()


def hold_up_writer(server: Cluster) -> None:
    """Stop the process that writes later what commits did not wait for."""
    [(pid,)] = server.ask("SELECT pid FROM pg_stat_activity WHERE backend_type = 'walwriter'")
    os.kill(pid, signal.SIGSTOP)


def cut(server: Cluster, _: World) -> None:
    """Every connection is cut."""
    server.ask(
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
        " WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()"
    )


EVERY: tuple[Blow, ...] = (killed, restarted, crashed, cut, killed_outright, one_killed, at_once)


def blows(
    server: Cluster,
    folder: Path,
    seed: int,
    kinds: Sequence[Blow],
    times: int,
    told: Callable[[], None] = lambda: None,
) -> Tally:
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
            loads[1 - turn % 2].more(5)
            for load in loads:
                load.end()
            tally.tried += 1
            tally.wrong += faults_of(worlds[0].entries(), every)
            told()
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


WAITS_FOR_NO_DISK = """
CREATE FUNCTION hurry() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN PERFORM set_config('synchronous_commit', 'off', true); RETURN NULL; END $$;
CREATE TRIGGER hurry BEFORE INSERT ON event FOR EACH STATEMENT EXECUTE FUNCTION hurry()
"""
"""Behind the service's back: it has looked at the setting by then, and would refuse it."""


def forgetful(
    folder: Path, seed: int, times: int, told: Callable[[], None] = lambda: None
) -> Tally:
    """The control: a server that says "committed" before it is so is killed, and must lose."""
    tally, random = Tally("server killed, synchronous_commit off"), Random(seed)
    tally.notes["lost"] = 0
    for number in range(times):
        with cluster() as server:
            url = server.made("custody")
            blank = set_up(folder / f"blank-{number}", url)
            server.ask(WAITS_FOR_NO_DISK, "custody")
            every = [Collector(seed * 1_000 + number * CLIENTS + n) for n in range(CLIENTS)]
            with World.copy_of(blank, folder / f"world-{number}", server=url) as world:
                world.start()
                load = Load(every, world.port, world.token)
                load.more(random.randrange(20, 120))
                hold_up_writer(server)
                load.more(HELD_UP)
                server.kill(all_at_once=True)
                load.end()
                world.kill()
                server.start()
                world.start()
                tally.notes["lost"] += lost(world.entries(), every)
        tally.acknowledged += sum(len(c.acknowledged()) for c in every)
        tally.tried += 1
        told()
    return tally
