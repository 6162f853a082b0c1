"""The set-up file: read as it is, or refused with the key and the reason."""

from pathlib import Path

import pytest

from scenario import hospital
from service.duties.setup_file import SetupError, read_site

SMALL = """
id = "hill"
name = "Hill hospital"
time_zone = "UTC"
regime = "india-2016"
contact = { name = "Officer", address = "1 Hill", telephone = "000" }

[[unit]]
id = "ward-3"
name = "Ward 3"
location = "wards"

[[party]]
id = "handlers"
name = "Handlers"
kind = "handler"
location = "yard"

[[party]]
id = "plant"
name = "Plant"
kind = "plant"
location = "plant-site"
"""

ENDS_FIRST = """
[[party.authorisation]]
activity = "treat"
categories = ["*"]
from = 2026-02-01
until = 2026-01-31
reference = "T/1"
"""


def fault(folder: Path, text: str | bytes) -> str:
    """What is said of a file with this text."""
    path = folder / "site.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(SetupError) as told:
        read_site(path)
    assert str(told.value).startswith("site.toml")
    return str(told.value)


def test_the_invented_hospital_is_read(tmp_path: Path) -> None:
    """Its file, and a small one, as they are."""
    assert read_site(hospital.FILE) == hospital.load_site()
    path = tmp_path / "site.toml"
    path.write_text(SMALL, encoding="utf-8")
    assert read_site(path).units["ward-3"].name == "Ward 3"


@pytest.mark.parametrize(
    ("wrong", "right", "words"),
    [
        ('kind = "plant"', 'kind = "garage"', "party[2].kind: Input should be"),
        ('name = "Ward 3"\n', "", "unit[1].name: is missing"),
        ('regime = "india-2016"\n', "", "regime: is missing"),
        ('time_zone = "UTC"', 'time_zone = "Mars/Base"', "time_zone: no time zone is called"),
        ('time_zone = "UTC"', "time_zone = 5", "time_zone: "),
        ('id = "plant"', 'id = "handlers"', "the file: an id is given twice: handlers"),
        ('telephone = "000"', 'telefone = "000"', "contact.telefone: is no key"),
        ('name = "Hill hospital"', 'name = "Hill hospital"\nbeds = 40', "beds: is no key"),
        ('time_zone = "UTC"', 'time_zone = "UTC"\nmonthly_kg = -1', "monthly_kg: Input should be"),
        (
            'location = "plant-site"\n',
            'location = "plant-site"\n' + ENDS_FIRST,
            "party[2].authorisation[1]: an authorisation ends before it begins",
        ),
    ],
)
def test_a_fault_is_told_with_its_key(tmp_path: Path, wrong: str, right: str, words: str) -> None:
    """Rows are counted from 1, as people do."""
    assert wrong in SMALL
    assert words in fault(tmp_path, SMALL.replace(wrong, right))


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    """Nobody has to come back for the second."""
    told = fault(tmp_path, SMALL.replace('kind = "', 'kind = "x-').replace('regime = "', '#"'))
    for key in ("regime", "party[1].kind", "party[2].kind"):
        assert f"{key}: " in told


def test_what_is_no_toml_is_told_as_such(tmp_path: Path) -> None:
    """With line and column, or the byte that is not UTF-8 (TOML 1.0.0, "Spec")."""
    assert "line 2" in fault(tmp_path, "id = 'hill'\nname = \n")
    assert "is not UTF-8 text (byte 6)" in fault(tmp_path, b'id = "\xff"')


def test_a_file_that_cannot_be_read_is_told_as_such(tmp_path: Path) -> None:
    """Missing, or a folder."""
    with pytest.raises(SetupError, match=r"^none\.toml cannot be read: No such file"):
        read_site(tmp_path / "none.toml")
    with pytest.raises(SetupError, match="cannot be read"):
        read_site(tmp_path)
