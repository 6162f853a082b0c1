"""What a header of a trace declares, and its cells as numbers in the units of the rules."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from service.treatment.pieces import Floats
from service.treatment.problems import Problem, TraceError, refuse
from service.treatment.steam import KPA_PER_PSI
from service.treatment.table import Cells, Table

TEMPERATURE = re.compile(r"temperature((?:_[a-z0-9]+)*)_([cf])")
PRESSURE = re.compile(r"pressure_(kpa|mpa|pa|bar|mbar|psi)(_abs|_gauge)?")
_KPA = {"kpa": 1.0, "mpa": 1000.0, "pa": 0.001, "bar": 100.0, "mbar": 0.1, "psi": KPA_PER_PSI}
_SENSOR_MAX = 1e12
_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_PLAIN_SIGNS = frozenset("0123456789.+-eE \t")


@dataclass(frozen=True)
class Quantity:
    """A column of readings as its header declares it.

    Attributes:
        header: as it stands in the file.
        probe: name of a temperature probe, empty for the only one; None for a pressure.
        fahrenheit: the header declares °F.
        gauge: the header declares pressure above the atmosphere.
        factor: what one unit of the header is in kPa, for a pressure.
    """

    header: str
    probe: str | None
    fahrenheit: bool = False
    gauge: bool = False
    factor: float = 1.0

    def converted(self, given: Floats, ambient_kpa: float) -> Floats:
        """Give the readings in °C, or in kPa absolute."""
        if self.fahrenheit:
            return (given - 32) / 1.8
        if self.probe is not None or (self.factor == 1.0 and not self.gauge):
            return given
        return given * self.factor + (ambient_kpa if self.gauge else 0.0)


def quantity(header: str) -> Quantity | None:
    """Read a header, or give None for a column that is no temperature and no pressure.

    Raises:
        TraceError: it is one, and its unit is not declared.
    """
    if temperature := TEMPERATURE.fullmatch(header):
        return Quantity(header, temperature[1].removeprefix("_"), fahrenheit=temperature[2] == "f")
    if header.startswith("temp"):
        raise refuse(
            "declare the unit: temperature_c, or temperature_NAME_c for each of several probes "
            "(_f for °F)",
            column=header,
        )
    if pressure := PRESSURE.fullmatch(header):
        unit, against = pressure[1], pressure[2]
        if against is None and unit != "kpa":
            raise refuse(f"say pressure_{unit}_abs or pressure_{unit}_gauge", column=header)
        return Quantity(header, None, gauge=against == "_gauge", factor=_KPA[unit])
    if header.startswith("press"):
        raise refuse("declare the unit: pressure_kpa is absolute, or _gauge", column=header)
    return None


@dataclass(frozen=True)
class Numbers:
    """A column as numbers; NaN where there is no reading."""

    values: Floats
    decimal_comma: bool = False


def numbers(found: Table, header: str) -> Numbers:
    """Give a column's cells as numbers.

    Raises:
        TraceError: a cell is no number; each is named.
    """
    cells = found.columns[header]
    quick = _quick(cells)
    if quick is not None:
        return Numbers(quick)
    read = _by_text if found.unit == "line" else _by_value
    return _slow(found, header, cells, read)


def _quick(cells: Cells) -> Floats | None:
    """Read cells that are all plain numbers; None if any may be something else."""
    try:
        text = "".join(cells)  # type: ignore[arg-type]  # what is no text is told by TypeError
        if frozenset(text) <= _PLAIN_SIGNS:
            values = np.array(list(map(float, cells)))  # type: ignore[arg-type]
            return values if (np.abs(values) <= _SENSOR_MAX).all() else None
    except (TypeError, ValueError):
        return None
    return None


def _slow(
    found: Table, header: str, cells: Cells, read: Callable[[object, bool], float | str]
) -> Numbers:
    """Read cell by cell, and name each that is no number."""
    values, problems, commas, points = np.empty(len(cells)), [], 0, 0
    for number, cell in enumerate(cells):
        got = read(cell, found.comma_splits)
        if isinstance(got, str):
            problems.append(Problem(got, found.at(number), header))
        else:
            values[number] = got
        if isinstance(cell, str):
            commas += "," in cell
            points += "." in cell
    if not problems and commas and points:
        problems.append(Problem("some numbers have a decimal comma, some a point", column=header))
    if problems:
        raise TraceError(problems)
    return Numbers(values, bool(commas))


def _by_text(cell: object, comma_splits: bool) -> float | str:
    text = str(cell).strip()
    if not text:
        return float("nan")
    if "," in text and comma_splits:
        return f"'{text}' has a comma: part the columns by semicolons if it is a decimal comma"
    if not _PLAIN.fullmatch(text.replace(",", ".")):
        return f"'{text}' is no number"
    value = float(text.replace(",", "."))
    return value if abs(value) <= _SENSOR_MAX else f"'{text}' is no number that a sensor gives"


def _by_value(cell: object, _: bool) -> float | str:
    if cell is None:
        return float("nan")
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        return f"{cell!r} is no number"
    try:
        value = float(cell)
    except OverflowError:
        value = float("inf")
    return value if abs(value) <= _SENSOR_MAX else "no number that a sensor gives"


def quantities(headers: Sequence[str]) -> tuple[list[Quantity], list[str]]:
    """Give what is measured, and the headers that are not read.

    Raises:
        TraceError: no temperature, two pressures, or a unit that is not declared.
    """
    measured, left = [], []
    for header in headers:
        if (found := quantity(header)) is None:
            left.append(header)
        else:
            measured.append(found)
    probes = [q.probe for q in measured if q.probe is not None]
    if not probes:
        raise refuse("there is no temperature: one column must be called temperature_c")
    twice = next((probe for n, probe in enumerate(probes) if probe in probes[:n]), None)
    if twice is not None:
        raise refuse(
            "one probe has two columns, in °C and in °F", column=f"temperature_{twice}".rstrip("_")
        )
    if sum(q.probe is None for q in measured) > 1:
        raise refuse("there are two columns of pressure: leave in the one of the chamber")
    return measured, left
