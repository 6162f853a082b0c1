"""In which language and form a page speaks: catalogues, dates, numbers.

The catalogues are gettext files in ``locale/``, read as they are; English stands in the pages.
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
from starlette.requests import Request

FOLDER = Path(__file__).parent / "locale"
COOKIE = "__Host-custody-language"
ENGLISH = "en"


@dataclass(frozen=True)
class Language:
    """A language with its words and its ways of writing times, weights and numbers."""

    locale: Locale
    words: NullTranslations

    @property
    def tag(self) -> str:
        """As BCP 47 has it."""
        return str(self.locale).replace("_", "-")

    @property
    def direction(self) -> str:
        """``ltr`` or ``rtl``."""
        return str(self.locale.text_direction)

    def moment(self, at: datetime, zone: ZoneInfo) -> str:
        """Write an instant in the facility's own time, to the minute."""
        return format_datetime(at.astimezone(zone), "d MMM y HH:mm", locale=self.locale)

    def span(self, from_: datetime, until: datetime) -> str:
        """Write how long it is between two instants, roughly: 3 hours, 2 days."""
        return format_timedelta(abs(until - from_), threshold=1.5, locale=self.locale)

    def kg(self, grams: int) -> str:
        """Write a weight in kilograms."""
        return f"{format_decimal(grams / 1000, format='#,##0.000', locale=self.locale)} kg"

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
    return Language(locale, Translations(compiled))


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
