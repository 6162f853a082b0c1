"""A PostgreSQL server and a replica that follows it, held back where a test wants it."""

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager

from tests.faults.standby import hold_up
from tests.postgres import Cluster


class Pair:
    """A server and the replica that follows it."""

    def __init__(self, server: Cluster, replica: Cluster) -> None:
        self.server, self.replica = server, replica

    def catch_up(self) -> None:
        """Wait until the replica has all that the server has."""
        [(lsn,)] = self.server.ask("SELECT pg_current_wal_flush_lsn()::text")
        self.wait(f"pg_last_wal_replay_lsn() >= '{lsn}'::pg_lsn")

    @contextmanager
    def paused(self) -> Iterator[None]:
        """The replica takes what the server writes, and does not show it."""
        self.catch_up()
        self.replica.ask("SELECT pg_wal_replay_pause()")
        self.wait("pg_get_wal_replay_pause_state() = 'paused'")
        try:
            yield
        finally:
            self.replica.ask("SELECT pg_wal_replay_resume()")

    def received(self) -> str:
        """Wait until the replica has received all that the server has; say how far that is."""
        [(lsn,)] = self.server.ask("SELECT pg_current_wal_flush_lsn()::text")
        self.wait(f"pg_last_wal_receive_lsn() >= '{lsn}'::pg_lsn")
        return str(lsn)

    @contextmanager
    def held_up(self) -> Iterator[None]:
        """The server sends the replica nothing more."""
        pid = hold_up(self.server)
        try:
            yield
        finally:
            os.kill(pid, signal.SIGCONT)

    def wait(self, holds: str) -> None:
        """Wait until something holds at the replica."""
        said = f"DO $$BEGIN WHILE NOT {holds} LOOP PERFORM pg_sleep(0.005); END LOOP; END$$"
        self.replica.ask(f"SET statement_timeout = '60s'; {said}")
