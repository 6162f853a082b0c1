"""Import lists kept elsewhere, CSV or JSON Lines: one file, line by line, nothing lost or doubled.

A bad line never stops the others. Every batch is on disk before the next is read, and the same
list may be imported again at any time: what is on record is ``repeated``.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path

from service.custody.events import Origin
from service.duties.access import Caller
from service.duties.imports.checks import read_mapping
from service.duties.imports.mapping import Mapping, MappingError, plain
from service.duties.imports.results import LineOutcome, Results, read_report
from service.duties.imports.rows import Line, json_lines, table
from service.duties.imports.sheet import Record, UnreadableListError, sound
from service.duties.record import Outcome, Told, record_events
from service.store.store import Store

__all__ = [
    "LineOutcome", "Mapping", "MappingError", "Report", "UnreadableListError", "import_file",
    "plain", "read_mapping",
]  # fmt: skip

BATCH = 1_000
"""Events that are recorded together."""
_JSON_LINES = frozenset({".jsonl", ".ndjson", ".json"})


@dataclass
class Report:
    """What became of a list.

    Attributes:
        file: The CSV with the outcome of each line.
        rejects: The file of refused lines, or None if none was refused.
        recorded, repeated, refused: How many lines had that outcome.
        violations: How many violations the recorded events brought to light.
    """

    file: Path
    rejects: Path | None = None
    recorded: int = 0
    repeated: int = 0
    refused: int = 0
    violations: int = 0

    @property
    def lines(self) -> int:
        """How many records the list had."""
        return self.recorded + self.repeated + self.refused

    def outcomes(self) -> Iterator[LineOutcome]:
        """Give the outcome of each line, in the order of the list."""
        return read_report(self.file)

    def count(self, outcomes: Iterable[tuple[Record, LineOutcome]]) -> None:
        """Add a batch to the totals."""
        for _, o in outcomes:
            self.recorded += o.outcome == "recorded"
            self.repeated += o.outcome == "repeated"
            self.refused += o.outcome == "refused"
            self.violations += len(o.violations)


def import_file(
    store: Store,
    caller: Caller,
    path: Path,
    mapping: Mapping,
    now: datetime,
    *,
    rejects: Path,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> Report:
    """Record the events of a list and say of each line what became of it.

    ``rejects`` takes the refused lines as they stand, each with its reason, to be corrected and
    imported again; the report is written beside it as ``NAME.report.csv``. Neither is written over
    a file that is there: see the names in the report. ``progress(done, all)`` is called in
    physical lines, after each batch that is on disk.

    Raises:
        MappingError: the mapping does not fit the list.
        UnreadableListError: the file is no text, is not in its encoding, or has no header.
        NoSetupError: the facility has not been set up.
    """
    store.rules(caller.facility)
    source = sound(path, mapping.said.encoding)
    with source.open() as text:
        as_json = is_json_lines(path, mapping)
        sheet = json_lines(text, mapping) if as_json else table(text, mapping, path.name)
        beside = rejects.with_name(f"{path.stem}.report.csv")
        with Results(beside, rejects, source, sheet) as results:
            report = Report(results.report)
            progress(0, source.lines)
            while batch := list(islice(sheet.lines, BATCH)):
                outcomes = _record(store, caller, batch, now, (path.name, mapping.said.keeper))
                results.write(outcomes)
                report.count(outcomes)
                report.rejects = results.rejects if results.refused else None
                progress(batch[-1].record.line, source.lines)
            progress(source.lines, source.lines)
    return report


def is_json_lines(path: Path, mapping: Mapping) -> bool:
    """Say whether the list is JSON Lines: as the mapping says, else by its name."""
    form = mapping.said.form
    return form == "jsonl" or (form == "auto" and path.suffix.lower() in _JSON_LINES)


def _record(
    store: Store, caller: Caller, batch: list[Line], now: datetime, kept: tuple[str, str]
) -> list[tuple[Record, LineOutcome]]:
    file, keeper = kept
    good = [line for line in batch if line.event is not None]
    origins = [Origin(file, line.record.line, keeper) for line in good]
    written = iter(record_events(store, caller, [g.event for g in good], Told(now), origins))
    return [(line.record, _outcome(line, written)) for line in batch]


def _outcome(line: Line, written: Iterator[Outcome]) -> LineOutcome:
    if line.event is None:
        return LineOutcome(line.record.line, "refused", line.reason)
    o = next(written)
    codes = tuple(v.code.value for v in o.violations)
    event_id = str(o.id) if o.id is not None else ""
    return LineOutcome(line.record.line, o.outcome, o.reason, event_id, codes)
