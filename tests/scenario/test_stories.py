"""Each planted fault is to be seen in the stream itself, read without the rules under test."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from scenario.stories import STORIES, Story
from tests.scenario.reading import Event, Stream, Told

HOURS = timedelta(hours=1)


def steps(stream: Stream, container: str) -> list[str]:
    """Give the treatment steps in order."""
    return [told.event["step"] for told in stream.of(container, "treated")]


def outlet(stream: Stream, container: str) -> str:
    """Give where the container ended."""
    return str(stream.of(container, "disposed")[-1].event["outlet"])


def registered(stream: Stream, container: str) -> Event:
    """Give its registration."""
    return stream.of(container, "registered")[0].event


def held(stream: Stream, container: str) -> timedelta:
    """Give the time from sealing to the first treatment."""
    return stream.of(container, "treated")[0].at - stream.of(container, "registered")[0].at


def complete(stream: Stream, container: str) -> Told:
    """Give the completed receipt of the container's consignment."""
    consignment = stream.departure(container)["consignment"]
    return next(
        told
        for told in stream.by_container[""]
        if told.event.get("consignment") == consignment and told.event.get("complete")
    )


def missing_then_found(stream: Stream, container: str) -> bool:
    """Say whether it was found after the receipt was closed, and taken in then."""
    closed, found = complete(stream, container), stream.of(container, "found")[0]
    return closed.at < found.at < stream.of(container, "received")[0].at


def seen_far_away(stream: Stream, container: str) -> bool:
    """Say whether it was looked at in the plant within 20 min of sealing, never again in 75 min."""
    sealed, seen = stream.of(container, "registered")[0], stream.of(container, "inspected")[0]
    after = [told for told in stream.of(container) if told.at > seen.at]
    return (
        seen.event["place"] == "plant-kiln"
        and seen.at - sealed.at <= timedelta(minutes=20)
        and after[0].at - seen.at > timedelta(minutes=75)
    )


def weights(stream: Stream, container: str) -> list[int]:
    """Give the container's weights in order of weighing."""
    row = stream.of(container, "registered", "weighed", "received")
    return [told.event["weight_g"] for told in row]


def seals(stream: Stream, container: str) -> tuple[str, str, bool]:
    """Give the seal at departure, at receipt, and whether it was whole."""
    got = stream.of(container, "received")[0].event
    return stream.departure(container)["seal"], got["seal"], got["seal_intact"]


def same_seal(stream: Stream, container: str) -> bool:
    """Say whether the seal at receipt is the one at departure."""
    left, came, _ = seals(stream, container)
    return left == came


def false_code(stream: Stream, container: str) -> bool:
    """Say whether exactly one scan gave an address with a tag instead of the bare id."""
    codes = [code for told in stream.of(container) for code in told.event["containers"]]
    prefix = f"HTTPS://CUSTODY.EXAMPLE/{container}/"
    return [len(code) for code in codes if code.startswith(prefix)] == [len(prefix) + 7]


def on_the_road(stream: Stream, container: str) -> timedelta:
    """Give the time from departure to receipt."""
    packed = stream.of(container, "packed")[-1]
    leaving = stream.of(packed.event["parent"], "dispatched")
    left = next(told for told in leaving if told.at > packed.at)
    return stream.of(container, "received")[0].at - left.at


SEEN: dict[str, Callable[[Stream, str], bool]] = {
    "forgotten": lambda s, c: 42 * HOURS < held(s, c) < 48 * HOURS,
    "kept-too-long": lambda s, c: 48 * HOURS < held(s, c) < 71 * HOURS,
    "warm-store": lambda s, c: float(s.of(c, "stored")[0].event["temperature_c"]) > 8,
    "cytotoxic-autoclaved": lambda s, c: steps(s, c) == ["autoclave", "incinerate_1200"],
    "left-untreated": lambda s, c: s.of(c, "treated")[0].at > s.of(c, "received")[0].at,
    "plastic-to-landfill": lambda s, c: outlet(s, c) == "landfill",
    "plastic-burnt": lambda s, c: steps(s, c) == ["incinerate"],
    "soiled-autoclaved": lambda s, c: steps(s, c) == ["autoclave", "incinerate"],
    "shredded-first": lambda s, c: steps(s, c) == ["shred", "autoclave"],
    "not-shredded": lambda s, c: steps(s, c) == ["autoclave"] and outlet(s, c) == "recycler",
    "sharps-in-a-bag": lambda s, c: registered(s, c)["container_kind"] == "bag",
    "overfilled": lambda s, c: float(registered(s, c)["fill_fraction"]) > 0.75,
    "open": lambda s, c: registered(s, c)["closed"] is False,
    "open-van": lambda s, c: s.departure(c)["closed"] is False,
    "single-bagged": lambda s, c: not s.of(c, "double_bagged"),
    "hub-uncut": lambda s, c: registered(s, c)["hub_cut"] is False,
    "unsealed-van": lambda s, c: "seal" not in s.departure(c),
    "other-seal": lambda s, c: not same_seal(s, c) and seals(s, c)[2],
    "broken-seal": lambda s, c: same_seal(s, c) and not seals(s, c)[2],
    "not-signed-for": lambda s, c: not s.of(c, "collected"),
    "wrong-unit": lambda s, c: (
        s.of(c, "collected")[0].event["from_party"] != registered(s, c)["unit"]
    ),
    "bagged-unregistered": lambda s, c: (
        s.of(c, "double_bagged")[0].at < s.of(c, "registered")[0].at
    ),
    "sold-unsigned": lambda s, c: (
        s.of(c, "disposed")[0].event["party"] != s.of(c, "received")[0].event["party"]
    ),
    "slow-van": lambda s, c: on_the_road(s, c) > 24 * HOURS,
    "missing-then-found": missing_then_found,
    "missing": lambda s, c: not s.of(c, "received", "found") and bool(complete(s, c)),
    "lost-in-store": lambda s, c: s.of(c, "lost")[0].at < s.of(c, "found")[0].at,
    "copied-label": seen_far_away,
    "false-label": false_code,
    "weight-missing": lambda s, c: weights(s, c)[-1] < weights(s, c)[-2] - 500,
    "weight-added": lambda s, c: weights(s, c)[1] > weights(s, c)[0] + 500,
    "mixed": lambda s, c: any(told.event.get("wrong_items") for told in s.of(c, "inspected")),
    "lapsed-carrier": lambda s, c: s.departure(c)["carrier"] == "carrier-tressel",
    "unauthorised-plant": lambda s, c: s.departure(c)["consignee"] == "plant-tarn",
    "recorded-late": lambda s, c: (
        sum(told.recorded_at - told.at > 48 * HOURS for told in s.of(c)) == 1
    ),
}


@pytest.mark.parametrize("story", [s for s in STORIES if s.code], ids=lambda s: s.name)
def test_fault_is_in_the_stream_of_each_container(full: Stream, story: Story) -> None:
    """Every container of a story shows it in its own events, and no fault has another story."""
    faults = [fault for fault in full.quarter.planned if fault.story == story.sentence]
    assert faults
    for fault in faults:
        assert SEEN[story.name](full, fault.container), fault


@pytest.mark.parametrize(
    "name", ["overfilled", "open", "single-bagged", "hub-uncut", "mixed", "false-label"]
)
def test_only_planted_containers_show_the_fault(full: Stream, name: str) -> None:
    """What is to be seen in single events is seen on no container it was not planted on."""
    story = next(s for s in STORIES if s.name == name)
    planted = {f.container for f in full.quarter.planned if f.story == story.sentence}
    suited = [
        told.event["containers"][0]
        for told in full.told
        if told.event["kind"] == "registered"
        and (name != "hub-uncut" or told.event["category"] == "white")
        and (name != "single-bagged" or told.event["container_kind"] == "bag")
    ]
    assert {c for c in suited if SEEN[name](full, c)} == planted
