"""Writes down what happens as events in JSON form, by the device's own clock; it plans nothing."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any, NamedTuple

from scenario.activity import DAY_S, HOUR_S
from scenario.bags import Bag
from service.custody.identifiers import ALPHABET, TAG_LENGTH

Event = dict[str, Any]


class Hand(NamedTuple):
    """Who writes with which device where; no place means that nobody said."""

    actor: str
    device: str
    place: str = ""


class Line(NamedTuple):
    """An event with when it is sent and when it truly happened, in seconds of the quarter."""

    sent_s: int
    at_s: int
    offset_s: int
    event: Event


@dataclass(frozen=True, slots=True)
class _Link:
    """A device on one day: how far its clock is ahead, and when it has no network."""

    offset_s: int = 0
    offline_from_s: int = 0
    online_again_s: int = 0


class Pen:
    """Turns happenings into lines; what lies after the last second is not kept."""

    def __init__(self, rng: Random, start: datetime, last_s: int) -> None:
        self.lines: list[Line] = []
        self._rng = rng
        self._start = start
        self._start_ms = round(start.timestamp() * 1_000)
        self._last_s = last_s
        self._links: dict[tuple[str, int], _Link] = {}

    def write(
        self, kind: str, at_s: int, hand: Hand, containers: list[str], **own: object
    ) -> Event:
        """Write one event; what is None is left out."""
        return self._keep(kind, at_s, hand, containers, own)

    def scan(self, bag: Bag, kind: str, at_s: int, hand: Hand, **own: object) -> Event:
        """Write an event of one container, with the false code or the delay its story has."""
        code = bag.id
        if bag.false_at == kind:
            tag = "".join(self._rng.choices(ALPHABET, k=TAG_LENGTH))
            code = f"HTTPS://CUSTODY.EXAMPLE/{bag.id}/{tag}"
        late_s = self._rng.randint(49, 62) * HOUR_S if bag.late_at == kind else 0
        return self._keep(kind, at_s, hand, [code], own, late_s=late_s)

    def amend(self, event: Event, at_s: int, hand: Hand, corrected: Event | None) -> None:
        """Write that an earlier event was wrong, and what is right (None: it never happened)."""
        reason = "typing error" if corrected else "scanned the wrong container"
        own = {"supersedes": event["id"], "reason": reason, "corrected": corrected}
        self._keep("amended", at_s, hand, event["containers"], own)

    def _keep(
        self,
        kind: str,
        at_s: int,
        hand: Hand,
        containers: list[str],
        own: dict[str, object],
        *,
        late_s: int = 0,
    ) -> Event:
        day = at_s // DAY_S
        link = self._links.get((hand.device, day))
        if link is None:
            link = self._links[hand.device, day] = self._link(day)
        told_s = at_s + link.offset_s
        event: Event = {
            "id": self._id(told_s),
            "kind": kind,
            "containers": containers,
            "occurred_at": written(self._start + timedelta(seconds=told_s)),
            "actor": hand.actor,
            "device": hand.device,
        }
        if hand.place:
            event["place"] = hand.place
        if "started_s" in own:  # by the same clock as its end
            since = self._start + timedelta(seconds=int(str(own["started_s"])) + link.offset_s)
            event["started_at"] = written(since)
        for name, value in own.items():
            if value is not None and name != "started_s":
                event[name] = value
        if at_s <= self._last_s:
            offline = link.offline_from_s <= at_s < link.online_again_s
            sent_s = at_s + late_s if late_s else link.online_again_s if offline else at_s
            self.lines.append(Line(min(sent_s, self._last_s), at_s, link.offset_s, event))
        return event

    def _link(self, day: int) -> _Link:
        chance = self._rng.random()
        if chance < 0.006:
            return _Link(offset_s=self._rng.choice((-1, 1)) * self._rng.randint(180, 1_500))
        if chance < 0.06:
            from_s = day * DAY_S + self._rng.randint(6, 14) * HOUR_S
            return _Link(0, from_s, from_s + self._rng.randint(2, 8) * HOUR_S)
        return _Link()

    def _id(self, told_s: int) -> str:
        """A UUID of version 7 (RFC 9562, section 5.7) of the device's time."""
        return uuid7(self._rng, self._start_ms + told_s * 1_000)


def uuid7(rng: Random, ms: int) -> str:
    """Make a UUID of version 7 (RFC 9562, section 5.7) of a time in milliseconds."""
    bits = rng.getrandbits(74)
    number = ms << 80 | 7 << 76 | (bits >> 62) << 64 | 2 << 62 | bits & (1 << 62) - 1
    text = f"{number:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


def written(at: datetime) -> str:
    """Write an instant of UTC to the second."""
    return at.isoformat()[:19] + "Z"
