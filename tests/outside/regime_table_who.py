"""WHO's guidance row by row: Safe management of wastes from health-care activities, 2nd ed., 2014.

Written anew from notes on the published text, not from the regime's file. Status: READ in an
excerpt; MEM-H, MEM-M, MEM-L from memory, over 90, 70 to 90, under 70 % sure; HOUSE without source.
"""

# ruff: noqa: ISC004  a long cell goes on in the next line
# fmt: off

SINCE = "2014-01-01"
T = "ch. 2, Table 2.1; ch. 7, Table 7.1"
BINS = "ch. 7, Table 7.1"
STORE = "ch. 7, storage"
GRID = "Table 8.3; kept in spirit in 2014, ch. 8"
INC = "incinerate|incinerate_1200"
ASH = "ash_landfill|hazardous_landfill"
KILL = "autoclave|microwave|chemical|hypochlorite"
OUT = "landfill|energy_recovery|recycler"
SOFT = "highly-infectious infectious pathological"
PIT = "placenta pit"
BED, HEAD = "kg/bed/day", "kg/head/year"

ROWS: list[tuple[str, ...]] = [
    ("material", "infectious", "highly-infectious infectious pathological",
     "grouped by what goes in", "HOUSE"),
    ("material", "chemical", "pharmaceutical cytotoxic chemical",
     "grouped by what goes in", "HOUSE"),
    ("material", "sharps", "sharps", "grouped by what goes in", "HOUSE"),
    ("material", "general", "general", "grouped by what goes in", "HOUSE"),
    # Table 2.1 and 7.1: category, colour, symbol, what goes in
    ("category", "highly-infectious", "yellow, marked highly infectious; biohazard; laboratory "
     "cultures and stocks, waste of patients in isolation with highly infectious disease", T,
     "MEM-H"),
    ("category", "infectious", "yellow; biohazard; dressings, swabs and bandages with blood or "
     "body fluids, contaminated plastics, contaminated linen and mattresses; UN 3291", T, "MEM-H"),
    ("category", "pathological", "yellow; biohazard; tissues, organs and body parts, fetuses, "
     "blood and body fluids, placentas; UN 3291", T, "MEM-H"),
    ("category", "sharps", "yellow, marked sharps; biohazard; needles, syringes with needles, "
     "scalpels and blades, broken glass; UN 3291", T, "MEM-H"),
    ("category", "pharmaceutical", "brown; none; expired and unused medicines, items contaminated "
     "with medicines", T, "MEM-H"),
    ("category", "cytotoxic", "no colour given; marked cytotoxic; cytotoxic; cytotoxic drugs, "
     "items contaminated with cytotoxic drugs, excreta of patients treated with them", T, "MEM-H"),
    ("category", "chemical", "brown; none; laboratory reagents, disinfectants, solvents, waste "
     "with heavy metals, as mercury and amalgam", T, "MEM-H"),
    ("category", "radioactive", "no colour given; radiation symbol; radiation; items contaminated "
     "with radionuclides, unused liquids of radiotherapy or research", T, "MEM-H"),
    ("category", "general", "black; none; paper, packaging and food, unbroken uncontaminated "
     "glass", T, "MEM-H"),
    ("container", "highly-infectious", "bag+rigid_bin+box+bottle: strong, leak-proof bag or "
     "container that can be autoclaved, marked highly infectious", BINS, "MEM-H"),
    ("container", "infectious pathological", "bag+rigid_bin+box: leak-proof plastic bag or "
     "container", BINS, "MEM-H"),
    ("container", "sharps", "sharps_container: puncture-proof container, marked sharps", BINS,
     "MEM-H"),
    ("container", "pharmaceutical chemical", "bag+rigid_bin+box+bottle: plastic bag or rigid "
     "container, with hazard symbol", BINS, "MEM-H"),
    ("container", "cytotoxic", "bag+sharps_container+rigid_bin+box+bottle: strong, leak-proof "
     "container, marked cytotoxic", BINS, "MEM-H"),
    ("container", "radioactive", "rigid_bin+box: lead box, labelled with the radiation symbol",
     BINS, "MEM-H"),
    ("container", "general", "bag+rigid_bin: plastic bag", BINS, "MEM-H"),
    # Chapter 7: storage and collection
    ("holding", SOFT, "72 hours first_item; ambient+outdoors; temperate winter", STORE, "MEM-H"),
    ("holding", SOFT, "48 hours first_item; ambient+outdoors; temperate summer", STORE, "MEM-H"),
    ("holding", SOFT, "48 hours first_item; ambient+outdoors; warm cool", STORE, "MEM-H"),
    ("holding", SOFT, "24 hours first_item; ambient+outdoors; warm hot", STORE, "MEM-H"),
    ("store_band", "chilled", "3 to 8 °C", STORE, "READ"),
    ("time", "collect_from_ward_within", "24 h", "ch. 7, collection", "MEM-H"),
    # Treatment: matrix of regimes and the suitability grid
    ("route", "infectious", f"{KILL} > {OUT}", "ch. 8", "MEM-H"),
    ("route", "infectious", f"{KILL} > shred|mutilate > {OUT}", "ch. 8", "MEM-H"),
    ("route", "infectious pathological sharps", f"{INC} > {ASH}", "ch. 8", "MEM-H"),
    ("route", "infectious", "deep_burial where emergency_or_interim", "Table 8.3", "MEM-H"),
    ("route", "highly-infectious", f"autoclave > {OUT}", "ch. 8", "MEM-H"),
    ("route", "highly-infectious", f"autoclave > shred|mutilate > {OUT}", "ch. 8", "MEM-H"),
    ("route", "highly-infectious", f"autoclave > {INC} > {ASH}", "ch. 8", "MEM-H"),
    ("route", "pathological", "cremation|deep_burial|placenta_pit", "ch. 8", "MEM-H"),
    ("route", "sharps", f"{KILL} > shred > landfill|recycler", "ch. 8", "MEM-H"),
    ("route", "sharps", "encapsulate > landfill|hazardous_landfill", "ch. 8", "MEM-H"),
    ("route", "sharps", "sharps_pit", "ch. 8", "MEM-H"),
    ("route", "pharmaceutical cytotoxic chemical", "return_to_supplier", "ch. 8", "MEM-H"),
    ("route", "pharmaceutical", f"{INC} > {ASH}", "ch. 8", "MEM-H"),
    ("route", "pharmaceutical", "encapsulate|inertise > landfill|hazardous_landfill", "ch. 8",
     "MEM-H"),
    ("route", "pharmaceutical", "landfill", "ch. 8", "MEM-H"),
    ("route", "cytotoxic", f"incinerate_1200 > {ASH}", "ch. 8", "MEM-H"),
    ("route", "cytotoxic", "encapsulate|inertise > hazardous_landfill", "ch. 8", "MEM-H"),
    ("route", "chemical", "material_recovery|hazardous_landfill", "ch. 8", "MEM-H"),
    ("route", "chemical", f"{INC} > {ASH}", "ch. 8", "MEM-H"),
    ("route", "chemical", "encapsulate > hazardous_landfill", "Table 8.3", "MEM-H"),
    ("route", "radioactive", f"decay_storage > {OUT}|sewer", "ch. 8", "MEM-H"),
    ("route", "radioactive", f"decay_storage > autoclave|microwave > {OUT}", "ch. 8", "MEM-H"),
    ("route", "radioactive", f"decay_storage > {INC} > {ASH}", "ch. 8", "MEM-H"),
    ("route", "general", OUT, "ch. 8; Table 7.1", "MEM-H"),
    ("denied", "*", f"{INC} after hypochlorite; unsafe", "ch. 8", "MEM-H"),
    ("denied", "highly-infectious", "dispatch unless_after autoclave; unsafe", "ch. 8", "MEM-H"),
    ("denied", "cytotoxic chemical", "autoclave|microwave; unsafe", "ch. 8", "MEM-H"),
    ("denied", "radioactive", f"autoclave|microwave|{INC} unless_after decay_storage; unsafe",
     "ch. 8", "MEM-H"),
    ("denied", "pathological", "autoclave|microwave; unsafe", "ch. 8", "MEM-H"),
    ("denied", "cytotoxic", "landfill|sewer; unsafe", "ch. 8", "MEM-H"),
    ("denied", "pharmaceutical chemical", "sewer; unsafe", "ch. 8", "MEM-H"),
    ("denied", "pathological", "placenta_pit after hypochlorite; unsafe", PIT, "READ"),
    ("denied", "infectious", "encapsulate|inertise|sewer; wrong", GRID, "MEM-H"),
    ("denied", "infectious", f"landfill unless_after {KILL}|{INC}; wrong", "ch. 8", "MEM-H"),
    ("denied", "pathological", "chemical|hypochlorite|encapsulate|inertise|landfill|sewer; wrong",
     GRID, "MEM-H"),
    ("denied", "sharps", "inertise|sewer; wrong", GRID, "MEM-H"),
    ("denied", "sharps", f"landfill unless_after {KILL}|encapsulate|{INC}; wrong", GRID, "MEM-H"),
    ("denied", "pharmaceutical", f"{KILL}; wrong", GRID, "MEM-H"),
    ("denied", "cytotoxic", "chemical|hypochlorite|deep_burial; wrong", GRID, "MEM-H"),
    ("denied", "chemical", "chemical|hypochlorite|landfill|inertise; wrong", GRID, "MEM-H"),
    ("denied", "radioactive", "chemical|hypochlorite|encapsulate|deep_burial|landfill|inertise "
     "unless_after decay_storage; wrong", GRID, "MEM-H"),
    ("packing", "*", "fill_max 0.75 bag+sharps_container", "ch. 7, collection", "MEM-H"),
    ("packing", "*", "closed bag", "ch. 7, collection", "READ"),
    ("packing", "highly-infectious", "double_bagged bag", "ch. 7", "MEM-M"),
    ("packing", "general", "double_bagged exempt", "general waste needs no outer bag", "HOUSE"),
    ("window", "autoclave", "121 °C 30 min", "ch. 8", "MEM-M"),
    ("window", "incinerate", "850 °C", "ch. 8", "MEM-H"),
    ("window", "incinerate_1200", "1200 °C, above 2 s", "ch. 8", "MEM-H"),
    ("mix", "inertise", "waste 65 lime 15 cement 15 water 5", "s. 2.4; WHO ch. 8", "MEM-H"),
    ("mix", "encapsulate", "lime 15 cement 15 water 5", "s. 2.3; WHO ch. 8", "READ"),
    # Numbers
    ("limit", "inactivation-vegetative", "min 6 log10", "level III", "READ"),
    ("limit", "inactivation-spores", "min 4 log10", "level III", "READ"),
    ("limit", "prion-minutes", "min 18 min", "ch. 8", "MEM-M"),
    ("limit", "encapsulation-fill", "max 0.75 of the volume", "s. 2.3", "READ"),
    ("limit", "medicines-in-landfill", "max 1 %", "s. 2.2", "READ"),
    ("limit", "medicines-in-landfill-emergency", "max 10 %; above 50 t a day", "s. 2.2", "READ"),
    ("limit", "decay-half-lives", "min 10 half-lives", "ch. 7, ch. 8", "MEM-H"),
    ("limit", "burnable-calorific-value", "min 2000 kcal/kg", "ch. 8", "MEM-H"),
    ("limit", "burnable-combustible", "min 60 %", "ch. 8", "MEM-H"),
    ("limit", "burnable-solids", "max 5 %", "ch. 8", "MEM-H"),
    ("limit", "burnable-fines", "max 20 %", "ch. 8", "MEM-H"),
    ("limit", "burnable-moisture", "max 30 %", "ch. 8", "MEM-H"),
    ("limit", "pit-groundwater", "min 1.5 m", "pits", "READ"),
    ("limit", "pit-water-source", "min 50 m", "ch. 8", "MEM-M"),
    ("limit", "placenta-pit-rest", "min 2 years", PIT, "READ"),
    ("limit", "placenta-pit-concrete", "equals 0.5 m", PIT, "READ"),
    ("limit", "placenta-pit-ring", "equals 1 m", PIT, "READ"),
    ("limit", "placenta-pit-liquid", "equals 90 %", PIT, "READ"),
    ("limit", "safety-box", "max 100 syringes", "safety boxes", "MEM-H"),
    ("limit", "share-general-min", "min 75 %", "ch. 2", "READ"),
    ("limit", "share-general-max", "max 90 %", "ch. 2", "READ"),
    ("limit", "share-hazardous-min", "min 10 %", "ch. 2", "READ"),
    ("limit", "share-hazardous-max", "max 25 %", "ch. 2", "READ"),
    ("limit", "fact-sheet-general", "equals 85 %", "fact sheet", "READ"),
    ("limit", "fact-sheet-hazardous", "equals 15 %", "fact sheet", "READ"),
    ("limit", "hazardous-high-income", f"max 0.5 {BED}", "fact sheet", "READ"),
    ("limit", "hazardous-low-income", f"equals 0.2 {BED}", "fact sheet", "MEM-H"),
    ("limit", "rate-university-min", f"min 4.1 {BED}", "Table 2.4", "MEM-H"),
    ("limit", "rate-university-max", f"max 8.7 {BED}", "Table 2.4", "MEM-H"),
    ("limit", "rate-general-hospital-min", f"min 2.1 {BED}", "Table 2.4", "MEM-H"),
    ("limit", "rate-general-hospital-max", f"max 4.2 {BED}", "Table 2.4", "MEM-H"),
    ("limit", "rate-district-min", f"min 0.5 {BED}", "Table 2.4", "MEM-H"),
    ("limit", "rate-district-max", f"max 1.8 {BED}", "Table 2.4", "MEM-H"),
    ("limit", "rate-primary-centre-min", "min 0.05 kg/patient/day", "Table 2.4", "MEM-H"),
    ("limit", "rate-primary-centre-max", "max 0.2 kg/patient/day", "Table 2.4", "MEM-H"),
    ("limit", "rate-north-america-min", f"min 7 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-north-america-max", f"max 10 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-western-europe-min", f"min 3 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-western-europe-max", f"max 6 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-latin-america", f"equals 3 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-asia-high-min", f"min 2.5 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-asia-high-max", f"max 4 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-asia-middle-min", f"min 1.8 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-asia-middle-max", f"max 2.2 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-europe-min", f"min 1.4 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-europe-max", f"max 2 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-mediterranean-min", f"min 1.3 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-eastern-mediterranean-max", f"max 3 {BED}", "Table 2.5", "MEM-H"),
    ("limit", "rate-high-income-all-min", f"min 1.1 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-high-income-all-max", f"max 12.0 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-high-income-hazardous-min", f"min 0.4 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-high-income-hazardous-max", f"max 5.5 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-middle-income-all-min", f"min 0.8 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-middle-income-all-max", f"max 6.0 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-middle-income-hazardous-min", f"min 0.3 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-middle-income-hazardous-max", f"max 0.4 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-low-income-all-min", f"min 0.5 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "rate-low-income-all-max", f"max 3.0 {HEAD}", "Table 2.3", "MEM-H"),
    ("limit", "planning-general", "equals 80 %", "s. 2", "MEM-H"),
    ("limit", "planning-infectious", "equals 15 %", "s. 2", "MEM-H"),
    ("limit", "planning-sharps", "equals 1 %", "s. 2", "MEM-H"),
    ("limit", "planning-chemical", "equals 3 %", "s. 2", "MEM-H"),
    ("limit", "planning-special", "max 1 %", "s. 2", "MEM-H"),
    # Labels, papers, cautions
    ("label", "*", "date; type of waste; place of generation: ward or facility; weight, when "
     "weighed; name of the handler (optional)", "ch. 7", "MEM-M"),
    ("label", "radioactive", "radiation symbol; radionuclide; activity; date", "ch. 7, ch. 8",
     "MEM-H"),
    ("paper", "Consignment note", "waste classes; source; pick-up date; destination; driver; "
     "number of containers or volume; receipt; the completed copy returns to the generator",
     "ch. 7; 1999, s. 7.3.2", "MEM-H"),
    ("paper", "Report of an exposure", "who; when; where; how; device; type of waste; source; "
     "first aid; assessment for prophylaxis; follow-up", "ch. 11", "MEM-H"),
    ("caution", SOFT, "unsafe; Never compact untreated", "ch. 7", "READ"),
    ("caution", "sharps", "late; can be stored without problems", "ch. 7", "READ"),
    ("caution", "*", "wrong; Never move an unlabelled bag", "ch. 7", "READ"),
    ("caution", "*", "wrong; never chutes", "ch. 7", "MEM-H"),
    ("caution", "*", "wrong; impermeable floor, drain, water, lock and ventilation", "ch. 7",
     "MEM-H"),
    ("caution", "sharps", "unsafe; Hub cutters only as a defined programme", "ch. 8", "MEM-M"),
    ("caution", "*", "unsafe; Never burn pressurised containers", "ch. 8", "MEM-H"),
    ("caution", "cytotoxic", "unsafe; Never decant", "ch. 7", "MEM-H"),
    ("caution", "*", "unsafe; lined, watertight, covered and fenced", "pits", "READ"),
    ("caution", "*", "unsafe; report at once", "ch. 11", "MEM-H"),
]
