"""An invented regime with one rule of each sort, and an invented hospital, as values for tests."""

from typing import Any

from service.custody.regime import Regime
from service.custody.rules import Rules
from service.custody.site import Site


def row(clause: str, **said: Any) -> dict[str, Any]:
    """A row of an invented text, in force for ever unless said otherwise."""
    return {"from": "1900-01-01", "clause": clause, "source": "text", "verified": "policy"} | said


def category(name: str, mark: str) -> dict[str, Any]:
    """A category of an invented text."""
    return row(
        f"category {name}",
        id=name,
        name=name,
        colour="yellow",
        colour_hex="#F5C800",
        mark=mark,
        pattern="plain",
        goes_in=["it"],
        cautions="gloves",
    )


def holding(hours: int | None = 48, **said: Any) -> dict[str, Any]:
    """A holding limit for every category, from sealing, 48 h unless said otherwise."""
    usual: dict[str, Any] = {"id": "limit", "clock": "sealed", "categories": ["*"]}
    if not said.keys() & {"days", "calendar_days", "months"}:
        usual["hours"] = hours
    return row("limit", **(usual | said))


HOUSE: dict[str, Any] = {
    "id": "house",
    "title": "Invented rules",
    "jurisdiction": "nowhere",
    "status": "invented",
    "site_facts": {"remote": "Is the site remote?"},
    "source": {"text": {"title": "House text", "verified": "policy"}},
    "category": [
        category("soiled", "S"),
        category("plastics", "P"),
        category("sharps", "N"),
        category("laboratory", "L"),
        category("plain", "G"),
    ],
    "holding": [holding(48, categories=["soiled", "laboratory"])],
    "notice": [row("notice", categories=["soiled"], effect="notified_overrun")],
    "store_band": [
        row("band", condition="chilled", temperature_c_min="3", temperature_c_max="8"),
        row("band frozen", condition="frozen", temperature_c_max="-15"),
    ],
    "route": [
        row(
            "burn",
            id="burn",
            categories=["soiled"],
            stages=[["incinerate", "plasma"], ["ash_landfill"]],
        ),
        row(
            "bury",
            id="bury",
            categories=["soiled"],
            stages=[["deep_burial"]],
            only_where=["remote"],
        ),
        row(
            "plastics",
            id="plastics",
            categories=["plastics"],
            stages=[["autoclave", "microwave"], ["shred", "mutilate"], ["recycler", "fuel_oil"]],
        ),
        row(
            "sharps",
            id="sharps",
            categories=["sharps"],
            stages=[["autoclave", "dry_heat"], ["shred", "encapsulate"], ["sharps_pit"]],
        ),
        row(
            "laboratory",
            id="laboratory",
            categories=["laboratory"],
            stages=[["autoclave"], ["incinerate"], ["ash_landfill"]],
        ),
    ],
    "denied": [
        row(
            "no chlorine in the fire",
            categories=["*"],
            acts=["incinerate"],
            after=["hypochlorite"],
            reason="chlorine",
        ),
        row(
            "burial",
            categories=["*"],
            acts=["deep_burial"],
            unless_where=["remote"],
            reason="only where remote",
        ),
        row(
            "no landfill",
            categories=["plastics"],
            acts=["landfill"],
            reason="plastics stay",
            severity="wrong",
        ),
        row(
            "treated on site",
            categories=["laboratory"],
            dispatch=True,
            unless_after=["autoclave"],
            reason="treat it first",
        ),
    ],
    "packing": [
        row("three-quarters", categories=["*"], rule="fill_max", fill_fraction_max="0.75"),
        row("closed", categories=["*"], rule="closed"),
        row("two bags", categories=["*"], rule="double_bagged", kinds=["bag"]),
        row("hub", categories=["sharps"], rule="hub_cut", kinds=["sharps_container"]),
        row("seal", categories=["*"], rule="sealed_transport"),
    ],
    "time": [
        row("near", rule="holding_near", hours=6),
        row("transit", rule="transit_max", hours=24),
        row("record", rule="record_within", hours=24),
        row("import", rule="import_within", hours=720),
    ],
    "weight": [row("in service", rule="in_service_factor", factor="2")],
}
"""An invented regime with one rule of each sort, each with a clause of its own."""

ALLOWED = [
    {
        "activity": "carry",
        "categories": ["*"],
        "from": "2020-01-01",
        "until": "2030-12-31",
        "reference": "A-1",
    },
    {
        "activity": "treat",
        "categories": ["*"],
        "from": "2020-01-01",
        "until": "2030-12-31",
        "reference": "A-2",
    },
]

HOSPITAL: dict[str, Any] = {
    "id": "hill",
    "name": "Hill hospital",
    "contact": {"name": "Officer", "address": "1 Hill", "telephone": "000"},
    "time_zone": "UTC",
    "regime": "house",
    "unit": [
        {"id": "ward-3", "name": "Ward 3", "location": "wards"},
        {"id": "theatre", "name": "Theatre", "location": "theatres"},
    ],
    "store": [
        {"id": "yard-store", "name": "Yard", "location": "yard", "party": "handlers"},
        {
            "id": "cold-room",
            "name": "Cold room",
            "location": "yard",
            "party": "handlers",
            "condition": "chilled",
        },
        {
            "id": "freezer",
            "name": "Freezer",
            "location": "yard",
            "party": "handlers",
            "condition": "frozen",
        },
        {
            "id": "hub-floor",
            "name": "Hub floor",
            "location": "hub-site",
            "party": "hub",
        },
        {
            "id": "hub-cold",
            "name": "Hub cold room",
            "location": "hub-site",
            "party": "hub",
            "condition": "chilled",
        },
        {
            "id": "hub-apron",
            "name": "Hub apron",
            "location": "hub-site",
            "party": "hub",
            "condition": "outdoors",
        },
    ],
    "party": [
        {"id": "handlers", "name": "Handlers", "kind": "handler", "location": "yard"},
        {
            "id": "haulier",
            "name": "Haulier",
            "kind": "carrier",
            "location": "depot",
            "authorisation": ALLOWED,
        },
        {
            "id": "plant",
            "name": "Plant",
            "kind": "plant",
            "location": "plant-site",
            "authorisation": ALLOWED,
        },
        {
            "id": "hub",
            "name": "Hub",
            "kind": "transfer_station",
            "location": "hub-site",
            "authorisation": ALLOWED,
        },
    ],
    "scale": [
        {"id": "ward-scale", "name": "Ward scale", "accuracy_class": "III", "interval_g": "10"},
        {"id": "plant-scale", "name": "Plant scale", "accuracy_class": "IIII", "interval_g": "100"},
    ],
    "travel": [
        {"between": ["wards", "yard"], "minutes": 5},
        {"between": ["wards", "theatres"], "minutes": 3},
        {"between": ["yard", "plant-site"], "minutes": 40},
    ],
}
"""An invented hospital with its carrier, plant and transfer station."""


def hospital(**said: Any) -> Site:
    """The invented hospital, with what the test says of it."""
    return Site.model_validate(HOSPITAL | said)


def house(**tables: Any) -> Regime:
    """The invented regime, with these tables in place of its own."""
    return Regime.model_validate(HOUSE | tables)


def rules(site: dict[str, Any] | None = None, **tables: Any) -> Rules:
    """The invented regime at the invented hospital."""
    return Rules(house(**tables), hospital(**(site or {})))
