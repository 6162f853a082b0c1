"""What of the record is hashed: an entry, or a version of the set-up, as canonical JSON (RFC 8785).

A leaf holds all that a verdict rests on, so that who has the leaves needs nothing else of us.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from service.custody.events import Entry, Event, Origin, kept
from service.custody.fields import Instant
from service.custody.site import Site

_OFFSET_S_MAX = 10**10
"""Wider than any two times an event may bear lie apart."""

_DUMP = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False)


class LeafError(ValueError):
    """Bytes are no leaf of this log, or not in canonical form."""


@dataclass(frozen=True, slots=True)
class SiteVersion:
    """A version of the set-up, in force from when it was recorded."""

    site: Site
    version: int
    recorded_at: datetime


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class _Origin(_Strict):
    file: str
    line: int
    keeper: str


class _EntryLeaf(_Strict):
    event: Event
    recorded_at: Instant
    clock_offset_s: int = Field(default=0, ge=-_OFFSET_S_MAX, le=_OFFSET_S_MAX)
    false_codes: tuple[str, ...] = ()
    origin: _Origin | None = None
    sender: str = ""


class _SetupLeaf(_Strict):
    setup: Site
    version: int = Field(ge=1)
    recorded_at: Instant


_LEAF: TypeAdapter[_EntryLeaf | _SetupLeaf] = TypeAdapter(_EntryLeaf | _SetupLeaf)


def canonical(value: Any) -> str:
    """Write a value as RFC 8785 has it.

    With ASCII keys and no numbers but whole ones, which is all we write, a sorted dump is that.
    """
    return _DUMP.encode(value)


def body(event: Event) -> str:
    """Write an event as it is kept: keys sorted, times in UTC, defaults left out."""
    return canonical(kept(event))


def entry_leaf(entry: Entry) -> bytes:
    """Give the leaf of an entry."""
    return leaf_of(
        body(entry.event),
        entry.recorded_at,
        entry.clock_offset_s,
        entry.false_codes,
        entry.origin,
        entry.sender,
    )


def leaf_of(
    event: str,
    recorded_at: datetime,
    clock_offset_s: int,
    false_codes: Sequence[str],
    origin: Origin | None,
    sender: str = "",
) -> bytes:
    """Give the leaf of an entry whose event is at hand as kept; what is usual is left out."""
    parts = [f'"clock_offset_s":{clock_offset_s}'] if clock_offset_s else []
    parts.append(f'"event":{event}')
    if false_codes:
        parts.append(f'"false_codes":{canonical(list(false_codes))}')
    if origin:
        told = {"file": origin.file, "keeper": origin.keeper, "line": origin.line}
        parts.append(f'"origin":{canonical(told)}')
    parts.append(f'"recorded_at":"{instant(recorded_at)}"')
    if sender:
        parts.append(f'"sender":{canonical(sender)}')
    return ("{" + ",".join(parts) + "}").encode()


def site_kept(site: Site) -> dict[str, Any]:
    """Give a set-up as it is kept: defaults left out."""
    return site.model_dump(mode="json", by_alias=True, exclude_defaults=True)


def setup_leaf(version: SiteVersion) -> bytes:
    """Give the leaf of a version of the set-up."""
    told = {
        "recorded_at": instant(version.recorded_at),
        "setup": site_kept(version.site),
        "version": version.version,
    }
    return canonical(told).encode()


def read(leaf: bytes) -> Entry | SiteVersion:
    """Read a leaf.

    Raises:
        LeafError: it is none, or it says the same in other bytes than the canonical ones.
    """
    try:
        found = _LEAF.validate_json(leaf)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise LeafError(f"this is no entry of a record: {first['msg']}") from error
    told: Entry | SiteVersion
    if isinstance(found, _SetupLeaf):
        told = version = SiteVersion(found.setup, found.version, found.recorded_at)
        again = setup_leaf(version)
    else:
        told = entry = _entry(found)
        again = entry_leaf(entry)
    if again != leaf:
        raise LeafError("this entry is not in the canonical form: other bytes say the same")
    return told


def _entry(found: _EntryLeaf) -> Entry:
    origin = found.origin
    return Entry(
        found.event,
        found.recorded_at,
        found.clock_offset_s,
        found.false_codes,
        Origin(origin.file, origin.line, origin.keeper) if origin else None,
        found.sender,
    )


def instant(at: datetime) -> str:
    """Write an aware UTC time as leaves and events have it."""
    return at.replace(tzinfo=None).isoformat() + "Z"
