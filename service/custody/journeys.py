"""A container's journeys: each departure in a consignment, with what ended it."""

from dataclasses import dataclass
from datetime import datetime

from service.custody.events import (
    Dispatched,
    DoubleBagged,
    Received,
    Refused,
    Registered,
    Weighed,
)
from service.custody.history import Happened, History


@dataclass(frozen=True, slots=True)
class Journey:
    """One container in one consignment.

    Attributes:
        departure: What was said when it left.
        sent_g: The last weight of it before it left, with the outer bags put on since.
        end: The receipt or refusal, or None while neither is recorded.
    """

    departure: Dispatched
    left: Happened
    sent_g: int | None
    end: Happened | None

    @property
    def left_at(self) -> datetime:
        """When it left."""
        return self.left.at

    @property
    def receipt(self) -> Received | None:
        """The receipt, if it was received."""
        found = self.end.event if self.end else None
        return found if isinstance(found, Received) else None

    @property
    def ended_by(self) -> str | None:
        """The party that received it or turned it away."""
        found = self.end.event if self.end else None
        return found.party if isinstance(found, (Received, Refused)) else None

    @property
    def received_g(self) -> int | None:
        """The weight found at the receipt, if the container itself was weighed."""
        if self.receipt is None or self.end is None or not self.end.direct:
            return None
        return self.receipt.weight_g or None


@dataclass(slots=True)
class _Gross:
    """The last weight of a container and the outer bags put on since."""

    weight_g: int | None = None
    tare_g: int = 0

    def take(self, h: Happened) -> None:
        match h.event:
            case DoubleBagged(tare_g=tare_g):
                self.tare_g += tare_g
            case (
                Registered(weight_g=weight_g)
                | Weighed(weight_g=weight_g)
                | Received(weight_g=weight_g)
            ) if weight_g and h.direct:
                self.weight_g, self.tare_g = weight_g, 0
            case _:
                pass

    @property
    def grams(self) -> int | None:
        return None if self.weight_g is None else self.weight_g + self.tare_g


def journeys(history: History) -> tuple[Journey, ...]:
    """Give the container's journeys in order; a departure ends at the next receipt or refusal."""
    found: list[Journey] = []
    gross = _Gross()
    for h in history.happened:
        if isinstance(h.event, Dispatched):
            found.append(Journey(h.event, h, gross.grams, None))
        elif isinstance(h.event, (Received, Refused)) and found and found[-1].end is None:
            last = found[-1]
            found[-1] = Journey(last.departure, last.left, last.sent_g, h)
        gross.take(h)
    return tuple(found)
