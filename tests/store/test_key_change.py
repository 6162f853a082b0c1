"""A change of key: vouched for, said openly after a loss, and nothing missing worked around."""

from pathlib import Path

import pytest

from service.ledger.note import opened
from service.ledger.vouching import VouchingError, trusted_keys, vouched
from service.store.keyfiles import KeyringError
from service.store.keyring import ForkError, Keyring
from tests.store.keys import HILL, NOW, ORIGIN, OTHER, grown, names, rotate, sign, state


def test_a_changed_key_is_vouched_for_by_the_old_one(ring: Keyring, folder: Path) -> None:
    """The note leads from the old key to the new, which alone signs; the old secret is gone."""
    first = ring.signer(HILL, ORIGIN).verifier
    sign(ring, 5)

    note = rotate(ring, 8)
    second = ring.signer(HILL, ORIGIN).verifier

    assert trusted_keys(first, [note]) == [first, second]
    assert vouched(note).state == state(8)
    assert ring.vkeys(HILL).keys == (first, second)
    assert ring.vkeys(HILL).vouching == (note,)
    assert opened(sign(ring, 9), [first, second]).signed_by == (second,)
    assert names(folder) == ["key-2.pem", "last.txt", "vouching-2.txt"]


def test_keys_changed_again_and_again_make_one_chain(ring: Keyring) -> None:
    """From the first key to the fourth by three notes."""
    first = ring.signer(HILL, ORIGIN).verifier
    for size in (3, 5, 8):
        rotate(ring, size)

    history = ring.vkeys(HILL)
    assert trusted_keys(first, history.vouching) == list(history.keys)
    assert len(set(history.keys)) == 4


def test_the_state_of_a_change_binds_the_next_signature(ring: Keyring) -> None:
    """The vouching note is signed for a size too: nothing smaller follows it."""
    ring.signer(HILL, ORIGIN)
    rotate(ring, 8)

    with pytest.raises(ForkError, match="8 entries"):
        sign(ring, 7)
    with pytest.raises(ForkError, match="8 entries"):
        sign(ring, 9, OTHER)
    sign(ring, 9)


def test_a_key_is_not_changed_over_a_loss_in_silence(ring: Keyring, folder: Path) -> None:
    """A change of key does not lift the guard."""
    sign(ring, 12)

    with pytest.raises(ForkError):
        rotate(ring, 11)
    assert names(folder) == ["key-1.pem", "last.txt"]


def test_after_a_loss_the_log_begins_anew_and_says_so(ring: Keyring) -> None:
    """The note says in words that entries were lost; from there on the new line is guarded."""
    sign(ring, 12)

    note = rotate(ring, 10, OTHER, after_loss=True)

    assert vouched(note).after_loss
    assert "entries were lost or changed" in note
    sign(ring, 11, OTHER)
    with pytest.raises(ForkError):
        sign(ring, 12)
    rotate(ring, 12, OTHER)
    sign(ring, 12, OTHER)


def test_a_loss_is_not_claimed_where_there_is_none(ring: Keyring) -> None:
    """A signed note that says entries were lost is not made for a whole record."""
    sign(ring, 12)

    with pytest.raises(KeyringError, match="nothing is lost"):
        rotate(ring, 13, after_loss=True)


def test_a_key_that_is_not_there_is_not_changed(ring: Keyring) -> None:
    """There is nothing to change yet."""
    with pytest.raises(KeyringError, match="there is no key in"):
        rotate(ring, 1)


def test_a_change_without_a_reason_changes_nothing(ring: Keyring, folder: Path) -> None:
    """The reason is asked for before anything is done."""
    ring.signer(HILL, ORIGIN)

    with pytest.raises(VouchingError, match="reason"):
        ring.rotate(HILL, state(1), NOW, "", grown=grown(1))
    assert names(folder) == ["key-1.pem"]


@pytest.mark.parametrize("lost", ["vouching-2.txt", "key-3.pem"])
def test_a_file_of_the_keyring_that_is_missing_is_told(
    ring: Keyring, folder: Path, lost: str
) -> None:
    """A key or a note that was removed is not worked around."""
    ring.signer(HILL, ORIGIN)
    rotate(ring, 3)
    rotate(ring, 5)
    (folder / HILL / lost).unlink()

    with pytest.raises(KeyringError, match="put it back from its backup"):
        ring.signer(HILL, ORIGIN)


def test_a_note_that_was_changed_is_told(ring: Keyring, folder: Path) -> None:
    """A vouching note that both keys did not sign as it stands is damaged."""
    ring.signer(HILL, ORIGIN)
    rotate(ring, 3)
    path = folder / HILL / "vouching-2.txt"
    path.write_text(path.read_text(encoding="utf-8").replace("left", "gone"), encoding="utf-8")

    with pytest.raises(KeyringError, match=r"vouching note .* damaged"):
        ring.signer(HILL, ORIGIN)
