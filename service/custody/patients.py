"""Patients' numbers, by the templates a site gives: none of them belongs in this record.

In a template ``#`` is one digit, ``@`` one letter, and anything else itself: ``MRN#######``.
"""

import re
import unicodedata
from collections.abc import Iterable
from functools import cache

PLACES_MIN = 4
"""Places of a template that are a digit or a letter: with fewer it would be found everywhere."""


def fault(template: str) -> str:
    """Say in one sentence why a template cannot be used, or nothing if it can."""
    free = sum(template.count(sign) for sign in "#@")
    if free < PLACES_MIN or "#" not in template:
        return (
            f"the template of a patient's number '{template}' would fit ordinary words: at least "
            f"{PLACES_MIN} of its places are # (a digit) or @ (a letter), and one of them is #"
        )
    if template != template.strip():
        return f"the template of a patient's number '{template}' begins or ends with a blank"
    return ""


def found(text: str, templates: Iterable[str]) -> str | None:
    """Give the template of a patient's number that stands in a text as a word of its own, if any.

    Digits and letters are those of any script, and small letters are as good as capitals.
    """
    plain = unicodedata.normalize("NFKC", text)
    return next((t for t in templates if _pattern(t).search(plain)), None)


_SIGNS = {"#": r"\d", "@": r"[^\W\d_]"}
_ALONE = r"[^\W_]"


@cache
def _pattern(template: str) -> re.Pattern[str]:
    plain = unicodedata.normalize("NFKC", template)
    body = "".join(_SIGNS.get(sign) or re.escape(sign) for sign in plain)
    return re.compile(f"(?<!{_ALONE}){body}(?!{_ALONE})", re.IGNORECASE)
