"""The facility as a value: what is refused, days, seasons, places and ways."""

from datetime import date
from typing import Any

import pytest
from pydantic import ValidationError

from service.ledger.leaf import site_kept
from tests.house import HOSPITAL, hospital
from tests.trade import at


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ({"time_zone": "Europe/Nowhere"}, "no time zone is called"),
        ({"time_zone": "../etc/passwd"}, "no time zone is called"),
        ({"unit": []}, "at least 1 item"),
        ({"unit": [HOSPITAL["unit"][0]] * 2}, "given twice: ward-3"),
        ({"party": []}, "kept by a party that is not named: handlers"),
        ({"bed": 3}, "Extra inputs"),
        ({"patient_number": ["MRN###"]}, r"'MRN###' would fit ordinary words: at least 4"),
        ({"patient_number": ["@@@@@@"]}, "one of them is #"),
        ({"patient_number": ["P#########@@@@@@@@@@@"]}, "at most 20 characters"),
        ({"patient_number": [" #######"]}, "begins or ends with a blank"),
        ({"patient_number": ["###\n####"]}, "should match pattern"),
        ({"patient_number": ["@@@@-#"]}, r"the id 'ward-3' looks like a patient's number"),
    ],
)
def test_refused(said: dict[str, Any], reason: str) -> None:
    """A set-up that contradicts itself is sent back."""
    with pytest.raises(ValidationError, match=reason):
        hospital(**said)


def test_templates_of_patients_numbers_are_kept_as_given() -> None:
    """And a site that gives none is kept as before there were any: its leaf in the log stays."""
    assert hospital(patient_number=["MRN#######"]).patient_number == ("MRN#######",)
    assert "patient_number" not in site_kept(hospital())
    assert site_kept(hospital(patient_number=["MRN####"]))["patient_number"] == ["MRN####"]


def test_the_day_is_the_sites_own() -> None:
    """20:00 UTC is the next day in Kolkata."""
    assert hospital(time_zone="Asia/Kolkata").local_day(at("2026-07-06 20:00")) == date(2026, 7, 7)


def test_seasons_need_not_be_written_in_order() -> None:
    """The last one of the year holds over the new year."""
    site = hospital(season=[{"name": "cool", "from": "11-01"}, {"name": "hot", "from": "03-01"}])
    assert site.season_on(date(2026, 2, 28)) == "cool"
    assert site.season_on(date(2026, 3, 1)) == "hot"
    assert site.season_on(date(2026, 10, 31)) == "hot"
    assert site.season_on(date(2026, 11, 1)) == "cool"
    assert hospital().season_on(date(2026, 7, 1)) == ""


def test_places_and_ways() -> None:
    """A unit, a store and a party each have a location; the way is the same both ways."""
    site = hospital()
    assert site.location_of("ward-3") == "wards"
    assert site.location_of("cold-room") == site.location_of("handlers") == "yard"
    assert site.location_of("moon") is None
    assert site.location_of(None) is None
    assert (
        site.travel_minutes("plant-site", "yard") == site.travel_minutes("yard", "plant-site") == 40
    )
    assert site.travel_minutes("wards", "plant-site") == 0, "no way was set"
