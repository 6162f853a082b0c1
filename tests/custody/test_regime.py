"""Rows of a regime: what one cannot say, and from which day to which it holds."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pydantic import ValidationError

from service.custody.regime import (
    Category,
    Denial,
    HoldingLimit,
    PackingRule,
    Route,
    Row,
    covering,
    first_in_force,
)
from tests.house import category, holding, house, row


@pytest.mark.parametrize(
    ("kind", "said", "reason"),
    [
        (HoldingLimit, holding(days=2) | {"hours": 48}, "exactly one of"),
        (HoldingLimit, holding(None), "exactly one of"),
        (HoldingLimit, holding(0), "greater than 0"),
        (HoldingLimit, holding(months=6, mixing="per_condition"), "not calendar units"),
        (HoldingLimit, holding(clock="baptised"), "Input should be"),
        (HoldingLimit, holding(categories=[]), "at least 1 item"),
        (Route, row("r", id="r", categories=["*"], stages=[["shred"]]), "never ends"),
        (Route, row("r", id="r", categories=["*"], stages=[]), "at least 1 item"),
        (
            Route,
            row("r", id="r", categories=["*"], stages=[["landfill"], ["landfill"]]),
            "outlet stands before the last",
        ),
        (Route, row("r", id="r", categories=["*"], stages=[["boil"]]), "'boil' is not a valid"),
        (Denial, row("d", categories=["*"], reason="so"), "denies nothing"),
        (PackingRule, row("p", categories=["*"], rule="fill_max"), "goes with rule fill_max"),
        (
            PackingRule,
            row("p", categories=["*"], rule="closed", fill_fraction_max="0.5"),
            "goes with rule fill_max",
        ),
        (Row, row("x", until="1900-01-01"), "is not after from"),
        (Row, row(""), "at least 1 character"),
        (Category, category("X!", "A"), "String should match"),
    ],
)
def test_refused(kind: type[Row], said: dict[str, Any], reason: str) -> None:
    """A row that says nothing, or two things at once, is no rule."""
    with pytest.raises(ValidationError, match=reason):
        kind.model_validate(said)


def test_a_row_holds_from_its_first_day_to_the_day_before_its_end() -> None:
    """``from <= day < until``."""
    dated = Row.model_validate(row("x", **{"from": "2018-03-16"}, until="2019-05-10"))
    days = [date(2018, 3, 15), date(2018, 3, 16), date(2019, 5, 9), date(2019, 5, 10)]
    assert [dated.in_force(day) for day in days] == [False, True, True, False]


def test_of_two_rows_the_first_in_force_is_taken() -> None:
    """A regime's own rows stand before those it adds to."""
    old = Row.model_validate(row("old", until="2018-01-01"))
    own, theirs = (Row.model_validate(row(c)) for c in ("own", "theirs"))
    assert first_in_force([old, own, theirs], date(2020, 1, 1)) is own
    assert first_in_force([old], date(2020, 1, 1)) is None


def test_a_row_covers_the_named_categories_or_all() -> None:
    """``*`` is all."""
    every, soiled = (
        HoldingLimit.model_validate(holding(categories=c)) for c in (["*"], ["soiled"])
    )
    day = date(2026, 7, 6)
    assert covering([every, soiled], "soiled", day) == (every, soiled)
    assert covering([every, soiled], "plastics", day) == (every,)


def test_categories_are_those_in_force() -> None:
    """A category that came later is not yet there."""
    later = category("later", "Z") | {"from": "2018-03-16"}
    text = house(category=[category("soiled", "S"), later])
    assert [c.id for c in text.categories_on(date(2018, 3, 15))] == ["soiled"]
    assert [c.id for c in text.categories_on(date(2018, 3, 16))] == ["soiled", "later"]
    assert text.category_on("later", date(2018, 3, 15)) is None


def test_numbers_are_kept_as_printed() -> None:
    """0.75 is three-quarters, not the nearest binary fraction to something near it."""
    said = row("p", categories=["*"], rule="fill_max", fill_fraction_max=0.75)
    assert PackingRule.model_validate(said).fill_fraction_max == Decimal("0.75")
