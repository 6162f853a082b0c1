"""Spreads the planted faults over the quarter and chooses the containers that meet them."""

from dataclasses import dataclass, field
from random import Random

from scenario.bags import Bag
from scenario.stories import STORIES, Story

_QUIET_DAYS = 8
"""Days at the quarter's end without new faults, so that each runs its course."""


@dataclass(slots=True)
class Planting:
    """Spreads the stories over the days and plants them in containers that suit."""

    rng: Random
    days: int
    share: float
    """Size of the quarter against the full one."""
    _due: dict[int, list[Story]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        last = max(1, self.days - _QUIET_DAYS)
        for story in STORIES:
            for _ in range(max(1, round(story.per_quarter * self.share / story.together))):
                self._due.setdefault(self.rng.randint(1, last), []).append(story)

    def plant(self, day: int, bags: list[Bag]) -> None:
        """Plant the day's faults; one that suits no container waits for the next day."""
        waiting: list[Story] = []
        for story in self._due.pop(day, []):
            fitting = [bag for bag in bags if not bag.story and story.suits(bag)]
            if len(fitting) < story.together:
                waiting.append(story)
                continue
            for bag in self.rng.sample(fitting, story.together):
                bag.story, bag.codes = story.name, story.wrong
                story.plan(bag, self.rng)
        if waiting and day + 1 < self.days - _QUIET_DAYS + 2:
            self._due.setdefault(day + 1, []).extend(waiting)
