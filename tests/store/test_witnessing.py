"""A witness's files: its key for itself, and a state that moves only forward."""

import os
from pathlib import Path

import pytest
from filelock import FileLock

from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.merkle import consistency_proof
from service.ledger.note import NoteError, opened, sign
from service.ledger.witness import WitnessError
from service.store.faults import BusyError
from service.store.keyfiles import KeyringError
from service.store.witnessing import create_witness, witness
from tests.ledger.signers import ORIGIN, signer
from tests.ledger.tree import Tree

LOG = signer(1)
TREE = Tree.of(40)


class Party:
    """A witness in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.key, self.state = folder / "witness.pem", folder / "state.txt"
        self.verifier = create_witness("witness.example", self.key)

    def sign(self, size: int, *, since: int = 0) -> str:
        """Sign the log at a size, with a proof from an earlier one."""
        note = sign(Checkpoint(ORIGIN, size, TREE.root(size)).text, LOG)
        proof = consistency_proof(since, size, TREE.read) if since <= size else []
        return witness(note, [LOG.verifier], proof, self.key, self.state)[0]

    @property
    def seen(self) -> int:
        """The size in its state."""
        return parse(opened(self.state.read_text("utf-8"), [self.verifier]).text).size


@pytest.fixture
def party(tmp_path: Path) -> Party:
    """A witness that has signed nothing yet."""
    return Party(tmp_path)


def test_what_was_signed_is_kept_and_compared_with(party: Party) -> None:
    """From 5 to 12 with a proof; what was given out is what the state holds."""
    party.sign(5)
    note = party.sign(12, since=5)

    assert party.state.read_text("utf-8") == note
    assert opened(note, [party.verifier, LOG.verifier]).signed_by == (LOG.verifier, party.verifier)


def test_a_refusal_leaves_the_state(party: Party) -> None:
    """A shorter log, or one without a proof, is not signed, and not remembered either."""
    party.sign(12)

    for size, since in ((11, 12), (20, 0)):
        with pytest.raises(WitnessError):
            party.sign(size, since=since)
        assert party.seen == 12


def test_nothing_is_given_out_before_it_is_on_disk(
    party: Party, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the state cannot be kept, nothing is signed."""
    party.sign(5)

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(KeyringError, match="No space left"):
            party.sign(12, since=5)
    assert party.seen == 5


def test_a_state_that_is_not_its_own_is_refused(party: Party) -> None:
    """A state of another, or a changed one, would let it sign a second history."""
    party.sign(5)
    changed = party.state.read_text("utf-8").replace("\n5\n", "\n4\n")

    for false in (changed, "", sign(Checkpoint(ORIGIN, 1, TREE.root(1)).text, LOG)):
        party.state.write_text(false, "utf-8")
        with pytest.raises(KeyringError, match="not what this witness signed last"):
            party.sign(12, since=5)


def test_its_key_is_for_itself(party: Party) -> None:
    """Made with mode 600; opened to others, or gone, it does not sign."""
    assert party.key.stat().st_mode & 0o777 == 0o600
    party.key.chmod(0o644)
    with pytest.raises(KeyringError, match="chmod 600"):
        party.sign(5)
    party.key.unlink()
    with pytest.raises(KeyringError, match="there is no key"):
        party.sign(5)


def test_a_witness_has_a_proper_name_and_one_key(party: Party) -> None:
    """No spaces; and a key is not made over another."""
    with pytest.raises(NoteError, match="no name of a key"):
        create_witness("two words", party.key.with_name("other.pem"))
    with pytest.raises(KeyringError, match="already"):
        create_witness("witness.example", party.key)


def test_a_state_in_use_elsewhere_is_busy(party: Party, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two that sign with one state at once could sign two histories: one waits."""
    monkeypatch.setattr("service.store.witnessing.BUSY_S", 0)

    with FileLock(f"{party.state}.lock"), pytest.raises(BusyError, match="another process"):
        party.sign(5)


def test_a_state_that_cannot_be_kept_or_read_is_told(party: Party, tmp_path: Path) -> None:
    """A file where its folder should be, or a folder in its place."""
    party.state = party.key / "state.txt"
    with pytest.raises(KeyringError, match="cannot be written"):
        party.sign(5)
    party.state = tmp_path
    with pytest.raises(KeyringError, match="cannot be read"):
        party.sign(5)
