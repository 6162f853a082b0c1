"""In which language and form a page speaks: catalogues, dates, numbers.

The catalogues are gettext files in ``locale/``, read as they are; English stands in the pages.
What the service says in English and no catalogue has is shown in English, and marked as that.
"""

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

from babel import Locale, negotiate_locale
from babel.dates import format_datetime, format_timedelta
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal
from babel.support import NullTranslations, Translations
from markupsafe import Markup, escape
from starlette.requests import Request

from service.custody.verdict import CATALOGUE, Code, Violation

FOLDER = Path(__file__).parent / "locale"
COOKIE = "__Host-custody-language"
ENGLISH = "en"
"""The language of the pages' source, of the service's sentences and of the regimes that ship."""

DOORS = (
    "the name, the password or the code is wrong",
    "this is a first PIN: choose one of your own",
    "that is the present one: choose another",
    "the password holds half a character: type it again",
    "the password is common or easily guessed: take a few words that do not belong together",
    "the PIN is too easily guessed: no date, no row of digits, no repetition",
)
"""What the JSON doors say to people who sign in, word for word."""

MACHINE_MADE = "machine-made translation, to be reviewed by a speaker"
"""What stands as ``Last-Translator`` in a catalogue that no speaker has reviewed."""


def rule_name(code: Code) -> str:
    """Give the name of a rule that can be found not kept, as it is looked up."""
    return code.value.replace(".", ": ").replace("_", " ")


@dataclass(frozen=True)
class Language:
    """A language with its words and its ways of writing times, weights and numbers.

    Attributes:
        machine_made: No speaker has reviewed its catalogue.
    """

    locale: Locale
    words: NullTranslations
    machine_made: bool = False

    @property
    def tag(self) -> str:
        """As BCP 47 has it."""
        return str(self.locale).replace("_", "-")

    @property
    def direction(self) -> str:
        """``ltr`` or ``rtl``."""
        return str(self.locale.text_direction)

    @property
    def name(self) -> str:
        """As its speakers call it."""
        return str(self.locale.get_display_name(self.locale))

    @property
    def arrow(self) -> str:
        """Points from what is read first to what is read next."""
        return "←" if self.direction == "rtl" else "→"

    @property
    def english(self) -> bool:
        """Whether it is the language of the source."""
        return self.tag == ENGLISH

    @property
    def in_english(self) -> Markup:
        """Attributes that mark an element as English within a page of this language."""
        return Markup("") if self.english else Markup(' lang="{}" dir="ltr"').format(ENGLISH)

    def law(self, text: object) -> Markup:
        """Mark a text of the regime: it is law, and is shown in the words it was given in."""
        if self.english or not text:
            return escape(text)
        return Markup("<span{}>{}</span>").format(self.in_english, text)

    def own(self, name: object) -> Markup:
        """Mark a name of the facility's: in whatever script, it keeps its own direction."""
        return Markup("<bdi>{}</bdi>").format(name) if name and not self.english else escape(name)

    def told(self, sentence: str) -> Markup:
        """Give a sentence of the service's: translated if the catalogue has it, else English."""
        known = self.words.gettext(sentence)
        return self.law(sentence) if known == sentence else escape(known)

    def finding(self, violation: Violation) -> Markup:
        """Say what is wrong: the sentence with its figures, in other languages after its name."""
        said = self.law(violation.message)
        if self.english:
            return said
        return Markup("{}: {}").format(self.words.gettext(rule_name(violation.code)), said)

    def rules(self) -> dict[str, str]:
        """Give each rule's name and next action, for a script that is told them in English."""
        names = {code.value: self.words.gettext(rule_name(code)) for code in Code}
        return names | {said: self.words.gettext(said) for _, said in CATALOGUE.values()}

    def doors(self) -> dict[str, str]:
        """Give what the doors say to who signs in, for a script that is told it in English."""
        return {said: self.words.gettext(said) for said in DOORS}

    def isolated(self, text: str) -> str:
        """Give a text that keeps its own direction inside a sentence (UAX #9, section 2.4.3)."""
        return f"\u2068{text}\u2069" if self.direction == "rtl" else text

    def moment(self, at: datetime, zone: ZoneInfo) -> str:
        """Write an instant in the facility's own time, to the minute."""
        return format_datetime(at.astimezone(zone), "d MMM y HH:mm", locale=self.locale)

    def span(self, from_: datetime, until: datetime) -> str:
        """Write how long it is between two instants, roughly: 3 hours, 2 days."""
        return format_timedelta(abs(until - from_), threshold=1.5, locale=self.locale)

    def kg(self, grams: int) -> str:
        """Write a weight in kilograms."""
        kilograms = format_decimal(grams / 1000, format="#,##0.000", locale=self.locale)
        return self.isolated(f"{kilograms} kg")

    def number(self, value: int) -> str:
        """Write a count."""
        return str(format_decimal(value, locale=self.locale))


@cache
def available() -> tuple[str, ...]:
    """Give the languages there are, English first."""
    found = sorted(path.parent.parent.name for path in FOLDER.glob("*/LC_MESSAGES/pages.po"))
    return (ENGLISH, *found)


@cache
def language(tag: str) -> Language:
    """Give one of the languages there are."""
    locale = Locale.parse(tag, sep="-")
    if tag == ENGLISH:
        return Language(locale, NullTranslations())
    with (FOLDER / tag / "LC_MESSAGES" / "pages.po").open("rb") as file:
        catalogue = read_po(file, locale=tag.replace("-", "_"))
    compiled = BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    machine_made = catalogue.last_translator == MACHINE_MADE
    return Language(locale, Translations(compiled), machine_made)


def of_request(request: Request) -> Language:
    """Give the language that was chosen, else the first of those the browser asks for."""
    chosen = request.cookies.get(COOKIE, "")
    if chosen in available():
        return language(chosen)
    asked = [
        part.partition(";")[0].strip()
        for part in request.headers.get("accept-language", "").split(",")[:20]
    ]
    return language(negotiate_locale(asked, available(), sep="-") or ENGLISH)
