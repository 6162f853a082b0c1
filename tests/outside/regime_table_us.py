"""The United States' federal floor and two States, and good practice, row by row.

Written anew from notes on the published text, not from the regimes' files. Status: READ in an
excerpt; MEM-H, MEM-M, MEM-L from memory, over 90, 70 to 90, under 70 % sure; HOUSE without source.
"""

# ruff: noqa: ISC004  a long cell goes on in the next line
# fmt: off

FEDERAL_SINCE = "1991-12-06"
FLORIDA_SINCE = "2024-01-01"
CAROLINA_SINCE = "1990-01-01"
PRACTICE_SINCE = "1900-01-01"
DOT = "2024-10-01.."
OSHA = "1910.1030(b), (d)(4)(iii), (g)(1)"
RED = "red, or biohazard label; biohazard"
ANY = "bag+sharps_container+rigid_bin+box+bottle"

FEDERAL: list[tuple[str, ...]] = [
    ("material", "infectious", "regulated pathological category-a",
     "grouped by what goes in", "HOUSE"),
    ("material", "chemical", "cytotoxic medicines chemicals", "grouped by what goes in", "HOUSE"),
    ("material", "sharps", "sharps", "grouped by what goes in", "HOUSE"),
    ("category", "regulated", f"{RED}; items with liquid or caked blood or other infectious "
     "material, contaminated plastics, contaminated laundry that is discarded; UN 3291", OSHA,
     "READ"),
    ("category", "pathological", f"{RED}; tissues, organs, body parts; UN 3291", OSHA, "MEM-H"),
    ("category", "sharps", f"{RED}; needles, syringes with needles, scalpels, broken contaminated "
     "glass; UN 3291", OSHA, "READ"),
    ("category", "category-a", f"{RED}; waste of category A; UN 2814, UN 2900 or UN 3549",
     "49 CFR 173.134(a)(1)", "READ", DOT),
    ("category", "cytotoxic", "no colour given; cytotoxic; bulk cytotoxic drugs, items with "
     "traces of them", "RCRA U and P lists", "MEM-H"),
    ("category", "medicines", "no colour given; none; medicines that are hazardous waste",
     "40 CFR 266 subpart P", "MEM-H"),
    ("category", "chemicals", "no colour given; none; chemicals that are hazardous waste", "RCRA",
     "MEM-H"),
    ("category", "amalgam", "no colour given; none; amalgam", "40 CFR 441", "MEM-H"),
    ("container", "regulated pathological", "bag+rigid_bin+box: closable, holds all contents, "
     "leak-proof, labelled or red", "(d)(4)(iii)(B)", "READ"),
    ("container", "sharps", "sharps_container: closable, puncture-resistant, leak-proof on sides "
     "and bottom, labelled or colour-coded", "(d)(4)(iii)(A)", "READ"),
    ("container", "category-a", "rigid_bin+box: packaging for category A", "49 CFR 173.134(a)(1)",
     "READ", DOT),
    ("container", "cytotoxic medicines chemicals amalgam", f"{ANY}: as its own rule says",
     "RCRA; 40 CFR 266 subpart P; 40 CFR 441", "MEM-H"),
    ("route", "cytotoxic", "incinerate|incinerate_1200 > ash_landfill|hazardous_landfill",
     "RCRA U and P lists", "MEM-H"),
    ("packing", "regulated pathological sharps", "closed", "(d)(4)(iii)", "READ"),
    ("packing", "regulated pathological sharps", "sealed_transport", "49 CFR 173.197", "READ",
     DOT),
    ("limit", "bag-impact", "min 165 g; ASTM D1709", "173.197(e)", "READ", DOT),
    ("limit", "bag-tear", "min 480 g; ASTM D1922", "173.197(e)", "READ", DOT),
    ("limit", "bag-volume", "max 175 l", "173.197(e)", "MEM-M", DOT),
    ("limit", "bag-load", "max 10 kg", "173.197(e)", "MEM-M", DOT),
    ("limit", "liquid-volume", "max 19 l", "173.197(e)", "MEM-M", DOT),
    ("limit", "sharps-reusable-volume", "max 40 gal", "173.197(e)(3)", "READ", DOT),
    ("limit", "bulk-mark-two-sides", "max 3785 l; below; each side and end from there",
     "172.323", "MEM-M", DOT),
    ("limit", "bulk-mark-size", "min 152.4 mm", "172.323", "MEM-M", DOT),
    ("limit", "small-quantity-inner-mass", "max 8.8 lb; or 1 gal", "173.6(a)(4)", "READ", DOT),
    ("limit", "small-quantity-outer-mass", "max 35.2 lb; or 4.2 gal", "173.6(a)(4)", "READ", DOT),
    ("limit", "small-quantity-vehicle", "max 440 lb", "173.6(a)(4)", "READ", DOT),
    ("limit", "written-opinion", "max 15 days", "1910.1030(f)", "MEM-H"),
    ("retention", "employer: training records", "3 years", "1910.1030(h)", "MEM-H"),
    ("retention", "employer: medical record of an exposure, after employment ends", "30 years",
     "1910.1030(h)", "MEM-H"),
    ("retention", "employer: sharps injury log", "5 years", "1904.33", "MEM-H"),
    ("label", "regulated pathological sharps category-a", "biohazard symbol, fluorescent orange "
     "or orange-red, lettering in a contrasting colour; or a red bag or container instead",
     "(g)(1)(i)(C), (E)", "READ"),
    ("caution", "sharps", "unsafe; second container if leakage is possible",
     "(d)(4)(iii)(A)(3)", "READ"),
    ("caution", "regulated pathological", "unsafe; second container if the outside is "
     "contaminated", "(d)(4)(iii)(B)(2)", "MEM-H"),
    ("caution", "*", "wrong; UN 3373 is for specimens of category B", "49 CFR 173.134", "READ",
     DOT),
]

FLORIDA: list[tuple[str, ...]] = [
    ("holding", "regulated pathological", "30 days first_item; generator", "64E-16.004", "READ"),
    ("holding", "sharps", "30 days sealed; generator", "64E-16.004", "READ"),
    ("holding", "regulated pathological sharps", "30 days collected; off_site+transfer_station",
     "64E-16.004", "READ"),
    ("caution", "*", "unsafe; without breaking its seal", "64E-16.004", "READ"),
]

# 35 °F = (35 - 32) x 5/9 = 5/3 °C; 45 °F = 65/9 °C: cut to 0.0001 °C inside the band.
CAROLINA: list[tuple[str, ...]] = [
    ("holding", "regulated pathological sharps", "7 calendar_days dispatched; "
     "off_site+transfer_station; ambient+outdoors+frozen", "13B .1206", "READ"),
    ("store_band", "chilled", "1.6667 to 7.2222 °C", "13B .1206", "READ"),
]

PRACTICE: list[tuple[str, ...]] = [
    ("loss", "autoclave", "-0.05 to 0.15",
     "steam wets a load, drying after it takes water", "HOUSE"),
    ("loss", "hydroclave", "0 to 0.30", "the load is dried", "HOUSE"),
    ("loss", "microwave", "-0.05 to 0.15", "steam in, water out", "HOUSE"),
    ("loss", "shred", "0 to 0.02", "dust and what stays in the machine", "HOUSE"),
    ("loss", "incinerate", "0.75 to 0.95", "ash is what remains", "HOUSE"),
    ("loss", "incinerate_1200", "0.75 to 0.98", "ash is what remains", "HOUSE"),
    ("loss", "plasma", "0.80 to 0.99", "slag is what remains", "HOUSE"),
    ("packing", "*", "double_bagged bag", "double-packed before transport", "HOUSE"),
    ("packing", "*", "closed", "closed before it is moved", "HOUSE"),
    ("packing", "*", f"fill_max 0.75 {ANY}", "closed at three-quarters", "HOUSE"),
    ("packing", "*", "sealed_transport", "moved in closed, sealed containers", "HOUSE"),
    ("time", "holding_near", "6 h", "warned before the limit", "HOUSE"),
    ("time", "transit_max", "24 h", "in transit no longer than a day", "HOUSE"),
    ("time", "record_within", "24 h", "recorded within a day", "HOUSE"),
    ("time", "import_within", "720 h", "older records brought in within 30 days", "HOUSE"),
    ("weight", "in_service_factor", "2", "OIML R 76-1; SI 1995/1907 Sch. 2 para 4", "READ"),
    ("weight", "weight_max", "bag+box 30000 g", "heavier is a typing error", "HOUSE"),
    ("weight", "weight_max", "sharps_container+bottle 15000 g", "heavier is a typing error",
     "HOUSE"),
    ("weight", "weight_max", "rigid_bin 60000 g", "heavier is a typing error", "HOUSE"),
    ("weight", "weight_max", "transport 500000 g", "heavier is a typing error", "HOUSE"),
    ("store_band", "chilled", "2 to 8 °C", "chilled store", "HOUSE"),
    ("store_band", "frozen", "None to 0 °C", "frozen store", "HOUSE"),
    ("limit", "exposure-care-latest", "max 72 h", "after an exposure", "READ"),
    ("limit", "exposure-care-best", "max 2 h", "after an exposure", "READ"),
    ("limit", "trace-gap", "max 120 s", "gaps in a trace", "HOUSE"),
    ("limit", "trace-gap-usual", "max 10 times", "gaps in a trace", "HOUSE"),
    ("limit", "trace-within", "max 24 h", "every cycle shown by its trace", "HOUSE"),
    ("limit", "indicator-in-each-load", "min 1 per batch", "each load carries an indicator",
     "HOUSE"),
    ("limit", "machine-for-waste-only", "equals 1 use",
     "autoclaves for waste are dedicated to it", "HOUSE"),
    ("limit", "machine-capacity", "max 100 %", "no more than the machine takes", "HOUSE"),
    ("limit", "one-cycle-at-a-time", "max 1 cycles", "one cycle at a time", "HOUSE"),
    ("limit", "calibration-interval", "max 12 months", "sensors calibrated once a year", "HOUSE"),
    ("limit", "trace-start", "max 15 min", "the trace is of this cycle", "HOUSE"),
    ("limit", "steam-saturation", "max 2 K; during exposure", "saturated steam", "MEM-M"),
    ("limit", "steam-saturation-time", "max 60 s; unbroken", "saturated steam", "HOUSE"),
    ("limit", "probe-spread", "max 2 K; during exposure", "probes agree", "MEM-M"),
    ("limit", "probe-drift", "max 1 K", "probes agree", "HOUSE"),
    ("limit", "vacuum-pulse", "max 50 kPa; absolute", "vacuum pulses", "HOUSE"),
    ("limit", "pit-close", "max 0.5 m", "pits", "HOUSE"),
    ("limit", "wet-loads", "max 0 loads", "a wet load counts as untreated", "HOUSE"),
    ("caution", "*", "unsafe; Never re-open or compress", "usual caution", "HOUSE"),
    ("caution", "*", "unsafe; Never recap", "usual caution", "HOUSE"),
    ("caution", "*", "unsafe; Hypochlorite never meets acid", "usual caution; general chemistry",
     "MEM-H"),
    ("caution", "*", "unsafe; Cytotoxics never go into an autoclave", "usual caution", "HOUSE"),
    ("caution", "*", "unsafe; wash with soap and water", "after an exposure", "READ"),
    ("caution", "*", "unsafe; Pressure vessels", "usual caution", "HOUSE"),
    ("caution", "*", "unsafe; Wear protective gear", "usual caution", "HOUSE"),
    ("caution", "*", "wrong; Local codes, the licence and the site's safety officer come first",
     "usual caution", "HOUSE"),
]
