"""The annex: every container on one line with a box to tick, in the order of ``containers.csv``."""

from collections.abc import Iterator

from service.manifests.figures import QuarterFigures
from service.manifests.grid import Cell, Col, Tick, grid
from service.manifests.lines import ContainerLine
from service.manifests.paper import Paper
from service.manifests.printed import CAREFUL, chip, container, kg, moment

_SIZE = 6.2
_YEAR = len("2026-")
_COLS = [
    Col("", 4), Col("line", 8, "right"), Col("container", 21), Col("category", 17),
    Col("unit", 26), Col("kg", 11, "right"), Col("sealed", 19), Col("", 3), Col("2×", 4),
    Col("collected", 13), Col("stored", 13), Col("dispatched", 13), Col("consignment", 16),
    Col("received", 13), Col("recd kg", 11, "right"), Col("treated: step, cycle", 36),
    Col("disposed", 13), Col("outlet", 14), Col("receipt", 15), Col("V", 7),
]  # fmt: skip


def annex(paper: Paper, f: QuarterFigures) -> None:
    """Write a line for each container that was held at any time in the quarter."""
    paper.page(wide=True)
    paper.heading(f"Annex  Containers: {len(f.lines)}", 13)
    paper.paragraph(
        "By category, then time of sealing; line numbers are those of containers.csv. "
        "< sealed before the quarter, not counted as made in it. "
        "2×: double-bagged. Later times without the year. V: numbers of the rules not kept (9).",
        7,
    )
    paper.paragraph(CAREFUL, 7)
    if len(f.lines):
        grid(paper, _COLS, _rows(f), _SIZE)
    else:
        paper.paragraph("None.")


def _rows(f: QuarterFigures) -> Iterator[tuple[Cell, ...]]:
    numbers = {c.code.value: str(c.number) for c in f.counts}
    for number, x in enumerate(f.lines, 1):
        yield _row(f, number, x, " ".join(sorted((numbers[c] for c in x.codes), key=int)))


def _row(f: QuarterFigures, number: int, x: ContainerLine, codes: str) -> tuple[Cell, ...]:
    zone = f.site.zone
    return (
        Tick(),
        str(number),
        container(x.container),
        chip(x.stream),
        f.name(x.unit),
        kg(x.grams),
        moment(x.sealed_at, zone),
        "" if x.generated or not x.sealed_at else "<",
        "2×" if x.double_bagged_at else "",
        moment(x.collected_at, zone)[_YEAR:],
        moment(x.stored_at, zone)[_YEAR:],
        moment(x.dispatched_at, zone)[_YEAR:],
        " ".join(x.consignments),
        moment(x.received_at, zone)[_YEAR:],
        kg(x.received_g),
        ", ".join(f"{t.step} {t.cycle}" for t in x.treatments),
        moment(x.disposed_at, zone)[_YEAR:],
        x.outlet.replace("_", " ") if x.outlet else "",
        x.receipt,
        codes,
    )
