"""What was measured, as tables: on the terminal, and between the markers of docs/performance.md."""

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
LIBRARIES = ("fastapi", "starlette", "uvicorn", "pydantic", "sqlalchemy", "sqlmodel", "reportlab")
HEADS = ("what", "ours", "beside", "ratio (least to most)", "goal", "")


def machine() -> str:
    """Say what it is measured on, and with."""
    memory_gb = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    return (
        f"{os.cpu_count()} processors ({_processor()}), {memory_gb:.0f} GB, {platform.system()} "
        f"{platform.release().split('-')[0]}, Python {platform.python_version()}, SQLite "
        f"{sqlite3.sqlite_version}, {versions}."
    )


def conditions(today: date, rounds: int, loads: Sequence[float]) -> str:
    """Say when it was measured, and how busy the machine was; the benchmark itself makes 1 to 3."""
    busy = f"{min(loads):.1f} to {max(loads):.1f}"
    return f"{today.day} {today:%B %Y}, {rounds} rounds, load average {busy}."


def _processor() -> str:
    for line in Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            return line.split(":")[1].strip()
    return platform.machine()


def tables(told: Iterable[Row | Curve]) -> str:
    """Give all rows of a benchmark as one table, then a table for each curve."""
    rows: list[Sequence[str]] = []
    curves: list[str] = []
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


def put(name: str, text: str, page: Path = PAGE) -> None:
    """Write what a benchmark measured into the page, in place of what stood there.

    Raises:
        ValueError: the page has no markers for it.
    """
    begin, end = (f"<!-- {name}: {word} -->" for word in ("begin", "end"))
    before, found, rest = page.read_text(encoding="utf-8").partition(begin)
    _, ended, after = rest.partition(end)
    if not (found and ended):
        raise ValueError(f"{page.name} has no place marked {begin} {end}")
    page.write_text(f"{before}{begin}\n{text}\n{end}{after}", encoding="utf-8")
