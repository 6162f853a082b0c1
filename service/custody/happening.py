"""What every event says, and the two shapes that most of them have."""

from typing import Self
from uuid import UUID

from pydantic import BaseModel, ConfigDict, model_validator

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


class OneOrMore(Happening):
    """An event about at least one container."""

    @model_validator(mode="after")
    def _names_a_container(self) -> Self:
        if not self.containers:
            raise ValueError("the event names no container")
        return self


class One(Happening):
    """An event about exactly one container."""

    @model_validator(mode="after")
    def _names_one_container(self) -> Self:
        if len(self.containers) != 1:
            raise ValueError("the event is about exactly one container")
        return self
