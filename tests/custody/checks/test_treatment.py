"""Proof of treatment: each rule with its boundary, on one red bag and its cycle."""

from datetime import timedelta

import pytest

from service.custody.acts import Step
from service.custody.holding import treated_at
from service.custody.words import Severity
from tests.machines import FAILING, Load, good_load, machine, plant
from tests.trade import at

TEXT = plant()


def test_a_cycle_with_all_its_evidence_is_not_flagged() -> None:
    """Trace, indicator and spore test in time, on a fit machine: nothing is wrong."""
    story = good_load()
    assert story.flags(TEXT) == []
    proof = story.judged(TEXT).proofs["K-1"]
    assert proof.outcome == "pass"
    assert story.stands(TEXT).steps == (Step.AUTOCLAVE,)


def test_a_failed_cycle_leaves_its_load_untreated() -> None:
    """50 min at 121.5 °C where 60 are asked: untreated, the clock runs on, it may go in again."""
    story = good_load()
    story.traced("2026-07-06 11:31", FAILING)
    failed = story.flags(TEXT, "treatment.failed")[0]
    assert failed.opened_at == at("2026-07-06 11:31")
    assert failed.severity is Severity.UNSAFE
    assert "Schedule II" in failed.clause
    standing = story.stands(TEXT)
    assert standing.state == "received"
    assert standing.steps == ()
    assert Step.AUTOCLAVE in standing.next_acts
    assert treated_at(story.judged(TEXT)) is None, "its holding clock still runs from its start"


def test_a_further_trace_that_passes_does_not_undo_one_that_fails() -> None:
    """A file that belongs to another cycle is struck out by an amendment, not outvoted."""
    story = good_load().traced("2026-07-06 12:00", FAILING).traced("2026-07-06 12:10")
    assert story.stands(TEXT).steps == ()


def test_a_load_treated_again_closes_the_failure() -> None:
    """The second cycle passes: the failure ends with it, and the load is treated then."""
    story = good_load().traced("2026-07-06 11:40", FAILING)
    story.ran("2026-07-06 12:00", "2026-07-06 13:21", "K-2").indicated(
        "2026-07-06 13:25", name="K-2"
    )
    story.traced("2026-07-06 13:30", name="K-2")
    [failed] = story.flags(TEXT)
    assert failed.closed_at == at("2026-07-06 13:21")
    assert treated_at(story.judged(TEXT)) == at("2026-07-06 13:21")


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("indicator_read", {"turned": False}),
        ("load_observed", {"wet": True}),
        ("load_observed", {"seal_broken": True}),
    ],
)
def test_what_people_saw_unmakes_a_cycle_whatever_its_trace(
    kind: str, said: dict[str, bool]
) -> None:
    """An indicator that did not turn, a wet load, a seal that gave way: untreated."""
    story = good_load().told(kind, "2026-07-06 11:40", cycle="K-1", **said)
    [failed] = story.flags(TEXT)
    assert failed.code == "treatment.failed"
    assert failed.opened_at == at("2026-07-06 11:40")


def _untraced() -> Load:
    story = Load().at_the_plant().spores("2026-07-03 08:00")
    return story.ran("2026-07-06 10:00", "2026-07-06 11:21").indicated("2026-07-06 11:25")


def test_a_cycle_without_a_trace_is_unproved_a_day_after_its_end() -> None:
    """24 h are the house's; a trace on the last instant is in time."""
    [unproved] = _untraced().flags(TEXT)
    assert unproved.code == "treatment.unproved"
    assert unproved.opened_at == at("2026-07-07 11:21")
    assert _untraced().traced("2026-07-07 11:21").flags(TEXT) == []


def test_a_late_trace_closes_what_it_proves() -> None:
    """What was missing for an hour stays on record as that."""
    [unproved] = _untraced().traced("2026-07-07 12:21").flags(TEXT)
    assert unproved.closed_at - unproved.opened_at == timedelta(hours=1)


def test_a_load_let_go_before_it_was_proved_is_flagged_from_then() -> None:
    """It was shredded at noon; the trace came at one."""
    story = _untraced().traced("2026-07-06 13:00")
    story.tell("treated", "2026-07-06 12:00", step="shred", party="plant", cycle="S-1")
    [unproved] = [v for v in story.flags(TEXT) if "K-1" in v.message]
    assert unproved.opened_at == at("2026-07-06 12:00")
    assert unproved.closed_at == at("2026-07-06 13:00")
    assert "let go" in unproved.message


def test_a_load_without_an_indicator_is_flagged() -> None:
    """Every batch carries one in India (BMW Rules 2016 Schedule II, from memory)."""
    story = Load().at_the_plant().spores("2026-07-03 08:00")
    story.ran("2026-07-06 10:00", "2026-07-06 11:21").traced("2026-07-06 11:30")
    [missing] = story.flags(TEXT)
    assert missing.code == "treatment.no_indicator"
    assert "Schedule II" in missing.clause


@pytest.mark.parametrize(
    ("tested", "late"), [("2026-06-29 10:00", False), ("2026-06-29 09:59", True)]
)
def test_a_spore_test_covers_a_week(tested: str, late: bool) -> None:
    """Seven days to the minute are in time (weekly, BMW Rules 2016 Schedule II, from memory)."""
    story = Load().at_the_plant().spores(tested)
    story.ran("2026-07-06 10:00", "2026-07-06 11:21").indicated("2026-07-06 11:25")
    story.traced("2026-07-06 11:30")
    assert [v.code for v in story.flags(TEXT)] == (["treatment.unproved"] if late else [])


def test_a_licence_may_ask_for_spore_tests_more_often() -> None:
    """The machine's own two days count where they are shorter than the text's seven."""
    assert (
        good_load().flags(plant(machine("ac-1", spore_test_days=2)))[0].code == "treatment.unproved"
    )


@pytest.mark.parametrize("when", ["2026-07-05 08:00", "2026-07-07 08:00"])
def test_spores_that_grew_cast_doubt_on_the_cycles_beside_them(when: str) -> None:
    """Before or after the cycle: nothing shows that the machine killed spores in between."""
    [doubt] = good_load().spores(when, grew=True).flags(TEXT)
    assert doubt.code == "treatment.unproved"
    assert "grew" in doubt.message


def test_a_machine_that_nobody_registered_is_recorded_and_flagged() -> None:
    """The event stands; the load counts by its trace, and the machine is told."""
    story = Load().at_the_plant().spores("2026-07-03 08:00", machine="drum")
    story.ran("2026-07-06 10:00", "2026-07-06 11:21", machine="drum")
    story.indicated("2026-07-06 11:25").traced("2026-07-06 11:30")
    [unknown] = story.flags(TEXT)
    assert unknown.code == "machine.not_fit"
    assert "drum" in unknown.message


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ({"waste_only": False}, "waste alone"),
        ({"validation": []}, "validated"),
        ({"validation": [{"on": "2026-04-01", "until": "2027-04-01"}]}, "validated"),
        ({"calibration": [{"on": "2025-01-01", "until": "2026-07-05"}]}, "calibrated"),
        ({"steps": ["shred"]}, "no autoclave"),
        ({"party": "hub"}, "is of hub"),
    ],
)
def test_a_machine_must_be_fit_on_the_day(said: dict[str, object], word: str) -> None:
    """Kept for waste, validated within three months, calibrated, doing that step, of that plant."""
    [unfit] = good_load().flags(plant(machine("ac-1", **said)), "machine.not_fit")
    assert word in unfit.message


@pytest.mark.parametrize(("load_g", "over"), [(60_000, False), (60_001, True)])
def test_a_load_beyond_what_the_machine_takes_is_flagged(load_g: int, over: bool) -> None:
    """60 kg is what it takes: at it is allowed."""
    story = Load().at_the_plant().spores("2026-07-03 08:00")
    story.ran("2026-07-06 10:00", "2026-07-06 11:21", load_g=load_g)
    story.indicated("2026-07-06 11:25").traced("2026-07-06 11:30")
    assert [v.code for v in story.flags(TEXT)] == (["cycle.overloaded"] if over else [])


@pytest.mark.parametrize(
    ("start", "clash"), [("2026-07-06 11:20", True), ("2026-07-06 11:21", False)]
)
def test_one_machine_runs_one_cycle_at_a_time(start: str, clash: bool) -> None:
    """Another cycle that begins before this one ends is one too many; at its end it may."""
    story = good_load().told(
        "cycle_run", "2026-07-06 13:00", cycle="K-9", machine="ac-1", step="autoclave",
        party="plant", started_at=at(start),
    )  # fmt: skip
    assert [v.code for v in story.flags(TEXT)] == (["cycle.conflict"] if clash else [])


def test_a_container_cannot_be_in_two_loads_at_once() -> None:
    """Both are recorded; one of them cannot be."""
    story = good_load().spores("2026-07-03 08:00", machine="ac-2")
    story.ran("2026-07-06 10:30", "2026-07-06 11:51", "K-2", machine="ac-2")
    story.indicated("2026-07-06 11:55", name="K-2").traced("2026-07-06 11:56", name="K-2")
    conflicts = story.flags(TEXT, "cycle.conflict")
    assert len(conflicts) == 1
    assert "two" not in conflicts[0].message and "K-2" in conflicts[0].message


def test_a_treatment_without_a_run_is_unproved_where_the_machines_are_registered() -> None:
    """Said to be autoclaved at a plant whose autoclaves are in the register: which ran?"""
    story = Load().at_the_plant()
    story.tell("treated", "2026-07-06 11:21", step="autoclave", party="plant", cycle="K-1")
    [unproved] = story.flags(TEXT)
    assert unproved.opened_at == at("2026-07-07 11:21")
    shredder = {"id": "shredder-1", "name": "Shredder", "party": "plant", "kind": "shredder"}
    assert story.flags(plant(shredder)) == [], "a plant that keeps its own register is not asked"


def test_a_trace_that_cannot_be_judged_proves_nothing() -> None:
    """A probe that stood still to the last digit: told, and unproved."""
    dead = b"time_s,temperature_c\n" + b"".join(b"%d,121.5\n" % t for t in range(0, 5400, 30))
    story = Load().at_the_plant().spores("2026-07-03 08:00")
    story.ran("2026-07-06 10:00", "2026-07-06 11:21").indicated("2026-07-06 11:25")
    [unproved] = story.traced("2026-07-06 11:30", dead).flags(TEXT)
    assert unproved.code == "treatment.unproved"
    assert "cannot be judged" in unproved.message


def test_a_number_given_to_two_cycles_is_a_conflict() -> None:
    """The first one told holds; the other is named."""
    story = good_load().told(
        "cycle_run", "2026-07-06 15:00", cycle="K-1", machine="ac-2", step="autoclave",
        party="plant", started_at=at("2026-07-06 14:00"),
    )  # fmt: skip
    [twice] = story.flags(TEXT)
    assert twice.code == "cycle.conflict"
