"""The closed words for what can be done to waste: treatment steps and final outlets."""

from enum import StrEnum


class Step(StrEnum):
    """One physical treatment process."""

    AUTOCLAVE = "autoclave"
    MICROWAVE = "microwave"
    HYDROCLAVE = "hydroclave"
    DRY_HEAT = "dry_heat"
    CHEMICAL = "chemical"
    """Disinfection with a non-chlorinated agent."""
    HYPOCHLORITE = "hypochlorite"
    SHRED = "shred"
    MUTILATE = "mutilate"
    INCINERATE = "incinerate"
    INCINERATE_1200 = "incinerate_1200"
    """Incineration with a recorded temperature above 1200 °C."""
    PLASMA = "plasma"
    PLASMA_1200 = "plasma_1200"
    ENCAPSULATE = "encapsulate"
    INERTISE = "inertise"
    EFFLUENT_TREATMENT = "effluent_treatment"
    RESOURCE_RECOVERY = "resource_recovery"
    DECAY_STORAGE = "decay_storage"


class Outlet(StrEnum):
    """A final place or use; after it the container exists no more."""

    RECYCLER = "recycler"
    ENERGY_RECOVERY = "energy_recovery"
    FUEL_OIL = "fuel_oil"
    ROAD_MAKING = "road_making"
    FOUNDRY = "foundry"
    LANDFILL = "landfill"
    HAZARDOUS_LANDFILL = "hazardous_landfill"
    ASH_LANDFILL = "ash_landfill"
    SHARPS_PIT = "sharps_pit"
    DEEP_BURIAL = "deep_burial"
    PLACENTA_PIT = "placenta_pit"
    CREMATION = "cremation"
    RETURN_TO_SUPPLIER = "return_to_supplier"
    MATERIAL_RECOVERY = "material_recovery"
    SEWER = "sewer"


Act = Step | Outlet

MECHANICAL = frozenset({Step.SHRED, Step.MUTILATE, Step.RESOURCE_RECOVERY})
"""Steps that change the shape of waste and leave it as infectious as it was."""


def is_treating(step: Step) -> bool:
    """Say whether the step by itself ends the time during which waste counts as untreated."""
    return step not in MECHANICAL


def act(name: str) -> Act:
    """Give the step or outlet of that name.

    Raises:
        ValueError: the name is neither.
    """
    try:
        return Step(name)
    except ValueError:
        return Outlet(name)
