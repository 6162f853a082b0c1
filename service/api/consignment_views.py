"""Consignments and what they carried, as they go out."""

from typing import Literal, Self

from service.api.views import EventOutcome, Moment, View
from service.duties.lookup import Consignment, ConsignmentTotals


class Cargo(View):
    """One container's part in a consignment; ``end`` is null while it is under way."""

    container: str
    left_at: Moment
    sent_g: int | None
    end: Literal["received", "refused"] | None
    ended_at: Moment | None
    ended_by: str | None
    received_g: int | None


class ConsignmentView(View):
    """What left together, with what became of it."""

    id: str
    carrier: str
    consignee: str
    vehicle: str | None
    seal: str | None
    left_at: Moment
    received_at: Moment | None
    seal_received: str | None
    totals: ConsignmentTotals
    containers: list[Cargo]

    @classmethod
    def of(cls, consignment: Consignment) -> Self:
        """Show a consignment; who carried it where is told by what left first."""
        first = min(consignment.cargo, key=lambda row: row.left_at)
        return cls(
            id=consignment.id,
            carrier=first.carrier,
            consignee=first.consignee,
            vehicle=first.vehicle,
            seal=first.seal,
            left_at=first.left_at,
            received_at=max((row.ended_at for row in consignment.received), default=None),
            seal_received=next(
                (row.seal_received for row in consignment.received if row.seal_received), None
            ),
            totals=consignment.totals,
            containers=[Cargo.model_validate(row) for row in consignment.cargo],
        )


class ConsignmentsPage(View):
    """Consignments by number."""

    consignments: list[ConsignmentView]
    next: str | None


class ConsignmentClosed(View):
    """The number that the consignment has, and what became of the event."""

    consignment: str
    outcome: EventOutcome
