"""A regime's file is read whole or refused with file, line, key and reason; nothing in between."""

from pathlib import Path

import pytest

from service.regimes.load import RegimeError, assemble, load
from tests.regimes.faulty_files import CATEGORY, FAULTS, LIMIT, TEXT


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


def test_a_file_from_another_system_is_read(tmp_path: Path) -> None:
    """Line ends and the byte order mark of another system change nothing."""
    (tmp_path / "house.toml").write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
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
