"""``python -m scenario --seed 1 --out FILE.jsonl``: the stream as JSON Lines, to look at."""

import argparse
import json
import sys
from pathlib import Path

from scenario.quarter import FULL_DAY, Quarter, simulate


def main(arguments: list[str] | None = None) -> int:
    """Write a line per event, with when it reaches the service; say how much there is."""
    parser = argparse.ArgumentParser(prog="scenario", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--year", type=int, default=2026)
    parser.add_argument("--quarter", type=int, default=3, choices=(1, 2, 3, 4))
    parser.add_argument("--per-day", type=int, default=FULL_DAY, help="containers on a mean day")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args(arguments)
    try:
        quarter = simulate(given.seed, given.year, given.quarter, given.per_day)
        count = _dump(quarter, given.out)
    except (ValueError, OSError) as error:
        parser.error(str(error))
    sys.stdout.write(
        f"{given.out}: {count} lines, {len(quarter.containers)} containers, "
        f"{len(quarter.planned)} planted faults\n"
    )
    return 0


def _dump(quarter: Quarter, out: Path) -> int:
    count = 0
    with out.open("w", encoding="utf-8") as file:
        for batch in quarter.batches:
            for event in batch.events:
                line = {
                    "recorded_at": batch.recorded_at.isoformat(),
                    "clock_offset_s": batch.clock_offset_s,
                    "event": event,
                }
                file.write(json.dumps(line, ensure_ascii=False) + "\n")
                count += 1
    return count


if __name__ == "__main__":
    raise SystemExit(main())
