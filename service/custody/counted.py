"""What people measure and count on site besides waste itself: pits that are covered, needles.

Neither names a container: what lies in a pit its ``disposed`` events say.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from service.custody.fields import Count, Name, Number
from service.custody.happening import Happening

Cover = Literal["soil", "lime", "concrete"]
NeedleStage = Literal["used", "cut", "ended"]


class _AboutNoContainer(Happening):
    @model_validator(mode="after")
    def _names_none(self) -> Self:
        if self.containers:
            raise ValueError("it names no container")
        return self


class PitCovered(_AboutNoContainer):
    """What lies in a pit was covered, and perhaps measured; concrete closes the pit.

    ``free_cm`` is from the surface of the ground down to the cover, by a stick or tape.
    """

    kind: Literal["pit_covered"] = "pit_covered"
    pit: Name
    cover: Cover
    layer_cm: Annotated[Number, Field(ge=0, le=1_000)] | None = None
    free_cm: Annotated[Number, Field(ge=0, le=5_000)] | None = None


class NeedlesCounted(_AboutNoContainer):
    """Needles were counted since the last count: used, cut at the hub, or ended.

    Used are those issued or registered in a unit; cut is what the cutter's counter or box says;
    ended are those that lie in a pit or in cement. ``plus_minus`` is by how much the count may be
    off either way, as who counted says.
    """

    kind: Literal["needles_counted"] = "needles_counted"
    stage: NeedleStage
    needles: Count
    plus_minus: Count = 0
    unit: Name | None = None
    source: Name
    """What was counted by, as ``hub cutter 3`` or ``syringes issued``."""

    @model_validator(mode="after")
    def _of_a_unit_until_they_leave_it(self) -> Self:
        if (self.unit is None) != (self.stage == "ended"):
            raise ValueError("used and cut needles are of a unit, and those that ended are of none")
        return self
