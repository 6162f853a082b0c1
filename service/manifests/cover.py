"""The manifest's first page: who, what period, key totals, returns due, what stands behind it."""

from service.custody.words import Severity
from service.manifests.figures import QuarterFigures
from service.manifests.flagged import GROUND
from service.manifests.grid import Col, grid
from service.manifests.paper import Paper
from service.manifests.printed import amounts, day, kg, moment

_AMOUNT = [
    Col("containers", 24, "right"), Col("kg", 28, "right"), Col("not weighed", 26, "right")
]  # fmt: skip

_WORDS = {
    Severity.LATE: "late: past a limit, or close to it",
    Severity.WRONG: "wrong: not as the rules say",
    Severity.UNSAFE: "unsafe: may hurt someone",
    Severity.LOST: "lost: a container is missing",
}

PREVAIL = (
    "Local codes, the site's authorisation and licensed practice prevail over this paper. It is no "
    "legal advice. A value marked “from memory” was not checked against the published text: check "
    "it before you act on it. Section 12 lists the texts."
)


def cover(paper: Paper, f: QuarterFigures) -> None:
    """Write the first page; it runs over where the site's regime has much to say."""
    paper.page()
    _who(paper, f)
    _totals(paper, f)
    _duties(paper, f)
    _ground(paper, f)
    paper.sign_off(["Prepared by", "Checked by (officer)", "Seen by (inspector)"])


def _who(paper: Paper, f: QuarterFigures) -> None:
    zone, site = f.site.zone, f.site
    paper.heading(f"Waste manifest {f.quarter}", 18)
    paper.paragraph(
        f"{day(f.quarter.first_day)} to {day(f.quarter.last_day)}, both days included, in the time "
        f"of {site.time_zone}. All times on this paper are in that time zone.",
        9.5,
    )
    if not f.finished:
        paper.banner(
            f"NOT FINISHED: the quarter ends after {day(f.quarter.last_day)}; "
            f"figures are as of {moment(f.now, zone)}."
        )
    paper.space(2)
    contact = site.contact
    rows = [
        ("Facility", site.name),
        ("Contact", f"{contact.name}, {contact.address}, telephone {contact.telephone}"),
        ("Emergency", contact.emergency),
        ("Authority", site.authority),
        ("Rules applied", f"{f.regime.title} ({f.regime.id})"),
        ("Reckoned at", f"{moment(f.now, zone)}, from the record as known then"),
    ]
    cols = [Col("", 32), Col("", 158, wrap=True)]
    grid(paper, cols, [row for row in rows if row[1]], 9)


def _totals(paper: Paper, f: QuarterFigures) -> None:
    paper.heading("Key totals")
    b = f.balance
    rows = [
        ("  held when the quarter began", *amounts(b.held_before)),
        ("+ sealed in the quarter", *amounts(b.sealed)),
        ("+ came without a registration at a source", *amounts(b.unregistered)),
        ("– disposed of in the quarter", *amounts(b.disposed)),
        (f"= held when {'the quarter' if f.finished else 'this reckoning'} ended",
         *amounts(b.held_after)),
    ]  # fmt: skip
    grid(paper, [Col("containers of waste, weight at the source", 112), *_AMOUNT], rows, 9)
    left = [c for c in f.consignments if c.left_in]
    sent, received = sum(c.sent for c in left), sum(c.received for c in left)
    missing = sum(c.missing for c in left)
    spills = [i for i in f.incidents if i.people_exposed is not None]
    facts = [
        ("consignments that left in the quarter", str(len(left))),
        ("containers in them, sent / received / missing",
         f"{sent} / {received} / {missing}"),
        ("kg in them beyond what scale error explains, each container by itself",
         kg(sum(c.singly_g for c in left))),
        ("the same, each consignment as a whole",
         kg(sum(abs(c.unexplained_g) for c in left))),
        ("spills / people exposed",
         f"{len(spills)} / {sum(i.people_exposed or 0 for i in spills)}"),
        ("amendments of the record", str(len(f.amendments))),
    ]  # fmt: skip
    grid(paper, [Col("movements and record", 150), Col("", 40, "right")], facts, 9)
    severities = [_severity(f, severity) for severity in Severity]
    columns = [Col(t, 26, "right") for t in ("brought forward", "opened", "closed", "standing")]
    grid(paper, [Col("violations", 86), *columns], severities, 9)


def _severity(f: QuarterFigures, severity: Severity) -> tuple[str, ...]:
    of = [c for c in f.counts if c.severity is severity]
    return (
        _WORDS[severity],
        str(sum(c.brought_forward for c in of)),
        str(sum(c.opened for c in of)),
        str(sum(c.closed for c in of)),
        str(sum(c.standing for c in of)),
    )


def _duties(paper: Paper, f: QuarterFigures) -> None:
    paper.heading("Returns due and records to keep")
    rows = [
        (
            f"{r.rule.title}, for {r.period}",
            day(r.due_on) if r.due_on else "the text names no day",
            r.rule.to,
            f"{r.rule.clause}; {GROUND[r.rule.verified]}",
        )
        for r in f.returns
    ]
    rows += [
        (
            f"keep the records of this quarter: {rule.who}",
            f"{day(until)} or longer",
            "",
            f"{rule.clause}; {GROUND[rule.verified]}",
        )
        for rule, until in f.keep
    ]
    if not rows:
        paper.paragraph("The rules applied name no return for this quarter; ask the authority.")
        return
    cols = [Col("what", 70, wrap=True), Col("by", 34, wrap=True), Col("to", 30, wrap=True),
            Col("clause", 56, wrap=True)]  # fmt: skip
    grid(paper, cols, rows, 8)


def _ground(paper: Paper, f: QuarterFigures) -> None:
    paper.heading("What stands behind the rules applied")
    paper.paragraph(" ".join(f.regime.status.split()))
    paper.paragraph(PREVAIL, bold=True)
