"""Transport: seals, time on the road, and parties without an authorisation."""

from datetime import timedelta

from service.custody.events import Dispatched, Received, Treated
from service.custody.history import Happened
from service.custody.holding import JUST_AFTER
from service.custody.verdict import Case, Code, Violations


def unsealed(case: Case) -> Violations:
    """A consignment left without a seal."""
    if case.text is None or case.sealed is None:
        return
    rule = case.text.packing_rule("sealed_transport", case.sealed.container_kind)
    if rule is None:
        return
    for h in case.of(Dispatched):
        if isinstance(h.event, Dispatched) and h.event.seal is None:
            yield case.violation(
                Code.TRANSPORT_UNSEALED,
                h.at,
                f"consignment {h.event.consignment} left without a seal",
                h,
                closed_at=case.arrived_after(h),
                clause=case.rules.cite(rule),
            )


def seal_changed(case: Case) -> Violations:
    """The seal at receipt is not the one at departure, or is broken."""
    left: Happened | None = None
    for h in case.of(Dispatched, Received):
        if isinstance(h.event, Dispatched):
            left = h
        elif isinstance(h.event, Received):
            sent = left.event.seal if left and isinstance(left.event, Dispatched) else None
            got = h.event.seal
            changed = sent is not None and got is not None and sent != got
            if changed or h.event.seal_intact is False:
                what = f"seal {got} instead of {sent}" if changed else f"seal {sent or '?'} broken"
                yield case.violation(
                    Code.TRANSPORT_SEAL_CHANGED,
                    h.at,
                    f"received with {what}",
                    *([left] if left else []),
                    h,
                    closed_at=case.closing(h.at),
                )
            left = None


def overdue(case: Case) -> Violations:
    """A consignment is longer on the road than it may be."""
    for h in case.of(Dispatched):
        rule = case.rules.hours("transit_max", "dispatched", case.rules.site.local_day(h.at))
        if rule is None:
            continue
        hours, row = rule
        arrived = case.arrived_after(h)
        late_from = h.at + timedelta(hours=hours) + JUST_AFTER
        if arrived is None or arrived >= late_from:
            yield case.violation(
                Code.CUSTODY_OVERDUE,
                late_from,
                f"on the road since {case.rules.local(h.at)}, more than {hours} h",
                h,
                closed_at=arrived,
                clause=case.rules.cite(row),
            )


def not_authorised(case: Case) -> Violations:
    """A carrier or plant had no valid authorisation for the category on the day."""
    named: set[str] = set()
    for h in case.of(Dispatched, Treated):
        event = h.event
        if isinstance(event, Dispatched):
            named = set()
            asked = [(event.carrier, "carry"), (event.consignee, "treat")]
            closed_at = case.arrived_after(h)
        elif isinstance(event, Treated) and _is_outside(case, event.party):
            asked = [(event.party, "treat")]
            closed_at = case.closing(h.at)
        else:
            continue
        for party_id, activity in asked:
            if party_id in named or _may(case, party_id, activity, h):
                continue
            named.add(party_id)
            yield case.violation(
                Code.PARTY_NOT_AUTHORISED,
                h.at,
                f"{_name(case, party_id)} had no valid authorisation to {activity} "
                f"{case.sealed.category if case.sealed else 'waste'} on "
                f"{case.rules.site.local_day(h.at)}",
                h,
                closed_at=closed_at,
            )


def _is_outside(case: Case, party_id: str) -> bool:
    """Whether the party needs an authorisation: a handler team of the site does not."""
    party = case.rules.site.parties.get(party_id)
    return party_id not in case.rules.site.units and (party is None or party.kind != "handler")


def _may(case: Case, party_id: str, activity: str, h: Happened) -> bool:
    category = case.sealed.category if case.sealed else ""
    allowed = case.rules.may(party_id, activity, category, case.rules.site.local_day(h.at))
    return bool(allowed) or (allowed is False and case.sealed is None)


def _name(case: Case, party_id: str) -> str:
    party = case.rules.site.parties.get(party_id)
    return party.name if party else f"{party_id} (not in the set-up)"
