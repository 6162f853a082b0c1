"""What if a vehicle breaks down, a holiday comes, the plant closes: plan kept, or made anew."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.planning.free_time import Blocked
from service.planning.outcome import Break, breaks
from service.planning.stock import Situation
from service.planning.timetable import Timetable, timetable


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Two ways to meet what comes.

    Attributes:
        usual: The timetable made without knowing of it.
        unchanged: What breaks if that is kept to: a pick-up that cannot be waits until it can.
        anew: The timetable made knowing of it.
        left: What breaks all the same.
    """

    usual: Timetable
    unchanged: tuple[Break, ...]
    anew: Timetable
    left: tuple[Break, ...]

    @property
    def avoided(self) -> int:
        """How many breaks planning anew avoids."""
        return len(self.unchanged) - len(self.left)

    @property
    def further_loads(self) -> int:
        """How many loads more that takes."""
        return len(self.anew.loads) - len(self.usual.loads)


def what_if(situation: Situation, blocked: Sequence[Blocked]) -> WhatIf:
    """Plan as usual, let ``blocked`` come, and plan again knowing of it."""
    usual = timetable(situation)
    changed = replace(situation, blocked=(*situation.blocked, *blocked))
    anew = timetable(changed)
    return WhatIf(usual, breaks(changed, usual.loads), anew, breaks(changed, anew.loads))
