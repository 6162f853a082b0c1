"""The catalogues say all that the pages say, with the same blanks, and nothing else.

The forms of the files and the plural rules are GNU gettext's (manual, "The Format of PO Files").
"""

import re
from io import BytesIO

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from service.pages.catalogues import template, updated, written
from service.pages.language import ENGLISH, FOLDER, MACHINE_MADE, available, language

TAGS = [tag for tag in available() if tag != ENGLISH]
_BLANKS = re.compile(r"%\(\w+\)[sd]|\{\w*\}")


def read(tag: str) -> Catalog:
    """A catalogue as it lies there."""
    with (FOLDER / tag / "LC_MESSAGES" / "pages.po").open("rb") as file:
        return read_po(file, locale=tag.replace("-", "_"))


def ids(catalogue: Catalog) -> set[str | tuple[str, ...]]:
    """Its messages."""
    return {m.id if isinstance(m.id, str) else tuple(m.id) for m in catalogue if m.id}


def forms(text: str | list[str] | tuple[str, ...]) -> list[str]:
    """A text in all its plural forms."""
    return [text] if isinstance(text, str) else list(text)


def test_there_are_languages_of_an_indic_script_and_from_right_to_left() -> None:
    """As proof that both are borne."""
    assert {"hi", "ar"} <= set(TAGS)
    assert language("ar").direction == "rtl"
    assert language("hi").direction == "ltr"


def test_the_words_that_templates_look_up_by_a_value_are_gathered() -> None:
    """A role, a rule, a next action, an act, a place, a kind of event, a lane, a form of paper."""
    found = ids(template())
    for word in (
        "officer", "holding: near", "Close it before anybody moves it.", "dry heat",
        "Pick-up run", "put in an outer bag", "carrier", "Paper (PDF)", "Sign in", "spill",
    ):  # fmt: skip
        assert word in found


@pytest.mark.parametrize("tag", TAGS)
def test_a_catalogue_has_every_message_of_the_pages_and_no_other(tag: str) -> None:
    """``python -m service.pages.catalogues`` brings it up to date."""
    there, wanted = ids(read(tag)), ids(template())
    assert (wanted - there, there - wanted) == (set(), set())


@pytest.mark.parametrize("tag", TAGS)
def test_a_catalogue_says_each_in_every_plural_form_and_none_by_guess(tag: str) -> None:
    """No empty text, no fuzzy one, none left over."""
    catalogue = read(tag)
    assert [m.id for m in catalogue if m.id and not all(forms(m.string))] == []
    assert [m.id for m in catalogue if m.id and m.fuzzy] == []
    assert not catalogue.obsolete
    plural = [m for m in catalogue if m.id and not isinstance(m.id, str)]
    assert {len(forms(m.string)) for m in plural} == {catalogue.num_plurals}


@pytest.mark.parametrize("tag", TAGS)
def test_a_catalogue_has_the_blanks_of_the_source(tag: str) -> None:
    """Whatever is put in is put in every form, once, by the same name."""
    unlike = [
        (text, said)
        for m in read(tag)
        if m.id
        for text in forms(m.id)
        for said in forms(m.string)
        if sorted(_BLANKS.findall(text)) != sorted(_BLANKS.findall(said))
    ]
    assert unlike == []


@pytest.mark.parametrize("tag", TAGS)
def test_a_catalogue_holds_no_markup_and_no_direction_of_its_own(tag: str) -> None:
    """A text is a text: pages escape it, and pages turn it."""
    hidden = re.compile("[<>&\u200e\u200f\u202a-\u202e\u2066-\u2069]")
    said = [s for m in read(tag) if m.id for s in forms(m.string)]
    assert [s for s in said if hidden.search(s)] == []


@pytest.mark.parametrize("tag", TAGS)
def test_a_catalogue_is_as_the_one_command_writes_it(tag: str) -> None:
    """In the order of the alphabet, without line numbers: two changes meet in few lines."""
    path = FOLDER / tag / "LC_MESSAGES" / "pages.po"
    assert written(updated(tag)) == path.read_bytes()
    assert b"\n#:" not in path.read_bytes()


@pytest.mark.parametrize("tag", TAGS)
def test_a_catalogue_says_whether_a_speaker_has_reviewed_it(tag: str) -> None:
    """In its header; the pages say it too."""
    assert language(tag).machine_made == (read(tag).last_translator == MACHINE_MADE)


def test_a_message_that_is_no_more_goes_and_a_new_one_waits_untranslated() -> None:
    """Nothing is guessed from one that sounds alike."""
    old = Catalog(locale="hi", fuzzy=False)
    old.add("Seal a contraption", "पुराना")
    held = BytesIO()
    write_po(held, old)
    held.seek(0)
    made = updated("hi", read_po(held, locale="hi"))
    assert "Seal a contraption" not in made
    message = made.get("Seal a container")
    assert message is not None
    assert (message.string or "", message.fuzzy) == ("", False)
