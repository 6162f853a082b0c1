"""A bundle taken apart: each part read once, when it is first asked for.

A part at fault is told as a fault once; whatever else needs it then cannot be checked, and says so.
"""

from collections.abc import Callable, Mapping
from functools import cached_property
from hashlib import sha256 as digest
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter

from service.bundles import names
from service.bundles.archive import BYTES_MAX, BundleError, Packed, unpacked
from service.bundles.material import Earlier, Signed, Statement
from service.bundles.reading import (
    EarlierLine,
    SignedLine,
    TraceLine,
    Unknown,
    Unsound,
    hashes_of,
    key_of,
    lines,
    objects,
    read_leaf,
    steps,
    text_of,
)
from service.bundles.warned import warned
from service.custody.events import Entry
from service.custody.gathering import named_in
from service.custody.rules import Rules
from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.leaf import SiteVersion, canonical
from service.ledger.merkle import grow, leaf_hash, peaks, root
from service.ledger.note import Verifier, note_text
from service.manifests.quarter import Quarter
from service.regimes.load import assemble

PartT = TypeVar("PartT")


class part(Generic[PartT]):  # noqa: N801  used as a decorator, as ``property`` is
    """A part that is read once; a fault in it is told once, then only that it could not be read."""

    def __init__(self, read: Callable[[Any], PartT]) -> None:
        self._read = read
        self.__doc__ = read.__doc__

    def __get__(self, parts: Any, owner: Any) -> PartT:
        """Give the part, or raise what is wrong with it; ``parts`` keeps what was found."""
        name = self._read.__name__
        if name in parts.faults:
            raise Unknown(f"this needs what is at fault above: {parts.faults[name]}")
        if name not in parts.held:
            try:
                parts.held[name] = self._read(parts)
            except (Unsound, ValueError) as error:
                parts.faults[name] = str(error)
                raise Unsound(str(error)) from error
        found: PartT = parts.held[name]
        return found


_ID: TypeAdapter[str] = TypeAdapter(str)


class Parts:
    """The parts of one bundle; ``most`` is the bytes to which it may unpack.

    Raises:
        BundleError: the file is no bundle at all.
    """

    def __init__(self, archive: bytes, most: int = BYTES_MAX) -> None:
        self.archive, self.most = archive, most
        self.packed: list[Packed] = unpacked(archive, most=most)
        self.files: Mapping[str, bytes] = {file.name: file.content for file in self.packed}
        self.faults: dict[str, str] = {}
        self.held: dict[str, Any] = {}
        for name in (names.CONTENTS, names.STATEMENT):
            if name not in self.files:
                raise BundleError(f"this zip file is no bundle: {name} is not in it")
        try:
            self.told = Statement.read(self.files[names.STATEMENT])
        except ValueError as error:
            raise BundleError(f"{names.STATEMENT} cannot be read: {error}") from error

    def file(self, name: str) -> bytes:
        """Give a file that must be there."""
        if name not in self.files:
            raise Unsound(f"{name} is missing")
        return self.files[name]

    def text(self, name: str) -> str:
        """Give a file of text."""
        return text_of(self.file(name), name)

    @cached_property
    def quarter(self) -> Quarter:
        """The quarter; the statement has it in the form of one."""
        return Quarter.parse(self.told.quarter)

    @part
    def keys(self) -> list[Verifier]:
        """The keys of the log, the first to the present one."""
        found: list[Verifier] = []
        while (name := names.vkey(len(found) + 1)) in self.files:
            found.append(key_of(self.text(name), name))
        if not found:
            raise Unsound(f"{names.vkey(1)} is missing")
        notes = [self.text(names.vouching(n)) for n in range(2, len(found) + 1)]
        files = names.key_files(found, notes)
        given = {name: content for name, content in self.files.items() if name.startswith("keys/")}
        for name in {**files, **given}:
            if files.get(name) != given.get(name):
                raise Unsound(f"{name} is not what the verifier keys beside it give")
        return found

    @part
    def vouching(self) -> list[str]:
        """The notes that lead from each key to the next."""
        return [self.text(names.vouching(n)) for n in range(2, len(self.keys) + 1)]

    @part
    def checkpoint(self) -> Checkpoint:
        """What the signed checkpoint says; the signature is not looked at here."""
        found = parse(note_text(self.text(names.CHECKPOINT)))
        if (found.origin, found.size) != (self.told.log, self.told.size):
            raise Unsound(
                f"the checkpoint is of {found.origin} with {found.size} entries, the bundle says "
                f"{self.told.log} with {self.told.size}"
            )
        return found

    def lines(self) -> list[bytes]:
        """Cut out the leaves that are in the bundle whole."""
        found = lines(self.file(names.ENTRIES), names.ENTRIES)
        if self.told.first + len(found) != self.told.size:
            raise Unsound(
                f"{names.ENTRIES} has {len(found)} lines; entries {self.told.first} up to "
                f"{self.told.size} are {self.told.size - self.told.first}"
            )
        return found

    @cached_property
    def computed(self) -> list[bytes]:
        """The hashes of the leaves as they are, whatever the bundle says of them."""
        return [leaf_hash(line) for line in lines(self.file(names.ENTRIES), names.ENTRIES)]

    @part
    def before(self) -> list[bytes]:
        """The peaks of what came before the bundle's first entry."""
        found = hashes_of(self.file(names.BEFORE), names.BEFORE)
        if len(found) != len(peaks(self.told.first)):
            raise Unsound(
                f"{names.BEFORE} has {len(found)} hashes; {self.told.first} entries make "
                f"{len(peaks(self.told.first))}"
            )
        return found

    @part
    def leaves(self) -> dict[int, Entry | SiteVersion]:
        """Entries and set-ups of the bundle by number, all in canonical form."""
        return {
            number: read_leaf(number, line)
            for number, line in enumerate(self.lines(), self.told.first)
        }

    @part
    def earlier(self) -> list[Earlier]:
        """The older leaves with their proofs."""
        found = [
            Earlier(one.number, one.leaf.encode(), steps(one.proof))
            for one in objects(self.file(names.EARLIER), names.EARLIER, EarlierLine)
        ]
        numbers = [one.number for one in found]
        if numbers != sorted(set(numbers)) or not all(0 <= n < self.told.first for n in numbers):
            raise Unsound(f"{names.EARLIER}: numbers rise and lie below {self.told.first}")
        return found

    @part
    def older(self) -> dict[int, Entry | SiteVersion]:
        """The older entries and set-ups by number."""
        return {one.number: read_leaf(one.number, one.leaf) for one in self.earlier}

    @part
    def signed(self) -> list[Signed]:
        """The earlier checkpoints with their proofs."""
        rows = objects(self.file(names.CHECKPOINTS), names.CHECKPOINTS, SignedLine)
        return [Signed(one.note, steps(one.proof)) for one in rows]

    @part
    def brought_forward(self) -> list[str]:
        """The containers in the figures that no entry of the bundle names."""
        rows = lines(self.file(names.BROUGHT_FORWARD), names.BROUGHT_FORWARD)
        found = [_ID.validate_json(row) for row in rows]
        if found != sorted(set(found)) or [canonical(i).encode() for i in found] != rows:
            raise Unsound(f"{names.BROUGHT_FORWARD} is not sorted, or not written as it is meant")
        return found

    @part
    def traces(self) -> dict[str, bytes]:
        """The loggers' files by their SHA-256."""
        rows = objects(self.file(names.TRACES), names.TRACES, TraceLine)
        found = {row.sha256: row.content for row in rows}
        if [row.sha256 for row in rows] != sorted(found):
            raise Unsound(f"{names.TRACES}: hashes rise, each once")
        for sha256, content in found.items():
            if digest(content).hexdigest() != sha256:
                raise Unsound(f"{names.TRACES}: the trace {sha256} has other bytes than its hash")
        return found

    @part
    def known(self) -> dict[int, Entry | SiteVersion]:
        """Every leaf of the bundle by number."""
        return self.older | self.leaves

    @part
    def entries(self) -> dict[int, Entry]:
        """Every entry of the bundle by number."""
        return {n: one for n, one in self.known.items() if isinstance(one, Entry)}

    @part
    def judged(self) -> list[str]:
        """The containers that are judged: brought forward, or named in the bundle's entries."""
        of_bundle = (one for one in self.leaves.values() if isinstance(one, Entry))
        return sorted(named_in(of_bundle) | set(self.brought_forward))

    @part
    def version(self) -> SiteVersion:
        """The set-up that the figures were reckoned with."""
        number = self.told.setup_number
        found = self.known.get(number)
        if not isinstance(found, SiteVersion):
            raise Unsound(f"entry {number} is said to be the set-up, and is none in this bundle")
        if (found.version, found.site.id) != (self.told.setup_version, self.told.facility):
            raise Unsound(
                f"entry {number} is set-up {found.version} of {found.site.id}; the bundle says "
                f"{self.told.setup_version} of {self.told.facility}"
            )
        return found

    @property
    def warned(self) -> list[str]:
        """What the reader must know of the quarter."""
        began = None if self.told.first or not self.leaves else self.leaves[0].recorded_at
        return warned(self.quarter, self.version.site.zone, self.told.now, began)

    @part
    def rules(self) -> Rules:
        """The set-up with the regime as the bundle has it."""
        site = self.version.site
        with TemporaryDirectory() as folder:
            for name, content in self.regimes.items():
                (Path(folder) / name).write_bytes(content)
            return Rules(assemble(site.regime, Path(folder)), site)

    @property
    def regimes(self) -> dict[str, bytes]:
        """The regimes' files by their own names."""
        found = ((name.partition("/"), content) for name, content in self.files.items())
        return {name: content for (folder, _, name), content in found if folder == "regimes"}

    def root_at(self, size: int) -> bytes:
        """The root over the first entries, from the leaves as they are; not below the first."""
        _, tops = grow(self.told.first, self.before, self.computed[: size - self.told.first])
        return root(tops)
