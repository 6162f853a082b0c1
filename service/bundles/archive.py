"""The zip file around a bundle: written the same for the same files, read without trust.

A zip file has many places to hide a change in that no reader shows: comments, times, flags, bytes
between the files. A bundle has one form only, and each byte of it is compared.
"""

import re
import struct
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import IO, BinaryIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

FILES_MAX = 500
BYTES_MAX = 2_000_000_000
RATIO_MAX = 200
"""Bytes that a byte of the archive may unpack to; those of a record unpack to about ten."""
_UNPACKED_FREE = 10_000_000
_PATH = re.compile(r"(?:[A-Za-z0-9][A-Za-z0-9_-]*/)?[A-Za-z0-9][A-Za-z0-9._-]{0,120}")
_NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The first moment a zip archive can write."""
_DATE = 1 << 5 | 1
_READABLE = 0o644 << 16
_UNIX, _VERSION = 3, 20
_ENCRYPTED = 1
_ZIP = b"PK\3\4"
_LOCAL = struct.Struct("<4s2B4H3L2H")
_CENTRAL = struct.Struct("<4s4B4H3L5H2L")
_END = struct.Struct("<4s4H2LH")


class BundleError(ValueError):
    """A file is no bundle, or cannot be read as one; the message says why."""


@dataclass(frozen=True, slots=True)
class Packed:
    """One file of an archive: its name, its content, and the bytes it is packed in."""

    name: str
    content: bytes
    raw: memoryview


class Writer:
    """Writes files into an archive one after another."""

    def __init__(self, out: BinaryIO) -> None:
        self._zip = ZipFile(out, "w")

    @contextmanager
    def file(self, path: str) -> Iterator[IO[bytes]]:
        """Open the next file for writing."""
        entry = ZipInfo(path, _NO_TIME)
        entry.compress_type, entry.external_attr, entry.create_system = (
            ZIP_DEFLATED, _READABLE, _UNIX
        )  # fmt: skip
        with self._zip.open(entry, "w") as opened:
            yield opened

    def close(self) -> None:
        """Finish the archive."""
        self._zip.close()


def unpacked(archive: bytes, *, any_name: bool = False, most: int = BYTES_MAX) -> list[Packed]:
    """Give the files of an archive in the order of its directory; a workbook's have any name.

    ``most`` is the bytes to which all of it may unpack.

    Raises:
        BundleError: it is no zip file, is damaged, or holds what no bundle holds.
    """
    try:
        with ZipFile(BytesIO(archive)) as opened:
            entries = opened.infolist()
            _bounded(entries, len(archive), any_name, most)
            return [_unpacked(opened, archive, entry) for entry in entries]
    except BundleError:
        raise
    except BadZipFile as error:
        if archive.startswith(_ZIP):
            raise BundleError(
                "it begins as a zip file but does not end as one: it was cut short or damaged on "
                f"the way; fetch it again ({error})"
            ) from error
        raise BundleError(f"this is no zip file: {error}") from error
    except _FAULTS as error:
        raise BundleError(f"the zip file is damaged: {error}") from error


_FAULTS = (
    NotImplementedError, RuntimeError, EOFError, OSError, OverflowError, struct.error,
    ValueError, zlib.error, MemoryError, IndexError, KeyError,
)  # fmt: skip
"""What the library says of archives that are not as they should be, besides BadZipFile."""


def _bounded(entries: Iterable[ZipInfo], packed_bytes: int, any_name: bool, most: int) -> None:
    """Refuse what could fill a disk or memory, or write beside the folder it is unpacked in."""
    names: set[str] = set()
    whole = 0
    for entry in entries:
        name = entry.orig_filename
        if not (any_name or (_PATH.fullmatch(name) and name == entry.filename)):
            raise BundleError(f"a file of a bundle cannot be named {name[:80]!r}")
        if name in names:
            raise BundleError(f"two files in it are named {name}")
        if entry.compress_type not in (ZIP_STORED, ZIP_DEFLATED) or entry.flag_bits & _ENCRYPTED:
            raise BundleError(f"{name} is packed in a way that no bundle uses")
        names.add(name)
        whole += entry.file_size
    most = min(most, _UNPACKED_FREE + RATIO_MAX * packed_bytes)
    if len(names) > FILES_MAX or whole > most:
        raise BundleError(f"it holds {len(names)} files of {whole:,} bytes: no bundle has as many")


def _unpacked(opened: ZipFile, archive: bytes, entry: ZipInfo) -> Packed:
    try:
        content = opened.read(entry)
    except (BadZipFile, *_FAULTS) as error:
        raise BundleError(f"{entry.filename} is damaged in the zip file: {error}") from error
    start = entry.header_offset + _LOCAL.size + len(entry.filename)
    return Packed(entry.filename, content, memoryview(archive)[start : start + entry.compress_size])


def altered(archive: bytes, files: Iterable[Packed]) -> str:
    """Say where the archive is not what writing these files gives, or nothing if it is that.

    How the files themselves are packed is another question: see ``repacked``.
    """
    directory, count, at = b"", 0, 0
    for file in files:
        name = file.name.encode()
        sizes = zlib.crc32(file.content), len(file.raw), len(file.content)
        kind = 0, ZIP_DEFLATED, 0, _DATE
        local = _LOCAL.pack(_ZIP, _VERSION, 0, *kind, *sizes, len(name), 0) + name
        if archive[at : at + len(local)] != local:
            return f"the header of {file.name}"
        directory += _CENTRAL.pack(
            b"PK\1\2", _VERSION, _UNIX, _VERSION, 0, *kind, *sizes, len(name),
            0, 0, 0, 0, _READABLE, at,
        ) + name  # fmt: skip
        at += len(local)
        if archive[at : at + len(file.raw)] != file.raw or not _ends(file):
            return f"the packed bytes of {file.name}"
        at, count = at + len(file.raw), count + 1
    end = _END.pack(b"PK\5\6", 0, 0, count, count, len(directory), at, 0)
    if archive[at : at + len(directory)] != directory:
        return "the directory of the files"
    return "" if archive[at + len(directory) :] == end else "what follows the directory"


def _ends(file: Packed) -> bool:
    """Say whether the packed bytes end where what is packed in them does."""
    unpacking = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        content = unpacking.decompress(file.raw, len(file.content) + 1)
    except zlib.error:
        return False
    return content == file.content and unpacking.eof and not unpacking.unused_data


def repacked(files: Iterable[Packed]) -> str:
    """Name the first file that this machine's library packs in other bytes, or nothing."""
    return next((file.name for file in files if _packed(file.content) != file.raw), "")


def _packed(content: bytes) -> bytes:
    packing = zlib.compressobj(wbits=-zlib.MAX_WBITS)
    return packing.compress(content) + packing.flush()
