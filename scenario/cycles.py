"""Cycles of the autoclaves: traces as loggers write them, indicators, spore tests, faults."""

from hashlib import sha256
from random import Random

import numpy as np

from scenario.activity import DAY_S, HOUR_S
from scenario.bags import Bag
from scenario.stories import CYCLE_STORIES, CycleStory
from scenario.world import World
from scenario.writing import Hand

HOLD_C = 122.2
READ_EVERY_S = 60
COME_UP_MIN, COOL_MIN = 4, 5
SHOWN_S = 900
"""How long after a cycle its evidence is on record, and its load is let go."""
LATE_TEST_DAYS = 2
"""How much later than a week the planted late spore test is."""

_FAULT_EVERY = 102
"""Loads among which each planted fault of a cycle comes once."""
_BETWEEN_FAULTS = 17


def machine_for(world: World, party: str, from_s: int) -> tuple[str, int] | None:
    """Give the autoclave of a party that is free first, and from when; None where it has none."""
    own = [m.id for m in world.site.machine if m.party == party and m.kind == "gravity"]
    if not own:
        return None
    name = min(own, key=lambda m: (world.machine_s.get(m, 0), m))
    return name, max(from_s, world.machine_s.get(name, 0) + 300)


def run(world: World, load: list[Bag], party: str, hand: Hand, from_s: int, series: str) -> int:
    """Run loads through an autoclave with all its evidence; give when it was treated at last."""
    free = machine_for(world, party, from_s)
    if free is None:
        at_s = from_s + world.rng.randint(70, 110) * 60
        own = {"step": "autoclave", "party": party, "cycle": world.number(series)}
        world.pen.write("treated", at_s, hand, [bag.id for bag in load], **own)
        return at_s
    machine, start_s = free
    story = _planted(world, load, start_s)
    if story is not None and story.machine:
        machine = story.machine
    end_s = start_s + world.rng.randint(74, 90) * 60
    cycle = world.number(series)
    done_s = _written(world, load, (machine, party, cycle), hand, (start_s, end_s), story)
    if story is not None:
        _mark(world, load, story, end_s)
    if _untested(world, machine, start_s):
        _mark(world, load, CYCLE_STORIES["late-spore-test"], end_s)
    world.machine_s[machine] = max(end_s, world.machine_s.get(machine, 0))
    if story is not None and story.fails:
        return run(world, load, party, hand, done_s + 1_200, series)
    return end_s


def _written(
    world: World,
    load: list[Bag],
    which: tuple[str, str, str],
    hand: Hand,
    span_s: tuple[int, int],
    story: CycleStory | None,
) -> int:
    """Write the run, its load and its evidence; give when the trace was attached."""
    (machine, party, cycle), (start_s, end_s) = which, span_s
    fault = story.name if story else ""
    load_g = sum(bag.gross_g for bag in load)
    said = {"cycle": cycle, "step": "autoclave", "party": party}
    world.pen.write(
        "cycle_run", end_s, hand, [], **said, machine=machine, started_s=start_s,
        program="waste 121/60", load_g=load_g + 130_000 if fault == "overloaded" else load_g,
    )  # fmt: skip
    if fault == "typed-twice":
        other = said | {"cycle": world.number("MISTYPED")}
        world.pen.write(
            "cycle_run", end_s - 600, hand, [], **other, machine=machine, started_s=start_s + 600
        )
    world.pen.write("treated", end_s, hand, [bag.id for bag in load], **said)
    seen_s = end_s + world.rng.randint(60, 180)
    if fault != "no-indicator":
        lot = f"CI-{1 + end_s // (30 * DAY_S)}"
        world.pen.write("indicator_read", seen_s, hand, [], cycle=cycle, turned=True, lot=lot)
    content = trace(world.rng, (end_s - start_s) // 60, fault)
    digest = sha256(content).hexdigest()
    world.traces[digest] = content
    traced_s = seen_s + world.rng.randint(60, 400)
    world.pen.write(
        "trace_attached", traced_s, hand, [], cycle=cycle, sha256=digest, media_type="text/csv",
        size_bytes=len(content), columns=_HEADER.split(","),
    )  # fmt: skip
    return traced_s


_HEADER = "time_s,temperature_drain_c,temperature_load_c,pressure_kpa"


def trace(rng: Random, minutes: int, fault: str) -> bytes:
    """Make a logger's file of a cycle in saturated steam, as long as the cycle was."""
    held = 41 if fault == "short-hold" else minutes - COME_UP_MIN - COOL_MIN
    corners = [0, COME_UP_MIN, COME_UP_MIN + held, minutes]
    time_s = np.arange(0, 60 * minutes + 1, READ_EVERY_S)
    noise = np.random.default_rng(rng.getrandbits(32))
    drain = np.interp(time_s / 60, corners, [88, HOLD_C, HOLD_C, 78])
    drain = drain + noise.normal(0, 0.04, len(drain))
    load = drain - (2.6 if fault == "cold-spot" else 0.35) + noise.normal(0, 0.04, len(drain))
    kpa = np.maximum(101.3, _saturated_kpa(drain))
    rows = zip(time_s.tolist(), drain.tolist(), load.tolist(), kpa.tolist(), strict=True)
    lines = (f"{s},{d:.2f},{c:.2f},{p:.1f}" for s, d, c, p in rows)
    return ("\n".join([_HEADER, *lines]) + "\n").encode()


def _saturated_kpa(celsius: np.ndarray) -> np.ndarray:
    """Pressure of saturated steam by Antoine's equation for 99 to 374 °C (common constants)."""
    return 10 ** (8.14019 - 1810.94 / (244.485 + celsius)) * 0.133322


def _planted(world: World, load: list[Bag], start_s: int) -> CycleStory | None:
    """The fault that this load meets, if it is its turn; none in the last days of a quarter."""
    if any(bag.steps != ("autoclave", "shred") for bag in load):
        return None
    if start_s > world.last_s - 4 * DAY_S:
        return None
    world.loads += 1
    turn, rest = divmod(world.loads % _FAULT_EVERY, _BETWEEN_FAULTS)
    stories = [story for story in CYCLE_STORIES.values() if story.name != "late-spore-test"]
    return stories[turn] if rest == _BETWEEN_FAULTS - 1 and turn < len(stories) else None


def _mark(world: World, load: list[Bag], story: CycleStory, at_s: int) -> None:
    for bag in load:
        bag.codes = (*bag.codes, *story.wrong)
        world.cycle_faults.append((story.wrong[0], bag, at_s, story.sentence))


def _late_week(world: World) -> int:
    return max(1, world.last_s // DAY_S // 14)


def _late_machine(world: World) -> str:
    return next(m.id for m in world.site.machine if m.party == "plant-kiln")


def _untested(world: World, machine: str, start_s: int) -> bool:
    """Whether the cycle ran after the week of the last spore test and before the late one."""
    due_s = _late_week(world) * 7 * DAY_S + _TESTED_S
    late_s = due_s + LATE_TEST_DAYS * DAY_S
    return machine == _late_machine(world) and due_s < start_s < late_s


_TESTED_S = HOUR_S // 3


def weekly_spores(world: World) -> None:
    """Put a spore strip through every autoclave each week; once it is done late."""
    for machine in world.site.machine:
        if machine.kind != "gravity":
            continue
        hand = Hand("operator-9", f"{machine.id}-panel", machine.party)
        for week in range(world.last_s // (7 * DAY_S) + 1):
            at_s = week * 7 * DAY_S + _TESTED_S
            if machine.id == _late_machine(world) and week == _late_week(world):
                at_s += LATE_TEST_DAYS * DAY_S
            world.pen.write(
                "spore_tested", at_s, hand, [], machine=machine.id, grew=False,
                lot=f"BI-{1 + week // 4}", population=1_000_000, d_value_min="1.9",
            )  # fmt: skip
