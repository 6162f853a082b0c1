"""Proofs and checkpoints of a log of a million leaves beside the bare engine and the bare key.

How many hashes a proof reads is counted as rows the database gives. For times the measure is the
ratio: all are timed in the same minute. Run it as ``python -m tests.benchmarks.bench_log``; prints,
asserts nothing.
"""

import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from statistics import median

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from service.custody.words import Role
from service.duties import evidence
from service.duties.access import Caller
from service.duties.evidence import Keeping
from service.ledger.checkpoint import Checkpoint
from service.ledger.merkle import check_inclusion
from service.ledger.note import Signer, sign
from service.store.keyring import Keyring
from service.store.log import LogView, extend, head
from service.store.store import Store
from tests.ledger.tree import Tree
from tests.store.test_log import Asked, filled

SIZE, ROUNDS, SEED = 1_000_000, 300, 7
FACILITY, NAME = "large", "custody.example/large"
NOW = datetime(2026, 7, 1, tzinfo=UTC)


def each_us(what: Callable[[], object], rounds: int = ROUNDS) -> float:
    """The median time of one call, in microseconds."""
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        what()
        taken.append(time.perf_counter() - start)
    return 1e6 * median(taken)


def reads(store: Store) -> None:
    """The rows that inclusion proofs read, at the present size and at earlier ones."""
    random = Random(SEED)
    for name, sizes in (
        ("at the present size", [SIZE]),
        ("at any size before", range(1, SIZE)),
        (f"at {2**19 - 1:,}, with the most peaks", [2**19 - 1]),
    ):
        rows = []
        for _ in range(ROUNDS):
            with store.reading() as connection, Asked(connection) as asked:
                size = random.choice(sizes)
                LogView(connection, FACILITY).inclusion(random.randrange(size), size)
            rows.append(asked.rows - 1)
        print(f"hashes read to prove {name}: {median(rows):.0f}, {max(rows)} at most")  # noqa: T201


def proofs(store: Store, tree: Tree) -> None:
    """Inclusion and consistency proofs beside single reads of the same table by the driver."""
    random, root = Random(SEED), tree.root(SIZE)

    def included() -> None:
        number = random.randrange(SIZE)
        with store.log(FACILITY) as log:
            proof = log.inclusion(number, SIZE)
        assert len(proof) <= 20
        check_inclusion(tree.hashes[number], number, SIZE, proof, root)

    def grown() -> None:
        with store.log(FACILITY) as log:
            log.consistency(random.randrange(1, SIZE), SIZE)

    with store.reading() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None

        def read() -> None:
            asked = (FACILITY, random.randrange(SIZE))
            driver.execute(
                "SELECT hash FROM leaf WHERE facility = ? AND number = ?", asked
            ).fetchone()

        point_us = each_us(read, 5_000)
    for name, what in (("inclusion, checked", included), ("consistency", grown)):
        us = each_us(what)
        print(f"{name}: {us:.0f} us, as long as {us / point_us:.0f} bare reads of one row")  # noqa: T201


def checkpoints(store: Store, folder: Path) -> None:
    """Checkpoints beside signing alone, and beside signing and syncing nothing."""
    key = Ed25519PrivateKey.generate()
    with store.log(FACILITY) as log:
        state = Checkpoint(NAME, log.size, log.root)
    bare_us = each_us(lambda: key.sign(state.text.encode()))

    def of_the_log() -> None:
        with store.log(FACILITY) as log:
            sign(Checkpoint(NAME, log.size, log.root).text, Signer(NAME, key))

    us = each_us(of_the_log)
    print(f"head read and signed: {us:.0f} us, {us / bare_us:.1f} bare Ed25519 of {bare_us:.0f} us")  # noqa: T201
    keeping = Keeping(store, Keyring(folder / "keys"), "https://custody.example")
    caller = Caller(FACILITY, "bench", Role.OFFICER)
    us = each_us(lambda: evidence.sign_log(keeping, caller, NOW), 50)
    print(f"with the guard against forks, as the service does it: {us:.0f} us")  # noqa: T201
    wall, cpu = 0.0, 0.0
    for number in range(50):
        with store.database.writing(FACILITY) as connection:
            extend(connection, FACILITY, head(connection, FACILITY), [b"further %d" % number])
        since, worked = time.perf_counter(), time.process_time()
        evidence.sign_log(keeping, caller, NOW)
        wall, cpu = wall + time.perf_counter() - since, cpu + time.process_time() - worked
    print(f"and of a log that grew: {wall * 2e4:.0f} us, {cpu * 2e4:.0f} us of them not the disk's")  # noqa: T201


def main() -> None:
    """Fill, measure, print."""
    with tempfile.TemporaryDirectory() as folder:
        store, tree = Store(f"sqlite:///{folder}/log.sqlite3"), Tree.of(SIZE)
        start = time.perf_counter()
        filled(store, FACILITY, tree)
        print(f"{SIZE:,} leaves and the nodes above them: {time.perf_counter() - start:.1f} s")  # noqa: T201
        reads(store)
        proofs(store, tree)
        checkpoints(store, Path(folder))
        store.close()


if __name__ == "__main__":
    main()
