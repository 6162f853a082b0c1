"""Every log that grew is signed once a day, asked or not, while the service runs."""

import asyncio
import logging
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from scenario.hospital import load_site
from service import app
from service.duties import evidence
from service.duties.evidence import Keeping
from service.store import evidence as signatures
from service.store.keyring import Keyring
from service.store.store import Store
from tests.api.client import LABEL_KEY, NOON, Clock, Device, ids, sealed

HERE, THERE = "lantern-hill", "a-second-house"


@pytest.fixture
def keeping(store: Store, tmp_path: Path) -> Keeping:
    """The store and the keys that the service has."""
    return Keeping(store, Keyring(tmp_path / "keys"), "https://custody.example")


def last(keeping: Keeping, facility: str = HERE) -> Any:
    """The size last signed, and when."""
    with keeping.store.reading() as connection:
        return signatures.last_signed(connection, facility)


def test_the_first_look_is_soon_after_the_start_and_then_every_hour(
    keeping: Keeping, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever goes wrong at one look, the next is taken."""
    done: list[Any] = []

    async def sleep(seconds: float) -> None:
        done.append(seconds)
        if len(done) > 5:
            raise asyncio.CancelledError

    def look(_: Keeping, now: Any) -> None:
        done.append(now)
        raise RuntimeError("the database is away")

    monkeypatch.setattr(app, "sleep", sleep)
    monkeypatch.setattr(app, "_sign_all", look)
    with pytest.raises(asyncio.CancelledError):
        asyncio.run(app._sign_daily(keeping, clock))
    assert done == [60, NOON, 3_600, NOON, 3_600, NOON, 3_600]


def test_the_fault_of_one_log_stops_no_other(
    keeping: Keeping, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Of any kind; it is in the service's log."""
    keeping.store.set_up(load_site().model_copy(update={"id": THERE}), NOON, LABEL_KEY)
    assert keeping.store.facilities()[0] == THERE
    sign = evidence.sign_daily

    def sign_here_only(keeping: Keeping, caller: Any, now: Any, log: Any) -> Any:
        if caller.facility == THERE:
            raise ArithmeticError("a fault that nobody thought of")
        return sign(keeping, caller, now, log)

    monkeypatch.setattr(evidence, "sign_daily", sign_here_only)
    with caplog.at_level(logging.ERROR, "custody"):
        app._sign_all(keeping, NOON)
    assert last(keeping, THERE) is None
    assert last(keeping) == (1, NOON)
    assert THERE in caplog.text
    assert "nobody thought of" in caplog.text


def test_a_log_is_signed_once_a_day_if_it_grew(keeping: Keeping, officer: Device) -> None:
    """At the latest a day after the last signature; one that did not grow needs none."""
    app._sign_all(keeping, NOON)
    app._sign_all(keeping, NOON + timedelta(days=2))
    assert last(keeping) == (1, NOON)
    officer.tell(sealed(*ids(1)))
    app._sign_all(keeping, NOON + timedelta(hours=24, seconds=-1))
    assert last(keeping) == (1, NOON)
    app._sign_all(keeping, NOON + timedelta(hours=24))
    assert last(keeping) == (2, NOON + timedelta(hours=24))


def test_a_signature_dated_later_than_now_puts_off_no_other(
    keeping: Keeping, officer: Device
) -> None:
    """A clock that was a year ahead, and was put right, leaves no year unsigned."""
    app._sign_all(keeping, NOON + timedelta(days=365))
    officer.tell(sealed(*ids(1)))
    app._sign_all(keeping, NOON)
    with keeping.store.reading() as connection:
        sizes = [size for size, _ in signatures.checkpoints(connection, HERE, below=9)]
    assert sizes == [1, 2]
