"""The tree, its proofs and their checks, of every size up to seventy."""

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations_with_replacement
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ledger.merkle import (
    EMPTY,
    HASH_BYTES,
    Node,
    ProofError,
    Read,
    check_consistency,
    check_inclusion,
    consistency_proof,
    grow,
    inclusion_proof,
    leaf_hash,
    peaks,
)
from tests.ledger.tree import Tree, flipped

LARGEST = 70
TREE = Tree.of(LARGEST)
ROOTS = [TREE.root(size) for size in range(LARGEST + 1)]
BIT = st.integers(0, 8 * HASH_BYTES - 1)
SIZES = range(LARGEST + 1)

steady = settings(max_examples=300, deadline=None, derandomize=True)


@st.composite
def places(draw: st.DrawFn, smallest: int = 1) -> tuple[int, int]:
    """A leaf and a size that has it."""
    size = draw(st.integers(smallest, LARGEST))
    return draw(st.integers(0, size - 1)), size


def test_every_entry_is_proved_at_every_size() -> None:
    """Each entry of each tree is shown to be in it, by as many hashes as the tree is high."""
    for size in SIZES:
        for number in range(size):
            proof = inclusion_proof(number, size, TREE.read)
            check_inclusion(TREE.hashes[number], number, size, proof, ROOTS[size])
            assert len(proof) <= (size - 1).bit_length()


def test_every_growth_is_proved() -> None:
    """Each tree is shown to begin with each smaller one, the empty one and itself too."""
    for first, second in combinations_with_replacement(SIZES, 2):
        proof = consistency_proof(first, second, TREE.read)
        check_consistency(first, ROOTS[first], second, ROOTS[second], proof)


def test_a_proof_is_one_reading_of_few_nodes() -> None:
    """One reading for a proof, of at most two nodes a level: a table of millions is not walked."""
    for size in range(1, LARGEST + 1):
        high = (size - 1).bit_length()
        for number in range(size):
            TREE.readings.clear()
            inclusion_proof(number, size, TREE.read)
            consistency_proof(number + 1, size, TREE.read)
            assert len(TREE.readings) == (1 if number + 1 == size else 2)
            assert max(TREE.readings) <= 2 * high + 1


def test_a_proof_in_a_log_of_a_million_reads_under_twenty_hashes() -> None:
    """One a level below the highest peak: the present peaks are in the head, read already.

    That is 19 at 1,000,000 entries, and 20 from 2^20 on. An earlier size has its peaks read too.
    """
    random, most = Random(7), (1 << 20) - 1
    sizes = [100_000, 999_999, 1_000_000, most, *random.choices(range(100_000, most), k=100)]
    for size in sizes:
        tops, levels = set(peaks(size)), (size - 1).bit_length()
        for number in (0, 1, size // 2, size - 2, size - 1, *random.sample(range(size), 40)):
            steps, asked = asked_for(inclusion_proof, number, size)
            assert steps <= levels <= 20
            assert len(asked - tops) <= top_level(size) < 20
            assert len(asked) <= levels - 1 + len(tops)
            _, asked = asked_for(consistency_proof, number + 1, size)
            assert len(asked - tops) <= levels
            assert len(asked) <= levels + len(tops)
    assert max(len(asked_for(inclusion_proof, n, most)[1]) for n in range(64)) == 38


def top_level(size: int) -> int:
    """The level of the highest peak."""
    return peaks(size)[0][0]


def asked_for(
    prove: Callable[[int, int, Read], list[bytes]], number: int, size: int
) -> tuple[int, set[Node]]:
    """The length of a proof, and the nodes it is made of."""
    asked: list[Node] = []

    def read(nodes: Sequence[Node]) -> Mapping[Node, bytes]:
        asked.extend(nodes)
        return dict.fromkeys(nodes, b"\0" * HASH_BYTES)

    proof = prove(number, size, read)
    assert len(set(asked)) == len(asked), "no node is asked for twice"
    return len(proof), set(asked)


@steady
@given(place=places(), bit=BIT)
def test_a_changed_entry_is_found(place: tuple[int, int], bit: int) -> None:
    """One bit of the entry turned over, and it is in the log no more."""
    number, size = place
    proof = inclusion_proof(number, size, TREE.read)
    changed = leaf_hash(flipped(b"leaf %d" % number, bit))

    with pytest.raises(ProofError, match=f"entry {number} is not the one"):
        check_inclusion(changed, number, size, proof, ROOTS[size])


@steady
@given(place=places(2), which=st.integers(0), bit=BIT)
def test_a_changed_proof_of_an_entry_is_found(place: tuple[int, int], which: int, bit: int) -> None:
    """One bit of any step, a step left out, added or moved: none proves anything."""
    number, size = place
    leaf, proof = TREE.hashes[number], inclusion_proof(number, size, TREE.read)
    at = which % len(proof)
    for false in (
        [*proof[:at], flipped(proof[at], bit), *proof[at + 1 :]],
        [*proof[:at], *proof[at + 1 :]],
        [*proof[:at], proof[at], *proof[at:]],
        [*proof[:at], proof[at][:-1], *proof[at + 1 :]],
    ):
        with pytest.raises(ProofError):
            check_inclusion(leaf, number, size, false, ROOTS[size])
    with pytest.raises(ProofError):
        check_inclusion(leaf, number, size, proof, flipped(ROOTS[size], bit))


@steady
@given(place=places(), other=places())
def test_a_proof_proves_one_entry_of_one_size(
    place: tuple[int, int], other: tuple[int, int]
) -> None:
    """A proof given for another number, or for another size with its root, proves nothing.

    A size by itself is not bound by the proof: it comes with its root, signed in a checkpoint.
    """
    (number, size), (_, other_size) = place, other
    leaf, proof = TREE.hashes[number], inclusion_proof(number, size, TREE.read)
    for bit in range(7):
        with pytest.raises(ProofError):
            check_inclusion(leaf, number ^ 1 << bit, size, proof, ROOTS[size])
    if other_size != size:
        with pytest.raises(ProofError):
            check_inclusion(leaf, number, other_size, proof, ROOTS[other_size])


@steady
@given(place=places(2), which=st.integers(0), bit=BIT)
def test_a_changed_proof_of_growth_is_found(place: tuple[int, int], which: int, bit: int) -> None:
    """One bit of a step or of either root turned over, a step more or less: none proves growth."""
    first, second = max(1, place[0]), place[1]
    proof = consistency_proof(first, second, TREE.read)
    old, new = ROOTS[first], ROOTS[second]
    at = which % len(proof) if proof else 0
    false = [[*proof, old]]
    if proof:
        false.append([*proof[:at], flipped(proof[at], bit), *proof[at + 1 :]])
        false.append([*proof[:at], *proof[at + 1 :]])
        false.append([*proof[:at], proof[at] + b"\0", *proof[at + 1 :]])
    for steps in false:
        with pytest.raises(ProofError):
            check_consistency(first, old, second, new, steps)
    with pytest.raises(ProofError, match=f"the first {first} entries|the {second} entries"):
        check_consistency(first, flipped(old, bit), second, new, proof)
    with pytest.raises(ProofError):
        check_consistency(first, old, second, flipped(new, bit), proof)


@steady
@given(place=places(), other=st.integers(0, LARGEST))
def test_a_proof_of_growth_is_of_one_pair(place: tuple[int, int], other: int) -> None:
    """Given for another pair of sizes with their own roots, a proof that is not theirs fails."""
    first, second = place[0] + 1, place[1]
    proof = consistency_proof(first, second, TREE.read)
    for one, two in ((other, second), (first, other)):
        if (one, two) == (first, second) or one > two:
            continue
        if proof != consistency_proof(one, two, TREE.read):
            with pytest.raises(ProofError):
                check_consistency(one, ROOTS[one], two, ROOTS[two], proof)


@steady
@given(size=st.integers(1, LARGEST), place=st.integers(0), bit=BIT, share=st.integers(0))
def test_a_rewritten_history_does_not_go_on_from_what_was_signed(
    size: int, place: int, bit: int, share: int
) -> None:
    """An entry changed below a signed size cannot be joined to it by the log's own new proof."""
    first = 1 + share % size
    number = place % first
    leaves = [b"leaf %d" % n for n in range(size)]
    leaves[number] = flipped(leaves[number], bit)
    forged = Tree(leaves)

    with pytest.raises(ProofError):
        check_consistency(
            first,
            ROOTS[first],
            size,
            forged.root(size),
            consistency_proof(first, size, forged.read),
        )


def test_nothing_signed_goes_on_to_anything() -> None:
    """From the empty log nothing need be proved, but its own root is known."""
    check_consistency(0, EMPTY, 5, ROOTS[5], [])
    for first_root, second, second_root in (
        (ROOTS[1], 5, ROOTS[5]),
        (EMPTY, 0, ROOTS[1]),
        (ROOTS[1], 0, EMPTY),
    ):
        with pytest.raises(ProofError):
            check_consistency(0, first_root, second, second_root, [])
    with pytest.raises(ProofError):
        check_consistency(0, EMPTY, 5, ROOTS[5], [EMPTY])


@given(cuts=st.lists(st.integers(0, 9), max_size=12))
@settings(max_examples=100, deadline=None, derandomize=True)
def test_a_tree_grows_to_the_same_in_any_steps(cuts: list[int]) -> None:
    """Entries added one by one, in groups or all at once make the same nodes, each made once."""
    size, tops = 0, list[bytes]()
    nodes: list[tuple[tuple[int, int], bytes]] = []
    for cut in cuts:
        until = min(size + cut, LARGEST)
        made, tops = grow(size, tops, TREE.hashes[size:until])
        nodes, size = nodes + made, until

    above = {node: hash_ for node, hash_ in Tree.of(size).nodes.items() if node[0]}
    assert len(nodes) == len(above)
    assert dict(nodes) == above
    assert tops == [TREE.nodes[node] for node in peaks(size)]


@pytest.mark.parametrize(("number", "size"), [(-1, 5), (5, 5), (0, 0)])
def test_there_is_no_proof_of_an_entry_that_is_not_there(number: int, size: int) -> None:
    """Asked for an entry beyond the log, both the prover and the checker say so."""
    with pytest.raises(ValueError, match=f"has no entry {number}"):
        inclusion_proof(number, size, TREE.read)
    with pytest.raises(ProofError, match="beyond"):
        check_inclusion(EMPTY, number, size, [], EMPTY)


@pytest.mark.parametrize(("first", "second"), [(6, 5), (-1, 5)])
def test_a_log_does_not_begin_with_a_larger_one(first: int, second: int) -> None:
    """Asked to go on from a larger log, both the prover and the checker say so."""
    with pytest.raises(ValueError, match="cannot begin with"):
        consistency_proof(first, second, TREE.read)
    with pytest.raises(ProofError, match="cannot begin with"):
        check_consistency(first, EMPTY, second, EMPTY, [])


def test_an_inner_node_is_no_entry() -> None:
    """A node passed off as an entry, with the rest of its path, is a proof too short."""
    node, rest = TREE.nodes[1, 0], inclusion_proof(0, 8, TREE.read)[1:]

    with pytest.raises(ProofError, match="too short"):
        check_inclusion(node, 0, 8, rest, ROOTS[8])
    with pytest.raises(ProofError, match="too short"):
        check_consistency(2, TREE.nodes[1, 0], 8, ROOTS[4], [TREE.nodes[1, 1]])


def test_a_tree_of_another_height_is_another_tree() -> None:
    """A proof that goes on above the height of the size is too long, though the root is met."""
    proof = inclusion_proof(0, 8, TREE.read)

    with pytest.raises(ProofError, match="too long"):
        check_inclusion(TREE.hashes[0], 0, 4, proof, ROOTS[8])
    with pytest.raises(ProofError, match="too long"):
        check_consistency(2, ROOTS[2], 4, ROOTS[8], consistency_proof(2, 8, TREE.read))


@pytest.mark.parametrize("cut", [0, 31, 33])
def test_a_step_of_another_length_is_no_hash(cut: int) -> None:
    """It is told as such, before anything is hashed with it."""
    step = b"s" * cut

    with pytest.raises(ProofError, match="no hash of 32 bytes"):
        check_inclusion(TREE.hashes[0], 0, 2, [step], ROOTS[2])
    with pytest.raises(ProofError, match="no hash of 32 bytes"):
        check_consistency(1, ROOTS[1], 2, ROOTS[2], [step])
