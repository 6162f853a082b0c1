"""What every page is made with: who looks, in which language, the templates and their headers."""

import gzip
import logging
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import Depends, HTTPException, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, RedirectResponse
from fastapi.routing import APIRoute
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from service.custody.identifiers import MalformedIdError
from service.custody.site import Site
from service.duties import access, lookup
from service.duties.access import (
    BusyError,
    Caller,
    NotAllowedError,
    Store,
    UnusableError,
)
from service.duties.evidence import Keeping, KeyringError
from service.duties.lookup import NotFoundError
from service.pages.happenings import KINDS
from service.pages.language import Language, available, of_request, rule_name
from service.pages.language import language as each_language
from service.pages.places import places_of
from service.pages.static_files import static
from service.web.credentials import shown
from service.web.house import Here

_log = logging.getLogger("custody")

HERE = Path(__file__).parent
UNREADABLE = "what stands in the address cannot be read"
UNUSABLE = "the service cannot read its record or its keys now"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; media-src 'self' blob:; worker-src 'self'; manifest-src 'self'; "
    "font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
}


class SignInFirstError(Exception):
    """Nobody is signed in; the page is shown once somebody is."""


@dataclass(frozen=True, slots=True)
class Look:
    """Somebody looks at a page, at one moment throughout.

    Attributes:
        site: Their facility as it is set up.
    """

    request: Request
    keeping: Keeping
    caller: Caller
    site: Site
    now: datetime
    language: Language

    @property
    def store(self) -> Store:
        """The store."""
        return self.keeping.store

    def page(self, template: str, status: int = 200, **said: Any) -> HTMLResponse:
        """Render a page of theirs."""
        places = places_of(self.caller.role)
        return render(
            self.request,
            self.language,
            template,
            status,
            look=self,
            caller=self.caller,
            site=self.site,
            now=self.now,
            places=places,
            **said,
        )


def looking(here: Here, request: Request) -> Look:
    """Let in a person who is signed in, if the page is for them; to a wall, a device by itself."""
    given, now = shown(request), here.clock()
    caller = None if given.nothing else access.caller_of(here.store, given, now)
    operation = request.scope["route"].operation_id
    if caller is None or not access.may_look(caller, operation):
        raise SignInFirstError
    request.state.caller = caller
    access.admit(here.store, caller, operation, now)
    site = lookup.rules(here.store, caller).site
    return Look(request, here.keeping, caller, site, now, of_request(request))


Looking = Annotated[Look, Depends(looking)]


class PageRoute(APIRoute):
    """A page: what goes wrong is told as a page too."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Give the handler."""
        plain = super().get_route_handler()

        async def told(request: Request) -> Response:
            try:
                return await plain(request)
            except SignInFirstError:
                there = quote(request.url.path)
                return RedirectResponse(f"/sign-in?to={there}", 303)
            except NotAllowedError as error:
                return _fault(request, 403, str(error))
            except (NotFoundError, MalformedIdError) as error:
                return _fault(request, 404, str(error))
            except RequestValidationError:
                return _fault(request, 422, UNREADABLE)
            except (BusyError, UnusableError, KeyringError):
                _log.exception("a page cannot be shown")
                return _fault(request, 503, UNUSABLE)
            except HTTPException as error:
                return _fault(request, error.status_code, str(error.detail))

        return told


def render(
    request: Request, language: Language, template: str, status: int = 200, **said: Any
) -> HTMLResponse:
    """Render a page."""
    words = language.words
    text = (
        _environment()
        .get_template(template)
        .render(
            language=language,
            gettext=words.gettext,
            ngettext=words.ngettext,
            _=words.gettext,
            languages=[each_language(tag) for tag in available()],
            rule_name=rule_name,
            said_kinds={kind: words.gettext(said) for kind, said in KINDS.items()},
            path=request.url.path,
            **said,
        )
    )
    headers = HEADERS | {"Vary": "Accept-Encoding, Cookie"}
    # Of a page with somebody else's words in it, the length of the packed text could tell the rest.
    if request.url.query or "gzip" not in request.headers.get("accept-encoding", ""):
        return HTMLResponse(text, status, headers)
    packed = gzip.compress(text.encode(), mtime=0)
    return HTMLResponse(packed, status, headers | {"Content-Encoding": "gzip"})


def _fault(request: Request, status: int, why: str) -> Response:
    return render(request, of_request(request), "fault.html", status, why=why)


@cache
def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static"] = static
    made.policies["json.dumps_kwargs"] = {"sort_keys": True, "ensure_ascii": False}
    return made
