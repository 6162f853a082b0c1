"""Builders that read as the trade speaks: a story of containers, told event by event.

What a test does not say is as usual. The invented regime and hospital are in ``tests.house``.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any, Self
from uuid import UUID

from service.custody.events import (
    EVENT,
    Entry,
    Origin,
)
from service.custody.history import History, fold
from service.custody.rules import Rules
from service.custody.standing import Standing, stand
from service.custody.verdict import Violation
from service.custody.violations import assess, judge

BAG, CART, OUTER = "BAG-1", "CART-1", "OUTER-1"
_numbers = count(1)


def at(text: str) -> datetime:
    """Read ``2026-07-01 10:00`` as UTC; an offset may be written behind it."""
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def event_id(moment: datetime) -> UUID:
    """Make an id laid out as UUIDv7 (RFC 9562 §5.7): ids made later sort later."""
    millis = int(moment.timestamp() * 1000)
    return UUID(int=millis << 80 | 7 << 76 | 2 << 62 | next(_numbers))


USUAL: dict[str, dict[str, Any]] = {
    "labelled": {"layout": "a4-24"},
    "registered": {"unit": "ward-3", "actor": "nurse"},
    "collected": {"from_party": "ward-3", "to_party": "handlers"},
    "stored": {"store": "yard-store"},
    "dispatched": {
        "consignment": "C-1",
        "carrier": "haulier",
        "consignee": "plant",
        "seal": "S-100",
    },
    "received": {"party": "plant", "consignment": "C-1", "seal": "S-100", "seal_intact": True},
    "refused": {"party": "plant", "reason": "no cold room free", "consignment": "C-1"},
    "treated": {"step": "incinerate", "party": "plant", "cycle": "K-1"},
    "disposed": {"outlet": "ash_landfill", "party": "plant"},
    "packed": {"parent": CART},
    "unpacked": {"parent": CART},
    "spilled": {"action_taken": "absorbed, disinfected"},
    "notified": {"authority": "board", "about": "holding", "reason": "the plant stood still"},
    "pit_covered": {"containers": (), "pit": "pit-1", "cover": "soil", "layer_cm": "10"},
    "needles_counted": {
        "containers": (),
        "stage": "cut",
        "needles": 40,
        "unit": "ward-3",
        "source": "hub cutter",
    },
    "activity_counted": {
        "containers": (),
        "unit": "ward-3",
        "day": "2026-07-01",
        "occupied_bed_days": "17.5",
        "source": "census",
    },
    "cycle_run": {
        "containers": (),
        "cycle": "K-1",
        "machine": "autoclave-1",
        "step": "autoclave",
        "party": "plant",
        "started_at": "2026-01-01T00:00:00Z",
    },
    "trace_attached": {
        "containers": (),
        "cycle": "K-1",
        "sha256": "ab" * 32,
        "media_type": "text/csv",
        "size_bytes": 4096,
    },
    "indicator_read": {"containers": (), "cycle": "K-1", "turned": True},
    "load_observed": {"containers": (), "cycle": "K-1", "wet": True},
    "spore_tested": {"containers": (), "machine": "autoclave-1", "grew": False},
}
"""What each kind of event says if the test does not."""


@dataclass
class Story:
    """What happens to containers; acts are about ``container`` unless others are named."""

    container: str = BAG
    category: str = "soiled"
    kind: str = "bag"
    entries: list[Entry] = field(default_factory=list)

    def tell(
        self,
        kind: str,
        when: datetime | str,
        *containers: str,
        after: timedelta = timedelta(minutes=1),
        clock_offset_s: int = 0,
        false: Iterable[str] = (),
        origin: Origin | None = None,
        **said: Any,
    ) -> Self:
        """Add an event, recorded ``after`` it happened; the device's clock may have been ahead."""
        moment = at(when) if isinstance(when, str) else when
        usual: dict[str, Any] = {
            "id": event_id(moment),
            "kind": kind,
            "containers": containers or (self.container,),
            "occurred_at": moment,
            "actor": "handler",
        }
        if kind == "registered":
            usual |= {"category": self.category, "container_kind": self.kind}
        if kind == "labelled":
            usual["count"] = len(usual["containers"])
        event = EVENT.validate_python(usual | USUAL.get(kind, {}) | said)
        recorded_at = moment - timedelta(seconds=clock_offset_s) + after
        self.entries.append(Entry(event, recorded_at, clock_offset_s, tuple(false), origin))
        return self

    def labelled(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """Labels were printed."""
        return self.tell("labelled", when, *containers, **said)

    def sealed(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """The container was sealed and registered at ward 3."""
        return self.tell("registered", when, *containers, **said)

    def weighed(self, when: datetime | str, weight_g: int, **said: Any) -> Self:
        """It was weighed again."""
        return self.tell("weighed", when, weight_g=weight_g, **said)

    def double_bagged(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It was put in an outer bag."""
        return self.tell("double_bagged", when, *containers, **said)

    def packed(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It was put in the cart."""
        return self.tell("packed", when, *containers, **said)

    def unpacked(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """The named ones came out of the cart."""
        return self.tell("unpacked", when, *containers, **said)

    def emptied(self, when: datetime | str, parent: str = CART) -> Self:
        """All that was in the cart came out."""
        return self.tell("unpacked", when, parent=parent, containers=())

    def collected(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """The handlers took it at the ward."""
        return self.tell("collected", when, *containers, **said)

    def stored(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It was put in the yard store, which is not cooled."""
        return self.tell("stored", when, *containers, **said)

    def dispatched(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It left with the haulier for the plant, sealed."""
        return self.tell("dispatched", when, *containers, **said)

    def received(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """The plant took it in, the seal whole."""
        return self.tell("received", when, *containers, **said)

    def all_received(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """The plant says that only the named came of the consignment."""
        whole = {"complete": True, "containers": containers}
        return self.tell("received", when, **(whole | said))

    def refused(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """The plant turned it away."""
        return self.tell("refused", when, *containers, **said)

    def treated(self, when: datetime | str, step: str = "incinerate", **said: Any) -> Self:
        """One step was done at the plant."""
        return self.tell("treated", when, step=step, **said)

    def disposed(self, when: datetime | str, outlet: str = "ash_landfill", **said: Any) -> Self:
        """It went to its end."""
        return self.tell("disposed", when, outlet=outlet, **said)

    def inspected(self, when: datetime | str, *wrong_items: str) -> Self:
        """An audit looked at it and found these wrong items."""
        return self.tell("inspected", when, wrong_items=wrong_items)

    def lost(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It was not where it should be."""
        return self.tell("lost", when, *containers, **said)

    def found(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It was there again."""
        return self.tell("found", when, *containers, **said)

    def spilled(self, when: datetime | str, *containers: str, **said: Any) -> Self:
        """It spilled."""
        return self.tell("spilled", when, *containers, **said)

    def notified(self, when: datetime | str, about: str = "holding", **said: Any) -> Self:
        """The authority was told, with reasons."""
        return self.tell("notified", when, about=about, **said)

    def amended(self, when: datetime | str, kind: str, **changes: Any) -> Self:
        """The last event of that kind is put right in these points."""
        wrong = self.last(kind)
        right = EVENT.validate_python(wrong.model_dump() | changes)
        return self._amend(when, wrong, right)

    def voided(self, when: datetime | str, kind: str) -> Self:
        """The last event of that kind did not happen."""
        return self._amend(when, self.last(kind), None)

    def _amend(self, when: datetime | str, wrong: Any, right: Any) -> Self:
        return self.tell(
            "amended",
            when,
            *wrong.containers,
            supersedes=wrong.id,
            reason="slip of the pen",
            corrected=right,
        )

    def last(self, kind: str) -> Any:
        """Give the last told event of a kind."""
        return next(e.event for e in reversed(self.entries) if e.event.kind == kind)

    def history(self, container: str | None = None) -> History:
        """Fold the story for one of its containers."""
        return fold(container or self.container, self.entries)

    def judged(self, rules: Rules, container: str | None = None) -> tuple[Violation, ...]:
        """Judge one of its containers."""
        return judge(self.history(container), rules)

    def codes(self, rules: Rules, container: str | None = None) -> list[str]:
        """Give the codes of all violations found, in order of opening."""
        return [v.code.value for v in self.judged(rules, container)]

    def only(self, code: str, rules: Rules, container: str | None = None) -> Violation:
        """Give the one violation of that code; there must be exactly one."""
        found = self.every(code, rules, container)
        assert len(found) == 1, f"{len(found)} violations of {code}: {found}"
        return found[0]

    def every(self, code: str, rules: Rules, container: str | None = None) -> list[Violation]:
        """Give the violations of that code."""
        return [v for v in self.judged(rules, container) if v.code.value == code]

    def over(self, rules: Rules, now: datetime) -> bool:
        """Say whether an overrun of a holding limit stands at that moment."""
        found = assess(self.history(), rules, now)
        return any(v.code.value == "holding.exceeded" and v.open_at(now) for v in found)

    def standing(self, rules: Rules, container: str | None = None) -> Standing:
        """Say how one of its containers stands."""
        return stand(self.history(container), rules)


def bag(category: str = "soiled", container: str = BAG) -> Story:
    """A bag of waste."""
    return Story(container, category)


def sharps_box(category: str = "sharps", container: str = "BOX-1") -> Story:
    """A puncture-proof sharps container."""
    return Story(container, category, "sharps_container")


def handled_well(sealed_at: datetime, category: str = "soiled") -> Story:
    """A bag with nothing wrong: weighed, double-bagged, carried in a cart, burnt within a day."""
    hour = timedelta(hours=1)
    return (
        bag(category)
        .labelled(sealed_at - 240 * hour)
        .sealed(sealed_at, weight_g=3420, scale="ward-scale", fill_fraction="0.7", place="ward-3")
        .double_bagged(sealed_at + hour, place="ward-3", tare_g=40)
        .packed(sealed_at + 2 * hour, place="ward-3")
        .collected(sealed_at + 3 * hour, CART, place="ward-3")
        .stored(sealed_at + 4 * hour, CART, place="yard-store")
        .dispatched(sealed_at + 10 * hour, CART, place="yard-store")
        .received(sealed_at + 12 * hour, CART, place="plant")
        .emptied(sealed_at + 13 * hour)
        .weighed(sealed_at + 13 * hour, 3460, scale="plant-scale", place="plant")
        .treated(sealed_at + 14 * hour, place="plant")
        .disposed(sealed_at + 20 * hour, place="plant")
    )
