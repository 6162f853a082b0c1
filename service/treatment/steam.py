"""Saturated steam: which pressure goes with which temperature.

Source: IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997, section 8.1,
equation 30 (pressure) and 31 (temperature), coefficients of table 34 (from memory, held by the
release's check values). Valid from 273.15 K to the critical point, 647.096 K and 22.064 MPa.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ATMOSPHERE_KPA = 101.325
"""The standard atmosphere."""
ZERO_C_K = 273.15
KPA_PER_PSI = 6.894757293168
"""The international pound and inch, standard gravity."""

_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
_LOWEST_C, _HIGHEST_C = 0.0, 373.946
_LOWEST_KPA, _HIGHEST_KPA = 0.611213, 22_064.0


def saturation_kpa(temperature_c: Floats | float) -> Floats:
    """Give the absolute pressure in kPa at which steam is saturated; NaN outside 0 to 373.946 °C.

    IAPWS-IF97, equation 30.
    """
    celsius = np.asarray(temperature_c, dtype=np.float64)
    inside = (celsius >= _LOWEST_C) & (celsius <= _HIGHEST_C)
    kelvin = np.where(inside, celsius, np.nan) + ZERO_C_K
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    theta = kelvin + n9 / (kelvin - n10)
    a = (theta + n1) * theta + n2
    b = (n3 * theta + n4) * theta + n5
    c = (n6 * theta + n7) * theta + n8
    megapascal: Floats = (2 * c / (-b + np.sqrt(b * b - 4 * a * c))) ** 4
    return 1000 * megapascal


def saturation_c(pressure_kpa: Floats | float) -> Floats:
    """Give the temperature in °C at which steam of that absolute pressure is saturated.

    NaN outside 0.611213 to 22 064 kPa. IAPWS-IF97, equation 31.
    """
    given = np.asarray(pressure_kpa, dtype=np.float64)
    inside = (given >= _LOWEST_KPA) & (given <= _HIGHEST_KPA)
    beta = np.sqrt(np.sqrt(np.where(inside, given, np.nan) / 1000))
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    e = (beta + n3) * beta + n6
    f = (n1 * beta + n4) * beta + n7
    g = (n2 * beta + n5) * beta + n8
    d = 2 * g / (-f - np.sqrt(f * f - 4 * e * g))
    kelvin: Floats = (n10 + d - np.sqrt((n10 + d) ** 2 - 4 * (n9 + n10 * d))) / 2
    return kelvin - ZERO_C_K
