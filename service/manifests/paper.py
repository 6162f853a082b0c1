"""A4 pages with a running head, page numbers, headings, paragraphs and tables of fixed columns.

It knows nothing of waste; the same calls give the same bytes.
"""

from collections.abc import Sequence
from typing import BinaryIO

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from service.manifests.lettering import (
    FONT,
    cut,
    draw_shaped,
    font,
    needs_shaping,
    printable,
    width_of,
    wrapped,
)
from service.manifests.pages import Pages

_BOLD = 0.03
"""Bold is the regular letter with its outline drawn as well, this many ems wide."""
MARGIN = 10 * mm
_HEAD = 12 * mm
_FOOT = 6 * mm
_TOTAL_PAGES = "total-pages"

INK, GREY, RULE = "#000000", "#555555", "#999999"


class Paper:
    """Pages written from top to bottom."""

    def __init__(self, title: str, head: tuple[str, str], foot: str) -> None:
        """Begin; ``head`` stands left and right on every page, ``foot`` below."""
        font()
        self.canvas = Canvas("", pagesize=A4, invariant=1, pageCompression=1)
        self._done = Pages(self.canvas)
        self.canvas.setTitle(title)
        self._head, self._foot = head, foot
        self._pages = 0
        self.width = self.y = 0.0

    def page(self, *, wide: bool = False) -> None:
        """Begin a new page, upright or wide."""
        if self._pages:
            self._done.turn()
        self._pages += 1
        self._size = landscape(A4) if wide else A4
        self._wide = wide
        self.canvas.setPageSize(self._size)
        self.width = self._size[0] - 2 * MARGIN
        self.y = self._size[1] - MARGIN - _HEAD
        self._frame()

    def _frame(self) -> None:
        left, right = self._head
        y = self._size[1] - MARGIN - 3 * mm
        self.text(MARGIN, y, cut(printable(left), self.width - 75 * mm, 8), 8, bold=True)
        self.text(MARGIN + self.width, y, right, 8, align="right", colour=GREY)
        self.rule(y - 2 * mm)
        y = MARGIN
        self.text(MARGIN, y, cut(printable(self._foot), self.width - 40 * mm, 7), 7, colour=GREY)
        number = f"page {self._pages} of "
        x = MARGIN + self.width - 8 * mm
        self.text(x, y, number, 8, align="right")
        self.canvas.saveState()
        self.canvas.translate(x, y)
        self.canvas.doForm(_TOTAL_PAGES)
        self.canvas.restoreState()

    def finish(self, out: BinaryIO) -> None:
        """Write the document; the number of pages is filled in only now."""
        self._done.turn()
        self.canvas.beginForm(_TOTAL_PAGES)
        self.text(0, 0, str(self._pages), 8)
        self.canvas.endForm()
        self._done.write(out)

    def lacks(self, height: float) -> bool:
        """Say whether fewer points are left on the page."""
        return bool(self.y - height < MARGIN + _FOOT)

    def turn(self) -> None:
        """Begin a new page like this one."""
        self.page(wide=self._wide)

    def need(self, height: float) -> None:
        """Begin a new page like this one unless so many points are left on it."""
        if self.lacks(height):
            self.turn()

    def space(self, height_mm: float) -> None:
        """Leave some room."""
        self.y -= height_mm * mm

    def heading(self, text: str, size: float = 11) -> None:
        """Write a heading, never as the last thing on a page."""
        self.need(size * 1.6 + 20 * mm)
        self.y -= size * 1.5
        self.text(MARGIN, self.y, text, size, bold=True)
        self.y -= size * 0.6

    def paragraph(self, text: str, size: float = 8.5, *, bold: bool = False) -> None:
        """Write a paragraph over the whole width."""
        for line in wrapped(text, self.width, size * (1 + bool(bold) * _BOLD)):
            self.need(size * 1.35)
            self.y -= size * 1.35
            self.text(MARGIN, self.y, line, size, bold=bold)
        self.y -= size * 0.4

    def banner(self, text: str) -> None:
        """Write a line in a frame that nobody overlooks."""
        self.y -= 9 * mm
        self.canvas.setLineWidth(1.2)
        self.canvas.rect(MARGIN, self.y, self.width, 8 * mm)
        self.text(MARGIN + 3 * mm, self.y + 2.6 * mm, text, 11, bold=True)
        self.y -= 2 * mm

    def sign_off(self, titles: Sequence[str]) -> None:
        """Draw a line to sign on for each title."""
        self.need(9 * mm * len(titles))
        for title in titles:
            self.y -= 9 * mm
            self.text(MARGIN, self.y, title, 8.5)
            for label, x0, x1 in (("name", 45, 100), ("signature", 104, 155), ("date", 159, 190)):
                self.text(MARGIN + x0 * mm, self.y - 3.2 * mm, label, 6, colour=GREY)
                self.rule(self.y - 0.6 * mm, MARGIN + x0 * mm, MARGIN + x1 * mm)
        self.y -= 4 * mm

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: str = "left",
        colour: str = INK,
    ) -> None:
        """Write a line of text at a point; bold letters are outlined as well."""
        shown = printable(text)
        if align == "right":
            x -= width_of(shown, size)
        if needs_shaping(shown):
            self.canvas.setFillColor(HexColor(colour))
            self.canvas.setStrokeColor(HexColor(colour))
            self.canvas.setLineWidth(size * _BOLD)
            draw_shaped(self.canvas, (x, y), shown, size, bold=bold)
            return
        line = self.canvas.beginText(x, y)
        line.setFont(FONT, size)
        line.setFillColor(HexColor(colour))
        if bold:
            line.setTextRenderMode(2)
            self.canvas.setLineWidth(size * _BOLD)
            self.canvas.setStrokeColor(HexColor(colour))
        line.textOut(shown)
        if bold:
            line.setTextRenderMode(0)
        self.canvas.drawText(line)

    def rule(self, y: float, x0: float | None = None, x1: float | None = None) -> None:
        """Draw a thin line across, or between two points."""
        self.canvas.setLineWidth(0.4)
        self.canvas.setStrokeColor(HexColor(RULE))
        left, right = MARGIN, MARGIN + self.width
        self.canvas.line(x0 if x0 is not None else left, y, x1 if x1 is not None else right, y)
