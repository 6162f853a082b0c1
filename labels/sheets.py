"""Prints labels: faces in, one PDF of sheets or of a roll out.

The same faces on the same stock give the same bytes.
"""

import io
from collections.abc import Iterable

from reportlab.pdfgen.canvas import Canvas

from labels import symbol
from labels.composition import compose
from labels.drawing import draw, draw_symbols
from labels.face import Face
from labels.layout import Layout, lay_out
from labels.lettering import unprintable
from labels.stock import POINTS_PER_INCH, Stock

LABELS_MAX = 5000
"""Most labels of one print; more are several prints, so that a fault spoils few."""


def print_labels(faces: Iterable[Face], stock: Stock) -> bytes:
    """The PDF of all faces in order, each with its symbol twice, on as many pages as they need.

    Print at actual size, never "fit to page". A ValueError tells when there is nothing to print,
    too much of it, or a symbol outgrows the label.
    """
    given = list(faces)
    if not given:
        raise ValueError("There is no label to print.")
    if len(given) > LABELS_MAX:
        raise ValueError(f"{len(given)} labels are too many for one print; at most {LABELS_MAX}.")
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=stock.page_size_points, pageCompression=1, invariant=1)
    canvas.setTitle("Container labels")
    canvas.setSubject(stock.title)
    for at, face in enumerate(given):
        place = at % stock.labels_a_page
        if at and place == 0:
            canvas.showPage()
        _print_label(canvas, face, stock, place)
    canvas.save()
    return out.getvalue()


def level_for(text: str, stock: Stock) -> tuple[symbol.Symbol, Layout]:
    """The payload's symbol and its layout: level H, or Q where H outgrows the label."""
    for level in symbol.LEVELS:
        version = symbol.version_for(len(text), level)
        layout = lay_out(stock, symbol.size_modules(version))
        if layout:
            return symbol.encode(text, level), layout
    raise ValueError(
        f"Two symbols of the address {text!r} do not fit a label of {stock.label_width_mm} × "
        f"{stock.label_height_mm} mm ({stock.name}). Use a larger label or a shorter host name."
    )


def cut(face: Face, stock: Stock) -> tuple[str, ...]:
    """Names of the fields that this stock has no room to print in full, or no letters for.

    A caller shows them before printing: what the regime asks for must not be lost to an ellipsis.
    """
    _, layout = level_for(face.payload, stock)
    texts = compose(face, layout).texts
    short = [text.name for text in texts if text.fitted.cut and text.name != "caption"]
    names = ("category_name", "colour_name", "mark", "unit_name", "cautions", "facility_name")
    short += [name for name in names if unprintable(getattr(face, name))]
    if any(map(unprintable, face.regime_lines)):
        short.append("regime_lines")
    return tuple(dict.fromkeys(short))


def _print_label(canvas: Canvas, face: Face, stock: Stock, place: int) -> None:
    code, layout = level_for(face.payload, stock)
    x, y = stock.place_dots(place)
    point = POINTS_PER_INCH / stock.dpi
    canvas.saveState()
    canvas.translate(x * point, y * point)
    draw(canvas, face, compose(face, layout), colour=stock.colour)
    draw_symbols(canvas, symbol.path(code, layout.dots), layout, stock)
    canvas.restoreState()
