"""The store: one object that the duties hold, with the record, its projections and its settings."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import AbstractContextManager, contextmanager
from datetime import datetime
from itertools import islice
from typing import TypeVar
from uuid import UUID

from sqlalchemy import Connection, and_, bindparam, func, insert, select

from service.access.entries import AccessEntry, access_log
from service.custody.events import Entry
from service.custody.regime import Regime
from service.custody.rules import Rules
from service.custody.site import Site
from service.ledger.leaf import SiteVersion, canonical, setup_leaf, site_kept
from service.regimes.load import assemble
from service.store import access_log as entered
from service.store import cycles
from service.store.append import Outcome, append
from service.store.database import Database
from service.store.entries import Entries, Recent
from service.store.evidence import facilities
from service.store.gathering import known
from service.store.labelling import keep_first_key, keys
from service.store.log import LogView, extend, head
from service.store.projections import project
from service.store.reader import Reader
from service.store.refolding import refold
from service.store.replica import Replica
from service.store.rows import Statement
from service.store.tables import CHECKPOINT, SETUP
from service.store.writer import Job, Writer

T = TypeVar("T")

RECENT_ENTRIES = 20_000
"""Parsed entries kept at hand: what most scans are about was scanned in the last few days."""

SERVER_WRITERS = 4
"""Commits on their way to a server at a time, each of another facility."""

FACILITIES_AT_HAND = 2_000
"""Facilities whose set-up is kept at hand, with what was worked out under it, some 0.3 MB each."""


_NEWEST = Statement(
    select(func.max(SETUP.c.version)).where(SETUP.c.facility == bindparam("facility"))
)


class NoSetupError(LookupError):
    """The facility has not been set up."""


class Store:
    """The record of every facility in one database.

    Attributes:
        replica: Where ``viewing`` reads if it can; None if none is set.
    """

    def __init__(self, url: str, read_url: str = "") -> None:
        self.database = Database(url)
        self.replica: Replica | None = None
        try:
            if read_url:
                self.replica = Replica(read_url, self.database)
            self.database.migrate()
        except BaseException:
            self.database.close()
            raise
        self._rules: dict[tuple[str, int], Rules] = {}
        self._regimes: dict[str, Regime] = {}
        self._recent = Recent(RECENT_ENTRIES)
        self._reader = Reader(self.reading)
        threads = 1 if self.database.kind == "sqlite" else SERVER_WRITERS
        self._writer = Writer(self._together, threads)

    @property
    def commits(self) -> int:
        """How many transactions have recorded entries since the store was opened."""
        return self._writer.commits

    @property
    def waiting(self) -> int:
        """How many entries wait to be recorded."""
        return self._writer.waiting

    def close(self) -> None:
        """Record what waits, and close the database; who would record more is told BusyError."""
        self._reader.close()
        self._writer.close()
        self.database.close()
        if self.replica is not None:
            self.replica.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for queries, of one state throughout."""
        with self.database.reading() as connection:
            yield connection

    @contextmanager
    def viewing(self, *, through: bool = False) -> Iterator[Connection]:
        """As ``reading``, at the replica if there is one: for what is shown or handed out.

        Who goes ``through`` all of a record says so, and takes less memory for it.

        What decides who may come in or what is recorded asks ``reading``.
        """
        if self.replica is None:
            with self.database.reading(through=through) as connection:
                yield connection
        else:
            with self.replica.reading() as connection:
                yield connection

    def ask(self, questions: Sequence[Callable[[Connection], T]]) -> "list[Future[T]]":
        """As ``reading``, for who serves many: short questions are answered together.

        Raises:
            BusyError: the store is closed.
        """
        return self._reader.ask(questions)

    # --- set-up

    def facilities(self) -> list[str]:
        """Give the ids of the facilities that were set up."""
        with self.reading() as connection:
            return facilities(connection)

    def set_up(
        self,
        site: Site,
        recorded_at: datetime,
        label_key: bytes,
        entry: Callable[[int], AccessEntry] | None = None,
    ) -> int:
        """Keep a version of the site, in the log too; the label key is kept the first time only.

        ``entry`` gives what the access log is to say of that version.
        """
        self.database.claim()
        with self.database.writing(site.id, access_log(site.id)) as connection:
            version = self._version(connection, site.id) + 1
            at = head(connection, site.id)
            connection.execute(
                insert(SETUP).values(
                    facility=site.id,
                    version=version,
                    number=at.size,
                    recorded_at=recorded_at,
                    document=canonical(site_kept(site)),
                )
            )
            leaf = setup_leaf(SiteVersion(site, version, recorded_at))
            extend(connection, site.id, at, [leaf])
            if version == 1:
                keep_first_key(connection, site.id, label_key)
            if entry is not None:
                entered.record(connection, site.id, entry(version))
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
        rules = self._rules.get(key)
        if rules is None:
            document = connection.execute(
                select(SETUP.c.document).where(
                    SETUP.c.facility == facility, SETUP.c.version == version
                )
            ).scalar_one()
            site = Site.model_validate_json(document)
            if site.regime not in self._regimes:
                self._regimes[site.regime] = assemble(site.regime)
            rules = Rules(self._regimes[site.regime], site)
            while len(self._rules) >= FACILITIES_AT_HAND:
                self._rules.pop(next(iter(self._rules), key), None)
            self._rules[key] = rules
        return rules

    def label_key(self, facility: str) -> bytes:
        """Give the key that the tags of new labels are made with."""
        return self.label_keys(facility)[0]

    def label_keys(self, facility: str) -> tuple[bytes, ...]:
        """Give the keys by whose tags a label is known as genuine, the newest first.

        Raises:
            NoSetupError: the facility was never set up.
        """
        with self.reading() as connection:
            found = keys(connection, facility)
        if not found:
            raise NoSetupError(f"facility '{facility}' has not been set up: run custody setup")
        return found

    @staticmethod
    def _version(connection: Connection, facility: str) -> int:
        return _NEWEST.values(connection, facility=facility)[0] or 0

    # --- people, devices, programs

    @contextmanager
    def changing(self, facility: str) -> Iterator[Connection]:
        """A transaction that may change who may come in, and record it in the access log.

        On disk when the block ends without an error. Another process may do so beside this one.
        """
        with self.database.writing(access_log(facility)) as connection:
            yield connection

    # --- the record

    def append(self, facility: str, entries: Sequence[Entry]) -> list[Outcome]:
        """Record entries, together with what others want recorded; on return they are on disk.

        Raises:
            BusyError: too much waits to be recorded, the database is held, or the store is closed.
        """
        return self.submit(facility, entries).result()

    def submit(self, facility: str, entries: Sequence[Entry]) -> "Future[list[Outcome]]":
        """As ``append``, for who does not wait: done once they are on disk, with the outcomes."""
        if entries:
            return self._writer.submit(facility, entries)
        nothing: Future[list[Outcome]] = Future()
        nothing.set_result([])
        return nothing

    def keep_traces(self, facility: str, traces: Mapping[str, bytes]) -> None:
        """Keep the bytes of loggers' files by their SHA-256; the same again changes nothing.

        Cycles whose events named them before they came are judged by them now.
        """
        self.database.claim()
        with self.database.writing(facility) as connection:
            waited = cycles.keep_traces(connection, facility, traces)
            if waited:
                rules, reader = self.rules_in(connection, facility), Entries(connection, facility)
                touched = cycles.Touched(set(), waited, set())
                load = cycles.project_cycles(connection, facility, rules, reader, touched)
                project(connection, facility, rules, reader, load)

    def expected(self) -> AbstractContextManager[None]:
        """A block within which entries are appended: a commit may wait for them."""
        return self._writer.expected()

    def _together(self, jobs: Sequence[Job]) -> list[list[Outcome]]:
        """Record the entries of all jobs in one transaction, those of a facility in one go."""
        self.database.claim()
        facilities = sorted({job.facility for job in jobs})
        told: dict[str, Iterator[Outcome]] = {}
        read: dict[str, dict[int, Entry]] = {}
        with self.database.writing(*facilities) as connection:
            for facility in facilities:
                reader = Entries(connection, facility, self._recent)
                rules = self.rules_in(connection, facility)
                entries = [e for job in jobs if job.facility == facility for e in job.entries]
                told[facility] = iter(append(connection, facility, rules, reader, entries))
                read[facility] = reader.read
        for facility, found in read.items():
            self._recent.keep(facility, found)
        return [list(islice(told[job.facility], len(job.entries))) for job in jobs]

    def entry(self, facility: str, event_id: UUID) -> Entry | None:
        """Give the entry of that id, or None."""
        with self.reading() as connection:
            found = Entries(connection, facility).by_id([event_id]).get(event_id)
        return found[1] if found else None

    @contextmanager
    def log(self, facility: str) -> Iterator[LogView]:
        """The facility's log as it stands, throughout."""
        with self.reading() as connection:
            yield LogView(connection, facility)

    def keep_checkpoint(
        self,
        log: str,
        size: int,
        signed_by: str,
        note: str,
        at: datetime,
        facility: str,
        entry: AccessEntry | None = None,
    ) -> None:
        """Keep a signed state of a facility's log, and enter it; the same again changes nothing.

        So who asks once more for what was signed needs no room on the disk.
        """
        c = CHECKPOINT.c
        same = and_(c.facility == log, c.size == size, c.signed_by == signed_by)
        with self.reading() as connection:
            if connection.execute(select(c.size).where(same)).first():
                return
        with self.database.writing(facility, access_log(facility)) as connection:
            if connection.execute(select(c.size).where(same)).first():
                return
            kept = {"facility": log, "size": size, "signed_by": signed_by}
            connection.execute(insert(CHECKPOINT).values(**kept, note=note, signed_at=at))
            if entry is not None:
                entered.record(connection, facility, entry)

    def known_ids(self, facility: str, containers: Iterable[str]) -> set[str]:
        """Give those of the ids that are in use."""
        with self.reading() as connection:
            return known(connection, facility, containers)

    def rebuild(self, facility: str, entry: AccessEntry | None = None) -> Iterator[tuple[int, int]]:
        """Drop the projections and derive them anew; yields (done, in all) as it goes on.

        All in one transaction with the entry: until it ends, others see the old rows.
        """
        self.database.claim()
        with self.database.writing(facility, access_log(facility)) as connection:
            yield from refold(connection, facility, self.rules_in(connection, facility))
            if entry is not None:
                entered.record(connection, facility, entry)
