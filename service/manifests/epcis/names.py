"""The URIs under which an export names things: all of them under the facility's own address."""

from dataclasses import dataclass
from urllib.parse import quote
from uuid import UUID

PREFIX = "custody"
"""What our own terms begin with in a document; its @context says what it stands for."""


def own(name: str) -> str:
    """Give the property under which a field of ours stands, which the standard has no place for."""
    return f"{PREFIX}:{name}"


def event_uri(event_id: UUID) -> str:
    """Give the eventID of an event, or of the amendment by which it was told anew."""
    return f"urn:uuid:{event_id}"


@dataclass(frozen=True, slots=True)
class Names:
    """URIs of one facility's things.

    Attributes:
        origin: The address that printed codes open, such as ``https://custody.example``.
        facility: The facility's id; what is not unique in the world is named below it.
    """

    origin: str
    facility: str

    @property
    def terms(self) -> str:
        """Where our own words are named: never in the namespace of the standard's vocabulary."""
        return f"{self.origin.rstrip('/')}/terms/"

    def term(self, name: str) -> str:
        """Give a word of ours, such as a business step that the CBV does not have."""
        return f"{self.terms}{name}"

    def container(self, container: str) -> str:
        """Give a container's URI."""
        return f"{self.origin.rstrip('/')}/id/{quote(container, safe='')}"

    def of_site(self, sort: str, *parts: str) -> str:
        """Give the URI of a place, party, scale, consignment or cycle of the facility."""
        below = "/".join(quote(part, safe="") for part in (self.facility, sort, *parts))
        return f"{self.origin.rstrip('/')}/site/{below}"
