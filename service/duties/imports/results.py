"""What became of each line: the report beside the list, and the lines that were refused.

Both are written as the import goes on, batch by batch, and never over a file that is there.
"""

import csv
import json
import re
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self, TextIO

from service.duties.imports.mapping import REASON
from service.duties.imports.rows import Sheet
from service.duties.imports.sheet import Record, TextFile

HEADER = ("line", "outcome", "reason", "event id", "violations")
_FIRST_KEY = re.compile(rf'\{{\s*"{REASON}"\s*:\s*"(?:[^"\\]|\\.)*"\s*,?\s*')


@dataclass(frozen=True, slots=True)
class LineOutcome:
    """What became of one line.

    Attributes:
        line: The physical line on which its record begins.
        outcome: ``recorded``, ``repeated`` or ``refused``.
        event_id: The id of the event; empty if there is none.
        violations: Codes of the violations that the event brought to light.
    """

    line: int
    outcome: str
    reason: str = ""
    event_id: str = ""
    violations: tuple[str, ...] = ()


def free(path: Path) -> Path:
    """Give the path, or with ``-2``, ``-3`` … in its name the first that is not taken."""
    tried, number = path, 1
    while tried.exists():
        number += 1
        tried = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return tried


def read_report(path: Path) -> Iterator[LineOutcome]:
    """Give the outcomes of a report, line by line."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        for r in csv.DictReader(file):
            line, outcome, reason, event_id, violations = (r[name] for name in HEADER)
            yield LineOutcome(int(line), outcome, reason, event_id, tuple(violations.split()))


class Results:
    """The two files of one import; a file of rejects is made with the first reject."""

    def __init__(self, report: Path, rejects: Path, source: TextFile, sheet: Sheet) -> None:
        self.report, self.rejects = free(report), rejects
        self.refused = False
        self._source, self._sheet = source, sheet
        self._open = ExitStack()
        self._rejected: TextIO | None = None

    def __enter__(self) -> Self:
        """Open the report."""
        self.report.parent.mkdir(parents=True, exist_ok=True)
        self._told = self._open.enter_context(
            self.report.open("x", encoding="utf-8-sig", newline="")
        )
        self._table = csv.writer(self._told)
        self._table.writerow(HEADER)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close both files, whatever ended the import."""
        self._open.close()

    def write(self, outcomes: Sequence[tuple[Record, LineOutcome]]) -> None:
        """Write the outcomes of a batch, and see them out of our hands."""
        for record, o in outcomes:
            violations = " ".join(o.violations)
            self._table.writerow((o.line, o.outcome, o.reason, o.event_id, violations))
            if o.outcome == "refused":
                self._reject(record, o.reason)
        self._told.flush()
        if self._rejected is not None:
            self._rejected.flush()

    def _reject(self, record: Record, reason: str) -> None:
        if self._rejected is None:
            self._rejected = self._begin()
        codec = self._source.encoding
        said = " ".join(reason.split()).encode(codec, "backslashreplace").decode(codec)
        raw = record.raw.rstrip("\r\n")
        made = (
            self._marked_object(said, raw)
            if not self._sheet.delimiter
            else (f"{_quoted(said)}{self._sheet.delimiter}{self._unmarked(raw)}")
        )
        end = record.raw[len(raw) :]
        self._rejected.write(made + ("\r\n" if end[:2] in ("\r\n", "") else end[0]))

    def _begin(self) -> TextIO:
        self.rejects, self.refused = free(self.rejects), True
        with self.rejects.open("xb") as file:
            file.write(self._source.mark)
        opened = self._open.enter_context(
            self.rejects.open("a", encoding=self._source.encoding, newline="")
        )
        if self._sheet.delimiter:
            mark = "" if self._sheet.marked else f"{REASON}{self._sheet.delimiter}"
            opened.write(self._sheet.preamble + mark + self._sheet.header)
            if not self._sheet.header.endswith(("\n", "\r")):
                opened.write("\r\n")
        return opened

    def _unmarked(self, raw: str) -> str:
        """Take off the reason of an earlier refusal; the rest of the row is left as it is."""
        if not self._sheet.marked:
            return raw
        by = re.escape(self._sheet.delimiter)
        return re.sub(rf'\A(?:"(?:[^"]|"")*"|[^"{by}][^{by}]*|){by}', "", raw, count=1)

    @staticmethod
    def _marked_object(reason: str, raw: str) -> str:
        """Put the reason as the first key of the object; what is no object is kept as a text."""
        rest = _FIRST_KEY.sub("{", raw.strip(), count=1)
        if not rest.startswith("{"):
            return json.dumps({REASON: reason, "original": raw}, ensure_ascii=False)
        comma = "" if rest[1:].lstrip().startswith("}") else ", "
        return f"{{{json.dumps(REASON)}: {json.dumps(reason, ensure_ascii=False)}{comma}{rest[1:]}"


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
