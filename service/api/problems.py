"""Every error as RFC 9457 problem details: what is wrong, in words, and nothing of the inside."""

from collections.abc import Iterable, Sequence
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.routing import BaseRoute, Match

from service.api.guard import SAFE_HEADERS
from service.custody.identifiers import MalformedIdError
from service.duties.access import (
    BusyError,
    NoSetupError,
    NotAllowedError,
    UnusableError,
    UnwritableError,
)
from service.duties.evidence import BundleError, KeyringError
from service.duties.lookup import NotFoundError
from service.duties.record import TooManyError
from service.duties.wording import in_words

MEDIA_TYPE = "application/problem+json"
RETRY_AFTER_S = 5

KINDS: dict[int, tuple[str, str]] = {
    400: ("malformed-request", "The request cannot be read."),
    401: ("not-signed-in", "No valid token came with the request."),
    403: ("not-allowed", "The token's role does not cover this."),
    404: ("not-found", "There is nothing of that name."),
    405: ("method-not-allowed", "The address does not take this method."),
    406: ("not-acceptable", "The answer cannot be given in any form that was asked for."),
    413: ("too-large", "The body is too large."),
    422: ("unfit", "What was sent cannot stand as written."),
    500: ("fault", "The service failed; the fault is in its log."),
    503: ("busy", "The service cannot answer now; try again."),
    507: ("no-room", "The disk is full; nothing was recorded."),
}
"""The name and title of each kind of problem; ``type`` is ``/problems/`` and the name."""


class UnfitError(Exception):
    """A body or parameter that cannot stand as written; ``extension`` goes out with the problem."""

    def __init__(self, detail: str, **extension: Any) -> None:
        super().__init__(detail)
        self.extension = extension


def unfit(error: ValidationError | RequestValidationError) -> UnfitError:
    """Put the errors of the checking library in words, each with its place."""
    faults = [
        {
            "where": ".".join(str(part) for part in e["loc"]),
            "what": in_words(e["type"], tuple(e["loc"]), e["msg"]) + _perhaps_a_plus(e),
        }
        for e in error.errors()
    ]
    return UnfitError("; ".join(dict.fromkeys(f["what"] for f in faults)), errors=faults)


def _perhaps_a_plus(error: Any) -> str:
    """An offset such as +05:30 comes in as a space when the address was not encoded."""
    is_time = error["type"].startswith("datetime") and error["loc"][:1] == ("query",)
    return "; in an address write + as %2B" if is_time and " " in str(error["input"]) else ""


def problem(request: Request, status: int, detail: str, **extension: Any) -> JSONResponse:
    """Write one problem."""
    name, title = KINDS.get(status) or ("error", HTTPStatus(status).phrase)
    content = {
        "type": f"/problems/{name}",
        "title": title,
        "status": status,
        "detail": detail,
        "instance": quote(request.url.path, errors="replace"),
    }
    return JSONResponse(content | extension, status, SAFE_HEADERS, MEDIA_TYPE)


def documented(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Give the OpenAPI responses for these statuses."""
    return {status: _documented(status) for status in statuses}


def _documented(status: int) -> dict[str, Any]:
    name, title = KINDS[status]
    example = {
        "type": f"/problems/{name}",
        "title": title,
        "status": status,
        "detail": title,
        "instance": "/v1/containers/M9S3-46Q3-D250",
    }
    content = {"schema": {"$ref": "#/components/schemas/Problem"}, "example": example}
    return {"description": title, "content": {MEDIA_TYPE: content}}


def install(app: FastAPI, routes: Sequence[BaseRoute]) -> None:
    """Have the application, which has these routes, answer every error with a problem."""

    def http(request: Request, error: Any) -> Response:
        headers = dict(error.headers or {})
        if error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
            headers["Allow"] = ", ".join(sorted(_methods(routes, request)))
        answer = problem(request, error.status_code, _sentence(request, error))
        answer.headers.update(headers)
        return answer

    def unfit_as_sent(request: Request, error: Any) -> Response:
        told = error if isinstance(error, UnfitError) else unfit(error)
        return problem(request, 422, str(told), **told.extension)

    def fault(request: Request, _: Any) -> Response:
        return problem(request, 500, "nothing was changed that was not acknowledged")

    def hung_up(request: Request, _: Any) -> Response:
        return problem(request, 400, "the sender hung up before all of it had come")

    def busy(request: Request, error: Any) -> Response:
        return _later(request, 503, str(error))

    def unwritable(request: Request, error: Any) -> Response:
        return _later(request, 507 if error.full else 503, str(error))

    app.add_exception_handler(HTTPException, http)
    app.add_exception_handler(RequestValidationError, unfit_as_sent)
    app.add_exception_handler(UnfitError, unfit_as_sent)
    app.add_exception_handler(BusyError, busy)
    app.add_exception_handler(NoSetupError, busy)
    app.add_exception_handler(UnusableError, busy)
    app.add_exception_handler(UnwritableError, unwritable)
    app.add_exception_handler(KeyringError, busy)
    app.add_exception_handler(BundleError, busy)
    app.add_exception_handler(ClientDisconnect, hung_up)
    app.add_exception_handler(Exception, fault)
    _plain(app, 422, (MalformedIdError, TooManyError))
    _plain(app, 403, (NotAllowedError,))
    _plain(app, 404, (NotFoundError,))


def full_up(request: Request) -> Response:
    """Tell a sender that too many are being served."""
    return _later(request, 503, "too many requests at a time: send the same again in a moment")


def _later(request: Request, status: int, detail: str) -> Response:
    answer = problem(request, status, detail)
    answer.headers["Retry-After"] = str(RETRY_AFTER_S)
    return answer


def _plain(app: FastAPI, status: int, errors: Iterable[type[Exception]]) -> None:
    def told(request: Request, error: Any) -> Response:
        return problem(request, status, str(error))

    for error in errors:
        app.add_exception_handler(error, told)


def _sentence(request: Request, error: HTTPException) -> str:
    phrase = HTTPStatus(error.status_code).phrase
    if error.detail != phrase:
        return error.detail
    if error.status_code == HTTPStatus.NOT_FOUND:
        return f"there is nothing at {request.url.path}"
    return f"{request.url.path} does not take {request.method}"


def _methods(routes: Sequence[BaseRoute], request: Request) -> set[str]:
    """Every method that some route at the address takes; one route alone knows only its own."""
    found: set[str] = set()
    for route in routes:
        if route.matches(request.scope)[0] is not Match.NONE:
            found |= set(getattr(route, "methods", None) or ())
    return found
