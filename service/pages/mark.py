"""The mark of the pages as a picture: the shapes of ``static/mark.svg``, drawn in any size."""

from functools import cache
from io import BytesIO

from PIL import Image, ImageDraw

INK, PAPER = "#14211b", "#f3efe2"
GRID = 40
"""The drawing's 32 units with 4 around them: what a round mask cuts off is ground."""
_FINER = 4


@cache
def png(side: int) -> bytes:
    """Give the mark as PNG, so many pixels wide and high."""
    scale = side * _FINER / GRID

    def at(*points: float) -> list[float]:
        return [(point + 4) * scale for point in points]

    image = Image.new("RGB", (side * _FINER, side * _FINER), INK)
    draw = ImageDraw.Draw(image)
    draw.rectangle(at(6, 8, 26, 12), PAPER)
    draw.rectangle(at(9, 14, 23, 26), PAPER)
    draw.line(at(13, 20, 16, 23, 21, 17), INK, round(3 * scale))
    out = BytesIO()
    image.resize((side, side), Image.Resampling.LANCZOS).save(out, "PNG", optimize=True)
    return out.getvalue()
