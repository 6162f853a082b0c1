"""The log's tree against RFC 6962 / RFC 9162 and other implementations of it.

Sources: RFC 9162, "Certificate Transparency Version 2.0" (2021), section 2.1, and RFC 6962 (2013);
the reference vectors of transparency-dev/merkle (Go), commit 417fb0c (2026-07-23): roots and hashes
read there, the single proofs from memory; PyPI's ``pymerkle`` 7 as an oracle on other trees.
"""

from collections.abc import Sequence
from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymerkle import InmemoryTree

from service.ledger.merkle import (
    check_consistency,
    check_inclusion,
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    node_hash,
)
from tests.ledger.tree import Tree

LEAVES = [
    bytes.fromhex(text)
    for text in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
TREE = Tree(LEAVES)

# From memory of the same vectors; a hash cannot agree by chance.
A = "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"
B = "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"
C = "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"
D = "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"
E = "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"
F = "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"
INCLUSION = [
    (0, 1, []),
    (0, 8, [A, B, C]),
    (5, 8, [D, E, ROOTS[4]]),
    (2, 3, [ROOTS[2]]),
    (1, 5, [ROOTS[1], B, D]),
]
CONSISTENCY = [
    (1, 1, []),
    (1, 8, [A, B, C]),
    (6, 8, [F, E, ROOTS[4]]),
    (2, 5, [B, D]),
]


def _hex(proof: Sequence[bytes]) -> list[str]:
    return [step.hex() for step in proof]


@pytest.mark.parametrize("size", range(9))
def test_the_root_of_the_first_leaves_is_that_of_the_reference(size: int) -> None:
    """Each of the nine roots is that of the reference, the empty tree's too."""
    assert TREE.root(size).hex() == ROOTS[size]


def test_leaves_and_nodes_are_hashed_apart() -> None:
    """The two hashes have different prefixes, so that a node cannot be passed off as a leaf."""
    leaf = "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    node = "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"

    assert leaf_hash(b"L123456").hex() == leaf
    assert node_hash(b"N123", b"N456").hex() == node


@pytest.mark.parametrize(("number", "size", "proof"), INCLUSION)
def test_a_proof_that_an_entry_is_in_is_that_of_the_reference(
    number: int, size: int, proof: list[str]
) -> None:
    """The audit paths are those of the reference, and hold."""
    found = inclusion_proof(number, size, TREE.read)

    assert _hex(found) == proof
    check_inclusion(TREE.hashes[number], number, size, found, bytes.fromhex(ROOTS[size]))


@pytest.mark.parametrize(("first", "second", "proof"), CONSISTENCY)
def test_a_proof_that_a_log_only_grew_is_that_of_the_reference(
    first: int, second: int, proof: list[str]
) -> None:
    """The consistency proofs are those of the reference, and hold."""
    found = consistency_proof(first, second, TREE.read)

    assert _hex(found) == proof
    check_consistency(
        first, bytes.fromhex(ROOTS[first]), second, bytes.fromhex(ROOTS[second]), found
    )


def test_the_tree_of_seven_that_the_standard_draws() -> None:
    """RFC 9162, 2.1.5: the proofs of the drawn tree are the nodes that it names (from memory)."""
    tree = Tree.of(7)
    a, b, c, d, e, f, j = tree.hashes
    g, h, i = node_hash(a, b), node_hash(c, d), node_hash(e, f)
    k, l_ = node_hash(g, h), node_hash(i, j)

    assert tree.root(7) == node_hash(k, l_)
    assert inclusion_proof(0, 7, tree.read) == [b, h, l_]
    assert inclusion_proof(3, 7, tree.read) == [c, g, l_]
    assert inclusion_proof(4, 7, tree.read) == [f, j, k]
    assert inclusion_proof(6, 7, tree.read) == [i, k]
    assert consistency_proof(3, 7, tree.read) == [c, d, g, l_]
    assert consistency_proof(4, 7, tree.read) == [l_]
    assert consistency_proof(6, 7, tree.read) == [i, j, k]


# The standard's own recursive definitions, written a second time without any kept node.
def _mth(leaves: Sequence[bytes]) -> bytes:
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return sha256(b"\0" + leaves[0]).digest()
    k = _below(len(leaves))
    return sha256(b"\1" + _mth(leaves[:k]) + _mth(leaves[k:])).digest()


def _subproof(first: int, leaves: Sequence[bytes], whole: bool) -> list[bytes]:
    if first == len(leaves):
        return [] if whole else [_mth(leaves)]
    k = _below(len(leaves))
    if first <= k:
        return [*_subproof(first, leaves[:k], whole), _mth(leaves[k:])]
    return [*_subproof(first - k, leaves[k:], False), _mth(leaves[:k])]


def _below(size: int) -> int:
    k = 1
    while 2 * k < size:
        k *= 2
    return k


@settings(max_examples=40, deadline=None, derandomize=True)
@given(leaves=st.lists(st.binary(max_size=40), min_size=1, max_size=70))
def test_roots_and_paths_are_those_of_another_implementation(leaves: list[bytes]) -> None:
    """On any tree ``pymerkle`` gives the same root at each size, and the same audit paths."""
    tree, oracle = Tree(leaves), InmemoryTree(algorithm="sha256")
    for leaf in leaves:
        oracle.append_entry(leaf)
    whole = len(leaves)

    assert [tree.root(n) for n in range(1, whole + 1)] == [
        oracle.get_root(n) for n in range(1, whole + 1)
    ]
    for number in range(whole):
        known = oracle.prove_inclusion(number + 1, whole).path  # it counts from 1, own leaf first
        assert [tree.hashes[number], *inclusion_proof(number, whole, tree.read)] == known


@settings(max_examples=60, deadline=None, derandomize=True)
@given(second=st.integers(1, 70), share=st.floats(0, 1))
def test_consistency_proofs_are_those_of_the_definition(second: int, share: float) -> None:
    """RFC 9162, 2.1.4.1, written out without any kept node, gives the same proofs."""
    leaves = [b"%d" % n for n in range(second)]
    first = max(1, round(share * second))
    tree = Tree(leaves)

    assert tree.root(second) == _mth(leaves)
    assert consistency_proof(first, second, tree.read) == _subproof(first, leaves, True)
