"""Read one cell of a list: words, whole numbers, weights, dates and local times, never guessing.

Where a text can be read in two ways it is refused; a reader gives None for an empty cell.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any, Literal
from zoneinfo import ZoneInfo

Read = Callable[[Any], Any]
"""A reader of cells; it raises ``CellError``."""

_TRUTHS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
_NUMBERS = {
    ".": re.compile(r"[+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?"),
    ",": re.compile(r"[+-]?[0-9]{1,9}(?:,[0-9]{1,9})?"),
}
_WITH_UNIT = re.compile(r"(.*[0-9])\s*([^\W\d_]+|%|°C)", re.DOTALL)
UNITS: dict[str, tuple[int, str]] = {
    "kg": (3, "kg"),
    "g": (0, "g"),
    "percent": (-2, "%"),
    "fraction": (0, ""),
    "each": (0, ""),
    "celsius": (0, "°C"),
}
"""By how many powers of ten a unit is above the field's own, and how it is written in a cell."""


class CellError(ValueError):
    """A cell cannot be read; the message says what it holds and what is wrong with it."""


def collapsed(text: str) -> str:
    """Give the text with each run of blanks as one space, none at its ends."""
    return " ".join(text.split())


def text(cell: Any) -> Any:
    """Read words as they stand, without the blanks around them; anything but text is kept."""
    if isinstance(cell, str):
        return cell.strip() or None
    return str(cell) if isinstance(cell, int) and not isinstance(cell, bool) else cell


def truth(cell: Any) -> Any:
    """Read true/false, yes/no or 1/0; other words need a translation in the mapping."""
    if not isinstance(cell, str):
        return cell
    word = cell.strip().casefold()
    if word and word not in _TRUTHS:
        raise CellError(f"'{cell.strip()}' is neither true nor false: translate it in the mapping")
    return _TRUTHS.get(word)


@dataclass(frozen=True, slots=True)
class Split:
    """Reads a cell that holds several things; any character of ``separators`` stands between."""

    separators: str

    def __call__(self, cell: Any) -> Any:
        """Give the parts that are not empty."""
        cell = text(cell)
        if not isinstance(cell, str):
            return cell
        parts = re.split("[" + re.escape(self.separators) + "]", cell)
        return [part.strip() for part in parts if part.strip()] or None


@dataclass(frozen=True, slots=True)
class Translated:
    """Reads a cell by the mapping's table of words; what is not in the table is refused."""

    table: Mapping[str, Any]
    """Words as ``key()`` writes them."""

    def __call__(self, cell: Any) -> Any:
        """Give what the table says of the word."""
        word = text(cell)
        if word is None:
            return None
        said = str(word).lower() if isinstance(word, bool) else str(word)
        if self.key(said) in self.table:
            return text(self.table[self.key(said)])
        if any(word == target for target in self.table.values()):
            return word
        raise CellError(f"'{said}' is not among the values of the mapping")

    @staticmethod
    def key(word: str) -> str:
        """Give the form in which words are compared: capitals and blanks make no difference."""
        return collapsed(word).casefold()


@dataclass(frozen=True, slots=True)
class Figure:
    """Reads a number exactly: in ``unit``, with the ``decimal`` sign given, into its own unit."""

    unit: str
    decimal: Literal[".", ","]
    whole: bool

    def __call__(self, cell: Any) -> Any:
        """Give a whole number, or the text of an exact decimal number."""
        if isinstance(cell, Decimal) or (isinstance(cell, int) and not isinstance(cell, bool)):
            exact = Decimal(cell)
            if not exact.is_finite() or not -20 < exact.adjusted() < 10 or len(str(exact)) > 25:
                raise CellError("the number is out of all bounds")
        elif not isinstance(cell, str):
            return cell
        elif not (written := cell.strip()):
            return None
        else:
            exact = self._exact(written)
        value = exact.scaleb(UNITS[self.unit][0])
        if not self.whole:
            return format(value, "f")
        if value != int(value):
            finer = "finer than a gram" if self.unit in ("g", "kg") else "not a whole number"
            raise CellError(f"'{cell}' is {finer}")
        return int(value)

    def _exact(self, written: str) -> Decimal:
        number = written.replace("\u2212", "-")
        if match := _WITH_UNIT.fullmatch(number):
            number, unit = match[1], match[2]
            if unit.casefold() != UNITS[self.unit][1].casefold():
                raise CellError(f"'{written}' is in {unit}, but the column is in {self.unit}")
        if not _NUMBERS[self.decimal].fullmatch(number):
            raise CellError(self._why_not(written, number))
        return Decimal(number.replace(",", "."))

    def _why_not(self, written: str, number: str) -> str:
        sign = "comma" if self.decimal == "," else "point"
        if re.search(r"[0-9][.,'’\s][0-9]", number):
            return (
                f"'{written}' is ambiguous: decimals have a {sign} in this column, and separators "
                "of thousands are not read; write the number without them"
            )
        return f"'{written}' is not a number with decimal {sign}"


@dataclass(frozen=True, slots=True)
class Clock:
    """The zone in which a list tells the time, and what it means when clocks are changed."""

    zone: ZoneInfo | None = None
    change: Literal["refuse", "earlier", "later"] = "refuse"

    def instant(self, local: datetime) -> datetime:
        """Give the instant of a local time; one with an offset of its own needs no zone.

        Raises:
            CellError: no zone is known, or the hour was skipped or came twice and nothing says
                which is meant.
        """
        try:
            return self._instant(local)
        except OverflowError as why:
            raise CellError(f"the year {local.year} is out of all bounds") from why

    def _instant(self, local: datetime) -> datetime:
        if local.tzinfo is not None:
            return local.astimezone(UTC)
        if self.zone is None:
            raise CellError(f"'{local}' has no zone: say time_zone in the mapping")
        first, second = (local.replace(tzinfo=self.zone, fold=f).astimezone(UTC) for f in (0, 1))
        if first == second or self.change != "refuse":
            return min(first, second) if self.change == "earlier" else max(first, second)
        back = first.astimezone(self.zone).replace(tzinfo=None) == local
        what = "came twice" if back else "never came"
        raise CellError(
            f"{local:%Y-%m-%d %H:%M} {what} in {self.zone.key}, where clocks were put "
            f"{'back' if back else 'forward'}: write it with its offset, or say clock_change "
            "in the mapping"
        )


@dataclass(frozen=True, slots=True)
class Moment:
    """Reads a date, a time of day or both, by ``strptime`` patterns or as ISO 8601 (``iso``)."""

    part: Literal["date", "time", "instant"]
    formats: tuple[str, ...]
    clock: Clock = Clock()

    def __call__(self, cell: Any) -> Any:
        """Give a date, a time, or an instant in UTC."""
        if not isinstance(cell, str):
            return cell
        written = collapsed(cell)
        if not written:
            return None
        readings = {r for f in self.formats if (r := self._by(f, written)) is not None}
        if not readings:
            shapes = " or ".join(self.formats)
            raise CellError(f"'{written}' is not a {self._called()} written as {shapes}")
        if len(readings) > 1:
            raise CellError(f"'{written}' can be read in two ways by the formats of the mapping")
        (reading,) = readings
        return self.clock.instant(reading) if isinstance(reading, datetime) else reading

    def _called(self) -> str:
        return {"date": "date", "time": "time of day", "instant": "date and time"}[self.part]

    def _by(self, pattern: str, written: str) -> date | time | datetime | None:
        try:
            if pattern == "iso":
                return self._iso(written)
            moment = datetime.strptime(written, pattern)  # noqa: DTZ007 - the zone follows
        except ValueError:
            return None
        if self.part == "instant":
            return moment
        return moment.date() if self.part == "date" else moment.time()

    def _iso(self, written: str) -> date | time | datetime | None:
        if self.part == "date":
            return date.fromisoformat(written)
        if self.part == "time":
            return time.fromisoformat(written)
        return datetime.fromisoformat(written) if ":" in written or "T" in written else None

    def fault(self) -> str:
        """Say which format cannot give what the field needs, or nothing."""
        sample = datetime(2023, 11, 28, 13, 0, tzinfo=UTC)
        wanted = {"date": sample.date(), "time": sample.time(), "instant": sample}[self.part]
        for pattern in self.formats:
            if pattern == "iso":
                continue
            try:
                got = self._by(pattern, sample.strftime(pattern))
            except (ValueError, re.error):
                got = None
            if isinstance(got, datetime) and got.tzinfo is None:
                got = got.replace(tzinfo=UTC)
            if got != wanted or "%Z" in pattern:
                return f"'{pattern}' does not say a {self._called()} in full"
        return ""

    def needs_zone(self) -> bool:
        """Say whether a format gives local times."""
        return self.part != "date" and any("%z" not in f for f in self.formats if f != "iso")
