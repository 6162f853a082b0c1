"""The wall of a store room: what leaves next and what runs out of time, to be read from afar."""

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from service.duties import rounds
from service.pages.frame import Looking, PageRoute

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/wall", operation_id="see_wall")
def wall(look: Looking, store: str = "") -> HTMLResponse:
    """Show one store, the first of the set-up if none is named; nobody stands on it by name."""
    stores = look.site.store
    if not stores:
        raise HTTPException(404, "no store is set up here")
    room = rounds.store_room(look.store, look.caller, store or stores[0].id, look.now)
    return look.page("wall.html", room=room, stores=stores)
