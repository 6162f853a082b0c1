"""What each return asks for, written a second time from the notes on the texts, beside ours.

Bio-Medical Waste Management Rules 2016 (India), Forms I and IV, rule 4(n): from memory, high
confidence. Hazardous Waste (England and Wales) Regulations 2005, SI 2005/894, reg. 53 and 54: read.
"""

import csv
import json
from collections import Counter
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from service.regimes.load import assemble
from tests.commands.test_planning import set_up
from tests.test_cli import printed_ids, run

__all__ = ["set_up"]

OPEN, KEPT = "asked of people", "in the record"

# Regime, form, then in the order of the form what is asked, by words that its line must have, and
# whether the record can answer.
FORMS: list[tuple[str, str, list[tuple[str, str]]]] = [
    (
        "india-2016", "form-iv",
        [
            ("occupier", KEPT), ("gps", OPEN), ("ownership", OPEN), ("authorisation", OPEN),
            ("beds", OPEN), ("served", KEPT), ("generated colour", KEPT),
            ("generated category", KEPT), ("storage capacity cooling", KEPT),
            ("equipment number capacity", KEPT), ("treated process", KEPT),
            ("recyclables sold", KEPT), ("vehicles", OPEN), ("ash sludge", OPEN),
            ("operator", KEPT), ("members hand over", OPEN), ("committee minutes", OPEN),
            ("training induction", OPEN), ("accidents year", KEPT), ("affected", KEPT),
            ("fatalities", OPEN), ("emission", OPEN), ("log-4", OPEN),
        ],
    ),
    (
        "india-2016", "form-i",
        [
            ("date time type sequence", KEPT), ("authority informed", KEPT), ("type waste", OPEN),
            ("effects health environment", KEPT), ("emergency measures", KEPT),
            ("relieve", OPEN), ("recurrence", OPEN), ("emergency policy", OPEN),
        ],
    ),
    (
        "india-2016", "monthly-record",
        [("facility", KEPT), ("month", KEPT), ("category", KEPT), ("colour", KEPT)],
    ),
    (
        "england-htm-07-01", "consignee-return",
        [
            ("facility", KEPT), ("quarter", KEPT), ("received category", KEPT),
            ("each multiple collection", OPEN), ("rejected", OPEN), ("r and d codes", OPEN),
        ],
    ),
    (
        "england-htm-07-01", "producer-return",
        [
            ("facility", KEPT), ("quarter", KEPT), ("received category", KEPT),
            ("each multiple collection", OPEN), ("rejected", OPEN), ("r and d codes", OPEN),
        ],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("regime", "form", "asked"), FORMS, ids=lambda one: str(one)[:20])
def test_a_form_asks_line_by_line_what_the_text_asks(
    regime: str, form: str, asked: list[tuple[str, str]]
) -> None:
    """No line is left out, none is invented, and none is said to be on record that is not."""
    [rule] = [r for r in assemble(regime).returns if r.id == form]
    assert len(rule.field) == len(asked)
    for field, (words, whence) in zip(rule.field, asked, strict=True):
        assert all(word in field.name.lower() for word in words.split()), (field.name, words)
        assert (field.from_record is not None) == (whence == KEPT), field.name


def test_every_form_there_is_was_written_twice() -> None:
    """A return that is added wants its second writing here."""
    ours = {
        (r, form.id) for r in {regime for regime, _, _ in FORMS} for form in assemble(r).returns
    }
    assert ours == {(regime, form) for regime, form, _ in FORMS}


LIST = """id,kind,containers,occurred_at,actor,category,unit,container_kind,weight_g,outlet,party
01890a5d-ac96-774b-bcce-000000000001,registered,{0},2026-03-01T10:00:00+05:30,n,red,icu,bag,3400,,
01890a5d-ac96-774b-bcce-000000000002,registered,{1},2026-03-01T10:05:00+05:30,n,yellow-c,icu,bag,1200,,
01890a5d-ac96-774b-bcce-000000000003,registered,{2},2026-01-01T00:00:00+05:30,n,red,icu,bag,55,,
01890a5d-ac96-774b-bcce-000000000004,registered,{3},2025-12-31T23:59:59+05:30,n,red,icu,bag,7000,,
01890a5d-ac96-774b-bcce-000000000005,disposed,{0},2026-03-02T10:00:00+05:30,n,,,,,recycler,plant-kiln
"""


def test_form_iv_adds_up_as_a_clerk_would_from_the_list(set_up: Path) -> None:
    """From the imported list by the csv module alone: by colour, by outlet, in the year only."""
    run("labels", "--count", "4", "--out", "four.pdf")
    Path("list.csv").write_text(LIST.format(*printed_ids(set_up / "four.pdf")), encoding="utf-8")
    assert run("import", "list.csv").exit_code == 0
    assert run("returns", "form-iv", "2026", "--out", "r.json").exit_code == 0
    filled = json.loads(Path("r.json").read_text(encoding="utf-8"))
    told = {f["name"]: f["said"] for f in filled["fields"]}

    rows = list(csv.DictReader(Path("list.csv").read_text(encoding="utf-8").splitlines()))
    colours, sold = Counter[str](), Counter[str]()
    gone = {r["containers"]: r["outlet"] for r in rows if r["outlet"]}
    for row in rows:
        if row["kind"] != "registered" or date.fromisoformat(row["occurred_at"][:10]).year != 2026:
            continue
        colours[row["category"].partition("-")[0]] += int(row["weight_g"])
        if row["containers"] in gone:
            sold[gone[row["containers"]]] += int(row["weight_g"])

    def kg(said: list[dict[str, str]]) -> dict[str, Decimal]:
        return {one["of"]: Decimal(one["value"].split(" kg")[0]) for one in said}

    assert kg(told["Waste generated, kg per annum, by colour"]) == {
        colour: Decimal(grams) / 1000 for colour, grams in colours.items()
    }
    assert kg(told["Recyclables sold, and other outlets, kg"]) == {
        outlet: Decimal(grams) / 1000 for outlet, grams in sold.items()
    }
    equipment = {
        one["of"]: one["value"] for one in told["Treatment equipment: number and capacity"]
    }
    assert equipment["gravity"] == "5, 600 kg a load in all", "of 120 kg each, in the set-up"
