"""How the difference of two tables is told: by line where one is missing, by cell where not."""

import pytest

from service.bundles.checks.case import shortened
from service.bundles.checks.cells import differing
from tests.bundles.made import files_of, whole


def table(name: str) -> list[bytes]:
    """The lines of a table of the good bundle."""
    return files_of(whole()[1])[f"csv/{name}"].splitlines(keepends=True)


def said(lines: list[bytes], name: str) -> list[str]:
    """What is said of these lines, the good ones being reckoned."""
    return differing(b"".join(lines), b"".join(table(name)), name)


@pytest.mark.parametrize("name", ["containers.csv", "open.csv", "treatments.csv", "by-unit.csv"])
def test_a_line_left_out_is_named_and_none_of_those_after_it(name: str) -> None:
    """By what it begins with, and by where it should stand."""
    lines = table(name)
    gone = lines.pop(2).decode().split(",")[name == "containers.csv"]
    (one,) = said(lines, name)
    assert one.startswith(f"csv/{name}: missing: {gone}")
    assert one.endswith("(line 3 as reckoned)")


def test_a_line_left_out_is_named_though_the_rest_was_numbered_anew() -> None:
    """The numbers that follow from it are no findings of their own."""
    lines = table("containers.csv")
    gone = lines.pop(2).split(b",")[1].decode()
    anew = [b"%d,%s" % (n, line.partition(b",")[2]) for n, line in enumerate(lines[1:], 1)]
    found = said([lines[0], *anew], "containers.csv")
    assert found == [f"csv/containers.csv: missing: {gone} (line 3 as reckoned)"]


def test_a_number_alone_that_is_another_is_found() -> None:
    """Where no line is missing a line's own number counts as every cell does."""
    lines = table("containers.csv")
    lines[2] = b"7," + lines[2].partition(b",")[2]
    assert said(lines, "containers.csv") == [
        "csv/containers.csv, line 3, line: said '7', reckoned '2'"
    ]


def test_a_line_left_out_and_a_cell_changed_are_both_told() -> None:
    """The one by its name, the other in its line as it stands."""
    lines = table("open.csv")
    gone = lines.pop(1).split(b",")[0].decode()
    cells = lines[2].split(b",")
    lines[2] = b",".join([cells[0], b"blue", *cells[2:]])
    assert said(lines, "open.csv") == [
        f"csv/open.csv: missing: {gone} (line 2 as reckoned)",
        f"csv/open.csv, line 3, category: said 'blue', reckoned '{cells[1].decode()}'",
    ]


def test_a_line_too_many_and_lines_swapped_are_told() -> None:
    """A line twice, and two in each other's place."""
    lines = table("open.csv")
    twice = lines[1].split(b",")[0].decode()
    (one,) = said([*lines, lines[1]], "open.csv")
    assert one.endswith(f"listed, but not found by entries and rules: {twice}")
    lines[2], lines[3] = lines[3], lines[2]
    assert said(lines, "open.csv") == [
        "csv/open.csv: its lines are in another order, from line 3 on"
    ]


def test_bytes_that_a_table_is_not_written_in_are_told() -> None:
    """The same cells with other line ends; a line cut short; no table; other columns; nothing."""
    lines = table("open.csv")
    (one,) = said([line.replace(b"\r\n", b"\n") for line in lines], "open.csv")
    assert one == "csv/open.csv: written otherwise than a table's lines are"
    cut = b",".join(lines[1].split(b",")[:2]) + b"\r\n"
    (one,) = said([lines[0], cut, *lines[2:]], "open.csv")
    assert "line 2: 2 cells, not" in one
    assert "is no table" in said([b'"'], "open.csv")[0]
    for other in ([b"container\r\n"], []):
        assert "its columns are not those" in said(other, "open.csv")[0]


def test_of_many_findings_it_is_said_how_many_more_there_are() -> None:
    """Nothing is cut off unsaid."""
    found = said(table("containers.csv")[:1], "containers.csv")
    assert len(found) == len(table("containers.csv")) - 1
    assert shortened(found).endswith(f"; and {len(found) - 5} more")
    assert shortened(found[:5]) == "; ".join(found[:5])
