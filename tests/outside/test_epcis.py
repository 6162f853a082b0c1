"""The EPCIS export against the JSON schema that GS1 publishes (epcis/README.md has its source)."""

import csv
import json
from collections.abc import Callable
from copy import deepcopy
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from service.custody.cycles import proofs
from service.custody.events import Amended
from service.custody.rules import Rules
from service.manifests.epcis.faults import faults
from service.manifests.epcis.names import Names
from service.regimes.load import assemble
from service.treatment.cycles import TraceJudge
from tests.bundles.made import TRACES, stream
from tests.machines import PASSING, good_load, plant
from tests.manifests.exported import ORIGIN, container, every_kind, exported
from tests.trade import BAG, Story, at, handled_well

SCHEMA = json.loads((Path(__file__).parent / "epcis" / "EPCIS-JSON-Schema.json").read_text())
STANDARD = Draft7Validator(SCHEMA, format_checker=Draft7Validator.FORMAT_CHECKER)
T = "2026-07-01 08:00"


def errors(document: Any) -> list[str]:
    """What the schema finds, formats of times and URIs checked too."""
    return [f"{e.json_path}: {e.message}"[:200] for e in STANDARD.iter_errors(document)]


def test_the_schema_is_one_and_checks_formats() -> None:
    """Without the libraries for formats a word would pass for a time or a URI."""
    Draft7Validator.check_schema(SCHEMA)
    assert {"uri", "date-time"} <= set(Draft7Validator.FORMAT_CHECKER.checkers)
    document = exported(Story().stored(T).entries)
    document["creationDate"] = "yesterday"
    assert len(errors(document)) == 1


def test_every_kind_of_event_is_as_the_standard_has_it() -> None:
    """Each by itself, so that a fault is named by its kind, and all together."""
    story = every_kind()
    for entry in story.entries:
        assert errors(exported([entry])) == [], entry.event.kind
    assert errors(exported(story.entries)) == []


def test_corrections_are_declared_as_the_standard_has_it() -> None:
    """Corrected, struck out, corrected again, and a correction whose original is not there yet."""
    for struck_out_last in (False, True):
        story = (
            Story()
            .weighed(T, 3_000)
            .amended("2026-07-01 09:00", "weighed", weight_g=3_100)
            .voided("2026-07-01 10:00", "weighed")
        )
        if not struck_out_last:
            story.amended("2026-07-01 11:00", "weighed", weight_g=3_300)
        document = exported(story.entries)
        assert errors(document) == []
        assert faults(document) == []
        assert errors(exported(story.entries[1:])) == []


def test_awkward_names_become_valid_uris() -> None:
    """Blanks, slashes, quotes, letters of every script, and a per cent sign."""
    name = 'Ωard 3/"a" %20?#ß'
    story = (
        Story().stored(T, name, store=name).dispatched(T, name, consignment=name, consignee=name)
    )
    assert errors(exported(story.entries, names=Names(ORIGIN, name))) == []


def test_what_the_loggers_of_a_cycle_showed_is_as_the_standard_has_it() -> None:
    """No verdict: lowest and highest in each window, found again in the file.

    Codes of UN/ECE Recommendation 20: CEL is the degree Celsius, KPA the kilopascal (from memory).
    """
    load = good_load()
    proved = proofs(load.entries, plant(), TraceJudge(load.traces.get))
    document = exported(load.entries, proof_of=proved.get)
    assert errors(document) == []
    assert faults(document) == []
    treated = _first(document, "treated")
    held = treated["sensorElementList"]
    assert held
    rows = list(csv.DictReader(PASSING.decode().splitlines()))
    for element in held:
        of_cycle = element["sensorMetadata"]
        assert of_cycle["rawData"].endswith(f"/trace/{sha256(PASSING).hexdigest()}")
        assert of_cycle["deviceID"].endswith("/machine/ac-1")
        assert (of_cycle["startTime"], of_cycle["endTime"]) == (
            "2026-07-06T10:00:00Z", "2026-07-06T11:21:00Z",
        )  # fmt: skip
        span = element["custody:from_s"], element["custody:until_s"]
        inside = [r for r in rows if span[0] <= float(r["time_s"]) <= span[1]]
        found = {r["type"]: r for r in element["sensorReport"]}
        for kind, unit, column in (
            ("Temperature", "CEL", "temperature_c"), ("Pressure", "KPA", "pressure_kpa"),
        ):  # fmt: skip
            values = [float(r[column]) for r in inside]
            assert found[kind]["uom"] == unit
            assert found[kind]["minValue"] <= min(values) + 1e-3
            assert found[kind]["maxValue"] == pytest.approx(max(values), rel=1e-5)
    longest = max(held, key=lambda element: element["custody:dwell_min"])
    assert longest["custody:dwell_min"] >= 60
    assert min(r["minValue"] for r in longest["sensorReport"] if r["type"] == "Temperature") >= 121


@pytest.mark.parametrize("spoilt", ["minValue", "maxValue"])
def test_a_reading_in_words_is_found(spoilt: str) -> None:
    """So the schema does look at what the loggers showed."""
    load = good_load()
    proved = proofs(load.entries, plant(), TraceJudge(load.traces.get))
    document = exported(load.entries, proof_of=proved.get)
    _first(document, "treated")["sensorElementList"][0]["sensorReport"][0][spoilt] = "hot"
    assert errors(document)


def test_a_whole_quarter_is_as_the_standard_has_it() -> None:
    """The simulated quarter of a small hospital, with its faults, mistakes and corrections."""
    site, entries = stream(10)
    zone = site.zone
    proved = proofs(entries, Rules(assemble(site.regime), site), TraceJudge(TRACES.get))
    document = exported(
        entries, names=Names(ORIGIN, site.id), zone=zone, carriers=(), proof_of=proved.get
    )
    told = document["epcisBody"]["eventList"]
    amendments = [e.event for e in entries if isinstance(e.event, Amended)]
    struck_out = [a for a in amendments if a.corrected is None]
    assert struck_out
    assert len(told) == len(entries) - len(struck_out) > 7_000
    assert errors(document) == []
    assert faults(document) == []
    shown = [e for e in told if e["custody:kind"] == "treated" and "sensorElementList" in e]
    assert len(shown) > 10


def _first(document: Any, kind: str = "stored") -> Any:
    return next(e for e in document["epcisBody"]["eventList"] if e["custody:kind"] == kind)


def _error(document: Any) -> Any:
    return next(
        e["errorDeclaration"] for e in document["epcisBody"]["eventList"] if "errorDeclaration" in e
    )


SPOILT: dict[str, Callable[[Any], Any]] = {
    "no context": lambda d: d.pop("@context"),
    "no date of creation": lambda d: d.pop("creationDate"),
    "no list of events": lambda d: d["epcisBody"].pop("eventList"),
    "an event without time": lambda d: _first(d).pop("eventTime"),
    "a time in words": lambda d: _first(d).update(eventTime="noon"),
    "an event without offset": lambda d: _first(d).pop("eventTimeZoneOffset"),
    "an offset of 15 hours": lambda d: _first(d).update(eventTimeZoneOffset="+15:00"),
    "an offset of another zone": lambda d: _first(d).update(eventTimeZoneOffset="+02:00"),
    "no action": lambda d: _first(d).pop("action"),
    "an unknown action": lambda d: _first(d).update(action="MOVE"),
    "a bare id": lambda d: _first(d).update(epcList=[BAG]),
    "the same id twice": lambda d: _first(d)["epcList"].append(_first(d)["epcList"][0]),
    "a step of no vocabulary": lambda d: _first(d).update(bizStep="parking"),
    "own step in the CBV": lambda d: _first(d).update(bizStep="https://ns.gs1.org/cbv/BizStep-x"),
    "own step by prefix": lambda d: _first(d).update(bizStep="cbv:BizStep-parking"),
    "a field of no prefix": lambda d: _first(d).update(colour="yellow"),
    "a field of an unknown prefix": lambda d: _first(d).update({"bin:colour": "yellow"}),
    "master data when merely seen": lambda d: _first(d).update(ilmd={"custody:unit": "x"}),
    "a reading without type": lambda d: _first(d)["sensorElementList"][0].update(
        sensorReport=[{"value": 4}]
    ),
    "a party of no type": lambda d: _first(d, "collected")["sourceList"][0].pop("type"),
    "no child put in": lambda d: _first(d, "packed").pop("childEPCs"),
    "no parent": lambda d: _first(d, "packed").pop("parentID"),
    "a treatment of nothing": lambda d: _first(d, "treated").update(inputEPCList=[]) or _out(d),
    "a declaration without time": lambda d: _error(d).pop("declarationTime"),
    "an unknown reason": lambda d: _error(d).update(reason="oops"),
    "corrected by nothing": lambda d: _error(d).update(correctiveEventIDs=["urn:uuid:0"]),
    "two events of one id": lambda d: _first(d).update(eventID=_first(d, "packed")["eventID"]),
    "seen after its end": lambda d: _first(d, "disposed").update(
        eventTime="2026-07-01T08:30:00+00:00"
    ),
    "sent and departed": lambda d: _first(d).update(bizStep="departing"),
}


def _out(document: Any) -> None:
    event = _first(document, "treated")
    del event["outputQuantityList"], event["transformationID"]


@pytest.mark.parametrize("what", SPOILT)
def test_a_spoilt_document_is_found_out(what: str) -> None:
    """By the schema, or by what we check beside it."""
    story = handled_well(at(T)).weighed("2026-07-01 09:30", 3_000)
    story.amended("2026-07-01 10:00", "weighed", weight_g=3_100)
    story.stored(at(T) + timedelta(hours=5), temperature_c="4")
    good = exported(story.entries)
    _first(good)["sensorElementList"] = [{"sensorReport": [{"type": "Temperature", "value": 4}]}]
    assert errors(good) == faults(good) == []
    spoilt = deepcopy(good)
    SPOILT[what](spoilt)
    assert errors(spoilt) or faults(spoilt)


def test_the_containers_of_an_export_are_below_the_address_of_its_labels() -> None:
    """Non-GS1 URIs are allowed as identifiers (GS1 EPCIS/CBV guideline, section 4.7.1)."""
    assert container(BAG) == f"{ORIGIN}/id/{BAG}"
    assert _first(exported(Story().stored(T).entries))["epcList"] == [container(BAG)]
