"""The zip file around a bundle: one form only, and a hostile one is refused in a sentence."""

import random
import struct
import zipfile
from io import BytesIO

import pytest

from service.bundles.archive import BundleError, altered, repacked, unpacked
from service.bundles.verify import verify
from tests.bundles.made import checked, failed, files_of, packed, whole

SMALL = {"a.txt": b"one\n" * 40, "record/b.jsonl": b"", "keys/c.pem": bytes(range(256))}


def sound(archive: bytes) -> bool:
    """Whether the archive is read and nothing about it is out of the ordinary."""
    try:
        files = unpacked(archive)
    except BundleError:
        return False
    same = {file.name: file.content for file in files} == SMALL
    return same and not altered(archive, files) and not repacked(files)


def zipped(*named: tuple[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    """An archive as anybody's zip program writes it."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", how) as opened:
        for name, content in named:
            opened.writestr(name, content)
    return out.getvalue()


def test_every_bit_of_an_archive_counts() -> None:
    """Each single bit turned over, in names, times, flags, sizes or contents, is found."""
    archive = packed(SMALL)
    assert sound(archive)
    for at in range(len(archive)):
        for bit in range(8):
            turned = bytearray(archive)
            turned[at] ^= 1 << bit
            assert not sound(bytes(turned)), f"byte {at}, bit {bit}"


def test_what_is_added_around_an_archive_is_found() -> None:
    """Bytes before it, behind it, and between its files; a comment; a time."""
    archive = packed(SMALL)
    for other in (b"x" + archive, archive + b"x", archive + archive, archive[:-2] + b"\1\0x"):
        assert not sound(other)
    assert not sound(zipped(*SMALL.items()))


def test_the_same_files_give_the_same_archive() -> None:
    """There is no time of writing in it."""
    assert packed(SMALL) == packed(SMALL)


def test_a_bundle_zipped_anew_holds_but_is_no_longer_the_one_that_was_written() -> None:
    """Only the archive is another: what is signed in it is as it was."""
    log, made = whole()
    again = zipped(*files_of(made).items())
    wrong = [check for check in checked(again, key=log.signers[0].verifier) if not check.holds]

    assert [check.name for check in wrong] == ["archive"]
    assert "but each file in it is as contents.txt lists it" in wrong[0].said


def test_what_was_changed_in_a_bundle_zipped_anew_is_named() -> None:
    """A file changed, missing, put in, or in another's place: it is not the zip file alone."""
    files = files_of(whole()[1])
    rest = {name: content for name, content in files.items() if name != "csv/open.csv"}
    last = {"csv/open.csv": files["csv/open.csv"]}
    changed, put_in = {"csv/open.csv": b"container\r\n"}, {"csv/more.csv": b""}
    for other, said in (
        (files | changed, "csv/open.csv was changed"),
        (rest, "csv/open.csv is missing"),
        (files | put_in, "csv/more.csv was put in"),
        (rest | last, " stands where csv/open.csv belongs"),
    ):
        found = failed(zipped(*other.items()))
        assert "and what is in it is not what was written" in found["archive"]
        assert said in found["archive"] and said in found["files"]
        assert "archive" not in failed(packed(other))


@pytest.mark.parametrize(
    ("archive", "sentence"),
    [
        (b"", "no zip file"),
        (b"%PDF-1.7 is another file", "no zip file"),
        (packed(SMALL)[:-30], "begins as a zip file but does not end as one"),
        (zipped(("a.txt", b"")), "contents.txt is not in it"),
        (zipped(("../a.txt", b"")), "cannot be named"),
        (zipped(("/etc/a.txt", b"")), "cannot be named"),
        (zipped(("a\\b.txt", b"")), "cannot be named"),
        (zipped(("a/b/c.txt", b"")), "cannot be named"),
        (zipped(("é.txt", b"")), "cannot be named"),
        (zipped(("a.txt-.pdf", b"")).replace(b"a.txt-", b"a.txt\0"), "cannot be named"),
        (zipped(*((f"f{n}.txt", b"") for n in range(600))), "600 files"),
        (zipped(("bomb.txt", bytes(60_000_000))), "no bundle has as many"),
        (zipped(("a.txt", b"x"), how=zipfile.ZIP_LZMA), "packed in a way that no bundle uses"),
    ],
)  # fmt: skip
def test_what_is_no_bundle_is_refused_in_a_sentence(archive: bytes, sentence: str) -> None:
    """Not a zip, cut short, odd names, too many files, far too large: said, never tried."""
    with pytest.raises(BundleError, match=sentence):
        verify(BytesIO(archive))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_files_of_one_name_are_refused() -> None:
    """Readers differ in which of the two they show."""
    with pytest.raises(BundleError, match=r"two files in it are named a\.txt"):
        verify(BytesIO(zipped(("a.txt", b"one"), ("a.txt", b"two"))))


def test_a_size_that_is_not_true_is_refused() -> None:
    """A directory that promises four bytes for a file of millions unpacks no more than it says."""
    archive = bytearray(zipped(("a.txt", bytes(5_000_000))))
    directory = archive.rindex(b"PK\1\2")
    archive[directory + 24 : directory + 28] = struct.pack("<L", 4)
    with pytest.raises(BundleError, match=r"a\.txt is damaged"):
        unpacked(bytes(archive))


def test_noise_in_a_bundle_never_ends_the_verification() -> None:
    """Random bytes written over a bundle's end as failed checks or as a sentence."""
    chance = random.Random(7)
    made = whole()[1]
    for _ in range(40):
        noisy = bytearray(made)
        for _ in range(chance.choice([1, 3, 200])):
            noisy[chance.randrange(len(noisy))] ^= chance.randrange(1, 256)
        try:
            assert any(check.holds is False for check in checked(bytes(noisy)))
        except BundleError as error:
            assert str(error)
