"""The ward's pages: seal a container, see what was sealed today, tell of a spill or an injury."""

from dataclasses import dataclass
from datetime import timedelta

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from service.custody.identifiers import grouped
from service.custody.regime import Category
from service.custody.rules import CategoryRules
from service.custody.site import Unit
from service.custody.words import ContainerKind
from service.duties import dilutions, lookup
from service.pages.frame import Look, Looking, PageRoute

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Choice:
    """A category as the ward chooses it, with what is asked when it is sealed.

    Attributes:
        kinds: What it may be put in, the usual first.
        hub_cut: The kinds for which it is asked whether the hub was cut.
        fill_max: The largest part that may be filled, as the rule says it; empty where none does.
    """

    category: Category
    kinds: tuple[ContainerKind, ...]
    hub_cut: tuple[ContainerKind, ...]
    fill_max: str


@router.get("/ward", operation_id="see_ward")
def seal(look: Looking) -> HTMLResponse:
    """Show how a container is sealed and registered."""
    return look.page("ward.html", units=_units(look), choices=_choices(look))


@router.get("/ward/today", operation_id="see_sealed_today")
def today(look: Looking) -> HTMLResponse:
    """Show what was sealed in the last day and how long each may still be kept."""
    since = look.now - timedelta(days=1)
    asked = lookup.ContainerFilter(sealed_from=since, limit=lookup.PAGE_MAX)
    rows = lookup.containers(look.store, look.caller, asked)
    sealed = sorted(rows, key=lambda row: row.sealed_at, reverse=True)
    day = look.site.local_day(look.now)
    regime = lookup.rules(look.store, look.caller).regime
    categories = {each.id: each for each in regime.categories_on(day)}
    return look.page(
        "today.html", sealed=sealed, categories=categories, units=look.site.units, grouped=grouped
    )


@router.get("/spill", operation_id="see_spill")
def spill(
    look: Looking, form: str = "liquid", stock: str = "", wanted: str = "", litres: str = ""
) -> HTMLResponse:
    """Show what is done first at a spill or an injury, and take down what happened.

    With a stock, how much of it and of water makes the solution that is wanted.
    """
    made, why = None, ""
    if stock or wanted or litres:
        try:
            made = dilutions.asked_mix(form, stock, wanted, litres)
        except ValueError as error:
            why = str(error)
    return look.page(
        "spill.html",
        choices=_choices(look),
        asked={"form": form, "stock": stock, "wanted": wanted, "litres": litres},
        made=made,
        why=why,
        usual=dilutions.usual_mixes(),
        strengths=dilutions.WANTED,
        rows=dilutions.asked_for(look.store, look.caller, look.now),
    )


def _units(look: Look) -> tuple[Unit, ...]:
    """The units that somebody acts for; all of them without a scope."""
    mine = look.caller.scope.units
    return tuple(unit for unit in look.site.unit if not mine or unit.id in mine)


def _choices(look: Look) -> tuple[Choice, ...]:
    rules = lookup.rules(look.store, look.caller)
    day = look.site.local_day(look.now)
    made = {unit_category for unit in _units(look) for unit_category in unit.categories}
    everything = any(not unit.categories for unit in _units(look))
    texts = (rules.on(each.id, day) for each in rules.regime.categories_on(day))
    return tuple(
        _choice(text)
        for text in texts
        if text is not None and (everything or text.category.id in made)
    )


def _choice(text: CategoryRules) -> Choice:
    listed = dict.fromkeys(kind for row in text.containers for kind in row.kinds)
    kinds = tuple(listed) or tuple(k for k in ContainerKind if k is not ContainerKind.TRANSPORT)
    fill = text.packing_rule("fill_max", kinds[0])
    most = fill.fill_fraction_max if fill else None
    return Choice(
        text.category,
        kinds,
        tuple(kind for kind in kinds if text.packing_rule("hub_cut", kind)),
        format(most.normalize(), "f") if most is not None else "",
    )
