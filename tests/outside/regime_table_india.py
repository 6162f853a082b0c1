"""India's rules row by row: Bio-Medical Waste Management Rules 2016 with 2018 and 2019.

Written anew from notes on the published text, not from the regime's file. Status: READ in an
excerpt; MEM-H, MEM-M, MEM-L from memory, over 90, 70 to 90, under 70 % sure; HOUSE without source.
"""

# ruff: noqa: ISC004  a long cell goes on in the next line
# fmt: off

SINCE = "2016-03-28"
S1 = "Schedule I Part 1"
P2 = "Schedule I Part 2"
A, FIRE = "Schedule II, autoclave", "Schedule II, incineration"
PIT, LIQUID = "Schedule II, deep burial", "Schedule II, liquid waste"
MW, DRY, PL = "Schedule II, microwave", "Schedule II, dry heat", "Schedule II, plasma"
INC = "incinerate|incinerate_1200"
ASH = "ash_landfill|hazardous_landfill"
BURN = f"{INC}|plasma|plasma_1200 > {ASH}"
HEAT, SHRED = "autoclave|microwave|hydroclave", "shred|mutilate"
FAR = "no_common_facility_access+remote_burial_approved"
LINEN = "linen, mattresses and beddings contaminated with blood or body fluid"
UNTIL_2018, FROM_2018 = "2016-03-28..2018-03-16", "2018-03-16.."
B1, B2 = "yellow-a yellow-b", "yellow-a yellow-b yellow-c"

ROWS: list[tuple[str, ...]] = [
    ("material", "infectious", "yellow-a yellow-b yellow-c yellow-g yellow-h",
     "grouped by what goes in", "HOUSE"),
    ("material", "chemical", "yellow-d1 yellow-d2 yellow-e yellow-f",
     "grouped by what goes in", "HOUSE"),
    ("material", "plastics", "red", "grouped by what goes in", "HOUSE"),
    ("material", "sharps", "white", "grouped by what goes in", "HOUSE"),
    # Schedule I Part 1: category, colour, symbol, what goes in
    ("category", "yellow-a", "yellow; biohazard; tissues, organs, body parts, "
     "fetus below the viability period", f"{S1}, Yellow (a)", "MEM-H"),
    ("category", "yellow-b", "yellow; biohazard; experimental animal carcasses, body parts, "
     "organs and tissues, waste of veterinary houses", f"{S1}, Yellow (b)", "MEM-H"),
    ("category", "yellow-c", "yellow; biohazard; dressings, plaster casts, cotton swabs, "
     "bags with residual or discarded blood", f"{S1}, Yellow (c)", "MEM-H"),
    ("category", "yellow-d1", "yellow, marked cytotoxic; cytotoxic; cytotoxic drugs, "
     "items contaminated with cytotoxic drugs, their ampoules and vials", f"{S1}, Yellow (d)",
     "MEM-H"),
    ("category", "yellow-d2", "yellow; none; expired medicines, discarded medicines and "
     "antibiotics", f"{S1}, Yellow (d)", "MEM-H"),
    ("category", "yellow-e", "yellow; none; discarded disinfectants, chemicals used in "
     "production of biologicals", f"{S1}, Yellow (e)", "MEM-H"),
    ("category", "yellow-f", "yellow; none; used X-ray developing liquids, discarded formalin, "
     "infected secretions, laboratory and floor washings", f"{S1}, Yellow (f)", "MEM-H"),
    ("category", "yellow-g", f"yellow; biohazard; {LINEN}", f"{S1}, Yellow (g)", "MEM-H",
     UNTIL_2018),
    ("category", "yellow-g", f"yellow; biohazard; {LINEN}, routine masks, gowns",
     f"{S1}, Yellow (g)", "MEM-M", FROM_2018),
    ("category", "yellow-h", "yellow; biohazard; blood bags, cultures, stocks and specimens of "
     "micro-organisms, live or attenuated vaccines, cell lines, toxins, devices used to transfer "
     "cultures", f"{S1}, Yellow (h)", "MEM-H"),
    ("category", "red", "red; biohazard; tubing, bottles, intravenous sets, catheters, "
     "urine bags, syringes without needles, vacutainers with their needles cut, gloves",
     f"{S1}, Red", "MEM-H"),
    ("category", "white", "white, translucent; biohazard; needles, syringes with fixed needles, "
     "needles from hub cutter or burner, scalpels, blades, other contaminated sharp metal",
     f"{S1}, White", "MEM-H"),
    ("category", "blue-a", "blue marking; biohazard; broken, discarded or contaminated glass, "
     "medicine vials and ampoules", f"{S1}, Blue (a)", "MEM-H"),
    ("category", "blue-b", "blue marking; biohazard; metallic body implants",
     f"{S1}, Blue (b)", "MEM-H"),
    # Schedule I Part 1: containers
    ("container", B2, "bag: yellow non-chlorinated plastic bag", S1, "MEM-H"),
    ("container", "yellow-d1", "bag+sharps_container+rigid_bin+box+bottle: yellow non-chlorinated "
     "plastic bag or container, marked cytotoxic", S1, "MEM-H"),
    ("container", "yellow-d2 yellow-e", "bag+rigid_bin+box+bottle: yellow non-chlorinated plastic "
     "bag or container", S1, "MEM-H"),
    ("container", "yellow-f", "rigid_bin+bottle: separate collection system leading to effluent "
     "treatment", S1, "MEM-H"),
    ("container", "yellow-g", "bag+rigid_bin+box: yellow non-chlorinated plastic bag or suitable "
     "packing material", S1, "MEM-H"),
    ("container", "yellow-h", "bag+rigid_bin+box+bottle: autoclave-safe plastic bag or container",
     S1, "MEM-H"),
    ("container", "red", "bag+rigid_bin: red non-chlorinated plastic bag or container", S1,
     "MEM-H"),
    ("container", "white", "sharps_container: white translucent container, puncture-proof, "
     "leak-proof, tamper-proof", S1, "MEM-H"),
    ("container", "blue-a blue-b", "box: cardboard box with blue marking", S1, "MEM-H",
     UNTIL_2018),
    ("container", "blue-a blue-b", "rigid_bin+box: puncture-proof and leak-proof box or container "
     "with blue marking", S1, "MEM-M", FROM_2018),
    # Rule 8(7): 48 h, and the notice of an overrun
    ("holding", B2, "48 hours first_item", "rule 8(7)", "READ"),
    ("holding", "yellow-h", "48 hours first_item", "rule 8(7)", "MEM-H"),
    ("notice", f"{B2} yellow-h", "notified_overrun", "rule 8(7), proviso", "MEM-H"),
    # Schedule I Part 1: treatment and disposal
    ("route", B2, BURN, f"{S1}, Yellow (a) to (c)", "MEM-H"),
    ("route", B2, f"deep_burial where {FAR}", f"{S1}, Yellow (a) to (c)", "MEM-H"),
    ("route", "yellow-c", f"{HEAT} > {SHRED} > energy_recovery where no_destroying_plant",
     f"{S1}, Yellow (c)", "MEM-H"),
    ("route", "yellow-d1 yellow-d2", "return_to_supplier", f"{S1}, Yellow (d)", "MEM-H"),
    ("route", "yellow-d1", f"incinerate_1200|plasma_1200 > {ASH}", f"{S1}, Yellow (d)", "MEM-H"),
    ("route", "yellow-d1", "encapsulate > hazardous_landfill", f"{S1}, Yellow (d)", "MEM-H"),
    ("route", "yellow-d2", f"{INC} > {ASH}", f"{S1}, Yellow (d)", "MEM-H"),
    ("route", "yellow-e", BURN, f"{S1}, Yellow (e)", "MEM-H"),
    ("route", "yellow-e", "encapsulate > hazardous_landfill", f"{S1}, Yellow (e)", "MEM-H"),
    ("route", "yellow-f", "resource_recovery > chemical|hypochlorite > effluent_treatment > sewer",
     f"{S1}, Yellow (f)", "MEM-H"),
    ("route", "yellow-g", f"chemical > {BURN}", f"{S1}, Yellow (g)", "MEM-H"),
    ("route", "yellow-g", "chemical > energy_recovery", f"{S1}, Yellow (g)", "MEM-H"),
    ("route", "yellow-g", f"chemical|{HEAT} > {SHRED} > energy_recovery where no_destroying_plant",
     f"{S1}, Yellow (g)", "MEM-H"),
    ("route", "yellow-g", f"chemical|{HEAT} > {SHRED} > {BURN} where no_destroying_plant",
     f"{S1}, Yellow (g)", "MEM-H"),
    ("route", "yellow-h", f"autoclave|chemical > {INC} > {ASH}", f"{S1}, Yellow (h)", "MEM-H"),
    ("route", "red", f"{HEAT} > {SHRED} > recycler|energy_recovery|fuel_oil|road_making",
     f"{S1}, Red", "MEM-H"),
    ("route", "white", "autoclave|dry_heat > shred|mutilate|encapsulate > "
     "foundry|landfill|sharps_pit", f"{S1}, White", "MEM-H"),
    ("route", "blue-a blue-b", f"hypochlorite|{HEAT} > recycler", f"{S1}, Blue", "MEM-H"),
    # What the text denies
    ("denied", "*", f"{INC} after hypochlorite; unsafe", FIRE, "READ"),
    ("denied", "*", f"deep_burial unless_where {FAR}; unsafe", f"{S1}, note", "MEM-H"),
    ("denied", B1, "autoclave; unsafe", f"{S1}, Yellow (a), (b)", "MEM-H"),
    ("denied", B1, "microwave; unsafe", MW, "MEM-H"),
    ("denied", "yellow-d1", "microwave; unsafe", MW, "MEM-H"),
    ("denied", "yellow-d1", "autoclave; unsafe", f"{S1}, Yellow (d)", "MEM-H"),
    ("denied", "yellow-e", "microwave; unsafe", MW, "MEM-H"),
    ("denied", "yellow-g", "hypochlorite; unsafe", f"{S1}, Yellow (g)", "MEM-H"),
    ("denied", "yellow-h", "dispatch unless_after autoclave|chemical; unsafe",
     f"rule 8(8); {S1}, Yellow (h)", "MEM-H"),
    ("denied", "yellow-h", f"{INC} unless_after autoclave|chemical; unsafe",
     f"{S1}, Yellow (h)", "MEM-H"),
    ("denied", "yellow-h", "hypochlorite; unsafe", f"{S1}, Yellow (h)", "MEM-H"),
    ("denied", f"{B2} yellow-d1 yellow-d2 yellow-e", f"{INC} after chemical; wrong", P2, "MEM-H"),
    ("denied", "red", "landfill; wrong", f"{S1}, Red", "MEM-H"),
    ("packing", "white", "hub_cut sharps_container", "needles cut at the hub at the source",
     "HOUSE"),
    # Schedule II: windows
    ("window", "autoclave", "gravity 121 °C 15 psi 60 min", A, "READ"),
    ("window", "autoclave", "gravity 135 °C 31 psi 45 min", A, "READ"),
    ("window", "autoclave", "gravity 149 °C 52 psi 30 min", A, "READ"),
    ("window", "autoclave", "vacuum 121 °C 15 psi 45 min 3 pulses", A, "MEM-H"),
    ("window", "autoclave", "vacuum 135 °C 31 psi 30 min 3 pulses", A, "MEM-H"),
    ("window", "dry_heat", "185 °C 90 min 150 min cycle", DRY, "MEM-M"),
    ("window", "incinerate", "primary_chamber 800 °C", FIRE, "MEM-H"),
    ("window", "incinerate", "secondary_chamber 1000 °C 2 s", FIRE, "MEM-H"),  # 1050 ± 50
    ("window", "incinerate_1200", "1200 °C, above", f"{S1}, Yellow (d)", "MEM-H"),
    ("window", "plasma", "secondary_chamber 1000 °C 2 s", PL, "MEM-M"),  # 1050 ± 50
    ("window", "plasma_1200", "1200 °C, above", f"{S1}, Yellow (d)", "MEM-H"),
    # Schedule II: numbers
    ("limit", "autoclave-floor-minutes", "min 30 min", A, "MEM-H"),
    ("limit", "autoclave-floor-temperature", "min 121 °C", A, "MEM-H"),
    ("limit", "autoclave-floor-pressure", "min 15 psi", A, "MEM-H"),
    ("limit", "chemical-indicators", "min 1 per batch", A, "MEM-H"),
    ("limit", "spore-test-interval", "max 7 days; at maximum design load", A, "MEM-H"),
    ("limit", "spore-count", "min 1000000 spores", A, "MEM-H"),
    ("limit", "validation-interval", "max 3 months", A, "MEM-M"),
    ("limit", "validation-strips", "equals 4 strips; "
     "1 control at room temperature, 3 in the centre of 3 containers", A, "MEM-M"),
    ("limit", "microwave-spores", "min 10000 spores per strip", MW, "MEM-H"),
    ("limit", "dry-heat-spores", "min 1000000 spores", DRY, "MEM-M"),
    ("limit", "chemical-log-reduction", "min 4 log10", "Schedule II, chemical", "MEM-M"),
    ("limit", "hypochlorite-percent", "min 10 %; or an equal agent", P2, "MEM-M", UNTIL_2018),
    ("limit", "hypochlorite-percent", "min 1 %; or an equal agent", P2, "READ", FROM_2018),
    ("limit", "hypochlorite-percent-max", "max 2 %", P2, "READ", FROM_2018),
    ("limit", "hypochlorite-residual", "min 30 %", P2, "MEM-M"),
    ("limit", "hypochlorite-minutes", "min 20 min", P2, "MEM-M"),
    ("limit", "hypochlorite-log-reduction", "min 4 log10", P2, "MEM-M"),
    ("limit", "laboratory-sterilise", "min 6 log10", "rule 8(8)", "MEM-H"),
    ("limit", "laboratory-disinfect", "min 4 log10", "rule 8(8)", "MEM-H"),
    ("limit", "combustion-efficiency", "min 99.00 %", FIRE, "MEM-H"),
    ("limit", "stack-particulate", "max 50 mg/Nm³; 11 % O2, dry", FIRE, "MEM-H"),
    ("limit", "stack-nox", "max 400 mg/Nm³; 11 % O2, dry", FIRE, "MEM-H"),
    ("limit", "stack-hcl", "max 50 mg/Nm³; 11 % O2, dry", FIRE, "MEM-H"),
    ("limit", "stack-mercury", "max 0.05 mg/Nm³; 11 % O2, dry", FIRE, "MEM-H"),
    ("limit", "stack-dioxins", "max 0.1 ng TEQ/Nm³; 11 % O2, dry", FIRE, "MEM-H"),
    ("limit", "stack-height", "min 30 m", FIRE, "READ"),
    ("limit", "stack-test-interval", "max 3 months", FIRE, "MEM-H"),
    ("limit", "dioxin-test-interval", "max 12 months", FIRE, "MEM-H"),
    ("limit", "sample-particulate-hcl", "min 30 min; or 1 Nm³, whichever is more", FIRE, "MEM-M"),
    ("limit", "sample-nox", "min 30 min", FIRE, "MEM-M"),
    ("limit", "sample-mercury", "min 2 h; or 1 Nm³", FIRE, "MEM-M"),
    ("limit", "sample-dioxins", "min 8 h; or 5 Nm³", FIRE, "MEM-M"),
    ("limit", "ash-toc", "max 3 %; below; or the loss on ignition", FIRE, "MEM-H"),
    ("limit", "ash-loss-on-ignition", "max 5 %; below; or the organic carbon", FIRE, "MEM-H"),
    ("limit", "plasma-combustion-efficiency", "min 99.99 %", PL, "MEM-M"),
    ("limit", "plasma-oxygen", "min 3 %", PL, "MEM-M"),
    ("limit", "pit-depth", "equals 2 m", PIT, "READ"),
    ("limit", "pit-filled", "max 0.5 of the depth", PIT, "READ"),
    ("limit", "pit-lime", "max 0.5 m; then soil", PIT, "READ"),
    ("limit", "pit-soil", "equals 10 cm", PIT, "READ"),
    ("limit", "pit-groundwater", "min 6 m", PIT, "MEM-M"),
    ("limit", "effluent-ph-min", "min 6.5 pH", LIQUID, "MEM-H"),
    ("limit", "effluent-ph-max", "max 9.0 pH", LIQUID, "MEM-H"),
    ("limit", "effluent-solids", "max 100 mg/l", LIQUID, "MEM-H"),
    ("limit", "effluent-oil", "max 10 mg/l", LIQUID, "MEM-H"),
    ("limit", "effluent-bod", "max 30 mg/l", LIQUID, "MEM-H"),
    ("limit", "effluent-cod", "max 250 mg/l", LIQUID, "MEM-H"),
    ("limit", "effluent-bioassay", "min 90 %; after 96 h", LIQUID, "MEM-H"),
    # Rules and guidance: numbers
    ("limit", "common-facility-distance", "max 75 km", "rule 7(3)", "READ"),
    ("limit", "common-facility-coverage", "max 75 km", "coverage area", "MEM-H"),
    ("limit", "common-facility-coverage-wide", "max 150 km; if treated within 48 h",
     "coverage area", "MEM-H"),
    ("limit", "shredder-speed", "max 50 rev/min", "shredder", "MEM-L"),
    ("limit", "bag-thickness", "min 50 µm", "bags", "MEM-M"),
    ("limit", "training-interval", "max 12 months", "rule 4(g)", "MEM-H"),
    ("limit", "health-check-interval", "max 12 months", "rule 4(m)", "MEM-H"),
    ("limit", "committee-beds", "min 30 beds", "rule 4(r)", "MEM-H"),
    ("limit", "committee-interval", "max 6 months", "rule 4(r)", "MEM-H"),
    ("limit", "appeal-time", "max 30 days", "Form V", "MEM-H"),
    # Returns, records, labels, forms
    ("returns", "form-iv", "year due 06-30", "rule 13", "MEM-H"),
    ("returns", "form-i", "event due 24 h", "rules 3, 15", "MEM-H"),
    ("returns", "monthly-record", "month", "rule 4(n)", "MEM-H"),
    ("retention", "occupier and operator of a facility", "5 years", "rules 14, 4(s)", "MEM-H"),
    ("label", "*", "biohazard symbol; handle with care; non-washable and prominently visible",
     "Schedule IV Part A; rule 8(3)", "MEM-H"),
    ("label", "yellow-d1", "cytotoxic symbol; handle with care; non-washable and prominently "
     "visible", "Schedule IV Part A", "MEM-H"),
    ("label", "*", "day, month and year; date of generation; waste category; waste class and "
     "description; waste quantity; sender: name, address, telephone, fax, contact person; "
     "receiver: name, address, telephone, fax, contact person; in case of emergency: name, "
     "address, telephone; non-washable and prominently visible", "Schedule IV Part B", "MEM-H"),
    ("label", "*", "bar code", "rules 4(i), 8(4)", "MEM-M", "2017-03-28..2018-03-16"),
    ("label", "*", "bar code", "rule 4(i)", "MEM-M", "2019-03-27.."),
    ("paper", "Form IV, annual report", "occupier: particulars, position, ownership, authorisation "
     "and consent; kind of facility and beds; common facility: beds served and capacity in kg a "
     "day; kg a year of yellow, red, white, blue and general waste; storage: size, capacity, "
     "cooling; each treatment unit: kind, number, kg a day, kg treated a year; recyclables sold, "
     "kg; vehicles; ash and sludge: kg and destination; name of the operator; members not handing "
     "over; committee and its minutes; trainings: number, people trained, at induction, "
     "untrained; accidents: number, people affected, action, deaths; times emission standards "
     "were not met; times log 4 was not met", "Form IV", "MEM-H"),
    ("paper", "Form I, accident report", "date and time; type of accident; sequence of events; "
     "authority informed; type of waste; effect on health and environment; emergency measures; "
     "steps to relieve; steps to prevent recurrence; emergency policy", "Form I", "MEM-H"),
    # Cautions: a phrase that stands in each
    ("caution", "*", "wrong; never mixed with other waste", "rule 8(1)", "READ"),
    ("caution", "*", "wrong; Segregate at the point of generation", "rule 8(2)", "MEM-H"),
    ("caution", "*", "wrong; never given away with municipal waste", "rule 4(f)", "READ"),
    ("caution", "*", "wrong; Weigh by colour at the hand-over", "hand-over", "MEM-H"),
    ("caution", "*", "wrong; linear or QR, printed on or pasted", "label", "READ", "2018-04-01.."),
    ("caution", B2, "unsafe; impermeable ground away from shallow wells", PIT, "READ"),
    ("caution", "*", "unsafe; two bags", "isolation", "MEM-H", "2020-03-01.."),
    ("caution", "*", "unsafe; Chlorinated plastic is never incinerated", FIRE, "READ"),
    ("caution", "*", "wrong; not of chlorinated plastic", "rule 4(d)", "READ", "2019-03-27.."),
    ("caution", "*", "wrong; do not count as chlorinated", "rule 4(d), explanation", "READ",
     "2019-05-10.."),
    ("caution", "*", "wrong; own incinerator needs an authorisation", P2, "MEM-H"),
    ("caution", "yellow-a", "wrong; official certificate of termination", P2, "MEM-H"),
    ("caution", "yellow-d1", "unsafe; never handed to an unauthorised person", P2, "MEM-H"),
    ("caution", "red white", "wrong; nothing can be used again", P2, "MEM-H"),
    ("caution", f"{B2} yellow-d1 yellow-d2 yellow-e yellow-g yellow-h",
     "wrong; hazardous-waste facility if it is toxic above the limits", P2, "MEM-H"),
    ("caution", "*", "wrong; hepatitis B and tetanus", "rule 4(h)", "MEM-H"),
    ("caution", "*", "wrong; municipal collector separately", P2, "MEM-H"),
    ("caution", "*", "unsafe; treated again as a whole", A, "READ"),
]
