"""Where everybody begins: sign in, set a password or enrol a device by a code, see to oneself."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from service.duties import access
from service.pages.frame import Looking, PageRoute, render
from service.pages.language import of_request
from service.pages.places import places_of
from service.web.credentials import DEVICE_COOKIE
from service.web.house import Here

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/", operation_id="see_beginning")
def beginning(look: Looking) -> Response:
    """Go to where one's role begins."""
    there = "/me" if look.caller.confined else places_of(look.caller.role)[0].address
    return RedirectResponse(there, 303)


@router.get("/sign-in")
def sign_in(here: Here, request: Request, to: str = "/") -> HTMLResponse:
    """Ask who it is; on an enrolled device by badge first."""
    token = request.cookies.get(DEVICE_COOKIE, "")
    device = access.holder_of(here.store, token, here.clock()) if token else None
    # A browser drops tabs and ends of lines: /, a tab and /host would lead to that host.
    inside = to.isprintable() and to.startswith("/") and not to.startswith(("//", "/\\"))
    return render(
        request, of_request(request), "sign_in.html", device=device, to=to if inside else "/"
    )


@router.get("/begin")
def begin(request: Request) -> HTMLResponse:
    """Ask for the code that somebody was given."""
    return render(request, of_request(request), "begin.html")


@router.get("/me", operation_id="see_me")
def me(look: Looking) -> HTMLResponse:
    """Show who one is signed in as, and what one may change of that."""
    return look.page("me.html")
