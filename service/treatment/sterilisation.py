"""Lethality of a temperature trace, and what it does to spores.

F = ∫ 10^((T - Tref) / z) dt, with T straight between readings. On such a piece from T0 to T1 over
the time d the integral has a closed form: d · 10^((T0 - Tref) / z) · (e^x - 1) / x with
x = ln 10 · (T1 - T0) / z. No step size, no error of integration.

F0 is F for moist heat with z = 10 K and a reference of 121.1 °C (250 °F) or, in other texts,
121 °C: the choice moves F0 by 2.3 %, so both are always stated with the result.
"""

from dataclasses import dataclass
from math import isfinite, log, log10

import numpy as np

from service.treatment.pieces import Floats, Marks


@dataclass(frozen=True)
class Reference:
    """To what a lethality is referred.

    Attributes:
        name: ``F0`` for moist heat, ``FH`` for dry heat.
        temperature_c: reference temperature, °C.
        z_k: rise of temperature that makes killing ten times as fast, K.
        d_min: time at the reference temperature that kills nine spores of ten, minutes.
    """

    name: str
    temperature_c: float
    z_k: float
    d_min: float

    def __post_init__(self) -> None:
        """Refuse what no organism has.

        Raises:
            ValueError: z or D is not positive, or a figure is not finite.
        """
        if not all(isfinite(f) for f in (self.temperature_c, self.z_k, self.d_min)):
            raise ValueError("reference temperature, z and D must be finite numbers")
        if self.z_k <= 0 or self.d_min <= 0:
            raise ValueError("z and D must be above zero")


MOIST = Reference("F0", 121.1, 10.0, 1.5)
"""D of 1.5 min is the least that ISO 11138-3 allows a test organism (from memory)."""
DRY = Reference("FH", 160.0, 20.0, 2.5)
"""D160 of 2.5 min and z of 20 K are the least that ISO 11138-4 allows (from memory)."""


def lethality_min(time_s: Floats, temperature_c: Floats, counted: Marks, to: Reference) -> float:
    """Give F in minutes over the pieces that are counted, exact for straight pieces."""
    slope = log(10) / to.z_k
    x = slope * np.diff(temperature_c)
    safe = np.where(x == 0, 1.0, x)
    mean = np.where(x == 0, 1.0, np.expm1(x) / safe)
    rate = np.exp(slope * (temperature_c[:-1] - to.temperature_c))
    return float(np.sum(np.where(counted, np.diff(time_s) * rate * mean, 0.0))) / 60


def log_reduction(f_min: float, d_min: float) -> float:
    """Give by how many powers of ten spores of that D at the reference temperature are fewer."""
    return f_min / d_min


def survival_time_min(population: float, d_min: float) -> float:
    """Give the longest exposure after which all indicators should still grow: (log N0 - 2) · D.

    ISO 11138 (read in pages that cite it).
    """
    return max(0.0, (log10(population) - 2) * d_min)


def kill_time_min(population: float, d_min: float) -> float:
    """Give the exposure after which no indicator should grow: (log N0 + 4) · D. ISO 11138."""
    return (log10(population) + 4) * d_min


def needed_f_min(population: float, survivors: float, d_min: float) -> float:
    """Give the F that brings a population to so many survivors: D · (log N0 - log Nf)."""
    return d_min * (log10(population) - log10(survivors))
