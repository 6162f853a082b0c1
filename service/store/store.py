"""The store: one object that the duties hold, with the record, its projections and its settings."""

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, and_, delete, func, insert, select, update

from service.custody.events import Entry
from service.custody.rules import Rules
from service.custody.site import Site
from service.custody.words import Role
from service.regimes.load import assemble
from service.store.append import Outcome, append, index
from service.store.database import Database
from service.store.entries import Entries, Recent, from_row
from service.store.projections import known, project
from service.store.tables import (
    CARRIED,
    CLIENT,
    CONSIGNED,
    CONTAINER,
    NAMED,
    RECORD,
    SECRET,
    SETUP,
    STAY,
    VIOLATION,
)

PROJECTIONS = (NAMED, CONSIGNED, CONTAINER, STAY, CARRIED, VIOLATION)
REBUILD_CHUNK = 1_000
RECENT_ENTRIES = 20_000
"""Parsed entries kept at hand: what most scans are about was scanned in the last few days."""


@dataclass(frozen=True, slots=True)
class Client:
    """A device or program that holds a token."""

    facility: str
    name: str
    role: Role


class NoSetupError(LookupError):
    """The facility has not been set up."""


class Store:
    """The record of every facility in one database."""

    def __init__(self, url: str) -> None:
        self.database = Database(url)
        self.database.migrate()
        self._rules: dict[tuple[str, int], Rules] = {}
        self._recent = Recent(RECENT_ENTRIES)

    def close(self) -> None:
        """Close the database."""
        self.database.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for queries, of one state throughout."""
        with self.database.reading() as connection:
            yield connection

    # --- set-up

    def facilities(self) -> list[str]:
        """Give the ids of the facilities that were set up."""
        with self.reading() as connection:
            return sorted(connection.execute(select(SETUP.c.facility).distinct()).scalars())

    def set_up(self, site: Site, recorded_at: datetime, label_key: bytes) -> int:
        """Keep a version of the site; the label key is kept the first time only."""
        with self.database.writing(site.id) as connection:
            version = self._version(connection, site.id) + 1
            connection.execute(
                insert(SETUP).values(
                    facility=site.id,
                    version=version,
                    recorded_at=recorded_at,
                    document=site.model_dump_json(by_alias=True),
                )
            )
            if version == 1:
                connection.execute(
                    insert(SECRET).values(facility=site.id, name="label", value=label_key)
                )
            return version

    def rules(self, facility: str) -> Rules:
        """Give the site and its regime as now set up.

        Raises:
            NoSetupError: the facility was never set up.
        """
        with self.reading() as connection:
            return self.rules_in(connection, facility)

    def rules_in(self, connection: Connection, facility: str) -> Rules:
        """Give the rules within a transaction that is already open."""
        version = self._version(connection, facility)
        if version == 0:
            raise NoSetupError(f"facility '{facility}' has not been set up: run custody setup")
        key = (facility, version)
        if key not in self._rules:
            document = connection.execute(
                select(SETUP.c.document).where(
                    SETUP.c.facility == facility, SETUP.c.version == version
                )
            ).scalar_one()
            site = Site.model_validate_json(document)
            self._rules[key] = Rules(assemble(site.regime), site)
        return self._rules[key]

    def label_key(self, facility: str) -> bytes:
        """Give the key that the facility's label tags are made with."""
        with self.reading() as connection:
            found = connection.execute(
                select(SECRET.c.value).where(
                    SECRET.c.facility == facility, SECRET.c.name == "label"
                )
            ).scalar_one_or_none()
        if found is None:
            raise NoSetupError(f"facility '{facility}' has not been set up: run custody setup")
        return bytes(found)

    @staticmethod
    def _version(connection: Connection, facility: str) -> int:
        newest = select(func.max(SETUP.c.version)).where(SETUP.c.facility == facility)
        return connection.execute(newest).scalar() or 0

    # --- clients

    def admit(self, client: Client, token: str, created_at: datetime, expires_at: datetime) -> None:
        """Let a client in by the hash of its token; the token itself is not kept."""
        with self.database.writing(client.facility) as connection:
            connection.execute(
                insert(CLIENT).values(
                    facility=client.facility,
                    token_hash=_hash(token),
                    name=client.name,
                    role=client.role.value,
                    created_at=created_at,
                    expires_at=expires_at,
                )
            )

    def revoke(self, facility: str, name: str, at: datetime) -> int:
        """End all tokens of a client; give how many there were."""
        with self.database.writing(facility) as connection:
            return connection.execute(
                update(CLIENT)
                .where(
                    CLIENT.c.facility == facility,
                    CLIENT.c.name == name,
                    CLIENT.c.revoked_at.is_(None),
                )
                .values(revoked_at=at)
            ).rowcount

    def client_of(self, token: str, now: datetime) -> Client | None:
        """Give the client that holds a token, or None if it is unknown, expired or revoked."""
        valid = and_(
            CLIENT.c.token_hash == _hash(token),
            CLIENT.c.revoked_at.is_(None),
            CLIENT.c.expires_at > now,
        )
        with self.reading() as connection:
            row = connection.execute(select(CLIENT).where(valid)).first()
        return Client(row.facility, row.name, Role(row.role)) if row else None

    # --- the record

    def append(self, facility: str, entries: Sequence[Entry]) -> list[Outcome]:
        """Record entries in one transaction; on return they are on disk."""
        with self.database.writing(facility) as connection:
            reader = Entries(connection, facility, self._recent)
            rules = self.rules_in(connection, facility)
            outcomes = append(connection, facility, rules, reader, entries)
        self._recent.keep(facility, reader.read)
        return outcomes

    def entry(self, facility: str, event_id: UUID) -> Entry | None:
        """Give the entry of that id, or None."""
        with self.reading() as connection:
            found = Entries(connection, facility).by_id([event_id]).get(event_id)
        return found[1] if found else None

    def known_ids(self, facility: str, containers: Iterable[str]) -> set[str]:
        """Give those of the ids that are in use."""
        with self.reading() as connection:
            return known(connection, facility, containers)

    def rebuild(self, facility: str) -> Iterator[tuple[int, int]]:
        """Drop the projections and derive them anew; yields (done, in all) as it goes on.

        All in one transaction: until it ends, others see the old rows.
        """
        with self.database.writing(facility) as connection:
            rules = self.rules_in(connection, facility)
            for table in PROJECTIONS:
                connection.execute(delete(table).where(table.c.facility == facility))
            head = connection.execute(
                select(func.coalesce(func.max(RECORD.c.seq), 0)).where(
                    RECORD.c.facility == facility
                )
            ).scalar_one()
            touched: dict[str, None] = {}  # in order of first mention: a cart's trips are read once
            for low in range(0, head, REBUILD_CHUNK):
                found = _reindex(connection, facility, low, low + REBUILD_CHUNK)
                touched.update(dict.fromkeys(sorted(found)))
                yield min(low + REBUILD_CHUNK, head), 2 * head
            containers = list(touched)
            for low in range(0, len(containers), REBUILD_CHUNK):
                chunk = containers[low : low + REBUILD_CHUNK]
                project(connection, facility, rules, Entries(connection, facility), chunk)
                yield head + head * (low + len(chunk)) // len(containers), 2 * head


def _reindex(connection: Connection, facility: str, low: int, high: int) -> set[str]:
    chunk = and_(RECORD.c.facility == facility, RECORD.c.seq > low, RECORD.c.seq <= high)
    rows = connection.execute(select(RECORD).where(chunk).order_by(RECORD.c.seq)).all()
    reader = Entries(connection, facility)
    return index(connection, facility, reader, [(row.seq, from_row(row)) for row in rows])


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
