"""Where everybody begins: sign in, set a password or enrol a device by a code, see to oneself."""

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from service.duties import access
from service.pages.frame import Looking, PageRoute, render
from service.pages.language import of_request
from service.pages.places import places_of
from service.pages.static_files import TYPES, digest, names, read, static
from service.web.credentials import DEVICE_COOKIE
from service.web.house import Here

router = APIRouter(route_class=PageRoute, include_in_schema=False)
FOR_EVER = "public, max-age=31536000, immutable"


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


@router.get("/app.webmanifest")
def manifest(request: Request) -> JSONResponse:
    """Say how the pages are put on a home screen (W3C Web Application Manifest)."""
    words = of_request(request).words
    told = {
        "name": words.gettext("Waste custody"),
        "short_name": words.gettext("Custody"),
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f3efe2",
        "theme_color": "#14211b",
        "icons": [{"src": static("mark.svg"), "sizes": "any", "type": "image/svg+xml"}],
    }
    return JSONResponse(told, media_type="application/manifest+json")


@router.get("/static/{hashed}/{name}")
def static_file(hashed: str, name: str) -> Response:
    """Give a file that pages fetch; under its address it never changes."""
    if name not in names() or hashed != digest():
        raise HTTPException(404, "there is no such file")
    media = TYPES[name.rpartition(".")[2]]
    return Response(read(name), 200, {"Cache-Control": FOR_EVER}, media)
