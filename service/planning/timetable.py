"""The smallest pick-up timetable that keeps every holding limit and overfills no store.

**Where a vehicle takes all that waits**, the fewest pick-ups are those of the greedy rule: go
through the windows by their end; where no pick-up lies in one, put one at its end. Proof. Each
pick-up so put belongs to a window that begins after the pick-up before it, and ends at its own:
these windows have no instant in common, so any timetable needs a pick-up for each of them, and the
rule makes no more. (The stabbing of intervals; Gavril, SIAM Journal on Computing 1, 1972, from
memory.) That the ends are free instants, and that a full store can be told by windows, is in
``windows``.

**Where a vehicle takes at most ``load_g``**, it is bin packing with windows, which is NP-hard. See
``loads``. Several loads may leave at one instant: several vehicles, or one that goes again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from service.planning.loads import Load, fewest, load_by_load, stabbed, take_all
from service.planning.outcome import breaks
from service.planning.stock import Situation, Waiting
from service.planning.windows import Window, windows


@dataclass(frozen=True, slots=True)
class Timetable:
    """Loads in the order of time.

    Attributes:
        at_least: No timetable has fewer loads than this.
        missed: Windows that no pick-up could keep; each is fetched at the first instant after.
        too_heavy: Containers heavier than a load; they are in none.
    """

    loads: tuple[Load, ...]
    at_least: int
    missed: tuple[Window, ...]
    too_heavy: tuple[Waiting, ...]

    @property
    def pick_ups(self) -> tuple[datetime, ...]:
        """The instants at which loads leave, each once."""
        return tuple(dict.fromkeys(load.at for load in self.loads))

    @property
    def proved_least(self) -> bool:
        """Whether no timetable has fewer loads."""
        return len(self.loads) == self.at_least

    @property
    def at_most_times(self) -> Fraction:
        """How many times the least number of loads this is at most: 1 is proved least."""
        return Fraction(len(self.loads), self.at_least) if self.at_least else Fraction(1)


def timetable(situation: Situation) -> Timetable:
    """Make the timetable with the fewest loads that is found.

    Without ``load_g`` it is the least. With it, it is the least where ``proved_least`` says so; and
    where no store has a capacity, at most three times the least (``loads.take_all``). Where a
    store has one, that it is never over-full goes before fewness, and ``at_most_times`` tells.
    """
    most_g = situation.load_g
    heavy = tuple(w for w in situation.waiting if most_g is not None and w.weight_g > most_g)
    light = [w for w in situation.waiting if w not in heavy] if heavy else situation.waiting
    found = [w for w in windows(situation) if w.container not in heavy]
    missed = tuple(w for w in found if w.missed)
    row = [w for w in found if w.until_at <= situation.until_at]
    stops = stabbed(row)
    if most_g is None:
        loads = take_all(stops, light, row, None, everything=True)
        return Timetable(loads, len(stops), missed, heavy)
    filled = any(s.capacity_g is not None for s in situation.stores)
    choices = [take_all(stops, light, row, most_g, everything=filled)]
    thrifty = [load_by_load(light, row, most_g)]
    least = fewest(row, light, most_g)
    if least is not None:
        thrifty.append(least)
    sound = _breaks_of(situation, choices[0])
    choices += [c for c in thrifty if not filled or _breaks_of(situation, c) <= sound]
    best = min(choices, key=len)
    floor = max(len(stops), _by_weight(row, most_g), len(least) if least is not None else 0)
    return Timetable(best, floor, missed, heavy)


def _breaks_of(situation: Situation, loads: Sequence[Load]) -> int:
    return len(breaks(situation, loads))


def _by_weight(row: Sequence[Window], most_g: int) -> int:
    return -(-sum(w.container.weight_g for w in row if w.container) // most_g)
