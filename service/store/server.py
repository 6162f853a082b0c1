"""PostgreSQL: how it is spoken to, what the record relies on, and who writes a facility's log.

All that a transaction sets or holds ends with it: a pooler between may give the next one another
session.
"""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import URL, Connection, Engine, bindparam, event, func, select, text

from service.store.faults import BusyError, UnusableError
from service.store.tables import LOG

TESTED = 15
"""The oldest PostgreSQL that the tests run on."""

RELIED_ON = {
    "fsync": (("on",), "what it calls written may not be on its disk"),
    "full_page_writes": (("on",), "a page that a power cut tears in two could not be mended"),
    # All but `off` wait for the server's own disk; they differ in what they wait for at a standby.
    "synchronous_commit": (
        ("on", "local", "remote_write", "remote_apply"),
        "it says that entries are recorded before they are on its disk",
    ),
    "server_encoding": (("UTF8",), "it does not keep every text as it is"),
    "session_replication_role": (
        ("origin", "local"),
        "the triggers that keep what is written from being changed do not act",
    ),
}
"""Settings, what they may be, and what goes wrong otherwise."""

ALIVE = {
    "connect_timeout": 10,
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 4,
    "tcp_user_timeout": 30_000,
}
"""A server that vanished without a word is given up within half a minute (libpq's own: hours)."""

_ASKED = ", ".join(f"current_setting('{name}') AS {name}" for name in RELIED_ON)
_BEGIN = (
    "SELECT current_setting('server_version_num')::int / 10000 AS version, {asked}"
    # A limit on statements, set for the user, would cut the wait for a standby short; the commit
    # counts as done then.
    ", set_config('lock_timeout', :wait, true), set_config('statement_timeout', '0', true)"
)
_OPENED = text(_BEGIN.format(asked=_ASKED))
_KNOWN = ", ARRAY(SELECT facility FROM log WHERE facility = ANY(:names)) AS known"
_OPENED_ON = text(_BEGIN.format(asked=_ASKED) + _KNOWN)
_WARNED = "custody_warned"


def options(address: URL) -> dict[str, Any]:
    """Give how the engine of a server is made; what its address says comes first."""
    alive = {name: value for name, value in ALIVE.items() if name not in address.query}
    return {
        # The server may have been started anew since a connection was last used.
        "pool_pre_ping": True,
        "connect_args": {"prepare_threshold": None, **alive},
        # Said in each BEGIN, so that no default of the server or its user matters. Who waited for a
        # log must see what was written meanwhile: a fixed state would have it fail instead.
        "isolation_level": "READ COMMITTED",
    }


def listen(engine: Engine) -> None:
    """Keep the warnings that the server gives: see ``demand_at_standby``."""

    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, record: Any) -> None:
        def warned(said: Any) -> None:
            if said.severity_nonlocalized == "WARNING":
                record.info[_WARNED] = said.message_primary

        connection.add_notice_handler(warned)


def begin(connection: Connection, names: Sequence[str], wait_s: int) -> None:
    """Begin to write: see that the server keeps what it says it keeps, and hold the logs named.

    Whoever holds a log's head is the only one who writes that log. A log that is not there yet has
    no head, so its name is held instead. All take names before heads, and both in order: nobody
    waits in a circle.

    Raises:
        UnusableError: a setting of the server is wrong.
    """
    told = {"wait": f"{wait_s}s"}
    if not names:
        _demand_sound(connection.execute(_OPENED, told).one())
        return
    row = connection.execute(_OPENED_ON, {**told, "names": list(names)}).one()
    _demand_sound(row)
    for name in sorted({*names} - {*row.known}):
        hold_name(connection, name)
    # A head that was made while its name was waited for is held by this too.
    connection.execute(_HEADS, {"names": sorted(names)}).all()


_HEADS = (
    select(LOG.c.facility)
    .where(LOG.c.facility.in_(bindparam("names", expanding=True)))
    .order_by(LOG.c.facility)
    .with_for_update()
)


def hold_name(connection: Connection, name: str) -> None:
    """Wait until nobody else holds a name, and hold it until the transaction ends."""
    connection.execute(select(func.pg_advisory_xact_lock(func.hashtextextended(name, 0))))


def demand_at_standby(connection: Connection) -> None:
    """After a commit: see that its wait for the standby was not cut short.

    The server only warns of that. The same sent again takes the log's head again, which is a write,
    so it too is answered only when all before it is at the standby.

    Raises:
        BusyError: it was.
    """
    said = connection.info.pop(_WARNED, None)
    if said is not None:
        raise BusyError(f"the database warns: {said}; send the same again")


def forget_warnings(connection: Connection) -> None:
    """Before a commit: what was warned of until now is not about it."""
    connection.info.pop(_WARNED, None)


def _demand_sound(row: Any) -> None:
    if row.version < TESTED:
        raise UnusableError(
            f"PostgreSQL's version is {row.version}: this program was tried with {TESTED} and newer"
        )
    for name, (good, why) in RELIED_ON.items():
        value = getattr(row, name)
        if value not in good:
            raise UnusableError(
                f"PostgreSQL's setting {name} is {value}: {why}; it must be {' or '.join(good)}"
            )
