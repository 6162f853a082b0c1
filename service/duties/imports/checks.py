"""Read a mapping file; check it by itself, and against the header of the list it is used for."""

import tomllib
from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from service.duties.imports.cells import CellError
from service.duties.imports.fields import (
    COUNT,
    DATE,
    FIELDS,
    MODELS,
    OPTIONS,
    TIME,
    Sort,
    moment,
    required,
    unfit,
    units,
)
from service.duties.imports.mapping import ENCODINGS, Column, Mapping, MappingError, Said
from service.duties.wording import in_words


def read_mapping(path: Path) -> Mapping:
    """Read a mapping file and check all that can be known without the list.

    Raises:
        MappingError: it is malformed, or names a field, format, unit or zone that there is not.
    """
    try:
        written = tomllib.loads(path.read_text("utf-8"), parse_float=Decimal)
        said = Said.model_validate(written)
    except OSError as why:
        raise MappingError(path.name, [("", why.strerror or str(why))]) from why
    except UnicodeDecodeError as why:
        raise MappingError(path.name, [("", f"not UTF-8 at byte {why.start}")]) from why
    except (tomllib.TOMLDecodeError, ArithmeticError, RecursionError) as why:
        raise MappingError(path.name, [("", f"not TOML: {why}")]) from why
    except ValidationError as why:
        raise MappingError(path.name, _shape_problems(why)) from why
    mapping = Mapping(path.name, said)
    if problems := list(_edge_problems(said)) or [
        *_column_problems(mapping),
        *_constant_problems(mapping),
    ]:
        raise mapping.refusal(problems)
    return mapping


def _shape_problems(error: ValidationError) -> list[tuple[str, str]]:
    """Name each key once; a column is text or a table, and the table's errors say more."""
    found: dict[str, str] = {}
    for e in error.errors(include_url=False):
        place = [str(part) for part in e["loc"] if part not in ("Column", "str")]
        if e["loc"][-1:] == ("str",) and e["type"] == "string_type" and len(place) == 2:
            continue
        unknown = e["type"] == "extra_forbidden"
        why = "unknown key" if unknown else in_words(e["type"], (), e["msg"])
        found.setdefault(".".join(place), why)
    return list(found.items())


def _edge_problems(said: Said) -> Iterable[tuple[str, str]]:
    if said.encoding.lower() not in ENCODINGS:
        yield "encoding", f"unknown encoding '{said.encoding}'; known are: {', '.join(ENCODINGS)}"
    if said.delimiter != "auto" and (len(said.delimiter) != 1 or said.delimiter in '"\r\n\0'):
        yield "delimiter", f"'{said.delimiter}' is not one character that can part columns"
    if said.time_zone is not None:
        try:
            ZoneInfo(said.time_zone)
        except (KeyError, ValueError, OSError):
            yield "time_zone", f"no time zone is called '{said.time_zone}'"


def _column_problems(mapping: Mapping) -> Iterable[tuple[str, str]]:
    given: dict[str, str] = {}
    for header, column in mapping.columns.items():
        key = f"columns.{header}"
        if column.field not in FIELDS:
            yield key, f"unknown field '{column.field}'; known are: {', '.join(FIELDS)}"
            continue
        if column.field in given:
            yield key, f"{column.field} is already given by the column '{given[column.field]}'"
        given[column.field] = header
        yield from ((f"{key}{k}", why) for k, why in _option_problems(column, mapping))
    if len(mapping.columns) < len(mapping.said.columns):
        yield "columns", "two columns differ only in their blanks"


def _option_problems(column: Column, mapping: Mapping) -> Iterable[tuple[str, str]]:
    name, options = column.field, column.options()
    for option in sorted(options.keys() - OPTIONS[FIELDS[name]]):
        yield f".{option}", f"means nothing for {name}"
    if (
        column.unit is not None
        and "unit" in OPTIONS[FIELDS[name]]
        and column.unit not in (units(name))
    ):
        yield ".unit", f"'{column.unit}' is no unit of {name}: {' or '.join(units(name))}"
    for word, value in (column.values or {}).items():
        if why := unfit(name, _as_item(name, value)) if value != "" else "":
            yield f".values.{word}", why
    if FIELDS[name] is Sort.MOMENT:
        told = moment(name, options.get("format") or ("iso",), mapping.clock)
        if why := told.fault():
            yield ".format", why
        elif told.needs_zone() and mapping.clock.zone is None:
            yield ".format", "gives local times: say time_zone"


def _as_item(name: str, value: Any) -> Any:
    return [value] if FIELDS[name] is Sort.LIST else value


def _constant_problems(mapping: Mapping) -> Iterable[tuple[str, str]]:
    columns = {c.field: header for header, c in mapping.columns.items()}
    for name, value in mapping.said.constants.items():
        key = f"constants.{name}"
        if name not in FIELDS or name == "id":
            yield key, f"'{name}' is no field that can be the same in every line"
        elif name in columns:
            yield key, f"{name} is already given by the column '{columns[name]}'"
        else:
            try:
                read = mapping.constant(name, value)
                problem = "is empty" if read is None else unfit(name, read)
            except CellError as why:
                problem = str(why)
            if problem:
                yield key, problem


def bind(mapping: Mapping, headers: Sequence[str], file: str) -> None:
    """Check the mapping against the header of a list.

    Raises:
        MappingError: a column is missing, unknown, there twice or mapped to nothing, or the
            columns and constants leave out a field that every event must have.
    """
    problems = [
        (f"columns.{header}", f"{file} has no such column; it has: {', '.join(headers)}")
        for header in mapping.columns
        if header not in headers
    ]
    given: dict[str, str] = dict.fromkeys(mapping.constants, "a constant")
    for place, header in enumerate(headers):
        column, key = mapping.column(header), f"columns.{header}"
        if column is None:
            if header and not mapping.ignores(header):
                why = f"mapped to nothing: put '{header}' of {file} under [columns] or into ignore"
                problems.append((key, why))
        elif header in headers[:place]:
            problems.append((key, f"{file} has this column twice"))
        elif column.field in given:
            problems.append((key, f"{column.field} is already given by {given[column.field]}"))
        else:
            given[column.field] = f"the column '{header}'"
    problems += _left_out(given.keys(), mapping.constants.get("kind"), file)
    if problems:
        raise mapping.refusal(problems)


def _left_out(given: Iterable[str], kind: str | None, file: str) -> list[tuple[str, str]]:
    fields = set(given)
    pair = {DATE, TIME} & fields
    problems = []
    if pair and "occurred_at" in fields:
        problems.append(("occurred_at", "is given whole and by date and time as well"))
    elif len(pair) == 1:
        missing = ({DATE, TIME} - pair).pop()
        problems.append((missing, f"neither a column of {file} nor a constant gives it"))
    if pair:
        fields.add("occurred_at")
    problems += [
        (name, f"neither a column of {file} nor a constant gives it")
        for name in sorted(required(kind) - fields - ({"occurred_at"} if kind == COUNT else set()))
    ]
    if kind is not None:
        strangers = sorted(fields - MODELS[kind].model_fields.keys() - {DATE, TIME})
        problems += [(name, f"is not a field of '{kind}'") for name in strangers]
    return problems
