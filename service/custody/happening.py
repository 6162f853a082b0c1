"""What every event says, whatever its kind."""

from uuid import UUID

from pydantic import BaseModel, ConfigDict

from service.custody.fields import Containers, Instant, Name, Text


class Happening(BaseModel):
    """What every event says: which containers, when, who, where."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: UUID
    containers: Containers = ()
    occurred_at: Instant
    actor: Name
    device: Name | None = None
    place: Name | None = None
    note: Text = ""

    def named(self) -> tuple[str, ...]:
        """Give every container the event names, a parent or outer container among them."""
        return self.containers
