"""Record events: read the codes, refuse what is malformed or unauthorised, append the rest."""

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from typing import Any
from uuid import UUID

from pydantic import ValidationError
from sqlalchemy import Connection

from labels import payload
from service.access import recording
from service.access.recording import OnRecord, named_people
from service.custody import admission, identifiers
from service.custody.events import EVENT, Amended, Entry, Origin
from service.custody.rules import Rules
from service.duties.access import Caller, note_refusal
from service.duties.wording import malformed
from service.store import identities, labelling
from service.store.append import Outcome as Outcome
from service.store.entries import Entries
from service.store.reach import units_of
from service.store.store import Store

BATCH_MAX = 2_000
"""Events in one submission."""


class TooManyError(ValueError):
    """More events in one submission than it may hold."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the service knows of a submission besides the events themselves.

    Attributes:
        now: The service's time.
        clock_offset_s: How far ahead the sender's clock was, in seconds.
    """

    now: datetime
    clock_offset_s: int = 0


@dataclass(frozen=True, slots=True)
class Submission:
    """Events that were let in or turned away; those let in are on their way to the disk.

    Attributes:
        admitted: In order, the entry of each event that was let in, the outcome of each other.
        written: Done once all entries are on disk, with the outcome of each.
        now: The service's time when they came.
        turned_away: Whether any was not the caller's to write; that is to be noted.
    """

    admitted: Sequence[Entry | Outcome]
    written: "Future[list[Outcome]]"
    now: datetime
    turned_away: bool

    def outcomes(self) -> list[Outcome]:
        """Wait until all is on disk; give the outcome of each event in order."""
        written = iter(self.written.result())
        outcomes = (next(written) if isinstance(a, Entry) else a for a in self.admitted)
        return [_opened_by(outcome, self.now) for outcome in outcomes]


def record_events(
    store: Store,
    caller: Caller,
    submitted: Sequence[Any],
    told: Told,
    origins: Sequence[Origin] | None = None,
) -> list[Outcome]:
    """Record each event that can stand; the outcome of each is given in order.

    One bad event does not stop the others. When this returns, what was recorded is on disk.
    ``origins`` says, for an import, where each event came from.

    Raises:
        TooManyError: more than ``BATCH_MAX`` events.
    """
    submission = submit_events(store, caller, submitted, told, origins)
    if submission.turned_away:
        note_refusal(store, caller, "record_events", told.now)
    return submission.outcomes()


def submit_events(
    store: Store,
    caller: Caller,
    submitted: Sequence[Any],
    told: Told,
    origins: Sequence[Origin] | None = None,
) -> Submission:
    """Have each event that can stand recorded, and wait for none.

    It is the caller of this who notes that any was turned away.

    Raises:
        TooManyError: more than ``BATCH_MAX`` events.
    """
    with store.reading() as connection:
        return _submit(store, connection, caller, submitted, told, origins)


def submitting(
    store: Store, caller: Caller, submitted: Sequence[Any], told: Told
) -> Callable[[Connection], Submission]:
    """Give ``submit_events`` as a question to the store: for a few events of one among many."""
    return lambda connection: _submit(store, connection, caller, submitted, told, None)


def _submit(
    store: Store,
    connection: Connection,
    caller: Caller,
    submitted: Sequence[Any],
    told: Told,
    origins: Sequence[Origin] | None,
) -> Submission:
    if len(submitted) > BATCH_MAX:
        raise TooManyError(f"{len(submitted)} events in one submission; at most {BATCH_MAX}")
    rules = store.rules_in(connection, caller.facility)
    reader = CodeReader(lambda: labelling.keys(connection, caller.facility))
    sources = [None] * len(submitted) if origins is None else origins
    read = [
        _read(reader, raw, caller, told, origin)
        for raw, origin in zip(submitted, sources, strict=True)
    ]
    known = on_record(connection, caller, (r for r in read if isinstance(r, Entry)))
    door = Door(caller, rules, known)
    admitted = [door.admit(r) if isinstance(r, Entry) else r for r in read]
    written = store.submit(caller.facility, [a for a in admitted if isinstance(a, Entry)])
    return Submission(admitted, written, told.now, door.turned_away)


def _opened_by(outcome: Outcome, now: datetime) -> Outcome:
    """Leave out what will only open later: it is not a finding yet.

    A copy that was let in a moment before the one recorded is told the same as that one.
    """
    then = max(now, outcome.recorded_at or now)
    found = tuple(v for v in outcome.violations if v.opened_at <= then)
    return replace(outcome, violations=found)


def _read(
    reader: "CodeReader", raw: Any, caller: Caller, told: Told, origin: Origin | None
) -> Entry | Outcome:
    """Give the entry of a submitted event, or the outcome that refuses what is malformed."""
    try:
        read, false_codes = reader.read(raw)
        event = EVENT.validate_python(read)
    except ValidationError as error:
        return Outcome(_id_of(raw), "refused", malformed(error))
    except ValueError as error:
        return Outcome(_id_of(raw), "refused", str(error))
    return Entry(event, told.now, told.clock_offset_s, false_codes, origin, caller.name)


def on_record(connection: Connection, caller: Caller, entries: Iterable[Entry]) -> OnRecord:
    """Read what must be known before it can be said whether the caller may write the entries.

    Of a program whose scope is the whole facility nothing is, unless it amends.
    """
    events = [entry.event for entry in entries]
    actors = named_people(caller, events)
    amended = {event.supersedes for event in events if isinstance(event, Amended)}
    if not (actors or amended or caller.scope.units):
        return OnRecord()
    people = identities.people_named(connection, caller.facility, actors)
    versions = Entries(connection, caller.facility).versions(amended)
    units: dict[str, str] = {}
    if any(scope.units for scope in (caller.scope, *(p.scope for p in people.values()))):
        told = chain(events, *versions.values())
        named = {container for event in told for container in event.named()}
        units = units_of(connection, caller.facility, named)
    return OnRecord(people, units, versions)


@dataclass(slots=True)
class Door:
    """What every event of one submission is let in by.

    Attributes:
        turned_away: Whether one was that is not the caller's to write.
    """

    caller: Caller
    rules: Rules
    known: OnRecord
    turned_away: bool = False

    def admit(self, entry: Entry) -> Entry | Outcome:
        """Give the entry, or the outcome that refuses it."""
        reason = recording.refusal(self.caller, entry, self.known, self.rules.site)
        self.turned_away |= bool(reason)
        reason = reason or admission.refusal(
            entry.event, self.rules, entry.recorded_at, entry.clock_offset_s
        )
        if isinstance(entry.event, Amended):
            told = self.known.versions.get(entry.event.supersedes, ())
            reason = reason or admission.moved(entry.event, told)
        if reason:
            return Outcome(entry.event.id, "refused", reason)
        self.known.versions.setdefault(entry.event.id, (entry.event,))  # it may be amended below
        return entry


def _id_of(raw: Any) -> UUID | None:
    try:
        return UUID(raw["id"])
    except (KeyError, TypeError, ValueError, AttributeError):
        return None  # without an id of its own the outcome is told by its place in the list


class CodeReader:
    """Turns scanned or typed codes into container ids and keeps those whose label is not ours."""

    def __init__(self, label_keys: Callable[[], tuple[bytes, ...]]) -> None:
        self._label_keys = label_keys
        self._keys: tuple[bytes, ...] | None = None

    def read(self, raw: Any) -> tuple[Any, tuple[str, ...]]:
        """Give the submitted object with ids for codes, and the ids whose code was false.

        Raises:
            ValueError: a bare id with a wrong check character, or a text that is no code.
        """
        if not isinstance(raw, dict):
            return raw, ()
        false: list[str] = []
        read = self._object(raw, false)
        corrected = raw.get("corrected")
        if isinstance(corrected, dict):
            read["corrected"] = self._object(corrected, false)
        return read, tuple(dict.fromkeys(false))

    def _object(self, raw: dict[str, Any], false: list[str]) -> dict[str, Any]:
        read = dict(raw)
        for name in ("containers", "parents"):
            if isinstance(raw.get(name), list):
                read[name] = [self._code(c, false) for c in raw[name]]
        for name in ("parent", "outer"):
            if raw.get(name) is not None:
                read[name] = self._code(raw[name], false)
        return read

    def _code(self, code: Any, false: list[str]) -> Any:
        if not isinstance(code, str) or identifiers.is_valid(code):
            return code
        container, tag = payload.read(code)
        if tag is None:
            return identifiers.typed(container)
        if self._keys is None:
            self._keys = self._label_keys()
        genuine = any(identifiers.tag_matches(container, tag, key) for key in self._keys)
        if not genuine or not identifiers.is_valid(container):
            false.append(container)
        return container
