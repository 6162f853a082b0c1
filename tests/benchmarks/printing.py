"""A print of labels beside the encoding of its symbols alone, and beside an embedded picture."""

import io
from collections.abc import Callable, Sequence

import qrcode
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from labels.composition import compose
from labels.drawing import draw
from labels.face import Face
from labels.sheets import level_for, print_labels
from labels.stock import POINTS_PER_INCH, Stock, named
from tests.benchmarks.frame import (
    Curve,
    Rounds,
    Row,
    Size,
    Told,
    at_least,
    at_most,
    cpu_s,
    number,
    seconds,
)
from tests.labels.samples import filled

STOCK = named("a4-8")
LABELS = {"tiny": 9, "quick": 100, "full": 1_000}
PART = 5
"""The slow way prints a fifth of the labels."""
LAYOUT = level_for(filled(0).payload, STOCK)[1]


def measure(size: Size, rounds: int) -> Told:
    """Compare, then print more."""
    labels = LABELS[size]
    faces = [filled(n) for n in range(labels)]
    ways: dict[str, Callable[[], object]] = {
        "ours": lambda: print_labels(faces, STOCK),
        "encoding": lambda: encode(faces),
        "picture": lambda: with_picture(faces[: max(1, labels // PART)], STOCK),
    }
    found = Rounds.of(rounds, {n: lambda way=way: cpu_s(way) for n, way in ways.items()})
    slow = [PART * spent for spent in found.found["picture"]]
    found.found["picture"] = slow
    ours = f"{number(found['ours'] / labels * 1e3)} ms a label"
    yield Row(f"{labels:,} labels as PDF, processor time", ours,
              f"`qrcode` encoding alone {number(found['encoding'] / labels * 1e3)} ms",
              found.ratios("ours", "encoding"), at_most(1.3))  # fmt: skip
    yield Row(f"{labels:,} labels as PDF, processor time", ours,
              f"`qrcode` and an embedded picture {number(found['picture'] / labels * 1e3)} ms",
              found.ratios("picture", "ours"), at_least(2.5))  # fmt: skip
    yield Row("bytes of a label with two symbols, with its share of the sheet", "", "",
              [len(print_labels(faces, STOCK)) / labels], at_most(4_000))  # fmt: skip
    lines = []
    for part in (max(1, labels // 100), max(2, labels // 10), labels):
        spent = cpu_s(lambda part=part: print_labels(faces[:part], STOCK))
        lines.append([f"{part:,}", seconds(spent), seconds(spent / part)])
    yield Curve("labels of one print", ("labels", "processor time", "a label"), lines)


def encode(faces: Sequence[Face]) -> None:
    """What `qrcode` itself takes for the symbols: the best mask of eight looked for, none drawn."""
    for face in faces:
        code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_H, border=0)
        code.add_data(face.payload)
        code.make()


def with_picture(faces: Sequence[Face], stock: Stock) -> bytes:
    """The same labels with the symbol as an embedded PNG, made by `qrcode` with its defaults."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=stock.page_size_points, pageCompression=1, invariant=1)
    point = POINTS_PER_INCH / stock.dpi
    for place_, face in enumerate(faces):
        place = place_ % stock.labels_a_page
        if place_ and place == 0:
            canvas.showPage()
        code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_H, border=0)
        code.add_data(face.payload)
        png = io.BytesIO()
        code.make_image().save(png)
        symbol = ImageReader(png)
        x, y = stock.place_dots(place)
        canvas.saveState()
        canvas.translate(x * point, y * point)
        draw(canvas, face, compose(face, LAYOUT), colour=stock.colour)
        side = code.modules_count * LAYOUT.dots * point
        for left, foot in (LAYOUT.upper_symbol, LAYOUT.lower_symbol):
            canvas.drawImage(symbol, left * point, foot * point, side, side)
        canvas.restoreState()
    canvas.save()
    return out.getvalue()
