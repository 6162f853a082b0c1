"""Fonts of the label and the fitting of text into boxes: shrink, then wrap, then cut with "…".

It measures and breaks lines; it draws nothing.
"""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.util import find_spec

import fontpkg_noto_sans
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

TEXT_FONT = "LabelText"
ID_FONT = "Courier-Bold"
BOLD_STROKE = 0.03
"""Bold is the regular letter with its outline drawn as well, this many ems wide."""

LEADING = 1.2
ASCENT = 0.95
_STEP_POINTS = 0.25


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
    """The characters of a text that cannot be printed right, each once, in order.

    Those are the ones the font has no shape for, and joining scripts where the shaping library
    is not installed.
    """
    known = text_font().face.charToGlyph
    shaping = find_spec("uharfbuzz") is not None
    return "".join(
        dict.fromkeys(
            c for c in clean(text) if ord(c) not in known or (needs_shaping(c) and not shaping)
        )
    )


def needs_shaping(text: str) -> bool:
    """Whether letters of the text join or change places in print, as in Devanagari."""
    return any("\u0900" <= c <= "\u097f" for c in text)


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
    """Width of letters in ems; that of a line is the sum of its parts, as there is no kerning."""
    ems: float = text_font().stringWidth(text, 1.0)
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
    piece, taken = "", 0.0
    for letter in word:
        wide = _ems(letter)
        if piece and taken + wide > room:
            yield piece
            piece, taken = "", 0.0
        piece, taken = piece + letter, taken + wide
    yield piece


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
