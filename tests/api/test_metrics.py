"""What a monitoring program reads, by the parser of the form's own reference library."""

from datetime import timedelta

from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from tests.api.client import Clock, Device, event, ids, problem_of, sealed

Labels = frozenset[tuple[str, str]]


def read(device: Device) -> dict[tuple[str, Labels], float]:
    """Every figure by its name and labels."""
    answer = device.get("/metrics")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/plain; version=0.0.4")
    return {
        (sample.name, frozenset(sample.labels.items())): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }


def here(name: str, **labels: str) -> tuple[str, Labels]:
    """The name of a figure of the invented hospital."""
    return name, frozenset({"facility": "lantern-hill", **labels}.items())


def test_the_figures_follow_what_happens(officer: Device, clock: Clock) -> None:
    """Open, due and overdue: India's rules give soiled waste 48 hours (BMWM Rules, 8(7))."""
    bags = ids(3)
    officer.tell(*(sealed(bag) for bag in bags))
    fresh = read(officer)
    assert fresh[here("custody_open_containers")] == 3
    assert fresh[here("custody_due_containers")] == 0

    clock.move(hours=43)
    soon = read(officer)
    assert soon[here("custody_due_containers")] == 3
    assert soon[here("custody_overdue_containers")] == 0

    clock.move(hours=6)
    late = read(officer)
    assert late[here("custody_due_containers")] == 0
    assert late[here("custody_overdue_containers")] == 3
    assert late[here("custody_violations", severity="late")] >= 3


def test_the_log_says_how_far_it_is_signed(officer: Device, clock: Clock) -> None:
    """Entries that no checkpoint covers are counted, and how old the last one is."""
    officer.tell(*(sealed(bag) for bag in ids(4)))
    size = read(officer)[here("custody_log_entries")]
    assert read(officer)[here("custody_log_unsigned_entries")] == size

    officer.get("/v1/checkpoint")
    clock.move(hours=25)
    officer.tell(sealed(ids(1, seed=9)[0], at=clock.now))
    signed = read(officer)
    assert signed[here("custody_log_unsigned_entries")] == 1
    assert signed[here("custody_checkpoint_age_seconds")] == timedelta(hours=25).total_seconds()


def test_answers_are_counted_by_operation_and_status(officer: Device, ward: Device) -> None:
    """So that the time until a scan is on disk can be watched."""
    ward.tell(sealed(ids(1)[0]))
    ward.tell(event("spilled", ids(2)[1], people_exposed=0, action_taken="none"))
    problem_of(ward.get("/v1/events"), 403)
    counted = read(officer)
    recorded = frozenset({"operation": "record_events", "status": "200"}.items())
    refused = frozenset({"operation": "read_record", "status": "403"}.items())
    assert counted["custody_answer_seconds_count", recorded] == 2
    assert counted["custody_answer_seconds_count", refused] == 1
    assert counted["custody_commits_total", frozenset()] >= 1
    assert counted["custody_waiting_entries", frozenset()] == 0


def test_figures_are_for_who_may_read_the_whole_record(ward: Device, http: TestClient) -> None:
    """They tell how much there is, and what is late."""
    problem_of(ward.get("/metrics"), 403)
    problem_of(http.get("/metrics"), 401)
