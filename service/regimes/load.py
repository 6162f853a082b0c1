"""Reads the regimes' files: refuses a malformed one with file, line and reason, joins the rest.

It judges nothing: what a regime says is in its file, what follows from it in ``service/custody``.
"""

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from service.custody.regime import Regime
from service.regimes.checks import TABLES, findings
from service.regimes.places import Loc, Problem, RegimeError, line_of, written

__all__ = ["RegimeError", "assemble", "available", "files", "load"]

BUNDLED = Path(__file__).parent

_ACT_KEYS = {"stages", "acts"}
_PLAIN = {
    "extra_forbidden": "unknown key",
    "date_type": "not a date; write it as 2016-03-28, without quotation marks",
    "date_from_datetime_parsing": "not a date; write it as 2016-03-28, without quotation marks",
    "date_from_datetime_inexact": "not a day; write it as 2016-03-28, without a time",
    "decimal_parsing": "not a number",
    "int_parsing": "not a whole number",
    "too_short": "the list is too short",
    "tuple_type": "not a list; write it in [square brackets]",
    "model_type": "not a row of keys and values",
}
"""What a kind of error of the checking library means to who writes the file."""


def available(directory: Path = BUNDLED) -> tuple[str, ...]:
    """Give the ids of the regimes in the directory, in alphabetical order."""
    return tuple(sorted(path.stem for path in directory.glob("*.toml")))


def load(path: Path) -> Regime:
    """Read one regime's own rows and check them, with those it adds to beside it in the directory.

    Raises:
        RegimeError: the file is malformed; the error names each place and reason.
    """
    return _load(path, ())[0]


def assemble(regime_id: str, directory: Path = BUNDLED) -> Regime:
    """Give the regime with the rows of those it adds to: its own first, then theirs.

    Raises:
        RegimeError: there is no such regime, or its file or one it adds to is malformed.
    """
    if regime_id not in available(directory):
        known = ", ".join(available(directory)) or "none"
        raise _refusal(Path(f"{regime_id}.toml"), "", "", f"no such regime; there are: {known}")
    regime, parents = _load(directory / f"{regime_id}.toml", ())
    family = (regime, *parents)
    joined: dict[str, Any] = {
        table: tuple(row for one in family for row in getattr(one, table)) for table in TABLES
    }
    joined["source"] = {k: v for one in family for k, v in one.source.items()}
    joined["site_facts"] = {k: v for one in family for k, v in one.site_facts.items()}
    return regime.model_copy(update=joined)


def files(regime_id: str, directory: Path = BUNDLED) -> dict[str, bytes]:
    """Give the files of a regime and of those it adds to, by name.

    Raises:
        RegimeError: as ``assemble``.
    """
    regime, parents = _load(directory / f"{regime_id}.toml", ())
    names = [f"{one.id}.toml" for one in (regime, *parents)]
    return {name: (directory / name).read_bytes() for name in names}


def _load(path: Path, below: tuple[str, ...]) -> tuple[Regime, tuple[Regime, ...]]:
    """Read a regime and, without repeats, those it adds to; ``below`` are the ids on the way."""
    text = _text(path)
    regime = _validated(path, text, _table(path, text))
    if regime.id != path.stem:
        raise _refusal(path, text, "id", f"the id '{regime.id}' is not the name of the file")
    parents: dict[str, Regime] = {}
    for name in regime.adds_to:
        if name in (*below, regime.id):
            way = " > ".join((*below, regime.id, name))
            raise _refusal(
                path, text, "adds_to", f"the regimes add to each other in a circle: {way}"
            )
        if not (beside := path.with_name(f"{name}.toml")).is_file():
            raise _refusal(path, text, "adds_to", f"unknown regime '{name}': no file {beside.name}")
        parent, further = _load(beside, (*below, regime.id))
        parents |= {one.id: one for one in (parent, *further) if one.id not in parents}
    problems = [
        Problem(path.name, line_of(text, loc), written(loc), reason)
        for loc, reason in findings(regime, parents.values())
    ]
    if problems:
        raise RegimeError(problems)
    return regime, tuple(parents.values())


def _refusal(path: Path, text: str, key: str, reason: str) -> RegimeError:
    """Make the refusal for one key of the file, or for the file as a whole."""
    line = line_of(text, (key,)) if key else None
    return RegimeError([Problem(path.name, line, key, reason)])


def _text(path: Path) -> str:
    """Read the file as UTF-8."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise _refusal(path, "", "", f"the file cannot be read: {error.strerror}") from error
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        reason = f"not UTF-8: the byte 0x{raw[error.start]:02X} is no part of a character"
        raise RegimeError([Problem(path.name, line, "", reason)]) from error
    if not text.strip():
        raise _refusal(path, "", "", "the file is empty")
    return text.removeprefix("\ufeff").replace("\r\n", "\n")


def _table(path: Path, text: str) -> dict[str, Any]:
    """Read the text as TOML, decimals exactly as written."""
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        said, _, at = str(error).partition(" (at line ")
        line = int(at.partition(",")[0]) if at[:1].isdigit() else len(text.splitlines())
        twice = said.startswith(("Cannot overwrite", "Cannot declare", "Duplicate"))
        reason = "a key or table is written twice" if twice else f"not TOML: {said}"
        raise RegimeError([Problem(path.name, line, "", reason)]) from error


def _validated(path: Path, text: str, table: dict[str, Any]) -> Regime:
    """Check the keys and each row by itself; all problems are named, each once."""
    try:
        return Regime.model_validate(table)
    except ValidationError as error:
        told = error.errors(include_url=False)
        inner = {e["loc"][:-1] for e in told}  # a faulty item also makes its list too short
        found = {
            Problem(path.name, line_of(text, _place(e)), written(_place(e)), _reason(e))
            for e in told
            if e["type"] != "too_short" or e["loc"] not in inner
        }
        raise RegimeError(list(found)) from error


def _place(error: ErrorDetails) -> Loc:
    """Give table, row and key; deeper than that the reason says it."""
    loc = tuple("from" if part == "from_" else part for part in error["loc"])
    return loc[:3] if len(loc) > 1 and isinstance(loc[1], int) else loc[:2]


def _reason(error: ErrorDetails) -> str:
    """Say in plain words what is wrong at the place."""
    loc, kind, given = error["loc"], error["type"], error["input"]
    if kind == "missing":
        return "is missing"
    if _ACT_KEYS & set(loc) and isinstance(given, str):
        return f"unknown step or outlet '{given}'"
    if kind in {"enum", "literal_error"}:
        return f"unknown word '{given}'; it must be {error.get('ctx', {}).get('expected')}"
    said = _PLAIN.get(kind, error["msg"].removeprefix("Value error, "))
    return said if isinstance(given, dict | list) else f"'{given}': {said}"
