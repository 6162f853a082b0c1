"""What was measured, as tables: on the terminal, and in docs/performance.md between its markers."""

import os
import platform
import sqlite3
from collections.abc import Iterable, Sequence
from datetime import date
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks.frame import Curve, Row, number
from tests.faults.world import ROOT

PAGE = ROOT / "docs" / "performance.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
LIBRARIES = ("fastapi", "starlette", "uvicorn", "pydantic", "sqlalchemy", "sqlmodel", "reportlab")
HEADS = ("what", "ours", "beside", "ratio (least to most)", "goal", "")


def conditions(today: date, rounds: int, loads: Sequence[float]) -> str:
    """Say on what it was measured, when, and how busy that was besides."""
    memory_gb = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    busy = f"{min(loads):.1f} to {max(loads):.1f}"
    return (
        f"Measured on {today.day} {today:%B %Y}: {os.cpu_count()} processors ({_processor()}), "
        f"{memory_gb:.0f} GB, {platform.system()} {platform.release().split('-')[0]}, Python "
        f"{platform.python_version()}, SQLite {sqlite3.sqlite_version}, {versions}. {rounds} "
        f"rounds; load average while it ran {busy}, of which the benchmark itself makes one to "
        "three."
    )


def _processor() -> str:
    for line in Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            return line.split(":")[1].strip()
    return platform.machine()


def tables(found: Iterable[tuple[str, Sequence[Row | Curve]]]) -> str:
    """Give all rows as one table, then a table for each curve."""
    rows: list[Sequence[str]] = []
    curves: list[str] = []
    for _, told in found:
        for each in told:
            if isinstance(each, Row):
                rows.append(_cells(each))
            else:
                curves.append(f"{_capital(each.what)}:\n\n{_table(each.heads, each.lines)}")
    return "\n\n".join([_table(HEADS, rows), *curves])


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _cells(row: Row) -> list[str]:
    spread = f"{number(row.ratio)}"
    if len(row.ratios) > 1:
        spread += f" ({number(min(row.ratios))} to {number(max(row.ratios))})"
    goal = str(row.goal) if row.goal else ""
    return [row.what, row.ours, row.beside, spread, goal, row.verdict]


def _table(heads: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    rule = ["---"] * len(heads)
    return "\n".join("| " + " | ".join(cells) + " |" for cells in (heads, rule, *lines))


def put(text: str, page: Path = PAGE) -> None:
    """Write what was measured into the page, in place of what stood there.

    Raises:
        ValueError: the page has no markers for it.
    """
    before, begin, rest = page.read_text(encoding="utf-8").partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (begin and end):
        raise ValueError(f"{page.name} has no place marked {BEGIN} {END}")
    page.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")
