"""How hypochlorite is made up for a spill: the usual mixes, and one that is asked for.

The figures are ``service.treatment.dilution``'s; which strength is wanted, and for how long, the
local code says.
"""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Literal

from service.custody.regime import Limit
from service.duties import lookup
from service.duties.access import Caller
from service.store.store import Store
from service.treatment.dilution import powder_g_per_l, ppm, stock_for
from service.treatment.reasons import limit

Form = Literal["liquid", "powder"]
LIQUIDS = tuple(map(Decimal, ("2.5", "5", "10", "12.5")))
POWDERS = tuple(map(Decimal, ("35", "60", "70")))
"""Per cent of available chlorine in what is sold (common practice, no source)."""
WANTED = tuple(map(Decimal, ("0.1", "0.5", "1")))
"""0.1 % for surfaces, 0.5 % for blood (WHO, CDC; from memory), 1 % as some codes ask."""
LITRES_MAX = Decimal(200)
_ASKED = ("hypochlorite-percent", "hypochlorite-percent-max", "hypochlorite-minutes")


@dataclass(frozen=True, slots=True)
class Mix:
    """One solution.

    Attributes:
        form: What the stock is: a liquid is measured in ml, a powder weighed in g.
        stock_percent: Available chlorine of the stock, as its maker states it.
        wanted_percent: Of the solution.
        wanted_ppm: The same in mg/l.
        stock: ml or g of it in ``litres`` of solution: to 0.1 below 100: of a strong powder
            half a gram is a third.
        water_ml: What is put before it; of a powder, all.
    """

    form: Form
    stock_percent: Decimal
    wanted_percent: Decimal
    wanted_ppm: Decimal
    litres: Decimal
    stock: Decimal
    water_ml: Decimal


def mix(form: Form, stock: Decimal, wanted: Decimal, litres: Decimal) -> Mix:
    """Reckon one solution.

    Raises:
        ValueError: a strength or a volume that cannot be, or a stock that is too weak.
    """
    if not 0 < litres <= LITRES_MAX:
        raise ValueError(f"a volume lies above 0 and at most at {LITRES_MAX} litres")
    total_ml = litres * 1000
    if form == "powder":
        measured, water = powder_g_per_l(stock, wanted) * litres, total_ml
    else:
        measured = stock_for(total_ml, stock, wanted)
        water = total_ml - measured
    return Mix(form, stock, wanted, ppm(wanted), litres, _measurable(measured), _measurable(water))


def asked_mix(form: str, stock: str, wanted: str, litres: str) -> Mix:
    """Reckon one solution as it was typed; a comma is a point.

    Raises:
        ValueError: as ``mix``, or what was typed is no number; the message says which.
    """
    if form not in ("liquid", "powder"):
        raise ValueError("the stock is a liquid or a powder")
    return mix(
        "powder" if form == "powder" else "liquid",
        _number(stock, "the strength of the stock"),
        _number(wanted, "the strength that is wanted"),
        _number(litres, "the volume"),
    )


def usual_mixes() -> list[list[Mix]]:
    """Give a row for each usual stock, with a litre of each usual strength."""
    one = Decimal(1)
    stocks: list[tuple[Form, Decimal]] = [("liquid", each) for each in LIQUIDS]
    stocks += [("powder", each) for each in POWDERS]
    return [[mix(form, stock, wanted, one) for wanted in WANTED] for form, stock in stocks]


def asked_for(store: Store, caller: Caller, now: datetime) -> list[Limit]:
    """Give what the facility's regime says of hypochlorite today; often nothing."""
    rules = lookup.rules(store, caller)
    day = rules.site.local_day(now)
    found = (limit(rules.regime, each, day) for each in _ASKED)
    return [row for row in found if row is not None]


def _measurable(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal(1) if amount >= 100 else Decimal("0.1"))


def _number(typed: str, what: str) -> Decimal:
    try:
        read = Decimal(typed.strip().replace(",", "."))
    except InvalidOperation as error:
        raise ValueError(f"{what} is a number, such as 5 or 0.5") from error
    if not read.is_finite() or len(typed) > 12:
        raise ValueError(f"{what} is a number, such as 5 or 0.5")
    return read
