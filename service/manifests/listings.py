"""Every section of the manifest as rows under named columns: the one shape of CSV, XLSX and PDF.

Nothing is added up here; totals come from the figures.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from service.custody.proof import Proof
from service.manifests.figures import QuarterFigures
from service.manifests.kept import Rows
from service.manifests.lines import Stream
from service.manifests.tally import Amount

Cell = str | int | bool | date | datetime | Stream | None
Row = tuple[Cell, ...]
Kind = Literal["text", "number", "grams", "time", "day", "yes", "stream"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name in files, what people read above it, and what its cells are.

    ``grams`` are whole grams in files and kilograms with three places on paper; ``time`` is an
    instant.
    """

    name: str
    title: str
    kind: Kind = "text"


@dataclass(frozen=True, slots=True)
class Listing:
    """One section: rows of cells under columns; long ones are left out of the workbook."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: Rows[Row]
    in_workbook: bool = True


class _Each:
    """Rows of a kind of which there may be many: made anew whenever they are read."""

    def __init__(self, of: Rows[Any], rows: Callable[[], Iterable[Row]]) -> None:
        self._of, self._rows = of, rows

    def __len__(self) -> int:
        return len(self._of)

    def __iter__(self) -> Iterator[Row]:
        return iter(self._rows())


def _of(
    name: str, title: str, columns: str, rows: Iterable[Row] | _Each, in_workbook: bool = True
) -> Listing:
    """Make a listing; each column is written ``name:kind``, its title is the name in words."""
    named = tuple(_column(written) for written in columns.split())
    held = rows if isinstance(rows, _Each) else list(rows)
    return Listing(name, title, named, held, in_workbook)


def _column(written: str) -> Column:
    name, _, kind = written.partition(":")
    return Column(name, name.replace("_", " "), kind or "text")  # type: ignore[arg-type]


def words(name: str) -> str:
    """Write a closed word of the trade as people read it."""
    return name.replace("_", " ")


_AMOUNT = "containers:number weight_g:grams not_weighed:number"


def _amount(a: Amount) -> Row:
    return a.containers, a.grams, a.unweighed


def summary(f: QuarterFigures) -> Listing:
    """Who, when, and the totals, one a row."""
    b = f.balance
    totals: list[tuple[str, Amount]] = [
        ("held at the start", b.held_before),
        ("sealed in the quarter", b.sealed),
        ("came without a registration", b.unregistered),
        ("disposed of in the quarter", b.disposed),
        ("held at the end", b.held_after),
    ]
    about: list[tuple[str, str]] = [
        ("site", f.site.name),
        ("quarter", str(f.quarter)),
        ("finished", "yes" if f.finished else "no"),
        ("time zone", f.site.time_zone),
        ("first day", f.quarter.first_day.isoformat()),
        ("last day", f.quarter.last_day.isoformat()),
        ("regime", f"{f.regime.title} ({f.regime.id})"),
        ("status of the regime's values", " ".join(f.regime.status.split())),
    ]
    rows: list[Row] = [(item, said, None, None, None) for item, said in about]
    rows += [(item, "", *_amount(a)) for item, a in totals]
    return _of("summary", "Summary", f"item said {_AMOUNT}", rows)


def by_category(f: QuarterFigures) -> Listing:
    """What was sealed in the quarter, by category."""
    rows = ((s, *_amount(a)) for s, a in f.by_category.items())
    return _of("by-category", "Sealed, by category", f"category:stream {_AMOUNT}", rows)


def by_unit(f: QuarterFigures) -> Listing:
    """What was sealed in the quarter, by unit."""
    rows = ((u, f.name(u), *_amount(a)) for u, a in f.by_unit.items())
    return _of("by-unit", "Sealed, by unit", f"unit unit_name {_AMOUNT}", rows)


def by_category_and_unit(f: QuarterFigures) -> Listing:
    """What was sealed in the quarter, by category and unit."""
    rows = ((s, u, f.name(u), *_amount(a)) for (s, u), a in f.by_category_and_unit.items())
    columns = f"category:stream unit unit_name {_AMOUNT}"
    return _of("by-category-and-unit", "Sealed, by category and unit", columns, rows)


def routes(f: QuarterFigures) -> Listing:
    """What was disposed of in the quarter, by category, steps taken and outlet."""
    rows = ((s, r, o.value, *_amount(a)) for (s, r, o), a in f.routes.items())
    columns = f"category:stream steps outlet {_AMOUNT}"
    return _of("routes", "Disposed of, by route taken", columns, rows)


def steps(f: QuarterFigures) -> Listing:
    """Treatments in the quarter by step."""
    rows = ((s.value, n, *_amount(a)) for s, (a, n) in f.steps.items())
    return _of("steps", "Treatments, by step", f"step cycles:number {_AMOUNT}", rows)


def acts(f: QuarterFigures) -> Listing:
    """How often each kind of act reached a container in the quarter."""
    return _of("acts", "Acts in the quarter", "act times:number", f.acts.items())


def consignments(f: QuarterFigures) -> Listing:
    """Consignments that left or arrived in the quarter."""
    columns = (
        "consignment left:time left_in_quarter:yes carrier carrier_name vehicle seal consignee "
        "consignee_name received_by received:time received_in_quarter:yes containers_sent:number "
        "containers_received:number containers_refused:number containers_missing:number "
        "sent_g:grams received_g:grams difference_g:grams missing_g:grams "
        "weighed_at_one_end_g:grams scales_explain_g:grams unexplained_g:grams "
        "unexplained_singly_g:grams"
    )
    rows: Iterable[Row] = (
        (
            c.id, c.left_at, c.left_in, c.carrier, f.name(c.carrier), c.vehicle, c.seal,
            c.consignee, f.name(c.consignee), c.received_by, c.received_at, c.received_in,
            c.sent, c.received, c.refused, c.missing, c.sent_g, c.received_g, c.difference_g,
            c.missing_g, c.one_end_g, c.tolerance_g, c.unexplained_g, c.singly_g,
        )
        for c in f.consignments
    )  # fmt: skip
    return _of("consignments", "Consignments", columns, rows)


def consigned(f: QuarterFigures) -> Listing:
    """Each container of each consignment, with both weights."""
    columns = (
        "consignment container left:time outcome received_by received:time sent_g:grams "
        "received_g:grams difference_g:grams scales_explain_g:grams"
    )
    rows = _Each(f.sendings, lambda: (
        (
            s.consignment, s.container, s.left_at, s.outcome, s.received_by, s.received_at,
            s.sent_g, s.received_g,
            s.compared.difference_g if s.compared else None,
            int(s.compared.tolerance_g) if s.compared else None,
        )
        for s in f.sendings
    ))  # fmt: skip
    return _of("consigned", "Containers in consignments", columns, rows, in_workbook=False)


def treatments(f: QuarterFigures) -> Listing:
    """Each step done to each container in the quarter."""
    rows = _Each(f.treatments, lambda: (
        (t.container, t.step.value, t.at, t.party, t.cycle, t.grams) for t in f.treatments
    ))  # fmt: skip
    columns = "container step at:time party cycle weight_g:grams"
    return _of("treatments", "Treatments of containers", columns, rows, in_workbook=False)


VERDICTS = {
    "pass": "passed",
    "fail": "FAILED",
    "cannot_be_judged": "cannot be judged",
    "no_trace": "no trace",
}


def cycles(f: QuarterFigures) -> Listing:
    """The cycles of machines whose runs are on record, with what each proves and why."""
    rows = _Each(f.cycles, lambda: (
        (
            p.cycle, p.machine, p.party, p.step, p.started_at, p.ended_at, VERDICTS[p.outcome],
            p.because, p.clause, f0_of(p),
            "; ".join(f.code for f in p.findings), " ".join(p.judged),
        )
        for p in f.cycles
    ))  # fmt: skip
    columns = (
        "cycle machine party step started:time ended:time verdict because clause f0_min flagged "
        "traces_sha256"
    )
    return _of("cycles", "Cycles of machines", columns, rows)


def f0_of(proof: Proof) -> str:
    """Write the least F0 of a cycle's traces in minutes, or nothing where none has one."""
    known = [j.get("f0_min") for j in proof.judged.values()]
    found = [f0 for f0 in known if f0 is not None]
    return f"{min(found):.1f}" if found else ""


def held(f: QuarterFigures) -> Listing:
    """Containers not yet disposed of at the quarter's end, as they stood then."""
    columns = (
        "container category:stream unit unit_name weight_g:grams sealed:time state place "
        "place_name custodian custodian_name due:time"
    )
    rows = _Each(f.open, lambda: (
        (
            c.container, c.stream, c.unit, f.name(c.unit), c.grams, c.sealed_at, c.state,
            c.place, f.name(c.place), c.custodian, f.name(c.custodian), c.due_at,
        )
        for c in f.open
    ))  # fmt: skip
    return _of("open", "Open containers", columns, rows)


def violations(f: QuarterFigures) -> Listing:
    """Every violation that opened in the quarter or stood when it began."""
    numbers = {c.code: c.number for c in f.counts}
    columns = (
        "number:number code severity container category unit clause ground message "
        "opened:time brought_forward:yes closed:time closed_in_quarter:yes authority_told:yes "
        "evidence next_action"
    )
    rows = _Each(f.violations, lambda: (
        (
            numbers[v.code], v.code.value, v.severity.value, v.container, x.category, x.unit,
            v.clause, x.ground, v.message, v.opened_at, x.brought_forward, x.closed_at,
            x.closed_in, v.notified_at is not None, " ".join(map(str, v.evidence)), v.next_action,
        )
        for x in f.violations
        for v in (x.violation,)
    ))  # fmt: skip
    return _of("violations", "Violations", columns, rows)


def violation_counts(f: QuarterFigures) -> Listing:
    """Violations counted by code."""
    columns = (
        "number:number code severity brought_forward:number opened:number closed:number "
        "standing_at_end:number next_action"
    )
    rows: Iterable[Row] = (
        (
            c.number, c.code.value, c.severity.value, c.brought_forward, c.opened, c.closed,
            c.standing, c.next_action,
        )
        for c in f.counts
    )  # fmt: skip
    return _of("violation-counts", "Violations, by rule", columns, rows)


def amendments(f: QuarterFigures) -> Listing:
    """Corrections of the record."""
    rows: Iterable[Row] = (
        (a.id, a.at, a.actor, a.supersedes, a.correction, a.reason, " ".join(a.containers))
        for a in f.amendments
    )
    columns = "amendment made:time by of_event corrected_to reason containers"
    return _of("amendments", "Amendments", columns, rows)


def incidents(f: QuarterFigures) -> Listing:
    """Spills, and notices to the authority."""
    rows: Iterable[Row] = (
        (
            i.id, i.kind, i.at, i.actor, i.place, i.people_exposed, i.text, i.authority,
            i.reference, " ".join(i.containers),
        )
        for i in f.incidents
    )  # fmt: skip
    columns = (
        "event kind at:time by place people_exposed:number action_or_reason authority reference "
        "containers"
    )
    return _of("incidents", "Spills and notices", columns, rows)


def returns(f: QuarterFigures) -> Listing:
    """Returns due for the quarter or for the year that it ends."""
    rows: Iterable[Row] = (
        (r.rule.id, r.rule.title, r.period, r.due_on, r.rule.to, r.rule.clause, r.rule.verified)
        for r in f.returns
    )
    columns = "return title for_period due:day to clause verified"
    return _of("returns", "Returns due", columns, rows)


def containers(f: QuarterFigures) -> Listing:
    """One line a container, from label to pit."""
    columns = (
        "line:number container category:stream unit unit_name kind weight_g:grams sealed:time "
        "sealed_in_quarter:yes double_bagged:time collected:time stored:time store "
        "dispatched:time consignments received:time received_g:grams treatments disposed:time "
        "outlet receipt open_at_end:yes violations"
    )
    rows = _Each(f.lines, lambda: (
        (
            number, x.container, x.stream, x.unit, f.name(x.unit), x.kind, x.grams, x.sealed_at,
            x.generated, x.double_bagged_at, x.collected_at, x.stored_at, x.store,
            x.dispatched_at, "; ".join(x.consignments), x.received_at, x.received_g,
            "; ".join(f"{t.step} {t.at:%Y-%m-%dT%H:%M:%SZ} {t.cycle}" for t in x.treatments),
            x.disposed_at, x.outlet, x.receipt, x.open_at_end, " ".join(x.codes),
        )
        for number, x in enumerate(f.lines, 1)
    ))  # fmt: skip
    return _of("containers", "Containers", columns, rows)


LISTINGS: tuple[Callable[[QuarterFigures], Listing], ...] = (
    summary, by_category, by_unit, by_category_and_unit, routes, steps, acts, consignments,
    consigned, treatments, cycles, held, violation_counts, violations, amendments, incidents,
    returns, containers,
)  # fmt: skip
"""Every section, in the order of the paper."""
