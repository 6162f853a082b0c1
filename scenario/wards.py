"""The wards' part of a day: labels, sealing, outer bags, and what the two rounds pick up."""

from scenario.activity import HOUR_S
from scenario.bags import CHILLED, OUTER_BAG_G, Bag
from scenario.world import OFFICE, Cart, World
from scenario.writing import Hand

ROLL, STOCK = 50, "roll-100x50-203"
"""Labels on a roll, and their stock."""

CART_FULL = 15
_OFFICER = Hand("waste-officer", "office-desk")
_GATE = Hand("clerk-2", "gate-scanner", "plant-kiln")


class Rolls:
    """Printed labels that hang on the wards."""

    def __init__(self) -> None:
        self._left: dict[str, list[str]] = {}

    def next_id(self, world: World, unit: str, at_s: int) -> str:
        """Take the next label of the unit's roll; a new roll was printed three hours before."""
        roll = self._left.setdefault(unit, [])
        if not roll:
            ids = [world.new_id() for _ in range(ROLL)]
            printed_s = max(60, at_s - 3 * HOUR_S)
            world.pen.write("labelled", printed_s, OFFICE, ids, count=ROLL, layout=STOCK)
            roll.extend(reversed(ids))
        return roll.pop()


def seal(world: World, bag: Bag) -> None:
    """Register a container at its source and put it in its outer bag."""
    rng, pen = world.rng, world.pen
    nurse = Hand(f"nurse-{rng.randint(10, 99)}", f"ward-phone-{bag.unit}", bag.unit)
    if bag.outer == "before":
        _outer_bag(world, bag, bag.sealed_s - 45, nurse)
    scale = f"ward-scale-{world.site.units[bag.unit].location[-1]}"
    right_g = world.reading_g(bag.gross_g, scale)
    typed_g = right_g + rng.randint(3, 7) * 1_000 if bag.story == "typing-error" else right_g
    event = pen.scan(
        bag,
        "registered",
        bag.sealed_s,
        nurse,
        category=bag.category,
        unit=bag.unit,
        container_kind=bag.kind,
        weight_g=typed_g,
        scale=scale,
        fill_fraction=str(bag.fill_percent / 100),
        closed=bag.closed,
        hub_cut=bag.hub_cut,
    )
    bag.ready_s = bag.sealed_s + 180
    if bag.outer == "after":
        _outer_bag(world, bag, bag.sealed_s + rng.randint(15, 90), nurse)
    if typed_g != right_g:
        bag.ready_s = bag.sealed_s + rng.randint(300, 1_200)
        pen.amend(event, bag.ready_s, nurse, event | {"weight_g": right_g})
    _incidents(world, bag, nurse)


def _outer_bag(world: World, bag: Bag, at_s: int, hand: Hand) -> None:
    world.pen.scan(bag, "double_bagged", at_s, hand, tare_g=OUTER_BAG_G)
    bag.tare_g += OUTER_BAG_G


def _incidents(world: World, bag: Bag, nurse: Hand) -> None:
    rng, pen = world.rng, world.pen
    if bag.story == "copied-label":
        seen_s = bag.sealed_s + rng.randint(4, 20) * 60
        pen.scan(bag, "inspected", seen_s, _GATE, note="a container with this label at the gate")
        bag.ready_s = seen_s + 80 * 60
    elif bag.story == "spilt":
        pen.scan(
            bag,
            "spilled",
            bag.sealed_s + 150,
            nurse,
            people_exposed=rng.randint(0, 1),
            action_taken="area closed, absorbed, disinfected; the exposed went to the duty clinic",
        )
        pen.scan(
            bag,
            "notified",
            bag.sealed_s + 2 * HOUR_S,
            _OFFICER,
            authority=world.site.authority,
            about="spill",
            reason="a container was dropped and burst",
        )


def round_trip(world: World, start_s: int) -> tuple[list[Cart], list[Bag], int]:
    """Visit every unit; give the carts, what was carried by hand, and when the round is back."""
    t = start_s
    open_carts: dict[str, Cart] = {}
    full: list[Cart] = []
    carried: list[Bag] = []
    units = list(world.site.units)
    for number, unit in enumerate(units):
        t += world.rng.randint(100, 220)
        waiting = world.on_wards.get(unit, [])
        due = [bag for bag in waiting if bag.ready_s < t]
        world.on_wards[unit] = [bag for bag in waiting if bag.ready_s >= t]
        handler = Hand(f"handler-{number % 4 + 1}", f"round-scanner-{number % 4 + 1}", unit)
        for bag in due:
            t += world.rng.randint(8, 16)
            if bag.collected:
                from_party = units[number - 1] if bag.from_party else unit
                world.pen.scan(
                    bag,
                    "collected",
                    t,
                    handler,
                    from_party=from_party,
                    to_party="handlers",
                    protective_gear=True,
                )
            if bag.category in CHILLED or bag.category == "yellow-f":
                carried.append(bag)
                continue
            cart = open_carts.get(bag.run)
            if cart is None or len(cart.bags) == CART_FULL:
                cart = open_carts[bag.run] = world.take_cart(t, bag.run)
                full.append(cart)
            world.pen.scan(bag, "packed", t + 4, handler, parent=cart.id)
            cart.bags.append(bag)
    return full, carried, t + 360
