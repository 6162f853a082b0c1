"""The manifest's sections as CSV: UTF-8, RFC 4180, whole grams, times in UTC and in site time."""

import csv
from collections.abc import Iterable, Iterator
from datetime import datetime
from io import StringIO
from itertools import islice, repeat
from typing import Any
from zoneinfo import ZoneInfo

from service.manifests import listings
from service.manifests.figures import QuarterFigures
from service.manifests.listings import LISTINGS, Column, Listing, Row

AT_ONCE = 1_000
"""Rows that are written at a time."""
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula (OWASP, CSV injection)."""


def parts(figures: QuarterFigures) -> Iterator[tuple[str, Iterator[bytes]]]:
    """Give every section as a CSV file in parts, with its name, ``by-category.csv`` and so on."""
    made = (listing(figures) for listing in LISTINGS)
    return ((f"{one.name}.csv", _csv(one, figures.site.zone)) for one in made)


def tables(figures: QuarterFigures) -> dict[str, bytes]:
    """Give every section as a CSV file by its name."""
    return {name: b"".join(table) for name, table in parts(figures)}


def single_csv(figures: QuarterFigures) -> bytes:
    """Give the containers, one a line, as one CSV file."""
    return b"".join(_csv(listings.containers(figures), figures.site.zone))


def guarded(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would take for a formula."""
    return f"'{text}" if text.startswith(_RISKY) else text


def _csv(listing: Listing, zone: ZoneInfo) -> Iterator[bytes]:
    """Write a listing some rows at a time, column by column: that is faster than cell by cell."""
    out, rows = StringIO(newline=""), iter(listing.rows)
    writer = csv.writer(out)  # the module's own dialect is that of RFC 4180: CR LF, quotes
    some: list[Row] = []
    header = True
    while header or (some := list(islice(rows, AT_ONCE))):
        cells: Iterable[Any] = zip(*some, strict=True) if some else repeat(())
        written = [
            named
            for column, down in zip(listing.columns, cells, strict=False)
            for named in _written(column, down, zone)
        ]
        if header:
            writer.writerow([name for name, _ in written])
        header = False
        writer.writerows(zip(*(fields for _, fields in written), strict=True))
        yield out.getvalue().encode()
        out.seek(0)
        out.truncate()


def _written(
    column: Column, cells: Iterable[Any], zone: ZoneInfo
) -> list[tuple[str, list[str | int]]]:
    """Give the fields of a column under their names; an instant and a category take several."""
    name, cells = column.name, list(cells)
    match column.kind:
        case "time":
            return [
                (f"{name}_utc", [_utc(at) if at else "" for at in cells]),
                (f"{name}_local", [_local(at, zone) if at else "" for at in cells]),
            ]
        case "stream":
            return [
                (name, [guarded(s.id) for s in cells]),
                (f"{name}_name", [guarded(s.name) for s in cells]),
                (f"{name}_mark", [s.mark for s in cells]),
            ]
        case "text":
            return [(name, [guarded(text or "") for text in cells])]
        case "yes":
            return [(name, ["yes" if said else "no" for said in cells])]
        case "day":
            return [(name, [day.isoformat() if day else "" for day in cells])]
        case _:
            return [(name, ["" if number is None else number for number in cells])]


def _utc(at: datetime) -> str:
    return f"{at.replace(tzinfo=None).isoformat(timespec='seconds')}Z"


def _local(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).isoformat(timespec="seconds")
