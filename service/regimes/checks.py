"""What must hold between the rows of a regime's file, beyond each row by itself; no files here."""

from collections.abc import Iterable, Iterator
from datetime import date
from itertools import combinations

from service.custody.regime import Category, CategoryRow, ContainerRule, Denial, Regime, Route, Row
from service.regimes.places import Loc

Finding = tuple[Loc, str]

TABLES = tuple(
    name
    for name, field in Regime.model_fields.items()
    if name not in {"id", "title", "jurisdiction", "status", "adds_to", "site_facts", "source"}
)
"""The names of the tables of rows, in the order of the type."""


def findings(regime: Regime, parents: Iterable[Regime]) -> Iterator[Finding]:
    """Give every place and reason for which the regime, read after its parents, is refused."""
    above = tuple(parents)
    yield from _sources(regime, above)
    yield from _names(regime, above)
    yield from _overlaps(regime, above)
    yield from _marks(regime, above)
    yield from _containers(regime, above)


def rows(regime: Regime) -> Iterator[tuple[Loc, Row]]:
    """Give every row of the regime with its place."""
    for table in TABLES:
        for number, row in enumerate(getattr(regime, table)):
            yield (table, number), row


def _sources(regime: Regime, above: tuple[Regime, ...]) -> Iterator[Finding]:
    """Each row cites a source of its own file, and no key means two texts."""
    for loc, row in rows(regime):
        if row.source not in regime.source:
            known = ", ".join(regime.source)
            yield (*loc, "source"), f"source '{row.source}' is not in the table of sources: {known}"
    for parent in above:
        for key in parent.source.keys() & regime.source.keys():
            yield ("source", key), f"source key '{key}' is already a source of {parent.id}"
        for fact in parent.site_facts.keys() & regime.site_facts.keys():
            yield ("site_facts", fact), f"site fact '{fact}' is already one of {parent.id}"


def _names(regime: Regime, above: tuple[Regime, ...]) -> Iterator[Finding]:
    """Categories and site facts that rows name exist here or in a regime that this one adds to."""
    family = (regime, *above)
    categories = {"*"} | {c.id for one in family for c in one.category}
    facts = {fact for one in family for fact in one.site_facts}
    for loc, row in rows(regime):
        if isinstance(row, CategoryRow):
            for name in (c for c in row.categories if c not in categories):
                yield (*loc, "categories"), f"unknown category '{name}'"
        if isinstance(row, Route | Denial):
            key = "only_where" if isinstance(row, Route) else "unless_where"
            for fact in (f for f in getattr(row, key) if f not in facts):
                yield (*loc, key), f"unknown site fact '{fact}'; declare it in site_facts"


def _overlaps(regime: Regime, above: tuple[Regime, ...]) -> Iterator[Finding]:
    """Two rows with one id are never in force on one day."""
    for table in TABLES:
        own = [((table, n), row) for n, row in enumerate(getattr(regime, table))]
        if not own or not hasattr(own[0][1], "id"):
            continue
        for (_, first), (loc, second) in combinations(own, 2):
            if _id(first) == _id(second) and _both_in_force(first, second):
                yield loc, f"two rows with the id '{_id(second)}' are in force on one day"
        for parent in above:
            for loc, row in own:
                for other in getattr(parent, table):
                    if _id(row) == _id(other) and _both_in_force(row, other):
                        yield loc, f"the id '{_id(row)}' is already in force in {parent.id}"


def _id(row: Row) -> str:
    return str(getattr(row, "id"))  # noqa: B009  the rows with an id share no base class


def _both_in_force(one: Row, other: Row) -> bool:
    """Say whether some day has both rows in force."""
    return one.from_ < (other.until or date.max) and other.from_ < (one.until or date.max)


def _marks(regime: Regime, above: tuple[Regime, ...]) -> Iterator[Finding]:
    """On any day a mark stands for one category."""
    own = [(("category", n, "mark"), c) for n, c in enumerate(regime.category)]
    pairs: list[tuple[Category, Loc, Category]] = [
        (first, loc, second) for (_, first), (loc, second) in combinations(own, 2)
    ]
    pairs += [(c, loc, second) for one in above for c in one.category for loc, second in own]
    for first, loc, second in pairs:
        if first.mark == second.mark and first.id != second.id and _both_in_force(first, second):
            yield loc, f"mark '{second.mark}' is also the mark of {first.id} on one day"


def _containers(regime: Regime, above: tuple[Regime, ...]) -> Iterator[Finding]:
    """On each day that a category is in force, some row says what it is put in."""
    rules = [r for one in (regime, *above) for r in one.container]
    for number, category in enumerate(regime.category):
        covering = [r for r in rules if r.covers(category.id)]
        day = _first_day_without(category, covering)
        if day:
            yield ("category", number), f"category '{category.id}' has no container rule on {day}"


def _first_day_without(category: Category, rules: list[ContainerRule]) -> date | None:
    """Give the first day in force of the category on which none of the rules is."""
    starts = {category.from_} | {r.until for r in rules if r.until}
    for day in sorted(starts):
        if category.in_force(day) and not any(r.in_force(day) for r in rules):
            return day
    return None
