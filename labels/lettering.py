"""Fonts of the label and the fitting of text into boxes: shrink, then wrap, then cut with "…".

It measures and breaks lines; it draws nothing.
"""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache

import fontpkg_noto_sans
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from labels import shaping

TEXT_FONT = "LabelText"
ID_FONT = "Courier-Bold"
BOLD_STROKE = 0.03
"""Bold is the regular letter with its outline drawn as well, this many ems wide."""

LEADING = 1.2
ASCENT = 0.95
_STEP_POINTS = 0.25
_JOINS_NEXT = "\u094d\u0bcd\u0c4d\u200d"
"""Viramas and the joiner: what follows belongs to the letter before."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """Lines of text at one size in points; `cut` tells that some of the text did not fit."""

    lines: tuple[str, ...]
    size: float
    cut: bool = False

    @property
    def height(self) -> float:
        """Height of all lines in points."""
        return len(self.lines) * self.size * LEADING


@cache
def text_font() -> TTFont:
    """The text font, registered with the PDF library the first time it is asked for."""
    path = fontpkg_noto_sans.ROOT / "files" / "NotoSans[wdth,wght].ttf"
    font = TTFont(TEXT_FONT, str(path))
    pdfmetrics.registerFont(font)
    return font


def unprintable(text: str) -> str:
    """The characters of a text that no font here has a shape for, each once, in order."""
    known = text_font().face.charToGlyph
    return "".join(
        dict.fromkeys(c for c in clean(text) if ord(c) not in known and not shaping.can_shape(c))
    )


def write(
    canvas: Canvas, at: tuple[float, float], line: str, size: float, *, bold: bool = False
) -> None:
    """Write a line from a point on.

    Bold letters are filled and outlined, as the font files have the regular weight only.
    """
    if bold:
        canvas.setLineWidth(size * BOLD_STROKE)
    if shaping.needs_shaping(line):
        shaping.draw(canvas, at, line, TEXT_FONT, size, bold=bold)
        return
    canvas.setFont(TEXT_FONT, size)
    canvas.drawString(at[0], at[1], line, mode=2 if bold else 0)


@lru_cache(maxsize=8192)
def clean(text: str) -> str:
    """The text with accents composed, and line breaks, tabs and controls as single spaces."""
    composed = unicodedata.normalize("NFC", text)
    spaced = "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in composed)
    return " ".join(spaced.split())


def width(text: str, size: float) -> float:
    """Width of a line in points, with the outline of bold letters allowed for."""
    return (_ems(text) + BOLD_STROKE) * size


@lru_cache(maxsize=65536)
def _ems(text: str) -> float:
    """Width of letters in ems; that of a line is the sum of its words, as there is no kerning."""
    plain = text_font()
    if shaping.needs_shaping(text):
        return shaping.shaped(text, TEXT_FONT).ems
    ems: float = plain.stringWidth(text, 1.0)
    return ems


@lru_cache(maxsize=8192)
def fit(
    paragraphs: tuple[str, ...], room: tuple[float, float], largest: float, smallest: float
) -> Fitted:
    """The paragraphs at the largest size at which all fit the room (width, height in points).

    One line each is preferred down to seven tenths of the largest size; then lines are
    wrapped; at the smallest size what does not fit is cut, and the last line ends with "…".
    """
    texts = tuple(text for text in map(clean, paragraphs) if text)
    across, down = room
    for size in _sizes(largest, max(smallest, largest * 0.7)):
        whole = Fitted(texts, size)
        if whole.height <= down and all(width(text, size) <= across for text in texts):
            return whole
    for size in _sizes(largest, smallest):
        wrapped = Fitted(_wrap(texts, across, size), size)
        if wrapped.height <= down and (size == smallest or not _breaks_words(texts, across, size)):
            return wrapped
    return _cut(_wrap(texts, across, smallest), room, smallest)


def _sizes(largest: float, smallest: float) -> Iterator[float]:
    size = largest
    while size > smallest:
        yield size
        size -= _STEP_POINTS
    yield smallest


def _breaks_words(texts: tuple[str, ...], across: float, size: float) -> bool:
    return any(width(word, size) > across for text in texts for word in text.split())


def _wrap(texts: tuple[str, ...], across: float, size: float) -> tuple[str, ...]:
    """All lines at a size: words are kept whole unless one is longer than a line."""
    room = across / size - BOLD_STROKE
    space = _ems(" ")
    lines: list[str] = []
    for text in texts:
        line, taken = "", 0.0
        for piece in (piece for word in text.split() for piece in _pieces(word, room)):
            wide = _ems(piece)
            if line and taken + space + wide > room:
                lines.append(line)
                line, taken = piece, wide
            else:
                line, taken = (f"{line} {piece}", taken + space + wide) if line else (piece, wide)
        lines.append(line)
    return tuple(lines)


def _pieces(word: str, room: float) -> Iterator[str]:
    """A word too long for a line, broken where the line is full; else the word itself."""
    if _ems(word) <= room:
        yield word
        return
    piece = ""
    for letter in _letters(word):
        if piece and _ems(piece + letter) > room:
            yield piece
            piece = ""
        piece += letter
    yield piece


def _letters(word: str) -> Iterator[str]:
    """Letters with what belongs to them: marks, and what a virama or a joiner ties on."""
    letter = ""
    for character in word:
        tied = unicodedata.category(character).startswith("M") or character in "\u200c\u200d"
        if letter and not tied and letter[-1] not in _JOINS_NEXT:
            yield letter
            letter = ""
        letter += character
    yield letter


def _cut(lines: tuple[str, ...], room: tuple[float, float], size: float) -> Fitted:
    across, down = room
    kept = lines[: int(down / (size * LEADING) + 1e-6)]
    if len(kept) == len(lines):
        return Fitted(kept, size)
    if not kept:
        return Fitted((), size, cut=True)
    last = kept[-1]
    while last and width(last + "…", size) > across:
        last = last[:-1]
    return Fitted((*kept[:-1], last.rstrip() + "…"), size, cut=True)
