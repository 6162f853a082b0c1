"""What each trace of ``traces/`` must come to, and why: written by hand before it was judged.

The rows that they are held against: BMW Rules 2016 Schedule II (gravity 121 °C, 15 psi, 60 min;
135, 31, 45; 149, 52, 30: read; vacuum 121, 15, 45 and 135, 31, 30 after three pulses: from memory),
dry heat 185 °C for 90 min of a cycle of 150 (memory, medium), chambers at 800 and 1000 °C with gas
for 2 s (memory); WHO 2014 ch. 8, 121 °C for 30 min (memory, medium). The traces are invented:
readings each minute or half minute, steam at its saturation pressure unless the row says otherwise.
"""
# fmt: off

from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from service.treatment.verdict import Told

INDIA, WHO, ENGLAND = "india-2016", "who-2014", "england-htm-07-01"
KOLKATA = ZoneInfo("Asia/Kolkata")
NOTHING = Told()


class Expected(NamedTuple):
    """One trace and what it must come to."""

    file: str
    machine: str
    regime: str
    verdict: str
    rule: str
    """The reason's rule that must be among those that decided."""
    why: str
    told: Told = NOTHING


P, F, C = "pass", "fail", "cannot_be_judged"

TRACES = [
    # --- exposure: temperature, pressure and time, all together
    Expected("gravity-121-61.csv", "gravity", INDIA, P, "window", "121.5 to 121.9 °C for 61 min"),
    Expected("gravity-121-60-exact.csv", "gravity", INDIA, P, "window", "60 min 0 s: inclusive"),
    Expected("gravity-121-59.csv", "gravity", INDIA, F, "window.temperature", "a minute short"),
    Expected("gravity-121-61.csv", "autoclave", INDIA, P, "window", "kind not told: as gravity"),
    Expected("gravity-134-45.csv", "gravity", INDIA, F, "window.temperature",
             "134 °C misses the row of 135, and 46 min that of 121"),
    Expected("gravity-134-61.csv", "gravity", INDIA, P, "window", "61 min meet the row of 121"),
    Expected("gravity-149-31.csv", "gravity", INDIA, P, "window", "the row of 149 °C, 52 psi"),
    Expected("gravity-160-29.csv", "gravity", INDIA, F, "window.temperature",
             "hotter than any row asks, but under 30 min: no row is so short"),
    Expected("134-for-18.csv", "gravity", INDIA, F, "window.temperature",
             "F0 over 350 min, and still no window of the text: F0 decides nothing"),
    Expected("134-for-18.csv", "gravity", WHO, F, "window.temperature", "30 min asked at 121 °C"),
    Expected("dip-in-exposure.csv", "gravity", INDIA, F, "window.temperature",
             "62 min in all, but 31 and 31 with a dip to 118 °C between"),
    Expected("two-probes.csv", "gravity", INDIA, P, "window", "both probes inside for 61 min"),
    Expected("cold-load-probe.csv", "gravity", INDIA, F, "window.temperature",
             "the drain is at 121.6 °C, the load at 117: the worst probe counts"),
    # --- vacuum
    Expected("vacuum-3-pulses-121-46.csv", "vacuum", INDIA, P, "window", "three pulses, 46 min"),
    Expected("vacuum-2-pulses-121-46.csv", "vacuum", INDIA, F, "window.pulses", "two pulses"),
    Expected("vacuum-3-pulses-135-31.csv", "vacuum", INDIA, P, "window", "the row of 135 °C"),
    Expected("vacuum-3-pulses-121-44.csv", "vacuum", INDIA, F, "window.temperature", "44 min"),
    Expected("vacuum-3-pulses-121-46.csv", "gravity", INDIA, F, "window.temperature",
             "the same trace of a gravity autoclave: 60 min asked"),
    Expected("vacuum-3-pulses-121-46.csv", "vacuum", WHO, P, "window", "WHO: 30 min"),
    # --- steam
    Expected("air-left-in.csv", "gravity", INDIA, F, "steam.air_left_in",
             "the pressure of 121 °C, 6.5 K colder than its steam"),
    Expected("superheated.csv", "gravity", INDIA, P, "window", "3 K over saturation: a remark"),
    Expected("gravity-121-61.csv", "gravity", INDIA, F, "load.wet", "the load came out wet",
             Told(load_wet=True)),
    Expected("gravity-121-61.csv", "gravity", INDIA, F, "indicator", "the indicator did not turn",
             Told(indicator_turned=False)),
    # --- pressure missing
    Expected("no-pressure.csv", "gravity", INDIA, C, "window.pressure", "15 psi is not shown"),
    Expected("no-pressure.csv", "gravity", WHO, P, "window", "WHO asks for no pressure"),
    # --- sensors and units
    Expected("dead-probe.csv", "gravity", INDIA, C, "trace", "24.7 °C from first to last"),
    Expected("frozen-probe.csv", "gravity", INDIA, C, "trace",
             "121.9 °C to the end while the pressure fell to the air's"),
    Expected("fahrenheit-called-celsius.csv", "gravity", INDIA, C, "trace",
             "251 '°C' at the pressure of 121"),
    Expected("fahrenheit-no-pressure.csv", "gravity", WHO, C, "trace", "251 '°C' in an autoclave"),
    Expected("fahrenheit-declared.csv", "gravity", INDIA, P, "window", "the header says _f"),
    Expected("gauge-called-absolute.csv", "gravity", INDIA, C, "trace",
             "103 kPa 'absolute' at 121 °C: an atmosphere is missing"),
    Expected("gauge-declared.csv", "gravity", INDIA, P, "window", "pressure_bar_gauge"),
    # --- the file
    Expected("text-in-numbers.csv", "gravity", INDIA, C, "trace", "'Err' and '121.6 C'"),
    Expected("time-backwards.csv", "gravity", INDIA, C, "trace", "two lines changed places"),
    Expected("readings-twice.csv", "gravity", INDIA, P, "window", "a reading thrice, all equal"),
    Expected("readings-differ.csv", "gravity", INDIA, C, "trace", "two readings at one time"),
    Expected("gap-in-exposure.csv", "gravity", INDIA, C, "window.gap",
             "six minutes missing at 121 °C: 60 min only if they are counted"),
    Expected("gap-in-heating.csv", "gravity", INDIA, P, "window", "missing below 100 °C"),
    Expected("missing-cells.csv", "gravity", INDIA, C, "window.gap", "three pressures empty"),
    Expected("decimal-comma.csv", "gravity", INDIA, P, "window", "semicolons, decimal commas"),
    Expected("decimal-comma-by-commas.csv", "gravity", INDIA, C, "trace",
             "decimal commas between commas: five cells under three headers"),
    Expected("rows.json", "gravity", INDIA, P, "window", "a list of objects"),
    Expected("lists.json", "gravity", INDIA, P, "window", "an object of lists"),
    # --- clocks
    Expected("clock-with-zone.csv", "gravity", INDIA, P, "window", "offset in the file"),
    Expected("clock-without-zone.csv", "gravity", INDIA, C, "trace", "no zone, none declared"),
    Expected("clock-without-zone.csv", "gravity", INDIA, P, "window", "the zone is declared",
             Told(zone=KOLKATA, started=datetime.fromisoformat("2026-07-01T09:31:00+05:30"))),
    Expected("clock-with-zone.csv", "gravity", INDIA, C, "trace", "5.5 h from the cycle's start",
             Told(started=datetime.fromisoformat("2026-07-01T09:30:00+00:00"))),
    Expected("clock-with-zone.csv", "gravity", INDIA, C, "trace", "+05:30 is not London's time",
             Told(zone=ZoneInfo("Europe/London"))),
    # --- dry heat, microwave, texts without a window
    Expected("dry-heat-185-91.csv", "dry_heat", INDIA, P, "window", "91 min of 165"),
    Expected("dry-heat-185-89.csv", "dry_heat", INDIA, F, "window.temperature", "under 90 min"),
    Expected("dry-heat-cycle-140.csv", "dry_heat", INDIA, F, "window.cycle", "92 min of 140"),
    Expected("microwave.csv", "microwave", INDIA, C, "window", "the text gives no temperature"),
    Expected("gravity-121-61.csv", "gravity", ENGLAND, C, "window", "follow the licence"),
    # --- burning
    Expected("burn-two-chambers.csv", "incinerator", INDIA, P, "chamber.residence",
             "over 800 and 1000 °C throughout, 2.1 s", Told(residence_s=2.1)),
    Expected("burn-two-chambers.csv", "incinerator", INDIA, F, "chamber.residence", "1.9 s",
             Told(residence_s=1.9)),
    Expected("burn-two-chambers.csv", "incinerator", INDIA, C, "chamber.residence",
             "nobody reckoned the residence time"),
    Expected("burn-secondary-dips.csv", "incinerator", INDIA, F, "chamber.temperature",
             "940 °C in the middle of the burn", Told(residence_s=2.1)),
    Expected("burn-one-chamber.csv", "incinerator", INDIA, C, "chamber.temperature",
             "which chamber?", Told(residence_s=2.1)),
    Expected("burn-at-1200.csv", "incinerator_1200", INDIA, F, "chamber.temperature",
             "1200.0 °C is not above 1200"),
    Expected("burn-above-1200.csv", "incinerator_1200", INDIA, P, "chamber.temperature",
             "above 1200 °C for 40 min"),
]
