"""The log in the database: it grows by whole steps, does not fork, and proves what is in it."""

import time
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Connection, insert
from sqlalchemy.exc import DBAPIError

from service.ledger.leaf import entry_leaf
from service.ledger.merkle import (
    EMPTY,
    check_consistency,
    check_inclusion,
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    peaks,
)
from service.store.database import Database
from service.store.log import ForkError, Head, LogView, extend, head
from service.store.store import Store
from service.store.tables import LEAF, LOG, NODE
from tests.ledger.tree import Tree
from tests.store.record import new_facility, on_file, rows
from tests.trade import bag

LARGE = 100_000


def written(store: Store, facility: str, *steps: int) -> Tree:
    """Write invented leaves in so many steps; gives the same tree in memory."""
    tree = Tree.of(sum(steps))
    done = 0
    for step in steps:
        with store.database.writing(facility) as connection:
            leaves = [b"leaf %d" % n for n in range(done, done + step)]
            extend(connection, facility, head(connection, facility), leaves)
        done += step
    return tree


def filled(store: Store, facility: str, tree: Tree) -> None:
    """Put a tree into the tables as it is."""
    leaves = zip(tree.hashes, [EMPTY, *tree.hashes], strict=False)
    of_leaves = [(facility, n, hash_, before) for n, (hash_, before) in enumerate(leaves)]
    above = [(facility, *node, hash_) for node, hash_ in tree.nodes.items() if node[0]]
    top = (facility, len(tree.hashes), tree.hashes[-1], b"".join(tree.tops))
    with store.database.writing(facility) as connection:
        connection.exec_driver_sql("INSERT INTO leaf VALUES (?, ?, ?, ?)", of_leaves)
        connection.exec_driver_sql("INSERT INTO node VALUES (?, ?, ?, ?)", above)
        connection.exec_driver_sql("INSERT INTO log VALUES (?, ?, ?, ?)", top)


class Asked:
    """Counts statements, the rows they give, and SQLite's own steps in hundreds."""

    def __init__(self, connection: Connection) -> None:
        self.steps = self.rows = 0
        self._sent: list[str] = []
        self._driver: Any = connection.connection.driver_connection

    def __enter__(self) -> "Asked":
        self._driver.set_trace_callback(self._sent.append)
        self._driver.set_progress_handler(self._step, 100)
        return self

    def _step(self) -> int:
        self.steps += 1
        return 0

    def __exit__(self, *_: object) -> None:
        self._driver.set_trace_callback(None)
        self._driver.set_progress_handler(None, 100)
        # Each is asked again, when nothing is counted any more.
        self.rows = sum(len(self._driver.execute(text).fetchall()) for text in self._sent)

    @property
    def statements(self) -> int:
        """How many were sent."""
        return len(self._sent)


@given(data=st.data(), steps=st.lists(st.integers(1, 40), min_size=1, max_size=6))
@settings(
    deadline=None,
    max_examples=25,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_however_it_grew_it_proves_what_the_pure_tree_proves(
    store: Store, data: st.DataObject, steps: list[int]
) -> None:
    """Roots, inclusion and consistency, hash for hash, and they check (RFC 9162, section 2.1)."""
    facility = f"tree-{time.monotonic_ns()}"
    tree, size = written(store, facility, *steps), sum(steps)
    until = data.draw(st.integers(1, size))
    number, first = data.draw(st.integers(0, until - 1)), data.draw(st.integers(0, until))
    with store.log(facility) as log:
        assert (log.size, log.root) == (size, tree.root(size))
        assert log.root_at(until) == tree.root(until)
        assert log.peaks_at(until) == [tree.nodes[node] for node in peaks(until)]
        assert [*log.hashes(first, until)] == tree.hashes[first:until]
        inside, grew = log.inclusion(number, until), log.consistency(first, until)
    assert inside == inclusion_proof(number, until, tree.read)
    assert grew == consistency_proof(first, until, tree.read)
    check_inclusion(tree.hashes[number], number, until, inside, tree.root(until))
    check_consistency(first, tree.root(first), until, tree.root(until), grew)


def test_every_entry_and_set_up_is_a_leaf(store: Store, facility: str) -> None:
    """In order of arrival: the set-up first, then what was told, by its canonical form."""
    story = bag("yellow-c").sealed("2026-07-01 08:00").weighed("2026-07-01 09:00", 900)
    store.append(facility, story.entries)
    with store.log(facility) as log:
        assert [*log.hashes(1, log.size)] == [leaf_hash(entry_leaf(e)) for e in story.entries]
        assert log.size == 3


def test_a_log_knows_its_own_size(store: Store, facility: str) -> None:
    """Nothing is proved of what it never was; a facility that is none has an empty log."""
    with store.log(facility) as log:
        for ask in (
            lambda: log.root_at(2),
            lambda: log.root_at(-1),
            lambda: log.inclusion(0, 2),
            lambda: log.inclusion(1, 1),
            lambda: log.consistency(0, 2),
            lambda: log.consistency(2, 1),
        ):
            with pytest.raises(ValueError):
                ask()
    with store.log("nowhere") as none:
        assert (none.size, none.root) == (0, EMPTY)


# --- forks


def test_who_goes_on_from_a_head_that_was_moved_writes_nothing(tmp_path: Path) -> None:
    """Two processes hold the same head: the second is told, and its leaves are not there.

    The first writes through a connection of its own; SQLite would make the second wait, so the
    stale head is given to it afterwards.
    """
    store = on_file(tmp_path)
    facility = new_facility(store)
    other = Database(f"sqlite:///{tmp_path / 'record.sqlite3'}")
    with other.reading() as connection:
        stale = head(connection, facility)
    store.append(facility, bag("yellow-c").sealed("2026-07-01 08:00").entries)
    before = [rows(store, facility, table) for table in (LEAF, NODE, LOG)]
    with pytest.raises((ForkError, DBAPIError)), other.writing(facility) as connection:
        extend(connection, facility, stale, [b"another"])
    assert [rows(store, facility, table) for table in (LEAF, NODE, LOG)] == before
    other.close()
    store.close()


def test_a_head_that_is_not_the_one_in_the_table_is_not_moved(store: Store) -> None:
    """Even where no leaf collides: the leaf before it may be missing."""
    facility = f"gap-{time.monotonic_ns()}"
    written(store, facility, 4)
    with store.reading() as connection:
        there = head(connection, facility)
    invented = Head(8, b"x" * 32, (b"y" * 32,))
    told = pytest.raises(ForkError, match="moved by another")
    with told, store.database.writing(facility) as connection:
        extend(connection, facility, invented, [b"leaf"])
    with store.reading() as connection:
        assert head(connection, facility) == there
        assert len(rows(store, facility, LEAF)) == 4


@pytest.mark.parametrize(
    "said",
    [
        {"number": 3, "previous": b"n" * 32},
        {"number": 4, "previous": leaf_hash(b"leaf 1")},
        {"number": -1, "previous": b"n" * 32},
    ],
    ids=["a second leaf of a number", "a second on the same leaf", "below nought"],
)
def test_no_statement_can_put_a_fork_into_the_table(store: Store, said: dict[str, Any]) -> None:
    """Whoever writes SQL past the service is refused by the table itself."""
    facility = f"raw-{time.monotonic_ns()}"
    written(store, facility, 4)
    with pytest.raises(DBAPIError), store.database.writing(facility) as connection:
        connection.execute(insert(LEAF).values(facility=facility, hash=b"h" * 32, **said))
    assert len(rows(store, facility, LEAF)) == 4


@pytest.mark.parametrize("table", ["leaf", "node", "setup", "event"])
@pytest.mark.parametrize("act", ["DELETE FROM {}", "UPDATE {} SET facility = 'x'"])
def test_no_statement_changes_what_is_kept(
    store: Store, facility: str, table: str, act: str
) -> None:
    """Whoever opens the file and forgets himself is refused by a trigger."""
    store.append(facility, bag("yellow-c").sealed("2026-07-01 08:00").entries)
    told = pytest.raises(DBAPIError, match="never changed")
    with told, store.database.writing(facility) as connection:
        connection.exec_driver_sql(act.format(table))


# --- a large log


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A log of a hundred thousand leaves."""
    store, tree = on_file(tmp_path_factory.mktemp("large")), Tree.of(LARGE)
    filled(store, "large", tree)
    yield store, tree
    store.close()


def test_a_proof_in_a_large_log_reads_few_hashes(large: tuple[Store, Tree]) -> None:
    """At most one for each level, 17 of them, by three statements; the checkpoint reads the head.

    RFC 9162, section 2.1.3: an inclusion proof has at most ceil(log2(n)) hashes.
    """
    store, tree = large
    random = Random(7)
    for number in (0, 1, 65_535, 65_536, 77_777, LARGE - 1, *random.sample(range(LARGE), 40)):
        proof = proved(store, tree, number, LARGE, rows=17)
        assert len(proof) <= 17
    with store.reading() as connection, Asked(connection) as asked:
        grew = LogView(connection, "large").consistency(54_321, LARGE)
    check_consistency(54_321, tree.root(54_321), LARGE, tree.root(LARGE), grew)
    assert asked.rows < 40
    assert asked.steps < 100


def test_a_proof_at_an_earlier_size_reads_its_peaks_too(large: tuple[Store, Tree]) -> None:
    """The head has the present ones alone: at most twice as many hashes as the tree was high."""
    store, tree = large
    random = Random(7)
    for size in (65_535, 65_536, *random.sample(range(2, LARGE), 40)):
        proved(store, tree, random.randrange(size), size, rows=2 * size.bit_length() - 2)


def proved(store: Store, tree: Tree, number: int, size: int, *, rows: int) -> list[bytes]:
    """Prove an entry by so many hashes at most beside the head, each looked up by its key."""
    with store.reading() as connection, Asked(connection) as asked:
        log = LogView(connection, "large")
        assert log.root == tree.root(LARGE)
        assert asked.statements == 1
        proof = log.inclusion(number, size)
    check_inclusion(tree.hashes[number], number, size, proof, tree.root(size))
    assert asked.statements <= 3
    assert asked.rows - 1 <= rows
    assert asked.steps < 100, "the tables are read through, not looked up"
    return proof
