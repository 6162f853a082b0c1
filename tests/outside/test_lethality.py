"""Lethality, steam and spores against published figures.

F0: an R&D technical note "F0" (TN 170977-v3, 1988, revised 2014), sections 1.4 to 1.6, and an older
note of the same maker with the example of 15 min at 111, 121 and 124 °C (both read). Steam: IAPWS
R7-97(2012), tables 35 and 36, and the package ``iapws``. Spores: ISO 11138 and 11140 as cited in
pages that were read. EN 285 bands from memory. What no source prints is reckoned by hand and says
so.
"""

import numpy as np
import pytest
from iapws.iapws97 import _PSat_T, _TSat_P

from service.treatment.steam import ATMOSPHERE_KPA, KPA_PER_PSI, saturation_c, saturation_kpa
from service.treatment.sterilisation import (
    Reference,
    kill_time_min,
    lethality_min,
    log_reduction,
    needed_f_min,
    survival_time_min,
)

AT_121 = Reference("F0", 121.0, 10.0, 1.5)
AT_121_1 = Reference("F0", 121.1, 10.0, 1.5)


def held(minutes: float, temperature_c: float, reference: Reference) -> float:
    """F of a load held at one temperature."""
    line = np.array([temperature_c, temperature_c])
    return lethality_min(np.array([0.0, 60 * minutes]), line, np.array([True]), reference)


@pytest.mark.parametrize(
    ("minutes", "temperature_c", "reference", "f0_min"),
    [
        (15, 111, AT_121, 1.5),  # the note: printed as 1.5
        (15, 121, AT_121, 15),  # printed as 15
        (15, 124, AT_121, 29.93),  # printed as about 30; 29.93 by hand
        (15, 111, AT_121_1, 1.466),  # from here on by hand: the reference moves F0 by 2.3 %
        (15, 121, AT_121_1, 14.66),
        (15, 124, AT_121_1, 29.25),
        (3, 134, AT_121_1, 58.5),  # EN 285 band 134 °C, 3 min (memory)
        (3, 134, AT_121, 59.86),
        (18, 134, AT_121_1, 351),  # WHO ch. 8 prions, 18 min (memory)
        (10, 126, AT_121_1, 30.9),  # EN 285 band 126 °C, 10 min (memory)
        (30, 121, AT_121_1, 29.3),
        (60, 121, AT_121_1, 58.6),  # the gravity rows of the BMW Rules: far from equal
        (45, 135, AT_121_1, 1104.6),
        (30, 149, AT_121_1, 18_498),
    ],
)
def test_held_at_one_temperature(
    minutes: float, temperature_c: float, reference: Reference, f0_min: float
) -> None:
    """F = t · 10^((T - Tref) / z), to the digits that are printed."""
    assert held(minutes, temperature_c, reference) == pytest.approx(f0_min, rel=6e-4)


HEATING = [100, 105, 110, 115, 118, 120, 121, 121.5, 122, 122, 121.5, 121, 120, 115, 108, 100]
"""A reading a minute (our own)."""


def test_between_the_trapezoids_and_the_truth() -> None:
    """The usual trapezoids give 9.3001 min; straight lines give less, and a fine sum agrees."""
    time_s, line = 60.0 * np.arange(len(HEATING)), np.array(HEATING, dtype=float)
    rates = 10 ** ((line - 121.1) / 10)
    assert np.trapezoid(rates, time_s) / 60 == pytest.approx(9.3001, abs=5e-5)
    exact = lethality_min(time_s, line, np.ones(15, dtype=bool), AT_121_1)
    fine_s = np.linspace(0, time_s[-1], 900_001)
    fine = np.trapezoid(10 ** ((np.interp(fine_s, time_s, line) - 121.1) / 10), fine_s) / 60
    assert exact == pytest.approx(fine, rel=1e-9)
    assert 9.1 < exact < 9.3001


@pytest.mark.parametrize(
    ("kelvin", "megapascal"),
    [(300, 0.353658941e-2), (500, 0.263889776e1), (600, 0.123443146e2)],
)
def test_iapws_table_35(kelvin: float, megapascal: float) -> None:
    """IAPWS R7-97(2012) table 35: saturation pressures for equation 30."""
    assert float(saturation_kpa(kelvin - 273.15)) / 1000 == pytest.approx(megapascal, rel=2e-9)


@pytest.mark.parametrize(
    ("megapascal", "kelvin"),
    [(0.1, 0.372755919e3), (1, 0.453035632e3), (10, 0.584149488e3)],
)
def test_iapws_table_36(megapascal: float, kelvin: float) -> None:
    """IAPWS R7-97(2012) table 36: saturation temperatures for equation 31."""
    assert float(saturation_c(1000 * megapascal)) + 273.15 == pytest.approx(kelvin, rel=2e-9)


@pytest.mark.parametrize("celsius", [1, 20, 60, 99, 121, 134, 150, 200, 300, 373])
def test_another_programme_of_the_same_formulation(celsius: float) -> None:
    """The package ``iapws`` and ours give one line, both ways, and it goes back on itself."""
    kpa = float(saturation_kpa(celsius))
    assert kpa == pytest.approx(1000 * _PSat_T(celsius + 273.15), rel=1e-12)
    assert float(saturation_c(kpa)) == pytest.approx(_TSat_P(kpa / 1000) - 273.15, abs=1e-9)
    assert float(saturation_c(kpa)) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize("outside", [-1.0, 374.0, float("nan")])
def test_there_is_no_saturation_outside_the_line(outside: float) -> None:
    """Below freezing and above the critical point there is none: NaN, not a figure."""
    assert np.isnan(saturation_kpa(outside))
    assert np.isnan(saturation_c(np.array([0.1, 30_000.0]))).all()


@pytest.mark.parametrize(
    ("celsius", "gauge_kpa", "printed_kpa", "psi"),
    [(121, 103.7, 103, 15), (134, 202.9, None, None), (135, 211.9, 213, 31), (149, 362.2, 359, 52)],
)
def test_the_rows_of_the_rules_lie_on_the_saturation_line(
    celsius: float, gauge_kpa: float, printed_kpa: float | None, psi: float | None
) -> None:
    """121/103, 135/213, 149/359 (a government page on the Rules of 1998, read) against steam."""
    found = float(saturation_kpa(celsius)) - ATMOSPHERE_KPA
    assert found == pytest.approx(gauge_kpa, abs=0.06)
    if printed_kpa and psi:
        assert printed_kpa == pytest.approx(found, rel=0.01)
        assert psi * KPA_PER_PSI == pytest.approx(printed_kpa, abs=0.8)


@pytest.mark.parametrize(
    ("population", "d_min", "survival_min", "kill_min"),
    [
        (1e5, 1.5, 4.5, 13.5),  # ISO 11138-3 prints this pair (memory, high)
        (1e6, 1.5, 6, 15),  # by the formula of the standard (read in two pages)
        (1e6, 2, 8, 20),
    ],
)
def test_survival_and_kill(
    population: float, d_min: float, survival_min: float, kill_min: float
) -> None:
    """ISO 11138: survival (log N0 - 2) · D, kill (log N0 + 4) · D."""
    assert survival_time_min(population, d_min) == pytest.approx(survival_min)
    assert kill_time_min(population, d_min) == pytest.approx(kill_min)


def test_the_integrator_of_iso_11140() -> None:
    """GOST R ISO 11140-1-2009, annex (read): 16.5 min is (5 + 6) · 1.5, 10.5 min is 7 · 1.5."""
    assert needed_f_min(1e5, 1e-6, 1.5) == pytest.approx(16.5)
    assert needed_f_min(1e5, 1e-2, 1.5) == pytest.approx(10.5)
    assert pytest.approx(0.636, abs=5e-4) == needed_f_min(1e5, 1e-2, 1.5) / 16.5


@pytest.mark.parametrize(("f0_min", "d_min", "logs"), [(15, 1.5, 10), (58.64, 2, 29.3)])
def test_log_reduction(f0_min: float, d_min: float, logs: float) -> None:
    """F0 / D121, by hand."""
    assert log_reduction(f0_min, d_min) == pytest.approx(logs, abs=0.05)


def test_what_level_iii_asks_of_spores() -> None:
    """STAATT level III, 4 log10 of spores (Czech Decree 273/2021, annex 50, read): 6 min at 121."""
    assert log_reduction(held(6, 121, AT_121), 1.5) == pytest.approx(4)
