"""The kinds of treatment machine that leave a trace, and the step that each does."""

from enum import StrEnum

from service.custody.acts import Step


class Machine(StrEnum):
    """A kind of treatment machine."""

    GRAVITY = "gravity"
    """Autoclave that steam fills by pushing the air out at the bottom."""
    VACUUM = "vacuum"
    """Autoclave that pumps the air out first."""
    AUTOCLAVE = "autoclave"
    """Autoclave of a kind not told: judged as gravity, and the result says so."""
    HYDROCLAVE = "hydroclave"
    MICROWAVE = "microwave"
    DRY_HEAT = "dry_heat"
    INCINERATOR = "incinerator"
    INCINERATOR_1200 = "incinerator_1200"
    """Incinerator run above 1200 °C, for cytotoxics."""
    PLASMA = "plasma"
    PLASMA_1200 = "plasma_1200"

    @property
    def step(self) -> Step:
        """The step that a machine of this kind does."""
        return _STEPS[self]

    @property
    def row_kind(self) -> str:
        """The kind that a regime's rows call it by."""
        return Machine.GRAVITY if self is Machine.AUTOCLAVE else self.value

    @property
    def by_steam(self) -> bool:
        """Whether saturated steam does the work."""
        return self in _STEAM

    @property
    def burns(self) -> bool:
        """Whether it is judged by its chambers."""
        return self in _BURNS


_STEAM = {Machine.GRAVITY, Machine.VACUUM, Machine.AUTOCLAVE, Machine.HYDROCLAVE}
_BURNS = {Machine.INCINERATOR, Machine.INCINERATOR_1200, Machine.PLASMA, Machine.PLASMA_1200}
_STEPS = {
    Machine.GRAVITY: Step.AUTOCLAVE,
    Machine.VACUUM: Step.AUTOCLAVE,
    Machine.AUTOCLAVE: Step.AUTOCLAVE,
    Machine.HYDROCLAVE: Step.HYDROCLAVE,
    Machine.MICROWAVE: Step.MICROWAVE,
    Machine.DRY_HEAT: Step.DRY_HEAT,
    Machine.INCINERATOR: Step.INCINERATE,
    Machine.INCINERATOR_1200: Step.INCINERATE_1200,
    Machine.PLASMA: Step.PLASMA,
    Machine.PLASMA_1200: Step.PLASMA_1200,
}
