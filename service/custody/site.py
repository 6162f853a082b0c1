"""What the rules need to know of the facility: units, stores, parties, scales, distances, seasons.

A site is a value; it is read from a set-up file or the store at the edge and handed in.
"""

from datetime import date, datetime, time
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import Field, WithJsonSchema, field_validator, model_validator

from service.custody import patients
from service.custody.acts import Step
from service.custody.cited import Exact, Strict
from service.custody.pits import PitShape
from service.custody.words import Condition

Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,62}$")]
PatientNumber = Annotated[str, Field(max_length=20, pattern=r"^[^\x00-\x1f\x7f]*$")]
OfDay = Annotated[
    time, WithJsonSchema({"type": "string", "pattern": r"^\d\d:\d\d(:\d\d)?$", "example": "06:30"})
]
"""A time on the facility's own clock, so without a zone, which JSON Schema's ``time`` asks for."""
Climate = Literal["temperate", "warm"]
MachineKind = Literal[
    "gravity", "vacuum", "autoclave", "hydroclave", "microwave", "dry_heat", "incinerator",
    "incinerator_1200", "plasma", "plasma_1200", "shredder", "chemical", "encapsulation", "pit",
]  # fmt: skip
USUAL_STEPS: dict[str, frozenset[Step]] = {
    "gravity": frozenset({Step.AUTOCLAVE}),
    "vacuum": frozenset({Step.AUTOCLAVE}),
    "autoclave": frozenset({Step.AUTOCLAVE}),
    "hydroclave": frozenset({Step.HYDROCLAVE}),
    "microwave": frozenset({Step.MICROWAVE}),
    "dry_heat": frozenset({Step.DRY_HEAT}),
    "incinerator": frozenset({Step.INCINERATE}),
    "incinerator_1200": frozenset({Step.INCINERATE, Step.INCINERATE_1200}),
    "plasma": frozenset({Step.PLASMA}),
    "plasma_1200": frozenset({Step.PLASMA, Step.PLASMA_1200}),
    "shredder": frozenset({Step.SHRED}),
    "chemical": frozenset({Step.CHEMICAL, Step.HYPOCHLORITE}),
    "encapsulation": frozenset({Step.ENCAPSULATE, Step.INERTISE}),
}


def known_zone(name: str) -> str:
    """Give the name of a time zone that there is.

    Raises:
        ValueError: there is none of that name.
    """
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as why:
        raise ValueError(f"no time zone is called {name!r}") from why
    return name


class Unit(Strict):
    """A point of generation."""

    id: Id
    name: str
    location: Id
    categories: tuple[str, ...] = ()
    """The categories this unit makes; empty means all of the regime."""


class Store(Strict):
    """A place of temporary storage and the party that keeps it."""

    id: Id
    name: str
    location: Id
    party: Id
    condition: Condition = Condition.AMBIENT
    categories: tuple[str, ...] = ()
    """The categories it is for, as pick-ups are planned by; empty means all."""
    capacity_kg: Exact | None = Field(default=None, gt=0)
    """What it can hold; None is: not told, never full."""


class PickUps(Strict):
    """How waste leaves the stores, for planning: vehicles, what one takes, when and how long."""

    vehicles: tuple[Id, ...] = Field(min_length=1)
    load_kg: Exact | None = Field(default=None, gt=0)
    """What a vehicle takes; None where it takes whatever waits."""
    onward_hours: Exact = Field(ge=0, le=240)
    """From the pick-up to the treatment that ends the holding time, with a margin."""
    opens: OfDay
    closes: OfDay

    @model_validator(mode="after")
    def _opens_before_it_closes(self) -> Self:
        if self.opens >= self.closes or self.opens.tzinfo or self.closes.tzinfo:
            raise ValueError("pick-ups open before they close, by the facility's own clock")
        return self


class Authorisation(Strict):
    """What an authority allowed a carrier or plant to do, and when."""

    activity: Literal["carry", "treat"]
    categories: tuple[str, ...] = Field(min_length=1)
    from_: date = Field(alias="from")
    until: date
    """Last day on which it is valid."""
    reference: str

    @model_validator(mode="after")
    def _begins_before_it_ends(self) -> Self:
        if self.until < self.from_:
            raise ValueError("an authorisation ends before it begins: see 'from' and 'until'")
        return self

    def allows(self, category_id: str, day: date) -> bool:
        """Say whether the category is covered on that day."""
        return self.from_ <= day <= self.until and (
            "*" in self.categories or category_id in self.categories
        )


class Party(Strict):
    """An organisation or team that can hold custody."""

    id: Id
    name: str
    kind: Literal["handler", "carrier", "plant", "transfer_station", "recycler"]
    location: Id
    address: str = ""
    telephone: str = ""
    authorisation: tuple[Authorisation, ...] = ()

    def may(self, activity: str, category_id: str, day: date) -> bool:
        """Say whether an authorisation for the activity covers the category on that day."""
        return any(
            a.activity == activity and a.allows(category_id, day) for a in self.authorisation
        )


class Inspection(Strict):
    """A validation or calibration of a machine and how long it holds."""

    on: date
    until: date
    """Last day on which it holds."""
    reference: str = ""

    @model_validator(mode="after")
    def _holds_at_all(self) -> Self:
        if self.until < self.on:
            raise ValueError("an inspection ends before it was made: see 'on' and 'until'")
        return self


class Machine(Strict):
    """A treatment machine in the register, the party that runs it, and what it can take."""

    id: Id
    name: str
    party: Id
    kind: MachineKind
    steps: tuple[Step, ...] = ()
    """The steps it does; none given are those usual of its kind."""
    capacity_kg: Exact | None = Field(default=None, gt=0)
    capacity_l: Exact | None = Field(default=None, gt=0)
    waste_only: bool = True
    validation: tuple[Inspection, ...] = ()
    calibration: tuple[Inspection, ...] = ()
    spore_test_days: int | None = Field(default=None, gt=0)
    """The longest time between spore tests, where its licence asks for more than the text."""
    ambient_kpa: Exact | None = Field(default=None, ge=40, le=110)
    """Pressure of the air where it stands; 101.325 unless told."""
    residence_s: Exact | None = Field(default=None, ge=0)
    """Time of the gas in the last chamber of an incinerator, reckoned from volume and flow."""
    clock_zone: str | None = None
    """Zone of the logger's clock, where its times carry none."""
    pit: PitShape | None = None
    """Of a pit: how large it is; without it none of its figures can be told."""

    @model_validator(mode="after")
    def _only_a_pit_has_a_shape(self) -> Self:
        if self.pit is not None and self.kind != "pit":
            raise ValueError(f"{self.id} is no pit: its kind is {self.kind}")
        return self

    @field_validator("clock_zone")
    @classmethod
    def _known_zone(cls, name: str | None) -> str | None:
        return name if name is None else known_zone(name)

    @property
    def does(self) -> frozenset[Step]:
        """The steps it does."""
        return frozenset(self.steps) or USUAL_STEPS.get(self.kind, frozenset())


class Scale(Strict):
    """A weighing instrument with its OIML R 76 accuracy class and verification interval."""

    id: Id
    name: str
    accuracy_class: Literal["I", "II", "III", "IIII"]
    interval_g: Exact = Field(gt=0)
    """Verification scale interval e, in grams."""


class Season(Strict):
    """Part of the year by month and day, as regimes with seasonal limits ask for it."""

    name: Literal["winter", "summer", "cool", "hot"]
    from_: str = Field(alias="from", pattern=r"^\d\d-\d\d$")
    """First day, as ``04-01``; the season lasts until the next one begins."""


class Travel(Strict):
    """The shortest time in which a person or vehicle gets from one location to another."""

    between: tuple[Id, Id]
    minutes: int = Field(ge=0)


class Contact(Strict):
    """Who to ask for, as labels and manifests print it."""

    name: str
    address: str
    telephone: str
    emergency: str = ""


class Site(Strict):
    """A facility and those who carry and treat its waste."""

    id: Id
    name: str
    contact: Contact
    time_zone: str
    regime: str
    authority: str = ""
    """The authority that takes notices and returns."""
    climate: Climate = "temperate"
    season: tuple[Season, ...] = ()
    monthly_kg: Exact = Field(default=Decimal(0), ge=0)
    """Regulated waste made in a usual month."""
    facts: tuple[str, ...] = ()
    """Facts that the regime asks a site to declare, and that hold here."""
    unit: tuple[Unit, ...] = Field(min_length=1)
    store: tuple[Store, ...] = ()
    party: tuple[Party, ...] = ()
    scale: tuple[Scale, ...] = ()
    machine: tuple[Machine, ...] = ()
    travel: tuple[Travel, ...] = ()
    pick_ups: PickUps | None = None
    patient_number: tuple[PatientNumber, ...] = ()
    """How patients' numbers are written here, as templates (``service.custody.patients``): an event
    in which one is found is sent back."""

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, name: str) -> str:
        return known_zone(name)

    @field_validator("patient_number")
    @classmethod
    def _fits_no_ordinary_word(cls, templates: tuple[str, ...]) -> tuple[str, ...]:
        why = next(filter(None, map(patients.fault, templates)), "")
        if why:
            raise ValueError(why)
        return templates

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        ids = [x.id for group in self._groups for x in group]
        twice = sorted({i for i in ids if ids.count(i) > 1})
        if twice:
            raise ValueError(f"an id is given twice: {', '.join(twice)}")
        strangers = sorted({s.party for s in self.store} - {p.id for p in self.party})
        if strangers:
            raise ValueError(f"a store is kept by a party that is not named: {strangers[0]}")
        nobodys = sorted({m.party for m in self.machine} - {p.id for p in self.party})
        if nobodys:
            raise ValueError(f"a machine is run by a party that is not named: {nobodys[0]}")
        for name in ids:
            template = patients.found(name, self.patient_number)
            if template:
                raise ValueError(f"the id '{name}' looks like a patient's number ({template})")
        return self

    @cached_property
    def zone(self) -> ZoneInfo:
        """The facility's own time zone."""
        return ZoneInfo(self.time_zone)

    @cached_property
    def units(self) -> dict[str, Unit]:
        """Units by id."""
        return {u.id: u for u in self.unit}

    @cached_property
    def stores(self) -> dict[str, Store]:
        """Stores by id."""
        return {s.id: s for s in self.store}

    @cached_property
    def parties(self) -> dict[str, Party]:
        """Parties by id."""
        return {p.id: p for p in self.party}

    @property
    def _groups(self) -> tuple[tuple[Unit | Store | Party | Scale | Machine, ...], ...]:
        return self.unit, self.store, self.party, self.scale, self.machine

    @cached_property
    def machines(self) -> dict[str, Machine]:
        """Machines by id."""
        return {m.id: m for m in self.machine}

    @cached_property
    def pits(self) -> dict[str, Machine]:
        """The pits among the machines, by id."""
        return {m.id: m for m in self.machine if m.kind == "pit"}

    def runs(self, party: str, step: Step) -> bool:
        """Say whether the register has a machine of that party for that step."""
        return any(m.party == party and step in m.does for m in self.machine)

    @cached_property
    def scales(self) -> dict[str, Scale]:
        """Scales by id."""
        return {s.id: s for s in self.scale}

    @cached_property
    def _locations(self) -> dict[str, str]:
        return {x.id: x.location for group in (self.unit, self.store, self.party) for x in group}

    @cached_property
    def _minutes(self) -> dict[frozenset[str], int]:
        return {frozenset(t.between): t.minutes for t in self.travel}

    def local_day(self, at: datetime) -> date:
        """Give the facility's own date at that instant."""
        return at.astimezone(self.zone).date()

    def season_on(self, day: date) -> str:
        """Give the name of the season on that day, or an empty string where none is declared."""
        if not self.season:
            return ""
        starts = sorted((s.from_, s.name) for s in self.season)
        begun = [name for start, name in starts if start <= f"{day:%m-%d}"]
        return begun[-1] if begun else starts[-1][1]

    def location_of(self, place: str | None) -> str | None:
        """Give the location of a unit, store or party, or None where it is not known."""
        return self._locations.get(place) if place else None

    def travel_minutes(self, here: str, there: str) -> int:
        """Give the shortest travel time between two locations; 0 where none is set."""
        return self._minutes.get(frozenset({here, there}), 0)
