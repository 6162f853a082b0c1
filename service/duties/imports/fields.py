"""The fields of all kinds of event, each with the readers that its cells go through.

The table is derived from the event models, so that a new field can be imported at once.
"""

from datetime import date
from decimal import Decimal
from enum import StrEnum
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import AwareDatetime, TypeAdapter, ValidationError

from service.custody.events import KINDS, Happening
from service.duties.imports.cells import Clock, Figure, Moment, Read, Split, Translated, text, truth
from service.duties.wording import in_words

DATE, TIME, DAY = "date", "time", "day"
"""Two columns that make one ``occurred_at`` and are no fields of an event; and the day counted."""
COUNT = "activity_counted"
"""The kind whose events need no time of their own in a list: it follows from the day."""
NESTED = frozenset({"corrected"})
"""Fields that no cell can hold."""

MODELS: dict[str, type[Happening]] = {str(m.model_fields["kind"].default): m for m in KINDS}
"""The event models by kind."""


class Sort(StrEnum):
    """What a field holds, as far as reading goes."""

    TEXT = "text"
    LIST = "list"
    TRUTH = "truth"
    WHOLE = "whole"
    WEIGHT = "weight"
    NUMBER = "number"
    MOMENT = "moment"


OPTIONS: dict[Sort, frozenset[str]] = {
    Sort.TEXT: frozenset({"values"}),
    Sort.LIST: frozenset({"values", "separator"}),
    Sort.TRUTH: frozenset({"values"}),
    Sort.WHOLE: frozenset({"values"}),
    Sort.WEIGHT: frozenset({"values", "unit", "decimal"}),
    Sort.NUMBER: frozenset({"values", "unit", "decimal"}),
    Sort.MOMENT: frozenset({"format"}),
}
"""What a mapping may say of a column, by what its field holds."""

_SORTS = {
    tuple: Sort.LIST,
    bool: Sort.TRUTH,
    Decimal: Sort.NUMBER,
    AwareDatetime: Sort.MOMENT,
    date: Sort.MOMENT,
}
_WITHOUT_CONTAINERS = frozenset(
    {
        "unpacked",
        "received",
        "spilled",
        "notified",
        "amended",
        COUNT,
        "pit_covered",
        "needles_counted",
    }
)
"""Kinds that may stand without naming a container."""
_UNITS = {"fill_fraction": ("fraction", "percent"), "temperature_c": ("celsius",)}


def _types(annotation: Any) -> set[Any]:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _types(get_args(annotation)[0])
    if origin in (Union, UnionType):
        return set().union(*map(_types, get_args(annotation)))
    return {origin or annotation}


def _sort(name: str, annotation: Any) -> Sort:
    types = _types(annotation)
    if int in types:
        return Sort.WEIGHT if name.endswith("_g") else Sort.WHOLE
    for held, sort in _SORTS.items():
        if held in types:
            return sort
    return Sort.TEXT


FIELDS: dict[str, Sort] = {
    name: _sort(name, field.annotation)
    for model in KINDS
    for name, field in model.model_fields.items()
    if name not in NESTED
} | {DATE: Sort.MOMENT, TIME: Sort.MOMENT}
"""Every field that a column can give."""


def units(name: str) -> tuple[str, ...]:
    """Give the units that a column of the field may be in, the usual one first."""
    if FIELDS[name] is Sort.WEIGHT:
        return ("g", "kg")
    return _UNITS.get(name, ("each",))


def moment(name: str, formats: tuple[str, ...], clock: Clock) -> Moment:
    """Give the reader of a field that holds a date, a time of day or both."""
    part = "date" if name in (DATE, DAY) else "time" if name == TIME else "instant"
    return Moment(part, formats, clock)  # type: ignore[arg-type]


def readers(name: str, options: dict[str, Any], clock: Clock) -> tuple[Read, ...]:
    """Give the readers of a field, to be called one after the other, by what a mapping says."""
    sort = FIELDS[name]
    values = {Translated.key(k): v for k, v in (options.get("values") or {}).items()}
    translated = Translated(values)
    if sort is Sort.LIST:
        usual = "; \t\r\n," if name in ("containers", "parents") else ";\r\n"
        split = Split(options.get("separator") or usual)
        return (split, lambda cell: _each(translated, cell)) if values else (split,)
    then: Read = text
    if sort is Sort.TRUTH:
        then = truth
    elif sort in (Sort.WHOLE, Sort.WEIGHT, Sort.NUMBER):
        unit = options.get("unit") or units(name)[0]
        then = Figure(unit, options.get("decimal") or ".", sort is not Sort.NUMBER)
    elif sort is Sort.MOMENT:
        then = moment(name, options.get("format") or ("iso",), clock)
    return (translated, then) if values else (then,)


def _each(translated: Translated, cell: Any) -> Any:
    return [translated(part) for part in cell] if isinstance(cell, list) else cell


def required(kind: str | None) -> set[str]:
    """Give the fields without which no event, or none of the kind, can stand; ``id`` is derived."""
    model = MODELS[kind] if kind else Happening
    needed = {n for n, f in model.model_fields.items() if f.is_required()} - {"id"} | {"kind"}
    return needed | {"containers"} if kind and kind not in _WITHOUT_CONTAINERS else needed


def unfit(name: str, value: Any) -> str:
    """Say why a value that the mapping itself gives can never be one of the field, or nothing."""
    if name == "kind":
        return "" if value in MODELS else f"'{value}' is no kind of event: {', '.join(MODELS)}"
    if name in (DATE, TIME):
        return ""
    field = next(m.model_fields[name] for m in KINDS if name in m.model_fields)
    adapter: TypeAdapter[Any] = TypeAdapter(field.rebuild_annotation())
    try:
        adapter.validate_python(value)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        return in_words(first["type"], (name,), first["msg"])
    return ""
