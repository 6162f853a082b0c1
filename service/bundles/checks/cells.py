"""Where two tables differ: lines missing and too many by name, then cells by line and column."""

import csv
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from io import StringIO
from itertools import zip_longest

_LONGEST = 80
_KEYS: Mapping[str, tuple[str, ...]] = {"violations.csv": ("container", "code")}
"""What names a line where that is not what it begins with."""
_COUNT = "line"
"""A column that only counts the lines: it names none, and follows from those that are missing."""

Row = tuple[str, ...]
Line = tuple[int, Row]
"""A line's number, the header being line 1, and its cells."""


def differing(said: bytes, reckoned: bytes, name: str) -> list[str]:
    """Say how a table of a bundle differs from the one reckoned; nothing if it does not."""
    if said == reckoned:
        return []
    try:
        theirs, ours = _rows(said), _rows(reckoned)
    except (UnicodeDecodeError, csv.Error) as error:
        return [f"csv/{name} is no table: {error}"]
    if theirs[:1] != ours[:1]:
        return [f"csv/{name}: its columns are not those of this table"]
    found = list(_found(theirs, ours, _naming(ours, name)))
    if not found and len(theirs) == len(ours):
        found = list(_order(theirs, ours))
    return [f"csv/{name}{one}" for one in found or [": written otherwise than a table's lines are"]]


def _rows(table: bytes) -> list[Row]:
    return [tuple(row) for row in csv.reader(StringIO(table.decode(), newline=""), strict=True)]


def _naming(ours: Sequence[Row], name: str) -> list[int]:
    """Give the columns that name a line: the fewest at the beginning that tell all lines apart."""
    header, rows = ours[0], ours[1:]
    if name in _KEYS:
        return [header.index(column) for column in _KEYS[name]]
    columns = [at for at, column in enumerate(header) if column != _COUNT]
    for width in range(1, len(columns)):
        if len({tuple(row[at] for at in columns[:width]) for row in rows}) == len(rows):
            return columns[:width]
    return columns


def _found(theirs: Sequence[Row], ours: Sequence[Row], naming: Sequence[int]) -> Iterator[str]:
    """Pair the lines that are not the same by what names them, and say how they differ."""
    said, made = (
        _by_name(_not_in(rows, others), naming) for rows, others in ((theirs, ours), (ours, theirs))
    )
    pairs = [
        (named, *pair)
        for named in {**made, **said}
        for pair in zip_longest(said.get(named, ()), made.get(named, ()))
    ]
    for named, line, right in pairs:
        if line is None:
            yield f": missing: {_shown(' '.join(named))} (line {right[0]} as reckoned)"
    for named, line, right in pairs:
        if right is None:
            name = _shown(" ".join(named))
            yield f", line {line[0]}: listed, but not found by entries and rules: {name}"
    unlike = len(theirs) != len(ours)
    for _, line, right in pairs:
        if line is not None and right is not None:
            cells = _cells(ours[0], line[0], line[1], right[1])
            yield from (said for column, said in cells if column != _COUNT or not unlike)


def _not_in(rows: Sequence[Row], others: Sequence[Row]) -> Iterator[Line]:
    """Give the lines of one table that the other does not have, or not as often."""
    left = Counter(others)
    for number, row in enumerate(rows, 1):
        if left[row]:
            left[row] -= 1
        else:
            yield number, row


def _by_name(lines: Iterator[Line], naming: Sequence[int]) -> dict[Row, list[Line]]:
    found: dict[Row, list[Line]] = defaultdict(list)
    for number, row in lines:
        found[tuple(row[at] for at in naming if at < len(row))].append((number, row))
    return found


def _cells(header: Row, number: int, row: Row, right: Row) -> Iterator[tuple[str, str]]:
    """Name the cells of a line that differ, each with its column."""
    if len(row) != len(right):
        yield "", f", line {number}: {len(row)} cells, not {len(right)}"
        return
    for column, cell, made in zip(header, row, right, strict=True):
        if cell != made:
            told = f"said '{_shown(cell)}', reckoned '{_shown(made)}'"
            yield column, f", line {number}, {column}: {told}"


def _order(theirs: Sequence[Row], ours: Sequence[Row]) -> Iterator[str]:
    """Name the first line that stands where another does; the tables have the same lines."""
    for number, (row, right) in enumerate(zip(theirs, ours, strict=True), 1):
        if row != right:
            yield f": its lines are in another order, from line {number} on"
            return


def _shown(cell: str) -> str:
    return cell if len(cell) <= _LONGEST else f"{cell[:_LONGEST]}…"
