"""The manifest on A4: a first page that says it all, then what an inspector can tick off."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from io import BytesIO
from itertools import chain, groupby
from typing import BinaryIO

from service.custody.verdict import Code
from service.custody.words import Severity
from service.manifests.annex import annex
from service.manifests.cover import cover
from service.manifests.cycled import cycles
from service.manifests.figures import QuarterFigures
from service.manifests.flagged import GROUND, CodeCount, Flagged
from service.manifests.grid import Cell, Col, Tick, grid
from service.manifests.kept import Pile
from service.manifests.lines import Stream
from service.manifests.paper import Paper
from service.manifests.printed import CAREFUL, amounts, chip, container, kg, moment, short, yes
from service.manifests.tally import Amount

_AMOUNT = [
    Col("containers", 22, "right"), Col("kg", 26, "right"), Col("not weighed", 22, "right")
]  # fmt: skip
_STREAMS_ACROSS = 8


def pdf(figures: QuarterFigures) -> bytes:
    """Give the manifest as a PDF, see ``write_pdf``."""
    out = BytesIO()
    write_pdf(figures, out)
    return out.getvalue()


def write_pdf(figures: QuarterFigures, out: BinaryIO) -> None:
    """Write the manifest as a PDF; the same figures give the same bytes."""
    f = figures
    state = "" if f.finished else ", NOT FINISHED"
    paper = Paper(
        f"Waste manifest {f.quarter}, {f.site.name}",
        (f.site.name, f"Waste manifest {f.quarter}{state}"),
        f"Times in {f.site.time_zone}. Reckoned at {moment(f.now, f.site.zone)}. "
        "Local codes prevail.",
    )
    cover(paper, f)
    for section in (_sealed, _disposed, _consignments, cycles, _open, _violations, _notes, annex):
        section(paper, f)
    paper.finish(out)


def _table(paper: Paper, cols: Sequence[Col], rows: Iterable[Sequence[Cell]], size: float) -> None:
    """Draw a table, or say that there is nothing for it."""
    rows = iter(rows)
    if (first := next(rows, None)) is not None:
        grid(paper, cols, chain((first,), rows), size)
    else:
        paper.paragraph("None.")


def _total(rows: list[tuple[Cell, ...]], total: Amount, before: int) -> list[tuple[Cell, ...]]:
    blank = ("",) * (before - 1)
    return [*rows, ("total", *blank, *amounts(total))] if rows else rows


def _sealed(paper: Paper, f: QuarterFigures) -> None:
    paper.page()
    paper.heading("1  Sealed in the quarter, by category", 13)
    rows: list[tuple[Cell, ...]] = [
        (chip(s), s.name, s.colour, *amounts(a)) for s, a in f.by_category.items()
    ]
    cols = [Col("category", 30), Col("name", 60, wrap=True), Col("colour", 30, wrap=True)]
    _table(paper, [*cols, *_AMOUNT], _total(rows, f.made, 3), 8)
    paper.heading("2  Sealed in the quarter, by unit", 13)
    rows = [(f.name(u), u, *amounts(a)) for u, a in f.by_unit.items()]
    _table(paper, [Col("unit", 80), Col("id", 40), *_AMOUNT], _total(rows, f.made, 2), 8)
    paper.page(wide=True)
    paper.heading("3  Sealed in the quarter, by category and unit: kg (containers)", 13)
    streams = list(f.by_category)
    if not streams:
        paper.paragraph("None.")
    for start in range(0, len(streams), _STREAMS_ACROSS):
        _cross(paper, f, streams[start : start + _STREAMS_ACROSS])


def _cross(paper: Paper, f: QuarterFigures, streams: Sequence[Stream]) -> None:
    """Draw units down, some categories across."""
    cols = [Col("unit", 52)]
    cols += [Col(f"{s.mark}: {s.id}", 27, "right") for s in streams]
    rows = [
        (f.name(unit), *(_both(f.by_category_and_unit.get((s, unit))) for s in streams))
        for unit in f.by_unit
    ]
    grid(paper, cols, [*rows, ("total", *(_both(f.by_category[s]) for s in streams))], 7.5)


def _both(a: Amount | None) -> str:
    return f"{kg(a.grams)} ({a.containers})" if a else ""


def _disposed(paper: Paper, f: QuarterFigures) -> None:
    paper.page()
    paper.heading("4  Disposed of in the quarter, by route taken", 13)
    rows: list[tuple[Cell, ...]] = [
        (chip(s), steps.replace("_", " "), outlet.replace("_", " "), *amounts(a))
        for (s, steps, outlet), a in f.routes.items()
    ]
    cols = [Col("category", 32), Col("steps done, in order", 52, wrap=True), Col("outlet", 36)]
    _table(paper, [*cols, *_AMOUNT], _total(rows, f.balance.disposed, 3), 8)
    paper.heading("5  Treatments in the quarter, by step", 13)
    rows = [(s.replace("_", " "), str(n), *amounts(a)) for s, (a, n) in f.steps.items()]
    _table(paper, [Col("step", 80), Col("cycles", 40, "right"), *_AMOUNT], rows, 8)
    paper.heading("6  Acts in the quarter", 13)
    rows = [(act.replace("_", " "), str(times)) for act, times in f.acts.items()]
    _table(paper, [Col("act", 80), Col("times it reached a container", 60, "right")], rows, 8)


def _consignments(paper: Paper, f: QuarterFigures) -> None:
    paper.page(wide=True)
    paper.heading("7  Consignments that left or arrived in the quarter", 13)
    zone = f.site.zone
    rows: list[tuple[Cell, ...]] = [
        (
            Tick(), c.id, moment(c.left_at, zone) + ("" if c.left_in else " *"),
            f.name(c.carrier), c.vehicle, c.seal or "no seal", f.name(c.consignee),
            moment(c.received_at, zone), str(c.sent), str(c.received), str(c.missing or ""),
            kg(c.sent_g), kg(c.received_g), kg(c.difference_g), kg(c.missing_g or None),
            kg(c.one_end_g or None), kg(c.tolerance_g), kg(c.unexplained_g or None),
        )
        for c in f.consignments
    ]  # fmt: skip
    cols = [
        Col("", 5), Col("consignment", 19, wrap=True), Col("left", 22),
        Col("carrier", 20, wrap=True),
        Col("vehicle", 14, wrap=True), Col("seal", 16, wrap=True), Col("consignee", 27, wrap=True),
        Col("last received", 21), Col("sent", 8, "right"), Col("recd", 8, "right"),
        Col("miss- ing", 8, "right"), Col("sent kg", 16, "right"), Col("recd kg", 16, "right"),
        Col("difference kg", 16, "right"), Col("missing kg", 15, "right"),
        Col("weighed at one end kg", 16, "right"), Col("scales explain ± kg", 15, "right"),
        Col("un- explained kg", 15, "right"),
    ]  # fmt: skip
    _table(paper, cols, rows, 6.5)
    paper.paragraph(
        "Difference = received – sent = – missing + weighed at one end only + what was weighed at "
        "both ends. Of the last, what both scales' errors in service cannot explain is "
        "unexplained. * left before the quarter.",
        7,
    )


def _open(paper: Paper, f: QuarterFigures) -> None:
    paper.page(wide=True)
    paper.heading(f"8  Open containers: {len(f.open)} held at the end", 13)
    zone = f.site.zone
    paper.paragraph(CAREFUL, 7.5)
    rows: Iterable[tuple[Cell, ...]] = (
        (
            Tick(), container(c.container), chip(c.stream), f.name(c.unit), kg(c.grams),
            moment(c.sealed_at, zone), c.state.replace("_", " "), f.name(c.place),
            f.name(c.custodian), moment(c.due_at, zone),
            yes(c.due_at is not None and c.due_at < min(f.end, f.now)),
        )
        for c in f.open
    )  # fmt: skip
    cols = [
        Col("", 6), Col("container", 30), Col("category", 30), Col("unit", 42),
        Col("kg", 18, "right"), Col("sealed", 27), Col("state", 22), Col("last seen at", 34),
        Col("held by", 32), Col("treat by", 26),
        Col("over", 9),
    ]  # fmt: skip
    _table(paper, cols, rows, 7.5)


def _violations(paper: Paper, f: QuarterFigures) -> None:
    paper.page(wide=True)
    paper.heading("9  Violations, by rule", 13)
    rows: list[tuple[Cell, ...]] = [
        (
            f"V{c.number}", c.code.value, c.severity.value, str(c.brought_forward), str(c.opened),
            str(c.closed), str(c.standing), c.next_action,
        )
        for c in f.counts
    ]  # fmt: skip
    cols = [
        Col("no.", 10), Col("rule", 45), Col("severity", 18), Col("brought forward", 20, "right"),
        Col("opened", 20, "right"), Col("closed", 20, "right"), Col("standing", 20, "right"),
        Col("what to do", 122, wrap=True),
    ]  # fmt: skip
    _table(paper, cols, rows, 8)
    place = {(c.code, c.severity): n for n, c in enumerate(f.counts)}
    by_rule: Pile[Flagged] = Pile(lambda x: _rule(x, place))
    many: Counter[tuple[int, str, str]] = Counter()
    for x in f.violations:
        by_rule.add(x)
        many[_rule(x, place)] += 1
    for rule, group in groupby(by_rule, key=lambda x: _rule(x, place)):
        n, clause, ground = rule
        _of_clause(paper, f, f.counts[n], f"{clause}; {ground}", many[rule], group)


def _rule(x: Flagged, place: Mapping[tuple[Code, Severity], int]) -> tuple[int, str, str]:
    """What a violation is listed under: its count, its clause, and how that was checked."""
    return place[x.violation.code, x.violation.severity], x.violation.clause, x.ground


def _of_clause(
    paper: Paper,
    f: QuarterFigures,
    count: CodeCount,
    clause: str,
    many: int,
    group: Iterable[Flagged],
) -> None:
    """Write one rule's violations under one clause, one line each."""
    zone = f.site.zone
    paper.heading(f"V{count.number}  {count.code}, {count.severity}: {many}")
    paper.paragraph(f"Clause: {clause}.", 7.5)
    rows = (
        (
            Tick(), container(v.container), x.category, f.name(x.unit),
            moment(v.opened_at, zone) + (" *" if x.brought_forward else ""),
            moment(x.closed_at, zone) or "stands", yes(v.notified_at is not None), v.message,
            " ".join(map(short, v.evidence)),
        )
        for x in group
        for v in (x.violation,)
    )  # fmt: skip
    cols = [
        Col("", 5), Col("container", 29), Col("category", 22), Col("unit", 30),
        Col("opened", 27), Col("closed", 24), Col("told", 8), Col("what was found", 92, wrap=True),
        Col("events that show it", 40, wrap=True),
    ]  # fmt: skip
    grid(paper, cols, rows, 7)


def _notes(paper: Paper, f: QuarterFigures) -> None:
    paper.page(wide=True)
    zone = f.site.zone
    paper.heading("10  Amendments of the record", 13)
    rows: list[tuple[Cell, ...]] = [
        (
            moment(a.at, zone), a.actor, short(a.supersedes), a.correction.replace("_", " "),
            a.reason, ", ".join(map(container, a.containers)), short(a.id),
        )
        for a in f.amendments
    ]  # fmt: skip
    cols = [
        Col("made", 28), Col("by", 30), Col("of event", 20), Col("corrected to", 28),
        Col("reason", 90, wrap=True), Col("containers", 59, wrap=True), Col("amendment", 20),
    ]  # fmt: skip
    _table(paper, cols, rows, 7.5)
    paper.heading("11  Spills and notices", 13)
    rows = [
        (
            moment(i.at, zone), i.kind, i.actor, f.name(i.place),
            "" if i.people_exposed is None else str(i.people_exposed), i.text,
            " ".join(filter(None, (i.authority, i.reference))),
            ", ".join(map(container, i.containers)), short(i.id),
        )
        for i in f.incidents
    ]  # fmt: skip
    cols = [
        Col("at", 28), Col("what", 24), Col("by", 26), Col("place", 26),
        Col("people exposed", 16, "right"), Col("action taken, or reason", 62, wrap=True),
        Col("authority, reference", 36, wrap=True), Col("containers", 40, wrap=True),
        Col("event", 18),
    ]  # fmt: skip
    _table(paper, cols, rows, 7.5)
    paper.heading("12  Texts that the rules applied rest on", 13)
    rows = [(s.title, GROUND[s.verified], s.note) for s in f.regime.source.values()]
    cols = [Col("text", 115, wrap=True), Col("how it was checked", 52), Col("note", 108, wrap=True)]
    _table(paper, cols, rows, 7.5)
