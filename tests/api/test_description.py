"""The description at /openapi.json: complete, with an example of everything, and true."""

from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest
from fastapi.testclient import TestClient
from openapi_spec_validator import OpenAPIV31SpecValidator

from service.api.event_examples import EVENTS
from service.custody.events import EVENT, KINDS
from tests.api.client import Clock, Device

SAY_ALL = {
    "POST /v1/sign-out",
    "POST /v1/sign-out/everywhere",
    "POST /v1/me/second-factor",
    "POST /v1/people/{person}/activation",
    "POST /v1/people/{person}/badge",
    "POST /v1/access-log/checkpoint",
}
"""Requests that say by their address alone what is wanted."""


@pytest.fixture
def document(http: TestClient) -> Any:
    """The description."""
    return http.get("/openapi.json").json()


def _operations(document: Any) -> Iterator[tuple[str, Any]]:
    for address, operations in document["paths"].items():
        for method, operation in operations.items():
            yield f"{method.upper()} {address}", operation


def _validator(document: Any, schema: Any) -> Any:
    whole = {**schema, "components": document["components"]}
    return jsonschema_rs.Draft202012Validator(whole)


def test_every_operation_says_what_it_is(document: Any) -> None:
    """A name, a tag, a summary, a description, and a token but for health."""
    names = [operation["operationId"] for _, operation in _operations(document)]
    assert len(names) == len(set(names))
    for which, operation in _operations(document):
        assert operation["tags"] and operation["summary"] and operation["description"], which
        assert bool(operation.get("security")) == (which != "GET /health"), which


def test_every_operation_has_examples_that_its_schemas_allow(document: Any) -> None:
    """Of every body and every answer (JSON Schema 2020-12, as OpenAPI 3.1 has it)."""
    for which, operation in _operations(document):
        body = operation.get("requestBody", {}).get("content", {})
        takes_one = which.startswith(("POST", "PATCH", "PUT")) and which not in SAY_ALL
        assert bool(body) == takes_one, which
        for content in body.values():
            assert content["examples"], which
            for name, example in content["examples"].items():
                errors = list(_validator(document, content["schema"]).iter_errors(example["value"]))
                assert not errors, (which, name, errors)
        for status, response in operation["responses"].items():
            assert response["content"], (which, status)
            for media, content in response["content"].items():
                assert "example" in content, (which, status, media)
                if media.endswith("json") and "schema" in content:
                    validator = _validator(document, content["schema"])
                    errors = list(validator.iter_errors(content["example"]))
                    assert not errors, (which, status, errors)


def test_the_description_is_what_the_standard_asks_for(document: Any) -> None:
    """Valid by the schema of OpenAPI 3.1.0 (2021), as openapi-spec-validator brings it."""
    assert document["openapi"].startswith("3.1")
    assert [str(e) for e in OpenAPIV31SpecValidator(document).iter_errors()] == []


def test_every_error_is_described_as_a_problem(document: Any) -> None:
    """And as nothing else."""
    for which, operation in _operations(document):
        for status, response in operation["responses"].items():
            if status >= "400":
                [(media, content)] = response["content"].items()
                assert media == "application/problem+json", which
                assert content["schema"] == {"$ref": "#/components/schemas/Problem"}


def test_what_a_full_disk_or_a_held_up_body_gives_is_described(document: Any) -> None:
    """At every door with a token, and at every one with a body."""
    for which, operation in _operations(document):
        statuses = set(operation["responses"])
        assert ({"500", "503", "507"} <= statuses) == (which != "GET /health"), which
        assert ({"408", "413"} <= statuses) == ("requestBody" in operation), which


def test_every_reference_leads_somewhere(document: Any) -> None:
    """No schema names one that is not there."""
    schemas = document["components"]["schemas"]

    def walk(node: Any) -> Iterator[str]:
        if isinstance(node, dict):
            if isinstance(node.get("$ref"), str):
                yield node["$ref"]
            for value in node.values():
                yield from walk(value)
        elif isinstance(node, list):
            for value in node:
                yield from walk(value)

    for reference in set(walk(document)):
        assert reference.removeprefix("#/components/schemas/") in schemas, reference


def test_there_is_an_example_of_every_kind_of_event() -> None:
    """All of them, as a device sends them."""
    single = [e for e in EVENTS.values() if isinstance(e, dict)]
    assert {e["kind"] for e in single} == {k.model_fields["kind"].default for k in KINDS}
    for example in single:
        EVENT.validate_python(example)


def test_the_example_events_are_recorded_as_they_stand(officer: Device, clock: Clock) -> None:
    """Whoever copies one from the description gets it taken."""
    clock.move(days=1)
    officer.tell(*(e for e in EVENTS.values() if isinstance(e, dict)))


def test_nothing_is_fetched_from_elsewhere(http: TestClient) -> None:
    """No page of the description is served: such pages load scripts from other hosts."""
    for address in ("/docs", "/redoc"):
        assert http.get(address).status_code == 404
