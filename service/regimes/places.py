"""Where in a regime's file a table, a row or a key stands, and the refusal that names the place."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

_ROW = re.compile(r"^\s*\[\[\s*([\w-]+)\s*\]\]")
_TABLE = re.compile(r"^\s*\[\s*([\w.-]+)\s*\]\s*(#.*)?$")
_KEY = re.compile(r"^\s*\"?([\w-]+)\"?\s*=")

Loc = tuple[str | int, ...]
"""A place as keys and row numbers from 0: ``("route", 3, "stages")``."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a regime's file; ``line`` is None where the whole file is meant."""

    file: str
    line: int | None
    key: str
    reason: str

    def __str__(self) -> str:
        """Say file, line, key and reason in one line."""
        line = f"line {self.line}" if self.line else ""
        place = ", ".join(part for part in (self.file, line, self.key) if part)
        return f"{place}: {self.reason}"


class RegimeError(ValueError):
    """A regime's file is refused; ``problems`` names everything found, the text all of it."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        """Keep the problems in the order of the file."""
        self.problems = tuple(sorted(problems, key=lambda p: (p.line or 0, p.key)))
        super().__init__("\n".join(map(str, self.problems)))


def written(loc: Loc) -> str:
    """Write a place as people count: rows from 1, ``route[4].stages``."""
    parts = [f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in loc]
    return "".join(parts).removeprefix(".")


def line_of(text: str, loc: Loc) -> int | None:
    """Give the line (from 1) where the place begins, as near as the text shows it, or None."""
    lines = text.splitlines()
    match loc:
        case (str(table), int(row), *rest):
            start = _nth_row(lines, table, row)
        case (str(table), str(name), *rest):
            start, rest = _table(lines, f"{table}.{name}"), list(rest) or [name]
            start = start or _table(lines, table)
        case _:
            return _key(lines, 0, str(loc[0])) or _nth_row(lines, str(loc[0]), 0) if loc else None
    if start is None:
        return _key(lines, 0, table)
    return (rest and _key(lines, start, str(rest[0]))) or start


def _nth_row(lines: list[str], table: str, row: int) -> int | None:
    """Give the line of the table's row, counted from 0."""
    found = [n for n, line in enumerate(lines, 1) if (m := _ROW.match(line)) and m[1] == table]
    return found[row] if row < len(found) else None


def _table(lines: list[str], name: str) -> int | None:
    """Give the line of the table's header."""
    for number, line in enumerate(lines, 1):
        if (m := _TABLE.match(line)) and m[1] == name:
            return number
    return None


def _key(lines: list[str], after: int, key: str) -> int | None:
    """Give the line of the key between the header line ``after`` and the next header."""
    for number, line in enumerate(lines[after:], after + 1):
        if line.lstrip().startswith("[") and (_ROW.match(line) or _TABLE.match(line)):
            return None
        if (m := _KEY.match(line)) and m[1] == key:
            return number
    return None
