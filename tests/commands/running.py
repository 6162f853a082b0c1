"""A service that runs on a database: another process that holds the claim to write it."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[2]
SERVES = """
import sys
from service.store.store import Store
store = Store(sys.argv[1])
store.database.claim()
print("claimed", flush=True)
sys.stdin.readline()
store.close()
"""


@contextmanager
def running(database: Path) -> Iterator[None]:
    """Have another process hold the database, as ``custody serve`` does, within the block."""
    program = [sys.executable, "-c", SERVES, f"sqlite:///{database}"]
    with subprocess.Popen(
        program, cwd=ROOT, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as serving:
        assert serving.stdout
        assert serving.stdout.readline() == "claimed\n"
        try:
            yield
        finally:
            serving.communicate("done\n")
