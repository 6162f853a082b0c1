"""The flags of the categories: colour and pattern, as a stylesheet of the facility's own."""

from fastapi import APIRouter
from fastapi.responses import Response

from service.duties import lookup
from service.pages.frame import Looking, PageRoute

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_INK, _EDGE = "#111", "#fff"


def _stripes(degrees: int) -> str:
    """Black lines between white edges, so that they show on a dark colour too."""
    return (
        f"repeating-linear-gradient({degrees}deg, {_EDGE} 0 2px, {_INK} 2px 6px, {_EDGE} 6px 8px, "
        "transparent 8px 22px)"
    )


_PATTERNS = {
    "plain": "none",
    "diagonal": _stripes(45),
    "bars": _stripes(0),
    "cross": f"{_stripes(45)}, {_stripes(-45)}",
    "grid": f"{_stripes(0)}, {_stripes(90)}",
    "dots": f"radial-gradient(circle at 11px 11px, {_INK} 0 4px, {_EDGE} 4px 6px, transparent 6px)",
}


@router.get("/categories.css", operation_id="see_flags")
def stylesheet(look: Looking) -> Response:
    """Give how the flag of each category is drawn."""
    regime = lookup.rules(look.store, look.caller).regime
    rules = [
        f".flag-{each.id} {{ background: {_PATTERNS[each.pattern]}, {each.colour_hex}; "
        f"background-size: {'22px 22px' if each.pattern == 'dots' else 'auto'}; }}"
        for each in regime.categories_on(look.site.local_day(look.now))
    ]
    text = "\n".join(rules).replace("background: none, ", "background: ")
    return Response(text, 200, media_type="text/css; charset=utf-8")
