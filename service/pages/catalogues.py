"""The catalogues, brought up to date with the pages: ``python -m service.pages.catalogues [TAG]``.

All messages are gathered from templates, Python and the words that templates look up by a value.
A catalogue gets the new ones, untranslated, and loses those that are no more; nothing is guessed.
A tag begins a new one.
"""

import sys
from collections.abc import Iterator
from enum import Enum
from io import BytesIO
from pathlib import Path
from typing import get_args

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from service.custody.acts import Outlet, Step
from service.custody.counted import Cover, NeedleStage
from service.custody.events import Notified
from service.custody.reckoning import Material
from service.custody.site import Authorisation, Climate, MachineKind, Party
from service.custody.words import ClockStart, Condition, ContainerKind, Role, Severity
from service.duties.access import Kind
from service.duties.figures import OTHER
from service.pages.cycles import VERDICTS
from service.pages.frame import UNREADABLE, UNUSABLE
from service.pages.happenings import FIELDS, KINDS
from service.pages.language import DOORS, ENGLISH, FOLDER, available, language
from service.pages.officer import FORMS
from service.pages.places import places_of
from service.pages.plan import BARS
from service.pages.timeline import LANES

HERE = Path(__file__).parent
PLACES = ("below", "within", "above")
"""Where a figure lies beside a published one."""
METHODS = [("**.py", "python"), ("templates/**.html", "jinja2")]
OPTIONS = {"templates/**.html": {"trim_blocks": "true", "lstrip_blocks": "true", "silent": "false"}}


def vocabulary() -> Iterator[str]:
    """Give every word that no call of gettext names: templates look it up by a value."""
    spoken: tuple[type[Enum], ...] = (
        Role, Severity, Kind, Step, Outlet, Condition, ContainerKind, ClockStart,
    )  # fmt: skip
    for words in spoken:
        yield from (word.value.replace("_", " ") for word in words)
    yield from (said for role in Role for said in (place.name for place in places_of(role)))
    yield from (*KINDS.values(), *FIELDS.values(), *LANES, *(name for _, name in FORMS.values()))
    yield from (*get_args(Material), OTHER, *PLACES, *BARS, *get_args(Cover))
    yield from get_args(NeedleStage)
    yield from (said for _, said in VERDICTS.values())
    fields = ((Notified, "about"), (Party, "kind"), (Authorisation, "activity"))
    chosen = (Climate, MachineKind, *(of.model_fields[name].annotation for of, name in fields))
    yield from (word.replace("_", " ") for one in chosen for word in get_args(one))
    english = language(ENGLISH)
    yield from (*DOORS, UNREADABLE, UNUSABLE, *english.rules().values())


def template() -> Catalog:
    """Give all messages of the pages, without translations, in the order of the alphabet."""
    made = Catalog(charset="utf-8", fuzzy=False)
    for _, _, message, _, _ in extract_from_dir(HERE, METHODS, OPTIONS):
        made.add(message)
    for word in vocabulary():
        made.add(word)
    return made


def updated(tag: str, before: Catalog | None = None) -> Catalog:
    """Give the catalogue of a language with the messages that the pages have now.

    Args:
        tag: The language, as BCP 47 has it.
        before: What was translated so far, if not what lies in ``locale/``.
    """
    made = before if before is not None else _read(tag)
    made.update(template(), no_fuzzy_matching=True, update_creation_date=False)
    made.obsolete.clear()
    return made


def written(catalogue: Catalog) -> bytes:
    """Write a catalogue down in the order of the alphabet, without the places in the source."""
    held = BytesIO()
    write_po(held, catalogue, width=100, sort_output=True, no_location=True)
    return held.getvalue()


def _read(tag: str) -> Catalog:
    locale, path = tag.replace("-", "_"), _path(tag)
    if not path.exists():
        return Catalog(locale=locale, charset="utf-8", fuzzy=False)
    with path.open("rb") as file:
        return read_po(file, locale=locale)


def _path(tag: str) -> Path:
    return FOLDER / tag / "LC_MESSAGES" / "pages.po"


def main(begun: list[str]) -> None:
    """Write every catalogue there is anew, and begin those that are named."""
    for tag in sorted({*available(), *begun} - {ENGLISH}):
        made = updated(tag)
        _path(tag).parent.mkdir(parents=True, exist_ok=True)
        _path(tag).write_bytes(written(made))
        lacking = sum(1 for m in made if m.id and not m.string)
        print(f"{tag}: {len(made)} messages, {lacking} not translated")  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
