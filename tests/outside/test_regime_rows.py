"""Every row of the regimes against an independent second writing of the published texts.

Sources: BMW Rules 2016 with 2018 and 2019; WHO, Safe management of wastes, 2nd ed., 2014; HTM 07-01
and SI 2005/894; 29 CFR 1910.1030, 49 CFR 173; Florida 64E-16.004; 15A NCAC 13B .1206. Most of it is
from memory of those texts: each row says so by its status.
"""

from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any

import pytest

from service.custody.regime import Regime, Row
from service.regimes.load import BUNDLED, available, load
from tests.outside.regime_tables import TABLES

Line = tuple[str, ...]


def _joined(words: Iterable[object], by: str) -> str:
    return by.join(str(word) for word in words)


def _some(given: tuple[Any, ...]) -> str:
    """Give the words of a closed list, or nothing where it holds all of them."""
    every = list(type(given[0])) if given else []
    return "" if set(given) == set(every) else _joined((w for w in every if w in given), "+")


def _phrase(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _stages(stages: Iterable[tuple[Any, ...]]) -> str:
    return _joined((_joined(stage, "|") for stage in stages), " > ")


def _category(r: Any) -> Line:
    codes = ", ".join(r.codes)
    parts = (r.colour, r.symbol.value, ", ".join(r.goes_in), codes, r.un_number)
    return r.id, "; ".join(part for part in parts if part)


def _holding(r: Any) -> Line:
    unit = next(u for u in ("hours", "days", "calendar_days", "months") if getattr(r, u))
    season = f"{r.climate} {r.season}" if (r.climate, r.season) != ("any", "any") else ""
    weekend = f"weekend {r.weekend_hours}" if r.weekend_hours else ""
    parts = (
        f"{getattr(r, unit)} {unit} {r.clock}",
        _some(r.whereabouts),
        _some(r.conditions),
        _some(r.kinds),
        season,
        weekend,
        f"from {r.monthly_kg_min} kg" if r.monthly_kg_min is not None else "",
        f"below {r.monthly_kg_below} kg" if r.monthly_kg_below is not None else "",
        "" if r.mixing == "strictest" else r.mixing,
    )
    return " ".join(r.categories), "; ".join(part for part in parts if part)


def _denied(r: Any) -> Line:
    said = _phrase(
        "dispatch" if r.dispatch else "",
        _joined(r.acts, "|"),
        f"after {_joined(r.after, '|')}" if r.after else "",
        f"unless_after {_joined(r.unless_after, '|')}" if r.unless_after else "",
        f"unless_where {_joined(r.unless_where, '+')}" if r.unless_where else "",
    )
    return " ".join(r.categories), f"{said}; {r.severity}"


def _route(r: Any) -> Line:
    where = f"where {_joined(r.only_where, '+')}" if r.only_where else ""
    return " ".join(r.categories), _phrase(_stages(r.stages), where)


def _window(r: Any) -> Line:
    figures = {
        "°C, above": r.temperature_c_above,
        "°C": r.temperature_c_min,
        "°C at most": r.temperature_c_max,
        "psi": r.pressure_psi_min,
        "kPa": r.pressure_kpa_min,
        "min": r.minutes_min,
        "min cycle": r.cycle_minutes_min,
        "pulses": r.vacuum_pulses_min,
        "s": r.seconds_residence_min,
    }
    said = (f"{value} {unit}" for unit, value in figures.items() if value is not None)
    return r.step.value, _phrase(r.machine, *said)


def _limit(r: Any) -> Line:
    oxygen = "" if r.oxygen_percent is None else f"{r.oxygen_percent} % O2, dry"
    basis = r.basis if oxygen in r.basis else f"{r.basis}; {oxygen}"
    return r.id, f"{r.bound} {r.value} {r.unit}" + (f"; {basis}" if basis else "")


def _packing(r: Any) -> Line:
    fill = "" if r.fill_fraction_max is None else str(r.fill_fraction_max)
    exempt = "exempt" if r.exempt else ""
    return " ".join(r.categories), _phrase(r.rule, fill, _some(r.kinds), exempt)


def _returns(r: Any) -> Line:
    months = f"due {r.due_months_after} months" if r.due_months_after is not None else ""
    hours = f"due {r.due_hours} h" if r.due_hours is not None else ""
    return r.id, _phrase(r.period, months, f"due {r.due_day}" if r.due_day else "", hours)


def _weight(r: Any) -> Line:
    if r.factor is not None:
        return r.rule, str(r.factor)
    return r.rule, f"{_joined(r.kinds, '+')} {r.weight_g_max} g"


STATEMENTS: dict[str, Callable[[Any], Line]] = {
    "category": _category,
    "container": lambda r: (" ".join(r.categories), f"{_some(r.kinds)}: {r.description}"),
    "holding": _holding,
    "notice": lambda r: (" ".join(r.categories), r.effect),
    "store_band": lambda r: (
        r.condition.value,
        f"{r.temperature_c_min} to {r.temperature_c_max} °C",
    ),
    "route": _route,
    "denied": _denied,
    "packing": _packing,
    "time": lambda r: (r.rule, _phrase(f"{r.hours} h", _joined(r.kinds, "+"))),
    "weight": _weight,
    "window": _window,
    "limit": _limit,
    "mix": lambda r: (r.step.value, _joined((f"{k} {v}" for k, v in r.parts.items()), " ")),
    "returns": _returns,
    "material": lambda r: (r.material, " ".join(r.categories)),
    "loss": lambda r: (r.step.value, f"{r.share_min} to {r.share_max}"),
    "retention": lambda r: (r.who, f"{r.years} years" if r.years else f"{r.months} months"),
    "label": lambda r: (" ".join(r.categories), "; ".join(r.lines)),
    "paper": lambda r: (r.paper, "; ".join(r.lines)),
    "caution": lambda r: (" ".join(r.categories), f"{r.severity}; {r.text}"),
}


def _status(row: Row) -> str:
    """Give the status in the words of the second writing."""
    words = {"read": "READ", "policy": "HOUSE"}
    return words.get(row.verified, f"MEM-{row.confidence[0].upper()}")


def _lines(regime: Regime) -> list[Line]:
    """Give each row of the file in the form of the second writing."""
    lines = []
    for table, statement in STATEMENTS.items():
        for row in getattr(regime, table):
            of, said = statement(row)
            days = f"{row.from_}..{row.until or ''}"
            lines.append((table, of, " ".join(said.split()), row.clause, _status(row), days))
    return lines


def _wanted(regime_id: str) -> list[Line]:
    """Give the second writing with the days written out."""
    since, rows = TABLES[regime_id]
    days = f"{since}.." if ".." not in since else since
    return [row if len(row) == 6 else (*row, days) for row in rows]


def _with_phrases(found: Line, wanted: list[Line]) -> Line:
    """Put the second writing's phrase for a caution's text, where the text holds it."""
    table, of, said, *rest = found
    weight, _, text = said.partition("; ")
    for line in wanted:
        start, _, phrase = line[2].partition("; ")
        same = (line[0], line[1], start, list(line[3:])) == (table, of, weight, rest)
        if table == "caution" and same and phrase in text:
            return line
    return found


def test_every_regime_and_every_kind_of_row_is_written_twice() -> None:
    """No regime's file, and no table of it, is left out of the comparison."""
    tables = {n for n, f in Regime.model_fields.items() if str(f.annotation).startswith("tuple[s")}
    assert set(TABLES) == set(available())
    assert set(STATEMENTS) == tables - {"adds_to"}


@pytest.mark.parametrize("regime_id", TABLES)
def test_each_row_stands_in_both(regime_id: str) -> None:
    """A row changed, added or dropped on either side is named; counts are the same."""
    wanted = _wanted(regime_id)
    found = [_with_phrases(line, wanted) for line in _lines(load(BUNDLED / f"{regime_id}.toml"))]
    assert sorted((Counter(found) - Counter(wanted)).elements()) == []
    assert sorted((Counter(wanted) - Counter(found)).elements()) == []
    assert len(found) == len(wanted)
