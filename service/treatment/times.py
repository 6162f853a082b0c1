"""The column of times of a trace, as seconds from its first reading."""

from collections.abc import Sequence
from datetime import datetime, tzinfo
from typing import NamedTuple

import numpy as np

from service.custody.fields import EARLIEST, LATEST
from service.treatment.columns import numbers
from service.treatment.pieces import Floats
from service.treatment.problems import Problem, Remark, TraceError, refuse
from service.treatment.table import Table

COLUMNS = ("time_s", "time_min", "time")


class Times(NamedTuple):
    """When readings were taken."""

    seconds: Floats
    """From the first reading on."""
    start: datetime | None
    """The first reading's instant, where the file gives clock times."""
    remarks: tuple[Remark, ...] = ()


def times(found: Table, zone: tzinfo | None) -> Times:
    """Read the one column of times; ``zone`` is that of times that carry none.

    Raises:
        TraceError: there is no such column or several, a cell is no time, time runs backwards,
            a clock time has no zone, its offset is not the declared zone's, or the clocks changed.
    """
    given = [name for name in COLUMNS if name in found.columns]
    if len(given) != 1:
        wanted = "one column must be called time_s (seconds) or time (2026-07-01T10:00:00+05:30)"
        raise refuse(f"there are two columns of time: {', '.join(given)}" if given else wanted)
    (name,) = given
    if name == "time":
        read = _clock(found, zone)
    else:
        values = numbers(found, name).values
        if (empty := np.flatnonzero(np.isnan(values))).size:
            raise TraceError([Problem("no time", found.at(n), name) for n in empty.tolist()])
        scaled = values * (60.0 if name == "time_min" else 1.0)
        read = Times(scaled - scaled[:1], None)
    if back := np.flatnonzero(np.diff(read.seconds) < 0).tolist():
        told = [Problem("time runs backwards here", found.at(n + 1), name) for n in back]
        raise TraceError(told)
    return read


def _clock(found: Table, zone: tzinfo | None) -> Times:
    """Read times of day."""
    read, problems = [], []
    for number, cell in enumerate(found.columns["time"]):
        try:
            moment = datetime.fromisoformat(str(cell).strip())
        except ValueError:
            told = f"'{cell}' is no time; write 2026-07-01T10:00:00+05:30, or seconds in time_s"
            problems.append(Problem(told, found.at(number), "time"))
            continue
        if not EARLIEST.year <= moment.year < LATEST.year:
            told = f"'{cell}' lies outside the years {EARLIEST.year} to {LATEST.year - 1}"
            problems.append(Problem(told, found.at(number), "time"))
        read.append(moment)
    if problems:
        raise TraceError(problems)
    if not read:
        return Times(np.empty(0), None)
    naive = [number for number, moment in enumerate(read) if moment.tzinfo is None]
    if naive and len(naive) < len(read):
        raise refuse("some times have a zone, some have none", found.at(naive[0]), "time")
    remarks: tuple[Remark, ...] = ()
    if naive:
        start = _placed(read, zone)
    else:
        start = read[0]
        remarks = _agrees(found, read, zone)
    first = read[0]
    seconds = np.array([(moment - first).total_seconds() for moment in read])
    return Times(seconds, start, remarks)


def _placed(read: Sequence[datetime], zone: tzinfo | None) -> datetime:
    """Give the first of times without a zone its place in the declared one."""
    if zone is None:
        raise refuse("the times have no zone: declare it, or write 2026-07-01T10:00:00+05:30")
    ends = [
        moment.replace(tzinfo=zone, fold=fold) for moment in (read[0], read[-1]) for fold in (0, 1)
    ]
    if len({moment.utcoffset() for moment in ends}) > 1:
        told = f"the clocks of {zone} change during this trace: give each time with its offset"
        raise refuse(told, column="time")
    return ends[0]


def _agrees(found: Table, read: Sequence[datetime], zone: tzinfo | None) -> tuple[Remark, ...]:
    """Hold the offsets in the file against the declared zone; UTC is taken for what it says."""
    if zone is None:
        return ()
    ends = [0, len(read) - 1]
    for number in ends:
        offset, declared = read[number].utcoffset(), read[number].astimezone(zone).utcoffset()
        if offset == declared:
            continue
        if offset:
            told = f"{read[number].isoformat()} is not at the offset of {zone}: one is wrong"
            raise refuse(told, found.at(number), "time")
        return (Remark("trace.zone", f"The times are UTC by the file; {zone} was not used."),)
    return ()
