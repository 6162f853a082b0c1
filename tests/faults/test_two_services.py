"""One process writes a file: a second is refused, and the log cannot fork."""

import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.custody.words import Role
from service.duties.access import Caller, UnusableError
from service.duties.record import Told, record_events
from service.store.store import Store
from tests.faults.clients import Collector, Line, happenings
from tests.faults.holding import faults_of
from tests.faults.world import Blank, World

ENDED_S = 30


def test_a_second_service_on_the_same_file_is_refused(blank: Blank, tmp_path: Path) -> None:
    """The second ends at once and says why; the first goes on."""
    collector = Collector(7)
    with World.copy_of(blank, tmp_path / "world") as first:
        first.start()
        second = World(first.folder, first.facility, first.token)
        before = (first.folder / "service.log").stat().st_size
        process = second.launch()
        try:
            ended = process.wait(timeout=ENDED_S)
        except subprocess.TimeoutExpired:
            ended = 0  # it serves beside the first
        finally:
            process.kill()
            process.wait()
        said = (first.folder / "service.log").read_bytes()[before:].decode()
        with Line(first.port, first.token) as line:
            assert collector.send_one(line)
        entries = first.entries()

    assert ended not in (0, None)
    assert "another process" in " ".join(said.split())
    assert "Traceback" not in said
    assert collector.acknowledged() != []
    assert faults_of(entries, [collector]) == []


def test_another_process_cannot_append_beside_the_service(blank: Blank, tmp_path: Path) -> None:
    """Whoever opens the file while the service has it cannot record, so the log cannot fork."""
    collector = Collector(8)
    event = next(happenings(9))
    with World.copy_of(blank, tmp_path / "world") as world:
        world.start()
        with Line(world.port, world.token) as line:
            collector.send_one(line)
            beside = Store(world.url)
            try:
                caller = Caller(world.facility, "beside", Role.OFFICER)
                with pytest.raises(UnusableError, match="another process"):
                    record_events(beside, caller, [event], Told(datetime.now(UTC)))
            finally:
                beside.close()
            collector.send_one(line)
        entries = world.entries()
        world.stop()
        wrong = world.checked()

    assert faults_of(entries, [collector]) == []
    assert event["id"] not in {held["id"] for _, held in entries}
    assert wrong == []
