"""How weights, moments and ids are written on paper for people to read."""

from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from service.custody.identifiers import grouped, is_valid
from service.manifests.grid import Chip
from service.manifests.lines import Stream
from service.manifests.tally import Amount

CAREFUL = (
    "Checking containers: read labels only. Never open, press or tip a container, and never reach "
    "into one; wear gloves and closed shoes, and keep clear of machines at work. If one leaks or "
    "a needle shows, stop and follow the site's spill and needle-stick procedure."
)
"""The usual cautions for who checks containers against a list."""


def kg(weight_g: int | None) -> str:
    """Write grams as kilograms with three places, exactly; nothing for no weight."""
    if weight_g is None:
        return ""
    sign = "-" if weight_g < 0 else ""
    whole, rest = divmod(abs(weight_g), 1000)
    return f"{sign}{whole}.{rest:03d}"


def amounts(a: Amount) -> tuple[str, str, str]:
    """Write an amount as its three columns: containers, kilograms, not weighed."""
    return str(a.containers), kg(a.grams), str(a.unweighed or "")


@lru_cache(maxsize=4_096)
def moment(at: datetime | None, zone: ZoneInfo) -> str:
    """Write an instant in the zone to the minute, ``2026-07-02 09:12``; nothing for none."""
    return at.astimezone(zone).isoformat(" ", "minutes")[:16] if at else ""


def day(on: date) -> str:
    """Write a day in full, ``2 July 2026``."""
    return f"{on.day} {on:%B %Y}"


def container(id_: str) -> str:
    """Write a container's id in the groups of its label; another's as it is."""
    return grouped(id_) if is_valid(id_) else id_


def chip(stream: Stream, text: str | None = None) -> Chip:
    """Draw a category as its colour with its letter, and its id or another text."""
    return Chip(stream.colour_hex, stream.mark, stream.id or stream.name if text is None else text)


def short(event_id: object) -> str:
    """Write the last eight digits of an event's id, which tell it from the others of a quarter."""
    return str(event_id)[-8:]


def yes(said: bool) -> str:
    """Write yes, or nothing for no."""
    return "yes" if said else ""
