"""What the interface says of itself in OpenAPI beyond what the routes say: bodies and problems."""

from typing import Any

from fastapi import FastAPI
from pydantic import TypeAdapter
from pydantic.json_schema import JsonSchemaMode

from service.api import client_views, people_views, session_views
from service.api.cycle_examples import CYCLE_ANSWERS
from service.api.examples import ANSWERS
from service.api.people_examples import PEOPLE_ANSWERS
from service.api.problems import documented
from service.api.views import FilledLabelOrder, LabelOrder, LabelsReserved, Problem
from service.custody.cycle_events import CycleRun
from service.custody.events import EVENT, KINDS, Dispatched, Treated
from service.duties.record import BATCH_MAX

SUMMARY = "Waste segregation and chain of custody, from label to final disposal."
DESCRIPTION = """
What happened is recorded, what is wrong is flagged, and only what is malformed or unauthorised is
refused. Every event has an id made by its sender, so that any request may be sent again. Times are
RFC 3339 with zone and are given back in UTC; weights are whole grams. Errors are RFC 9457 problem
details. The rules of the local authority prevail over anything said here.
"""
TAGS = [
    {"name": "labels", "description": "Ids and printed labels."},
    {"name": "events", "description": "What happened, one or many at a time."},
    {"name": "containers", "description": "Containers as they stand, with their past."},
    {"name": "violations", "description": "Rules not kept, now or at any instant."},
    {"name": "consignments", "description": "What leaves together."},
    {"name": "cycles", "description": "Cycles of treatment machines and what they prove."},
    {"name": "rules", "description": "Regimes, and the facility as it is set up."},
    {"name": "manifests", "description": "The quarter's record."},
    {"name": "signing in", "description": "Sessions, and what somebody changes about themselves."},
    {"name": "people", "description": "Who may sign in, and what they prove it by."},
    {"name": "devices and programs", "description": "What comes in by a token of its own."},
    {"name": "access log", "description": "Who came in, and who changed what others may do."},
    {"name": "health", "description": "Whether the service can work."},
]
_REF = "#/components/schemas/{model}"
_MODELS: tuple[tuple[str, JsonSchemaMode, TypeAdapter[Any]], ...] = (
    ("Event", "validation", EVENT),
    ("LabelOrder", "validation", TypeAdapter(LabelOrder)),
    ("FilledLabelOrder", "validation", TypeAdapter(FilledLabelOrder)),
    ("LabelsReserved", "serialization", TypeAdapter(LabelsReserved)),
    ("Problem", "serialization", TypeAdapter(Problem)),
    *(
        (order.__name__, "validation", TypeAdapter(order))
        for order in (
            session_views.SignIn,
            session_views.BadgeSignIn,
            session_views.PasswordSetting,
            session_views.PasswordChange,
            session_views.PinChange,
            session_views.FactorConfirmation,
            people_views.NewPersonOrder,
            people_views.PersonChange,
            client_views.ProgramOrder,
            client_views.DeviceOrder,
            client_views.Enrolment,
        )
    ),
)
_ANSWERS = ANSWERS | CYCLE_ANSWERS | PEOPLE_ANSWERS


class DescribedApi(FastAPI):
    """An application whose description says all; it is made when first asked for, and kept."""

    def openapi(self) -> dict[str, Any]:
        """Give the OpenAPI document."""
        if self.openapi_schema is None:
            _complete(super().openapi())
        return super().openapi()


def _complete(document: dict[str, Any]) -> None:
    """Add to the document what the routes cannot say."""
    schemas = document["components"]["schemas"]
    schemas.update(_schemas())
    schemas["Recorded"]["properties"]["event"] = {"$ref": _REF.format(model="Event")}
    for address, operations in document["paths"].items():
        for operation in operations.values():
            responses = operation["responses"]
            _exemplify(operation)
            responses.update(_everywhere(address, has_body="requestBody" in operation))
            operation["responses"] = dict(sorted(responses.items()))
    schemas.pop("HTTPValidationError", None)
    schemas.pop("ValidationError", None)


def _exemplify(operation: dict[str, Any]) -> None:
    """Put an example to every good answer.

    Here and not at the routes, since FastAPI leaves null out of what they say.
    """
    for status, response in operation["responses"].items():
        for media, content in response["content"].items() if status < "400" else ():
            is_json = media.endswith("json")
            content["example"] = _ANSWERS[operation["operationId"]] if is_json else f"({media})"


def _everywhere(address: str, *, has_body: bool) -> dict[str, Any]:
    """Give the problems that any door may answer with, and any that takes a body."""
    statuses = [500] if address == "/health" else [401, 429, 500, 503, 507]
    statuses += [408, 413] if has_body else []
    return {str(status): told for status, told in documented(*statuses).items()}


def _schemas() -> dict[str, Any]:
    refs, found = TypeAdapter.json_schemas(_MODELS, ref_template=_REF)
    schemas: dict[str, Any] = found["$defs"]
    for name, mode, _ in _MODELS:
        if name not in schemas:
            schemas[name] = refs[name, mode]
    for kind in KINDS:
        schemas[kind.__name__]["required"].append("kind")
    schemas["EventOrEvents"] = {
        "title": "EventOrEvents",
        "anyOf": [
            {"$ref": _REF.format(model="Event")},
            {
                "type": "array",
                "items": {"$ref": _REF.format(model="Event")},
                "maxItems": BATCH_MAX,
            },
        ],
    }
    schemas["ConsignmentOrder"] = _consignment_order(schemas[Dispatched.__name__])
    schemas["CycleOrder"] = _cycle_order(schemas[CycleRun.__name__], schemas[Treated.__name__])
    return schemas


def _cycle_order(run: dict[str, Any], load: dict[str, Any]) -> dict[str, Any]:
    """The event of a run, with what was in it."""
    properties = {k: v for k, v in run["properties"].items() if k != "kind"}
    return {
        **run,
        "title": "CycleOrder",
        "description": "A `cycle_run` event with the containers that were in it; a cycle without "
        "a number is given one.",
        "properties": properties | {"containers": load["properties"]["containers"]},
        "required": [name for name in run["required"] if name not in ("kind", "cycle")],
    }


def _consignment_order(dispatched: dict[str, Any]) -> dict[str, Any]:
    """The event of a departure, without what the door fills in."""
    given = {"kind", "consignment"}
    return {
        **dispatched,
        "title": "ConsignmentOrder",
        "description": "A `dispatched` event; a consignment without a number is given one.",
        "properties": {k: v for k, v in dispatched["properties"].items() if k != "kind"},
        "required": [name for name in dispatched["required"] if name not in given],
    }
