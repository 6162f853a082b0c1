"""One thread writes: what waits is committed together, and each sender gets its own answer."""

import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.custody.events import Entry
from service.store import writer as writing
from service.store.append import Outcome
from service.store.faults import BusyError, UnwritableError
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


# --- several at a time, as on a server


def test_facilities_go_apart_and_one_is_never_in_two_commits_at_once() -> None:
    """While one commit is on its way the other facilities' go on; of the same, what came waits."""
    held, first, second = threading.Event(), threading.Event(), threading.Event()
    commits: list[list[str]] = []

    def commit(jobs: Sequence[Job]) -> list[list[Outcome]]:
        commits.append([job.facility for job in jobs])
        if jobs[0].facility == "a" and len(jobs) == 1:
            first.set()
            assert held.wait(SOON_S)
        elif jobs[0].facility == "a":
            second.set()
        return [[Outcome(e.event.id, "recorded") for e in job.entries] for job in jobs]

    writer = Writer(commit, threads=2)
    slow = writer.submit("a", [ENTRY])
    assert first.wait(SOON_S)
    same = [writer.submit("a", [ENTRY]) for _ in range(3)]
    for name in ("b", "c", "b"):
        assert writer.submit(name, [ENTRY]).result(SOON_S)
    assert not slow.done()
    assert not second.is_set()
    held.set()
    for future in (slow, *same):
        assert future.result(SOON_S)
    assert commits == [["a"], ["b"], ["c"], ["b"], ["a", "a", "a"]]
    writer.close()


def test_what_waits_of_several_facilities_is_all_recorded_before_the_end() -> None:
    """Each commit is of one of them, in the order in which its own came."""
    disk = Disk()
    writer = Writer(disk, threads=3)
    told = [writer.submit(f"f{n % 5}", [ENTRY] * (n + 1)) for n in range(40)]
    disk.free.set()
    writer.close()
    assert [len(future.result(0)) for future in told] == list(range(1, 41))
    assert all(len({*facilities}) == 1 for facilities in disk.commits)
    assert writer.waiting == 0


# --- what is on its way


class Sender:
    """One who says that something is on its way, and sends it, or nothing, when told to."""

    def __init__(self, writer: Writer, name: str = "") -> None:
        self._writer, self._name = writer, name
        self._said, self._go = threading.Event(), threading.Event()
        self._outcomes: list[Outcome] = []
        self._thread = threading.Thread(target=self._run)
        self._thread.start()
        assert self._said.wait(SOON_S)

    def _run(self) -> None:
        with self._writer.expected():
            self._said.set()
            assert self._go.wait(SOON_S)
            if self._name:
                self._outcomes = self._writer.submit(self._name, [ENTRY]).result(SOON_S)

    def goes(self) -> list[Outcome]:
        """Have it done; gives the outcomes once they are there."""
        self._go.set()
        self._thread.join(SOON_S)
        assert not self._thread.is_alive()
        return self._outcomes


def test_a_commit_waits_while_more_are_on_their_way_than_are_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One is there and two are on their way: with the second it goes; the third is not kept."""
    monkeypatch.setattr(writing, "PATIENCE_S", SOON_S)
    disk = Disk(held=False)
    writer = Writer(disk)
    second, third = Sender(writer, "second"), Sender(writer, "third")
    first = writer.submit("first", [ENTRY])
    assert [o.outcome for o in second.goes()] == ["recorded"]
    assert first.done()
    assert disk.commits == [["first", "second"]]
    third.goes()
    assert disk.commits == [["first", "second"], ["third"]]
    writer.close()


def test_what_comes_to_nothing_is_waited_for_no_longer(monkeypatch: pytest.MonkeyPatch) -> None:
    """A request that was refused, or whose sender hung up."""
    monkeypatch.setattr(writing, "PATIENCE_S", 10 * SOON_S)
    writer = Writer(Disk(held=False))
    nothing = [Sender(writer), Sender(writer)]
    first = writer.submit("first", [ENTRY])
    for each in nothing:
        each.goes()
    assert first.result(SOON_S)
    writer.close()


def test_what_is_held_up_is_waited_for_no_longer_than_that(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Patience has an end; what comes after all is taken then."""
    monkeypatch.setattr(writing, "PATIENCE_S", 0)
    disk = Disk(held=False)
    writer = Writer(disk)
    held_up = [Sender(writer, "b"), Sender(writer, "c")]
    assert writer.submit("a", [ENTRY]).result(SOON_S)
    for each in held_up:
        assert each.goes()
    assert disk.commits == [["a"], ["b"], ["c"]]
    writer.close()


def test_what_is_sent_in_two_goes_was_on_its_way_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second is not counted off again: nobody is waited for, or passed over, for it."""
    monkeypatch.setattr(writing, "PATIENCE_S", 10 * SOON_S)
    writer = Writer(Disk(held=False))
    with writer.expected():
        for name in ("a", "b"):
            assert writer.submit(name, [ENTRY]).result(SOON_S)
    second, third = Sender(writer, "second"), Sender(writer)
    first = writer.submit("first", [ENTRY])
    assert second.goes()
    assert first.done()
    assert writer.commits == 3
    third.goes()
    writer.close()


# --- closing


def test_closing_commits_what_waits_and_who_comes_later_is_told_so() -> None:
    """However often it is closed."""
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
    with pytest.raises(BusyError, match="the service is stopping: send the same again"):
        writer.submit("late", [ENTRY])
    assert all("late" not in names for names in disk.commits)


def test_closing_does_not_wait_for_what_is_on_its_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is there is committed at once; what comes then is told that it is too late."""
    monkeypatch.setattr(writing, "PATIENCE_S", 10 * SOON_S)
    writer = Writer(Disk(held=False))
    on_their_way = [Sender(writer), Sender(writer)]
    there = writer.submit("there", [ENTRY])
    writer.close()
    assert there.done()
    for each in on_their_way:
        each.goes()


def test_each_that_comes_while_it_closes_is_recorded_or_told() -> None:
    """No moment of closing leaves a sender without an answer, or with a wrong one."""
    disk = Disk(held=False)
    writer = Writer(disk)

    def send(number: int) -> str:
        if number == 100:
            writer.close()
        try:
            [outcome] = writer.submit(f"f{number}", [ENTRY]).result(SOON_S)
        except BusyError:
            return "told"
        return outcome.outcome

    with ThreadPoolExecutor(8) as pool:
        said = list(pool.map(send, range(300)))
    assert set(said) == {"recorded", "told"}
    recorded = {f"f{number}" for number, each in enumerate(said) if each == "recorded"}
    assert {name for names in disk.commits for name in names} == recorded


# --- on a real database


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
    with pytest.raises(BusyError, match="the service is stopping"):
        kept.append(house, bag("yellow-c", "LATE").sealed("2026-07-01 08:00").entries)
    again = on_file(tmp_path)
    assert len(record(again, house)) == 1
    again.close()
