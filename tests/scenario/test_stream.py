"""The stream is well formed, of the promised size, in order of arrival, and the same by seed."""

import hashlib
import json
from collections import Counter
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from uuid import RFC_4122, UUID

import pytest

from scenario import Quarter, simulate
from scenario.__main__ import main
from scenario.stories import CYCLE_STORIES, STORIES
from service.custody.events import EVENT
from service.custody.identifiers import is_valid
from tests.scenario.reading import Stream, bare

CODES = {story.code for story in STORIES if story.code}
CODES |= {story.wrong[0] for story in CYCLE_STORIES.values()}


def digest(quarter: Quarter) -> str:
    """SHA-256 of everything a quarter says."""
    said = [[b.recorded_at.isoformat(), b.clock_offset_s, b.events] for b in quarter.batches]
    return hashlib.sha256(json.dumps([said, quarter.truth]).encode()).hexdigest()


def test_every_event_is_one_the_service_reads(full: Stream) -> None:
    """Each event of the full stream passes the service's own model of events."""
    for told in full.told:
        EVENT.validate_python(told.event)


def test_size_of_a_full_quarter(full: Stream) -> None:
    """A quarter has 17 to 19 thousand containers and 115 to 130 thousand events."""
    assert 17_000 <= len(full.quarter.containers) <= 19_000
    assert 115_000 <= full.quarter.events <= 130_000


def test_ids_are_as_issued(full: Stream) -> None:
    """Every container id has its check character; no two containers share one."""
    assert len(set(full.quarter.containers)) == len(full.quarter.containers)
    assert all(is_valid(container) for container in full.by_container if container)


def test_event_ids_are_uuids_of_version_7(full: Stream) -> None:
    """Version, variant and the device's time in ms stand where RFC 9562 (2024) 5.7 puts them."""
    for told in full.told[::97]:
        number = UUID(told.event["id"])
        device_time = datetime.fromisoformat(told.event["occurred_at"])
        assert (number.version, number.variant) == (7, RFC_4122)
        assert number.int >> 80 == round(device_time.timestamp() * 1_000)


def test_batches_arrive_in_order_within_the_quarter(full: Stream) -> None:
    """Recorded times never go back, lie in the quarter, and no batch has over 500 events."""
    batches = full.quarter.batches
    assert all(a.recorded_at <= b.recorded_at for a, b in pairwise(batches))
    assert full.quarter.start < batches[0].recorded_at
    assert batches[-1].recorded_at < full.quarter.end
    assert all(1 <= len(batch.events) <= 1_000 for batch in batches)


def test_nothing_is_recorded_before_it_happened(full: Stream) -> None:
    """Every event reaches the service after it truly happened."""
    assert all(told.at <= told.recorded_at for told in full.told)


def test_only_planted_events_are_recorded_late(full: Stream) -> None:
    """Over a day late are just the planted ones; others come hours late from dead spots."""
    delays = [(told.recorded_at - told.at, told.event) for told in full.told]
    late = [event for delay, event in delays if delay > timedelta(hours=24)]
    planted = {f.container for f in full.quarter.planned if f.code == "record.late"}
    assert {bare(event["containers"][0]) for event in late} == planted
    assert len(late) == len(planted)
    assert sum(timedelta(hours=2) < delay < timedelta(hours=12) for delay, _ in delays) > 500


def test_events_come_out_of_order_twice_and_by_wrong_clocks(full: Stream) -> None:
    """The stream has late arrivals, repeats with the same content, and clocks minutes off."""
    arrivals = [told.at for told in full.told]
    assert sum(a > b + timedelta(hours=1) for a, b in pairwise(arrivals)) > 20
    sent = Counter(e["id"] for batch in full.quarter.batches for e in batch.events)
    assert sum(times > 1 for times in sent.values()) > 50
    offsets = [b.clock_offset_s for b in full.quarter.batches if b.clock_offset_s]
    assert len(offsets) >= 5
    assert all(180 <= abs(offset) <= 1_500 for offset in offsets)


def test_days_are_the_stream_cut_by_local_day(small: Stream) -> None:
    """The days give every batch once, each day ending with its last batch."""
    days = list(small.quarter.days())
    assert [b for day in days for b in day.batches] == list(small.quarter.batches)
    assert all(day.now == day.batches[-1].recorded_at for day in days)
    assert len({small.quarter.site.local_day(day.now) for day in days}) == len(days) == 92


def test_most_containers_are_finished_and_the_last_are_open(full: Stream) -> None:
    """Over 95 of 100 are disposed of by the quarter's end; those of the last day are not."""
    gone = {c for told in full.told if told.event["kind"] == "disposed"
            for c in told.event["containers"]}  # fmt: skip
    containers = full.quarter.containers
    assert 0.95 < len(gone & set(containers)) / len(containers) < 1
    assert not gone & set(containers[-50:])


def test_ordinary_happenings_are_there(full: Stream) -> None:
    """Corrections, one of them striking an event out, spills, notices, refusals and finds occur."""
    kinds = Counter(told.event["kind"] for told in full.told)
    for kind in ("amended", "spilled", "notified", "refused", "lost", "found", "inspected"):
        assert kinds[kind] >= 5
    amended = [told.event for told in full.told if told.event["kind"] == "amended"]
    assert any(event.get("corrected") is None for event in amended)
    by_id = {told.event["id"]: told.event for told in full.told}
    assert all(event["supersedes"] in by_id for event in amended)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_code_is_planted_often(seed: int) -> None:
    """At full size each code is planted at least 25 times, each on a container of its own."""
    quarter = simulate(seed)
    planted = Counter(fault.code for fault in quarter.planned)
    assert set(planted) == CODES
    assert min(planted.values()) >= 25
    assert len({fault.container for fault in quarter.planned}) == len(quarter.planned)


def test_same_seed_same_stream() -> None:
    """The same seed gives the same stream to the byte, another seed another."""
    first = digest(simulate(7, containers_per_day=10))
    assert first == digest(simulate(7, containers_per_day=10))
    assert first != digest(simulate(8, containers_per_day=10))


@pytest.mark.parametrize("quarter", [1, 2, 3, 4])
def test_any_quarter_begins_and_ends_at_local_midnight(quarter: int) -> None:
    """A quarter's bounds are midnights of the hospital's own calendar."""
    simulated = simulate(1, year=2027, quarter=quarter, containers_per_day=2)
    zone = simulated.site.zone
    start, end = simulated.start.astimezone(zone), simulated.end.astimezone(zone)
    assert (start.year, start.month, start.day, start.hour) == (2027, 3 * quarter - 2, 1, 0)
    assert (end.day, end.hour, end.minute) == (1, 0, 0)
    assert (end.year - 2027) * 12 + end.month - start.month == 3


@pytest.mark.parametrize(("year", "quarter", "size"), [(2019, 1, 5), (2026, 5, 5), (2026, 1, 0)])
def test_impossible_quarters_are_refused(year: int, quarter: int, size: int) -> None:
    """A year too early, a fifth quarter and an empty hospital get a clear error."""
    with pytest.raises(ValueError, match="needs a year from 2020"):
        simulate(1, year=year, quarter=quarter, containers_per_day=size)


def test_dump_writes_a_line_per_event(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command writes the stream as JSON Lines and says how much there is."""
    out = tmp_path / "stream.jsonl"
    assert main(["--seed", "3", "--per-day", "2", "--out", str(out)]) == 0
    lines = [json.loads(line) for line in out.read_text("utf-8").splitlines()]
    expected = simulate(3, containers_per_day=2)
    assert [line["event"] for line in lines] == [e for b in expected.batches for e in b.events]
    assert f"{len(lines)} lines" in capsys.readouterr().out
