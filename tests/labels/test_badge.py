"""A badge is read by a camera, and says whose it is and that it is a key."""

from io import BytesIO

import numpy as np
import pytest
from pypdf import PdfReader

from labels.badge import CARD_MM, PAGE_MM, badge_card
from labels.lettering import width
from tests.labels.camera import by_zxing, picture, raster

CODE = "0123456789ABCDEFGHJKMNPQ"
NAME = "Lantern Hill Teaching Hospital (invented)"


def text_of(pdf: bytes) -> str:
    """The words on the sheet."""
    return " ".join(PdfReader(BytesIO(pdf)).pages[0].extract_text().split())


@pytest.mark.parametrize("dpi", [150, 203, 300])
def test_its_code_is_read_from_an_office_printers_sheet(dpi: int) -> None:
    """Also at the coarsest."""
    bits = raster(badge_card(CODE, "p-4k7q2m", "ward", NAME), dpi)
    assert by_zxing(picture(bits)) == [CODE]


def test_it_says_whose_it_is_and_that_it_is_a_key() -> None:
    """Id, role, facility and the code to be typed where no camera works; never a name or a PIN."""
    text = text_of(badge_card(CODE, "p-4k7q2m", "ward", NAME))
    for words in ("p-4k7q2m", "ward", "Lantern Hill", "This badge is a key", "Do not copy"):
        assert words in text
    assert CODE in text.replace(" ", "")


def test_a_facility_is_named_in_its_own_script() -> None:
    """Letters that join are joined: the name is as wide as a text of it by itself."""
    name = "शिक्षण चिकित्सालय"
    bits = raster(badge_card(CODE, "p-1", "ward", name), 300)
    per_mm = 300 / 25.4
    top, side = int(21 * per_mm), int(54 * per_mm)  # right of the symbol
    line = bits[top : top + int(8 * per_mm), side : side + int(45 * per_mm)]
    columns = np.flatnonzero(line.any(axis=0))
    assert (columns[-1] - columns[0]) * 72 / 300 == pytest.approx(width(name, 10), rel=0.06)


def test_the_longest_id_and_name_stay_on_the_card() -> None:
    """An id may have 63 characters; nothing is printed right of the card's edge."""
    bits = raster(badge_card(CODE, "w" * 63, "administrator", "W" * 200), 100)
    per_mm = 100 / 25.4
    card_foot = int((20 + CARD_MM[1]) * per_mm)
    beside = bits[:card_foot, int((20 + CARD_MM[0] + 1) * per_mm) : int(PAGE_MM[0] * per_mm)]
    assert not beside.any()
    assert "w" * 10 in text_of(badge_card(CODE, "w" * 63, "administrator", "W" * 200))


def test_the_same_badge_gives_the_same_bytes() -> None:
    """No date of its making is in it."""
    assert badge_card(CODE, "p-1", "ward", NAME) == badge_card(CODE, "p-1", "ward", NAME)


@pytest.mark.parametrize("code", ["", "abc", "A-B", "Ä1"])
def test_what_is_no_code_is_not_printed(code: str) -> None:
    """Its symbol could not be read back as what it was."""
    with pytest.raises(ValueError, match="capitals and digits"):
        badge_card(code, "p-1", "ward", NAME)
