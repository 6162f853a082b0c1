"""A sensor trace of one cycle, read from a logger's file and never repaired.

Columns: ``time_s``, ``time_min`` or ``time`` (ISO 8601); ``temperature_c`` and further
``temperature_NAME_c`` (``_f`` declares °F); ``pressure_kpa``, absolute, or another unit that says
``_abs`` or ``_gauge``. A cell without a reading ends the straight line on both sides of it.
"""

from dataclasses import dataclass
from datetime import datetime, tzinfo
from functools import cached_property

import numpy as np

from service.treatment.columns import Quantity, numbers, quantities
from service.treatment.pieces import Floats, Marks
from service.treatment.problems import Problem, Remark, TraceError, refuse
from service.treatment.steam import ATMOSPHERE_KPA
from service.treatment.table import Table, table
from service.treatment.times import COLUMNS, times


@dataclass(frozen=True)
class Trace:
    """Readings in order of time.

    Attributes:
        time_s: seconds from the first reading.
        temperatures_c: by name of the probe; ``""`` is a column called plainly temperature_c.
        pressure_kpa: absolute, or None where it was not measured.
        start: instant of the first reading, where the file gives clock times.
        linked: for each piece between two readings, whether all was read at both of its ends and
            nothing was missing between them.
        gauge: the pressure was declared as above the atmosphere.
        remarks: what was noticed in reading.
    """

    time_s: Floats
    temperatures_c: dict[str, Floats]
    pressure_kpa: Floats | None
    start: datetime | None
    linked: Marks
    gauge: bool = False
    remarks: tuple[Remark, ...] = ()

    @cached_property
    def coldest_c(self) -> Floats:
        """The lowest temperature of all probes at each reading."""
        lowest: Floats = np.minimum.reduce(list(self.temperatures_c.values()))
        return lowest

    @cached_property
    def hottest_c(self) -> Floats:
        """The highest temperature of all probes at each reading."""
        highest: Floats = np.maximum.reduce(list(self.temperatures_c.values()))
        return highest

    @property
    def minutes(self) -> float:
        """Time from the first to the last reading."""
        return float(self.time_s[-1] - self.time_s[0]) / 60


def probe_name(probe: str) -> str:
    """Give a probe's name as people write it."""
    return f"probe {probe}" if probe else "the probe"


def read_trace(
    text: str, *, zone: tzinfo | None = None, ambient_kpa: float = ATMOSPHERE_KPA
) -> Trace:
    """Read a trace from the text of a CSV or JSON file.

    Args:
        text: the file.
        zone: zone of clock times that carry none.
        ambient_kpa: pressure of the air at the site, for pressures declared as gauge.

    Raises:
        TraceError: it cannot be read without guessing; every place is named.
    """
    found = table(text)
    measured, left = quantities([name for name in found.columns if name not in COLUMNS])
    when = times(found, zone)
    if len(when.seconds) < 2:
        raise refuse("a trace has two readings at least")
    read = {q: numbers(found, q.header) for q in measured}
    values = {q: q.converted(column.values, ambient_kpa) for q, column in read.items()}
    kept, linked = _whole(values, len(when.seconds))
    if kept.sum() < 2:
        raise refuse("no two readings are complete")
    remarks = [*when.remarks, *_odd(measured, left, kept, ambient_kpa)]
    if any(column.decimal_comma for column in read.values()):
        remarks.append(Remark("trace.decimal_comma", "Commas were read as decimal commas."))
    _once(found, when.seconds, values)
    if repeated := int((np.diff(when.seconds) == 0).sum()):
        remarks.append(Remark("trace.repeated", f"Readings given twice: {repeated}; no effect."))
    pressure = next((q for q in measured if q.probe is None), None)
    return Trace(
        when.seconds[kept],
        {q.probe: v[kept] for q, v in values.items() if q.probe is not None},
        values[pressure][kept] if pressure else None,
        when.start,
        linked,
        bool(pressure and pressure.gauge),
        tuple(remarks),
    )


def _whole(values: dict[Quantity, Floats], length: int) -> tuple[Marks, Marks]:
    """Give which readings are complete, and which pieces between those have none missing inside."""
    kept = np.ones(length, dtype=np.bool_)
    for column in values.values():
        kept &= ~np.isnan(column)
    numbers_kept = np.flatnonzero(kept)
    return kept, np.diff(numbers_kept) == 1


def _odd(
    measured: list[Quantity], left: list[str], kept: Marks, ambient_kpa: float
) -> list[Remark]:
    """Say what was converted, and what was not used."""
    remarks = []
    if missing := int((~kept).sum()):
        told = f"Readings without a value: {missing}; the time around them does not count."
        remarks.append(Remark("trace.missing", told))
    if left:
        remarks.append(Remark("trace.not_read", f"Columns not read: {', '.join(left)}."))
    if fahrenheit := [q.header for q in measured if q.fahrenheit]:
        remarks.append(Remark("trace.fahrenheit", f"Declared °F, as °C: {', '.join(fahrenheit)}."))
    for q in measured:
        if q.probe is None and q.gauge:
            told = f"{q.header} is above the atmosphere; {ambient_kpa:g} kPa were added."
            remarks.append(Remark("trace.gauge", told))
    return remarks


def _once(found: Table, seconds: Floats, values: dict[Quantity, Floats]) -> None:
    """Refuse two readings of one time that differ."""
    same = np.flatnonzero(np.diff(seconds) == 0)
    differ = np.zeros(len(same), dtype=np.bool_)
    for column in values.values():
        one, other = column[same], column[same + 1]
        differ |= (one != other) & ~(np.isnan(one) & np.isnan(other))
    if places := same[differ].tolist():
        told = "another reading than the one before, at the same time"
        raise TraceError([Problem(told, found.at(n + 1)) for n in places])
