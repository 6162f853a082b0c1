"""Fitting text to its box: shrunk first, then wrapped, then cut; never over the edge."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labels.lettering import clean, fit, unprintable, width


@given(
    st.lists(st.text(max_size=120), max_size=4),
    st.tuples(st.floats(20, 250), st.floats(8, 90)),
    st.floats(6, 22),
)
@settings(max_examples=150, deadline=None)
def test_fitted_text_stays_in_its_box(
    texts: list[str], room: tuple[float, float], largest: float
) -> None:
    """Whatever the text, no line is wider and no paragraph taller than its box."""
    fitted = fit(tuple(texts), room, largest, 4.5)
    assert 4.5 <= fitted.size <= largest
    assert fitted.height <= room[1] + 1e-6
    assert all(width(line, fitted.size) <= room[0] + 1e-6 for line in fitted.lines)


def test_a_line_shrinks_before_it_wraps_and_wraps_before_it_is_cut() -> None:
    """The same words in less and less room: one line, smaller, on more lines, at last cut."""
    words = ("Contaminated, recyclable plastics",)
    roomy, tight, narrow, tiny = (
        fit(words, room, 12, 6) for room in ((300, 40), (170, 40), (80, 40), (30, 8))
    )
    assert (len(roomy.lines), roomy.size) == (1, 12)
    assert len(tight.lines) == 1
    assert tight.size < 12
    assert len(narrow.lines) > 1
    assert not narrow.cut
    assert tiny.cut
    assert tiny.lines[-1].endswith("…")


def test_nothing_is_lost_unless_it_is_said() -> None:
    """Text that is not marked as cut holds every word."""
    words = "Do not open, press or throw. " * 5
    fitted = fit((words,), (120, 60), 12, 4.5)
    assert not fitted.cut
    assert " ".join(fitted.lines) == words.strip()


def test_a_word_longer_than_the_line_is_broken() -> None:
    """A word that no line can hold goes on in the next line."""
    fitted = fit(("M" * 40,), (60, 60), 10, 5)
    assert "".join(fitted.lines) == "M" * 40


@pytest.mark.parametrize(
    ("given_text", "printed"),
    [("a\n b\t\tc ", "a b c"), ("Se\u0301jour", "Séjour"), ("\x00x\x1b", "x"), ("", "")],
)
def test_text_is_cleaned_for_print(given_text: str, printed: str) -> None:
    """Accents are composed; line breaks and control characters become single spaces."""
    assert clean(given_text) == printed


def test_letters_the_font_lacks_are_named() -> None:
    """Latin with accents and the scripts that are shaped are printable; another is named."""
    assert unprintable("Größe Ångström naïve č ő") == ""
    assert unprintable("वार्ड جناح அறை గది") == ""
    assert unprintable("Ward 7, 病棟 و") == "病棟"
