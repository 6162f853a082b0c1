"""Where two tables differ, by line, column, and what is said and reckoned."""

import csv
from collections import Counter
from collections.abc import Iterator, Mapping
from io import StringIO

SHOWN = 5
_LONGEST = 120
_KEYS: Mapping[str, tuple[str, ...]] = {"violations.csv": ("container", "code")}
"""What names a row where rows that are missing or too many are to be told by name."""


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
    found = [*_by_name(theirs, ours, name), *_cells(theirs, ours, name)]
    if len(theirs) != len(ours):
        found.insert(0, f"csv/{name}: {len(theirs) - 1} lines, reckoned {len(ours) - 1}")
    return found[:SHOWN] or [f"csv/{name}: its bytes are written otherwise than a table's"]


def _rows(table: bytes) -> list[list[str]]:
    return list(csv.reader(StringIO(table.decode(), newline=""), strict=True))


def _by_name(theirs: list[list[str]], ours: list[list[str]], name: str) -> Iterator[str]:
    """Name the rows that are missing or too many."""
    columns = [ours[0].index(column) for column in _KEYS.get(name, ())]
    if not columns:
        return
    said, reckoned = (
        Counter(tuple(row[i] for i in columns if i < len(row)) for row in rows[1:])
        for rows in (theirs, ours)
    )
    for row in reckoned - said:
        yield f"csv/{name}: missing: {' '.join(row)}"
    for row in said - reckoned:
        yield f"csv/{name}: listed, but not found by the rules: {' '.join(row)}"


def _cells(theirs: list[list[str]], ours: list[list[str]], name: str) -> Iterator[str]:
    """Name the first cells that differ; line 1 is the header."""
    header = ours[0]
    for line, (row, right) in enumerate(zip(theirs, ours, strict=False), 1):
        if len(row) != len(right):
            yield f"csv/{name}, line {line}: {len(row)} cells, not {len(right)}"
            return
        for column, cell, made in zip(header, row, right, strict=True):
            if cell != made:
                yield (
                    f"csv/{name}, line {line}, {column}: said '{cell[:_LONGEST]}', "
                    f"reckoned '{made[:_LONGEST]}'"
                )
        if row != right and len(theirs) != len(ours):
            return  # from the first line that is missing or too many on, every line is another
