"""The fault tests in numbers, for a night: ``python -m tests.faults --kills 1000 --power 200``.

Prints a table of bounds and ends with 1 if anything went wrong, or if a control lost nothing.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from time import monotonic

from rich.console import Console
from rich.progress import MofNCompleteColumn, Progress, TimeElapsedColumn
from rich.table import Table

from tests.faults.backing_up import backups
from tests.faults.corrupt import damages
from tests.faults.failing import failures, fillings
from tests.faults.flips import false_alarms, flips
from tests.faults.hanging_up import hang_ups
from tests.faults.holding import Tally
from tests.faults.kill import kills
from tests.faults.power import EAGER, Plan, cuts
from tests.faults.replay import replays
from tests.faults.servers import EVERY, blows, forgetful
from tests.faults.shim import build
from tests.faults.standby import failovers
from tests.faults.world import SERVE, Blank, set_up
from tests.postgres import cluster, programs

CONTROLS = ("control", "server-control", "failover-control")
"""What must lose something, or the same without a loss shows nothing."""
ON_POSTGRESQL = ("servers", "server-control", "failovers", "failover-control")

Told = Callable[[], None]
Round = Callable[[Path, int, int, Told], Tally]
"""Tries in a folder with a seed, so many times, and tells of each."""

LONG = {
    "kills": (1_000, 10),
    "power": (200, 10),
    "control": (20, 4),
    "full": (100, 20),
    "errors": (800, 400),
    "replay": (1_000, 1_000),
    "hang-ups": (1_000, 250),
    "damages": (200, 200),
    "backups": (20, 5),
    "servers": (100, 20),
    "server-control": (5, 1),
    "failovers": (40, 2),
    "failover-control": (5, 1),
    "flips": (10_000, 10_000),
    "bundles": (100, 100),
}
"""What is tried: how often in the long run, and how often in one round on a record of its own."""


def rounds(blank: Blank, library: Path) -> dict[str, Round]:
    """How each is tried."""

    def power(weaker: bool) -> Round:
        def round_(folder: Path, seed: int, times: int, told: Told) -> Tally:
            plan = Plan(seed, times, 0 if weaker else 40, weaker)
            return cuts(blank, folder, library, plan, told)

        return round_

    def on_server(folder: Path, seed: int, times: int, told: Told) -> Tally:
        with cluster() as server:
            return blows(server, folder, seed, EVERY, times, told)

    return {
        "kills": lambda f, seed, n, told: kills(blank, f / "world", seed, n, told),
        "power": power(weaker=False),
        "control": power(weaker=True),
        "full": lambda f, _, n, told: fillings(blank, f, library, n, told),
        "errors": lambda f, seed, n, told: failures(
            blank, f, library, n, (SERVE, EAGER)[seed % 2], told
        ),
        "replay": lambda f, seed, n, _: replays(blank, f / "world", seed, n),
        "hang-ups": lambda f, seed, n, told: hang_ups(blank, f / "world", seed, n, told),
        "damages": lambda f, seed, n, told: damages(blank, f, seed, n, told=told),
        "backups": lambda f, _, n, told: backups(blank, f, n, told),
        "servers": on_server,
        "server-control": forgetful,
        "failovers": lambda f, seed, n, told: failovers(f, seed, n, told, waits=True),
        "failover-control": lambda f, seed, n, told: failovers(f, seed, n, told, waits=False),
        "flips": lambda _, seed, n, told: flips(seed, n, told),
        "bundles": lambda _, seed, n, told: false_alarms(seed, n, told),
    }


def asked() -> argparse.Namespace:
    """Read the command line: each count may be given; 0 leaves that part out."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    for name, (times, _) in LONG.items():
        parser.add_argument(f"--{name}", type=int, default=times, help=f"usually {times}")
    parser.add_argument("--seed", type=int, default=1)
    return parser.parse_args()


def portions(times: int, at_once: int) -> Iterator[int]:
    """Split a count into rounds."""
    for done in range(0, times, at_once):
        yield min(at_once, times - done)


def main() -> int:
    """Try everything that was asked for; print what came of it."""
    words, console = asked(), Console()
    table = Table("what", "wrong", "acknowledged", "seconds", "besides")
    failed = False
    with (
        tempfile.TemporaryDirectory() as name,
        Progress(
            *Progress.get_default_columns(),
            MofNCompleteColumn(),
            TimeElapsedColumn(),
            console=console,
        ) as bar,
    ):
        top = Path(name)
        tries = rounds(set_up(top / "blank"), build(top))
        for part, (_, at_once) in LONG.items():
            times = getattr(words, part.replace("-", "_"))
            if not times:
                continue
            if part in ON_POSTGRESQL and programs() is None:
                bar.console.print(f"  {part}: left out, PostgreSQL is not installed")
                continue
            tally, began, task = Tally(part), monotonic(), bar.add_task(part, total=times)
            for number, portion in enumerate(portions(times, at_once)):
                folder = top / f"{part}-{number}"
                folder.mkdir()
                seed = words.seed * 1_000 + number
                tally.add(tries[part](folder, seed, portion, lambda t=task: bar.advance(t)))  # type: ignore[misc]
            is_control = part in CONTROLS
            wrong = not tally.notes["lost"] if is_control else bool(tally.wrong)
            failed |= wrong
            bound = f"{tally.notes['lost']} lost, as it must" if is_control else tally.bound()
            besides = ", ".join(f"{k} {v:.5g}" for k, v in tally.notes.items())
            seconds = f"{monotonic() - began:.0f}"
            table.add_row(tally.what, bound, f"{tally.acknowledged:,}", seconds, besides)
            for said in dict.fromkeys(tally.wrong[: 0 if is_control else 20]):
                bar.console.print(f"  {part}: {said[:500]}", highlight=False, markup=False)
    console.print(table)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
