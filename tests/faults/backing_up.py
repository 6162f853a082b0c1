"""Backups taken while the service is at work: each opens, and holds what was there before it."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import monotonic_ns

from tests.faults.clients import Collector, Load
from tests.faults.holding import Tally, faults_of
from tests.faults.world import Blank, World

CLIENTS = 16


def backups(
    blank: Blank, folder: Path, times: int, told: Callable[[], None] = lambda: None
) -> Tally:
    """Take backups under load; restore each elsewhere and look at it."""
    tally = Tally("a backup taken under 16 clients, restored")
    collectors = [Collector(6_000 + n) for n in range(CLIENTS)]
    with World.copy_of(blank, folder / "world") as world:
        world.start()
        taken = []
        load = Load(collectors, world.port, world.token)
        try:
            for number in range(times):
                enough = load.answered() + CLIENTS
                load.until(lambda enough=enough: load.answered() >= enough)  # type: ignore[misc]
                began_ns = monotonic_ns()
                out = folder / f"backup-{number}"
                result = world.run("backup", str(out))
                assert result.exit_code == 0, result.output
                taken.append((out, began_ns))
        finally:
            load.end()
        whole = world.entries()
    for number, (out, began_ns) in enumerate(taken):
        restored = replace(world, folder=folder / f"restored-{number}")
        restored.folder.mkdir()
        result = world.run("restore", str(out), "--into", str(restored.database))
        assert result.exit_code == 0, result.output
        tally.wrong += restored.checked()
        with restored:
            restored.start()
            found = restored.entries()
        tally.wrong += faults_of(found, collectors, began_ns)
        if found != whole[: len(found)]:
            tally.wrong.append("a backup is no beginning of the record")
        tally.tried += 1
        told()
    tally.acknowledged = sum(len(c.acknowledged()) for c in collectors)
    return tally
