"""How soon a command answers and a service is ready, beside the bare libraries they rest on."""

import os
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.frame import Rounds, Row, Size, Told, at_most, seconds
from tests.benchmarks.serving import answers, room
from tests.faults.world import ROOT, World, free_port, set_up

HELP = ("-c", "from service.start import custody; custody()", "--help")
TYPER = (
    "-c",
    """import typer
app = typer.Typer()
@app.command()
def one(name: str) -> None:
    'Say something.'
app(['--help'])
""",
)
FASTAPI = (
    "import sqlmodel, uvicorn\nfrom fastapi import FastAPI\napp = FastAPI()\n"
    "@app.get('/health')\nasync def health() -> dict[str, str]:\n    return {}\n"
    "uvicorn.run(app, port=%d, log_level='error')"
)
TIMES = {"tiny": 1, "quick": 1, "full": 2}


def measure(size: Size, rounds: int) -> Told:
    """Compare processor times: what else the machine does hardly shows in them."""
    with room() as folder:
        blank = set_up(folder)
        world = World(folder, blank.facility, blank.token)
        found = Rounds.of(
            rounds * TIMES[size],
            {
                "help": lambda: _ran(HELP),
                "typer": lambda: _ran(TYPER),
                "service": lambda: _ready(world),
                "fastapi": _bare_ready,
            },
        )
    yield Row("`custody --help`, processor time", seconds(found["help"]),
              f"a bare typer command {seconds(found['typer'])}",
              found.ratios("help", "typer"), at_most(3))  # fmt: skip
    yield Row("the service ready after its start, processor time", seconds(found["service"]),
              f"bare FastAPI with SQLModel imported {seconds(found['fastapi'])}",
              found.ratios("service", "fastapi"), at_most(2))  # fmt: skip


def _ran(words: Sequence[str]) -> float:
    """Seconds of processor time of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _ready(world: World) -> float:
    process = world.launch()
    return _until_ready(process, world.port)


def _bare_ready() -> float:
    port = free_port()
    return _until_ready(subprocess.Popen([sys.executable, "-c", FASTAPI % port]), port)


def _until_ready(process: subprocess.Popen[bytes], port: int) -> float:
    """Seconds of processor time until it answers; it is ended then."""
    try:
        while not answers(port):
            if process.poll() is not None:
                raise RuntimeError("the server did not come up")
            time.sleep(0.01)
        spent = Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()[11:13]
        return sum(map(int, spent)) / os.sysconf("SC_CLK_TCK")
    finally:
        process.kill()
        process.wait()
