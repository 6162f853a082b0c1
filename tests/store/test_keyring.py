"""Keys on disk: made once, at first use, and refused when they may not be ours alone."""

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.ledger.checkpoint import Checkpoint
from service.store.keyfiles import KeyringError, create_key, new_signer, read_key
from service.store.keyring import Keyring
from tests.store.keys import HILL, ORIGIN, TREE, grown, names, sign


def test_a_key_is_made_at_first_use_for_us_alone(ring: Keyring, folder: Path) -> None:
    """Before it there is none; after it the same one, in a file and folders nobody else reads."""
    assert ring.vkeys(HILL).keys == ()

    signer = ring.signer(HILL, ORIGIN)

    assert ring.signer(HILL, ORIGIN).verifier == signer.verifier
    assert ring.vkeys(HILL).keys == (signer.verifier,)
    assert names(folder) == ["key-1.pem"]
    for path, mode in (
        (folder, 0o700),
        (folder / HILL, 0o700),
        (folder / HILL / "key-1.pem", 0o600),
    ):
        assert path.stat().st_mode & 0o777 == mode


def test_each_facility_has_a_key_of_its_own(ring: Keyring) -> None:
    """Two facilities of one service do not sign with one key."""
    hill, vale = ring.signer(HILL, ORIGIN), ring.signer("vale", "custody.example/vale")

    assert hill.verifier.public_key != vale.verifier.public_key


def test_the_name_of_a_log_stays_when_the_label_address_changes(ring: Keyring) -> None:
    """A later host gives no new name: who follows the log would not know it again."""
    ring.signer(HILL, ORIGIN)

    assert ring.signer(HILL, "new.example/hill").name == ORIGIN
    with pytest.raises(KeyringError, match=r"of custody\.example/hill, not of new\.example/hill"):
        ring.sign(HILL, Checkpoint("new.example/hill", 1, TREE.root(1)), grown(1))


def test_many_at_once_make_one_key(folder: Path) -> None:
    """Eight that begin at once all sign with the same key."""
    with ThreadPoolExecutor(8) as pool:
        signers = pool.map(lambda _: Keyring(folder).signer(HILL, ORIGIN), range(8))

    assert len({signer.verifier for signer in signers}) == 1
    assert names(folder) == ["key-1.pem"]


def test_a_key_is_never_written_over(tmp_path: Path) -> None:
    """A second key in the same place is refused, and the first one stays."""
    path, signer = tmp_path / "key.pem", new_signer("a")
    create_key(path, signer)

    with pytest.raises(KeyringError, match="already"):
        create_key(path, new_signer("a"))
    assert read_key(path).verifier == signer.verifier
    assert [p.name for p in tmp_path.iterdir()] == ["key.pem"]


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o644])
def test_a_key_that_others_can_read_is_refused(ring: Keyring, folder: Path, mode: int) -> None:
    """It may have been copied: it says how to close it, and to change it."""
    ring.signer(HILL, ORIGIN)
    path = folder / HILL / "key-1.pem"
    path.chmod(mode)

    with pytest.raises(KeyringError, match=r"open to others.*chmod 600"):
        sign(ring, 1)


@pytest.mark.parametrize("inner", [False, True])
def test_a_folder_that_others_can_enter_is_refused(
    ring: Keyring, folder: Path, inner: bool
) -> None:
    """Who can write into the folder could put another key there."""
    ring.signer(HILL, ORIGIN)
    (folder / HILL if inner else folder).chmod(0o755)

    with pytest.raises(KeyringError, match=r"open to others.*chmod 700"):
        ring.vkeys(HILL)


def test_a_key_of_another_user_is_refused(
    ring: Keyring, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A service run as another user than the one that made the key says so."""
    ring.signer(HILL, ORIGIN)
    monkeypatch.setattr(os, "geteuid", lambda: (folder / HILL).stat().st_uid + 1)

    with pytest.raises(KeyringError, match="belongs to another user"):
        ring.signer(HILL, ORIGIN)


def test_a_damaged_key_is_refused(ring: Keyring, folder: Path) -> None:
    """Empty, cut off, another file, another key below the name: no traceback, no new key."""
    ring.signer(HILL, ORIGIN)
    path = folder / HILL / "key-1.pem"
    whole = path.read_bytes()
    vkey, _, pem = whole.partition(b"\n")
    create_key(folder / "other.pem", new_signer(ORIGIN))
    other = (folder / "other.pem").read_bytes().partition(b"\n")[2]

    for false in (b"", b"\xff\xfe", vkey, pem, whole[:150], vkey + b"\n" + other, b"a+b+c\n" + pem):
        path.write_bytes(false)
        with pytest.raises(KeyringError, match="damaged"):
            ring.signer(HILL, ORIGIN)
        assert path.read_bytes() == false


def test_a_folder_in_the_place_of_a_key_is_refused(ring: Keyring, folder: Path) -> None:
    """It is said, and nothing is made in its place."""
    ring.signer(HILL, ORIGIN)
    (folder / HILL / "key-1.pem").unlink()
    (folder / HILL / "key-1.pem").mkdir()

    with pytest.raises(KeyringError, match="Is a directory"):
        ring.signer(HILL, ORIGIN)


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A setting that points at a file is said to."""
    (tmp_path / "keys").write_text("no folder")

    with pytest.raises(KeyringError, match="keys"):
        Keyring(tmp_path / "keys").signer(HILL, ORIGIN)


def test_a_lost_key_is_not_quietly_made_anew(ring: Keyring, folder: Path) -> None:
    """A new key nobody vouches for would look like a forger's: put the old one back."""
    sign(ring, 5)
    (folder / HILL / "key-1.pem").unlink()

    with pytest.raises(KeyringError, match="put it back from its backup"):
        sign(ring, 6)
    assert names(folder) == ["last.txt"]
