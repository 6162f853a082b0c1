"""The handler's pages: a run of scans, and sending away what stands in a store."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from service.custody.site import Party, Site
from service.custody.words import Condition
from service.duties import departures, rounds
from service.duties.rounds import Standing
from service.pages.frame import Look, Looking, PageRoute

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_CARRIES = frozenset({"carrier", "handler"})
_TAKES = frozenset({"plant", "transfer_station", "recycler"})
COOLED = frozenset({Condition.CHILLED, Condition.FROZEN})


@router.get("/run", operation_id="see_run")
def run(look: Looking) -> HTMLResponse:
    """Show what waits where, and record what is scanned on a run."""
    return look.page(
        "run.html",
        waiting=rounds.at_units(look.store, look.caller),
        teams=_teams(look),
        stores=look.site.store,
        cooled=COOLED,
        names=_names(look.site) | {"categories": _categories(look)},
    )


@router.get("/leave", operation_id="see_leave")
def leave(look: Looking, store: str = "") -> HTMLResponse:
    """Show how a consignment is closed; ``store`` lists all that stands in it."""
    standing: list[Standing] = []
    if store:
        standing = rounds.in_store(look.store, look.caller, store)
    return look.page(
        "leave.html",
        chosen=store,
        standing=standing,
        stores=look.site.store,
        carriers=_parties(look.site, _CARRIES),
        consignees=_parties(look.site, _TAKES),
        conditions=tuple(Condition),
        names={"categories": _categories(look)},
    )


@router.get("/leave/{consignment:path}", operation_id="see_leave")
def note(look: Looking, consignment: str) -> HTMLResponse:
    """Show the note that goes with a consignment, to be printed."""
    left = departures.left(look.store, look.caller, consignment, look.now)
    return look.page("note.html", left=left)


def _teams(look: Look) -> tuple[Party, ...]:
    """Those who may take custody at a unit: the caller's own, else all handlers of the site."""
    own = tuple(p for p in look.site.party if p.id in look.caller.scope.parties)
    return own or _parties(look.site, _CARRIES)


def _parties(site: Site, kinds: frozenset[str]) -> tuple[Party, ...]:
    """Handlers of the site first, then the others by name as they are set up."""
    found = [p for p in site.party if p.kind in kinds]
    return tuple(sorted(found, key=lambda p: p.kind != "handler"))


def _names(site: Site) -> dict[str, dict[str, str]]:
    """What the script says of places, and by whom each store is kept."""
    groups = (site.unit, site.store, site.party)
    return {
        "places": {place.id: place.name for group in groups for place in group},
        "keepers": {store.id: store.party for store in site.store},
    }


def _categories(look: Look) -> dict[str, str]:
    """Each category's letter and name, for lines that a script writes."""
    return {
        c.id: f"{c.mark} {c.name}" for c in rounds.categories(look.store, look.caller, look.now)
    }
