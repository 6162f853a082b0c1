"""Kill the service at random points under load, again and again, and look at what it kept."""

from collections.abc import Callable
from pathlib import Path
from random import Random

from service.store.store import Store
from tests.faults.clients import Collector, Load
from tests.faults.holding import Tally, faults_of
from tests.faults.world import Blank, World
from tests.store.record import exactly

CLIENTS = 32


def kills(
    blank: Blank, folder: Path, seed: int, times: int, told: Callable[[], None] = lambda: None
) -> Tally:
    """Kill and restart ``times`` times; each time all that was acknowledged must be there."""
    random = Random(seed)
    tally = Tally("kill -9 under 32 clients")
    collectors = [Collector(seed * 1000 + n) for n in range(CLIENTS)]
    restarts: list[float] = []
    with World.copy_of(blank, folder) as world:
        for _ in range(times):
            restarts.append(world.start())
            tally.wrong += faults_of(world.entries(), collectors)
            load = Load(collectors, world.port, world.token)
            wanted = load.answered() + random.randrange(1, 150)
            load.until(lambda load=load, wanted=wanted: load.answered() >= wanted)  # type: ignore[misc]
            world.kill()
            load.end()
            tally.wrong += world.checked()
            tally.tried += 1
            told()
        world.start()
        tally.wrong += faults_of(world.entries(), collectors)
        world.stop()
        tally.wrong += rebuilt(world)
    tally.wrong += (w for c in collectors for w in c.wrong)
    tally.acknowledged = sum(len(c.acknowledged()) for c in collectors)
    tally.notes["restarts_s"] = sum(restarts)
    return tally


def rebuilt(world: World) -> list[str]:
    """Derive the projections anew: the rows must be those that the service kept up."""
    rows = []
    for rebuild_first in (False, True):
        if rebuild_first:
            assert world.run("rebuild").exit_code == 0
        store = Store(world.url)
        rows.append(exactly(store, world.facility))
        store.close()
    before, after = rows
    return [f"rebuild gives other rows of {name}" for name in before if before[name] != after[name]]
