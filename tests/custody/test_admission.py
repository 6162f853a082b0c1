"""What is sent back at the door: what the person can put right at once, and nothing else."""

from datetime import timedelta
from typing import Any

import pytest

from service.custody.admission import FUTURE_TOLERANCE, refusal
from tests.house import row, rules
from tests.trade import at, bag

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
