"""Run benchmarks: ours, the peer and the limit in turn; print the table, write it into the docs.

``python -m tests.benchmarks [NAME ...] [--rounds N] [--quick]``. With names only those run, and
only their tables are written anew; with ``--quick`` none is.
"""

import argparse
import os
import sys
import time
from datetime import UTC, datetime

from tests.benchmarks import (
    batches,
    due,
    events,
    importing,
    judging,
    manifests,
    postgres,
    printing,
    proofs,
    starting,
)
from tests.benchmarks.frame import Size
from tests.benchmarks.report import conditions, machine, put, tables

ALL = {
    "events": events.measure,
    "postgres": postgres.measure,
    "batches": batches.measure,
    "importing": importing.measure,
    "due": due.measure,
    "manifests": manifests.measure,
    "printing": printing.measure,
    "starting": starting.measure,
    "judging": judging.measure,
    "proofs": proofs.measure,
}
ROUNDS = 3


def main() -> None:
    """Measure what is asked for."""
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    asked.add_argument("names", nargs="*", choices=[*ALL, []], help="all, if none is named")
    asked.add_argument("--rounds", type=int, default=0, help=f"{ROUNDS}, or 2 with --quick")
    asked.add_argument("--quick", action="store_true", help="small counts, for a first look")
    said = asked.parse_args()
    size: Size = "quick" if said.quick else "full"
    rounds = said.rounds or (2 if said.quick else ROUNDS)
    names = said.names or list(ALL)
    if size == "full":
        put("machine", machine())
    for name in names:
        begun, loads = time.monotonic(), [os.getloadavg()[0]]
        told = list(ALL[name](size, rounds))
        loads.append(os.getloadavg()[0])
        text = f"{conditions(datetime.now(UTC).date(), rounds, loads)}\n\n{tables(told)}"
        sys.stdout.write(f"## {name}\n\n{text}\n\n")
        sys.stdout.flush()
        sys.stderr.write(f"{name}: {time.monotonic() - begun:.0f} s\n")
        if size == "full":
            put(name, text)


if __name__ == "__main__":
    main()
