"""Why a verdict is as it is: each reason with its rule, its figure and what it rests on."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from service.custody.regime import Limit, Regime, Row, first_in_force


class Verdict(StrEnum):
    """What a cycle's evidence shows."""

    PASS = "pass"  # noqa: S105  the word, no secret
    FAIL = "fail"
    CANNOT_BE_JUDGED = "cannot_be_judged"


@dataclass(frozen=True)
class Reason:
    """One condition, whether it was met, and by which row of the regime it was asked.

    Attributes:
        rule: short name of the condition, as ``window`` or ``steam.air_left_in``.
        met: None where the evidence does not show it.
        said: the finding in a sentence.
        figure: what was found, in ``unit``.
        asked: what the row asks for, in ``unit``.
        clause: the row's clause; empty where no row asks.
        source: title of the text.
        verified: how the row was checked: read, memory or policy.
    """

    rule: str
    met: bool | None
    said: str
    figure: float | None = None
    asked: float | None = None
    unit: str = ""
    clause: str = ""
    source: str = ""
    verified: str = ""


class Measure(NamedTuple):
    """A figure that was found beside the one that is asked for."""

    figure: float
    asked: float
    unit: str


class MissingRowError(LookupError):
    """The regime holds no row that a trace cannot be judged without."""


def cited(
    regime: Regime,
    row: Row,
    rule: str,
    met: bool | None,
    said: str,
    measure: Measure | None = None,
) -> Reason:
    """Make a reason that rests on a row of the regime."""
    title = regime.source[row.source].title
    verified = f"memory, {row.confidence}" if row.verified == "memory" else row.verified
    figure, asked, unit = measure or (None, None, "")
    return Reason(rule, met, said, figure, asked, unit, row.clause, title, verified)


def limit(regime: Regime, limit_id: str, day: date) -> Limit | None:
    """Give the regime's limit of that id on that day, or None."""
    return first_in_force((row for row in regime.limit if row.id == limit_id), day)


def house_limit(regime: Regime, limit_id: str, day: date) -> Limit:
    """Give a limit that every regime has by adding to good practice.

    Raises:
        MissingRowError: it has none.
    """
    if (found := limit(regime, limit_id, day)) is None:
        raise MissingRowError(f"{regime.id} has no limit '{limit_id}': it must add good-practice")
    return found


def conclude(reasons: Iterable[Reason]) -> Verdict:
    """Fail if any condition was not met, else cannot be judged if any is unknown, else pass."""
    met = [reason.met for reason in reasons]
    if False in met:
        return Verdict.FAIL
    return Verdict.CANNOT_BE_JUDGED if None in met or not met else Verdict.PASS
