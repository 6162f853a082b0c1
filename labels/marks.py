"""Marks drawn on a label beside words: the black patterns and the hazard symbols.

Each becomes one reusable form of the PDF, drawn from geometry; none is taken from a picture.
"""

from collections.abc import Callable, Iterator
from math import cos, pi, sin

from reportlab.pdfgen.canvas import Canvas

from labels.face import Hazard, Pattern
from labels.stock import POINTS_PER_MM as MM

Line = list[tuple[float, float]]

_PITCH = 4.2 * MM
_STROKE = 1.1 * MM
_KEYLINE = 0.5 * MM
"""White on each side of a black stroke, so that the pattern shows on a dark colour too."""


def pattern_form(canvas: Canvas, pattern: str, width: float, height: float) -> str:
    """Name of the form that fills a tile of that size in points; made at its first use."""
    name = f"pattern-{pattern}-{width:.2f}-{height:.2f}"
    if not canvas.hasForm(name):
        canvas.beginForm(name, 0, 0, width, height)
        _draw_pattern(canvas, Pattern(pattern), width, height)
        canvas.endForm()
    return name


def hazard_form(canvas: Canvas, hazard: str, size: float) -> str:
    """Name of the form that draws the hazard symbol in a square of that side in points."""
    name = f"hazard-{hazard}-{size:.2f}"
    if not canvas.hasForm(name):
        canvas.beginForm(name, 0, 0, size, size)
        draw = {Hazard.BIOHAZARD: _draw_biohazard, Hazard.RADIATION: _draw_trefoil}
        draw.get(Hazard(hazard), _draw_warning_triangle)(canvas, size)
        canvas.endForm()
    return name


def _draw_pattern(canvas: Canvas, pattern: Pattern, width: float, height: float) -> None:
    if pattern is Pattern.DOTS:
        _draw_dots(canvas, width, height)
        return
    lines = list(_LINES[pattern](width, height)) if pattern in _LINES else []
    canvas.setLineCap(0)
    canvas.setLineJoin(0)
    for grey, stroke in ((1, _STROKE + 2 * _KEYLINE), (0, _STROKE)):
        canvas.setStrokeGray(grey)
        canvas.setLineWidth(stroke)
        for line in lines:
            path = canvas.beginPath()
            path.moveTo(*line[0])
            for point in line[1:]:
                path.lineTo(*point)
            canvas.drawPath(path, stroke=1, fill=0)


def _draw_dots(canvas: Canvas, width: float, height: float) -> None:
    for grey, radius in ((1, _STROKE + _KEYLINE), (0, _STROKE)):
        canvas.setFillGray(grey)
        for row, y in enumerate(_steps(height, _PITCH * 0.8)):
            for x in _steps(width + _PITCH, _PITCH):
                canvas.circle(x - (row % 2) * _PITCH / 2, y, radius, stroke=0, fill=1)


def _steps(length: float, pitch: float) -> Iterator[float]:
    """Places at an even pitch that stand in the middle of a length."""
    count = int(length / pitch) + 1
    start = (length - (count - 1) * pitch) / 2
    return (start + at * pitch for at in range(count))


def _bars(width: float, height: float) -> Iterator[Line]:
    return ([(0, y), (width, y)] for y in _steps(height, _PITCH * 0.8))


def _posts(width: float, height: float) -> Iterator[Line]:
    return ([(x, 0), (x, height)] for x in _steps(width, _PITCH))


def _rising(width: float, height: float) -> Iterator[Line]:
    return ([(x - height, 0), (x, height)] for x in _steps(width + height, _PITCH * 1.2))


def _falling(width: float, height: float) -> Iterator[Line]:
    return ([(x, 0), (x - height, height)] for x in _steps(width + height, _PITCH * 1.2))


def _waves(width: float, height: float) -> Iterator[Line]:
    across = [width * at / 48 for at in range(49)]
    for y in _steps(height, _PITCH * 0.8):
        yield [(x, y + 0.8 * MM * sin(2 * pi * x / (1.5 * _PITCH))) for x in across]


def _chevrons(width: float, height: float) -> Iterator[Line]:
    rise = width / 2
    for y in _steps(height + rise, _PITCH):
        yield [(0, y), (width / 2, y - rise), (width, y)]


def _both(*drawn: Callable[[float, float], Iterator[Line]]) -> Callable[..., Iterator[Line]]:
    return lambda width, height: (line for each in drawn for line in each(width, height))


_LINES: dict[Pattern, Callable[..., Iterator[Line]]] = {
    Pattern.DIAGONAL: _rising,
    Pattern.BARS: _bars,
    Pattern.CROSS: _both(_rising, _falling),
    Pattern.GRID: _both(_bars, _posts),
    Pattern.WAVES: _waves,
    Pattern.CHEVRONS: _chevrons,
}


def _draw_biohazard(canvas: Canvas, size: float) -> None:
    """The biological hazard symbol of ISO 7010 W009 and 29 CFR 1910.1030(g)(1)(i)(B), in black.

    Proportions from memory of the published drawing, in units of A = 1: ring B 3.5 wide, opening
    C 4, hole D 6 across, horns H 30 across at E 11 from the centre, hollows G 21 across at F 15.
    """
    arms = [
        (cos(angle), sin(angle)) for angle in (pi / 2, pi / 2 + 2 * pi / 3, pi / 2 - 2 * pi / 3)
    ]
    unit = size / 52.5
    canvas.saveState()
    canvas.translate(size / 2, size / 2 - 3.2 * unit)
    canvas.scale(unit, unit)
    for grey, radius, away in ((0, 15.0, 11.0), (1, 10.5, 15.0)):
        canvas.setFillGray(grey)
        for x, y in arms:
            canvas.circle(x * away, y * away, radius, stroke=0, fill=1)
    canvas.setStrokeGray(1)
    for stroke, near, far in ((1.0, 0.0, 6.0), (4.0, 22.0, 28.0)):
        canvas.setLineWidth(stroke)
        for x, y in arms:
            canvas.line(x * near, y * near, x * far, y * far)
    canvas.circle(0, 0, 3.0, stroke=0, fill=1)
    hollows = canvas.beginPath()
    for x, y in arms:
        hollows.circle(x * 15.0, y * 15.0, 9.5)
    canvas.clipPath(hollows, stroke=0, fill=0)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(3.5)
    canvas.circle(0, 0, 11.75, stroke=1, fill=0)
    canvas.restoreState()


def _draw_trefoil(canvas: Canvas, size: float) -> None:
    """The ionizing radiation symbol of ISO 361, in black; proportions from memory.

    A disc of radius R, and three blades of 60 degrees from 1.5 R to 5 R, one of them downwards.
    """
    middle, radius = size / 2, size / 10
    canvas.setFillGray(0)
    for start in (0, 120, 240):
        canvas.wedge(0, 0, size, size, start, 60, stroke=0, fill=1)
    for grey, across in ((1, 1.5 * radius), (0, radius)):
        canvas.setFillGray(grey)
        canvas.circle(middle, middle, across, stroke=0, fill=1)


def _draw_warning_triangle(canvas: Canvas, size: float) -> None:
    """A plain warning triangle with an exclamation mark (general warning, ISO 7010 W001)."""
    line = size * 0.075
    low, high = size * 0.09, size * 0.93
    canvas.setLineJoin(1)
    canvas.setLineWidth(line)
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)
    path = canvas.beginPath()
    path.moveTo(line, low)
    path.lineTo(size - line, low)
    path.lineTo(size / 2, high - line)
    path.close()
    canvas.drawPath(path, stroke=1, fill=0)
    middle = size / 2
    canvas.circle(middle, size * 0.24, size * 0.052, stroke=0, fill=1)
    stem = canvas.beginPath()
    stem.moveTo(middle - size * 0.03, size * 0.335)
    stem.lineTo(middle + size * 0.03, size * 0.335)
    stem.lineTo(middle + size * 0.055, size * 0.64)
    stem.lineTo(middle - size * 0.055, size * 0.64)
    stem.close()
    canvas.drawPath(stem, stroke=0, fill=1)
