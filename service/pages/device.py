"""What a device keeps of the pages: their files, the script that keeps them, a mark of its own."""

import json

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from service.pages import mark
from service.pages.frame import HEADERS, PageRoute, render
from service.pages.language import of_request
from service.pages.static_files import TYPES, digest, names, packed, read, static

router = APIRouter(route_class=PageRoute, include_in_schema=False)
FOR_EVER = "public, max-age=31536000, immutable"
WORKER = "worker.js"
ICONS = (192, 512)
"""Sides in pixels: those that browsers ask for before they offer to install (common practice)."""


@router.get("/app.webmanifest")
def manifest(request: Request) -> JSONResponse:
    """Say how the pages are put on a home screen (W3C Web Application Manifest)."""
    words = of_request(request).words
    drawn = [
        {"src": f"/icon-{side}.png", "sizes": f"{side}x{side}", "type": "image/png",
         "purpose": "any maskable"}
        for side in ICONS
    ]  # fmt: skip
    told = {
        "id": "/",
        "name": words.gettext("Waste custody"),
        "short_name": words.gettext("Custody"),
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f3efe2",
        "theme_color": "#14211b",
        "icons": [{"src": static("mark.svg"), "sizes": "any", "type": "image/svg+xml"}, *drawn],
    }
    return JSONResponse(told, media_type="application/manifest+json")


@router.get("/icon-{side}.png")
def icon(side: int) -> Response:
    """Give the mark as a picture, for screens that take no drawing."""
    if side not in ICONS:
        raise HTTPException(404, "there is no such file")
    return Response(mark.png(side), 200, {"Cache-Control": "public, max-age=86400"}, TYPES["png"])


@router.get("/no-network")
def no_network(request: Request) -> HTMLResponse:
    """Show what a device shows where it has kept no page and nobody can be asked for one."""
    return render(request, of_request(request), "no_network.html")


@router.get("/worker.js")
def worker() -> Response:
    """Give the script that keeps pages on a device, with the addresses of their files before it."""
    files = json.dumps([static(name) for name in sorted(names() - {WORKER})])
    script = f"self.FILES = {files};\n{read(WORKER).decode()}"
    return Response(script, 200, HEADERS, TYPES["js"])


@router.get("/static/{hashed}/{name}")
def static_file(request: Request, hashed: str, name: str) -> Response:
    """Give a file that pages fetch; under its address it never changes."""
    if name not in names() or hashed != digest():
        raise HTTPException(404, "there is no such file")
    headers = {"Cache-Control": FOR_EVER, "Vary": "Accept-Encoding"}
    media = TYPES[name.rpartition(".")[2]]
    # These alone are packed: nothing in them is secret, so their length tells nothing either.
    if "gzip" in request.headers.get("accept-encoding", ""):
        return Response(packed(name), 200, headers | {"Content-Encoding": "gzip"}, media)
    return Response(read(name), 200, headers, media)
