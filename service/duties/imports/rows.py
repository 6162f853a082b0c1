"""From the records of a list to events as they are submitted, by the list's mapping."""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from io import TextIOBase
from typing import Any

from pydantic import ValidationError

from service.custody.events import EVENT
from service.duties.imports.cells import CellError, Read, collapsed
from service.duties.imports.checks import bind
from service.duties.imports.fields import COUNT, DATE, DAY, NESTED, TIME, readers
from service.duties.imports.ids import NIL, derive_ids, event_id, with_bare_ids
from service.duties.imports.mapping import REASON, Mapping, through
from service.duties.imports.sheet import (
    DELIMITERS,
    Lines,
    Record,
    UnreadableListError,
    objects,
    row,
    rows,
)
from service.duties.wording import malformed


@dataclass(frozen=True, slots=True)
class Line:
    """One record as read: the event to submit, or the reason why there is none."""

    record: Record
    event: dict[str, Any] | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A list that was opened and fits its mapping.

    Attributes:
        delimiter: What parts its columns; empty for JSON Lines.
        preamble: The lines above the header, as they stand.
        header: The header record as it stands.
        marked: Whether the first column is the reason of an earlier refusal.
        lines: Its records, read as they are asked for.
    """

    delimiter: str
    preamble: str
    header: str
    marked: bool
    lines: Iterator[Line]


def json_lines(text: TextIOBase, mapping: Mapping) -> Sheet:
    """Open JSON Lines: an object a line, in the shape of submitted events or by the mapping."""
    keys = _Keys(mapping)
    return Sheet("", "", "", True, (keys.read(record) for record in objects(Lines(text))))


def table(text: TextIOBase, mapping: Mapping, file: str) -> Sheet:
    """Open CSV: read the header and fit the mapping to it.

    Raises:
        UnreadableListError: there is no header.
        MappingError: the mapping does not fit the header.
    """
    lines = Lines(text)
    preamble = "".join(lines.read() for _ in range(mapping.said.header_line - 1))
    top, delimiter = _header(lines, mapping, file)
    headers = [collapsed(cell) for cell in top.cells]
    while not headers[-1]:
        headers.pop()
    bind(mapping, headers, file)
    cells = _Cells(mapping, headers, len(top.cells))
    read = (cells.read(record) for record in rows(lines, delimiter))
    return Sheet(delimiter, preamble, top.raw, headers[0] == REASON, read)


def _header(lines: Lines, mapping: Mapping, file: str) -> tuple[Record, str]:
    while (line := lines.read()) and not line.strip():
        pass
    if not line:
        raise UnreadableListError(f"{file} has no header line: the names of its columns are wanted")
    lines.put_back([line])
    said = mapping.said.delimiter
    delimiter = _delimiter(line, mapping) if said == "auto" else said
    top = row(lines, delimiter)
    if top is None or top.reason or not any(cell.strip() for cell in top.cells):
        why = top.reason if top and top.reason else "it names no column"
        raise UnreadableListError(f"{file}, header on line {lines.number}: {why}")
    return top, delimiter


def _delimiter(header: str, mapping: Mapping) -> str:
    """Give the delimiter by which the header has most columns that are known, else most columns."""

    def known(delimiter: str) -> tuple[int, int]:
        cells = next(csv.reader([header[:100_000]], delimiter=delimiter), [])
        return sum(mapping.knows(collapsed(cell)) for cell in cells), len(cells)

    return max(DELIMITERS, key=known)


class _Cells:
    """Reads the rows of one table."""

    def __init__(self, mapping: Mapping, headers: Sequence[str], width: int) -> None:
        self._mapping, self._width = mapping, width
        self._ways: list[tuple[int, str, str, tuple[Read, ...]]] = []
        self._nameless = [i for i in range(width) if i >= len(headers) or not headers[i]]
        for place, header in enumerate(headers):
            column = mapping.column(header)
            if column is not None:
                way = readers(column.field, column.options(), mapping.clock)
                self._ways.append((place, header, column.field, way))

    def read(self, record: Record) -> Line:
        """Give the line of a row."""
        if record.reason:
            return Line(record, None, record.reason)
        cells = record.cells
        if len(cells) != self._width:
            why = f"the row has {len(cells)} columns, the header {self._width}"
            return Line(record, None, why)
        said = dict(self._mapping.constants)
        problems = [
            f"'{cells[i].strip()}' stands in a column without a name"
            for i in self._nameless
            if cells[i].strip()
        ]
        for place, header, field, way in self._ways:
            try:
                value = through(way, cells[place])
            except CellError as why:
                problems.append(f"{header}: {why}")
                continue
            if value is not None:
                said[field] = value
        return _finished(self._mapping, record, said, problems)


class _Keys:
    """Reads the objects of JSON Lines; a key that the mapping does not know goes on as it is."""

    def __init__(self, mapping: Mapping) -> None:
        self._mapping = mapping
        self._ways: dict[str, tuple[str, tuple[Read, ...]]] = {}

    def read(self, record: Record) -> Line:
        """Give the line of an object."""
        if record.reason or not isinstance(record.cells, dict):
            return Line(record, None, record.reason or "the line is not an object")
        said, problems = dict(self._mapping.constants), []
        for key, cell in record.cells.items():
            field, way = self._way(key)
            if field in said:
                problems.append(f"{key}: {field} is given twice")
                continue
            try:
                value = through(way, cell)
            except CellError as why:
                problems.append(f"{key}: {why}")
                continue
            if field and value is not None:
                said[field] = value
        return _finished(self._mapping, record, said, problems)

    def _way(self, key: str) -> tuple[str, tuple[Read, ...]]:
        """Give the field that a key is, empty if it is passed over, and its readers."""
        if key in self._ways:
            return self._ways[key]
        column = self._mapping.column(collapsed(key))
        if column is None:
            passed_over = key not in NESTED and self._mapping.ignores(collapsed(key))
            return "" if passed_over else key, ()
        way = column.field, readers(column.field, column.options(), self._mapping.clock)
        self._ways[key] = way
        return way


def _finished(mapping: Mapping, record: Record, said: dict[str, Any], problems: list[str]) -> Line:
    """Join date and time, make the container ids and the event's own."""
    try:
        _join_date_and_time(mapping, said)
    except CellError as why:
        problems.append(str(why))
    if problems:
        return Line(record, None, "; ".join(problems))
    try:
        if mapping.said.container_ids == "theirs":
            derive_ids(mapping.said.keeper, said)
        bare = with_bare_ids(said)
        if said.get("id") is None:
            event = EVENT.validate_python(bare | {"id": NIL})
            said["id"] = str(event_id(mapping.said.keeper, event))
    except ValidationError as error:
        return Line(record, None, malformed(error))
    except ValueError as why:
        return Line(record, None, str(why))
    return Line(record, said)


def _join_date_and_time(mapping: Mapping, said: dict[str, Any]) -> None:
    """Make the time of happening; a count that tells none was taken as its day ended."""
    if DATE not in said and TIME not in said:
        counted = said.get("kind") == COUNT and isinstance(said.get(DAY), date)
        if counted and said.get("occurred_at") is None:
            ended = datetime.combine(said[DAY] + timedelta(days=1), time())
            said["occurred_at"] = mapping.clock.instant(ended)
        return
    day, hour = said.pop(DATE, None), said.pop(TIME, None)
    if not isinstance(day, date) or not isinstance(hour, time):
        raise CellError(f"the {TIME if isinstance(day, date) else DATE} is missing")
    said["occurred_at"] = mapping.clock.instant(datetime.combine(day, hour))
