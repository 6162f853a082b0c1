"""Tables of fixed columns on paper, made for many thousand rows."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Literal

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.rl_accel import escapePDF
from reportlab.lib.units import mm

from service.manifests.lettering import FONT, cut, needs_shaping, printable, width_of, wrapped
from service.manifests.paper import INK, MARGIN, RULE, Paper

_LEADING = 1.3
_PAD = 1.0 * mm
_GAP = 0.2
"""Room between two rows, in ems."""
_LINES = 12
"""A cell on paper has at most so many lines; the CSV has the whole."""


@dataclass(frozen=True, slots=True)
class Col:
    """A column of a table on paper; a wrapped one makes its row as high as it needs."""

    title: str
    width_mm: float
    align: Literal["left", "right"] = "left"
    wrap: bool = False


@dataclass(frozen=True, slots=True)
class Chip:
    """A square of a colour with a letter in it, and a word: never the colour alone."""

    colour_hex: str
    mark: str
    text: str


@dataclass(frozen=True, slots=True)
class Tick:
    """An empty box to tick by hand."""


Cell = str | Chip | Tick


def grid(paper: Paper, cols: Sequence[Col], rows: Iterable[Sequence[Cell]], size: float) -> None:
    """Draw a table from the paper's present height on; its header stands again on each page."""
    table = _Grid(paper, cols, size)
    table.begin()
    for row in rows:
        table.row(row)
    table.end()


class _Grid:
    """A table being drawn: the text of a page is one text object, its rules are one path."""

    def __init__(self, paper: Paper, cols: Sequence[Col], size: float) -> None:
        self.paper, self.cols, self.size = paper, cols, size
        self.leading = size * _LEADING
        self.left: list[float] = []
        x = MARGIN
        for col in cols:
            self.left.append(x)
            x += col.width_mm * mm
        self.right = x
        self.rules: list[tuple[float, float, float, float]] = []
        self.text: Any = None

    def begin(self) -> None:
        if any(col.title for col in self.cols):
            self._header()
        self.text = self.paper.canvas.beginText(0, 0)
        self.text.setFont(FONT, self.size)
        self.text.setFillColor(_colour(INK))
        self.paper.canvas.setLineWidth(0.5)
        self.paper.canvas.setStrokeColor(_colour(INK))

    def _header(self) -> None:
        titles = [wrapped(c.title, c.width_mm * mm - _PAD, self.size) for c in self.cols]
        height = max(map(len, titles)) * self.leading
        self.paper.need(height + 3 * self.leading)
        paper, top = self.paper, self.paper.y - self.size
        for col, x, lines in zip(self.cols, self.left, titles, strict=True):
            for number, line in enumerate(lines):
                y = top - number * self.leading
                paper.text(self._edge(col, x), y, line, self.size, bold=True, align=col.align)
        paper.y -= height + 0.25 * self.leading
        paper.rule(paper.y, MARGIN, self.right)

    def end(self) -> None:
        canvas = self.paper.canvas
        canvas.drawText(self.text)
        canvas.setLineWidth(0.25)
        canvas.setStrokeColor(_colour(RULE))
        canvas.lines(self.rules)
        self.rules.clear()
        self.paper.y -= self.leading * 0.5

    def row(self, row: Sequence[Cell]) -> None:
        cells = [self._lines(c, cell) for c, cell in zip(self.cols, row, strict=True)]
        height = max(1, *map(len, cells)) * self.leading + _GAP * self.size
        if self.paper.lacks(height):
            self.end()
            self.paper.turn()
            self.begin()
        baseline = self.paper.y - self.size * (1 + _GAP / 2)
        for col, x, cell, lines in zip(self.cols, self.left, row, cells, strict=True):
            if isinstance(cell, Chip):
                self._chip(cell, x, baseline)
                x += self.size * 1.25
            elif isinstance(cell, Tick):
                self.paper.canvas.rect(x, baseline - self.size * 0.1, self.size, self.size * 0.9)
            for number, line in enumerate(lines):
                at = x
                if col.align == "right":
                    at = self._edge(col, x) - width_of(line, self.size)
                y = baseline - number * self.leading
                if needs_shaping(line):
                    self.paper.text(at, y, line, self.size)
                    continue
                self.text.setTextOrigin(at, y)
                self._put(line)
        self.paper.y -= height
        y = self.paper.y
        self.rules.append((MARGIN, y, self.right, y))

    def _put(self, line: str) -> None:
        """Put a line where the text is; most repeat, and are written once in the page's code."""
        if line.isascii() and self.text._curSubset == 0:  # where the font has all of ASCII as it is
            self.text._code.append(_code_of(line))
        else:
            self.text.textOut(line)

    def _edge(self, col: Col, x: float) -> float:
        """Where the column's text begins, or ends where it is set to the right."""
        return x + col.width_mm * mm - 1.5 * _PAD if col.align == "right" else x

    def _lines(self, col: Col, cell: Cell) -> list[str]:
        room = col.width_mm * mm - _PAD
        if isinstance(cell, str):
            if not cell:
                return []
            if col.wrap:
                lines = wrapped(cell, room, self.size)
                return lines if len(lines) <= _LINES else [*lines[: _LINES - 1], "… (see the CSV)"]
            return [cut(printable(cell), room, self.size)]
        if isinstance(cell, Chip):
            return [cut(printable(cell.text), room - self.size * 1.25, self.size)]
        return []

    def _chip(self, chip: Chip, x: float, baseline: float) -> None:
        canvas, text, side, small = self.paper.canvas, self.text, self.size, self.size * 0.8
        canvas.setFillColor(_colour(chip.colour_hex))
        canvas.rect(x, baseline - side * 0.15, side, side, fill=1)
        mark = printable(chip.mark)
        text.setFont(FONT, small)
        text.setFillColor(_colour(INK if _is_light(chip.colour_hex) else "#FFFFFF"))
        text.setTextOrigin(x + (side - width_of(mark, small)) / 2, baseline + side * 0.05)
        text.textOut(mark)
        text.setFont(FONT, self.size)
        text.setFillColor(_colour(INK))


@lru_cache(maxsize=4_096)
def _code_of(line: str) -> str:
    return f"({escapePDF(line.encode())}) Tj"


@cache
def _colour(colour_hex: str) -> Color:
    return HexColor(colour_hex)


@cache
def _is_light(colour_hex: str) -> bool:
    """Whether black letters read better on the colour than white ones (luma of Rec. 601)."""
    red, green, blue = (int(colour_hex[i : i + 2], 16) for i in (1, 3, 5))
    return 299 * red + 587 * green + 114 * blue > 128_000
