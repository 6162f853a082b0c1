"""One container's whole path on one page, and finding one by what is known of it."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Annotated, Any

from babel.dates import format_datetime
from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.convertors import Convertor, register_url_convertor

from service.custody.fields import Name
from service.custody.identifiers import MalformedIdError, grouped
from service.duties import finding, lookup
from service.duties.finding import category_of
from service.duties.lookup import ContainerFilter, NotFoundError
from service.pages.cycles import VERDICTS
from service.pages.frame import Look, Looking, PageRoute
from service.pages.happenings import KINDS, lines, name_of, said
from service.pages.timeline import Drawing, drawn

router = APIRouter(route_class=PageRoute, include_in_schema=False)

PAGE = 50
"""Containers on one page of what was found."""
STATES = (
    "registered", "double_bagged", "collected", "stored", "dispatched", "received", "refused",
    "treated", "disposed", "lost", "found", "labelled", "unregistered", "carrying",
)  # fmt: skip


class _Printed(Convertor[str]):
    """A part of a label's address, capitals and digits alone: no other page is called so."""

    def convert(self, value: str) -> str:
        """Take it as it is."""
        return value

    def to_string(self, value: str) -> str:
        """Write it as it is."""
        return value


class _Id(_Printed):
    regex = "[0-9A-HJKMNP-TV-Z]{12}"


class _Tag(_Printed):
    regex = "[0-9A-HJKMNP-TV-Z]{7}"


register_url_convertor("labelid", _Id())
register_url_convertor("labeltag", _Tag())


@router.get("/containers/{container}", operation_id="see_container")
def container(look: Looking, container: str) -> HTMLResponse:
    """Show one container: as it stands, what is wrong, and all that happened to it."""
    return _path(look, container, None)


@router.get("/{container:labelid}/{tag:labeltag}", operation_id="see_container")
def scanned(look: Looking, container: str, tag: str) -> HTMLResponse:
    """Show what a label's code opens; whether the label is ours is told too."""
    genuine = finding.coded(look.store, look.caller, f"/{container}/{tag}").genuine
    return _path(look, container, genuine)


@router.get("/{container:labelid}", operation_id="see_container")
def addressed(container: str) -> RedirectResponse:
    """Go to the container's page."""
    return RedirectResponse(f"/containers/{container}", 303)


def _path(look: Look, typed: str, genuine: bool | None) -> HTMLResponse:
    found = finding.path(look.store, look.caller, typed, look.now)
    view = found.view
    standing = [v for v in view.violations if v.open_at(look.now)]
    past = [v for v in view.violations if not v.open_at(look.now)]
    numbers = {h.event.id: i for i, h in enumerate(view.history.happened, 1)}
    drawing = drawn(view.history, look.site, found.due_at, look.now)
    return look.page(
        "container.html",
        one=view.standing,
        label=grouped(view.standing.container),
        category=found.category,
        due_at=found.due_at,
        genuine=genuine,
        standing=standing,
        past=past,
        numbers=numbers,
        drawing=drawing,
        cycles=[p for c in view.history.cycles if (p := view.history.proofs.get(c)) and p.run],
        verdicts=VERDICTS,
        short=_short(look, drawing),
        lines=lines(view.history, look.site, look.language),
        struck_out=[
            (s, [*said(s.original.event, look.site, look.language)] if s.original else [])
            for s in found.struck_out
        ],
        **_words(look),
    )


def _short(look: Look, drawing: Drawing | None) -> Callable[[datetime], tuple[str, str]]:
    """Write the times along the drawing as day and hour, without hours where all are midnights."""
    zone, locale = look.site.zone, look.language.locale
    ticks = [tick.at.astimezone(zone) for tick in drawing.ticks] if drawing else []
    hours = any(at.hour or at.minute for at in ticks)

    def short(at: datetime) -> tuple[str, str]:
        local = at.astimezone(zone)
        hour = str(format_datetime(local, "HH:mm", locale=locale)) if hours else ""
        return str(format_datetime(local, "d MMM", locale=locale)), hour

    return short


@router.get("/find", operation_id="see_find")
def find(
    look: Looking,
    q: Annotated[str, Query(max_length=200)] = "",
    unit: str = "",
    day: str = "",
    seal: str = "",
    consignment: str = "",
    category: str = "",
    state: str = "",
    after: Name | None = None,
) -> Response:
    """Find containers: one by its id, many by what is known of them."""
    asked = {
        "q": q.strip(), "unit": unit, "day": day, "seal": seal.strip(),
        "consignment": consignment.strip(), "category": category, "state": state,
    }  # fmt: skip
    if asked["q"]:
        return _by_id(look, asked)
    fault = ""
    rows: Sequence[Any] = ()
    try:
        from_at, until_at = _day(look, day)
    except ValueError:
        fault = "day"
    else:
        rows = lookup.containers(
            look.store,
            look.caller,
            ContainerFilter(
                unit=unit or None,
                category=category or None,
                state=state or None,
                seal=asked["seal"] or None,
                went_in=asked["consignment"] or None,
                sealed_from=from_at,
                sealed_until=until_at,
                after=after,
                limit=PAGE + 1,
            ),
        )
    return _found(look, asked, rows=rows[:PAGE], more=len(rows) > PAGE, after=after, fault=fault)


def _by_id(look: Look, asked: dict[str, str]) -> Response:
    text = asked["q"]
    try:
        read = finding.coded(look.store, look.caller, text).container
        lookup.container(look.store, look.caller, read, look.now)
    except (MalformedIdError, NotFoundError, ValueError) as error:
        misses = finding.near_misses(look.store, look.caller, text, look.now)
        return _found(look, asked, why=str(error), misses=misses)
    return RedirectResponse(f"/containers/{read}", 303)


def _found(look: Look, asked: dict[str, str], **more: Any) -> HTMLResponse:
    shown: dict[str, Any] = {
        "rows": (),
        "more": False,
        "after": None,
        "fault": "",
        "why": "",
        "misses": (),
    }
    categories = {
        c.id: c
        for c in lookup.rules(look.store, look.caller).regime.categories_on(
            look.site.local_day(look.now)
        )
    }
    return look.page(
        "find.html",
        asked=asked,
        states=STATES,
        categories=categories,
        **(shown | more),
        **_words(look),
    )


def _words(look: Look) -> dict[str, Any]:
    rules = lookup.rules(look.store, look.caller)
    return {
        "kinds": KINDS,
        "grouped": grouped,
        "name_of": lambda id_: name_of(look.site, id_),
        "category_of": lambda id_, at: category_of(rules, id_, at),
        "moment": lambda at: look.language.moment(at, look.site.zone),
    }


def _day(look: Look, day: str) -> tuple[datetime | None, datetime | None]:
    """Give the facility's day as two instants; ValueError if it is none."""
    if not day:
        return None, None
    first = date.fromisoformat(day)
    return tuple(  # type: ignore[return-value]
        datetime.combine(d, time(), look.site.zone) for d in (first, first + timedelta(days=1))
    )
