"""Regimes and the facility's set-up over HTTP, the quarter's manifest, and content negotiation."""

import pytest

from service.api.negotiation import _quality, _range, preferred
from tests.api.client import Device

SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def test_a_regime_is_given_whole_with_its_sources(ward: Device) -> None:
    """Every row cites a source that is listed, and those of the regimes it adds to."""
    names = [r["id"] for r in ward.get("/v1/regimes").json()]
    assert "india-2016" in names
    regime = ward.get("/v1/regimes/india-2016").json()
    assert regime["status"]
    for table in ("category", "holding", "route", "denied", "packing", "time"):
        assert regime[table]
        assert {row["source"] for row in regime[table]} <= regime["source"].keys()
        assert all(row["from"] and row["clause"] for row in regime[table])


def test_the_facility_is_given_as_events_name_it(ward: Device) -> None:
    """Units, stores, parties and scales; no key and no token."""
    answer = ward.get("/v1/site")
    site = answer.json()
    assert {"id": "icu"}.items() <= site["unit"][0].items()
    for group in ("store", "party", "scale"):
        assert site[group]
    assert "token" not in answer.text
    assert "key" not in site


def test_accept_is_weighed_as_the_standard_shows() -> None:
    """The example of RFC 9110 (2022) §12.5.1 (from memory)."""
    accept = "text/*;q=0.3, text/plain;q=0.7, text/plain;format=flowed, "
    accept += "text/plain;format=fixed;q=0.4, */*;q=0.5"
    ranges = [_range(part) for part in accept.split(",")]
    assert _quality("text/plain", ranges) == 0.7
    assert _quality("text/html", ranges) == 0.3
    assert _quality("image/jpeg", ranges) == 0.5
    assert _quality("text/plain;format=flowed", ranges) == 1
    assert _quality("text/plain;format=fixed", ranges) == 0.4


@pytest.mark.parametrize(
    ("accept", "given"),
    [
        ("", "application/pdf"),
        ("*/*", "application/pdf"),
        ("application/json", "application/json"),
        ("application/json, */*;q=0.1", "application/json"),
        ("application/*", "application/pdf"),
        ("application/pdf;q=0, */*", "application/json"),
        ("application/pdf;q=wrong, application/json;q=0.2", "application/json"),
        ("APPLICATION/JSON; charset=utf-8", "application/json"),
    ],
)
def test_the_form_liked_best_is_given(accept: str, given: str) -> None:
    """Of equals, the first that we offer."""
    assert preferred(accept, ("application/pdf", "application/json")) == given


@pytest.mark.parametrize(
    ("media", "start"),
    [
        ("application/zip", b"PK"),
        ("application/pdf", b"%PDF"),
        (SPREADSHEET, b"PK"),
        ("text/csv", b""),
    ],
)
def test_a_manifest_comes_in_the_form_asked_for(officer: Device, media: str, start: bytes) -> None:
    """An empty quarter has a manifest too: that nothing happened is a statement."""
    answer = officer.get("/v1/manifests/2026-Q3", {"Accept": media})
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].partition(";")[0] == media
    assert answer.content.startswith(start)
    assert "lantern-hill-2026-Q3" in answer.headers["content-disposition"]
