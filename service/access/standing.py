"""What the access log says of who may come in: its entries folded, to be compared with the tables.

Names are left out, since the log knows none, and so are secrets.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from service.access.caller import Scope
from service.access.entries import AccessKind, Told
from service.access.people import Client, Person
from service.ledger.leaf import instant


def told_of(person: Person) -> dict[str, Told]:
    """Write what an entry says of somebody who was added or changed: all but the name."""
    return {
        "person": person.id,
        "role": str(person.role),
        **_reach(person.scope),
        "valid_until": _written(person.valid_until),
        "disabled_at": _written(person.disabled_at),
    }


@dataclass(frozen=True, slots=True)
class Token:
    """A token or code of a device or program, as far as the log knows it; times as written.

    Attributes:
        until: When it expires; empty where the entry does not say.
        revoked_at: Empty while it stands.
    """

    name: str
    kind: str
    role: str
    units: tuple[str, ...]
    parties: tuple[str, ...]
    created_at: str
    until: str
    revoked_at: str = ""

    @classmethod
    def of(cls, client: Client) -> "Token":
        """Give what the log should say of one that is kept."""
        return cls(
            client.name,
            client.kind,
            str(client.role),
            tuple(sorted(client.scope.units)),
            tuple(sorted(client.scope.parties)),
            _written(client.created_at),
            _written(client.expires_at),
            _written(client.revoked_at),
        )


@dataclass(slots=True)
class Standing:
    """Who may come in by the log so far."""

    people: dict[str, Mapping[str, Any]] = field(default_factory=dict)
    tokens: dict[str, list[Token]] = field(default_factory=dict)

    def take(self, entry: Mapping[str, Any]) -> None:
        """Take one more entry, as it was written."""
        about, at = entry.get("about", {}), entry["at"]
        match entry["kind"]:
            case AccessKind.PERSON_ADDED | AccessKind.PERSON_CHANGED:
                shown = ("role", "units", "parties", "valid_until", "disabled_at")
                self.people[about["person"]] = {name: about[name] for name in shown}
            case AccessKind.PROGRAM_ADMITTED:
                self._admit(_token(about, "program", at))
            case AccessKind.DEVICE_INVITED:
                self._revoke(about["client"], at, {"enrolment"})
                self._admit(_token(about, "enrolment", at))
            case AccessKind.DEVICE_ENROLLED:
                self._enrol(entry["actor"], about, at)
            case AccessKind.CLIENT_REVOKED:
                self._revoke(about["client"], at)

    def _admit(self, token: Token) -> None:
        self.tokens.setdefault(token.name, []).append(token)

    def _enrol(self, name: str, about: Mapping[str, Any], at: str) -> None:
        """A device comes in with the role and reach of its invitation, which is used up."""
        invited = self.tokens[name][-1]
        self._revoke(name, at)
        until = about.get("until", "")
        self._admit(replace(invited, kind="device", created_at=at, until=until))

    def _revoke(self, name: str, at: str, kinds: Iterable[str] | None = None) -> None:
        self.tokens[name] = [
            replace(token, revoked_at=at)
            if not token.revoked_at and (kinds is None or token.kind in kinds)
            else token
            for token in self.tokens.get(name, ())
        ]

    def people_otherwise(self, kept: Iterable[Person]) -> Iterator[str]:
        """Say what differs between the log and the people that are kept."""
        left = dict(self.people)
        for person in kept:
            told = left.pop(person.id, None)
            if told is None:
                yield f"'{person.id}' ({person.role}) was added by no entry"
                continue
            held = told_of(person)
            for name, value in told.items():
                if held[name] != value:
                    here = held[name] or "none"
                    yield f"'{person.id}': {name} is {here}, by the log {value or 'none'}"
        yield from (f"'{person_id}' was added and is gone" for person_id in left)

    def tokens_otherwise(self, kept: Iterable[Client]) -> Iterator[str]:
        """Say what differs between the log and the devices and programs that are kept."""
        left = {name: list(tokens) for name, tokens in self.tokens.items()}
        for client in kept:
            token = Token.of(client)
            told = left.get(client.name, [])
            same = [each for each in told if _agree(each, token)]
            like = [each for each in told if each.created_at == token.created_at]
            if same:
                told.remove(same[0])
            elif like:
                told.remove(like[0])
                yield f"{_called(token)}: {_difference(like[0], token)}"
            else:
                yield f"{_called(token)} ({token.role}) was let in by no entry"
        for token in (token for tokens in left.values() for token in tokens):
            yield f"{_called(token)} was let in and is gone"


def _reach(scope: Scope) -> dict[str, Told]:
    return {"units": sorted(scope.units), "parties": sorted(scope.parties)}


def _written(at: datetime | None) -> str:
    return instant(at.astimezone(UTC)) if at is not None else ""


def _token(about: Mapping[str, Any], kind: str, at: str) -> Token:
    units, parties = tuple(about["units"]), tuple(about["parties"])
    until = about.get("until", "")
    return Token(about["client"], kind, about["role"], units, parties, at, until)


def _agree(told: Token, kept: Token) -> bool:
    return told == kept or (not told.until and told == replace(kept, until=""))


def _difference(told: Token, kept: Token) -> str:
    names = ("kind", "role", "units", "parties", "until", "revoked_at")
    pairs = ((name, getattr(told, name), getattr(kept, name)) for name in names)
    name, by_log, here = next((n, a, b) for n, a, b in pairs if a != b and (n != "until" or a))
    return f"{name} is {_plain(here)}, by the log {_plain(by_log)}"


def _called(token: Token) -> str:
    return f"the {token.kind} '{token.name}' of {token.created_at}"


def _plain(value: str | tuple[str, ...]) -> str:
    return (value if isinstance(value, str) else ", ".join(value)) or "none"
