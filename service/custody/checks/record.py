"""The record itself: labels that are not ours, weights that disagree, late entries, wrong items."""

from datetime import timedelta

from service.custody.balance import comparisons
from service.custody.events import Disposed, Inspected, Labelled, Notified, Treated
from service.custody.verdict import Case, Code, Violations


def not_genuine(case: Case) -> Violations:
    """A presented code failed its check character or its keyed tag."""
    for h in case.happened:
        if case.history.container in h.entry.false_codes:
            yield case.violation(
                Code.LABEL_NOT_GENUINE,
                h.at,
                "the code that was scanned was not issued here: its check character or tag fails",
                h,
                closed_at=case.closing(h.at),
            )


def weight_mismatch(case: Case) -> Violations:
    """Two weighings differ by more than both scales may err."""
    if case.day is None:
        return
    factor = case.rules.in_service_factor(case.day)
    if factor is None:
        return
    for pair in comparisons(case.history, case.rules.site, factor[0]):
        if pair.disagree:
            h = pair.later.happened
            explained_g = f"{pair.tolerance_g.normalize():f}"
            yield case.violation(
                Code.WEIGHT_MISMATCH,
                h.at,
                f"{pair.later.weight_g} g after {pair.earlier.weight_g} g"
                + (f" and {pair.later.tare_g} g of outer bag" if pair.later.tare_g else "")
                + f": {pair.difference_g:+d} g, scale error explains {explained_g} g",
                pair.earlier.happened,
                h,
                closed_at=case.closing(h.at),
                clause=case.rules.cite(factor[1]),
            )


def wrong_item(case: Case) -> Violations:
    """An inspection found what does not belong in the category."""
    for h in case.of(Inspected):
        if isinstance(h.event, Inspected) and h.event.wrong_items:
            cleared = next(
                (
                    later.at
                    for later in case.happened
                    if later.order > h.order
                    and (
                        isinstance(later.event, (Treated, Disposed))
                        or (isinstance(later.event, Inspected) and not later.event.wrong_items)
                    )
                ),
                None,
            )
            yield case.violation(
                Code.SEGREGATION_WRONG_ITEM,
                h.at,
                f"inspection found {', '.join(h.event.wrong_items)}",
                h,
                closed_at=cleared,
            )


def recorded_late(case: Case) -> Violations:
    """An event was recorded later than the text or the house rule allows."""
    soon = case.rules.recorded_soon
    for h in case.happened:
        entry = h.entry
        if entry.recorded_at - h.at <= soon or isinstance(h.event, (Labelled, Notified)):
            continue
        if entry.event.id != h.event.id:  # only the amendment has arrived, not what it corrects
            continue
        name = "import_within" if entry.origin is not None else "record_within"
        rule = case.rules.hours(name, h.event.kind, case.rules.site.local_day(h.at))
        if rule is not None and entry.recorded_at - h.at > timedelta(hours=rule[0]):
            delay_h = (entry.recorded_at - h.at).total_seconds() / 3600
            yield case.violation(
                Code.RECORD_LATE,
                entry.recorded_at,
                f"{h.event.kind.replace('_', ' ')} was recorded {delay_h:.0f} h after it "
                f"happened; {rule[0]} h are allowed",
                h,
                closed_at=entry.recorded_at,
                clause=case.rules.cite(rule[1]),
            )
