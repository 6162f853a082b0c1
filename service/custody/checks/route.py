"""Treatment route: acts not listed, denied, out of order, and disposal before the route's end."""

from service.custody.acts import Act
from service.custody.events import Disposed, Treated
from service.custody.routes import Finding, Judged
from service.custody.verdict import Case, Code, Violations
from service.custody.words import Severity

_CODES = {
    Finding.FORBIDDEN: Code.ROUTE_FORBIDDEN,
    Finding.NOT_PERMITTED: Code.ROUTE_NOT_PERMITTED,
    Finding.OUT_OF_ORDER: Code.ROUTE_OUT_OF_ORDER,
    Finding.INCOMPLETE: Code.ROUTE_INCOMPLETE,
}


def route(case: Case) -> Violations:
    """An act does not fit the routes that the text gives the category."""
    if case.walk is None or case.text is None:
        return
    for judged in case.walk.judged:
        if judged.finding is Finding.PERMITTED:
            continue
        at = judged.happened.at
        yield case.violation(
            _CODES[judged.finding],
            at,
            _sentence(case, judged),
            judged.happened,
            closed_at=case.told(at, "route")
            if judged.finding is Finding.INCOMPLETE
            else case.closing(at),
            clause=_clause(case, judged),
            severity=Severity(judged.denial.severity) if judged.denial else None,
        )


def _clause(case: Case, judged: Judged) -> str:
    if judged.denial is not None:
        return case.rules.cite(judged.denial)
    assert case.text is not None
    return case.rules.cite(case.text.routes[0])


def _sentence(case: Case, judged: Judged) -> str:
    assert case.text is not None
    name = case.text.category.name
    match judged.finding:
        case Finding.FORBIDDEN:
            reason = judged.denial.reason if judged.denial else ""
            did = words(judged.act) if judged.act else "leaving the site"
            return f"{did} is denied for {name}: {reason}"
        case Finding.NOT_PERMITTED:
            return f"{words(judged.act)} is on no route listed for {name}"
        case Finding.OUT_OF_ORDER:
            return f"{words(judged.act)} came before the step that must stand ahead of it"
        case _:
            steps = [
                words(h.event.step)
                for h in case.happened
                if isinstance(h.event, Treated) and case.history.counts(h)
            ]
            done = ", ".join(steps) or "no treatment"
            last = judged.happened.event
            outlet = words(last.outlet) if isinstance(last, Disposed) else "disposal"
            return f"went to {outlet} after {done}: the route was not finished"


def words(act: Act | None) -> str:
    """Write an act as people read it."""
    return act.value.replace("_", " ") if act else ""
