"""What a bundle is made of besides the figures, as the record gives it, and what it says of itself.

Values only: nothing here reads the record, a file or a clock.
"""

import platform
import zlib
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib import metadata

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.custody.fields import Instant
from service.ledger.leaf import SiteVersion, canonical, instant
from service.manifests.quarter import Quarter

TOOL = "waste-custody"
PAPER_IS_MADE_BY = ("fontpkg-noto-sans", "reportlab", "uharfbuzz", "zlib")
WORKBOOK_IS_MADE_BY = ("python", "xlsxwriter", "zlib")
_LIBRARIES = ("fontpkg-noto-sans", "reportlab", "uharfbuzz", "xlsxwriter", TOOL)


@dataclass(frozen=True, slots=True)
class Earlier:
    """An entry older than those of the bundle, with the proof that it is in the same log."""

    number: int
    leaf: bytes
    proof: Sequence[bytes]


@dataclass(frozen=True, slots=True)
class Signed:
    """An earlier signed checkpoint, with the proof that the log only grew since."""

    note: str
    proof: Sequence[bytes]


@dataclass(frozen=True, slots=True)
class Material:
    """What the record gives for a bundle, read in one transaction.

    Attributes:
        origin: Names the log.
        first: The number of the first entry that is in the bundle whole.
        size: The number of entries of the log; all of [first, size) are in the bundle.
        now: The moment of the reckoning.
        began: When the log's first entry was recorded, if it is in the bundle; else None.
        version, setup_number: The set-up in force and the number of its leaf.
        leaves: The leaves [first, size), in order; read once.
        before: The hashes of the peaks of the log's first ``first`` entries.
        earlier: Older leaves that the figures rest on, by number; with them the leaf just before
            the first shows that the bundle begins where the quarter does.
        brought_forward: Containers in the figures that none of [first, size) names, sorted.
        checkpoint: The note signed over ``size`` entries.
        checkpoints: Earlier notes of this log, by size: see ``sizes_wanted``.
        vkeys: The log's keys as verifier keys, the first to the present one.
        vouching: The notes that lead from each key to the next.
        traces: The loggers' files of the cycles that the figures rest on, each after its SHA-256,
            in the order of those; read once.
        sign: Gives a text as a note signed by the present key.
    """

    origin: str
    first: int
    size: int
    now: datetime
    began: datetime | None
    version: SiteVersion
    setup_number: int
    leaves: Iterable[bytes]
    before: Sequence[bytes]
    earlier: Iterable[Earlier]
    brought_forward: Sequence[str]
    checkpoint: str
    checkpoints: Sequence[Signed]
    vkeys: Sequence[str]
    vouching: Sequence[str]
    sign: Callable[[str], str]
    traces: Iterable[tuple[str, bytes]] = ()


def sizes_wanted(
    signed: Collection[int], first: int, past: int, changes: Collection[int]
) -> set[int]:
    """Choose the earlier checkpoints that a bundle brings, by the sizes of those that were signed.

    They are the nearest at or before its first entry, those of the quarter, the last, and those at
    which the key was changed. What was signed between other quarters' ends proves nothing more of
    this one; of what somebody holds from then, the bundle of its own quarter tells.

    Args:
        signed: The sizes at which the log was signed before.
        first: The number of the bundle's first entry.
        past: The number of the first entry that was recorded after the quarter.
        changes: The sizes of the log at which the key was changed.
    """
    found = {size for size in signed if first < size <= past or size in changes}
    for some in ([size for size in signed if size <= first], signed):
        if some:
            found.add(max(some))
    return found


class Statement(BaseModel):
    """What a bundle says of itself, ``record/statement.json``."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    facility: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,62}$")
    quarter: str = Field(pattern=r"^[12]\d{3}-Q[1-4]$")
    log: str = Field(min_length=1, max_length=200)
    now: Instant
    first: int = Field(ge=0, le=1 << 62, alias="from")
    size: int = Field(ge=0, le=1 << 62)
    setup_number: int = Field(ge=0)
    setup_version: int = Field(ge=1)
    made_with: Mapping[str, str]

    @property
    def paper(self) -> str:
        """The file name of paper and workbook, without its ending."""
        return f"{self.facility}-{self.quarter}"

    @property
    def text(self) -> bytes:
        """The statement as it is written."""
        told = self.model_dump(by_alias=True) | {"now": instant(self.now)}
        return canonical(told).encode() + b"\n"

    @classmethod
    def read(cls, text: bytes) -> "Statement":
        """Read a statement.

        Raises:
            ValueError: it is none, or not written as one is.
        """
        try:
            found = cls.model_validate_json(text)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            raise ValueError(f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from error
        if found.text != text:
            raise ValueError("it is not written as it is meant to be")
        return found

    def others(self, names: Iterable[str]) -> list[str]:
        """Give those of the named libraries that are here in another version, in words."""
        here = made_with()
        return [
            f"{name} {self.made_with.get(name, '?')}, here {here[name]}"
            for name in names
            if self.made_with.get(name) != here[name]
        ]


def statement(material: Material, quarter: Quarter) -> Statement:
    """Give what a bundle says of itself."""
    return Statement.model_validate(
        {
            "facility": material.version.site.id,
            "quarter": str(quarter),
            "log": material.origin,
            "now": material.now,
            "from": material.first,
            "size": material.size,
            "setup_number": material.setup_number,
            "setup_version": material.version.version,
            "made_with": made_with(),
        }
    )


def made_with() -> dict[str, str]:
    """Give the versions of this tool and of what its papers' bytes depend on."""
    versions = {name: metadata.version(name) for name in _LIBRARIES}
    return versions | {"python": platform.python_version(), "zlib": zlib.ZLIB_RUNTIME_VERSION}
