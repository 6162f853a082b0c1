"""What is due among many open containers: the list, and a minute's look, as an index gives them.

The rows are laid directly, as a projection would: 100,000 histories would only show the same.
"""

from datetime import UTC, datetime, timedelta
from random import Random

from sqlalchemy import select
from sqlalchemy.dialects import sqlite

from scenario.hospital import load_site
from service.access.caller import Caller
from service.custody.history import fold
from service.custody.rules import Rules
from service.custody.standing import stand_case
from service.custody.verdict import Case
from service.custody.violations import judge_case
from service.custody.words import Role
from service.duties import lookup
from service.regimes.load import assemble
from service.store.projections import container_row
from service.store.queries import ContainerFilter
from service.store.rows import insert_rows
from service.store.store import Store
from service.store.tables import CONTAINER
from tests.benchmarks.frame import Curve, Rounds, Row, Size, Told, at_least, at_most, cpu_s, seconds
from tests.benchmarks.serving import room
from tests.house import hospital
from tests.trade import CART, Story, at, bag

OPEN = {"tiny": (100, 200), "quick": (1_000, 10_000), "full": (1_000, 10_000, 100_000)}
REPEATS = {"tiny": 2, "quick": 50, "full": 100}
NOW, T0, HOUR = at("2026-07-08 10:00"), at("2026-07-06 10:00"), timedelta(hours=1)
PAGE, AHEAD = 100, timedelta(hours=6)
RULES = Rules(assemble("india-2016"), hospital(regime="india-2016", time_zone="Asia/Kolkata"))


def on_the_road() -> Story:
    """A bag of five events that is still untreated."""
    return (
        bag("yellow-c")
        .sealed(T0, weight_g=3_420, scale="ward-scale", fill_fraction="0.7", place="ward-3")
        .double_bagged(T0 + HOUR, tare_g=40, place="ward-3")
        .packed(T0 + 2 * HOUR, place="ward-3")
        .collected(T0 + 3 * HOUR, CART, place="ward-3")
        .dispatched(T0 + 10 * HOUR, CART, place="yard-store")
    )


def recompute(story: Story) -> None:
    """What the store does for each container that an event touches."""
    case = Case(fold(story.container, story.entries), RULES)
    judge_case(case)
    stand_case(case)


def measure(size: Size, rounds: int) -> Told:
    """Compare at the largest; show how each grows."""
    lines = []
    for open_ in OPEN[size]:
        found = _at(open_, size, rounds)
        lines.append([f"{open_:,}", *(seconds(found[n]) for n in ("list", "bare", "tick", "all"))])
    yield Row(f"list of the first {PAGE} due within 6 h, {open_:,} open containers",
              seconds(found["list"]), f"the same SQL by the bare driver {seconds(found['bare'])}",
              found.ratios("list", "bare"), at_most(3))  # fmt: skip
    yield Row(f"what came due in the last minute, {open_:,} open containers",
              seconds(found["tick"]),
              f"judging all of them anew, from 300: {seconds(found['all'])}",
              found.ratios("all", "tick"), at_least(1_000))  # fmt: skip
    heads = ("open containers", "list", "bare SQL", "last minute", "judging all")
    yield Curve("what is due, among more and more open containers (processor time)", heads, lines)


def _at(open_: int, size: Size, rounds: int) -> Rounds:
    with room() as folder:
        store, site = Store(f"sqlite:///{folder / 'due.db'}"), load_site()
        store.set_up(site, T0, b"k" * 32)
        with store.database.writing(site.id) as connection:
            insert_rows(connection, CONTAINER, rows(site.id, open_))
        try:
            return _compared(store, Caller(site.id, "bench", Role.OFFICER), open_, size, rounds)
        finally:
            store.close()


def rows(facility: str, count: int) -> list[dict[str, object]]:
    """Open containers whose limits lie within four days, two in five of them past."""
    random, story = Random(7), on_the_road()
    like = container_row(facility, stand_case(Case(story.history(), RULES)))
    spread_s = 4 * 86_400
    return [
        like
        | {
            "container": f"BENCH{n:07}",
            "due_at": NOW + timedelta(seconds=random.randrange(spread_s) - spread_s * 2 // 5),
        }
        for n in range(count)
    ]


def _compared(store: Store, caller: Caller, open_: int, size: Size, rounds: int) -> Rounds:
    repeats, story = REPEATS[size], on_the_road()
    soon = ContainerFilter(due_before=NOW + AHEAD, limit=PAGE)
    minute = ContainerFilter(
        due_before=NOW, after_due=NOW - timedelta(minutes=1), after="", limit=10_000
    )
    c = CONTAINER.c
    asked = (
        select(CONTAINER)
        .where(c.facility == caller.facility, c.due_at.is_not(None), c.due_at <= NOW + AHEAD)
        .order_by(c.due_at, c.container)
        .limit(PAGE)
        .compile(dialect=sqlite.dialect())
    )
    kept = CONTAINER.c.due_at.type.dialect_impl(sqlite.dialect()).bind_processor(sqlite.dialect())
    due = kept(NOW + AHEAD) if kept else NOW + AHEAD
    given = [{datetime: due}.get(type(v), v) for v in asked.construct_params().values()]
    with store.reading() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None

        def bare() -> None:
            found = driver.execute(str(asked), given).fetchall()
            assert len(found) == min(PAGE, len(lookup_all))

        lookup_all = lookup.containers(store, caller, soon)
        ways = {
            "list": lambda: lookup.containers(store, caller, soon),
            "bare": bare,
            "tick": lambda: lookup.containers(store, caller, minute),
        }
        found = Rounds.of(
            rounds,
            {
                **{
                    name: lambda way=way: cpu_s(lambda: [way() for _ in range(repeats)]) / repeats
                    for name, way in ways.items()
                },
                "all": lambda: cpu_s(lambda: [recompute(story) for _ in range(300)]) / 300 * open_,
            },
        )
    assert NOW.tzinfo is UTC
    return found
