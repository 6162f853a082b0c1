"""The waste yard's part of a day: stores, weighing, audits, on-site treatment, consignments."""

from scenario import cycles
from scenario.activity import DAY_S, HOUR_S
from scenario.bags import CHILLED, Bag
from scenario.plant import arrive
from scenario.stories import RUNS
from scenario.wards import CART_FULL
from scenario.world import Cart, World
from scenario.writing import Hand

_STORE = Hand("handler-1", "store-terminal", "ambient-store")
_CHILLED = Hand("handler-2", "store-terminal", "chilled-store")
_TREATING = Hand("handler-5", "yard-terminal", "handlers")
_AUDITOR = Hand("auditor-3", "audit-tablet", "ambient-store")
_READY_BEFORE_S = 900
"""What is to leave is ready so long before."""


def take_in(world: World, carts: list[Cart], carried: list[Bag], back_s: int) -> None:
    """Put what a round brought in the stores, weigh it, and treat on site what must be."""
    t = back_s
    for cart in carts:
        t += 20
        world.pen.write("stored", t, _STORE, [cart.id], store="ambient-store")
    for bag in carried:
        t += world.rng.randint(6, 10)
        _put_away(world, bag, t)
    weighed = [(bag, _STORE) for cart in carts for bag in cart.bags]
    weighed += [(b, _CHILLED if b.category in CHILLED else _STORE) for b in carried]
    for bag, hand in weighed:
        t += world.rng.randint(9, 14)
        _weigh(world, bag, t, hand)
    for cart in carts:
        _count(world, cart, t + 600)
        cart.ready_s = t
    world.in_store.extend(carts)
    _treat_on_site(world, carried, t + 900)


def _put_away(world: World, bag: Bag, at_s: int) -> None:
    if bag.category in CHILLED:
        measured = bag.warm_c or str(world.rng.randint(30, 62) / 10)
        world.pen.scan(bag, "stored", at_s, _CHILLED, store="chilled-store", temperature_c=measured)
    else:
        world.pen.scan(bag, "stored", at_s, _STORE, store="ambient-store")


def _weigh(world: World, bag: Bag, at_s: int, hand: Hand) -> None:
    pen, rng = world.pen, world.rng
    bag.weight_g += bag.added_g
    read_g = world.reading_g(bag.gross_g, "store-scale")
    pen.scan(bag, "weighed", at_s, hand, weight_g=read_g, scale="store-scale")
    bag.ready_s = at_s
    if bag.story == "voided":
        other = pen.scan(
            bag, "weighed", at_s + 60, hand, weight_g=read_g + 2_000, scale="store-scale"
        )
        pen.amend(other, at_s + 300, hand, None)
    if bag.wrong_items or rng.random() < 0.02:
        seen = rng.randint(12, 60)
        pen.scan(
            bag,
            "inspected",
            at_s + 5,
            _AUDITOR._replace(place=hand.place),
            wrong_items=list(bag.wrong_items),
            items_seen=seen,
            items_wrong=len(bag.wrong_items),
        )


def _count(world: World, cart: Cart, at_s: int) -> None:
    """Count the cart; what is not there is found the next day."""
    for bag in [b for b in cart.bags if b.story == "lost-in-store"]:
        cart.bags.remove(bag)
        world.pen.scan(bag, "lost", at_s, _STORE, last_seen="ambient-store")
        bag.ready_s = at_s + world.rng.randint(14, 20) * HOUR_S
        world.pen.scan(bag, "found", bag.ready_s, _STORE)
        world.loose.append(bag)


def _treat_on_site(world: World, carried: list[Bag], at_s: int) -> None:
    for steps in {bag.on_site: None for bag in carried}:
        load = [bag for bag in carried if bag.on_site == steps]
        t = at_s
        for step in steps:
            if step == "autoclave":
                t = cycles.run(world, load, "handlers", _TREATING, t, "YARD")
            else:
                t += 70 * 60
                world.pen.write(
                    "treated",
                    t,
                    _TREATING,
                    [bag.id for bag in load],
                    step=step,
                    party="handlers",
                    cycle=world.number("YARD"),
                )
            for bag in load:
                if bag.treated_s is None and step != "resource_recovery":
                    bag.treated_s = t
        for bag in load:
            bag.ready_s = t
            bag.plant = "handlers"
            if bag.category == "yellow-f":
                bag.done_s = t
            else:
                world.loose.append(bag)


def consign(world: World, leave_s: int) -> None:
    """Send off what is ready: the usual consignment, and each run of its own a little later."""
    ready_s = leave_s - _READY_BEFORE_S
    loose = [bag for bag in world.loose if bag.ready_s < ready_s]
    world.loose = [bag for bag in world.loose if bag.ready_s >= ready_s]
    leaving = [cart for cart in world.in_store if cart.ready_s < ready_s]
    world.in_store = [cart for cart in world.in_store if cart.ready_s >= ready_s]
    leaving += _pack(world, loose, ready_s)
    for number, run in enumerate(sorted({cart.run for cart in leaving})):
        carts = [cart for cart in leaving if cart.run == run]
        _dispatch(world, carts, run, leave_s + number * 600)


def _pack(world: World, loose: list[Bag], at_s: int) -> list[Cart]:
    carts: list[Cart] = []
    for number, bag in enumerate(loose):
        if number % CART_FULL == 0:
            carts.append(world.take_cart(at_s))
        hand = _CHILLED if bag.category in CHILLED else _STORE
        world.pen.scan(bag, "packed", at_s + number * 4, hand, parent=carts[-1].id)
        carts[-1].bags.append(bag)
    return carts


def _dispatch(world: World, carts: list[Cart], run: str, leave_s: int) -> None:
    how = RUNS.get(run)
    consignment = world.number("RUN")
    seal = world.number("SEAL") if how is None or how.sealed else None
    carrier = how.carrier if how else "carrier-quillow"
    plant = how.plant if how else "plant-kiln"
    driver = Hand(f"driver-{world.rng.randint(1, 6)}", f"van-phone-{carrier}", "ambient-store")
    world.pen.write(
        "dispatched",
        leave_s,
        driver,
        [cart.id for cart in carts],
        consignment=consignment,
        carrier=carrier,
        consignee=plant,
        vehicle=f"VAN-{world.rng.randint(1, 5)}",
        seal=seal,
        closed=how.closed if how else True,
        condition="ambient",
    )
    for cart in carts:
        for bag in cart.bags:
            bag.dispatched_s, bag.plant = leave_s, plant
    on_road_s = world.rng.randint(66, 84) * 60
    if how and how.extra_hours:
        on_road_s += how.extra_hours * HOUR_S + world.rng.randrange(DAY_S // 12)
    if how and how.other_seal:
        seal = world.number("SEAL-X")
    arrive(world, carts, leave_s + on_road_s, (consignment, seal, bool(how and how.broken_seal)))
