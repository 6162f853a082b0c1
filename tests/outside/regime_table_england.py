"""England's rules row by row: HTM 07-01, SI 2005/894, transfer stations, ADR, List of Wastes.

Written anew from notes on the published text, not from the regime's file. Status: READ in an
excerpt; MEM-H, MEM-M, MEM-L from memory, over 90, 70 to 90, under 70 % sure; HOUSE without source.
"""

# ruff: noqa: ISC004  a long cell goes on in the next line
# fmt: off

SINCE = "2022-01-01"
LAW, TRANSFER, EU = "2005-07-16..", "2022-01-18..", "2010-01-01.."
PERMIT, ROAD, NHS = "2020-01-01..", "2017-01-01..", "2023-01-01.."
C, CAT = "colour coding", "colour coding; List of Wastes"
HOLD = "storage limits"
AT = "received; transfer_station"
BURN = "incinerate|incinerate_1200 > ash_landfill|hazardous_landfill"
OTHER = "autoclave|microwave|hydroclave|dry_heat|chemical|hypochlorite"
HOT = "autoclave|microwave|hydroclave|dry_heat"

ROWS: list[tuple[str, ...]] = [
    ("material", "infectious", "yellow category-a orange anatomical",
     "grouped by what goes in", "HOUSE"),
    ("material", "chemical", "cytotoxic medicines chemicals", "grouped by what goes in", "HOUSE"),
    ("material", "general", "domestic", "grouped by what goes in", "HOUSE"),
    # 4.1: colours, codes, UN numbers
    ("category", "yellow", "yellow; biohazard; infectious waste contaminated with medicines or "
     "chemicals, sharps with medicines, not cytotoxic; 18 01 03*, 18 01 06*, 18 01 09; UN 3291",
     CAT, "READ"),
    ("category", "category-a", "yellow; biohazard; waste of patients with a disease of "
     "category A; 18 01 03*; UN 2814, UN 2900 or UN 3549", CAT, "MEM-H"),
    ("category", "orange", "orange; biohazard; dressings, swabs and gloves of infectious patients, "
     "contaminated plastics, contaminated linen, sharps without medicines; 18 01 03*; UN 3291",
     CAT, "READ"),
    ("category", "anatomical", "red lid; biohazard; body parts, organs, blood bags, placentas; "
     "18 01 02, 18 01 03*; UN 3291", CAT, "READ"),
    ("category", "cytotoxic", "purple lid or bag; cytotoxic; cytotoxic and cytostatic medicines, "
     "items and sharps contaminated with them; 18 01 08*, 18 01 03*", CAT, "READ"),
    ("category", "medicines", "blue lid; none; medicines that are not cytotoxic or cytostatic, in "
     "their packaging; 18 01 09", CAT, "READ"),
    ("category", "amalgam", "white; none; amalgam, teeth with amalgam, amalgam capsules; "
     "18 01 10*", CAT, "MEM-H"),
    ("category", "offensive", "yellow with black stripe; none; incontinence and hygiene waste, "
     "plaster casts, dressings and gloves not infectious; 18 01 04, 20 01 99", CAT, "READ"),
    ("category", "domestic", "black or clear; none; paper, packaging, food and similar; 20 03 01",
     CAT, "READ"),
    ("category", "chemicals", "no colour given; none; chemicals, hazardous or not; 18 01 06*, "
     "18 01 07", CAT, "MEM-H"),
    ("category", "radioactive", "yellow or purple, with trefoil; radiation; waste contaminated "
     "with radionuclides", CAT, "MEM-H"),
    ("container", "yellow", "bag+sharps_container+rigid_bin: yellow bag, or sharps container with "
     "yellow lid", C, "READ"),
    ("container", "category-a", "rigid_bin: yellow rigid container", C, "MEM-H"),
    ("container", "orange", "bag+sharps_container+rigid_bin: orange bag, or sharps container with "
     "orange lid", C, "READ"),
    ("container", "anatomical", "rigid_bin: rigid container with red lid", C, "READ"),
    ("container", "cytotoxic", "bag+sharps_container+rigid_bin: purple bag, or container with "
     "purple lid", C, "READ"),
    ("container", "medicines", "rigid_bin+box+bottle: container with blue lid", C, "READ"),
    ("container", "amalgam", "rigid_bin+bottle: white rigid container with mercury suppressant",
     C, "MEM-H"),
    ("container", "offensive", "bag: yellow bag with black stripe", C, "READ"),
    ("container", "domestic", "bag: black or clear bag", C, "READ"),
    ("container", "chemicals", "rigid_bin+box+bottle: its own container", C, "MEM-H"),
    ("container", "radioactive", "bag+sharps_container+rigid_bin: yellow or purple container with "
     "trefoil, as the permit says", C, "MEM-H"),
    # 4.1a: storage at a transfer station
    ("holding", "yellow category-a orange", f"14 days {AT}", HOLD, "READ", TRANSFER),
    ("holding", "anatomical", f"14 days {AT}; chilled+frozen", HOLD, "READ", TRANSFER),
    ("holding", "anatomical", f"24 hours {AT}; ambient+outdoors; weekend 72", HOLD, "READ",
     TRANSFER),
    ("holding", "offensive", f"14 days {AT}; ambient+chilled+frozen", HOLD, "READ", TRANSFER),
    ("holding", "offensive", f"7 days {AT}; outdoors", HOLD, "READ", TRANSFER),
    ("holding", "cytotoxic medicines amalgam chemicals", f"6 months {AT}", HOLD, "READ", TRANSFER),
    ("limit", "transfer-throughput", "max 5000 t/year", "scope", "READ", TRANSFER),
    ("limit", "transfer-habitat", "min 200 m", "scope", "READ", TRANSFER),
    ("limit", "transfer-well", "min 50 m", "scope", "READ", TRANSFER),
    ("limit", "pallet-height", "max 2.2 m", "storage and handling", "READ", PERMIT),
    # Routes and what is denied
    ("route", "yellow anatomical cytotoxic medicines", BURN, C, "READ"),
    ("route", "category-a", BURN, C, "MEM-H"),
    ("route", "orange", f"{HOT} > shred|mutilate > landfill|energy_recovery", C, "READ"),
    ("route", "orange", BURN, C, "READ"),
    ("route", "amalgam", "material_recovery", C, "MEM-H"),
    ("route", "offensive", "energy_recovery|landfill", C, "READ"),
    ("route", "domestic", "landfill|recycler|energy_recovery", C, "READ"),
    ("denied", "yellow", f"{OTHER}; unsafe", C, "MEM-H"),
    ("denied", "category-a", f"{OTHER}; unsafe", C, "MEM-H"),
    ("denied", "orange", f"landfill unless_after {HOT}|incinerate|incinerate_1200; unsafe", C,
     "MEM-H"),
    ("denied", "anatomical", f"{OTHER}; unsafe", C, "MEM-H"),
    ("denied", "cytotoxic", f"{OTHER}; unsafe", C, "MEM-H"),
    ("denied", "amalgam", "incinerate|incinerate_1200; unsafe", C, "MEM-H"),
    ("packing", "*", "fill_max 0.75 bag", "bags", "READ"),
    ("packing", "*", "closed bag", "bags", "READ"),
    ("packing", "domestic offensive", "double_bagged exempt",
     "domestic and offensive waste need no outer bag", "HOUSE"),
    ("label", "*", "tag with the place of origin", "bags", "READ"),
    ("limit", "target-incineration", "equals 20 %; by 2026", "target mix", "READ", NHS),
    ("limit", "target-alternative", "equals 20 %; by 2026", "target mix", "READ", NHS),
    ("limit", "target-offensive", "equals 60 %; by 2026", "target mix", "READ", NHS),
    # 6: incineration
    ("window", "incinerate", "secondary_chamber 850 °C 2 s", "Article 50", "MEM-H", EU),
    ("limit", "halogenated-temperature", "min 1100 °C; 2 s; as chlorine",
     "Article 50", "MEM-H", EU),
    ("limit", "ash-toc", "max 3 %; below; or the loss on ignition", "Article 50", "MEM-H", EU),
    ("limit", "ash-loss-on-ignition", "max 5 %; below; or the organic carbon",
     "Article 50", "MEM-H", EU),
    ("limit", "stack-dust", "max 10 mg/Nm³; 11 % O2, dry", "Annex VI", "MEM-H", EU),
    ("limit", "stack-hcl", "max 10 mg/Nm³; 11 % O2, dry", "Annex VI", "MEM-H", EU),
    ("limit", "stack-mercury", "max 0.05 mg/Nm³; 11 % O2, dry", "Annex VI", "MEM-H", EU),
    ("limit", "stack-dioxins", "max 0.1 ng TEQ/Nm³; 11 % O2, dry", "Annex VI", "MEM-H", EU),
    # 4.2: transport
    ("limit", "label-class-6-2", "min 100 mm", "5.2.2.2", "MEM-H", ROAD),
    ("limit", "threshold-category-2", "max 333 points", "1.1.3.6", "MEM-M", ROAD),
    ("limit", "threshold-category-0", "max 0 points", "1.1.3.6", "MEM-M", ROAD),
    ("label", "yellow category-a orange anatomical", "label of class 6.2: diamond, 100 mm by "
     "100 mm, black on white; the lower half may say infectious", "5.2.2.2", "MEM-H", ROAD),
    ("paper", "Dangerous goods document", "UN number; proper shipping name; class; consignor: "
     "name, address, telephone; consignee: name, address, telephone", "5.4.1", "READ", ROAD),
    ("paper", "Packing for carriage", "UN 3291: class 6.2, packing group II, P621, IBC620, LP621, "
     "bulk BK2; UN 2814, UN 2900: P620 (from memory); UN 3549: P622, LP622, outer packing group I, "
     "since 2021; P621: rigid, leak-tight, absorbent for all liquid, certified; sharps packs "
     "puncture-resistant; UN 3373 does not cover waste", "2.2.62; 4.1.4", "READ", ROAD),
    # 4.3: SI 2005/894
    ("returns", "consignee-return", "quarter due 1 months", "reg. 53(1), (2), (4)", "READ", LAW),
    ("returns", "producer-return", "quarter due 1 months", "reg. 54", "READ", LAW),
    ("limit", "fee-electronic", "equals 10 £", "charge scheme", "READ", LAW),
    ("limit", "fee-paper", "equals 19 £", "charge scheme", "READ", LAW),
    ("limit", "fee-multiple-electronic", "equals 5 £", "charge scheme", "READ", LAW),
    ("limit", "fee-multiple-paper", "equals 10 £", "charge scheme", "READ", LAW),
    ("limit", "premises-registration", "max 500 kg/year", "reg. 21-24", "READ",
     "2005-07-16..2016-04-01"),
    ("retention", "producer or holder: consignment notes and returns", "3 years", "reg. 49",
     "READ", LAW),
    ("retention", "carrier", "12 months", "reg. 50", "MEM-H", LAW),
    ("retention", "consignee, other than a landfill", "5 years", "reg. 47, 51", "READ", LAW),
    ("retention", "transfer station, after the waste has left", "3 years", "reg. 48(6)(b)(i)",
     "READ", LAW),
    ("retention", "both parties: transfer notes of waste that is not hazardous", "2 years",
     "reg. 3", "READ", LAW),
    ("time", "record_within", "24 h received+treated+dispatched+disposed",
     "reg. 47(5)(a), 48(5)", "READ", LAW),
    ("paper", "Consignment note", "A: consignment code, removed from, destination, producer if "
     "different; B: process, SIC code; B, each waste: description, code, quantity in kg, "
     "components and concentrations, physical form, hazard codes, containers; B: UN number, "
     "proper shipping name, class, packing group, handling; C: carrier's certificate: name, "
     "registration, vehicle, date, time; D: consignor's certificate with the waste hierarchy; "
     "E: consignee: code, quantity, accepted or rejected, recovery or disposal code, vehicle, "
     "permit, date, time", "reg. 35, Schedule 4", "READ", LAW),
    ("paper", "Consignment code", "unique for each consignment; first 6 letters of the business "
     "name / 5 characters", "reg. 33-34", "READ", LAW),
    ("paper", "Record of the site", "code and description; composition; quantity; nature; origin; "
     "hazardous properties; method of recovery; inventory by location", "reg. 48(2)-(3)", "READ",
     LAW),
    ("paper", "Register", "each consignment note; explanation of a rejection and the onward note; "
     "consignee's returns received; carrier's schedule", "reg. 51(2)", "READ", LAW),
    ("paper", "Hazardous properties", "HP 9 infectious; HP 6 acute toxicity; HP 7 carcinogenic; "
     "HP 11 mutagenic; HP 10 toxic for reproduction", "Annex III", "MEM-H"),
    ("paper", "List of Wastes, human health", "18 01 01 sharps; 18 01 02 body parts, organs, "
     "blood bags; 18 01 03* infectious, special requirements; 18 01 04 no special requirements; "
     "18 01 06* hazardous chemicals; 18 01 07 other chemicals; 18 01 08* cytotoxic and cytostatic "
     "medicines; 18 01 09 other medicines; 18 01 10* amalgam", "chapter 18 01", "MEM-H"),
    ("paper", "List of Wastes, animal health", "18 02 01; 18 02 02*; 18 02 03; 18 02 05*; "
     "18 02 06; 18 02 07*; 18 02 08", "chapter 18 02", "MEM-H"),
    # Cautions: a phrase that stands in each
    ("caution", "*", "wrong; lockable, leak-proof, rigid carts", "storage and handling", "READ",
     PERMIT),
    ("caution", "*", "wrong; count and tonnage", "storage and handling", "READ", PERMIT),
    ("caution", "*", "wrong; yellow is incineration, orange alternative treatment",
     "pre-acceptance 2", "READ", PERMIT),
    ("caution", "*", "wrong; never mixed without a permit", "reg. 18-20", "MEM-H", LAW),
    ("caution", "yellow orange anatomical category-a", "wrong; classified by diagnosis",
     "2.2.62.1.11", "READ", ROAD),
    ("caution", "*", "wrong; Y1 clinical wastes, Y3 medicines, H6.2", "Annexes I, III, VIII",
     "READ"),
]
