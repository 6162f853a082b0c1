"""Hypochlorite measured, not guessed: dilution by available chlorine, and the regime's strengths.

Never with acids, ammonia or formaldehyde (formalin): chlorine and other poisonous gas come off.
Never on waste bound for incineration. Made fresh, in the open or with air, with gloves and eye
protection; old stock is weaker than its label. Local codes and the maker's sheet come first.
"""

from datetime import date
from decimal import Decimal

from service.custody.regime import Regime
from service.treatment.reasons import Measure, Reason, cited, limit


def parts_of_water(stock_percent: Decimal, wanted_percent: Decimal) -> Decimal:
    """Give parts of water to one part of stock: stock / wanted - 1 (WHO, CDC; from memory).

    Raises:
        ValueError: a strength is not above zero, or the stock is weaker than what is wanted.
    """
    _demand_strengths(stock_percent, wanted_percent)
    return stock_percent / wanted_percent - 1


def stock_for(total: Decimal, stock_percent: Decimal, wanted_percent: Decimal) -> Decimal:
    """Give the stock in a total of solution, in the unit of the total; the rest is water.

    Raises:
        ValueError: as ``parts_of_water``, or the total is not above zero.
    """
    _demand_strengths(stock_percent, wanted_percent)
    if not total > 0:
        raise ValueError(f"a total of {total} cannot be made")
    return total * wanted_percent / stock_percent


def powder_g_per_l(powder_percent: Decimal, wanted_percent: Decimal) -> Decimal:
    """Give grams of chlorine powder to a litre: wanted / powder · 1000 (WHO, CDC; from memory).

    ``powder_percent`` is the available chlorine that the maker states.

    Raises:
        ValueError: as ``parts_of_water``.
    """
    _demand_strengths(powder_percent, wanted_percent)
    return wanted_percent / powder_percent * 1000


def ppm(percent: Decimal) -> Decimal:
    """Give available chlorine in mg/l, for solutions about as heavy as water."""
    return percent * 10_000


def judge_soak(
    percent: Decimal, minutes: Decimal, residual_percent: Decimal | None, regime: Regime, day: date
) -> list[Reason]:
    """Hold a soak in hypochlorite against the regime's rows: strength, residual chlorine, time.

    ``residual_percent`` is the part of the chlorine left at the end, None if nobody measured it.
    A regime without such rows gives no reason.
    """
    asked = [
        ("hypochlorite-percent", "strength", percent),
        ("hypochlorite-percent-max", "strength", percent),
        ("hypochlorite-residual", "residual chlorine", residual_percent),
        ("hypochlorite-minutes", "time", minutes),
    ]
    reasons = []
    for limit_id, name, found in asked:
        row = limit(regime, limit_id, day)
        if row is None:
            continue
        if found is None:
            said = f"{name} was not measured"
            reasons.append(cited(regime, row, "soak", None, said))
            continue
        met = found >= row.value if row.bound == "min" else found <= row.value
        bound = "at least" if row.bound == "min" else "at most"
        said = f"{name} {found} {row.unit}; {bound} {row.value}"
        measure = Measure(float(found), float(row.value), row.unit)
        reasons.append(cited(regime, row, "soak", met, said, measure))
    return reasons


def _demand_strengths(stock_percent: Decimal, wanted_percent: Decimal) -> None:
    if not 0 < wanted_percent <= 100 or not 0 < stock_percent <= 100:
        raise ValueError("a strength lies above 0 and at most at 100 %")
    if wanted_percent > stock_percent:
        raise ValueError(f"a stock of {stock_percent} % makes no solution of {wanted_percent} %")
