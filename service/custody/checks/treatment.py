"""Proof of treatment: cycles that failed, that nothing shows yet, or that should not have been."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from uuid import UUID

from service.custody.acts import is_treating
from service.custody.events import Dispatched, Disposed, Treated
from service.custody.history import Happened
from service.custody.proof import Proof
from service.custody.verdict import Case, Code, Violation, Violations


def failed(case: Case) -> Violations:
    """A cycle failed: what was in it is untreated, until it is treated again."""
    for h, proof in _proved(case):
        if proof.failed_at is None:
            continue
        again = (
            later.at
            for later in case.of(Treated)
            if later.order > h.order
            and isinstance(later.event, Treated)
            and is_treating(later.event.step)
            and case.history.counts(later)
        )
        found = case.violation(
            Code.TREATMENT_FAILED,
            proof.failed_at,
            f"cycle {proof.cycle} failed: {proof.because}",
            closed_at=next(again, None) or case.closing(proof.failed_at),
            clause=proof.clause,
        )
        yield _shown_by(found, h, proof.evidence)


def shown(case: Case) -> Violations:
    """Evidence that is asked of a cycle came late, after the load was let go, or not at all."""
    for h, proof in _proved(case):
        if proof.failed:
            continue
        for duty in proof.duties:
            released_at = case.first_after(h, Treated, Disposed, Dispatched)
            opened_at = min(duty.due_at, released_at or duty.due_at)
            if duty.shown_at is not None and duty.shown_at <= opened_at:
                continue
            early = released_at is not None and released_at < duty.due_at
            said = f"cycle {proof.cycle}: {duty.message}" if duty.shown_at is None else (
                f"cycle {proof.cycle}: its evidence came {case.rules.local(duty.shown_at)}"
            )  # fmt: skip
            found = case.violation(
                Code(duty.code),
                opened_at,
                said + (", after the load was let go" if early else ""),
                closed_at=duty.shown_at or case.closing(opened_at),
                clause=duty.clause,
            )
            yield _shown_by(found, h, duty.evidence)


def of_the_cycle(case: Case) -> Violations:
    """Something is wrong with the cycle itself, its machine or the machine's register."""
    for h, proof in _proved(case):
        for one in proof.findings:
            found = case.violation(
                Code(one.code),
                one.opened_at,
                f"cycle {proof.cycle}: {one.message}",
                closed_at=case.closing(one.opened_at),
                clause=one.clause,
            )
            yield _shown_by(found, h, one.evidence)


def no_run(case: Case) -> Violations:
    """It is said to be treated in a cycle of which no run is on record."""
    rules = case.rules
    for h in case.of(Treated):
        event = h.event
        if not isinstance(event, Treated) or not rules.site.runs(event.party, event.step):
            continue
        proof = case.history.proofs.get(event.cycle)
        row = rules.limit("trace-within", event.step, rules.site.local_day(h.at))
        if row is None or (proof is not None and proof.run is not None):
            continue
        released_at = case.first_after(h, Treated, Disposed, Dispatched)
        due_at = h.at + timedelta(hours=int(row.value))
        opened_at = min(due_at, released_at or due_at)
        yield case.violation(
            Code.TREATMENT_UNPROVED,
            opened_at,
            f"no machine's run is on record as cycle {event.cycle}",
            h,
            closed_at=case.closing(opened_at),
            clause=rules.cite(row),
        )


def two_at_once(case: Case) -> Violations:
    """It is said to have been in two cycles at the same time."""
    ran = list(_proved(case))
    for number, (h, proof) in enumerate(ran):
        for earlier, other in ran[:number]:
            if other.cycle != proof.cycle and _overlap(proof, other):
                at = max(h.at, earlier.at)
                yield case.violation(
                    Code.CYCLE_CONFLICT,
                    at,
                    f"it is in the loads of {other.cycle} and {proof.cycle}, run at the same time",
                    earlier,
                    h,
                    closed_at=case.closing(at),
                )


def _overlap(one: Proof, other: Proof) -> bool:
    spans: list[tuple[datetime, datetime]] = [
        (p.started_at, p.ended_at) for p in (one, other) if p.started_at and p.ended_at
    ]
    return len(spans) == 2 and max(s for s, _ in spans) < min(e for _, e in spans)


def _proved(case: Case) -> Iterator[tuple[Happened, Proof]]:
    """The container's first mention in each cycle of which a run is on record."""
    seen: set[str] = set()
    for h in case.of(Treated):
        if not isinstance(h.event, Treated) or h.event.cycle in seen:
            continue
        seen.add(h.event.cycle)
        proof = case.history.proofs.get(h.event.cycle)
        if proof is not None and proof.run is not None:
            yield h, proof


def _shown_by(violation: Violation, h: Happened, evidence: tuple[UUID, ...]) -> Violation:
    return violation._replace(evidence=tuple(dict.fromkeys((h.event.id, *evidence))))
