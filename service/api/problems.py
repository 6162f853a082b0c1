"""Every error as RFC 9457 problem details: what is wrong, in words, and nothing of the inside."""

import logging
from collections.abc import Awaitable, Callable, Iterator, Sequence
from errno import EDQUOT, ENOSPC
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

from service.api.guard import safe_headers
from service.custody.identifiers import MalformedIdError
from service.duties.access import (
    BusyError,
    NoSetupError,
    NotAllowedError,
    UnusableError,
    UnwritableError,
)
from service.duties.evidence import BundleError, ForkError, KeyringError
from service.duties.lookup import NotFoundError
from service.duties.record import TooManyError
from service.duties.wording import in_words

MEDIA_TYPE = "application/problem+json"
RETRY_AFTER_S = 5

_log = logging.getLogger("custody")
Handler = Callable[[Request, Any], Awaitable[Response]]

KINDS: dict[int, tuple[str, str]] = {
    400: ("malformed-request", "The request cannot be read."),
    401: ("not-signed-in", "No valid token or session came with the request."),
    403: ("not-allowed", "This is not open to who asks."),
    404: ("not-found", "There is nothing of that name."),
    405: ("method-not-allowed", "The address does not take this method."),
    406: ("not-acceptable", "The answer cannot be given in any form that was asked for."),
    408: ("too-slow", "The body did not come in time."),
    409: ("new-pin", "A first PIN is changed at the first use."),
    413: ("too-large", "The body is too large."),
    422: ("unfit", "What was sent cannot stand as written."),
    429: ("too-often", "Too many requests or attempts; come again later."),
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
    answer = JSONResponse(content | extension, status, safe_headers(request.scope), MEDIA_TYPE)
    if given := request.scope.get("state", {}).get("request_id"):
        answer.headers["Request-Id"] = given  # a fault is answered outside of what adds it
    return answer


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
    """Have the application, which has these routes, answer every error with a problem.

    What answers waits for no thread: all may be taken, and health is to answer all the same.
    """

    async def http(request: Request, error: Any) -> Response:
        headers = dict(error.headers or {})
        if error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
            headers["Allow"] = ", ".join(sorted(_methods(routes, request)))
        answer = problem(request, error.status_code, _sentence(request, error))
        answer.headers.update(headers)
        return answer

    app.add_exception_handler(HTTPException, http)
    for kind, handler in _HANDLERS.items():
        app.add_exception_handler(kind, handler)


async def _unfit_as_sent(request: Request, error: Any) -> Response:
    told = error if isinstance(error, UnfitError) else unfit(error)
    return problem(request, 422, str(told), **told.extension)


async def _hung_up(request: Request, _: Any) -> Response:
    return problem(request, 400, "the sender hung up before all of it had come")


async def _busy(request: Request, error: Any) -> Response:
    return _later(request, 503, str(error))


async def _unwritable(request: Request, error: Any) -> Response:
    return _later(request, 507 if error.full else 503, str(error))


async def _unusable(request: Request, error: Any) -> Response:
    """Say nothing of where the database lies: that is in the log."""
    _log.error("the database cannot be used: %s", error)
    return _later(request, 503, "the database cannot be used now: the service's log says why")


async def _no_key(request: Request, error: Any) -> Response:
    """Say nothing of where the keys lie: that is in the log."""
    _log.error("the keys of a log cannot be used: %s", error)
    if _is_disk_full(error):
        return _later(request, 507, "the disk is full: nothing was signed")
    told = "the keys of the log cannot be used: the service's own log says why, and what to do"
    return problem(request, 500, told)


async def _not_whole(request: Request, error: Any) -> Response:
    """No waiting helps: somebody has to look at the record, or restore it."""
    _log.error("the record of a facility is not as it was signed: %s", error)
    return problem(request, 500, str(error))


async def _fault(request: Request, error: Any) -> Response:
    if _is_disk_full(error):
        return _later(request, 507, "the disk is full: nothing was recorded")
    return problem(request, 500, "nothing was changed that was not acknowledged")


def _plain(status: int) -> Handler:
    async def told(request: Request, error: Any) -> Response:
        return problem(request, status, str(error))

    return told


_HANDLERS: dict[type[Exception], Handler] = {
    RequestValidationError: _unfit_as_sent,
    UnfitError: _unfit_as_sent,
    MalformedIdError: _plain(422),
    TooManyError: _plain(422),
    NotAllowedError: _plain(403),
    NotFoundError: _plain(404),
    ClientDisconnect: _hung_up,
    BusyError: _busy,
    NoSetupError: _busy,
    UnusableError: _unusable,
    UnwritableError: _unwritable,
    KeyringError: _no_key,
    ForkError: _not_whole,
    BundleError: _not_whole,
    Exception: _fault,
}


def full_up(request: Request) -> Response:
    """Tell a sender that too many are being served."""
    return _later(request, 503, "too many requests at a time: send the same again in a moment")


def said_twice(request: Request, name: str) -> Response:
    """Tell a sender that it is not clear which of two it means."""
    return problem(request, 422, f"'{name}' stands twice in the request: say it once")


def _later(request: Request, status: int, detail: str) -> Response:
    answer = problem(request, status, detail)
    answer.headers["Retry-After"] = str(RETRY_AFTER_S)
    return answer


def _is_disk_full(error: BaseException) -> bool:
    """Say whether it came of a full disk; libraries wrap what the system said in their words."""
    said = (e.errno for e in _causes(error) if isinstance(e, OSError))
    return not {ENOSPC, EDQUOT}.isdisjoint(said)


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__


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
