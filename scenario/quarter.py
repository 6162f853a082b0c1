"""Runs a quarter of the invented hospital from a seed: the stream of events and its truth."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from heapq import merge
from itertools import groupby
from random import Random

from scenario.activity import DAY_S, HOUR_S, SUNDAY, containers_on
from scenario.activity import seal as seal_day
from scenario.bags import Bag
from scenario.counted import Changes, counts
from scenario.cycles import weekly_spores
from scenario.hospital import load_site
from scenario.needles import needle_counts
from scenario.plant import dispose
from scenario.planting import Planting
from scenario.posting import Batch, post
from scenario.stories import STORIES, Fault
from scenario.truth import FiguresTruth, expected, expected_figures
from scenario.wards import Rolls, round_trip, seal
from scenario.world import World
from scenario.writing import Pen
from scenario.yard import consign, take_in
from service.custody.site import Site

FULL_DAY = 196
"""Containers on a mean day of the hospital at full size."""

FIRST_YEAR = 2020
"""From this year on one of the carriers has no valid authorisation."""

_ROUNDS = ((6.5, 11.0, False), (14.0, 18.25, True))
"""Hour of each round, hour its consignment leaves, and whether it leaves on Sundays."""

_OVERHAULS = 3
_ARRIVING_S = 300
"""What happens in the last minutes of the quarter reaches the service in the next one."""


@dataclass(frozen=True, slots=True)
class Day:
    """One local day of the stream; ``now`` is when its last batch reaches the service."""

    now: datetime
    batches: tuple[Batch, ...]


@dataclass(frozen=True, slots=True)
class Quarter:
    """A simulated quarter.

    Attributes:
        start, end: The quarter by the hospital's own calendar, UTC; ``end`` is the first instant
            of the next one, and the ``now`` for which ``truth`` holds.
        batches: The whole stream in order of arrival.
        containers: Waste containers sealed; carts are not among them.
        planned: The planted faults.
        truth: (container, code) of everything that must be found, sorted, repeats included.
        figures: What the charts and the comparison of drops must show.
        traces: The loggers' files of its cycles by their SHA-256.
    """

    site: Site
    start: datetime
    end: datetime
    batches: tuple[Batch, ...]
    containers: tuple[str, ...]
    planned: tuple[Fault, ...]
    truth: tuple[tuple[str, str], ...]
    figures: FiguresTruth
    traces: dict[str, bytes]

    @property
    def events(self) -> int:
        """Events in the stream; those sent again are counted once."""
        return len({event["id"] for batch in self.batches for event in batch.events})

    def days(self) -> Iterator[Day]:
        """Give the stream day by day."""
        for _, group in groupby(self.batches, key=lambda b: self.site.local_day(b.recorded_at)):
            batches = tuple(group)
            yield Day(batches[-1].recorded_at, batches)


def simulate(
    seed: int, year: int = 2026, quarter: int = 3, containers_per_day: int = FULL_DAY
) -> Quarter:
    """Simulate a quarter; the same arguments give the same quarter for ever.

    Raises:
        ValueError: the year, the quarter or the number of containers is out of range.
    """
    if year < FIRST_YEAR or quarter not in (1, 2, 3, 4) or containers_per_day < 1:
        raise ValueError(f"needs a year from {FIRST_YEAR}, a quarter 1 to 4 and containers")
    site = load_site()
    start, end = _bounds(site, year, quarter)
    now_s = round((end - start).total_seconds())
    world = _run(Random(seed), site, start, now_s, containers_per_day)
    told = counts(Random(f"{seed}: counts"), start, site.local_day(start), now_s // DAY_S)
    days = now_s // DAY_S
    needles = needle_counts(Random(f"{seed}: needles"), start, site.local_day(start), days)
    sent = post(world.rng, world.pen.lines, start, now_s - 1)
    batches = merge(sent, told, needles, key=lambda batch: batch.recorded_at)
    bags = [bag for bag in world.bags if bag.sealed_s <= world.last_s]
    return Quarter(
        site=site,
        start=start,
        end=end,
        batches=tuple(batches),
        containers=tuple(bag.id for bag in bags),
        planned=(*_faults(bags, start), *_faults_of_cycles(world, start)),
        truth=expected(bags, world.last_s, now_s),
        figures=expected_figures(site.local_day(start), now_s // DAY_S),
        traces=world.traces,
    )


def _bounds(site: Site, year: int, quarter: int) -> tuple[datetime, datetime]:
    first = datetime(year, 3 * quarter - 2, 1, tzinfo=site.zone)
    after = (first + timedelta(days=100)).replace(day=1)
    return first.astimezone(UTC), after.astimezone(UTC)


def _run(rng: Random, site: Site, start: datetime, now_s: int, per_day: int) -> World:
    """Live through the days."""
    days = now_s // DAY_S
    first_day = site.local_day(start)
    overhauls = frozenset(rng.sample(range(5, days - 5), _OVERHAULS))
    last_s = now_s - _ARRIVING_S
    world = World(rng, Pen(rng, start, last_s), site, last_s, overhauls)
    planting = Planting(rng, days, per_day * days / (FULL_DAY * 92))
    rolls = Rolls()
    changes = Changes.of(first_day, days)
    apart = Random(f"{rng.random()}: changes")
    for day in range(days):
        weekday = (first_day + timedelta(days=day)).weekday()
        bags = seal_day(rng, day, weekday, containers_on(rng, per_day, weekday))
        bags = changes.change(apart, first_day + timedelta(days=day), bags)
        planting.plant(day, bags)
        for bag in bags:
            bag.id = rolls.next_id(world, bag.unit, bag.sealed_s)
            seal(world, bag)
            world.on_wards.setdefault(bag.unit, []).append(bag)
        world.bags.extend(bags)
        _transport(world, day, weekday)
    dispose(world)
    weekly_spores(world)
    return world


def _transport(world: World, day: int, weekday: int) -> None:
    """Two rounds and two consignments a day; on Sundays one consignment, in the evening."""
    for round_h, leave_h, sundays in _ROUNDS:
        start_s = day * DAY_S + round(round_h * HOUR_S) + world.rng.randint(0, 600)
        take_in(world, *round_trip(world, start_s))
        if weekday != SUNDAY or sundays:
            consign(world, day * DAY_S + round(leave_h * HOUR_S) + world.rng.randint(0, 900))


def _faults(bags: list[Bag], start: datetime) -> Iterator[Fault]:
    """Give every planted fault, in order of sealing."""
    codes = {story.name: (story.code, story.sentence) for story in STORIES if story.code}
    for bag in bags:
        if bag.story in codes:
            code, sentence = codes[bag.story]
            yield Fault(code, bag.id, start + timedelta(seconds=bag.sealed_s), sentence)


def _faults_of_cycles(world: World, start: datetime) -> Iterator[Fault]:
    """Give the faults of cycles for what has no story of its own, once each."""
    told: set[str] = set()
    of_their_own = {story.name for story in STORIES if story.code}
    for code, bag, at_s, sentence in world.cycle_faults:
        if bag.story not in of_their_own and bag.id not in told and at_s <= world.last_s:
            told.add(bag.id)
            yield Fault(code, bag.id, start + timedelta(seconds=at_s), sentence)
