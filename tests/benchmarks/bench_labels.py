"""Times a print of labels beside the ordinary way: `qrcode` to PNG, the PNG put on the page.

Run `python -m tests.benchmarks.bench_labels [LABELS]`; both are timed in turn, in one run, and
given as a ratio, since a time alone says more of the machine than of the code.
"""

import io
import statistics
import sys
import time
from collections.abc import Callable, Sequence

import qrcode
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from labels.composition import compose
from labels.drawing import draw
from labels.face import Face
from labels.sheets import level_for, print_labels
from labels.stock import POINTS_PER_INCH, Stock, named
from tests.labels.samples import filled

ROUNDS = 3


def ordinary(faces: Sequence[Face], stock: Stock) -> bytes:
    """The same labels with the symbol as an embedded PNG, made by `qrcode` with its defaults."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=stock.page_size_points, pageCompression=1, invariant=1)
    point = POINTS_PER_INCH / stock.dpi
    for at, face in enumerate(faces):
        place = at % stock.labels_a_page
        if at and place == 0:
            canvas.showPage()
        code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_H, border=0)
        code.add_data(face.payload)
        png = io.BytesIO()
        code.make_image().save(png)
        symbol = ImageReader(png)
        layout = LAYOUTS[stock.name]
        x, y = stock.place_dots(place)
        canvas.saveState()
        canvas.translate(x * point, y * point)
        draw(canvas, face, compose(face, layout), colour=stock.colour)
        size = code.modules_count * layout.dots * point
        for left, foot in (layout.upper_symbol, layout.lower_symbol):
            canvas.drawImage(symbol, left * point, foot * point, size, size)
        canvas.restoreState()
    canvas.save()
    return out.getvalue()


LAYOUTS = {"a4-8": level_for(filled(0).payload, named("a4-8"))[1]}


def timed(
    way: Callable[[Sequence[Face], Stock], bytes], faces: Sequence[Face]
) -> tuple[float, int]:
    """Seconds and bytes of one print."""
    start = time.perf_counter()
    pdf = way(faces, named("a4-8"))
    return time.perf_counter() - start, len(pdf)


def main(count: int) -> None:
    """Print both ways' medians and their ratio."""
    faces = [filled(number) for number in range(count)]
    timed(print_labels, faces[:8])
    timed(ordinary, faces[:8])
    pairs = [(timed(print_labels, faces), timed(ordinary, faces)) for _ in range(ROUNDS)]
    ours, theirs = (statistics.median(pair[at][0] for pair in pairs) for at in (0, 1))
    ratio = statistics.median(pair[1][0] / pair[0][0] for pair in pairs)
    for name, seconds, size in (
        ("one vector path", ours, pairs[0][0][1]),
        ("embedded PNG", theirs, pairs[0][1][1]),
    ):
        print(  # noqa: T201
            f"{name:16} {count} labels {seconds:6.2f} s {seconds / count * 1000:6.2f} ms a label "
            f"{size / count:6.0f} bytes a label"
        )
    print(f"the ordinary way takes {ratio:.2f} times as long")  # noqa: T201


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
