"""Lines in scripts whose letters join or change places, and from right to left, for a PDF canvas.

Their order is that of the Unicode Bidirectional Algorithm (UAX #9), their forms are HarfBuzz's.
Each cluster of letters is drawn with the text it stands for (ISO 32000-1, 14.9.4), so that what
is copied from the paper is what was written.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import import_module
from itertools import groupby, pairwise

import uharfbuzz as harfbuzz
from bidi import algorithm as bidi
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import ShapeData, ShapedStr, TTFont
from reportlab.pdfgen.canvas import Canvas

SCRIPTS = {
    "Devanagari": ("fontpkg_noto_sans_devanagari", "NotoSansDevanagari",
                   "\u0900-\u097f\ua8e0-\ua8ff"),
    "Arabic": ("fontpkg_noto_sans_arabic", "NotoSansArabic",
               "\u0600-\u06ff\u0750-\u077f\u0870-\u08ff\ufb50-\ufdff\ufe70-\ufefc"),
    "Tamil": ("fontpkg_noto_sans_tamil", "NotoSansTamil", "\u0b80-\u0bff"),
    "Telugu": ("fontpkg_noto_sans_telugu", "NotoSansTelugu", "\u0c00-\u0c7f"),
}  # fmt: skip
"""Each script with the package and the family of its font, and its letters."""

_ANY = re.compile(f"[{''.join(letters for _, _, letters in SCRIPTS.values())}]")
_EACH = {script: re.compile(f"[{letters}]") for script, (_, _, letters) in SCRIPTS.items()}
_JOINERS = "\u200c\u200d"
_TURNING = re.compile("[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]")
"""Signs by which a text could turn itself round: paper shows names in their natural order."""
_OWN = 0xE000
"""Glyphs have codes of their own from here on (private use), so that any can be drawn."""


_Run = tuple[str, str | None, int]
"""Text of one script and one embedding level."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Letters drawn together, what they stand for, and where, in ems from the line's start.

    Attributes:
        text: Empty for a mark of the letter before it.
        font: The font they are drawn in; None for the plain one of who draws.
    """

    text: str
    drawn: str
    font: str | None
    x: float
    y: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """A shaped line, from left to right, and its width in ems."""

    pieces: tuple[Piece, ...]
    ems: float


def needs_shaping(text: str) -> bool:
    """Say whether letters of the text join, change places or run from right to left."""
    return _ANY.search(text) is not None


def script_of(character: str) -> str | None:
    """Give the script of a letter that needs shaping; None for any other character."""
    return next((name for name, letters in _EACH.items() if letters.match(character)), None)


def can_shape(character: str) -> bool:
    """Say whether a font here has a shape for a letter of these scripts."""
    script = script_of(character)
    return script is not None and ord(character) in font(script).face.charToGlyph


@cache
def font(script: str) -> TTFont:
    """Give the font of a script, registered with the PDF library the first time it is asked for."""
    package, family, _ = SCRIPTS[script]
    path = import_module(package).ROOT / "files" / f"{family}[wdth,wght].ttf"
    made = TTFont(f"Shaped{script}", str(path))
    pdfmetrics.registerFont(made)
    return made


@lru_cache(maxsize=8192)
def shaped(text: str, plain: str) -> Line:
    """Shape a line; what needs none is set in the plain font, which must be registered."""
    pieces: list[Piece] = []
    at = 0.0
    for run, script, level in _visual(_TURNING.sub("", text)):
        if script is None:
            # A run of neutral signs from right to left is drawn mirrored and turned round.
            drawn = bidi.get_display(run, base_dir="R") if level % 2 else run
            pieces.append(Piece(run, drawn, None, at))
            at += pdfmetrics.stringWidth(drawn, plain, 1.0)
            continue
        drawn = _drawn(run, script, level)
        pieces += (
            _from_right(run, drawn, script, at)
            if level % 2
            else [Piece(run, drawn, font(script).fontName, at)]
        )
        at += _ems(drawn)
    return Line(tuple(pieces), at)


def draw(
    canvas: Canvas, at: tuple[float, float], text: str, plain: str, size: float, *, bold: bool
) -> None:
    """Draw a line from a point on; bold letters are outlined as well, in the line width set."""
    for piece in shaped(text, plain).pieces:
        canvas.setFont(piece.font or plain, size)
        if piece.text != piece.drawn:
            written = piece.text.encode("utf-16-be").hex().upper()
            canvas.addLiteral(f"/Span <</ActualText <FEFF{written}>>> BDC")
        x, y = at[0] + piece.x * size, at[1] + piece.y * size
        canvas.drawString(x, y, piece.drawn, mode=2 if bold else 0)
        if piece.text != piece.drawn:
            canvas.addLiteral("EMC")


def _visual(text: str) -> Iterator[_Run]:
    """Give the runs of one script and one direction from left to right (UAX #9, rule L2)."""
    runs: list[_Run] = []
    levels, at = _levels(text), 0
    for (script, level), some in groupby(zip(_scripts(text), levels, strict=True)):
        long = len(list(some))
        runs.append((text[at : at + long], script, level))
        at += long
    for least in range(max(levels, default=0), 0, -1):
        turned: list[_Run] = []
        high: list[_Run] = []
        for run in runs:
            if run[2] >= least:
                high.insert(0, run)
            else:
                turned += [*high, run]
                high = []
        runs = turned + high
    yield from runs


def _scripts(text: str) -> Iterator[str | None]:
    """Give the script of each character; a joiner has that of the letter before it."""
    present: str | None = None
    for character in text:
        present = present if character in _JOINERS else script_of(character)
        yield present


def _levels(text: str) -> list[int]:
    """Give the embedding level of each character (UAX #9).

    What the algorithm leaves out (rule X9), joiners among it, has that of the one before.
    """
    base = bidi.get_base_level(text)
    seen = bidi.get_empty_storage()
    seen["base_level"], seen["base_dir"] = base, ("L", "R")[base]
    left_out = [unicodedata.bidirectional(character) == "BN" for character in text]
    known = (c if unicodedata.bidirectional(c) else "a" for c in text)  # unassigned: like a letter
    kept = "".join(c for c, out in zip(known, left_out, strict=True) if not out)
    bidi.get_embedding_levels(kept, seen)
    bidi.explicit_embed_and_overrides(seen)
    bidi.resolve_weak_types(seen)
    bidi.resolve_neutral_types(seen, debug=False)
    bidi.resolve_implicit_levels(seen, debug=False)
    found = iter([int(each["level"]) for each in seen["chars"]])
    levels: list[int] = []
    for out in left_out:
        levels.append((levels[-1] if levels else base) if out else next(found))
    return levels


def _drawn(run: str, script: str, level: int) -> ShapedStr:
    """Shape a run of one script: its glyphs from left to right."""
    buffer = harfbuzz.Buffer()
    buffer.add_str(run)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if level % 2 else "ltr"
    harfbuzz.shape(_face(script), buffer)
    drawn, data, own = "", [], font(script)
    for info, at in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        drawn += _code(script, info.codepoint)
        width = own.face.charWidths[_OWN + info.codepoint]
        numbers = (at.x_advance, at.y_advance, at.x_offset, at.y_offset)
        data.append(ShapeData(info.cluster, *map(own.pdfScale, numbers), width))
    return ShapedStr(drawn, data)


def _ems(drawn: ShapedStr) -> float:
    return float(sum(glyph.x_advance for glyph in drawn.__shapeData__)) / 1000


def _from_right(run: str, drawn: ShapedStr, script: str, at: float) -> Iterator[Piece]:
    """Cut a run from right to left into its letters and their marks.

    Programs that take text from paper turn such letters round by where they stand: in one piece
    they would come out backwards, and a mark would look like a gap beside its letter.
    """
    glyphs = list(zip(drawn, drawn.__shapeData__, strict=True))
    starts = sorted({glyph.cluster for _, glyph in glyphs})
    ends = dict(pairwise([*starts, len(run)]))
    for start, some in groupby(glyphs, lambda each: each[1].cluster):
        text = run[start : ends[start]]
        marks: list[tuple[str, float, float]] = []
        bases: list[tuple[str, float, float]] = []
        for sign, glyph in some:
            x, y = at + glyph.x_offset / 1000, glyph.y_offset / 1000
            (bases if glyph.x_advance else marks).append((str(sign), x, y))
            at += glyph.x_advance / 1000
        for n, (sign, x, y) in enumerate(bases + marks):
            yield Piece(text if n == 0 else "", sign, font(script).fontName, x, y)


def _code(script: str, glyph: int) -> str:
    """Give the character of its own by which a glyph can be drawn."""
    face = font(script).face
    if _OWN + glyph not in face.charWidths:
        face.charToGlyph[_OWN + glyph] = glyph
        face.charWidths[_OWN + glyph] = font(script).pdfScale(face.hmetrics[glyph][0])
    return chr(_OWN + glyph)


@cache
def _face(script: str) -> harfbuzz.Font:
    return harfbuzz.Font(font(script).hbFace)
