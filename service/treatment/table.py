"""A logger's file as a table: CSV, or JSON as a list of objects or an object of lists."""

import csv
import json
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, NoReturn

from service.treatment.problems import Problem, TraceError, refuse

Cells = Sequence[object]


@dataclass(frozen=True)
class Table:
    """Columns of cells as they stand in the file: text in a CSV, values in a JSON.

    Attributes:
        columns: cells by header, in the order of the file.
        places: the line or row of each cell, counted as people do.
        unit: what a place is called: ``line`` or ``row``.
        comma_splits: the comma parts the columns, so it cannot be a decimal sign.
    """

    columns: dict[str, Cells]
    places: Sequence[int]
    unit: str
    comma_splits: bool

    def at(self, number: int) -> str:
        """Say where the cells of that number stand."""
        return f"{self.unit} {self.places[number]}"


def table(text: str) -> Table:
    """Read the text; a JSON begins with a brace or a bracket, all else is CSV with a header.

    Raises:
        TraceError: it is neither, or its rows have not as many cells as its header.
    """
    text = text.removeprefix("\ufeff")
    begins = text.lstrip()[:1]
    if not begins:
        raise refuse("the file is empty")
    if "\0" in text:
        raise refuse("this is no text file: export the trace as CSV or JSON")
    return _json(text) if begins in "{[" else _csv(text)


def _csv(text: str) -> Table:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    places: Sequence[int] = range(1, len(lines) + 1)
    if not all(map(str.strip, lines)):
        places = [place for place, line in zip(places, lines, strict=True) if line.strip()]
        lines = [line for line in lines if line.strip()]
    delimiter = next((sign for sign in (";", "\t") if sign in lines[0]), ",")
    cells, widths = _cells(lines, delimiter)
    width = widths[0]
    ragged = [
        Problem(f"{found} cells under {width} headers", f"line {place}")
        for found, place in zip(widths, places, strict=True)
        if found != width
    ]
    if ragged and delimiter == ",":
        ragged.append(Problem("decimal commas? Then part the columns by semicolons"))
    if ragged:
        raise TraceError(ragged)
    columns = [cells[number::width] for number in range(width)]
    names = [column[0] for column in columns]
    return Table(
        _named(names, [column[1:] for column in columns]), places[1:], "line", delimiter == ","
    )


def _cells(lines: list[str], delimiter: str) -> tuple[list[str], list[int]]:
    """Give the cells of all lines one after another, and how many stand in each line."""
    if not any('"' in line for line in lines):
        widths = [line.count(delimiter) + 1 for line in lines]
        return delimiter.join(lines).split(delimiter), widths
    try:
        rows = list(csv.reader(lines, delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise refuse(f"the file is no CSV: {error}") from error
    if len(rows) != len(lines):
        raise refuse("the file is no CSV: a quotation goes over the end of a line")
    return list(chain.from_iterable(rows)), list(map(len, rows))


def _named(names: Sequence[str], columns: Sequence[Cells]) -> dict[str, Cells]:
    """Give the columns by header, in small letters."""
    heads = [name.strip().lower() for name in names]
    for number, head in enumerate(heads):
        if not head:
            raise refuse(f"column {number + 1} has no header")
        if head in heads[:number]:
            raise refuse("two columns have this header", column=head)
    return dict(zip(heads, columns, strict=True))


def _json(text: str) -> Table:
    try:
        read = json.loads(text, parse_constant=_no_number, object_pairs_hook=_once)
    except json.JSONDecodeError as error:
        raise refuse(f"the file is no JSON: {error.msg}", f"line {error.lineno}") from error
    except RecursionError as error:
        raise refuse("the file is no trace: it is nested too deep") from error
    columns = _from_rows(read) if isinstance(read, list) else _from_lists(read)
    length = len(next(iter(columns.values()), ()))
    return Table(columns, range(1, length + 1), "row", comma_splits=True)


def _from_rows(read: list[Any]) -> dict[str, Cells]:
    wrong = [n for n, row in enumerate(read, 1) if not isinstance(row, dict)]
    if wrong:
        raise TraceError([Problem("not an object of named values", f"row {n}") for n in wrong])
    names: dict[str, None] = {name: None for row in read for name in row}
    return _named(list(names), [[row.get(name) for row in read] for name in names])


def _from_lists(read: dict[str, Any]) -> dict[str, Cells]:
    for name, column in read.items():
        if not isinstance(column, list):
            raise refuse("not a list of values", column=name)
    columns = _named(list(read), list(read.values()))
    if len({len(column) for column in columns.values()}) > 1:
        told = ", ".join(f"{name} {len(column)}" for name, column in columns.items())
        raise refuse(f"the lists are not of one length: {told}")
    return columns


def _no_number(word: str) -> NoReturn:
    raise refuse(f"'{word}' is no number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Refuse an object that gives one name twice."""
    read = dict(pairs)
    if len(read) < len(pairs):
        names = [name for name, _ in pairs]
        raise refuse("given twice", column=next(n for n in names if names.count(n) > 1))
    return read
