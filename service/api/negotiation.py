"""Which form of an answer the client would rather have, by its Accept header (RFC 9110 §12.5.1)."""

from collections.abc import Sequence

from fastapi import HTTPException


def preferred(accept: str, offered: Sequence[str]) -> str:
    """Give the offered media type that the header likes best; of equals, the first offered.

    Raises:
        HTTPException: 406, none of them is acceptable.
    """
    ranges = [_range(part) for part in accept.split(",") if part.strip()] or [("*/*", 1.0)]
    best = max(offered, key=lambda media: _quality(media, ranges))
    if _quality(best, ranges) == 0:
        raise HTTPException(406, f"it can be given as {', '.join(offered)}")
    return best


def _range(text: str) -> tuple[str, float]:
    """Read one range; with a parameter of its own it covers only what has that parameter."""
    media, *parameters = (part.strip().lower() for part in text.split(";"))
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            return media, _weight(value)
        if name.strip() != "charset":
            media = f"{media};{parameter}"
    return media, 1.0


def _weight(value: str) -> float:
    try:
        return min(max(float(value), 0.0), 1.0)
    except ValueError:
        return 0.0


def _quality(media: str, ranges: list[tuple[str, float]]) -> float:
    """The quality of the most specific range that covers the media type."""
    wider = (media, f"{media.partition('/')[0]}/*", "*/*")
    for pattern in wider:
        found = [quality for name, quality in ranges if name == pattern]
        if found:
            return max(found)
    return 0.0
