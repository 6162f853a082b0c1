"""Corrections in an EPCIS document: declared errors beside what holds, and nothing edited."""

from tests.manifests.exported import events, one
from tests.trade import Story, at

T = "2026-07-01 08:00"


def test_a_corrected_event_stays_and_is_declared_in_error() -> None:
    """What holds is an event of its own, under the amendment's id."""
    story = Story().sealed(T, weight_g=8240).amended("2026-07-01 09:00", "registered", weight_g=824)
    amendment = story.last("amended")
    first, right = events(story.entries)
    assert first["sensorElementList"][0]["sensorReport"][0]["value"] == 8240
    declared = first["errorDeclaration"]
    assert declared["declarationTime"] == "2026-07-01T09:00:00Z"
    assert declared["reason"] == "incorrect_data"
    assert declared["correctiveEventIDs"] == [right["eventID"]] == [f"urn:uuid:{amendment.id}"]
    assert declared["custody:amendments"][0]["custody:reason"] == "slip of the pen"
    assert right["sensorElementList"][0]["sensorReport"][0]["value"] == 824
    assert right["eventTime"] == first["eventTime"]
    assert right["recordTime"] == "2026-07-01T09:01:00Z"
    assert right["custody:supersedes"] == first["eventID"]
    assert "errorDeclaration" not in right


def test_an_event_that_was_struck_out_did_not_occur() -> None:
    """It stays, and nothing takes its place."""
    event = one(Story().weighed(T, 3_000).voided("2026-07-01 09:00", "weighed"))
    assert event["errorDeclaration"]["reason"] == "did_not_occur"
    assert "correctiveEventIDs" not in event["errorDeclaration"]


def test_of_several_corrections_the_latest_holds_and_the_others_are_in_error() -> None:
    """First telling and first correction both point to what holds; every reason is kept."""
    story = (
        Story()
        .weighed(T, 3_000)
        .amended("2026-07-01 09:00", "weighed", weight_g=3_100)
        .voided("2026-07-01 10:00", "weighed")
        .amended("2026-07-01 11:00", "weighed", weight_g=3_300)
    )
    told = events(story.entries)
    weights = [e["sensorElementList"][0]["sensorReport"][0]["value"] for e in told]
    assert weights == [3_000, 3_100, 3_300]
    holds = told[2]["eventID"]
    for event in told[:2]:
        assert event["errorDeclaration"]["correctiveEventIDs"] == [holds]
        assert len(event["errorDeclaration"]["custody:amendments"]) == 3
    assert "errorDeclaration" not in told[2]


def test_a_correction_that_came_before_what_it_corrects_stands_alone() -> None:
    """It says what it supersedes."""
    story = Story().weighed(T, 3_000).amended("2026-07-01 09:00", "weighed", weight_g=3_100)
    [event] = events(story.entries[1:])
    assert event["custody:supersedes"] == f"urn:uuid:{story.entries[0].event.id}"
    assert "errorDeclaration" not in event


def test_events_stand_in_order_of_happening_corrections_among_them() -> None:
    """A correction of the time stands at the time put right."""
    story = (
        Story()
        .collected("2026-07-01 12:00")
        .stored("2026-07-01 11:00")
        .amended("2026-07-01 15:00", "collected", occurred_at=at("2026-07-01 10:00"))
    )
    told = [(e["custody:kind"], e["eventTime"][11:16]) for e in events(story.entries)]
    assert told == [("collected", "10:00"), ("stored", "11:00"), ("collected", "12:00")]
