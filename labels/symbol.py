"""The QR symbol of a label as one vector path of whole printer dots.

The matrix is the `qrcode` library's; this file only chooses its level and draws it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil

import qrcode
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
from qrcode.util import MODE_ALPHA_NUM, QRData, lost_point

from labels.stock import MM_PER_INCH

Matrix = tuple[tuple[bool, ...], ...]

QUIET_MODULES = 4
"""Width of the empty border, in modules (ISO/IEC 18004)."""

MODULE_MM_MIN = 0.6
"""Least module by design. Measured: 5 dots of 203 dpi (0.625 mm) outlive blur and dead dots."""

TENTHS = 10
"""The path is written in tenths of a dot, so that its edges are whole numbers too."""

LEVELS = {"H": ERROR_CORRECT_H, "Q": ERROR_CORRECT_Q}
"""Error correction levels in order of choice."""

_MASKS = 8


@dataclass(frozen=True, slots=True)
class Symbol:
    """A QR symbol: its matrix (True is dark, top row first), level and mask."""

    modules: Matrix
    level: str
    mask: int


def module_dots(dpi: int) -> int:
    """Printer dots of one module's side: the fewest whole dots that reach 0.6 mm."""
    return ceil(MODULE_MM_MIN * dpi / MM_PER_INCH)


@cache
def version_for(characters: int, level: str) -> int:
    """The version (size) of the symbol that so many alphanumeric characters need at a level."""
    version: int = _code("A" * characters, level, None).best_fit(start=1)
    return version


def size_modules(version: int) -> int:
    """Modules along one side of a symbol of a version, quiet zone not counted."""
    return 17 + 4 * version


def encode(text: str, level: str, mask: int | None = None) -> Symbol:
    """The symbol of a text at level "H" or "Q", with the best mask unless one is given.

    The text must keep to QR's alphanumeric mode (capitals, digits, `$%*+-./:` and space).
    """
    code = _code(text, level, version_for(len(text), level))
    code.makeImpl(False, 0 if mask is None else mask)
    if mask is not None:
        return Symbol(_frozen(code.modules), level, mask)
    choices = [
        [
            [cell != flip for cell, flip in zip(*rows, strict=True)]
            for rows in zip(code.modules, flips, strict=True)
        ]
        for flips in _flips(code.version, level)
    ]
    best = min(range(_MASKS), key=lambda at: lost_point(choices[at]))
    return Symbol(_frozen(choices[best]), level, best)


@cache
def _flips(version: int, level: str) -> tuple[Matrix, ...]:
    """Which modules turn over when each mask takes the place of mask 0, whatever the text.

    Kept, so that a print does not place the same bits eight times for every label.
    """
    code = _code("0A", level, version)
    masked = []
    for mask in range(_MASKS):
        code.makeImpl(False, mask)
        masked.append(_frozen(code.modules))
    return tuple(
        tuple(
            tuple(a != b for a, b in zip(*rows, strict=True))
            for rows in zip(masked[0], other, strict=True)
        )
        for other in masked
    )


def _code(text: str, level: str, version: int | None) -> qrcode.QRCode:
    code = qrcode.QRCode(version=version, error_correction=LEVELS[level], border=0)
    code.add_data(QRData(text, mode=MODE_ALPHA_NUM), optimize=0)
    return code


def _frozen(modules: Sequence[Sequence[bool | None]]) -> Matrix:
    return tuple(tuple(map(bool, row)) for row in modules)


def path(symbol: Symbol, dots: int) -> str:
    """PDF operators that fill the symbol as one path, in tenths of dots from its lower left.

    One path, since rectangles filled one by one each grow by a dot in many printers' rasters
    (measured: dark area + 25 % at 203 dpi). Its edges stand a tenth of a dot inside, since other
    rasters paint every dot that is touched (measured: + 20 %, with the tenth none).
    """
    boxes = [(start, row, end, row + 1) for row, start, end in _runs(symbol.modules)]
    columns = tuple(zip(*symbol.modules, strict=True))
    boxes += [
        (column, start, column + 1, end)
        for column, start, end in _runs(columns)
        if end - start > 1  # a single module already stands in its row
    ]
    side, foot = TENTHS * dots, len(symbol.modules)
    rectangles = (
        f"{left * side + 1} {(foot - below) * side + 1} "
        f"{(right - left) * side - 2} {(below - above) * side - 2} re"
        for left, above, right, below in boxes
    )
    return " ".join((*rectangles, "f"))


def _runs(lines: Matrix) -> Iterator[tuple[int, int, int]]:
    """Each unbroken run of dark modules in each line, as line, start and end."""
    for at, cells in enumerate(lines):
        start = None
        for place, dark in enumerate((*cells, False)):
            if dark and start is None:
                start = place
            elif not dark and start is not None:
                yield at, start, place
                start = None
