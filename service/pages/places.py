"""Where each role can go: the entries of the navigation, in the order in which they are used."""

from dataclasses import dataclass

from service.custody.words import Role


@dataclass(frozen=True, slots=True)
class Place:
    """An entry of the navigation; ``name`` is English and looked up in the catalogue."""

    address: str
    name: str


WARD = Place("/ward", "Seal a container")
TODAY = Place("/ward/today", "Sealed today")
SPILL = Place("/spill", "Spill or injury")
RUN = Place("/run", "Pick-up run")
LEAVE = Place("/leave", "Send away")
HAND_OVER = Place("/receive", "Receive")
LOAD = Place("/load", "Load a machine")
CYCLES = Place("/cycles", "Cycles")
DESK = Place("/desk", "What is wrong")
FIND = Place("/find", "Find")
BALANCE = Place("/balance", "Balance")
FIGURES = Place("/figures", "Figures")
PLAN = Place("/plan", "Plan")
QUARTER = Place("/quarter", "Quarter")
WALL = Place("/wall", "Wall")
PEOPLE = Place("/people", "People")
RULES = Place("/regimes", "Rules")
SETTINGS = Place("/settings", "Settings")
ME = Place("/me", "Me")

_PLACES: dict[Role, tuple[Place, ...]] = {
    Role.WARD: (WARD, TODAY, SPILL, FIND, ME),
    Role.HANDLER: (RUN, LEAVE, WALL, SPILL, FIND, ME),
    Role.PLANT: (HAND_OVER, LOAD, CYCLES, SPILL, FIND, ME),
    Role.OFFICER: (
        DESK,
        FIND,
        BALANCE,
        FIGURES,
        PLAN,
        QUARTER,
        WALL,
        WARD,
        RUN,
        LEAVE,
        HAND_OVER,
        LOAD,
        CYCLES,
        SPILL,
        RULES,
        PEOPLE,
        SETTINGS,
        ME,
    ),
    Role.ADMINISTRATOR: (
        DESK,
        FIND,
        BALANCE,
        FIGURES,
        PLAN,
        QUARTER,
        WALL,
        RULES,
        PEOPLE,
        SETTINGS,
        ME,
    ),
    Role.INSPECTOR: (DESK, FIND, CYCLES, BALANCE, FIGURES, PLAN, QUARTER, RULES, ME),
}


def places_of(role: Role) -> tuple[Place, ...]:
    """Give where a role can go; the first is where they begin."""
    return _PLACES[role]
