"""Packing and sharps: filled too far, left open, single bags in transport, needles not cut."""

from decimal import Decimal

from service.custody.events import Dispatched, DoubleBagged, Registered
from service.custody.regime import PackingRule
from service.custody.verdict import Case, Code, Violations


def _rule(case: Case, name: str) -> PackingRule | None:
    if case.text is None or case.sealed is None:
        return None
    return case.text.packing_rule(name, case.sealed.container_kind)


def wrong_container(case: Case) -> Violations:
    """The waste was sealed in a kind of container that its category may not be put in."""
    sealed = case.history.registered
    if sealed is None or case.sealed is None or case.text is None or not case.text.containers:
        return
    rows = case.text.containers
    if not any(case.sealed.container_kind in row.kinds for row in rows):
        asked = " or ".join(row.description for row in rows)
        yield case.violation(
            Code.PACKING_WRONG_CONTAINER,
            sealed.at,
            f"sealed in a {case.sealed.container_kind.replace('_', ' ')}; asked for: {asked}",
            sealed,
            closed_at=case.closing(sealed.at),
            clause=case.rules.cite(rows[0]),
        )


def overfilled(case: Case) -> Violations:
    """The container was filled past the permitted fraction."""
    rule, sealed = _rule(case, "fill_max"), case.history.registered
    if rule is None or sealed is None or not isinstance(sealed.event, Registered):
        return
    fill, most = sealed.event.fill_fraction, rule.fill_fraction_max
    if fill is not None and most is not None and fill > most:
        yield case.violation(
            Code.PACKING_OVERFILLED,
            sealed.at,
            f"filled to {_percent(fill)}; at most {_percent(most)} is allowed",
            sealed,
            closed_at=case.closing(sealed.at),
            clause=case.rules.cite(rule),
        )


def left_open(case: Case) -> Violations:
    """The container was not closed at its source, or the transport container on the road."""
    rule = _rule(case, "closed")
    if rule is None:
        return
    for h in case.of(Registered, Dispatched):
        if isinstance(h.event, (Registered, Dispatched)) and not h.event.closed:
            sealing = isinstance(h.event, Registered)
            yield case.violation(
                Code.PACKING_OPEN,
                h.at,
                "not closed when it was registered"
                if sealing
                else "left in a transport container that was not closed",
                h,
                closed_at=case.closing(h.at) if sealing else case.arrived_after(h),
                clause=case.rules.cite(rule),
            )


def not_double(case: Case) -> Violations:
    """The container left in a single bag."""
    rule = _rule(case, "double_bagged")
    leaving = next(iter(case.of(Dispatched)), None)
    if rule is None or leaving is None:
        return
    bagged = case.first_after(None, DoubleBagged)
    if bagged is None or bagged > leaving.at:
        yield case.violation(
            Code.PACKING_NOT_DOUBLE,
            leaving.at,
            "left the site without an outer bag",
            leaving,
            closed_at=case.arrived_after(leaving),
            clause=case.rules.cite(rule),
        )


def hub_uncut(case: Case) -> Violations:
    """Needles were registered without the hub cut at the source."""
    rule, sealed = _rule(case, "hub_cut"), case.history.registered
    if rule is None or sealed is None or not isinstance(sealed.event, Registered):
        return
    if sealed.event.hub_cut is not True:
        yield case.violation(
            Code.SHARPS_HUB_UNCUT,
            sealed.at,
            "needles were sealed in without the hub cut at the source",
            sealed,
            closed_at=case.closing(sealed.at),
            clause=case.rules.cite(rule),
        )


def _percent(fraction: Decimal) -> str:
    """Write a fraction without rounding it to the limit that it passed."""
    return f"{(fraction * 100).normalize():f} %"
