"""The credentials that come with a request, and whether it comes from a page of our own."""

from urllib.parse import urlsplit

from starlette.requests import Request

from service.duties.access import Shown

SESSION_COOKIE = "__Host-custody"
DEVICE_COOKIE = "__Host-custody-device"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


def shown(request: Request, bearer: str = "") -> Shown:
    """Give the credentials of a request; a token comes in its header, the others in cookies."""
    return Shown(
        bearer=bearer,
        device=request.cookies.get(DEVICE_COOKIE, ""),
        session=request.cookies.get(SESSION_COOKIE, ""),
        request=request_id(request),
    )


def request_id(request: Request) -> str:
    """Give the id that the request was given when it came in."""
    found: str = request.scope.get("state", {}).get("request_id", "")
    return found


def from_own_site(request: Request) -> bool:
    """Say whether it only reads, or was sent by a page of this very service.

    A browser sends cookies with what another site has it send, but it says who had it sent.
    """
    if request.method in _SAFE:
        return True
    site = request.headers.get("sec-fetch-site")
    if site:
        return site == "same-origin"
    origin = urlsplit(request.headers.get("origin", "")).netloc.casefold()
    return bool(origin) and origin == request.headers.get("host", "").casefold()
