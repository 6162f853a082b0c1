"""A small good regime's file, and faults made in it: what is put for what, and the refusal."""

TEXT = """\
id = "house"
title = "House rules"
jurisdiction = "Examplia"
status = "Invented; not legal advice."

[site_facts]
far_away = "Is the site far away?"

[source.gazette]
title = "Gazette of Examplia"
verified = "memory"

[[category]]
id = "soiled"
name = "Soiled"
colour = "yellow"
colour_hex = "#F5C800"
mark = "S"
pattern = "plain"
goes_in = ["dressings"]
cautions = "Never compress."
from = 2020-01-01
clause = "s. 1"
source = "gazette"
verified = "memory"

[[container]]
categories = ["soiled"]
kinds = ["bag"]
description = "a bag"
from = 2020-01-01
clause = "s. 2"
source = "gazette"
verified = "memory"

[[route]]
categories = ["soiled"]
id = "burn"
stages = [["incinerate"], ["ash_landfill"]]
only_where = ["far_away"]
from = 2020-01-01
clause = "s. 3"
source = "gazette"
verified = "memory"

[[limit]]
id = "stack"
subject = "stack"
bound = "min"
value = 30.10
unit = "m"
from = 2020-01-01
until = 2021-01-01
clause = "s. 4"
source = "gazette"
verified = "memory"
"""

LIMIT = TEXT[TEXT.index("[[limit]]") :]
CATEGORY = TEXT[TEXT.index("[[category]]") : TEXT.index("[[container]]")]

FAULTS = {
    "not TOML": ("[[route]]", "[[route]", "line 36", "", "not TOML"),
    "a key that nobody knows": ("unit =", "units =", "line 51", "limit[1].units", "unknown key"),
    "a table that nobody knows": ("[[limit]]", "[[limits]]", "line 46", "limits", "unknown key"),
    "a step that nobody knows": (
        '"incinerate"',
        '"boil"',
        "line 39",
        "route[1].stages",
        "unknown step or outlet 'boil'",
    ),
    "a row without source": (
        'clause = "s. 4"\nsource = "gazette"\n',
        'clause = "s. 4"\n',
        "line 46",
        "limit[1].source",
        "is missing",
    ),
    "a source that is not in the table": (
        'clause = "s. 4"\nsource = "gazette"',
        'clause = "s. 4"\nsource = "diary"',
        "line 55",
        "limit[1].source",
        "source 'diary' is not in the table of sources: gazette",
    ),
    "an end before its beginning": (
        "until = 2021-01-01",
        "until = 2019-01-01",
        "line 46",
        "limit[1]",
        "until 2019-01-01 is not after from 2020-01-01",
    ),
    "a date in quotation marks": (
        "until = 2021-01-01",
        'until = "next year"',
        "line 53",
        "limit[1].until",
        "'next year': ",
    ),
    "a route that never ends": (
        '[["incinerate"], ["ash_landfill"]]',
        '[["incinerate"], ["shred"]]',
        "line 36",
        "route[1]",
        "the route never ends",
    ),
    "a route without stages": (
        '[["incinerate"], ["ash_landfill"]]',
        "[]",
        "line 39",
        "route[1].stages",
        "the list is too short",
    ),
    "an outlet in the middle of a route": (
        '[["incinerate"], ["ash_landfill"]]',
        '[["recycler"], ["ash_landfill"]]',
        "line 36",
        "route[1]",
        "an outlet stands before the last stage",
    ),
    "a row of a category that is not there": (
        '[[route]]\ncategories = ["soiled"]',
        '[[route]]\ncategories = ["soild"]',
        "line 37",
        "route[1].categories",
        "unknown category 'soild'",
    ),
    "a site fact that nobody asks": (
        '["far_away"]',
        '["near_by"]',
        "line 40",
        "route[1].only_where",
        "unknown site fact 'near_by'",
    ),
    "a kind of container that nobody knows": (
        '["bag"]',
        '["sack"]',
        "line 29",
        "container[1].kinds",
        "unknown word 'sack'",
    ),
    "a regime to add to that is not there": (
        "[site_facts]",
        'adds_to = ["gone"]\n[site_facts]',
        "line 6",
        "adds_to",
        "unknown regime 'gone'",
    ),
    "a regime that adds to itself": (
        "[site_facts]",
        'adds_to = ["house"]\n[site_facts]',
        "line 6",
        "adds_to",
        "in a circle: house > house",
    ),
    "a key twice in a row": (
        'unit = "m"',
        'unit = "m"\nunit = "ft"',
        "line 52",
        "",
        "a key or table is written twice",
    ),
    "a table twice": (
        "[[category]]",
        '[source.gazette]\ntitle = "Other"\n\n[[category]]',
        "line 13",
        "",
        "a key or table is written twice",
    ),
    "an id that is not the file's name": (
        'id = "house"',
        'id = "other"',
        "line 1",
        "id",
        "the id 'other' is not the name of the file",
    ),
    "an unlikely mark": ('mark = "S"', 'mark = "so"', "line 18", "category[1].mark", "'so': "),
    "a text without title": ('title = "House rules"\n', "", "", "title", "is missing"),
    "a limit in words": ("value = 30.10", 'value = "tall"', "line 50", "limit[1].value", "'tall'"),
}
