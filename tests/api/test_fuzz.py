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
from schemathesis.specs.openapi.checks import negative_data_rejection

from scenario.hospital import load_site
from service.access.caller import Caller, Proof
from service.access.people import Session
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
        # Every field of nineteen kinds of event by itself would be ten thousand requests.
        "operations": [
            {"include-name": "POST /v1/events", "phases": {"coverage": {"enabled": False}}}
        ],
    }
)


EXAMPLES = int(os.environ.get("CUSTODY_FUZZ", "3"))
"""Drawn for each operation, beside those that try each rule of the description in turn."""

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


@pytest.fixture(autouse=True, scope="module")
def _no_paper() -> Iterator[None]:
    """Two thousand labels are drawn in no time: what is on the paper is tested elsewhere."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ward, "print_labels", lambda *_: b"%PDF")
        yield


schema = schemathesis.openapi.from_asgi("/openapi.json", _application(), config=CONFIG)


def _programs() -> list[dict[str, str]]:
    return [{"Authorization": f"Bearer token-{role}"} for role in Role]


def _people() -> list[dict[str, str]]:
    """Each with a session of its own: one before may have ended the last, or all of a person's."""
    found = []
    for role in Role:
        token = f"session-{role}-{next(_numbers)}"
        with _store.changing(FACILITY) as connection:
            end = NOON + timedelta(hours=8)
            kept, person = identities.token_hash(token), f"p-for-{role}"
            identities.open_session(
                connection,
                Session(FACILITY, kept, person, "", Proof.SECOND_FACTOR, NOON, end, end),
            )
        said = {"Cookie": f"{SESSION_COOKIE}={token}", "Sec-Fetch-Site": "same-origin"}
        found.append(said)
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
    its own outcome.
    """
    whole_list = case.operation.label == "POST /v1/events"
    for headers in (*_programs(), *_people()):
        case.call_and_validate(
            headers=headers, excluded_checks=[negative_data_rejection] if whole_list else []
        )
