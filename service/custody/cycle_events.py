"""Events of machines and their cycles; what was in a cycle is told by its ``treated`` events."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from service.custody.acts import Step
from service.custody.fields import Count, Grams, Instant, Name, Number, Truth
from service.custody.happening import Happening

Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Litres = Annotated[Number, Field(ge=0, le=100_000)]


class _AboutNoContainer(Happening):
    @model_validator(mode="after")
    def _names_none(self) -> Self:
        if self.containers:
            raise ValueError("it names no container: what was in a cycle its 'treated' events say")
        return self


class CycleRun(_AboutNoContainer):
    """A machine ran a cycle; it happened when the cycle ended.

    ``operator`` is who ran it, where that is not who says so.
    """

    kind: Literal["cycle_run"] = "cycle_run"
    cycle: Name
    machine: Name
    step: Step
    party: Name
    started_at: Instant
    program: Name | None = None
    operator: Name | None = None
    load_g: Grams | None = None
    load_l: Litres | None = None
    residue_g: Grams | None = None

    @model_validator(mode="after")
    def _ends_after_it_starts(self) -> Self:
        if self.started_at >= self.occurred_at:
            raise ValueError("the cycle ends before it starts: started_at is not before its end")
        return self


class TraceAttached(_AboutNoContainer):
    """A logger's file of a cycle was attached; its bytes are kept apart and known by their hash."""

    kind: Literal["trace_attached"] = "trace_attached"
    cycle: Name
    sha256: Digest
    media_type: Literal["text/csv", "application/json"]
    size_bytes: Annotated[Count, Field(ge=1)]
    columns: Annotated[tuple[Name, ...], Field(max_length=64)] = ()
    """The headers as the file has them, units among them."""


class IndicatorRead(_AboutNoContainer):
    """A chemical indicator of a cycle was read; more than one place has an event each."""

    kind: Literal["indicator_read"] = "indicator_read"
    cycle: Name
    turned: Truth
    lot: Name | None = None
    position: Name | None = None


class LoadObserved(_AboutNoContainer):
    """How a load came out of its cycle."""

    kind: Literal["load_observed"] = "load_observed"
    cycle: Name
    wet: Truth = False
    seal_broken: Truth = False


class SporeTested(_AboutNoContainer):
    """A biological indicator went through a machine; it happened when the machine ran with it."""

    kind: Literal["spore_tested"] = "spore_tested"
    machine: Name
    grew: Truth
    lot: Name | None = None
    population: Annotated[Number, Field(gt=0, le=10**12)] | None = None
    d_value_min: Annotated[Number, Field(gt=0, le=1000)] | None = None
    cycle: Name | None = None
    read_at: Instant | None = None

    @model_validator(mode="after")
    def _read_after_it_ran(self) -> Self:
        if self.read_at is not None and self.read_at < self.occurred_at:
            raise ValueError("the indicator was read before it went through the machine")
        return self


OF_CYCLE = (CycleRun, TraceAttached, IndicatorRead, LoadObserved)
"""The kinds that speak of one cycle and bear on its verdict."""
