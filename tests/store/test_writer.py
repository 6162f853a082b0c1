"""One thread writes: what waits is committed together, and each sender gets its own answer."""

import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.custody.events import Entry
from service.store.append import Outcome
from service.store.database import BusyError, UnwritableError
from service.store.store import NoSetupError, Store
from service.store.writer import TOGETHER, WAITING_MAX, Job, Writer
from tests.store.record import new_facility, on_file, record
from tests.trade import bag

SOON_S = 10
[ENTRY] = bag("yellow-c").sealed("2026-07-01 08:00").entries
BAD = "bad"


class Disk:
    """A commit that takes until it is let go, and notes what came in which."""

    def __init__(self, *, held: bool = True) -> None:
        self.begun, self.free = threading.Event(), threading.Event()
        self.commits: list[list[str]] = []
        self.sizes: list[int] = []
        self.fault: Exception | None = None
        if not held:
            self.free.set()

    def __call__(self, jobs: Sequence[Job]) -> list[list[Outcome]]:
        """Take as long as the test says; fail where a bad job is among them."""
        self.begun.set()
        assert self.free.wait(SOON_S)
        self.commits.append([job.facility for job in jobs])
        self.sizes.append(sum(len(job.entries) for job in jobs))
        if self.fault:
            raise self.fault
        for job in jobs:
            if job.facility == BAD:
                raise NoSetupError("bad has not been set up")
        return [[Outcome(e.event.id, "recorded") for e in job.entries] for job in jobs]


def test_what_comes_during_a_commit_goes_together_with_the_next() -> None:
    """Twenty senders while the disk is busy with the first: two commits, not twenty-one."""
    disk = Disk()
    writer = Writer(disk)
    first = writer.submit("a", [ENTRY])
    assert disk.begun.wait(SOON_S)
    with ThreadPoolExecutor(20) as pool:
        rest = list(pool.map(lambda n: writer.submit(f"f{n}", [ENTRY] * n), range(1, 21)))
    assert not first.done()
    assert not any(future.done() for future in rest)
    disk.free.set()
    assert [len(future.result(SOON_S)) for future in rest] == list(range(1, 21))
    assert [len(jobs) for jobs in disk.commits] == [1, 20]
    assert writer.commits == 2
    writer.close()


def test_whoever_comes_alone_does_not_wait_for_others() -> None:
    """There is no timer: one job after the other makes one commit each."""
    disk = Disk(held=False)
    writer = Writer(disk)
    for _ in range(5):
        writer.submit("a", [ENTRY]).result(SOON_S)
    assert writer.commits == 5
    writer.close()


def test_a_bad_job_spoils_no_other_and_is_told_itself() -> None:
    """Each of its neighbours is recorded in a try of its own."""
    disk = Disk()
    writer = Writer(disk)
    writer.submit("a", [ENTRY])
    assert disk.begun.wait(SOON_S)
    futures = {name: writer.submit(name, [ENTRY]) for name in ("b", BAD, "c")}
    disk.free.set()
    for name in ("b", "c"):
        assert [o.outcome for o in futures[name].result(SOON_S)] == ["recorded"]
    with pytest.raises(NoSetupError):
        futures[BAD].result(SOON_S)
    assert disk.commits == [["a"], ["b", BAD, "c"], ["b"], [BAD], ["c"]]
    writer.close()


def test_a_fault_of_the_disk_is_told_to_all_and_the_next_are_served() -> None:
    """It is nobody's own fault: nobody is tried again, and the writer lives on."""
    disk = Disk()
    writer = Writer(disk)
    first = writer.submit("a", [ENTRY])
    assert disk.begun.wait(SOON_S)
    rest = [writer.submit(name, [ENTRY]) for name in ("b", "c")]
    disk.fault = UnwritableError("the disk is full", full=True)
    disk.free.set()
    for future in (first, *rest):
        with pytest.raises(UnwritableError):
            future.result(SOON_S)
    assert disk.commits == [["a"], ["b", "c"]]
    disk.fault = None
    assert writer.submit("d", [ENTRY]).result(SOON_S)
    writer.close()


def test_who_comes_when_too_much_waits_is_told_so_at_once() -> None:
    """Nothing of it is taken; a single large job is, where nothing waits; later there is room."""
    disk = Disk()
    writer = Writer(disk)
    writer.submit("a", [ENTRY])
    assert disk.begun.wait(SOON_S)
    waiting = [writer.submit("large", [ENTRY] * (WAITING_MAX + 1))]
    with pytest.raises(BusyError, match="send the same again"):
        writer.submit("b", [ENTRY])
    disk.free.set()
    for future in waiting:
        assert len(future.result(SOON_S)) == WAITING_MAX + 1
    assert writer.submit("b", [ENTRY]).result(SOON_S)
    assert disk.commits == [["a"], ["large"], ["b"]]
    writer.close()


def test_a_commit_has_an_end() -> None:
    """What came first does not wait for all that came after."""
    disk = Disk()
    writer = Writer(disk)
    writer.submit("a", [ENTRY])
    assert disk.begun.wait(SOON_S)
    futures = [writer.submit(f"f{n}", [ENTRY] * (TOGETHER // 2)) for n in range(6)]
    disk.free.set()
    for future in futures:
        future.result(SOON_S)
    assert disk.sizes == [1, TOGETHER, TOGETHER, TOGETHER]
    writer.close()


def test_closing_commits_what_waits_and_a_later_job_is_served_too() -> None:
    """However often it is closed, and while others send."""
    disk = Disk()
    writer = Writer(disk)
    futures = [writer.submit(f"f{n}", [ENTRY]) for n in range(3)]
    closing = threading.Thread(target=writer.close)
    closing.start()
    disk.free.set()
    closing.join(SOON_S)
    assert not closing.is_alive()
    assert all(future.done() for future in futures)
    writer.close()
    assert writer.submit("late", [ENTRY]).result(SOON_S)
    writer.close()


def test_jobs_that_come_while_it_closes_are_served_each() -> None:
    """No moment of closing leaves a sender without an answer."""
    writer = Writer(Disk(held=False))

    def send(number: int) -> int:
        return len(writer.submit(f"f{number}", [ENTRY]).result(SOON_S))

    with ThreadPoolExecutor(8) as pool:
        sent = [pool.submit(send, number) for number in range(300)]
        for _ in range(50):
            writer.close()
        assert [future.result(SOON_S) for future in sent] == [1] * 300
    writer.close()


def test_senders_of_several_facilities_share_commits_and_get_their_own_outcomes(
    store: Store,
) -> None:
    """On a real database: every entry is on record once, in its own facility, in its order."""
    houses = [new_facility(store) for _ in range(3)]
    before = store.commits

    def send(number: int) -> tuple[list[Entry], list[Outcome]]:
        story = bag("yellow-c", f"BAG-{number}").sealed("2026-07-01 08:00")
        story.weighed("2026-07-01 09:00", 900 + number)
        return story.entries, store.append(houses[number % 3], story.entries)

    with ThreadPoolExecutor(16) as pool:
        sent = list(pool.map(send, range(60)))
    for entries, outcomes in sent:
        assert [o.id for o in outcomes] == [e.event.id for e in entries]
        assert {o.outcome for o in outcomes} == {"recorded"}
    for number, house in enumerate(houses):
        mine = {str(e.event.id) for told, _ in sent[number::3] for e in told}
        assert {row.id for row in record(store, house)} == mine
        assert len(record(store, house)) == 40
    assert store.commits - before < 60


def test_a_facility_that_is_not_set_up_fails_alone(store: Store, facility: str) -> None:
    """Whether or not its job came with others."""
    with ThreadPoolExecutor(8) as pool:
        bad = [pool.submit(store.append, "nowhere", [ENTRY]) for _ in range(4)]
        story = bag("yellow-c").sealed("2026-07-01 08:00")
        good = pool.submit(store.append, facility, story.entries)
    assert [o.outcome for o in good.result()] == ["recorded"]
    for future in bad:
        with pytest.raises(NoSetupError, match="nowhere"):
            future.result()


def test_closing_a_store_leaves_nothing_behind(tmp_path: Path) -> None:
    """What was sent before is on disk when it is opened again."""
    kept = on_file(tmp_path)
    house = new_facility(kept)
    future = kept._writer.submit(house, bag("yellow-c").sealed("2026-07-01 08:00").entries)
    kept.close()
    assert future.done()
    again = on_file(tmp_path)
    assert len(record(again, house)) == 1
    again.close()
