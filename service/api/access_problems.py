"""What goes wrong in signing in and letting in, as problem details (RFC 9457)."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from fastapi import FastAPI, Request, Response

from service.access.passwords import UnfitSecretError
from service.api.problems import UnfitError, problem
from service.duties.attempts import SignInError, WaitError
from service.duties.signing_in import NewPinError


def install(app: FastAPI) -> None:
    """Have the application answer these errors with problems."""
    app.add_exception_handler(SignInError, _not_signed_in)
    app.add_exception_handler(WaitError, _wait)
    app.add_exception_handler(NewPinError, _plain(409))
    app.add_exception_handler(UnfitSecretError, _plain(422))


@contextmanager
def told_unfit() -> Iterator[None]:
    """A block in which a duty may say that what was sent cannot stand as written."""
    try:
        yield
    except ValueError as error:
        raise UnfitError(str(error)) from error


async def _not_signed_in(request: Request, error: Any) -> Response:
    answer = problem(request, 401, str(error))
    answer.headers["WWW-Authenticate"] = "Bearer"
    return answer


async def _wait(request: Request, error: Any) -> Response:
    return later(
        request, f"too many attempts failed: try again in {error.seconds} s", error.seconds
    )


def later(request: Request, detail: str, seconds: int) -> Response:
    """Tell somebody who came too often when to come again."""
    answer = problem(request, 429, detail)
    answer.headers["Retry-After"] = str(seconds)
    return answer


def _plain(status: int) -> Any:
    async def told(request: Request, error: Any) -> Response:
        return problem(request, status, str(error))

    return told
