"""Closed words of the trade shared by events, regimes and sites."""

from enum import StrEnum


class ContainerKind(StrEnum):
    """What holds the waste and carries the label."""

    BAG = "bag"
    SHARPS_CONTAINER = "sharps_container"
    RIGID_BIN = "rigid_bin"
    BOX = "box"
    BOTTLE = "bottle"
    TRANSPORT = "transport"
    """A closed cart or bin that other containers ride in."""


class Condition(StrEnum):
    """How a place keeps what it holds."""

    AMBIENT = "ambient"
    """In a building, not cooled."""
    OUTDOORS = "outdoors"
    CHILLED = "chilled"
    FROZEN = "frozen"


class Whereabouts(StrEnum):
    """On whose ground untreated waste is held, where a limit makes a difference of it."""

    GENERATOR = "generator"
    OFF_SITE = "off_site"
    TRANSFER_STATION = "transfer_station"


class ClockStart(StrEnum):
    """The event from which a holding limit counts."""

    FIRST_ITEM = "first_item"
    SEALED = "sealed"
    COLLECTED = "collected"
    DISPATCHED = "dispatched"
    RECEIVED = "received"


class Symbol(StrEnum):
    """The hazard symbol a category's label bears."""

    BIOHAZARD = "biohazard"
    CYTOTOXIC = "cytotoxic"
    RADIATION = "radiation"
    NONE = "none"


class Role(StrEnum):
    """What a signed-in person, device or client may do."""

    WARD = "ward"
    HANDLER = "handler"
    PLANT = "plant"
    OFFICER = "officer"
    ADMINISTRATOR = "administrator"
    INSPECTOR = "inspector"


class Severity(StrEnum):
    """How a violation is weighed."""

    LATE = "late"
    WRONG = "wrong"
    UNSAFE = "unsafe"
    LOST = "lost"
