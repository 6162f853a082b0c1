"""The mapping file: which column of a list is which field, and how its cells are written.

A mapping is checked in full when it is read, and against the list's header before any line is.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.duties.imports.cells import Clock, Read, collapsed
from service.duties.imports.fields import (
    FIELDS,
    readers,
)

ENCODINGS = (
    "auto", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1250", "cp1251", "cp1252",
    "cp1253", "cp1254", "cp437", "cp850", "iso-8859-1", "iso-8859-2", "iso-8859-9", "iso-8859-15",
)  # fmt: skip
"""The encodings that a list may be in; ``auto`` is UTF-16 or UTF-8 by the byte order mark."""

REASON = "refused because"
"""The column that a list of rejects has more than the list it came from; always ignored."""
ALL_OTHERS = "*"

_Value = bool | int | Decimal | str
_Words = Annotated[str, Field(min_length=1, max_length=200)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Column(_Strict):
    """What a mapping says of one column."""

    field: str
    format: str | list[str] | None = None
    unit: str | None = None
    decimal: Literal[".", ","] | None = None
    values: dict[str, _Value] | None = None
    separator: str | None = Field(None, min_length=1)

    def options(self) -> dict[str, Any]:
        """Give what is said besides the field."""
        said = self.model_dump(exclude={"field"}, exclude_none=True)
        if isinstance(self.format, str):
            said["format"] = (self.format,)
        elif self.format is not None:
            said["format"] = tuple(self.format)
        return said


class Said(_Strict):
    """A mapping file as it is written."""

    keeper: _Words
    form: Literal["auto", "csv", "jsonl"] = "auto"
    encoding: str = "auto"
    delimiter: str = "auto"
    header_line: int = Field(1, ge=1, le=1_000)
    container_ids: Literal["ours", "theirs"] = "ours"
    time_zone: str | None = None
    clock_change: Literal["refuse", "earlier", "later"] = "refuse"
    ignore: list[str] = []
    constants: dict[str, Any] = {}
    columns: dict[str, str | Column] = {}


class MappingError(ValueError):
    """A mapping is refused; each problem is a key and a reason, the text names file and all."""

    def __init__(self, file: str, problems: Sequence[tuple[str, str]]) -> None:
        """Keep the problems in the order found."""
        self.file, self.problems = file, tuple(problems)
        super().__init__(
            "\n".join(": ".join(part for part in (file, key, why) if part) for key, why in problems)
        )


@dataclass(frozen=True)
class Mapping:
    """How a list is to be read; made by ``read_mapping`` or ``plain``.

    Attributes:
        file: Name of the mapping file, for messages.
        said: What it says.
    """

    file: str
    said: Said

    @cached_property
    def clock(self) -> Clock:
        """The clock by which the list tells local times."""
        zone = self.said.time_zone
        return Clock(ZoneInfo(zone) if zone else None, self.said.clock_change)

    @cached_property
    def columns(self) -> dict[str, Column]:
        """What is said of each named column, by its header without needless blanks."""
        return {
            collapsed(header): Column(field=said) if isinstance(said, str) else said
            for header, said in self.said.columns.items()
        }

    @cached_property
    def constants(self) -> dict[str, Any]:
        """The fields that are the same in every line, read."""
        return {name: self.constant(name, value) for name, value in self.said.constants.items()}

    def constant(self, name: str, value: Any) -> Any:
        """Read the value of a constant; ``CellError`` says why it cannot be read."""
        if isinstance(value, datetime):
            return self.clock.instant(value)
        return through(readers(name, {}, self.clock), value)

    def column(self, header: str) -> Column | None:
        """Give what holds for a column: its own entry, or the field of that name, or nothing."""
        if header in self.columns:
            return self.columns[header]
        passed_over = header == REASON or header in self._ignored
        return Column(field=header) if header in FIELDS and not passed_over else None

    def ignores(self, header: str) -> bool:
        """Say whether a column that gives no field is passed over knowingly."""
        return header == REASON or not self._ignored.isdisjoint((header, ALL_OTHERS))

    @cached_property
    def _ignored(self) -> frozenset[str]:
        return frozenset(map(collapsed, self.said.ignore))

    def knows(self, header: str) -> bool:
        """Say whether the header is one that the mapping speaks of."""
        return self.column(header) is not None or header == REASON or header in self._ignored

    def refusal(self, problems: Iterable[tuple[str, str]]) -> MappingError:
        """Give the error with this mapping's file name."""
        return MappingError(self.file, list(problems))


def through(way: Iterable[Read], cell: Any) -> Any:
    """Read a cell by one reader after the other."""
    for read in way:
        cell = read(cell)
    return cell


def plain(keeper: str) -> Mapping:
    """Give the mapping of a list whose headers or keys are the names of the fields.

    Raises:
        MappingError: the keeper's name is empty or too long.
    """
    try:
        return Mapping("no mapping", Said(keeper=keeper))
    except ValidationError as error:
        problem = ("keeper", "a name has 1 to 200 characters")
        raise MappingError("no mapping", [problem]) from error
