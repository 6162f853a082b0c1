"""Writes the regimes as Markdown pages; ``python -m service.regimes.page`` puts them in ``docs``.

The pages say only what the files say: a test keeps the two in step.
"""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from service.custody.regime import Regime, Row
from service.regimes import wording as say
from service.regimes.comparison import index
from service.regimes.load import BUNDLED, available, load

DOCS = Path(__file__).parents[2] / "docs" / "regimes"

Cells = Callable[[Any], tuple[str, ...]]


def _which(row: Any) -> str:
    """Give the categories of a row."""
    return "all" if "*" in row.categories else ", ".join(row.categories)


SECTIONS: tuple[tuple[str, str, tuple[str, ...], Cells], ...] = (
    (
        "Categories",
        "category",
        ("id", "category", "colour", "mark", "symbol", "goes in", "never", "codes"),
        lambda r: (
            f"`{r.id}`",
            r.name,
            r.colour,
            f"{r.mark}, {r.pattern}",
            r.symbol.value,
            "; ".join(r.goes_in),
            "; ".join(r.never_in),
            "; ".join((*r.codes, *([r.un_number] if r.un_number else []))),
        ),
    ),
    (
        "Cautions by category",
        "category",
        ("id", "caution"),
        lambda r: (f"`{r.id}`", r.cautions),
    ),
    (
        "Containers",
        "container",
        ("categories", "kinds", "in the words of the text"),
        lambda r: (_which(r), say.listed(r.kinds), r.description),
    ),
    (
        "Holding limits",
        "holding",
        ("categories", "limit", "clock", "where it holds"),
        lambda r: (_which(r), say.length(r), say.clock(r), say.circumstances(r)),
    ),
    (
        "Notice of an overrun",
        "notice",
        ("categories", "effect"),
        lambda r: (_which(r), say.plain(r.effect)),
    ),
    ("Stores", "store_band", ("temperatures",), lambda r: (say.band(r),)),
    (
        "Routes",
        "route",
        ("categories", "route", "only where the site has"),
        lambda r: (_which(r), say.route(r.stages), say.listed(r.only_where)),
    ),
    (
        "Denied",
        "denied",
        ("categories", "denied", "reason", "weight"),
        lambda r: (_which(r), say.denial(r), r.reason, r.severity),
    ),
    (
        "Packing",
        "packing",
        ("categories", "rule"),
        lambda r: (_which(r), say.packing(r)),
    ),
    (
        "Times",
        "time",
        ("rule", "events", "hours"),
        lambda r: (say.plain(r.rule), say.listed(r.kinds) or "all", str(r.hours)),
    ),
    ("Weights", "weight", ("rule",), lambda r: (say.weight(r),)),
    (
        "Windows of treatment",
        "window",
        ("step", "machine or chamber", "all together"),
        lambda r: (say.plain(r.step), say.plain(r.machine), say.window(r)),
    ),
    (
        "Mixes",
        "mix",
        ("step", "parts by weight"),
        lambda r: (say.plain(r.step), ", ".join(f"{k} {v}" for k, v in r.parts.items())),
    ),
    (
        "Limits",
        "limit",
        ("what", "limit", "on what basis"),
        lambda r: (r.subject, say.bounded(r.bound, r.value, r.unit), r.basis),
    ),
    (
        "Returns",
        "returns",
        ("return", "due", "to"),
        lambda r: (r.title, say.due(r), r.to),
    ),
    (
        "What the categories are made of",
        "material",
        ("categories", "material"),
        lambda r: (_which(r), r.material),
    ),
    (
        "What a step takes from the weight",
        "loss",
        ("step", "share"),
        lambda r: (r.step.value, f"{r.share_min} to {r.share_max}"),
    ),
    ("Records kept", "retention", ("who and what", "for"), lambda r: (r.who, say.kept(r))),
    (
        "Labels",
        "label",
        ("categories", "what is on it"),
        lambda r: (_which(r), "; ".join(r.lines)),
    ),
    ("Papers", "paper", ("paper", "what is on it"), lambda r: (r.paper, "; ".join(r.lines))),
    (
        "Cautions",
        "caution",
        ("categories", "caution", "weight"),
        lambda r: (_which(r), r.text.strip(), r.severity),
    ),
)


def page(regime: Regime) -> str:
    """Give the regime as one Markdown page, every row with clause, days and how it was verified."""
    parts = [
        "<!-- Written by python -m service.regimes.page from the regime's file. -->",
        f"# {regime.title}",
        f"`{regime.id}` · {regime.jurisdiction}",
        f"> {regime.status.strip()}",
        *_adds_to(regime),
        *_site_facts(regime),
        *_sections(regime),
        "## Sources",
        _table(
            ("key", "text", "verified", "note"),
            [(f"`{key}`", s.title, s.verified, s.note) for key, s in regime.source.items()],
        ),
    ]
    return "\n\n".join(parts) + "\n"


def pages(directory: Path = BUNDLED) -> dict[str, str]:
    """Give every page by its file name, the index as README.md."""
    regimes = [load(directory / f"{regime_id}.toml") for regime_id in available(directory)]
    return {f"{one.id}.md": page(one) for one in regimes} | {"README.md": index(regimes)}


def write(directory: Path = DOCS) -> None:
    """Write every page, and remove those of regimes that are no more."""
    directory.mkdir(parents=True, exist_ok=True)
    written = pages()
    for old in directory.glob("*.md"):
        if old.name not in written:
            old.unlink()
    for name, text in written.items():
        (directory / name).write_text(text, encoding="utf-8")


def _adds_to(regime: Regime) -> Iterator[str]:
    """Name the regimes whose rows hold too."""
    if regime.adds_to:
        links = ", ".join(f"[{name}]({name}.md)" for name in regime.adds_to)
        yield f"Adds to {links}: their rows hold too, after these."


def _site_facts(regime: Regime) -> Iterator[str]:
    """Give the questions asked of a site."""
    if regime.site_facts:
        yield "## What a site declares"
        asked = [(say.plain(key), text.strip()) for key, text in regime.site_facts.items()]
        yield _table(("fact", "question"), asked)


def _sections(regime: Regime) -> Iterator[str]:
    """Give a heading and a table for each kind of row that the regime has."""
    for title, table, head, cells in SECTIONS:
        rows: tuple[Row, ...] = getattr(regime, table)
        if rows:
            yield f"## {title}"
            yield _table(
                (*head, "clause", "in force", "verified", "note"),
                [
                    (*cells(r), f"{r.clause} (`{r.source}`)", say.days(r), say.verified(r), r.note)
                    for r in rows
                ],
            )


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Give a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(map(_cell, line)) + " |" for line in lines)


def _cell(text: str) -> str:
    """Keep a text within its cell: one line, no bars, stars and brackets as they are."""
    return " ".join(text.split()).replace("|", "\\|").replace("*", "\\*")


if __name__ == "__main__":
    write()
