"""The exact search for the fewest loads, for as many containers as it can be had in a moment."""

from collections.abc import Sequence
from datetime import datetime

from service.planning.windows import Window

NODES_MAX = 50_000
CONTAINERS_MAX = 200
"""How far the search goes before it gives up: some tenths of a second."""


def least_groups(row: Sequence[Window], most_g: int) -> list[list[Window]] | None:
    """Put windows into the fewest groups that one load each can serve.

    Any load can be moved to the earliest end among its containers' windows, which is a free
    instant. So the search is over groups: containers by the end of their window, each put into
    every group that has room and whose first end it reaches back to, or into a new one. A branch
    ends where even the least number of further groups, by weight, is no better than the best found.

    Args:
        row: Windows of containers, by their end, none heavier than ``most_g``.
        most_g: What a load can weigh.

    Returns:
        The groups, each by the end of its windows; None where the search would be too long.
    """
    search = _Search(row, most_g)
    if len(row) > CONTAINERS_MAX or not search.put(0):
        return None
    groups: dict[int, list[Window]] = {}
    for window, g in zip(row, search.best, strict=True):
        groups.setdefault(g, []).append(window)
    return list(groups.values())


class _Search:
    """The groups as they stand, and the best found."""

    def __init__(self, row: Sequence[Window], most_g: int) -> None:
        self.row, self.most_g = row, most_g
        self.weights_g = [w.container.weight_g if w.container else 0 for w in row]
        self.rest_g = [sum(self.weights_g[i:]) for i in range(len(row) + 1)]
        self.ends: list[datetime] = []
        self.rooms_g: list[int] = []
        self.chosen: list[int] = []
        self.best = list(range(len(row)))  # each on its own
        self.fewest = len(row)
        self.nodes = 0

    def put(self, i: int) -> bool:
        """Put window ``i`` and all after it in every way; False where it would be too long."""
        self.nodes += 1
        if self.nodes > NODES_MAX:
            return False
        more = max(0, -(-(self.rest_g[i] - sum(self.rooms_g)) // self.most_g))
        if len(self.ends) + more >= self.fewest:
            return True
        if i == len(self.row):
            self.best, self.fewest = self.chosen.copy(), len(self.ends)
            return True
        window, weight_g = self.row[i], self.weights_g[i]
        alike: set[tuple[datetime, int]] = set()
        for g, (end, room_g) in enumerate(zip(self.ends, self.rooms_g, strict=True)):
            if window.from_at > end or weight_g > room_g or (end, room_g) in alike:
                continue
            alike.add((end, room_g))
            self.rooms_g[g] -= weight_g
            if not self._next(i, g):
                return False
            self.rooms_g[g] += weight_g
        self.ends.append(window.until_at)
        self.rooms_g.append(self.most_g - weight_g)
        if not self._next(i, len(self.ends) - 1):
            return False
        self.ends.pop()
        self.rooms_g.pop()
        return True

    def _next(self, i: int, group: int) -> bool:
        self.chosen.append(group)
        done = self.put(i + 1)
        self.chosen.pop()
        return done
