"""A regime's file is read whole or refused with file, line, key and reason; nothing in between."""

from datetime import date
from pathlib import Path

import pytest

from service.custody.regime import Regime, covering
from service.regimes.load import BUNDLED, RegimeError, assemble, available, load

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


def _refused(folder: Path, text: str | bytes) -> RegimeError:
    path = folder / "house.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(RegimeError) as caught:
        load(path)
    return caught.value


def test_a_good_file_is_read(tmp_path: Path) -> None:
    """The text that the faults below are made in is itself taken, its decimals as printed."""
    (tmp_path / "house.toml").write_text(TEXT)
    regime = load(tmp_path / "house.toml")
    assert str(regime.limit[0].value) == "30.10"
    assert regime.route[0].only_where == ("far_away",)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_refused_with_file_line_key_and_reason(fault: str, tmp_path: Path) -> None:
    """Each fault names the file, the line, the key and the reason in plain words."""
    good, bad, line, key, reason = FAULTS[fault]
    assert TEXT.count(good) == 1
    error = _refused(tmp_path, TEXT.replace(good, bad))
    (problem,) = [p for p in error.problems if p.key == key and reason in p.reason]
    assert problem.file == "house.toml"
    assert (f"line {problem.line}" if problem.line else "") == line
    place = ", ".join(part for part in ("house.toml", line, key) if part)
    assert f"{place}: " in str(error)


@pytest.mark.parametrize("until", ["2020-01-02", "2030-01-01"])
def test_two_rows_with_one_id_on_one_day_are_refused(until: str, tmp_path: Path) -> None:
    """A second value of a limit may only begin when the first has ended."""
    second = LIMIT.replace("until = 2021-01-01", f"until = {until}")
    error = _refused(tmp_path, TEXT + "\n" + second)
    assert str(error) == (
        "house.toml, line 58, limit[2]: two rows with the id 'stack' are in force on one day"
    )


def test_a_row_may_begin_on_the_day_another_ends(tmp_path: Path) -> None:
    """`until` is the first day out of force: the next row begins on it."""
    second = LIMIT.replace("from = 2020-01-01\nuntil = 2021-01-01", "from = 2021-01-01")
    (tmp_path / "house.toml").write_text(TEXT + "\n" + second)
    assert len(load(tmp_path / "house.toml").limit) == 2


def test_two_categories_with_one_mark_are_refused(tmp_path: Path) -> None:
    """On a black-and-white label a mark stands for one category only."""
    second = CATEGORY.replace('"soiled"', '"linen"')
    rule = '["soiled"]\nkinds'
    text = TEXT.replace(rule, '["soiled", "linen"]\nkinds') + "\n" + second
    assert "category[2].mark: mark 'S' is also the mark of soiled" in str(_refused(tmp_path, text))


def test_a_category_without_container_is_refused(tmp_path: Path) -> None:
    """Each category says on every day in force what it is put in; the first bare day is named."""
    ends = TEXT.replace(
        'description = "a bag"\nfrom = 2020-01-01',
        'description = "a bag"\nfrom = 2020-01-01\nuntil = 2024-05-01',
    )
    error = _refused(tmp_path, ends)
    assert str(error) == (
        "house.toml, line 13, category[1]: category 'soiled' has no container rule on 2024-05-01"
    )


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    """A file of nothing, or of blanks, says so."""
    assert str(_refused(tmp_path, "")) == "house.toml: the file is empty"
    assert str(_refused(tmp_path, " \n\n")) == "house.toml: the file is empty"


def test_a_file_that_is_not_utf8_is_refused_with_its_line(tmp_path: Path) -> None:
    """A file saved in Latin-1 is named with the line of the first wrong byte."""
    error = _refused(tmp_path, TEXT.replace("House rules", "Hôtel-Dieu").encode("latin-1"))
    assert str(error) == "house.toml, line 2: not UTF-8: the byte 0xF4 is no part of a character"


def test_a_file_with_windows_line_ends_is_read(tmp_path: Path) -> None:
    """Line ends of another system change nothing."""
    (tmp_path / "house.toml").write_bytes(TEXT.replace("\n", "\r\n").encode())
    assert load(tmp_path / "house.toml").category[0].id == "soiled"


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """A path that leads nowhere is refused like any other fault."""
    with pytest.raises(RegimeError, match=r"house\.toml: the file cannot be read"):
        load(tmp_path / "house.toml")


def test_all_problems_of_a_file_are_named_in_its_order(tmp_path: Path) -> None:
    """Who mends a file sees every fault at once."""
    text = TEXT.replace('"incinerate"', '"boil"').replace("unit =", "units =")
    lines = [p.line for p in _refused(tmp_path, text).problems]
    assert lines == [39, 46, 51]


def test_regimes_that_add_to_each_other_are_refused(tmp_path: Path) -> None:
    """A circle of two is named with its way round."""
    (tmp_path / "house.toml").write_text(TEXT.replace("[site", 'adds_to = ["town"]\n[site', 1))
    town = f'id = "town"\nadds_to = ["house"]\n{TEXT.split(chr(10), 1)[1]}'
    (tmp_path / "town.toml").write_text(town)
    with pytest.raises(RegimeError, match="in a circle: house > town > house"):
        assemble("house", tmp_path)


def test_a_row_may_speak_of_a_category_of_the_regime_it_adds_to(tmp_path: Path) -> None:
    """A State's limit names the federal categories; assembled, its own rows come first."""
    (tmp_path / "house.toml").write_text(TEXT)
    own = (
        'id = "ward"\ntitle = "Ward"\njurisdiction = "Examplia"\nstatus = "Invented."\n'
        'adds_to = ["house"]\n\n[source.ward-book]\ntitle = "Ward book"\nverified = "policy"\n\n'
        '[[route]]\ncategories = ["soiled"]\nid = "bury"\nstages = [["deep_burial"]]\n'
        'from = 2020-01-01\nclause = "p. 1"\nsource = "ward-book"\nverified = "policy"\n'
    )
    (tmp_path / "ward.toml").write_text(own)
    assert [r.id for r in assemble("ward", tmp_path).route] == ["bury", "burn"]
    (tmp_path / "ward.toml").write_text(own.replace('"bury"', '"burn"'))
    with pytest.raises(RegimeError, match="the id 'burn' is already in force in house"):
        load(tmp_path / "ward.toml")
    (tmp_path / "ward.toml").write_text(own.replace("ward-book", "gazette"))
    with pytest.raises(RegimeError, match="source key 'gazette' is already a source of house"):
        load(tmp_path / "ward.toml")


def test_a_regime_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """A mistyped id is answered with those there are; a path is no id."""
    with pytest.raises(RegimeError, match="no such regime; there are: none"):
        assemble("house", tmp_path)
    with pytest.raises(RegimeError, match=r"no such regime; there are: .*india-2016"):
        assemble("../india-2016")


@pytest.mark.parametrize("regime_id", available())
def test_each_bundled_regime_is_whole(regime_id: str) -> None:
    """Every file of the house is read, warns that it is no legal advice, and is complete."""
    regime = assemble(regime_id)
    assert "not legal advice" in regime.status.lower()
    assert "local codes" in regime.status
    for category in regime.category:
        assert covering(regime.container, category.id, category.from_)
        assert covering(regime.packing, category.id, category.from_)


def _containers(regime: Regime, category: str, day: date) -> list[str]:
    return [row.description for row in covering(regime.container, category, day)]


def test_blue_goes_in_a_cardboard_box_until_the_amendment_of_2018() -> None:
    """India, G.S.R. 234(E) of 16 March 2018 (from memory): judged by the text of the day."""
    india = load(BUNDLED / "india-2016.toml")
    before, after = date(2018, 3, 15), date(2018, 3, 16)
    assert _containers(india, "blue-a", before) == ["cardboard box with blue marking"]
    assert _containers(india, "blue-a", after) == [
        "puncture-proof and leak-proof box or container with blue marking"
    ]
    assert _containers(india, "blue-a", date(2016, 3, 27)) == []


def test_hypochlorite_is_weaker_from_2018() -> None:
    """India, Schedule I Part 2: at least 10 % in 2016, 1 to 2 % from 2018 (read in a summary)."""
    india = load(BUNDLED / "india-2016.toml")
    on = {
        day: {r.id: str(r.value) for r in india.limit if r.in_force(day)}
        for day in (date(2018, 3, 15), date(2018, 3, 16))
    }
    assert on[date(2018, 3, 15)]["hypochlorite-percent"] == "10"
    assert "hypochlorite-percent-max" not in on[date(2018, 3, 15)]
    assert on[date(2018, 3, 16)]["hypochlorite-percent"] == "1"
    assert on[date(2018, 3, 16)]["hypochlorite-percent-max"] == "2"


def test_florida_holds_the_federal_floor_and_good_practice_after_its_own_rows() -> None:
    """A State adds to the floor, the floor to good practice, each once, own rows first."""
    florida, floor = assemble("us-florida"), load(BUNDLED / "us-federal.toml")
    practice = load(BUNDLED / "good-practice.toml")
    assert [c.id for c in florida.category] == [c.id for c in floor.category]
    assert [r.id for r in florida.holding] == ["on-site", "on-site-sharps", "off-site"]
    assert florida.packing == floor.packing + practice.packing
    assert florida.caution[0].source == "fac-64e-16"
    assert set(florida.source) == {"fac-64e-16", *floor.source, *practice.source}


def test_the_band_of_a_regime_comes_before_that_of_the_house() -> None:
    """WHO gives 3 to 8 °C; where a regime gives none the house's 2 to 8 °C holds."""
    who, india = assemble("who-2014"), assemble("india-2016")
    first = [next(b for b in r.store_band if b.condition == "chilled") for r in (who, india)]
    assert [(str(b.temperature_c_min), str(b.temperature_c_max)) for b in first] == [
        ("3", "8"),
        ("2", "8"),
    ]
