"""The cycles of machines on paper: each with its verdict and what decided it."""

from collections.abc import Iterable

from service.manifests.figures import QuarterFigures
from service.manifests.grid import Cell, Col, grid
from service.manifests.listings import VERDICTS, f0_of, words
from service.manifests.paper import Paper
from service.manifests.printed import moment


def cycles(paper: Paper, f: QuarterFigures) -> None:
    """Print the cycles; with none there is no page."""
    if not len(f.cycles):
        return
    failed = sum(p.failed for p in f.cycles)
    paper.page(wide=True)
    paper.heading(f"7a  Cycles of machines: {len(f.cycles)} run, {failed} failed", 13)
    paper.paragraph(
        "Judged from the sensor traces by the rules of the day. A trace shows what its sensors "
        "saw: validation, calibration, the licence and local codes come first.",
        7.5,
    )
    rows: Iterable[tuple[Cell, ...]] = (
        (
            p.cycle, p.machine or "", words(p.step or ""), moment(p.started_at, f.site.zone),
            moment(p.ended_at, f.site.zone), VERDICTS[p.outcome], f0_of(p), p.because,
            ", ".join(dict.fromkeys(one.code for one in p.findings)),
        )
        for p in f.cycles
    )  # fmt: skip
    cols = [
        Col("cycle", 24, wrap=True), Col("machine", 30, wrap=True), Col("step", 19, wrap=True),
        Col("started", 25), Col("ended", 25), Col("verdict", 22), Col("F0 min", 13, "right"),
        Col("decided by", 78, wrap=True), Col("flagged", 34, wrap=True),
    ]  # fmt: skip
    grid(paper, cols, rows, 6.5)
