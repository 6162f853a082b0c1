"""Find a container by what somebody has of it: a code, an id with a slip in it; and its path."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labels import payload, photograph
from labels.photograph import MEDIA_TYPES, PictureError
from service.custody import identifiers
from service.custody.events import Amended, Entry
from service.custody.regime import Category
from service.custody.rules import Rules
from service.custody.verdict import Case
from service.duties import lookup
from service.duties.access import BusyError, Caller, demand
from service.duties.lookup import ContainerView, NotFoundError
from service.store.entries import Entries
from service.store.store import Store

PICTURES_AT_ONCE = 2
"""More would only take cores and memory from who records."""
_PATIENCE_S = 1
_looks = threading.BoundedSemaphore(PICTURES_AT_ONCE)


@dataclass(frozen=True, slots=True)
class CodeInPicture:
    """One code of a photograph.

    Attributes:
        text: As it is printed.
        container: The id in it; None where it is no label of a container.
        right: Whether the check character of that id is.
        genuine: Whether its tag is ours; None where it has none.
    """

    text: str
    container: str | None = None
    right: bool | None = None
    genuine: bool | None = None


@dataclass(frozen=True, slots=True)
class Coded:
    """What a code says: the container's id, and whether its tag is ours (None: it has none)."""

    container: str
    genuine: bool | None


@dataclass(frozen=True, slots=True)
class StruckOut:
    """An event that an amendment says did not happen."""

    original: Entry | None
    amendment: Entry


@dataclass(frozen=True, slots=True)
class Path:
    """One container's whole path.

    Attributes:
        due_at: The last allowed instant of the holding limit that ran last, or is running.
        struck_out: What an amendment says did not happen.
    """

    view: ContainerView
    category: Category | None
    due_at: datetime | None
    struck_out: tuple[StruckOut, ...]


def coded(store: Store, caller: Caller, code: str) -> Coded:
    """Read a code: a label's address, or an id as scanned or typed.

    Raises:
        ValueError: it is neither; the message says what to look at.
    """
    container, tag = payload.read(code)
    if tag is None:
        return Coded(identifiers.typed(container), None)
    genuine = _genuine(store, caller, container, tag)
    return Coded(container, genuine and identifiers.is_valid(container))


def codes(store: Store, caller: Caller, picture: bytes) -> list[CodeInPicture]:
    """Read every code in a photograph; nothing is recorded of it, nor kept.

    Raises:
        NotAllowedError: the caller may not have pictures read.
        PictureError: it is no picture that can be read.
        BusyError: too many are being read.
    """
    demand(caller, "read_codes")
    if not _looks.acquire(timeout=_PATIENCE_S):
        raise BusyError("too many photographs are being read: send it again in a moment")
    try:
        found = photograph.texts(picture)
    finally:
        _looks.release()
    return [_in_picture(store, caller, text) for text in found]


def _in_picture(store: Store, caller: Caller, text: str) -> CodeInPicture:
    try:
        container, tag = payload.read(text)
    except ValueError:
        return CodeInPicture(text)  # the code of something else that was in the picture
    genuine = None if tag is None else _genuine(store, caller, container, tag)
    return CodeInPicture(text, container, identifiers.is_valid(container), genuine)


def _genuine(store: Store, caller: Caller, container: str, tag: str) -> bool:
    keys = store.label_keys(caller.facility)
    return any(identifiers.tag_matches(container, tag, key) for key in keys)


def path(store: Store, caller: Caller, text: str, now: datetime) -> Path:
    """Give the whole path of the container whose id was typed, or stands in an address.

    Raises:
        MalformedIdError: the text cannot be an id of ours, and nothing is on record about it.
        NotFoundError: nothing is on record about it that the caller may see.
    """
    view = lookup.container_typed(store, caller, text, now)
    standing = view.standing
    return Path(
        view=view,
        category=category_of(view.rules, standing.category, standing.sealed_at),
        due_at=standing.due_at or _last_due(Case(view.history, view.rules)),
        struck_out=_struck_out(store, caller, view),
    )


def category_of(rules: Rules, category: str | None, sealed_at: datetime | None) -> Category | None:
    """Give the category as the regime had it on the day of sealing."""
    if category is None or sealed_at is None:
        return None
    return rules.regime.category_on(category, rules.site.local_day(sealed_at))


def near_misses(
    store: Store, caller: Caller, text: str, now: datetime
) -> list[tuple[ContainerView, int]]:
    """Give the containers on record whose id differs from what was typed by one slip.

    With each the group of four, from 1, in which the slip is: one wrong character, two that
    changed places, one too many or one too few.
    """
    read = identifiers.plain(text)
    found: list[tuple[ContainerView, int]] = []
    for candidate in _slips(read):
        try:
            view = lookup.container(store, caller, candidate, now)
        except NotFoundError:
            continue
        found.append((view, _differs_in(read, candidate)))
    return found


def _last_due(case: Case) -> datetime | None:
    """When the limit ended that ran until the waste was treated."""
    ended = [d for d in case.deadlines if d.until_at is not None]
    last = max((d.until_at for d in ended if d.until_at), default=None)
    return min((max(d.from_at, d.due_at) for d in ended if d.until_at == last), default=None)


def _struck_out(store: Store, caller: Caller, view: ContainerView) -> tuple[StruckOut, ...]:
    """The last amendment of an event holds; it strikes the event out if it corrects nothing."""
    last: dict[object, tuple[Amended, Entry]] = {}
    for entry in view.history.amendments:
        if isinstance(entry.event, Amended):
            last[entry.event.supersedes] = entry.event, entry
    struck = [(e.supersedes, entry) for e, entry in last.values() if e.corrected is None]
    if not struck:
        return ()
    with store.reading() as connection:
        told = Entries(connection, caller.facility).by_id(i for i, _ in struck)
    return tuple(StruckOut(told[i][1] if i in told else None, entry) for i, entry in struck)


def _slips(read: str) -> Sequence[str]:
    """Every valid id that one slip of the pen makes into what was read."""
    alphabet, length = identifiers.ALPHABET, identifiers.LENGTH
    made: list[str] = []
    for i in range(len(read) + 1):
        head, tail = read[:i], read[i:]
        if len(read) == length and tail:
            made += (head + c + tail[1:] for c in alphabet)
            made.append(head + tail[1:2] + tail[:1] + tail[2:])
        elif len(read) == length + 1 and tail:
            made.append(head + tail[1:])
        elif len(read) == length - 1:
            made += (head + c + tail for c in alphabet)
    return [c for c in dict.fromkeys(made) if c != read and identifiers.is_valid(c)]


def _differs_in(read: str, candidate: str) -> int:
    pairs = zip(read, candidate, strict=False)
    at = next((i for i, (a, b) in enumerate(pairs) if a != b), len(candidate) - 1)
    return min(at, len(candidate) - 1) // 4 + 1


__all__ = [
    "MEDIA_TYPES",
    "CodeInPicture",
    "Coded",
    "Path",
    "PictureError",
    "StruckOut",
    "category_of",
    "coded",
    "codes",
    "near_misses",
    "path",
]
