"""The library that stands between service and disk: built from ``power.c``, steered here."""

import mmap
import shutil
import struct
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Any

from tests.needs import without

SOURCE = Path(__file__).parent / "power.c"
_CONTROL = struct.Struct("=5q")


def build(folder: Path) -> Path:
    """Compile the library; without a compiler the test is skipped, or fails where all must run."""
    if shutil.which("gcc") is None:
        without("no gcc: the disk's faults cannot be acted out (install gcc)")
    library = folder / "power.so"
    warnings = ("-Wall", "-Wextra", "-Werror")
    command = ["gcc", "-O2", *warnings, "-shared", "-fPIC", "-o", str(library), str(SOURCE), "-ldl"]
    subprocess.run([*command, "-lpthread"], check=True)
    return library


def preload(library: Path, database: Path, **more: Path) -> dict[str, str]:
    """The environment in which a process has the library between itself and the disk."""
    said = {f"FAULTS_{name.upper()}": str(path) for name, path in more.items()}
    return {"LD_PRELOAD": str(library), "FAULTS_DATABASE": str(database), **said}


class Control:
    """Has the disk of a running service fail or run full; the service reads it at every call."""

    def __init__(self, path: Path) -> None:
        path.write_bytes(_CONTROL.pack(0, 0, -1, 0, 0))
        with path.open("r+b") as file:
            self._held = mmap.mmap(file.fileno(), _CONTROL.size)

    def _get(self, number: int) -> int:
        value: int = struct.unpack_from("=q", self._held, number * 8)[0]
        return value

    def _set(self, number: int, value: int) -> None:
        struct.pack_into("=q", self._held, number * 8, value)

    @property
    def calls(self) -> int:
        """Writes, syncs and cuts of the database's files so far."""
        return self._get(3)

    @property
    def failed(self) -> int:
        """How many of them failed on purpose."""
        return self._get(4)

    def fail(self, after: int, count: int) -> None:
        """Have ``count`` calls fail with an input/output error once ``after`` more have passed."""
        self._set(1, count)
        self._set(0, self.calls + after + 1)

    def work(self) -> None:
        """Have nothing fail, and room without end."""
        self._set(0, 0)
        self._set(2, -1)

    def leave_room(self, room: int) -> None:
        """Let the files grow by so many bytes, and no more."""
        self._set(2, room)

    def __enter__(self) -> "Control":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: Any, trace: TracebackType | None
    ) -> None:
        self._held.close()
