"""The index of the regimes and where they disagree, from their rows in force without an end."""

from collections.abc import Callable, Sequence

from service.custody.regime import Regime, Row
from service.custody.words import Symbol
from service.regimes import wording as say

_COLOURS = ("yellow", "red", "orange", "purple", "blue", "white", "brown", "black")
_INTRODUCTION = (
    "Each regime is a file of dated rows with clause, source and how each was verified: "
    "`read` in an excerpt of the text, from `memory` of it (with how sure), or a house "
    "`policy`. Not legal advice: local codes, permits and licensed practice prevail."
)


def index(regimes: Sequence[Regime]) -> str:
    """Give the index page: the regimes, and their answers to the same questions side by side."""
    parts = [
        "<!-- Written by python -m service.regimes.page from the regimes' files. -->",
        "# Regimes",
        _INTRODUCTION,
        _overview(regimes),
        "## Where they disagree",
        "An empty place means that the text is silent there, or leaves it to others.",
        "### How long untreated waste may be held",
        _matrix(regimes, "limit", _holding),
        "### What a colour means",
        _colours(regimes),
        "### What becomes of cytotoxics",
        _matrix(regimes, "routes", _cytotoxics),
        "### When returns are due",
        _matrix(regimes, "return", _returns),
        "### How long records are kept",
        _matrix(regimes, "record", _records),
    ]
    return "\n\n".join(parts) + "\n"


def _overview(regimes: Sequence[Regime]) -> str:
    """List the regimes with how many rows each holds, and how many were read."""
    lines = ["| regime | jurisdiction | rows | read | from memory | policy |", "|" + " --- |" * 6]
    for one in regimes:
        found = [row.verified for row in _rows(one)]
        counts = " | ".join(str(found.count(how)) for how in ("read", "memory", "policy"))
        name = f"[{one.title}]({one.id}.md)"
        lines.append(f"| {name} | {one.jurisdiction} | {len(found)} | {counts} |")
    return "\n".join(lines)


def _rows(regime: Regime) -> list[Row]:
    """Give all rows of a regime."""
    tables = (getattr(regime, name) for name in Regime.model_fields)
    return [row for table in tables if isinstance(table, tuple) for row in table if _is_row(row)]


def _is_row(value: object) -> bool:
    return isinstance(value, Row)


def _matrix(regimes: Sequence[Regime], head: str, answers: Callable[[Regime], list[str]]) -> str:
    """Give one line for each answer of each regime that has any."""
    lines = [f"| regime | {head} |", "| --- | --- |"]
    lines += [f"| `{one.id}` | {answer} |" for one in regimes for answer in answers(one)]
    return "\n".join(lines)


def _holding(regime: Regime) -> list[str]:
    return [
        f"{', '.join(r.categories)}: {say.length(r)}, {say.clock(r)}; {say.circumstances(r)} "
        f"({say.verified(r)})"
        for r in regime.holding
        if r.until is None
    ]


def _colours(regimes: Sequence[Regime]) -> str:
    """Give, for each colour, what each regime that has colours puts under it."""
    shown = [one for one in regimes if one.category]
    lines = ["| colour | " + " | ".join(f"`{one.id}`" for one in shown) + " |"]
    lines.append("|" + " --- |" * (len(shown) + 1))
    for colour in _COLOURS:
        cells = [
            "; ".join(
                c.name
                for c in one.category
                if c.until is None and c.colour.replace(",", " ").split()[0] == colour
            )
            for one in shown
        ]
        lines.append(f"| {colour} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _cytotoxics(regime: Regime) -> list[str]:
    """Give the routes of the categories that bear the cytotoxic symbol."""
    ids = [c.id for c in regime.category if c.symbol is Symbol.CYTOTOXIC and c.until is None]
    return [
        say.route(r.stages) for r in regime.route if r.until is None and any(map(r.covers, ids))
    ]


def _returns(regime: Regime) -> list[str]:
    return [f"{r.title}: {say.due(r)}" for r in regime.returns if r.until is None]


def _records(regime: Regime) -> list[str]:
    return [f"{r.who}: {say.kept(r)}" for r in regime.retention if r.until is None]
