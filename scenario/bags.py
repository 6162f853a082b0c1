"""A container of the simulation: what is in it, what is planned for it, what came of it."""

from dataclasses import dataclass, field

OUTER_BAG_G = 60
"""What an outer bag weighs."""

ON_SITE: dict[str, tuple[str, ...]] = {
    "yellow-f": ("resource_recovery", "chemical", "effluent_treatment"),
    "yellow-h": ("autoclave",),
}
"""Steps done by the hospital's own handlers; yellow-f never leaves."""

AT_PLANT: dict[str, tuple[str, ...]] = {
    "yellow-a": ("incinerate",),
    "yellow-b": ("incinerate",),
    "yellow-c": ("incinerate",),
    "yellow-d1": ("incinerate_1200",),
    "yellow-d2": ("incinerate",),
    "yellow-e": ("incinerate",),
    "yellow-f": (),
    "yellow-g": ("chemical", "incinerate"),
    "yellow-h": ("incinerate",),
    "red": ("autoclave", "shred"),
    "white": ("autoclave", "shred"),
    "blue-a": ("autoclave",),
    "blue-b": ("autoclave",),
}

OUTLETS: dict[str, str] = {
    "yellow-e": "hazardous_landfill",
    "yellow-f": "sewer",
    "red": "recycler",
    "white": "landfill",
    "blue-a": "recycler",
    "blue-b": "recycler",
}
"""Ash of anything else goes to the ash landfill."""

CHILLED = frozenset({"yellow-a", "yellow-b", "yellow-h"})
"""Carried by hand to the chilled store; everything else rides in a cart."""


@dataclass(slots=True)
class Bag:
    """One waste container; times are seconds since the quarter began.

    Attributes:
        story: The planted fault, or an ordinary happening such as a typing error; one at most.
        outer: When it is put in an outer bag: ``after`` sealing, ``before`` it is registered, or
            ``never`` (also what needs none).
        treated_age_s: The plant burns it at this age and not earlier.
        false_at, late_at: The kind of its event that has a false code, or is recorded too late.
        missing: At receipt: ``found`` some hours later, or ``never``.
        ready_s: From when a round or a consignment may take it.
        treated_s: When it stopped being untreated.
        codes: What is wrong with it whatever the hour, as its story says.
    """

    category: str
    kind: str
    unit: str
    sealed_s: int
    weight_g: int
    fill_percent: int
    id: str = ""
    story: str = ""
    codes: tuple[str, ...] = ()
    closed: bool = True
    hub_cut: bool | None = None
    outer: str = "never"
    collected: bool = True
    from_party: str = ""
    warm_c: str = ""
    on_site: tuple[str, ...] = field(init=False)
    steps: tuple[str, ...] = field(init=False)
    outlet: str = field(init=False)
    disposer: str = ""
    treated_age_s: int = 0
    notified: bool = False
    short_g: int = 0
    added_g: int = 0
    false_at: str = ""
    late_at: str = ""
    run: str = ""
    missing: str = ""
    wrong_items: tuple[str, ...] = ()
    ready_s: int = 0
    tare_g: int = 0
    plant: str = ""
    dispatched_s: int | None = None
    received_s: int | None = None
    treated_s: int | None = None
    done_s: int | None = None

    def __post_init__(self) -> None:
        self.on_site = ON_SITE.get(self.category, ())
        self.steps = AT_PLANT[self.category]
        self.outlet = OUTLETS.get(self.category, "ash_landfill")
        if self.kind == "bag":
            self.outer = "after"
        if self.category == "white":
            self.hub_cut = True

    @property
    def gross_g(self) -> int:
        """True weight with the outer bags it has on, in grams."""
        return self.weight_g + self.tare_g
