"""A tree of invented leaves that keeps all its nodes and counts how it is read."""

from collections.abc import Mapping, Sequence

from service.ledger.merkle import Node, grow, leaf_hash, peaks, root


class Tree:
    """A tree over given leaves."""

    def __init__(self, leaves: Sequence[bytes]) -> None:
        self.hashes = [leaf_hash(leaf) for leaf in leaves]
        self.nodes = {(0, number): hash_ for number, hash_ in enumerate(self.hashes)}
        made, self.tops = grow(0, [], self.hashes)
        self.nodes.update(made)
        self.readings: list[int] = []

    @classmethod
    def of(cls, size: int) -> "Tree":
        """A tree of so many different leaves."""
        return cls([b"leaf %d" % number for number in range(size)])

    def read(self, nodes: Sequence[Node]) -> Mapping[Node, bytes]:
        """Give nodes, and note how many were asked for."""
        self.readings.append(len(nodes))
        return {node: self.nodes[node] for node in nodes}

    def root(self, size: int) -> bytes:
        """The root over the first leaves."""
        return root([self.nodes[node] for node in peaks(size)])


def flipped(held: bytes, bit: int) -> bytes:
    """The bytes with one bit turned over."""
    place = bit % (8 * len(held))
    turned = held[place // 8] ^ 1 << place % 8
    return held[: place // 8] + bytes([turned]) + held[place // 8 + 1 :]
