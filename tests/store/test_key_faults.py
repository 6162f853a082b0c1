"""The power fails, the disk is full, others are at it: there is always one key, vouched for."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import pytest
from filelock import FileLock

from service.ledger.checkpoint import parse
from service.ledger.note import Verifier, opened
from service.ledger.vouching import trusted_keys
from service.store.faults import BusyError
from service.store.keyfiles import KeyringError, create_key, new_signer
from service.store.keyring import Keyring
from tests.store.keys import HILL, ORIGIN, OTHER, TREE, names, rotate, sign, state


class PowerCut(BaseException):
    """The machine stops: nothing after it is done, no clearing up either."""


@contextmanager
def power_cut(after: int) -> Iterator[None]:
    """Let so many calls to the disk pass, then none."""
    calls = count()
    real = {name: getattr(os, name) for name in ("fsync", "replace", "link", "unlink", "open")}

    def counted(name: str) -> Callable[..., object]:
        def call(*args: object, **words: object) -> object:
            if next(calls) >= after:
                raise PowerCut
            return real[name](*args, **words)

        return call

    with pytest.MonkeyPatch.context() as patch:
        for name in real:
            patch.setattr(os, name, counted(name))
        yield


def cut_short(act: Callable[[], object]) -> Iterator[None]:
    """Do it with the power cut ever later, until it is done; give the turn after each cut."""
    for after in range(200):
        try:
            with power_cut(after):
                act()
            break
        except PowerCut:
            yield
    else:
        pytest.fail("it never came to its end")
    assert after > 5


def test_power_cut_at_any_moment_of_the_first_use_leaves_one_key_or_none(tmp_path: Path) -> None:
    """Started again, it signs; no torn file is left."""
    numbers = count()

    def begin() -> None:
        Keyring(tmp_path / str(next(numbers))).signer(HILL, ORIGIN)

    for number, _ in enumerate(cut_short(begin)):
        folder = tmp_path / str(number)
        Keyring(folder).signer(HILL, ORIGIN)
        assert names(folder) == ["key-1.pem"]


def test_power_cut_at_any_moment_of_a_signature_keeps_the_guard(
    ring: Keyring, folder: Path
) -> None:
    """The last checkpoint is the old or the new one, whole; and the log is signed again."""
    first, second = sign(ring, 5), state(9)
    kept = set()
    for _ in cut_short(lambda: sign(Keyring(folder), 9)):
        last = (folder / HILL / "last.txt").read_text(encoding="utf-8")
        kept.add(parse(opened(last, Keyring(folder).vkeys(HILL).keys).text).size)
        (folder / HILL / "last.txt").write_text(first, encoding="utf-8")
        assert names(folder) == ["key-1.pem", "last.txt"]

    assert kept == {5, 9}
    assert parse(opened(sign(ring, 9), ring.vkeys(HILL).keys).text) == second


@pytest.mark.parametrize("after_loss", [False, True])
def test_power_cut_at_any_moment_of_a_change_leaves_a_key_that_is_vouched_for(
    tmp_path: Path, after_loss: bool
) -> None:
    """The old key signs, or the new one with the note on disk: never neither, never two."""
    numbers, firsts = count(), dict[int, Verifier]()
    tree = OTHER if after_loss else TREE

    def change() -> None:
        rotate(Keyring(tmp_path / str(next(numbers))), 10, tree, after_loss=after_loss)

    for number in range(60):
        ring = Keyring(tmp_path / str(number))
        sign(ring, 9)
        firsts[number] = ring.signer(HILL, ORIGIN).verifier

    chains = set()
    for number, _ in enumerate(cut_short(change)):
        folder, first = tmp_path / str(number), firsts[number]
        ring = Keyring(folder)
        history = ring.vkeys(HILL)
        chains.add(len(history.keys))
        assert trusted_keys(first, history.vouching) == list(history.keys)
        if len(history.keys) == 1:
            rotate(ring, 10, tree, after_loss=after_loss)
        sign(ring, 11, tree)
        assert names(folder) == ["key-2.pem", "last.txt", "vouching-2.txt"]
    assert chains == {1, 2}


def test_another_key_in_the_place_of_the_vouched_one_is_told(ring: Keyring, folder: Path) -> None:
    """A whole key of the right name that no note names does not sign."""
    ring.signer(HILL, ORIGIN)
    rotate(ring, 3)
    (folder / HILL / "key-2.pem").unlink()
    create_key(folder / HILL / "key-2.pem", new_signer(ORIGIN))

    with pytest.raises(KeyringError, match=r"not the key that .*vouching-2\.txt names"):
        sign(ring, 4)


def test_a_full_disk_signs_nothing(
    ring: Keyring, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No key is made or changed, no signature given out; all goes on when there is room."""

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    def each_refused(*acts: Callable[[], object]) -> None:
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", full)
            for act in acts:
                with pytest.raises(KeyringError, match="No space left"):
                    act()

    each_refused(lambda: sign(ring, 5))
    sign(ring, 5)
    each_refused(lambda: sign(ring, 6), lambda: rotate(ring, 6))
    assert names(folder) == ["key-1.pem", "last.txt"]
    sign(ring, 6)


def test_an_old_key_that_cannot_be_removed_is_told_and_removed_later(
    ring: Keyring, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The change is made all the same: the new key is in force, the old goes at the next use."""
    ring.signer(HILL, ORIGIN)

    def stuck(path: Path) -> None:
        raise KeyringError("the old key cannot be removed")

    with monkeypatch.context() as patch:
        patch.setattr("service.store.keyring.destroy", stuck)
        with pytest.raises(KeyringError, match="cannot be removed"):
            rotate(ring, 3)
    assert "key-1.pem" in names(folder)
    sign(ring, 4)
    assert names(folder) == ["key-2.pem", "last.txt", "vouching-2.txt"]


def test_keys_in_use_elsewhere_are_busy(
    ring: Keyring, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who waits too long for another process is told to try again."""
    ring.signer(HILL, ORIGIN)
    monkeypatch.setattr("service.store.keyring.BUSY_S", 0)

    with FileLock(folder / HILL / ".lock"), pytest.raises(BusyError, match="another process"):
        sign(ring, 1)
