"""Where things stand on a label of a stock: two symbols in opposite corners, and the boxes left.

The symbols stand corner to corner so that no fold along or across the label meets both.
"""

from dataclasses import dataclass
from functools import cache
from math import hypot

from labels.stock import POINTS_PER_INCH, POINTS_PER_MM, Stock
from labels.symbol import QUIET_MODULES, module_dots

APART_MM_MIN = 12.0
"""Least distance between the two symbols, edge to edge (measured: saves more than any level)."""

EDGE_MM = 1.5
"""Left empty along the label's edge, for paper that runs a little askew."""

BAND_MM_MIN = (40.0, 18.0)
"""Least width and height of the two text bands beside the symbols."""

_GAP_MM = 0.6
_WIDE_MIDDLE_MM = 7.0
_NARROW_MIDDLE_MM = (40.0, 4.0)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in points from the label's lower left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.x + self.width

    @property
    def top(self) -> float:
        """Its upper edge."""
        return self.y + self.height

    def inset(self, by: float) -> "Box":
        """The box smaller by so many points on each side."""
        return Box(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)

    def split_right(self, width: float, gap: float = 0.0) -> tuple["Box", "Box"]:
        """The box in two: what is left, and a part of that width at the right."""
        left = Box(self.x, self.y, self.width - width - gap, self.height)
        return left, Box(self.right - width, self.y, width, self.height)

    def split_top(self, height: float, gap: float = 0.0) -> tuple["Box", "Box"]:
        """The box in two: a part of that height at the top, and what is left."""
        above = Box(self.x, self.top - height, self.width, height)
        return above, Box(self.x, self.y, self.width, self.height - height - gap)


@dataclass(frozen=True, slots=True)
class Layout:
    """The places of a label: symbols (lower left corners, in dots), text bands, place of the id.

    `middle` is None where the id has to share the lower band.
    """

    dots: int
    upper_symbol: tuple[int, int]
    lower_symbol: tuple[int, int]
    upper: Box
    middle: Box | None
    lower: Box


@cache
def lay_out(stock: Stock, size_modules: int) -> Layout | None:
    """The layout for symbols of so many modules, or None where they outgrow the label."""
    dots = module_dots(stock.dpi)
    width, height = stock.dots(stock.label_width_mm), stock.dots(stock.label_height_mm)
    inset = stock.dots(EDGE_MM) + QUIET_MODULES * dots
    size = size_modules * dots
    upper_symbol = (width - inset - size, height - inset - size)
    apart_dots = hypot(*(max(0, at - inset - size) for at in upper_symbol))
    point = POINTS_PER_INCH / stock.dpi
    cell = (size + 2 * QUIET_MODULES * dots) * point
    edge = stock.dots(EDGE_MM) * point
    inner = Box(0, 0, width * point, height * point).inset(edge)
    upper, middle, lower = _bands(inner, cell)
    least_width, least_height = (mm * POINTS_PER_MM for mm in BAND_MM_MIN)
    if (
        apart_dots < stock.dots(APART_MM_MIN) + 1
        or upper.width < least_width
        or upper.height < least_height
    ):
        return None
    return Layout(dots, upper_symbol, (inset, inset), upper, middle, lower)


def _bands(inner: Box, cell: float) -> tuple[Box, Box | None, Box]:
    """The band left of the upper symbol, the middle, and the band right of the lower symbol."""
    gap = _GAP_MM * POINTS_PER_MM
    spare = inner.height - 2 * cell
    middle = None
    if spare >= _WIDE_MIDDLE_MM * POINTS_PER_MM:
        band = cell
        middle = Box(inner.x, inner.y + cell + gap, inner.width, spare - 2 * gap)
    elif spare >= 0:
        band = inner.height / 2
    else:
        band = inner.height - cell
        column = Box(inner.x + cell + gap, inner.y + band + gap, inner.width - 2 * (cell + gap), 0)
        high = -spare - 2 * gap
        least_width, least_height = (mm * POINTS_PER_MM for mm in _NARROW_MIDDLE_MM)
        if column.width >= least_width and high >= least_height - 2 * gap:
            middle = Box(column.x, column.y, column.width, high)
    wide, high = inner.width - cell - gap, band - gap
    upper = Box(inner.x, inner.top - high, wide, high)
    lower = Box(inner.right - wide, inner.y, wide, high)
    return upper, middle, lower
