"""Names in Devanagari, Arabic, Tamil and Telugu are printed as their readers write them.

Held against independent programs: text by poppler's pdftotext; forms by Pillow's text layout
(libraqm); order by the crate unicode-bidi, behind python-bidi's other door (UAX #9).
"""

import io
import shutil
import subprocess
from pathlib import Path

import bidi
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont, features
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from labels.lettering import TEXT_FONT, fit, text_font, unprintable, width, write
from labels.shaping import SCRIPTS, font, shaped
from tests.labels.camera import Bits, raster
from tests.needs import without

WARDS = {
    "Hindi": "शल्य चिकित्सा कक्ष",
    "Marathi": "क्षत्रिय विद्यालय",
    "Nepali": "आकस्मिक सेवा",
    "Arabic": "جناح الجراحة",
    "Urdu": "پاکستان گھر",
    "Arabic with ligatures": "لا إله الفانوس",
    "Tamil": "அறுவை சிகிச்சை பிரிவு",
    "Telugu": "శస్త్రచికిత్స విభాగం",
}
"""Invented wards; words that join, change places and carry marks."""

SIZE = 24.0


def printed(*lines: str, size: float = SIZE, bold: bool = False) -> bytes:
    """Lines on a page of their own size, one below the other."""
    text_font()
    out = io.BytesIO()
    canvas = Canvas(out, (420, 20 + 50 * len(lines)), invariant=1)
    for number, line in enumerate(reversed(lines)):
        write(canvas, (10, 25 + 50 * number), line, size, bold=bold)
    canvas.save()
    return out.getvalue()


def copied(pdf: bytes, folder: Path) -> list[str]:
    """What pdftotext takes from a page, without the marks of direction that it adds."""
    if shutil.which("pdftotext") is None:
        without("pdftotext (Debian: poppler-utils) is not installed")
    path = folder / "page.pdf"
    path.write_bytes(pdf)
    told = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True)
    text = told.stdout.decode().translate({ord(c): None for c in "\u202a\u202b\u202c\u200e\u200f"})
    return [line.strip() for line in text.splitlines() if line.strip()]


def cropped(bits: Bits) -> Bits:
    """The ink alone."""
    rows, columns = np.flatnonzero(bits.any(axis=1)), np.flatnonzero(bits.any(axis=0))
    return bits[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


@pytest.mark.parametrize("line", WARDS.values(), ids=WARDS)
@pytest.mark.parametrize("bold", [False, True], ids=["plain", "bold"])
def test_what_is_copied_from_paper_is_what_was_written(
    line: str, bold: bool, tmp_path: Path
) -> None:
    """In the order of reading, letter by letter (ISO 32000-1, 14.9.4: replacement text)."""
    assert copied(printed(line, bold=bold), tmp_path) == [line]


@pytest.mark.parametrize("line", WARDS.values(), ids=WARDS)
def test_letters_have_the_form_that_another_program_gives_them(line: str) -> None:
    """Pillow, with libraqm, draws the same picture, but for a grey edge of each stroke."""
    if not features.check("raqm"):
        pytest.skip("this Pillow was built without libraqm")
    ours = cropped(raster(printed(line, size=24), 288))
    script = next(piece.font for piece in shaped(line, TEXT_FONT).pieces if piece.font)
    path = font(script.removeprefix("Shaped")).face.filename
    drawn = Image.new("L", (2400, 400), 255)
    ImageDraw.Draw(drawn).text((50, 50), line, 0, ImageFont.truetype(path, 96), features=["-kern"])
    theirs = cropped(np.asarray(drawn) < 128)
    high, wide = (abs(a - b) for a, b in zip(ours.shape, theirs.shape, strict=True))
    assert (high <= 3, wide <= ours.shape[1] * 0.02) == (True, True), (ours.shape, theirs.shape)
    both = Image.fromarray(theirs).resize((ours.shape[1], ours.shape[0]))
    alike = (np.asarray(both) & ours).sum() / (np.asarray(both) | ours).sum()
    assert alike > 0.8


@given(st.text(alphabet="ab Z12.,-/:جبد", max_size=14))
@settings(max_examples=300, deadline=None)
def test_a_mixed_line_stands_in_the_order_of_the_standard(line: str) -> None:
    """Letters of both directions, figures and signs between them (UAX #9, rules P2 to L2)."""
    text_font()
    pieces = shaped(line, TEXT_FONT).pieces
    ours = "".join(piece.text if piece.font else piece.drawn for piece in pieces)
    assert ours == bidi.get_display(line)


@pytest.mark.parametrize(
    ("line", "from_left"),
    [("Ward 7 جبد", "Ward 7 دبج"), ("جبد 7", "7 دبج"), ("جبد (7) Ward B", "Ward B (7) دبج")],
)
def test_figures_and_latin_words_keep_their_order_within_arabic(line: str, from_left: str) -> None:
    """The first letter says from which side the line is read (UAX #9, rules P2 and P3)."""
    text_font()
    pieces = shaped(line, TEXT_FONT).pieces
    assert "".join(piece.text if piece.font else piece.drawn for piece in pieces) == from_left


def test_a_name_cannot_turn_itself_round() -> None:
    """A sign that overrides the direction is left out: what is read is what was written."""
    text_font()
    assert shaped("جبد \u202eabc", TEXT_FONT) == shaped("جبد abc", TEXT_FONT)


@pytest.mark.parametrize("line", WARDS.values(), ids=WARDS)
def test_a_line_is_as_wide_as_it_was_measured(line: str) -> None:
    """Else it would leave its box."""
    bits = raster(printed(line, size=SIZE), 300)
    columns = np.flatnonzero(bits.any(axis=0))
    points = (columns[-1] - columns[0]) * 72 / 300
    assert points == pytest.approx(width(line, SIZE), rel=0.06)


@pytest.mark.parametrize("line", WARDS.values(), ids=WARDS)
def test_a_long_name_is_broken_between_letters_never_within(line: str) -> None:
    """Marks, and what a virama ties on, stay with their letter; nothing is lost."""
    whole = fit((line.replace(" ", "") * 3,), (60, 400), 12, 12)
    assert "".join(whole.lines) == line.replace(" ", "") * 3
    assert all(width(part, whole.size) <= 60 for part in whole.lines)
    assert [
        p for p in whole.lines if p[0] in "\u093e\u093f\u0940\u094d\u0bbf\u0bcd\u0c3f\u0c4d"
    ] == []


def test_every_script_that_is_named_can_be_printed() -> None:
    """Its font is installed and has its letters."""
    letters = {"Devanagari": "क", "Arabic": "ج", "Tamil": "அ", "Telugu": "శ"}
    assert set(letters) == set(SCRIPTS)
    assert unprintable("".join(letters.values())) == ""


def test_fonts_are_embedded_in_parts_and_paper_is_the_same_every_time() -> None:
    """Whatever was printed before; a page of all scripts stays under 100 kB."""
    first = printed(*WARDS.values())
    printed("ठंडा भंडार", "مخزن مبرد", "குளிர் அறை", "చల్లని గది")
    assert printed(*WARDS.values()) == first
    resources = PdfReader(io.BytesIO(first)).pages[0]["/Resources"]["/Font"]
    names = [each.get_object()["/BaseFont"] for each in resources.values()]
    embedded = [name for name in names if "Noto" in name]
    assert all("+" in name for name in embedded)
    assert {name.partition("+")[2].partition("-")[0] for name in embedded} >= {
        "NotoSansDevanagari", "NotoSansArabic", "NotoSansTamil", "NotoSansTelugu",
    }  # fmt: skip
    assert len(first) < 100_000
