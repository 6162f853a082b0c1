"""What the fields of an event can hold: exact numbers, aware times, names, texts, weights."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, AwareDatetime, BeforeValidator, Field, PlainSerializer
from pydantic_core import PydanticCustomError


def _printed(value: object) -> object:
    return str(value) if isinstance(value, float) else value


def _plain(value: Decimal) -> str:
    return format(value.normalize(), "f")


_WRITTEN = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d")


def _written_out(value: object) -> object:
    """Refuse bare numbers: whether they are seconds or milliseconds would be a guess."""
    if isinstance(value, datetime) or (isinstance(value, str) and _WRITTEN.match(value)):
        return value
    raise PydanticCustomError("datetime_written", "not a date and time")


EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
"""A time outside these is a slip of the pen, and would not leave room to count a limit from it."""

Instant = Annotated[
    AwareDatetime,
    Field(ge=EARLIEST, lt=LATEST),
    BeforeValidator(_written_out),
    AfterValidator(lambda at: at.astimezone(UTC)),
]


def _a_day(value: object) -> object:
    """Refuse a moment or a bare number: which day it is would be a guess."""
    if isinstance(value, str) and _DAY.fullmatch(value):
        return value
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    raise PydanticCustomError("date_written", "not a day")


_DAY = re.compile(r"\d{4}-\d\d-\d\d")
Day = Annotated[date, Field(ge=EARLIEST.date(), lt=LATEST.date()), BeforeValidator(_a_day)]
"""A day of the facility's own calendar."""
Number = Annotated[
    Decimal,
    Field(decimal_places=20),
    BeforeValidator(_printed),
    AfterValidator(lambda value: Decimal(_plain(value))),
    PlainSerializer(_plain, return_type=str, when_used="json"),
]
"""Exact, and the same however it was written: 25.00 is 25.

As many places as a binary float prints, for 1e-999999999 would be a book of noughts.
"""

Name = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[^\x00-\x1f\x7f]*$")]
Text = Annotated[str, Field(max_length=500, pattern=r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$")]
Grams = Annotated[int, Field(strict=True, ge=0, le=2_000_000)]
Count = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
"""How many; a number past 2^53 could not be kept in canonical JSON (RFC 8785) as it was told."""
Truth = Annotated[bool, Field(strict=True)]
ContainerId = Annotated[str, Field(min_length=1, max_length=64)]
Containers = Annotated[tuple[ContainerId, ...], Field(max_length=2_000)]
