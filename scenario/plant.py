"""The treatment plant's part: receipt by scanning, loads and feeding, final disposal."""

from collections.abc import Iterator
from itertools import groupby

from scenario import cycles
from scenario.activity import DAY_S, HOUR_S
from scenario.bags import OUTER_BAG_G, Bag
from scenario.world import Cart, World
from scenario.writing import Hand

LOAD = 16
"""Containers in one load of an autoclave, a disinfection bath or a shredder."""

_FED = frozenset({"incinerate", "incinerate_1200"})
_MECHANICAL = frozenset({"shred", "resource_recovery"})
_OFFICER = Hand("waste-officer", "office-desk")
_DISPOSED_TOGETHER = 40


def arrive(
    world: World, carts: list[Cart], at_s: int, papers: tuple[str, str | None, bool]
) -> None:
    """Scan and weigh a consignment in, complete its receipt, empty the carts and treat it all.

    Args:
        papers: Consignment, seal found on arrival (None: none), and whether it is broken.
    """
    consignment, seal, broken = papers
    plant = carts[0].bags[0].plant if carts[0].bags else "plant-kiln"
    clerk = Hand("clerk-1", f"reception-{plant}", plant)
    own = {"party": plant, "consignment": consignment}
    seen: dict[str, object] = {**own, "seal": seal, "seal_intact": not broken if seal else None}
    t, arrived = at_s, []
    for cart in carts:
        for bag in cart.bags:
            if bag.missing:
                continue
            t += world.rng.randint(10, 16)
            if bag.story == "refused":
                reason = "outer bag torn"
                world.pen.scan(bag, "refused", t, clerk, reason=reason, **own)
                bag.received_s = t
                continue
            _receive(world, bag, t, clerk, seen)
            arrived.append(bag)
    t += 60
    world.pen.write("received", t, clerk, [], **own, complete=True)
    for cart in carts:
        t += 15
        world.pen.write("unpacked", t, clerk, [], parent=cart.id)
        world.give_back(cart, t + 20 * HOUR_S)
    treat(world, arrived, plant, t + 600)
    _stragglers(world, carts, t, clerk, own)


def _receive(world: World, bag: Bag, at_s: int, clerk: Hand, seen: dict[str, object]) -> None:
    scale = f"{bag.plant.removeprefix('plant-')}-scale"
    bag.weight_g -= bag.short_g
    read_g = world.reading_g(bag.gross_g, scale)
    world.pen.scan(bag, "received", at_s, clerk, weight_g=read_g, scale=scale, **seen)
    if bag.received_s is None:
        bag.received_s = at_s


def _stragglers(
    world: World, carts: list[Cart], at_s: int, clerk: Hand, own: dict[str, str]
) -> None:
    """Take in what was refused or missing at first."""
    for bag in (b for cart in carts for b in cart.bags):
        if bag.story == "refused":
            again_s = at_s + world.rng.randint(20, 60) * 60
            world.pen.scan(bag, "double_bagged", again_s, clerk, tare_g=OUTER_BAG_G)
            bag.tare_g += OUTER_BAG_G
        elif bag.missing == "found":
            again_s = at_s + world.rng.randint(3, 9) * HOUR_S
            world.pen.scan(bag, "found", again_s, clerk)
        else:
            continue
        _receive(world, bag, again_s + 120, clerk, dict(own))
        treat(world, [bag], bag.plant, again_s + 900)


def treat(world: World, bags: list[Bag], plant: str, start_s: int) -> None:
    """Take containers through their steps: in loads, or fed to the incinerator one by one."""
    by_steps: dict[tuple[str, ...], list[Bag]] = {}
    for bag in bags:
        by_steps.setdefault(bag.steps, []).append(bag)
    for steps, group in by_steps.items():
        for first in range(0, len(group), LOAD):
            load = group[first : first + LOAD]
            at_s = start_s + first // LOAD * 1_500
            for step in steps:
                at_s = _step(world, load, step, plant, at_s)


def _step(world: World, load: list[Bag], step: str, plant: str, from_s: int) -> int:
    operator = Hand(f"operator-{world.rng.randint(1, 8)}", f"{step}-panel-{plant}", plant)
    own = {"step": step, "party": plant}
    if step in _FED:
        for bag, at_s in _feeding(world, load, plant, from_s):
            cycle = f"BURN-{plant}-{at_s // DAY_S:03d}"
            world.pen.scan(bag, "treated", at_s, operator, **own, cycle=cycle)
            _done(world, bag, step, at_s)
        return from_s
    if step == "autoclave":
        at_s = cycles.run(world, load, plant, operator, from_s, "LOAD")
    else:
        at_s = from_s + world.rng.randint(70, 110) * 60
        ids = [bag.id for bag in load]
        world.pen.write("treated", at_s, operator, ids, **own, cycle=world.number("LOAD"))
    for bag in load:
        _done(world, bag, step, at_s)
    return at_s + cycles.SHOWN_S if step == "autoclave" else at_s


def _feeding(world: World, load: list[Bag], plant: str, from_s: int) -> Iterator[tuple[Bag, int]]:
    """Give each container with the time the incinerator takes it, after any standstill."""
    turn_s = max(from_s, world.feed_s.get(plant, 0))
    while turn_s // DAY_S in world.overhauls:
        turn_s = (turn_s // DAY_S + 1) * DAY_S + 9 * HOUR_S
    for bag in load:
        turn_s += world.rng.randint(50, 100)
        yield bag, max(turn_s, bag.sealed_s + bag.treated_age_s)
    world.feed_s[plant] = turn_s


def _done(world: World, bag: Bag, step: str, at_s: int) -> None:
    if bag.treated_s is None and step not in _MECHANICAL:
        bag.treated_s = at_s
        if bag.notified:
            world.pen.scan(
                bag,
                "notified",
                at_s - HOUR_S,
                _OFFICER,
                authority=world.site.authority,
                about="holding",
                reason="overlooked at the plant; kept closed and cool meanwhile",
            )
    bag.done_s = at_s


def dispose(world: World) -> None:
    """Write the final disposals: what was done one day goes out together the next morning."""
    finished = [bag for bag in world.bags if bag.done_s is not None and bag.done_s < world.last_s]

    def together(bag: Bag) -> tuple[int, str, str, str]:
        return (bag.done_s or 0) // DAY_S, bag.disposer or bag.plant, bag.outlet, bag.plant

    finished.sort(key=lambda bag: (*together(bag), bag.done_s or 0, bag.id))
    for (day, party, outlet, place), group in groupby(finished, key=together):
        bags = list(group)
        clerk = Hand("clerk-4", f"despatch-{place}", place)
        for first in range(0, len(bags), _DISPOSED_TOGETHER):
            world.pen.write(
                "disposed",
                (day + 1) * DAY_S + 9 * HOUR_S + first * 10,
                clerk,
                [bag.id for bag in bags[first : first + _DISPOSED_TOGETHER]],
                outlet=outlet,
                party=party,
                receipt=world.number("OUT"),
            )
