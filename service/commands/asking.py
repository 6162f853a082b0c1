"""Ask for a facility's set-up, question by question; every answer is looked at when it is given."""

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import tomli_w
import typer
from pydantic import TypeAdapter, ValidationError

from service.commands.files import ready, write
from service.custody.regime import Regime
from service.custody.site import Id
from service.custody.words import Condition
from service.duties import lookup

_ID: TypeAdapter[str] = TypeAdapter(Id)
_KINDS = ("handler", "carrier", "plant", "transfer_station", "recycler")
_CLASSES = ("I", "II", "III", "IIII")
_ALLOWED = ("carrier", "plant", "transfer_station", "recycler")
"""Kinds of party that need an authority's word."""

_HEAD = (
    "# Set-up of a facility, as it was asked for. Change it here and run 'custody setup FILE'.\n"
    "# Seasons, travel times and more: see scenario/hospital.toml and docs/operator.md.\n\n"
)

Raw = dict[str, Any]


def ask_file() -> Path:
    """Ask for a site, write its set-up file, and give the file."""
    raw = ask_site()
    while (file := Path(typer.prompt("File to write it in", f"{raw['id']}.toml"))).exists():
        typer.echo(f"{file} is there already: name another")
    ready(file)
    write(file, (_HEAD + tomli_w.dumps(raw)).encode())
    return file


def ask_site() -> Raw:
    """Ask for a site as a set-up file has it."""
    taken: set[str] = set()
    raw: Raw = {
        "id": _ask("Id of the facility (small letters, digits, hyphens)", _id),
        "name": _ask("Name of the facility", _words),
        "time_zone": _ask("Time zone, such as Asia/Kolkata", _zone),
        "regime": _chosen("Regime", lookup.regime_ids()),
    }
    regime = lookup.regime(raw["regime"])
    typer.echo(f"{regime.title}: {regime.status}")
    raw["authority"] = typer.prompt("Authority that takes notices (may be empty)", "")
    raw["climate"] = _chosen("Climate", ("temperate", "warm"))
    raw["monthly_kg"] = _ask("Regulated waste in a usual month, kg (0 if not known)", _kg, "0")
    raw["facts"] = [
        fact for fact, question in regime.site_facts.items() if typer.confirm(question, False)
    ]
    typer.echo("Who to ask for, as labels and manifests print it:")
    raw["contact"] = {
        "name": _ask("  Name", _words),
        "address": _ask("  Address", _words),
        "telephone": _ask("  Telephone", _words),
        "emergency": typer.prompt("  Telephone in an emergency (may be empty)", ""),
    }
    raw["unit"] = _several("unit", taken, lambda i: _unit(i, regime), least=1)
    raw["party"] = _several("handler, carrier or plant", taken, lambda i: _party(i, regime))
    keepers = [party["id"] for party in raw["party"]]
    if keepers:
        raw["store"] = _several("store", taken, lambda i: _store(i, keepers))
    raw["scale"] = _several("scale", taken, _scale)
    return raw


def _unit(unit_id: str, regime: Regime) -> Raw:
    return {
        "id": unit_id,
        "name": _ask("  Name", _words),
        "location": _ask("  Location (an id: what is close together has the same)", _id),
        "categories": _ask("  Categories it makes (empty for all)", _categories(regime), ""),
    }


def _party(party_id: str, regime: Regime) -> Raw:
    party: Raw = {
        "id": party_id,
        "name": _ask("  Name", _words),
        "kind": _chosen("  Kind", _KINDS),
        "location": _ask("  Location (an id)", _id),
        "address": typer.prompt("  Address (may be empty)", ""),
        "telephone": typer.prompt("  Telephone (may be empty)", ""),
        "authorisation": [],
    }
    while party["kind"] in _ALLOWED and typer.confirm("  An authorisation (more)?", False):
        party["authorisation"].append(_authorisation(regime))
    return party


def _authorisation(regime: Regime) -> Raw:
    activity = _chosen("    Activity", ("carry", "treat"))
    categories = _ask("    Categories (* for all)", _categories(regime, all_="*"), "*")
    first = _ask("    First day, such as 2026-01-01", date.fromisoformat)

    def last(text: str) -> date:
        if (day := date.fromisoformat(text)) < first:
            raise ValueError("it ends before it begins")
        return day

    return {
        "activity": activity,
        "categories": categories,
        "from": first,
        "until": _ask("    Last day", last),
        "reference": _ask("    Reference", _words),
    }


def _store(store_id: str, keepers: Sequence[str]) -> Raw:
    return {
        "id": store_id,
        "name": _ask("  Name", _words),
        "location": _ask("  Location (an id)", _id),
        "party": _chosen("  Kept by", keepers),
        "condition": _chosen("  Condition", [str(each) for each in Condition]),
    }


def _scale(scale_id: str) -> Raw:
    return {
        "id": scale_id,
        "name": _ask("  Name", _words),
        "accuracy_class": _chosen("  Accuracy class (OIML R 76)", _CLASSES),
        "interval_g": _ask("  Verification interval e, in grams", _interval),
    }


# --- questions


def _ask(question: str, read: Callable[[str], Any], default: str | None = None) -> Any:
    """Ask until the answer can be read."""
    while True:
        answer = typer.prompt(question, default, show_default=bool(default)).strip()
        try:
            return read(answer)
        except ValueError as error:
            typer.echo(f"{answer!r} cannot stand: {error}")


def _chosen(question: str, known: Sequence[str]) -> str:
    """Ask for one of a few, by its name or its number."""
    listed = ", ".join(f"{number} {name}" for number, name in enumerate(known, 1))

    def read(text: str) -> str:
        if text in known:
            return text
        if text.isascii() and text.isdigit() and 1 <= int(text) <= len(known):
            return known[int(text) - 1]
        raise ValueError("give one of those or its number")

    chosen: str = _ask(f"{question} ({listed})", read)
    return chosen


def _several(what: str, taken: set[str], ask: Callable[[str], Raw], least: int = 0) -> list[Raw]:
    """Ask for things with an id each until the id is left empty."""
    found: list[Raw] = []

    def read(text: str) -> str:
        if not text and len(found) >= least:
            return ""
        if text in taken:
            raise ValueError("this id is given already")
        return _id(text)

    while given := _ask(f"Id of a {what} (empty if there is no more)", read, ""):
        taken.add(given)
        found.append(ask(given))
    return found


# --- answers


def _id(text: str) -> str:
    try:
        return _ID.validate_python(text)
    except ValidationError as error:
        raise ValueError("an id has small letters, digits and hyphens") from error


def _words(text: str) -> str:
    if not text:
        raise ValueError("it may not be empty")
    return text


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError) as error:
        raise ValueError("no time zone is called so") from error
    return text


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text)
    except InvalidOperation as error:
        raise ValueError("it is no number") from error
    if not number.is_finite() or number < 0:
        raise ValueError("it is no number from 0 up")
    return number


def _kg(text: str) -> int | Decimal:
    return _plain(_number(text))


def _interval(text: str) -> int | Decimal:
    if not (number := _number(text)):
        raise ValueError("it is more than 0")
    return _plain(number)


def _plain(number: Decimal) -> int | Decimal:
    return int(number) if number == number.to_integral_value() else number


def _categories(regime: Regime, all_: str = "") -> Callable[[str], list[str]]:
    known = [category.id for category in regime.category]

    def read(text: str) -> list[str]:
        given = text.replace(",", " ").split()
        strangers = [each for each in given if each not in known and each != all_]
        if strangers:
            raise ValueError(f"there is no '{strangers[0]}'; there are: {', '.join(known)}")
        if all_ and not given:
            raise ValueError("name one, or *")
        return given

    return read
