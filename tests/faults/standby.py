"""A server with a standby: the first fails as a machine does, the other takes its place.

What the first had not sent yet is lost with it. Before it fails, its sending is held up, so that
there is something: entries that were acknowledged already, if nothing waits for the standby.
"""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

from tests.faults.clients import Collector, Load
from tests.faults.holding import Tally, faults_of, lost
from tests.faults.kill import rebuilt
from tests.faults.servers import CLIENTS, HELD_UP
from tests.faults.world import World, set_up
from tests.postgres import Cluster, cluster, quick


@contextmanager
def pair(*, waits: bool) -> Iterator[tuple[Cluster, Cluster, str]]:
    """Two servers, and the address of both; ``waits``: a commit does, for the second's disk."""
    with cluster(where=quick()) as first:
        first.made("custody")
        second = first.copied("standby")
        try:
            second.start()
            if waits:  # told only now: the copy would wait for a third
                first.ask("ALTER SYSTEM SET synchronous_standby_names = '*'")
                first.ask("SELECT pg_reload_conf()")
                while first.ask("SELECT sync_state FROM pg_stat_replication") != [("sync",)]:
                    pass
            hosts = "&".join(f"host=127.0.0.1:{each.port}" for each in (first, second))
            yield (
                first,
                second,
                f"postgresql+psycopg://custody@/custody?{hosts}&target_session_attrs=read-write",
            )
        finally:
            if second.processes():
                second.kill(all_at_once=True)


def hold_up(first: Cluster) -> int:
    """Have the first server send nothing more to the second; give the process that did."""
    [(pid,)] = first.ask("SELECT pid FROM pg_stat_replication")
    os.kill(pid, signal.SIGSTOP)
    return int(pid)


def wait_for_standby(first: Cluster) -> bool:
    """Say whether a commit waits for the standby."""
    waiting = "SELECT pid FROM pg_stat_activity WHERE wait_event = 'SyncRep'"
    return first.ask(waiting) != []


def failovers(
    folder: Path, seed: int, times: int, told: Callable[[], None] = lambda: None, *, waits: bool
) -> Tally:
    """Fail over under load, each time with two servers anew; the service goes on by itself."""
    random = Random(seed)
    tally = Tally(f"failover to a standby that commits {'' if waits else 'do not '}wait for")
    tally.notes["lost"] = 0
    for number in range(times):
        with pair(waits=waits) as (first, second, url):
            blank = set_up(folder / f"blank-{number}", url)
            every = [Collector(seed * 1_000 + number * CLIENTS + n) for n in range(CLIENTS)]
            with World.copy_of(blank, folder / f"world-{number}", server=url) as world:
                world.start()
                load = Load(every, world.port, world.token)
                load.more(random.randrange(20, 120))
                if not waits or number % 2 == 0:  # else it fails while it sends
                    hold_up(first)
                load.more(HELD_UP, unless=lambda f=first: wait_for_standby(f))  # type: ignore[misc]
                first.kill(all_at_once=True)
                second.promote()
                load.more(20)
                load.end()
                entries = world.entries()
                world.stop()
                tally.wrong += faults_of(entries, every)
                tally.wrong += world.checked()
                tally.wrong += rebuilt(world)
        tally.notes["lost"] += lost(entries, every)
        tally.wrong += (w for c in every for w in c.wrong)
        tally.acknowledged += sum(len(c.acknowledged()) for c in every)
        tally.tried += 1
        told()
    return tally
