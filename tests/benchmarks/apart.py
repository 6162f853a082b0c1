"""One piece of work in a process of its own, which tells the time it took and its most memory."""

import json
import sys
from pathlib import Path

from tests.benchmarks.frame import cpu_s


def peak_mb() -> float:
    """The most memory that this process has held, in megabytes (Linux)."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1_000
    raise RuntimeError("this system does not tell how much memory a process has held")


def main(what: str, folder: Path) -> None:
    """Work, then print what it took as JSON."""
    if what == "import":
        from tests.benchmarks.importing import imported

        spent = imported(folder / "list.csv", folder)
    else:
        from tests.benchmarks.manifests import bundled

        spent = cpu_s(lambda: bundled(folder))
    sys.stdout.write(json.dumps({"seconds": spent, "peak_mb": peak_mb()}))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
