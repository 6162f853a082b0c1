"""Pages of long lists: how many rows, where the next page starts, and times asked for."""

from datetime import datetime

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from service.api.problems import UnfitError
from service.custody.fields import Instant
from service.duties.lookup import PAGE_MAX

_INSTANT: TypeAdapter[datetime] = TypeAdapter(Instant)
_MARK = "~"


class Page(BaseModel):
    """How much of a list is asked for; a parameter that is not known is refused, not ignored."""

    model_config = ConfigDict(extra="forbid")

    limit: int = Field(default=100, ge=1, le=PAGE_MAX, description="Rows in the answer.")


def cursor(*parts: object) -> str:
    """Write where a page ended."""
    return _MARK.join(p.isoformat() if isinstance(p, datetime) else str(p) for p in parts)


def read_cursor(text: str, parts: int) -> list[str]:
    """Read where the last page ended.

    Raises:
        UnfitError: the text is no cursor of such a list.
    """
    found = text.split(_MARK)
    if len(found) != parts:
        raise UnfitError("after is not a cursor: take it from 'next' of the page before")
    return found


def instant(text: str) -> datetime:
    """Read the time in a cursor.

    Raises:
        UnfitError: it is none.
    """
    try:
        return _INSTANT.validate_python(text)
    except ValidationError as error:
        raise UnfitError("after is not a cursor: take it from 'next' of the page before") from error


def whole(text: str) -> int:
    """Read the number in a cursor.

    Raises:
        UnfitError: it is none.
    """
    if not (text.isascii() and text.isdecimal() and len(text) < 10):
        raise UnfitError("after is not a cursor: take it from 'next' of the page before")
    return int(text)
