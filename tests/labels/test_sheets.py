"""The printed PDF: what it says, what stays inside what, and what it refuses to print."""

import io
from dataclasses import replace
from math import cos, radians, sin
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from labels.composition import compose
from labels.face import Face, Pattern
from labels.layout import EDGE_MM, Box
from labels.lettering import width
from labels.marks import hazard_form
from labels.sheets import LABELS_MAX, cut, level_for, print_labels
from labels.stock import STOCKS, Stock, named
from labels.symbol import QUIET_MODULES
from service.custody.words import Symbol
from tests.labels.camera import Bits, raster
from tests.labels.samples import CATEGORIES, CAUTIONS, blank, filled

A4 = named("a4-8")
ROLL = named("roll-100x50-203")

LONG = {
    "category_name": "Contaminated " * 16,
    "unit_name": "Operationssaal für Wiederherstellung " * 6,
    "sealed_at_local": "M" * 200,
    "weight_kg": "0" * 200,
    "colour_name": "yellow with a stripe " * 10,
    "cautions": "Do not open, press or throw. " * 7,
    "facility_name": "Krankenhaus Lindenbrück " * 9,
    "regime_lines": ("Consignor: " + "x" * 190, "Étage supérieur, bâtiment à l'arrière " * 5) * 3,
}
ODD = {
    "category_name": "संक्रामक \u202e\u0007 <b>&amp;</b> (\\) 💉",
    "unit_name": "क्षेत्र 病棟 7",
    "mark": "Ω",
    "regime_lines": ("", "\n\n", "Ćwiek — “ő” ½ µg\t№ 5"),
}


def text_of(pdf: bytes) -> str:
    """All text of a PDF as another library reads it, with single spaces."""
    pages = PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def label_bits(page: Bits, stock: Stock, place: int) -> Bits:
    """The dots of one label cut from the raster of its page (at the stock's resolution)."""
    x, y = stock.place_dots(place)
    high, wide = stock.dots(stock.label_height_mm), stock.dots(stock.label_width_mm)
    foot = page.shape[0] - y
    return page[foot - high : foot, x : x + wide]


def test_a_filled_label_says_everything_in_words() -> None:
    """Id in groups, category, colour, letter, unit, time, weight, cautions, lines are text."""
    said = text_of(print_labels([filled(0)], A4))
    face = filled(0)
    for words in (
        "7K3M 92QD 000X",
        face.category_name,
        "YELLOW",
        "BIOHAZARD",
        face.unit_name,
        face.sealed_at_local,
        face.weight_kg,
        CAUTIONS,
        *face.regime_lines,
        face.facility_name,
    ):
        assert words in said


def test_accents_are_printed_as_written() -> None:
    """Latin letters with accents come out of the PDF as they went in."""
    said = text_of(print_labels([filled(unit_name="Hémato – Größe Ångström č")], A4))
    assert "Hémato – Größe Ångström č" in said


def test_devanagari_is_joined_in_print() -> None:
    """The Hindi word for "area" is as wide in print as it was measured: its letters are joined."""
    word = "क्षेत्र"
    made = compose(blank(unit_name=word), level_for(blank(0).payload, ROLL)[1])
    fitted = next(text.fitted for text in made.texts if text.name == "unit_name")
    without, with_word = (
        raster(print_labels([blank(unit_name=unit)], ROLL), ROLL.dpi) for unit in ("", word)
    )
    columns = np.flatnonzero((without != with_word).any(axis=0))
    printed_points = (columns[-1] - columns[0]) * 72 / ROLL.dpi
    assert printed_points == pytest.approx(width(word, fitted.size), rel=0.1)


def test_a_cytotoxic_label_has_the_word() -> None:
    """The warning triangle stands beside the word CYTOTOXIC."""
    assert "CYTOTOXIC" in text_of(print_labels([filled(4)], ROLL))


def test_a_radioactive_label_has_the_trefoil_and_the_word() -> None:
    """One blade points down, the two others up and aside; between them it is white (ISO 361)."""
    assert "RADIATION" in text_of(print_labels([filled(4, symbol="radiation")], ROLL))
    out, side = io.BytesIO(), 100.0
    canvas = Canvas(out, pagesize=(side, side))
    canvas.doForm(hazard_form(canvas, "radiation", side))
    canvas.save()
    bits = raster(out.getvalue(), 72)

    def inked(angle: float, away: float) -> bool:
        x, y = 50 + away * cos(radians(angle)), 50 - away * sin(radians(angle))
        return bool(bits[int(y), int(x)])

    assert [inked(angle, 30) for angle in (30, 90, 150, 210, 270, 330)] == [True, False] * 3
    assert [inked(270, away) for away in (5, 12.5, 20, 45)] == [True, False, True, True]


@pytest.mark.parametrize("symbol", Symbol)
def test_every_symbol_that_a_regime_can_ask_for_can_be_printed(symbol: Symbol) -> None:
    """None of them is a reason to refuse the label."""
    assert print_labels([filled(0, symbol=symbol.value)], ROLL)


def test_a_blank_label_has_its_id_and_boxes_to_write_in() -> None:
    """A pre-numbered label shows its id and captions for what is written in by hand."""
    said = text_of(print_labels([blank(3)], ROLL))
    for words in ("7K3M 92QD", "CATEGORY", "UNIT", "DATE, TIME", "WEIGHT (kg)"):
        assert words in said


def test_every_face_is_printed_once_in_order() -> None:
    """Nineteen faces take three sheets of eight, in the order given."""
    faces = [filled(number) for number in range(19)]
    pages = PdfReader(io.BytesIO(print_labels(iter(faces), A4))).pages
    assert len(pages) == 3
    said = text_of(print_labels(faces, A4))
    places = [said.index(" ".join(_groups(face))) for face in faces]
    assert places == sorted(places)


def _groups(face: Face) -> list[str]:
    return [face.container_id[at : at + 4] for at in (0, 4, 8)]


def test_the_same_labels_give_the_same_bytes() -> None:
    """Printing twice gives the same file, so that a print can be checked by its digest."""
    faces = [filled(number) for number in range(9)]
    assert print_labels(faces, A4) == print_labels(faces, A4)


@pytest.mark.parametrize("name", STOCKS)
@pytest.mark.parametrize("changes", [{}, LONG, ODD], ids=["usual", "long", "odd"])
def test_quiet_zones_are_empty_and_nothing_leaves_the_label(
    name: str, changes: dict[str, Any]
) -> None:
    """Four modules round each symbol, the label's edge, and all between labels stay white."""
    stock = named(name)
    count = stock.labels_a_page
    faces = [filled(number, **changes) for number in range(count)]
    page = raster(print_labels(faces, stock), stock.dpi)
    inked = np.zeros_like(page)
    edge = stock.dots(EDGE_MM)
    slack = 0 if stock.is_roll else 1  # a sheet's page is not whole dots: its raster moves by one
    for place in range(count):
        code, layout = level_for(faces[place].payload, stock)
        label = label_bits(page, stock, place)
        size, quiet = len(code.modules) * layout.dots, QUIET_MODULES * layout.dots
        for x, y in (layout.upper_symbol, layout.lower_symbol):
            foot = label.shape[0] - y
            out = quiet - slack
            around = label[foot - size - out : foot + out, x - out : x + size + out].copy()
            assert around.shape == (size + 2 * out,) * 2
            around[out - slack : slack - out, out - slack : slack - out] = False
            assert not around.any()
        inside = label_bits(inked, stock, place)
        inside[edge - 1 : -edge + 1, edge - 1 : -edge + 1] = True
    assert not (page & ~inked).any()


@pytest.mark.parametrize("name", STOCKS)
@pytest.mark.parametrize("changes", [{}, LONG, ODD], ids=["usual", "long", "odd"])
def test_texts_keep_to_their_boxes_and_off_each_other(name: str, changes: dict[str, Any]) -> None:
    """No text is wider or taller than its box, and no two boxes of text overlap."""
    _, layout = level_for(filled(0).payload, named(name))
    for number in range(len(CATEGORIES)):
        made = compose(filled(number, **changes), layout)
        drawn = []
        for text in made.texts:
            assert text.fitted.height <= text.box.height + 1e-6
            wide = max((width(line, text.fitted.size) for line in text.fitted.lines), default=0)
            assert wide <= text.box.width + 1e-6
            high = text.fitted.height
            drawn.append(Box(text.box.x, text.box.top - high, wide, high))
        drawn += [box for box in (made.id_box, made.hazard) if box]
        for at, one in enumerate(drawn):
            assert not any(_overlap(one, other) for other in drawn[at + 1 :])


def _overlap(one: Box, other: Box) -> bool:
    slack = 1e-6
    return (
        one.x < other.right - slack
        and other.x < one.right - slack
        and one.y < other.top - slack
        and other.y < one.top - slack
    )


def test_what_a_small_label_cannot_hold_is_told_before_printing() -> None:
    """`cut` names the fields that would be shortened or have letters the font lacks."""
    assert cut(filled(0), A4) == ()
    assert "regime_lines" in cut(filled(0, **LONG), named("roll-75x50-203"))
    assert cut(blank(unit_name="病棟 7"), A4) == ("unit_name",)


def test_words_stand_on_white_whatever_the_colour() -> None:
    """The panel of words is dot for dot the same on yellow, red, blue, black and white."""
    colours = ("#FFFFFF", "#F6C700", "#C62828", "#1E5AA8", "#000000")
    _, layout = level_for(filled(0).payload, A4)
    panel = compose(filled(0), layout).panel.inset(0.5)
    point = A4.dpi / 72
    seen = []
    for colour in colours:
        label = label_bits(raster(print_labels([filled(colour_hex=colour)], A4), 600), A4, 0)
        foot = label.shape[0] - round(panel.y * point)
        rows = slice(foot - round(panel.height * point), foot)
        seen.append(label[rows, round(panel.x * point) : round(panel.right * point)])
    assert seen[0].any()
    assert all((other == seen[0]).all() for other in seen)


def test_a_thermal_roll_has_no_tint() -> None:
    """A roll's label is the same whatever its colour: words, letter and pattern tell it."""
    assert print_labels([filled(colour_hex="#F6C700")], ROLL) == print_labels(
        [filled(colour_hex="#C62828")], ROLL
    )


def test_each_pattern_looks_different_in_black_and_white() -> None:
    """Any two patterns differ in at least a tenth of the tile around the letter."""
    _, layout = level_for(filled(0).payload, ROLL)
    tile = compose(filled(0), layout).tile
    point = ROLL.dpi / 72
    seen = {}
    for pattern in Pattern:
        bits = raster(print_labels([filled(pattern=pattern, mark="")], ROLL), ROLL.dpi)
        foot = bits.shape[0] - round(tile.y * point)
        rows = slice(foot - round(tile.height * point), foot)
        seen[pattern] = bits[rows, round(tile.x * point) : round(tile.right * point)]
    for one in Pattern:
        for other in Pattern:
            if one != other:
                assert (seen[one] != seen[other]).mean() > 0.1


def test_nothing_to_print_is_said() -> None:
    """An empty list is refused rather than printed as an empty page."""
    with pytest.raises(ValueError, match="no label to print"):
        print_labels([], A4)


def test_a_print_too_large_is_refused() -> None:
    """More than five thousand labels in one print are refused before any work is done."""
    with pytest.raises(ValueError, match="5001 labels are too many"):
        print_labels([blank(0)] * (LABELS_MAX + 1), A4)


def test_level_falls_to_q_where_h_outgrows_the_label() -> None:
    """On a label too low for version 4 a payload of 47 characters takes level Q, version 3."""
    face = blank(0)
    assert level_for(face.payload, ROLL)[0].level == "H"
    for height_mm in np.arange(50, 44, -0.25):
        low = replace(ROLL, label_height_mm=height_mm, page_height_mm=height_mm)
        if level_for(face.payload, low)[0].level == "Q":
            assert len(print_labels([face], low)) > 1000
            return
    pytest.fail("no height was found at which level Q takes over")


def test_a_label_too_small_is_refused_with_advice() -> None:
    """Where not even level Q fits, the message says to take a larger label."""
    small = replace(ROLL, label_height_mm=30, page_height_mm=30)
    with pytest.raises(ValueError, match="Use a larger label"):
        print_labels([blank(0)], small)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"payload": "HTTPS://" + "A" * 52}, "60 characters; at most 50"),
        ({"payload": "https://waste.example"}, "capitals"),
        ({"payload": ""}, "capitals"),
        ({"pattern": "tartan"}, "Unknown pattern 'tartan'.*diagonal"),
        ({"symbol": "skull"}, "Unknown symbol 'skull'"),
        ({"colour_hex": "yellow"}, "#RRGGBB"),
        ({"mark": "YY"}, "single letter"),
        ({"container_id": "7K3M-92QD"}, "not a container id"),
    ],
)
def test_a_face_that_cannot_be_printed_is_refused(changes: dict[str, Any], reason: str) -> None:
    """Each field that cannot be printed is refused when the face is made, with the reason."""
    with pytest.raises(ValueError, match=reason):
        replace(filled(0), **changes)
