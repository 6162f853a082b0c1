"""What a check is given: the bundle's parts, and what the verifier holds besides."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from service.bundles.material import TOOL
from service.bundles.parts import Parts, part
from service.bundles.reading import Unsound
from service.bundles.reckoned import reckoned
from service.ledger.note import NoteError, Verifier, opened
from service.ledger.vouching import Vouching, followed
from service.manifests.figures import QuarterFigures
from service.manifests.tables import tables

SHOWN = 5


@dataclass
class Case:
    """A bundle to be checked.

    Attributes:
        key: The key that the verifier trusts; None trusts the bundle's own first key.
        previous: The bundle of an earlier quarter.
    """

    parts: Parts
    key: Verifier | None = None
    previous: Parts | None = None
    faults: dict[str, str] = field(default_factory=dict)
    held: dict[str, Any] = field(default_factory=dict)

    @part
    def changes(self) -> list[Vouching]:
        """The changes of key from the trusted one to the present one."""
        keys, notes = self.parts.keys, self.parts.vouching
        first = self.key or keys[0]
        found = followed(first, notes)
        last = found[-1].new if found else first
        if last != keys[-1]:
            raise Unsound(
                f"signed by another key than the one you gave. Signed by {keys[-1].vkey}; you gave "
                f"{first.vkey}, and no note in the bundle leads from it to that one: the key is of "
                "another facility, or the bundle is not what it says it is"
            )
        if self.key is None and [first, *(change.new for change in found)] != keys:
            raise Unsound("the keys in the bundle are not those that its vouching notes name")
        return found

    @property
    def trusted(self) -> list[Verifier]:
        """The keys from the trusted one to the present one."""
        return [self.key or self.parts.keys[0], *(change.new for change in self.changes)]

    @part
    def figures(self) -> QuarterFigures:
        """The quarter as the bundle's entries, set-up and rules give it."""
        parts = self.parts
        return reckoned(
            parts.entries, parts.judged, parts.rules, parts.quarter, parts.told.now, parts.traces
        )

    @part
    def tables(self) -> dict[str, bytes]:
        """Its tables by file name."""
        return tables(self.figures)

    @property
    def same_tool(self) -> bool:
        """Whether this very version made the bundle, so that nothing may differ."""
        return not self.parts.told.others([TOOL])


def shortened(found: Sequence[str]) -> str:
    """Join findings; of many the first are told, and how many more there are."""
    more = [f"and {len(found) - SHOWN:,} more"] if len(found) > SHOWN else []
    return "; ".join([*found[:SHOWN], *more])


def signed_by(note: str, key: Verifier, what: str) -> str:
    """Give the text of a note that this key signed.

    Raises:
        Unsound: it did not.
    """
    try:
        return opened(note, [key]).text
    except NoteError as error:
        raise Unsound(f"{what}: {error}") from error
