"""Proofs out of a long log beside reads of single rows by the bare driver."""

from collections.abc import Callable
from random import Random

from service.ledger.merkle import check_inclusion
from service.store.store import Store
from tests.benchmarks.frame import Curve, Rounds, Row, Size, Told, cpu_s, seconds
from tests.benchmarks.serving import room
from tests.ledger.tree import Tree
from tests.store.test_log import filled

LEAVES = {"tiny": (64, 128), "quick": (1_000, 10_000), "full": (1_000, 10_000, 100_000)}
REPEATS = {"tiny": 2, "quick": 50, "full": 200}
FACILITY = "large"


def measure(size: Size, rounds: int) -> Told:
    """Compare at the longest; show how it grows."""
    lines = []
    for leaves in LEAVES[size]:
        with room() as folder:
            store, tree = Store(f"sqlite:///{folder / 'log.db'}"), Tree.of(leaves)
            filled(store, FACILITY, tree)
            found = _compared(store, tree, leaves, (rounds, REPEATS[size]))
            store.close()
        lines.append([f"{leaves:,}", *(seconds(found[n]) for n in ("in it", "grown", "row"))])
    yield Row(f"proof that an entry is in a log of {leaves:,}, read and checked",
              seconds(found["in it"]), f"one row by the bare driver {seconds(found['row'])}",
              found.ratios("in it", "row"))  # fmt: skip
    heads = ("entries", "that one is in it", "that it only grew", "a bare row")
    yield Curve("proofs of a longer log (processor time)", heads, lines)


def _compared(store: Store, tree: Tree, leaves: int, times: tuple[int, int]) -> Rounds:
    random, root = Random(7), tree.root(leaves)
    rounds, repeats = times

    def included() -> None:
        number = random.randrange(leaves)
        with store.log(FACILITY) as log:
            proof = log.inclusion(number, leaves)
        check_inclusion(tree.hashes[number], number, leaves, proof, root)

    def grown() -> None:
        with store.log(FACILITY) as log:
            log.consistency(random.randrange(1, leaves), leaves)

    def each(what: Callable[[], object]) -> Callable[[], float]:
        return lambda: cpu_s(lambda: [what() for _ in range(repeats)]) / repeats

    with store.reading() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None

        def row() -> None:
            asked = (FACILITY, random.randrange(leaves))
            driver.execute(
                "SELECT hash FROM leaf WHERE facility = ? AND number = ?", asked
            ).fetchone()

        ways = {"in it": each(included), "grown": each(grown), "row": each(row)}
        return Rounds.of(rounds, ways)
