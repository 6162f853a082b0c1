"""The manifest's sections as CSV: UTF-8, RFC 4180, whole grams, times in UTC and in site time."""

import csv
from collections.abc import Callable, Iterator
from datetime import date, datetime
from functools import lru_cache
from io import StringIO
from zoneinfo import ZoneInfo

from service.manifests import listings
from service.manifests.figures import QuarterFigures
from service.manifests.lines import Stream
from service.manifests.listings import LISTINGS, Cell, Column, Kind, Listing

_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula (OWASP, CSV injection)."""


def tables(figures: QuarterFigures) -> dict[str, bytes]:
    """Give every section as a CSV file by its name, ``by-category.csv`` and so on."""
    made = (listing(figures) for listing in LISTINGS)
    return {f"{one.name}.csv": _csv(one, figures.site.zone) for one in made}


def single_csv(figures: QuarterFigures) -> bytes:
    """Give the containers, one a line, as one CSV file."""
    return _csv(listings.containers(figures), figures.site.zone)


def guarded(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would take for a formula."""
    return f"'{text}" if text.startswith(_RISKY) else text


def _csv(listing: Listing, zone: ZoneInfo) -> bytes:
    out = StringIO(newline="")
    writer = csv.writer(out)  # the csv module's own dialect is that of RFC 4180: CR LF, quotes
    writer.writerow([name for column in listing.columns for name in _header(column)])
    writers = [_writer(column.kind, zone) for column in listing.columns]
    writer.writerows(_fields(row, writers) for row in listing.rows)
    return out.getvalue().encode()


def _header(column: Column) -> tuple[str, ...]:
    if column.kind == "time":
        return f"{column.name}_utc", f"{column.name}_local"
    if column.kind == "stream":
        return column.name, f"{column.name}_name", f"{column.name}_mark"
    return (column.name,)


Writer = Callable[[Cell], tuple[str | int, ...]]


def _fields(row: tuple[Cell, ...], writers: list[Writer]) -> Iterator[str | int]:
    for write, cell in zip(writers, row, strict=True):
        yield from write(cell)


def _writer(kind: Kind, zone: ZoneInfo) -> Writer:
    if kind == "time":
        return _times(zone)
    return {"stream": _stream, "day": _day, "yes": _yes}.get(kind, _plain)


def _times(zone: ZoneInfo) -> Writer:
    @lru_cache(maxsize=65_536)
    def times(cell: Cell) -> tuple[str, ...]:
        if not isinstance(cell, datetime):
            return "", ""
        return _utc(cell), cell.astimezone(zone).isoformat(timespec="seconds")

    return times


def _utc(at: datetime) -> str:
    return f"{at.isoformat(timespec='seconds').removesuffix('+00:00')}Z"


def _plain(cell: Cell) -> tuple[str | int, ...]:
    if cell is None:
        return ("",)
    return (guarded(cell) if isinstance(cell, str) else int(cell),)  # type: ignore[arg-type]


def _stream(cell: Cell) -> tuple[str, ...]:
    assert isinstance(cell, Stream)
    return guarded(cell.id), guarded(cell.name), cell.mark


def _day(cell: Cell) -> tuple[str, ...]:
    return (cell.isoformat() if isinstance(cell, date) else "",)


def _yes(cell: Cell) -> tuple[str, ...]:
    return ("yes" if cell else "no",)
