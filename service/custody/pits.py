"""Pits in the ground, as a facility's register of machines has them."""

from typing import Literal, Self

from pydantic import Field, model_validator

from service.custody.acts import Outlet
from service.custody.cited import Exact, Strict


class PitShape(Strict):
    """A pit in the ground: what ends in it, how large it is, and how its content lies.

    The ground water is the highest it stands in the year, below the surface of the ground.
    """

    outlet: Literal[Outlet.DEEP_BURIAL, Outlet.SHARPS_PIT, Outlet.PLACENTA_PIT]
    depth_m: Exact = Field(gt=0, le=50)
    area_m2: Exact = Field(gt=0, le=10_000)
    ground_water_m: Exact | None = Field(default=None, gt=0)
    water_source_m: Exact | None = Field(default=None, ge=0)
    """How far the nearest well or other source of water is."""
    kg_per_l: tuple[Exact, Exact]
    """Least and greatest weight of a litre as it lies there, measured on site."""

    @model_validator(mode="after")
    def _lies_between(self) -> Self:
        if not 0 < self.kg_per_l[0] <= self.kg_per_l[1]:
            raise ValueError("kg_per_l is the least and the greatest weight of a litre, above 0")
        return self
