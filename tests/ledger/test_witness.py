"""A witness signs a log that only grew, and no other."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.merkle import consistency_proof
from service.ledger.note import opened, sign
from service.ledger.witness import WitnessError, cosigned
from tests.ledger.signers import ORIGIN, signer
from tests.ledger.tree import Tree, flipped

LOG, NEXT, WITNESS = signer(1), signer(2), signer(3, "witness.example")
KEYS = [LOG.verifier]
TREE, FORGED = Tree.of(40), Tree([b"forged", *(b"leaf %d" % n for n in range(1, 40))])


def _state(size: int, tree: Tree = TREE, origin: str = ORIGIN) -> Checkpoint:
    return Checkpoint(origin, size, tree.root(size))


def _note(size: int, tree: Tree = TREE) -> str:
    return sign(_state(size, tree).text, LOG)


def _proof(first: int, second: int, tree: Tree = TREE) -> list[bytes]:
    return consistency_proof(first, second, tree.read)


def test_the_first_checkpoint_is_taken_on_the_logs_word() -> None:
    """There is nothing to compare it with: both signatures stand below it then."""
    signed = cosigned(_note(12), KEYS, None, [], WITNESS)

    assert opened(signed, [LOG.verifier, WITNESS.verifier]).signed_by == (
        LOG.verifier,
        WITNESS.verifier,
    )
    assert signed.startswith(_note(12))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(first=st.integers(0, 40), more=st.integers(0, 40))
def test_growth_is_signed(first: int, more: int) -> None:
    """From any size to any larger one, with the log's proof."""
    second = min(first + more, 40)
    signed = cosigned(_note(second), KEYS, _state(first), _proof(first, second), WITNESS)

    assert parse(opened(signed, [WITNESS.verifier]).text) == _state(second)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(first=st.integers(1, 40), more=st.integers(0, 40))
def test_a_rewritten_log_is_not_signed(first: int, more: int) -> None:
    """An entry below the last size changed: the log's own proof from it does not help."""
    second = min(first + more, 40)

    with pytest.raises(WitnessError, match="does not go on from what was last signed"):
        cosigned(_note(second, FORGED), KEYS, _state(first), _proof(first, second, FORGED), WITNESS)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(first=st.integers(1, 39), bit=st.integers(0))
def test_a_false_proof_is_not_enough(first: int, bit: int) -> None:
    """One bit of the proof, none at all, or one of another size: nothing is signed."""
    proof = _proof(first, 40)
    for false in ([*proof[:-1], flipped(proof[-1], bit)], [], [*proof, proof[0]]):
        with pytest.raises(WitnessError, match=f"wants a proof from {first} to 40 entries"):
            cosigned(_note(40), KEYS, _state(first), false, WITNESS)


def test_a_shorter_log_is_not_signed() -> None:
    """Entries are lost, or somebody shows two logs: it says how many there were."""
    with pytest.raises(WitnessError, match="has 11 entries, but had 12 when it was last signed"):
        cosigned(_note(11), KEYS, _state(12), _proof(11, 12), WITNESS)


def test_another_log_is_not_signed_for_this_one() -> None:
    """A state is one log's; another log's first checkpoint would wipe it."""
    with pytest.raises(WitnessError, match="keep a state for each log"):
        cosigned(_note(12), KEYS, _state(5, origin="custody.example/vale"), [], WITNESS)


def test_a_log_signs_its_own_checkpoints() -> None:
    """A key of another log does not sign for this one, even if the witness knows it."""
    other = signer(7, "custody.example/vale")
    note = sign(_state(12).text, other)

    with pytest.raises(WitnessError, match="has not signed this checkpoint of its own"):
        cosigned(note, [*KEYS, other.verifier], None, [], WITNESS)


def test_a_witness_is_no_log() -> None:
    """A note with the witness's own signature alone is none of the log's."""
    with pytest.raises(WitnessError, match="has not signed this checkpoint of its own"):
        cosigned(sign(_state(12).text, WITNESS), KEYS, None, [], WITNESS)


@pytest.mark.parametrize(
    "note",
    [
        "",
        _state(12).text,
        sign(_state(12).text, NEXT),
        sign("no checkpoint\n", LOG),
        _note(12).replace("12\n", "13\n"),
        _note(12).replace("\n", "\r\n"),
    ],
)
def test_what_is_no_checkpoint_of_the_log_is_not_signed(note: str) -> None:
    """Unsigned, signed by an unknown key, no checkpoint, changed or mangled."""
    with pytest.raises(WitnessError, match="no checkpoint of the log"):
        cosigned(note, KEYS, None, [], WITNESS)


def test_what_was_signed_already_is_given_as_it_is() -> None:
    """Asked twice, the note does not grow."""
    signed = cosigned(_note(12), KEYS, None, [], WITNESS)

    assert cosigned(signed, KEYS, _state(12), [], WITNESS) == signed
