"""The manifest as a workbook, one sheet a section; the same figures give the same bytes."""

from datetime import date, datetime, timedelta
from io import BytesIO
from typing import Any, BinaryIO
from zoneinfo import ZoneInfo

import xlsxwriter

from service.manifests.figures import QuarterFigures
from service.manifests.lines import Stream
from service.manifests.listings import LISTINGS, Cell, Column, Listing

_EPOCH = datetime(1899, 12, 30)  # noqa: DTZ001  a workbook's day 0; its times have no zone
_DAY = timedelta(days=1)
_LONGEST = 32_767
"""Characters that a cell of a workbook can hold (Office Open XML)."""
_CUT = "… (whole in the CSV)"
_WIDTHS = {"number": 11, "grams": 12, "time": 17, "day": 11, "yes": 9, "text": 20}


def xlsx(figures: QuarterFigures) -> bytes:
    """Give the workbook, see ``write_xlsx``."""
    out = BytesIO()
    write_xlsx(figures, out)
    return out.getvalue()


def write_xlsx(figures: QuarterFigures, out: BinaryIO) -> None:
    """Write the workbook: times in the site's zone as real dates, weights as whole grams."""
    with xlsxwriter.Workbook(out, {"constant_memory": True}) as book:
        book.set_properties(
            {
                "title": f"Waste manifest {figures.quarter}, {figures.site.name}",
                "created": figures.now.replace(tzinfo=None, microsecond=0),
            }
        )
        sheets = _Sheets(book, figures.site.zone)
        for make in LISTINGS:
            listing = make(figures)
            if listing.in_workbook:
                sheets.add(listing)


class _Sheets:
    """Writes listings as sheets of one workbook."""

    def __init__(self, book: xlsxwriter.Workbook, zone: ZoneInfo) -> None:
        self.book, self.zone = book, zone
        self.header = book.add_format({"bold": True, "bottom": 1, "text_wrap": True})
        self.time = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        self.day = book.add_format({"num_format": "yyyy-mm-dd"})
        self.number = book.add_format({"num_format": "#,##0"})

    def add(self, listing: Listing) -> None:
        """Write one sheet: a header row that stays in view, a filter, then the rows."""
        sheet = self.book.add_worksheet(listing.name)
        titles = [t for column in listing.columns for t in self._titles(column)]
        for index, (title, width) in enumerate(titles):
            sheet.set_column(index, index, width)
            sheet.write_string(0, index, title, self.header)
        sheet.freeze_panes(1, 0)
        sheet.autofilter(0, 0, len(listing.rows), len(titles) - 1)
        for number, row in enumerate(listing.rows, 1):
            index = 0
            for cell in row:
                index = self._write(sheet, number, index, cell)

    def _titles(self, column: Column) -> tuple[tuple[str, int], ...]:
        width = _WIDTHS.get(column.kind, 20)
        match column.kind:
            case "stream":
                return (column.title, 14), (f"{column.title} name", 34), ("mark", 6)
            case "time":
                return ((f"{column.title} ({self.zone.key})", width),)
            case _:
                return ((column.title, width),)

    def _write(self, sheet: Any, row: int, index: int, cell: Cell) -> int:
        """Write a cell and give the next column; text is never taken for a formula."""
        if isinstance(cell, str):
            if cell:
                fits = len(cell) <= _LONGEST
                text = cell if fits else cell[: _LONGEST - len(_CUT)] + _CUT
                sheet.write_string(row, index, text)
        elif isinstance(cell, bool):
            sheet.write_string(row, index, "yes" if cell else "no")
        elif isinstance(cell, int):
            sheet.write_number(row, index, cell, self.number)
        elif isinstance(cell, datetime):
            local = cell.astimezone(self.zone).replace(tzinfo=None)
            sheet.write_number(row, index, (local - _EPOCH) / _DAY, self.time)
        elif isinstance(cell, date):
            sheet.write_number(row, index, (cell - _EPOCH.date()) / _DAY, self.day)
        elif isinstance(cell, Stream):
            sheet.write_string(row, index, cell.id)
            sheet.write_string(row, index + 1, cell.name)
            sheet.write_string(row, index + 2, cell.mark)
            return index + 3
        return index + 1
