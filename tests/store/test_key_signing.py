"""The guard: a log never signs two histories, whoever asks and however many at once."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.ledger.checkpoint import parse
from service.ledger.note import opened
from service.store.keyfiles import KeyringError
from service.store.keyring import ForkError, Keyring
from tests.ledger.tree import Tree
from tests.store.keys import HILL, OTHER, TREE, grown, sign, state


def test_a_checkpoint_is_signed_and_kept(ring: Keyring, folder: Path) -> None:
    """The note is the log's, and lies on disk as given out."""
    note = sign(ring, 12)

    assert parse(opened(note, ring.vkeys(HILL).keys).text) == state(12)
    assert (folder / HILL / "last.txt").read_text(encoding="utf-8") == note
    assert sign(ring, 12) == note


def test_a_growing_log_is_signed_again_and_again(ring: Keyring) -> None:
    """Each checkpoint goes on from the last; the empty log's too."""
    for size in (0, 0, 1, 7, 7, 40):
        assert parse(opened(sign(ring, size), ring.vkeys(HILL).keys).text) == state(size)


def test_an_older_size_is_signed_and_the_largest_kept(ring: Keyring, folder: Path) -> None:
    """A checkpoint for a past quarter may be signed late; the guard still holds the newest."""
    newest = sign(ring, 20)

    older = ring.sign(HILL, state(8), grown(20))

    assert parse(opened(older, ring.vkeys(HILL).keys).text) == state(8)
    assert (folder / HILL / "last.txt").read_text(encoding="utf-8") == newest


@pytest.mark.parametrize(("size", "tree"), [(11, TREE), (12, OTHER), (30, OTHER), (0, TREE)])
def test_two_histories_are_never_signed(ring: Keyring, folder: Path, size: int, tree: Tree) -> None:
    """Shorter, other at the same size or other below: nothing is signed, and it says why."""
    last = sign(ring, 12)

    with pytest.raises(ForkError, match=r"shorter or other .* 12 entries: .* newer backup"):
        sign(ring, size, tree)
    assert (folder / HILL / "last.txt").read_text(encoding="utf-8") == last
    sign(ring, 13)


def test_the_same_size_with_another_root_is_never_signed(ring: Keyring) -> None:
    """Even if who asks says that the log has grown."""
    sign(ring, 12)

    with pytest.raises(ForkError):
        ring.sign(HILL, state(12, OTHER), lambda _: True)


def test_a_damaged_guard_signs_nothing(ring: Keyring, folder: Path) -> None:
    """What was signed last cannot be read: nothing is signed on a guess."""
    sign(ring, 12)
    last = folder / HILL / "last.txt"

    for false in ("", last.read_text(encoding="utf-8").replace("12", "11"), "\xff"):
        last.write_text(false, encoding="latin-1" if false == "\xff" else "utf-8")
        with pytest.raises(KeyringError, match=r"last\.txt"):
            sign(ring, 13)


def test_many_that_sign_at_once_leave_the_largest_on_disk(folder: Path) -> None:
    """Eight sign what they saw, in any order; the guard holds the largest."""
    with ThreadPoolExecutor(8) as pool:
        rings = [(Keyring(folder), size) for size in range(1, 25)]
        notes = list(pool.map(lambda r: r[0].sign(HILL, state(r[1]), grown(40)), rings))

    keys = Keyring(folder).vkeys(HILL).keys
    last = (folder / HILL / "last.txt").read_text(encoding="utf-8")
    assert len({parse(opened(note, keys).text) for note in notes}) == 24
    assert parse(opened(last, keys).text) == state(24)
