"""A return as a workbook: each field of the form, and what the record says of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO

import xlsxwriter

NOT_HELD = "not in the record"


@dataclass(frozen=True, slots=True)
class Said:
    """One line of a field: what it is of, and its value as it is written."""

    of: str
    value: str


@dataclass(frozen=True, slots=True)
class Filled:
    """A field of the form; ``said`` None is: the record does not hold it."""

    name: str
    said: tuple[Said, ...] | None


@dataclass(frozen=True, slots=True)
class Return:
    """A return for a period, as far as the record fills it.

    Attributes:
        due_on: None where the text names no day.
        confidence: How sure the regime's row is of what is asked for.
    """

    id: str
    title: str
    period: str
    first: date
    last: date
    due_on: date | None
    to: str
    clause: str
    source: str
    verified: str
    confidence: str
    fields: tuple[Filled, ...]
    notes: tuple[str, ...]


def workbook(filled: Return, now: datetime) -> bytes:
    """Give the workbook; the same return at the same time gives the same bytes."""
    out = BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False}) as book:
        created = now.replace(tzinfo=None, microsecond=0)
        book.set_properties({"title": f"{filled.title} {filled.period}", "created": created})
        bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        plain = book.add_format({"text_wrap": True, "valign": "top"})
        sheet = book.add_worksheet("return")
        for column, width in enumerate((44, 34, 44)):
            sheet.set_column(column, column, width)
        for number, (left, middle, right, head) in enumerate(_rows(filled)):
            for column, text in enumerate((left, middle, right)):
                sheet.write_string(number, column, text, bold if head else plain)
    return out.getvalue()


def _rows(filled: Return) -> Sequence[tuple[str, str, str, bool]]:
    due = str(filled.due_on) if filled.due_on else "no day is named"
    rows = [
        (filled.title, filled.period, f"{filled.first} to {filled.last}", True),
        ("Due", due, filled.to, False),
        ("Asked for by", filled.clause, filled.source, False),
        ("How sure the list of fields is", filled.verified, filled.confidence, False),
        *((note, "", "", False) for note in filled.notes),
        ("Field", "of", "value", True),
    ]
    for field in filled.fields:
        if field.said is None:
            rows.append((field.name, "", NOT_HELD, False))
        elif not field.said:
            rows.append((field.name, "", "none on record", False))
        else:
            lines = [(one.of, one.value) for one in field.said]
            rows += [
                (field.name if not n else "", of, value, False)
                for n, (of, value) in enumerate(lines)
            ]
    return rows
