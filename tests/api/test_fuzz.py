"""Schemathesis reads the description and sends what it allows and what it does not, as every role.

``CUSTODY_FUZZ=300`` in the environment has it draw so many examples for each operation.
"""

import os
from collections.abc import Iterator
from datetime import timedelta
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck
from hypothesis import settings as given_to
from schemathesis.generation.meta import TestPhase
from schemathesis.specs.openapi.checks import (
    ignored_auth,
    missing_required_header,
    negative_data_rejection,
)

from scenario.hospital import load_site
from service.access.caller import Caller, Proof
from service.access.people import Session
from service.access.permissions import OPERATIONS
from service.app import create_app
from service.custody.words import Role
from service.duties import ward
from service.settings import Settings
from service.store import identities
from service.store.store import Store
from service.web.credentials import SESSION_COOKIE
from tests.api.browser import FACILITY, take_on
from tests.api.client import LABEL_KEY, NOON, let_in

CONFIG = schemathesis.Config.from_dict(
    {
        "checks": {
            # What no schema can say (check characters, names of the site) is refused with 422.
            "positive_data_acceptance": {
                "expected-statuses": ["2xx", "401", "403", "404", "406", "409", "422", "429"]
            }
        },
        # Every field of every kind of event by itself would be ten thousand requests.
        "operations": [
            {"include-name": "POST /v1/events", "phases": {"coverage": {"enabled": False}}}
        ],
    }
)


THOROUGH = "CUSTODY_FUZZ" in os.environ
EXAMPLES = int(os.environ.get("CUSTODY_FUZZ", "3"))
"""Drawn for each operation, beside those that try each rule of the description in turn."""

OF_PEOPLE_ALONE = ("/v1/me", "/v1/sign-out")
"""What a program has none of, whatever its role."""

_numbers = count(1)
_folder = TemporaryDirectory()
_store = Store(f"sqlite:///{_folder.name}/custody.sqlite3")


def _application() -> FastAPI:
    """The application on a database of its own, with a program and a person of every role."""
    site = load_site()
    _store.set_up(site, NOON, LABEL_KEY)
    for role in Role:
        program = Caller(site.id, f"a program as {role}", role)
        let_in(_store, program, f"token-{role}", NOON + timedelta(days=1))
        take_on(_store, NOON, f"p-for-{role}", role)
    settings = Settings(
        _env_file=None,
        key_dir=Path(_folder.name) / "keys",
        requests_per_minute=1_000_000,
        failed_sign_ins_per_minute=1_000_000,
    )
    return create_app(settings, lambda: NOON, _store)


@schemathesis.serializer("application/zip", "image/jpeg", "image/png", "image/webp")
def _archive(_: Any, value: Any) -> bytes:
    """Whatever is drawn goes out as bytes."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


@pytest.fixture(autouse=True, scope="module")
def _no_paper() -> Iterator[None]:
    """Two thousand labels are drawn in no time: what is on the paper is tested elsewhere."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ward, "print_labels", lambda *_: b"%PDF")
        yield


schema = schemathesis.openapi.from_asgi("/openapi.json", _application(), config=CONFIG)


def _programs(case: Any) -> list[dict[str, str]]:
    """Every role; in the suite those that try each rule in turn are sent as one who may."""
    roles = list(Role)
    if case.meta.phase.name is TestPhase.COVERAGE and not THOROUGH:
        may = OPERATIONS.get(case.operation.definition.raw["operationId"], set(Role))
        roles = [sorted(may)[next(_numbers) % len(may)]]
    return [{"Authorization": f"Bearer token-{role}"} for role in roles]


def _people() -> list[dict[str, str]]:
    """Each with a session of its own: the one before may have ended all of the person's."""
    found = []
    end = NOON + timedelta(hours=8)
    with _store.changing(FACILITY) as connection:
        for role in Role:
            token = f"session-{role}-{next(_numbers)}"
            opened = Session(
                FACILITY, identities.token_hash(token), f"p-for-{role}", "",
                Proof.SECOND_FACTOR, NOON, end, end,
            )  # fmt: skip
            identities.open_session(connection, opened)
            cookie = f"{SESSION_COOKIE}={token}"
            found.append({"Cookie": cookie, "Sec-Fetch-Site": "same-origin"})
    return found


@schema.parametrize()
@given_to(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_operation_keeps_to_its_description(case: Any) -> None:
    """Whatever is sent by whom, the answer is one that the description names, in its form.

    All checks, but that a list with a malformed event in it is answered with 200: each event has
    its own outcome; and that a token is asked for, where a session comes in its stead.
    """
    path = case.operation.label.partition(" ")[2]
    passed_over = [negative_data_rejection] if path == "/v1/events" else []
    for headers in _programs(case):
        case.call_and_validate(headers=headers, excluded_checks=passed_over)
    if path.startswith(OF_PEOPLE_ALONE):
        by_session = [negative_data_rejection, ignored_auth, missing_required_header]
        for headers in _people():
            case.call_and_validate(headers=headers, excluded_checks=by_session)
