"""Read at a replica that follows the PostgreSQL server, never an older state than was told.

What was recorded here is told as recorded once it is at the server. So before a reading the server
is asked how far its log goes, unless nothing was recorded here since it was asked last; the replica
is read only if it has got as far, and otherwise the server itself.
"""

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError

from service.store.database import Database
from service.store.faults import BusyError, UnusableError, UnwritableError, or_unusable

ASKED_EVERY_S = 1.0
"""How long what others recorded, in other processes, may stay unseen at the replica."""
LOOKS, LOOK_S = 10, 0.005
"""How often and how far apart a replica is asked that was up to date the last time: it mostly lags
by no more, and an export begins with an entry in the access log."""
REST_S = 10.0
"""How long a replica that did not answer is left alone: each try may cost a reader some seconds."""
WAITS = {"connect_timeout": "3", "tcp_user_timeout": "5000"}
"""A replica that vanished is given up sooner than a server: there is another to read at."""

_MARK = text(
    "SELECT system_identifier AS system, current_database() AS database,"
    " CASE WHEN NOT pg_is_in_recovery() THEN"
    " (('x' || left(pg_walfile_name(pg_current_wal_flush_lsn()), 8))::bit(32)::int) END AS line,"
    " CASE WHEN NOT pg_is_in_recovery() THEN pg_current_wal_flush_lsn()::text END AS lsn"
    " FROM pg_control_system()"
)
_PROBE = text(
    "SELECT system_identifier AS system, current_database() AS database,"
    " CASE WHEN pg_is_in_recovery() THEN timeline_id END AS line,"
    " pg_wal_lsn_diff(CAST(:lsn AS pg_lsn), pg_last_wal_replay_lsn()) AS behind"
    " FROM pg_control_system(), pg_control_checkpoint()"
)
_log = logging.getLogger("custody")


@dataclass(frozen=True, slots=True)
class _Mark:
    """How far the server's log went.

    Attributes:
        where: Server, database and line of time: a server that takes over begins another line, on
            which the same position is another state.
        lsn: The position; None if the server that was asked is a standby.
        after: What had been written and read at the server by this process before it asked.
    """

    where: tuple[int, str, int | None]
    lsn: str | None
    after: tuple[int, int]
    asked_at: float


class _NotThereError(Exception):
    """The replica has not got as far, or follows another server; the message says which."""


class Replica:
    """The replica of a server, and the choice between the two.

    Attributes:
        at_replica: How many readings were made there.
        at_server: How many were made at the server in its place.
        behind_bytes: How far the replica was behind when last asked; None before that.
    """

    def __init__(
        self, url: str, server: Database, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Open none of the two.

        Raises:
            UnusableError: one of the two is none of PostgreSQL.
        """
        with or_unusable():
            address = make_url(url)
        both = (address.get_backend_name(), server.kind)
        if both != ("postgresql", "postgresql"):
            raise UnusableError(
                "CUSTODY_READ_DATABASE_URL names a replica of a PostgreSQL server, and "
                "CUSTODY_DATABASE_URL that server: of a file there is none"
            )
        waits = {name: value for name, value in WAITS.items() if name not in address.query}
        whole = address.update_query_dict(waits).render_as_string(hide_password=False)
        self._replica = Database(whole)
        self._server = server
        self._clock = clock
        self._mark: _Mark | None = None
        self._rests_until = 0.0
        self._keeps_up = True
        self._why = ""
        self._counting = threading.Lock()
        self.at_replica = 0
        self.at_server = 0
        self.behind_bytes: int | None = None

    def close(self) -> None:
        """Give all connections back."""
        self._replica.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state throughout, with all that was told as recorded here."""
        with ExitStack() as opened:
            connection = self._at_replica(opened)
            if connection is not None:
                with self._counting:
                    self.at_replica += 1
                try:
                    yield connection
                except DBAPIError:
                    # It went, or had to break off for what it follows: the same again goes past it.
                    self._rest("it broke off")
                    raise
                return
            try:
                yield opened.enter_context(self._server.reading())
            finally:
                # The next reading, which must not be of an older state, asks how far the server is.
                with self._counting:
                    self.at_server += 1

    def _at_replica(self, opened: ExitStack) -> Connection | None:
        """Begin a reading there, or give None if it must be made at the server."""
        if self._clock() < self._rests_until:
            return None
        mark = self._asked()
        if mark.lsn is None:
            return None
        try:
            found = opened.enter_context(self._replica.reading(lambda c: self._demand(c, mark)))
        except _NotThereError as error:
            self._say(str(error))
            return None
        except (BusyError, UnusableError, UnwritableError, DBAPIError) as error:
            self._rest(str(getattr(error.__cause__, "orig", error)))
            return None
        self._say("")
        return found

    def _asked(self) -> _Mark:
        """Ask the server how far it is, unless what it said last will do."""
        after, now = (self._server.written, self.at_server), self._clock()
        mark = self._mark
        if mark and mark.after == after and now - mark.asked_at < ASKED_EVERY_S:
            return mark
        with self._server.reading() as connection:
            row = connection.execute(_MARK).one()
        self._mark = _Mark((row.system, row.database, row.line), row.lsn, after, now)
        return self._mark

    def _demand(self, connection: Connection, mark: _Mark) -> None:
        """See that the replica is as far, before the state that is read is fixed.

        Raises:
            _NotThereError: it is not.
        """
        for _ in range(LOOKS if self._keeps_up else 1):
            row = connection.execute(_PROBE, {"lsn": mark.lsn}).one()
            if row.line is None:
                raise _NotThereError("it follows no server")
            if (row.system, row.database, row.line) != mark.where:
                raise _NotThereError("it follows another server, or this one before it took over")
            self.behind_bytes = max(0, int(row.behind))
            if self.behind_bytes == 0:
                self._keeps_up = True
                return
            time.sleep(LOOK_S)
        self._keeps_up = False
        raise _NotThereError("")

    def _rest(self, why: str) -> None:
        self._rests_until = self._clock() + REST_S
        self._say(why)

    def _say(self, why: str) -> None:
        """Have it in the service's log when something else is wrong than before."""
        if why and why != self._why:
            _log.warning("the replica is not read, the server is in its place: %s", why)
        self._why = why
