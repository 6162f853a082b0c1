"""Puts single rows of a regime into words for its page; it joins nothing and judges nothing."""

from calendar import month_name
from collections.abc import Iterable, Sequence
from decimal import Decimal
from enum import Enum

from service.custody.regime import (
    Denial,
    HoldingLimit,
    PackingRule,
    RetentionRule,
    ReturnRule,
    Row,
    Stage,
    StoreBand,
    TreatmentWindow,
    WeightRule,
)
from service.custody.words import Condition, ContainerKind, Whereabouts

_BURNING = {("incinerate", "incinerate_1200"): "incinerate", ("plasma", "plasma_1200"): "plasma"}
_CLOCKS = {
    "first_item": "from the first item put in",
    "sealed": "from sealing",
    "collected": "from collection",
    "dispatched": "from shipment",
    "received": "from arrival",
}
_WHERE = {
    "generator": "at the generator",
    "off_site": "off site",
    "transfer_station": "at a transfer station",
}
_RULES = {
    "fill_max": "filled to at most",
    "closed": "closed before it is moved",
    "double_bagged": "in a second bag before transport",
    "hub_cut": "needles cut at the hub at the source",
    "sealed_transport": "moved in closed, sealed containers",
}
_BOUNDS = {"min": "at least", "max": "at most", "equals": ""}


def plain(word: str) -> str:
    """Give a closed word as people write it."""
    return word.replace("_1200", " above 1200 °C").replace("_", " ")


def listed(words: Iterable[str], joiner: str = ", ") -> str:
    """Give words one after another, each as people write it."""
    return joiner.join(plain(word) for word in words)


def verified(row: Row) -> str:
    """Say how the row was checked, and how sure a memory is."""
    return f"memory, {row.confidence}" if row.verified == "memory" else row.verified


def days(row: Row) -> str:
    """Give the days on which the row is in force."""
    if row.from_.year == 1900:
        return "always"
    return f"{row.from_} until {row.until}" if row.until else f"from {row.from_}"


def bounded(bound: str, value: Decimal | int, unit: str) -> str:
    """Give a figure with its bound and unit."""
    return f"{_BOUNDS[bound]} {value:,} {unit}".strip().replace(",", " ")


def stage(acts: Stage) -> str:
    """Give the acts of which one is done; burning above 1200 °C goes without saying."""
    words = [act.value for act in acts]
    for pair, one in _BURNING.items():
        if set(pair) <= set(words):
            words = [word for word in words if word != pair[1] or word == one]
    return listed(words, " or ")


def route(stages: Sequence[Stage]) -> str:
    """Give the stages in their order."""
    return " → ".join(stage(acts) for acts in stages)


def length(row: HoldingLimit) -> str:
    """Give the time of a holding limit."""
    units = ("hours", "days", "calendar_days", "months")
    unit = next(unit for unit in units if getattr(row, unit))
    over = f" ({row.weekend_hours} over a weekend)" if row.weekend_hours else ""
    return f"{getattr(row, unit)} {plain(unit)}{over}"


def circumstances(row: HoldingLimit) -> str:
    """Say where, how kept, in which season and from how much waste a holding limit holds."""
    parts = [
        _unless_all(row.conditions, Condition),
        " or ".join(_WHERE[w] for w in row.whereabouts)
        if set(row.whereabouts) != set(Whereabouts)
        else "",
        _unless_all(row.kinds, ContainerKind),
        "" if row.climate == "any" else f"{row.climate} climate",
        "" if row.season == "any" else f"{row.season} season",
        f"{row.monthly_kg_min} kg a month or more" if row.monthly_kg_min is not None else "",
        f"below {row.monthly_kg_below} kg a month" if row.monthly_kg_below is not None else "",
        "only time so kept counts" if row.mixing == "per_condition" else "",
    ]
    return "; ".join(part for part in parts if part) or "untreated"


def clock(row: HoldingLimit) -> str:
    """Say when the clock of a holding limit starts."""
    return _CLOCKS[row.clock]


def denial(row: Denial) -> str:
    """Say what is denied, and when it is not."""
    acts = [*(act.value for act in row.acts), *(["leaving the site"] if row.dispatch else [])]
    parts = [
        stage(row.acts) if not row.dispatch else listed(acts, " or "),
        f"after {listed(row.after, ' or ')}" if row.after else "",
        f"unless after {listed(row.unless_after, ' or ')}" if row.unless_after else "",
        f"unless the site has: {listed(row.unless_where)}" if row.unless_where else "",
    ]
    return " ".join(part for part in parts if part)


def packing(row: PackingRule) -> str:
    """Say how a container must be."""
    figure = f" {row.fill_fraction_max}" if row.fill_fraction_max is not None else ""
    if row.exempt:
        return f"not asked: {_RULES[row.rule]}"
    kinds = _unless_all(row.kinds, ContainerKind)
    return _RULES[row.rule] + figure + (f" ({kinds})" if kinds else "")


def weight(row: WeightRule) -> str:
    """Say how weights are compared or bounded."""
    if row.factor is not None:
        return f"error allowed in service: {row.factor} × the error allowed on verification"
    grams = f"{row.weight_g_max or 0:,}".replace(",", " ")
    return f"{listed(row.kinds)}: at most {grams} g"


def band(row: StoreBand) -> str:
    """Give the temperatures of a store."""
    return f"{row.condition.value}: " + _range(row.temperature_c_min, row.temperature_c_max, "°C")


def window(row: TreatmentWindow) -> str:
    """Give the conditions that a cycle meets all together."""
    parts = [
        "" if row.temperature_c_above is None else f"above {row.temperature_c_above} °C",
        _range(row.temperature_c_min, row.temperature_c_max, "°C"),
        _least(row.pressure_psi_min, "psi"),
        _least(row.pressure_kpa_min, "kPa"),
        _least(row.minutes_min, "min"),
        _least(row.cycle_minutes_min, "min of cycle"),
        _least(row.vacuum_pulses_min, "vacuum pulses"),
        _least(row.seconds_residence_min, "s of gas residence"),
    ]
    return ", ".join(part for part in parts if part)


def due(row: ReturnRule) -> str:
    """Say when a return is due."""
    if row.due_hours is not None:
        return f"within {row.due_hours} h of the {row.period}"
    if row.due_day:
        month, day = map(int, row.due_day.split("-"))
        return f"by {day} {month_name[month]} after the {row.period}'s end"
    if row.due_months_after is not None:
        return f"by the end of month {row.due_months_after} after the {row.period}'s end"
    return f"every {row.period}; the text gives no day"


def kept(row: RetentionRule) -> str:
    """Say how long a record is kept."""
    return f"{row.years} years" if row.years else f"{row.months} months"


def _unless_all(given: Sequence[Enum], words: type[Enum]) -> str:
    """Give the words, or nothing where all of them are meant."""
    if set(given) == set(words):
        return ""
    return listed((str(word.value) for word in given), " or ")


def _least(value: Decimal | int | None, unit: str) -> str:
    return "" if value is None else f"at least {value} {unit}"


def _range(low: Decimal | None, high: Decimal | None, unit: str) -> str:
    """Give a range that may be open at one end."""
    if low is not None and high is not None:
        return f"{low} to {high} {unit}"
    return _least(low, unit) or ("" if high is None else f"at most {high} {unit}")
