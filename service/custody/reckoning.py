"""Rows by which a period is reckoned: what is returned to whom, and what categories are made of."""

from typing import Literal, Self

from pydantic import Field, model_validator

from service.custody.acts import Step
from service.custody.cited import CategoryRow, Exact, Row, Strict

Figure = Literal[
    "facility",
    "regime",
    "period",
    "kg_by_category",
    "kg_by_colour",
    "kg_treated_by_step",
    "kg_by_outlet",
    "consignees",
    "stores",
    "machines",
    "incidents",
    "people_exposed",
]
"""What the record can fill a field of a return with."""


class ReturnField(Strict):
    """A field that a return asks for; without ``from_record`` the record does not hold it."""

    name: str = Field(min_length=1)
    from_record: Figure | None = None


class ReturnRule(Row):
    """A return or report to an authority and when it is due."""

    id: str
    title: str
    period: Literal["month", "quarter", "year", "event"]
    due_months_after: int | None = None
    """Due at the end of the month that many months after the period's end."""
    due_day: str = Field(default="", pattern=r"^(\d\d-\d\d)?$")
    """Month and day in the following year."""
    due_hours: int | None = None
    to: str = ""
    field: tuple[ReturnField, ...] = ()
    """What is asked for, in the order of the form, as far as the source tells it."""


Material = Literal["sharps", "plastics", "infectious", "chemical", "general"]


class MaterialRule(CategoryRow):
    """What categories are made of, as published figures group waste and as it is looked after.

    Sharps and plastics are what can be used again or sold; ``infectious`` includes pathological
    waste, ``chemical`` pharmaceutical waste.
    """

    material: Material


class LossRule(Row):
    """The share of its weight that a step takes from waste, as a range."""

    step: Step
    share_min: Exact = Field(ge=-1, le=1)
    share_max: Exact = Field(ge=-1, le=1)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.share_min > self.share_max:
            raise ValueError("share_min is more than share_max")
        return self
