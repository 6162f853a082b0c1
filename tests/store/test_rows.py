"""Statements put together once give what SQLAlchemy's own would, on both stores."""

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Connection, bindparam, delete, select, update
from sqlalchemy.exc import DBAPIError

from service.store.rows import Statement, among, insert_rows
from service.store.store import Store
from service.store.tables import CONTAINER, LEAF, NAMED
from tests.pace import tries
from tests.trade import bag

AT = datetime(2026, 7, 1, 8, 30, 15, 250_000, UTC)
MINE = NAMED.c.facility == bindparam("facility")
ALL = Statement(select(NAMED).where(MINE).order_by(NAMED.c.seq))
SOME = Statement(select(NAMED.c.container, NAMED.c.at).where(MINE, among(NAMED.c.seq, "seqs")))


def named(facility: str, seq: int, **other: Any) -> dict[str, Any]:
    """A row that says which entry names a container."""
    usual = {"container": f"C-{seq}", "at": AT + timedelta(hours=seq), "reaches": seq % 2 == 0}
    return {"facility": facility, "seq": seq, **usual, **other}


def by_sqlalchemy(connection: Connection, facility: str) -> list[tuple[Any, ...]]:
    """The same asked of SQLAlchemy."""
    asked = select(NAMED).where(NAMED.c.facility == facility).order_by(NAMED.c.seq)
    return [tuple(row) for row in connection.execute(asked)]


TEXTS = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=20)
INSTANTS = st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001


@given(rows=st.lists(st.tuples(TEXTS, INSTANTS, st.booleans()), max_size=6))
@settings(
    deadline=None,
    max_examples=tries(60),
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_rows_go_out_and_come_in_as_by_sqlalchemy(
    store: Store, facility: str, rows: list[tuple[str, datetime, bool]]
) -> None:
    """Texts of any letters, instants to the microsecond, yes and no."""
    told = [
        named(facility, n, container=c, at=at, reaches=yes) for n, (c, at, yes) in enumerate(rows)
    ]
    with store.database.writing(facility) as connection:
        connection.execute(delete(NAMED).where(NAMED.c.facility == facility))
        insert_rows(connection, NAMED, told)
        found = ALL.rows(connection, facility=facility)
        assert [tuple(row) for row in found] == by_sqlalchemy(connection, facility)
    assert [(r.container, r.at, r.reaches) for r in found] == rows
    assert all(r.at.tzinfo is UTC or r.at.utcoffset() == timedelta() for r in found)


def test_many_values_go_out_as_one(store: Store, facility: str) -> None:
    """None, one, some that are not there, and more than any list of parameters may hold."""
    with store.database.writing(facility) as connection:
        insert_rows(connection, NAMED, [named(facility, n) for n in range(40)])
        for seqs, count in (([], 0), ([7], 1), ([7, 8, 999], 2), (range(100_000), 40)):
            found = SOME.rows(connection, facility=facility, seqs=seqs)
            assert len(found) == count
        awkward = ["C-1", "it's", 'a "b"', "क", "\\", "%s", ":x", "?"]
        insert_rows(
            connection,
            CONTAINER,
            [
                {"facility": facility, "container": c, "state": "carrying", "steps": "",
                 "next_acts": "", "carries": True}
                for c in awkward
            ],
        )  # fmt: skip
        held = Statement(
            select(CONTAINER.c.container, CONTAINER.c.carries, CONTAINER.c.due_at).where(
                CONTAINER.c.facility == bindparam("facility"),
                among(CONTAINER.c.container, "containers"),
            )
        )
        rows = held.rows(connection, facility=facility, containers=awkward)
    assert sorted(row.container for row in rows) == sorted(awkward)
    assert all(row.carries is True and row.due_at is None for row in rows)


def test_a_statement_says_to_how_many_rows_it_was_done(store: Store, facility: str) -> None:
    """A head that was moved meanwhile is known by that."""
    moved = Statement(
        update(NAMED).where(MINE, NAMED.c.at < bindparam("before")).values(reaches=False)
    )
    gone = Statement(delete(NAMED).where(MINE, among(NAMED.c.container, "containers")))
    with store.database.writing(facility) as connection:
        insert_rows(connection, NAMED, [named(facility, n) for n in range(6)])
        assert moved.run(connection, facility=facility, before=AT + timedelta(hours=3)) == 3
        assert gone.run(connection, facility=facility, containers=["C-0", "C-5", "C-9"]) == 2
        left = ALL.rows(connection, facility=facility)
        assert [(row.seq, row.reaches) for row in left] == [
            (1, False), (2, False), (3, False), (4, True)
        ]  # fmt: skip
        assert ALL.first(connection, facility=facility).seq == 1
        assert ALL.first(connection, facility="nowhere") is None
        assert SOME.values(connection, facility=facility, seqs=[3]) == ["C-3"]


def test_an_instant_of_another_zone_is_kept_as_utc_and_one_of_none_is_refused(
    store: Store, facility: str
) -> None:
    """Times are aware inside; a naive one is a fault of ours, not a row."""
    india = datetime(2026, 7, 1, 14, 0, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    with store.database.writing(facility) as connection:
        insert_rows(connection, NAMED, [named(facility, 1, at=india)])
        assert ALL.first(connection, facility=facility).at == datetime(
            2026, 7, 1, 8, 30, tzinfo=UTC
        )
    naive = datetime(2026, 7, 1, 14, 0)  # noqa: DTZ001
    with pytest.raises(ValueError, match=r"zone"):  # noqa: SIM117
        with store.database.writing(facility) as connection:
            insert_rows(connection, NAMED, [named(facility, 2, at=naive)])


def test_what_is_put_together_anew_is_read_in_the_same_way(store: Store, facility: str) -> None:
    """A list with its filters: the same rows as SQLAlchemy gives."""
    asked = select(NAMED).where(NAMED.c.facility == facility, NAMED.c.seq > 2).order_by(NAMED.c.seq)
    with store.database.writing(facility) as connection:
        insert_rows(connection, NAMED, [named(facility, n) for n in range(6)])
        found = ALL.like(connection, asked)
        assert [tuple(row) for row in found] == by_sqlalchemy(connection, facility)[3:]
        assert ALL.like(connection, asked.where(NAMED.c.seq < 0)) == []


def test_a_fault_is_said_as_any_other_and_nothing_is_left(store: Store, facility: str) -> None:
    """A row twice; what is committed is what was there before."""
    with pytest.raises(DBAPIError), store.database.writing(facility) as connection:
        insert_rows(connection, NAMED, [named(facility, 1), named(facility, 1)])
    with store.reading() as connection:
        assert ALL.rows(connection, facility=facility) == []


def test_what_is_kept_is_refused_by_the_triggers_in_this_way_too(
    store: Store, facility: str
) -> None:
    """There is no way round them."""
    store.append(facility, bag("yellow-c").sealed("2026-07-01 08:00").entries)
    mine = LEAF.c.facility == bindparam("facility")
    change = Statement(update(LEAF).where(mine).values(number=9))
    with pytest.raises(DBAPIError, match="never changed"):  # noqa: SIM117
        with store.database.writing(facility) as connection:
            change.run(connection, facility=facility)
