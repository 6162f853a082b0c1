"""What every row of a regime is: dated, with clause, source and how it was verified."""

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator


def _exact(value: object) -> object:
    """Take numbers from the file's own text: a binary float would not be the printed number."""
    return str(value) if isinstance(value, float) else value


Exact = Annotated[Decimal, BeforeValidator(_exact)]


class Strict(BaseModel):
    """Frozen, and no key that the reader does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Row(Strict):
    """One dated, cited statement of a regime."""

    from_: date = Field(alias="from")
    until: date | None = None
    """First day on which the row is no longer in force."""
    clause: str = Field(min_length=1)
    source: str = Field(min_length=1)
    """Key of the file's ``source`` table."""
    verified: Literal["read", "memory", "policy"]
    confidence: Literal["high", "medium", "low"] = "high"
    note: str = ""

    @model_validator(mode="after")
    def _dates_in_order(self) -> Self:
        if self.until is not None and self.until <= self.from_:
            raise ValueError(f"until {self.until} is not after from {self.from_}")
        return self

    def in_force(self, day: date) -> bool:
        """Say whether the row holds on that day."""
        return self.from_ <= day and (self.until is None or day < self.until)


class CategoryRow(Row):
    """A row that speaks of some categories; ``*`` means all."""

    categories: tuple[str, ...] = Field(min_length=1)

    def covers(self, category_id: str) -> bool:
        """Say whether the row speaks of that category."""
        return "*" in self.categories or category_id in self.categories
