"""What is sent back at the door: what the person can put right at once, and nothing else."""

from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.custody.admission import FUTURE_TOLERANCE, refusal
from service.custody.patients import found as of_templates
from tests.house import row, rules
from tests.trade import Story, at, bag

NOW = at("2026-07-06 10:00")
MINUTE = timedelta(minutes=1)
HOUSE = rules(
    weight=[
        row("bag", rule="weight_max", kinds=["bag"], weight_g_max=30_000),
        row("rest", rule="weight_max", weight_g_max=500_000, kinds=[
            "sharps_container", "rigid_bin", "box", "bottle", "transport"]),
    ]
)  # fmt: skip


def told(kind: str, clock_offset_s: int = 0, when: timedelta = -MINUTE, **said: Any) -> str:
    """The refusal of an event told now, about a minute ago unless said otherwise."""
    story = bag().tell(kind, NOW + when, **said)
    return refusal(story.entries[-1].event, HOUSE, NOW, clock_offset_s)


@pytest.mark.parametrize(
    ("kind", "said", "reason"),
    [
        (
            "registered",
            {"category": "sdoiled"},
            "no category 'sdoiled' here; known are: laboratory",
        ),
        ("registered", {"unit": "ward-33"}, "no unit 'ward-33' here; known are: theatre, ward-3"),
        ("registered", {"scale": "kitchen"}, "no scale 'kitchen' here"),
        ("stored", {"store": "cellar"}, "no store 'cellar' here"),
        ("registered", {"weight_g": 30_001}, "30001 g is more than a bag can weigh here (30000 g)"),
        ("weighed", {"weight_g": 500_001}, "more than any container can weigh here (500000 g)"),
        ("received", {"weight_g": 500_001}, "more than any container can weigh"),
    ],
)
def test_sent_back(kind: str, said: dict[str, Any], reason: str) -> None:
    """With the reason, in the trade's words."""
    assert reason in told(kind, **said)


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("registered", {"weight_g": 30_000}),
        ("weighed", {"weight_g": 500_000}),
        ("registered", {"closed": False, "fill_fraction": "2"}),
        ("treated", {"step": "hypochlorite", "party": "nobody"}),
        ("dispatched", {"carrier": "nobody", "seal": None}),
        ("disposed", {"outlet": "sewer"}),
    ],
)
def test_a_wrong_act_is_not_sent_back(kind: str, said: dict[str, Any]) -> None:
    """It happened: it is recorded, and flagged."""
    assert told(kind, **said) == ""


def test_a_time_to_come_is_sent_back() -> None:
    """Five minutes are let pass; a known clock offset is taken off first."""
    assert told("found", when=FUTURE_TOLERANCE) == ""
    later = FUTURE_TOLERANCE + MINUTE
    assert "6 min in the future: check the clock" in told("found", when=later)
    assert told("found", clock_offset_s=60, when=later) == ""


def test_an_amendment_is_held_to_what_it_says() -> None:
    """A correction to an absurd weight is as absurd; a voiding says nothing."""
    story = bag().weighed(NOW - MINUTE, 900).amended(NOW, "weighed", weight_g=900_000)
    assert "900000 g" in refusal(story.last("amended"), HOUSE, NOW, 0)
    story = bag().weighed(NOW - MINUTE, 900).voided(NOW, "weighed")
    assert refusal(story.last("amended"), HOUSE, NOW, 0) == ""
    assert "in the future" in refusal(story.last("amended"), HOUSE, NOW - 10 * MINUTE, 0)


def test_without_a_limit_no_weight_is_absurd() -> None:
    """The invented house text has no greatest weight."""
    event = bag().sealed(NOW, weight_g=2_000_000).entries[-1].event
    assert refusal(event, rules(), NOW, 0) == ""


# --- patients' numbers

WITH_PATIENTS = rules(site={"patient_number": ["MRN#######", "### ### ####", "@@####/##"]})


def told_of_a_patient(kind: str, **said: Any) -> str:
    """The refusal where the hospital says how its patients' numbers are written."""
    story = bag().tell(kind, NOW - MINUTE, **said)
    return refusal(story.entries[-1].event, WITH_PATIENTS, NOW, 0)


@pytest.mark.parametrize(
    ("kind", "field"),
    [
        ("found", "note"),
        ("registered", "contents"),
        ("registered", "unit"),
        ("registered", "category"),
        ("registered", "scale"),
        ("found", "place"),
        ("refused", "reason"),
        ("notified", "reason"),
        ("notified", "reference"),
        ("notified", "authority"),
        ("received", "exceptions"),
        ("received", "seal"),
        ("spilled", "action_taken"),
        ("dispatched", "vehicle"),
        ("disposed", "receipt"),
        ("treated", "cycle"),
        ("lost", "last_seen"),
        ("collected", "from_party"),
        ("stored", "store"),
    ],
)
def test_a_patients_number_is_sent_back_wherever_it_was_typed(kind: str, field: str) -> None:
    """With the name of the field and the template, never with what was typed."""
    told = told_of_a_patient(kind, **{field: "MRN1234567"})
    assert told == f"write no patient data: {field} looks like a patient's number (MRN#######)"
    assert told_of_a_patient("inspected", wrong_items=["glove", "MRN1234567"]).startswith(
        "write no patient data: wrong_items"
    )


@pytest.mark.parametrize(
    "text",
    [
        "MRN1234567",
        "mrn1234567",
        "dressing of MRN1234567, wet",
        "(MRN1234567)",
        "bed 4/MRN1234567/left",
        "_MRN1234567_",
        "943 476 5919",
        "ab1234/26",
        "MRN\u0967\u0968\u0969\u096a\u096b\u096c\u096d",
        "\uff2d\uff32\uff2e\uff11\uff12\uff13\uff14\uff15\uff16\uff17",
    ],
)
def test_found_as_a_word_of_its_own(text: str) -> None:
    """In small letters, in a sentence, in the digits of another script."""
    assert "patient's number" in told_of_a_patient("found", note=text)


@pytest.mark.parametrize(
    "text",
    ["", "MRN", "MRN123456", "MRN12345678", "XMRN1234567", "MRN1234567a", "9434765919", "1234/26"],
)
def test_what_is_written_otherwise_stands(text: str) -> None:
    """A digit more or less, or within a longer word."""
    assert told_of_a_patient("found", note=text) == ""


def test_ids_of_staff_machines_and_containers_are_not_taken_for_a_patient() -> None:
    """Whatever they look like."""
    story = Story("MRN1234567").sealed(NOW - MINUTE, actor="MRN1234567", device="MRN1234567")
    story.dispatched(NOW - MINUTE, consignment="MRN1234567").packed(
        NOW - MINUTE, parent="AB1234/26"
    )
    for entry in story.entries:
        assert refusal(entry.event, WITH_PATIENTS, NOW, 0) == ""


def test_a_site_that_says_nothing_of_patients_looks_for_none() -> None:
    """A number of seven digits is anything."""
    assert told("found", note="MRN1234567") == ""


def test_an_amendment_brings_in_no_patients_number_and_may_take_one_out() -> None:
    """In its reason, its note or the corrected event."""
    story = bag().weighed(NOW - MINUTE, 900, note="MRN1234567")
    taken_out = story.amended(NOW, "weighed", note="").last("amended")
    assert refusal(taken_out, WITH_PATIENTS, NOW, 0) == ""
    kept = story.amended(NOW, "weighed", weight_g=800).last("amended")
    assert "note looks like" in refusal(kept, WITH_PATIENTS, NOW, 0)
    because = taken_out.model_copy(update={"reason": "note named MRN1234567"})
    assert "reason looks like" in refusal(because, WITH_PATIENTS, NOW, 0)


words = st.text(st.characters(codec="utf-8"), max_size=12)


@settings(derandomize=True)
@given(words, st.from_regex(r"[0-9]{7}", fullmatch=True), words)
def test_a_number_between_blanks_is_found_in_any_text(before: str, digits: str, after: str) -> None:
    """And the answer holds nothing of it."""
    note = f"{before} MRN{digits} {after}"
    reason = of_templates(note, ["MRN#######"])
    assert reason == "MRN#######"


@settings(derandomize=True)
@given(st.from_regex(r"[a-zA-Z]+([ ,.-][a-zA-Z]+)*", fullmatch=True))
def test_no_ordinary_word_is_taken_for_a_number(text: str) -> None:
    """A template that is let in has a digit in it."""
    assert of_templates(text, ["#@@@", "@@@@#", "MRN####"]) is None
