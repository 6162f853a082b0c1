"""The Merkle tree over a facility's log, as RFC 9162, section 2.1, defines it (SHA-256).

The tree is known by its *complete* subtrees, which never change as it grows: node (level, number)
spans the leaves [number * 2^level, (number + 1) * 2^level). A tree of any size is made of at most
64 of them, its *peaks*; whoever keeps every node can prove anything with one read of each it needs.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import reduce
from hashlib import sha256

Node = tuple[int, int]
Read = Callable[[Sequence[Node]], Mapping[Node, bytes]]
"""Gives the hashes of the nodes asked for, all at once."""

HASH_BYTES = 32
EMPTY = sha256(b"").digest()
"""The root of a log with nothing in it."""


class ProofError(ValueError):
    """A proof does not prove what it is given for."""


def leaf_hash(leaf: bytes) -> bytes:
    """Give the hash of a leaf (RFC 9162, 2.1.1)."""
    return sha256(b"\x00" + leaf).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Give the hash of an inner node (RFC 9162, 2.1.1)."""
    return sha256(b"\x01" + left + right).digest()


def peaks(size: int) -> list[Node]:
    """Give the complete subtrees that make up a tree of that many leaves, left to right."""
    return _cover(0, size)


def root(hashes: Sequence[bytes]) -> bytes:
    """Give the root of the tree whose peaks have these hashes, left to right."""
    return reduce(lambda right, left: node_hash(left, right), reversed(hashes)) if hashes else EMPTY


def grow(
    size: int, tops: Sequence[bytes], leaves: Iterable[bytes]
) -> tuple[list[tuple[Node, bytes]], list[bytes]]:
    """Add leaves, given by their hashes, to a tree known by its size and its peaks' hashes.

    Gives the complete nodes above the leaves that came to be, and the hashes of the new peaks.
    """
    made: list[tuple[Node, bytes]] = []
    stack = list(tops)
    for number, leaf in enumerate(leaves, size):
        stack.append(leaf)
        level, place = 0, number
        while place & 1:
            right = stack.pop()
            stack.append(node_hash(stack.pop(), right))
            level, place = level + 1, place >> 1
            made.append(((level, place), stack[-1]))
    return made, stack


class Tree:
    """A tree that grows, known by its size and its peaks' hashes alone."""

    def __init__(self, size: int, tops: Sequence[bytes]) -> None:
        self.size, self._tops = size, list(tops)

    def add(self, leaves: Sequence[bytes]) -> None:
        """Add leaves, given by their hashes."""
        _, self._tops = grow(self.size, self._tops, leaves)
        self.size += len(leaves)

    @property
    def root(self) -> bytes:
        """The root of the tree as it is."""
        return root(self._tops)


def inclusion_proof(number: int, size: int, read: Read) -> list[bytes]:
    """Prove that leaf ``number`` is in the tree of that size (RFC 9162, 2.1.3.1).

    Raises:
        ValueError: there is no such leaf in a tree of that size.
    """
    if not 0 <= number < size:
        raise ValueError(f"a log of {size} entries has no entry {number}")
    return _hashes(_path(number, 0, size), read)


def consistency_proof(first: int, second: int, read: Read) -> list[bytes]:
    """Prove that the tree of ``second`` leaves begins with that of ``first`` (RFC 9162, 2.1.4.1).

    Raises:
        ValueError: the first is larger than the second.
    """
    if not 0 <= first <= second:
        raise ValueError(f"a log of {second} entries cannot begin with {first}")
    if first in (0, second):
        return []
    return _hashes(_common(first, 0, second, whole=True), read)


def check_inclusion(
    leaf: bytes, number: int, size: int, proof: Sequence[bytes], expected: bytes
) -> None:
    """Check that a leaf, given by its hash, is in the tree with that root (RFC 9162, 2.1.3.2).

    Raises:
        ProofError: it is not shown to be.
    """
    if not 0 <= number < size:
        raise ProofError(f"entry {number} is beyond the {size} of the log")
    _whole(proof)
    found = leaf
    for step, on_the_left in _climb(number, size - 1, proof):
        found = node_hash(step, found) if on_the_left else node_hash(found, step)
    if found != expected:
        raise ProofError(f"entry {number} is not the one that the root was made with")


def check_consistency(
    first: int, first_root: bytes, second: int, second_root: bytes, proof: Sequence[bytes]
) -> None:
    """Check that a log grew without a change to what it held before (RFC 9162, 2.1.4.2).

    Raises:
        ProofError: it is not shown to have.
    """
    if not 0 <= first <= second:
        raise ProofError(f"a log of {second} entries cannot begin with {first}")
    _whole(proof)
    if first in (0, second):
        begins = first_root == (EMPTY if first == 0 else second_root)
        if proof or not begins or (second == 0 and second_root != EMPTY):
            raise ProofError(f"the first {first} entries are not the ones that were signed")
        return
    steps = [first_root, *proof] if first & (first - 1) == 0 else list(proof)
    if not steps:
        raise ProofError("the consistency proof is empty")
    here, last = first - 1, second - 1
    while here & 1:
        here, last = here >> 1, last >> 1
    old = new = steps[0]
    for step, on_the_left in _climb(here, last, steps[1:]):
        if on_the_left:
            old, new = node_hash(step, old), node_hash(step, new)
        else:
            new = node_hash(new, step)
    if old != first_root:
        raise ProofError(f"the first {first} entries are not the ones that were signed")
    if new != second_root:
        raise ProofError(f"the {second} entries are not the ones that were signed")


def _whole(proof: Sequence[bytes]) -> None:
    """See that every step is a hash: cut elsewhere, the same bytes would be hashed the same."""
    if any(len(step) != HASH_BYTES for step in proof):
        raise ProofError(f"a step of the proof is no hash of {HASH_BYTES} bytes")


def _climb(here: int, last: int, proof: Sequence[bytes]) -> Iterator[tuple[bytes, bool]]:
    """Give each step of a proof and whether it stands left of what is proved, up to the root."""
    for step in proof:
        if last == 0:
            raise ProofError("the proof is too long")
        on_the_left = bool(here & 1) or here == last
        yield step, on_the_left
        if on_the_left:
            while here and not here & 1:
                here, last = here >> 1, last >> 1
        here, last = here >> 1, last >> 1
    if last:
        raise ProofError("the proof is too short")


def _split(size: int) -> int:
    """The largest power of two below the size."""
    return 1 << ((size - 1).bit_length() - 1)


def _cover(low: int, high: int) -> list[Node]:
    """The complete subtrees that make up the leaves [low, high), where low ends one as large."""
    found = []
    while low < high:
        level = (high - low).bit_length() - 1
        found.append((level, low >> level))
        low += 1 << level
    return found


def _path(number: int, low: int, high: int) -> Iterator[list[Node]]:
    """The siblings on the way from a leaf up, nearest first, each as the nodes it is made of."""
    if high - low == 1:
        return
    middle = low + _split(high - low)
    if number < middle:
        yield from _path(number, low, middle)
        yield _cover(middle, high)
    else:
        yield from _path(number, middle, high)
        yield _cover(low, middle)


def _common(first: int, low: int, high: int, *, whole: bool) -> Iterator[list[Node]]:
    """RFC 9162's SUBPROOF; ``first`` counts from ``low``."""
    if first == high - low:
        if not whole:
            yield _cover(low, high)
        return
    split = _split(high - low)
    if first <= split:
        yield from _common(first, low, low + split, whole=whole)
        yield _cover(low + split, high)
    else:
        yield from _common(first - split, low + split, high, whole=False)
        yield _cover(low, low + split)


def _hashes(steps: Iterable[list[Node]], read: Read) -> list[bytes]:
    held = list(steps)
    known = read([node for step in held for node in step])
    return [root([known[node] for node in step]) for step in held]
