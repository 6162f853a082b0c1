"""The paper's font: what it can print, how wide that is, and how text is cut or broken to fit."""

import unicodedata
from functools import cache, lru_cache

import fontpkg_noto_sans
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from labels import shaping

FONT = "PaperText"
NO_SHAPE = "\N{REPLACEMENT CHARACTER}"


def font() -> TTFont:
    """The text font, registered with the PDF library the first time it is asked for."""
    if FONT not in pdfmetrics.getRegisteredFontNames():
        path = fontpkg_noto_sans.ROOT / "files" / "NotoSans[wdth,wght].ttf"
        pdfmetrics.registerFont(TTFont(FONT, str(path), asciiReadable=1))
    return pdfmetrics.getFont(FONT)


def needs_shaping(text: str) -> bool:
    """Say whether letters of the text join, change places or run from right to left."""
    return shaping.needs_shaping(text)


def draw_shaped(
    canvas: Canvas, at: tuple[float, float], text: str, size: float, *, bold: bool
) -> None:
    """Draw a printable line of such letters from a point on."""
    shaping.draw(canvas, at, text, FONT, size, bold=bold)


@lru_cache(maxsize=4_096)
def printable(text: str) -> str:
    """Give the text on one line, accents composed; what the font has no shape for becomes �."""
    if text.isascii() and text.isprintable():
        return text
    shapes = font().face.charToGlyph
    composed = unicodedata.normalize("NFC", text)
    return "".join(
        " "
        if unicodedata.category(c) in ("Cc", "Zl", "Zp")
        else c
        if ord(c) in shapes or shaping.can_shape(c)
        else NO_SHAPE
        for c in composed
    )


@cache
def _advances() -> dict[str, float]:
    """How far each character moves on, in thousandths of the size."""
    return {chr(code): float(width) for code, width in font().face.charWidths.items()}


@lru_cache(maxsize=4_096)
def width_of(text: str, size: float) -> float:
    """Give the width of a printable text in points."""
    if shaping.needs_shaping(text):
        font()
        return shaping.shaped(text, FONT).ems * size
    return sum(map(_advances().__getitem__, text)) * size / 1000


@lru_cache(maxsize=4_096)
def cut(text: str, room: float, size: float) -> str:
    """Give as much of a printable text as fits, ended with … where some does not."""
    if width_of(text, size) <= room:
        return text
    while text and width_of(f"{text}…", size) > room:
        text = text[:-1]
    return f"{text}…"


def wrapped(text: str, room: float, size: float) -> list[str]:
    """Break a text into lines that fit, inside a word only where it alone is too long."""
    lines: list[str] = []
    line = ""
    for word in printable(text).split():
        joined = f"{line} {word}" if line else word
        if width_of(joined, size) <= room:
            line = joined
            continue
        if line:
            lines.append(line)
        while width_of(word, size) > room and len(word) > 1:
            keep = next(
                n for n in range(len(word) - 1, 0, -1) if n == 1 or width_of(word[:n], size) <= room
            )
            lines.append(word[:keep])
            word = word[keep:]
        line = word
    return [*lines, line] if line or not lines else lines
