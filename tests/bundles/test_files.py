"""A bundle is exactly the files that its contents list, to the byte."""

import random
from io import BytesIO
from itertools import islice

import pytest

from service.bundles.archive import BundleError
from service.bundles.verify import verify
from tests.bundles.made import changed, failed, files_of, later, packed, signed_anew, whole

FILES = sorted(files_of(later()[2]))


def found_by(archive: bytes, most: int = 5) -> str:
    """What the outer checks say of an archive, or why it is none."""
    try:
        checks = islice(verify(BytesIO(archive)), most)
        return " ".join(check.said for check in checks if check.holds is False)
    except BundleError as error:
        return str(error)


@pytest.mark.parametrize("name", FILES)
def test_a_byte_changed_in_any_file_is_found_and_the_file_named(name: str) -> None:
    """The first byte turned into any other, the last one gone, another put in between."""
    chance = random.Random(name)
    content, other = files_of(later()[2])[name], chance.randbytes(1)
    turned = bytes([content[0] ^ chance.randrange(1, 256)]) + content[1:]
    between = chance.randrange(len(content))
    for wrong in (turned, content[:-1], content[:between] + other + content[between:]):
        said = found_by(changed(later()[2], name, lambda _, wrong=wrong: wrong))  # type: ignore[misc]
        assert name in said, said


@pytest.mark.parametrize("name", FILES)
def test_a_file_left_out_is_missed_by_name(name: str) -> None:
    """And one that is listed twice or besides is named too."""
    files = files_of(whole()[1])
    del files[name]
    assert name in found_by(packed(files))


@pytest.mark.parametrize("name", ["keys/key-2.vkey", "csv/more.csv", "read-me.txt", "keys/a.txt"])
def test_a_file_laid_beside_the_others_is_named(name: str) -> None:
    """A bundle is exactly what its contents list; nor may the service list what belongs to none."""
    files = files_of(whole()[1]) | {name: b"more\n"}
    assert name in found_by(packed(files))
    assert name in " ".join(failed(signed_anew(files, whole()[0].signers[0])).values())
