"""A facility's log in the database: leaves and the nodes above them, its head, and proofs.

The head is read in the transaction that moves it, never kept in memory: two processes that both
held it would each go on from it, and the log would fork.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Select, and_, bindparam, insert, or_, select, update

from service.ledger.merkle import (
    EMPTY,
    HASH_BYTES,
    Node,
    consistency_proof,
    grow,
    inclusion_proof,
    leaf_hash,
    peaks,
    root,
)
from service.store.rows import Statement, insert_rows
from service.store.tables import LEAF, LOG, NODE

STREAMED = 1_000

_HEAD = Statement(select(LOG).where(LOG.c.facility == bindparam("facility")))
_MOVED = Statement(
    update(LOG)
    .where(LOG.c.facility == bindparam("of"), LOG.c.size == bindparam("from_size"))
    .values(size=bindparam("size"), last=bindparam("last"), peaks=bindparam("peaks"))
)


class ForkError(RuntimeError):
    """Somebody else has gone on from the same head: nothing was written."""


@dataclass(frozen=True, slots=True)
class Head:
    """Where a log stands: its size, the hash of its last leaf, and those of its peaks."""

    size: int = 0
    last: bytes = EMPTY
    peaks: tuple[bytes, ...] = ()


def head(connection: Connection, facility: str) -> Head:
    """Give the head; in a transaction that writes it is nobody else's to move."""
    row = _HEAD.first(connection, facility=facility)
    if row is None:
        return Head()
    cut = range(0, len(row.peaks), HASH_BYTES)
    return Head(row.size, bytes(row.last), tuple(row.peaks[i : i + HASH_BYTES] for i in cut))


def extend(connection: Connection, facility: str, at: Head, leaves: Sequence[bytes]) -> None:
    """Put leaves after the head, which was read in this transaction.

    Raises:
        ForkError: the head was moved meanwhile.
    """
    hashes = [leaf_hash(leaf) for leaf in leaves]
    nodes, tops = grow(at.size, at.peaks, hashes)
    insert_rows(
        connection,
        LEAF,
        [
            {"facility": facility, "number": number, "hash": hash_, "previous": before}
            for number, hash_, before in zip(
                range(at.size, at.size + len(hashes)), hashes, [at.last, *hashes], strict=False
            )
        ],
    )
    insert_rows(
        connection,
        NODE,
        [
            {"facility": facility, "level": level, "number": number, "hash": hash_}
            for (level, number), hash_ in nodes
        ],
    )
    moved = {"size": at.size + len(hashes), "last": hashes[-1], "peaks": b"".join(tops)}
    if at.size == 0:
        connection.execute(insert(LOG).values(facility=facility, **moved))
        return
    if _MOVED.run(connection, of=facility, from_size=at.size, **moved) != 1:
        raise ForkError(f"the log of {facility} was moved by another writer")


class LogView:
    """A log as it stands in one transaction, and what can be proved of it."""

    def __init__(self, connection: Connection, facility: str) -> None:
        self._connection = connection
        self._facility = facility
        self._head = head(connection, facility)
        self.size = self._head.size

    @property
    def root(self) -> bytes:
        """The root over all entries."""
        return root(self._head.peaks)

    def root_at(self, size: int) -> bytes:
        """The root over the first entries."""
        return root(self.peaks_at(size))

    def peaks_at(self, size: int) -> list[bytes]:
        """The hashes of the peaks over the first entries, left to right."""
        if not 0 <= size <= self.size:
            raise ValueError(f"the log has {self.size} entries, not {size}")
        wanted = peaks(size)
        found = self.read(wanted)
        return [found[node] for node in wanted]

    def inclusion(self, number: int, size: int) -> list[bytes]:
        """Prove that an entry is among the first ``size``.

        Raises:
            ValueError: it is not, or the log is shorter.
        """
        self._holds(size)
        return inclusion_proof(number, size, self.read)

    def consistency(self, first: int, second: int) -> list[bytes]:
        """Prove that the first ``second`` entries begin with the first ``first``.

        Raises:
            ValueError: the log is shorter, or the first is larger than the second.
        """
        self._holds(second)
        return consistency_proof(first, second, self.read)

    def hashes(self, first: int, until: int) -> Iterator[bytes]:
        """Give the hashes of leaves in order, without holding them all."""
        asked = (
            select(LEAF.c.hash)
            .where(LEAF.c.facility == self._facility, LEAF.c.number >= first, LEAF.c.number < until)
            .order_by(LEAF.c.number)
            .execution_options(yield_per=STREAMED)
        )
        yield from map(bytes, self._connection.execute(asked).scalars())

    def read(self, nodes: Sequence[Node]) -> Mapping[Node, bytes]:
        """Give hashes of nodes; those of the present peaks are in the head, read already."""
        found = dict(zip(peaks(self.size), self._head.peaks, strict=True))
        leaves = [number for level, number in nodes if level == 0]
        above = [node for node in nodes if node[0] and node not in found]
        if leaves:
            asked = select(LEAF.c.number, LEAF.c.hash).where(
                LEAF.c.facility == self._facility, LEAF.c.number.in_(leaves)
            )
            found |= {(0, row.number): bytes(row.hash) for row in self._connection.execute(asked)}
        if above:
            told: dict[str, Any] = {"facility": self._facility}
            for i, (level, number) in enumerate(above):
                told[f"level_{i}"], told[f"number_{i}"] = level, number
            rows = self._connection.execute(_of_nodes(len(above)), told)
            found |= {(level, number): bytes(hash_) for level, number, hash_ in rows}
        return found

    def _holds(self, size: int) -> None:
        if size > self.size:
            raise ValueError(f"the log has {self.size} entries, not {size}")


@lru_cache(maxsize=128)
def _of_nodes(count: int) -> Select[int, int, bytes]:
    """The question for so many nodes; to put it together anew costs more than the answer.

    Each is asked for by its whole key: an IN of pairs would have SQLite read every node there is.
    """
    n = NODE.c
    each = (
        and_(
            n.facility == bindparam("facility"),
            n.level == bindparam(f"level_{i}"),
            n.number == bindparam(f"number_{i}"),
        )
        for i in range(count)
    )
    return select(n.level, n.number, n.hash).where(or_(*each))
