"""What one label says, as a value: either a filled label or a blank pre-numbered one.

It holds words already made up for people (local time, weight with unit) and draws nothing.
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from labels.payload import ALPHABET, ID_CHARACTERS, check


class Pattern(StrEnum):
    """Patterns drawn in black beside the colour, so that a label without colour says it too."""

    PLAIN = "plain"
    DIAGONAL = "diagonal"
    DOTS = "dots"
    BARS = "bars"
    CROSS = "cross"
    GRID = "grid"
    WAVES = "waves"
    CHEVRONS = "chevrons"


class Hazard(StrEnum):
    """The hazard symbol a regime asks for on the label."""

    BIOHAZARD = "biohazard"
    CYTOTOXIC = "cytotoxic"
    RADIATION = "radiation"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """The words and marks of one label; what is left empty is printed as a box to write in.

    `sealed_at_local` and `weight_kg` are texts already formatted for people. `regime_lines` are
    the regime's own label contents. A ValueError names the first field that cannot be printed.
    """

    container_id: str
    payload: str
    category_name: str = ""
    colour_name: str = ""
    colour_hex: str = ""
    mark: str = ""
    pattern: str = Pattern.PLAIN
    unit_name: str = ""
    sealed_at_local: str = ""
    weight_kg: str = ""
    symbol: str = Hazard.NONE
    regime_lines: tuple[str, ...] = ()
    cautions: str = ""
    facility_name: str = ""

    def __post_init__(self) -> None:
        if not re.fullmatch(f"[{ALPHABET}]{{{ID_CHARACTERS}}}", self.container_id):
            raise ValueError(
                f"{self.container_id!r} is not a container id of {ID_CHARACTERS} characters."
            )
        check(self.payload)
        _one_of(self.pattern, Pattern, "pattern")
        _one_of(self.symbol, Hazard, "symbol")
        if self.colour_hex and not re.fullmatch("#[0-9A-Fa-f]{6}", self.colour_hex):
            raise ValueError(f"The colour {self.colour_hex!r} is not written as #RRGGBB.")
        if len(self.mark) > 1:
            raise ValueError(f"The mark {self.mark!r} must be a single letter.")


def _one_of(value: str, closed: type[Pattern] | type[Hazard], what: str) -> None:
    known = [member.value for member in closed]
    if value not in known:
        raise ValueError(f"Unknown {what} {value!r}; it must be one of {', '.join(known)}.")
