"""Schemathesis reads the description and sends what it allows and what it does not."""

from collections.abc import Iterator
from datetime import timedelta
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
from service.access.caller import Caller
from service.app import create_app
from service.custody.words import Role
from service.duties import ward
from service.settings import Settings
from service.store.store import Store
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


_folder = TemporaryDirectory()


def _application() -> FastAPI:
    """The application on a database of its own, with a token for an officer."""
    store = Store(f"sqlite:///{_folder.name}/custody.sqlite3")
    site = load_site()
    store.set_up(site, NOON, LABEL_KEY)
    let_in(store, Caller(site.id, "officer", Role.OFFICER), "token", NOON + timedelta(days=1))
    settings = Settings(
        _env_file=None,
        key_dir=Path(_folder.name) / "keys",
        requests_per_minute=1_000_000,
        failed_sign_ins_per_minute=1_000_000,
    )
    return create_app(settings, lambda: NOON, store)


@pytest.fixture(autouse=True, scope="module")
def _no_paper() -> Iterator[None]:
    """Two thousand labels are drawn in no time: what is on the paper is tested elsewhere."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ward, "print_labels", lambda *_: b"%PDF")
        yield


schema = schemathesis.openapi.from_asgi("/openapi.json", _application(), config=CONFIG)


@schema.parametrize()
@given_to(
    max_examples=15,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_operation_keeps_to_its_description(case: Any) -> None:
    """Whatever is sent, the answer is one that the description names, in its form.

    All checks, but that a list with a malformed event in it is answered with 200: each event has
    its own outcome.
    """
    whole_list = case.operation.label == "POST /v1/events"
    case.call_and_validate(
        headers={"Authorization": "Bearer token"},
        excluded_checks=[negative_data_rejection] if whole_list else [],
    )
