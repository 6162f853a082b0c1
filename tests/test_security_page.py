"""docs/security.md names tests and files that there are, and judges each requirement once."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
MARKS = {"met", "part", "no", "yours", "–"}
CHAPTERS = [1, 2, 3, 4, 5, 6, 7, 8, 11, 12, 13, 14, 15, 16]


@cache
def _tests_of(path: str) -> frozenset[str]:
    """The functions of a file that pytest would take for tests."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    kinds = ast.FunctionDef | ast.AsyncFunctionDef
    return frozenset(
        node.name for node in tree.body if isinstance(node, kinds) and node.name.startswith("test_")
    )


def _rows() -> list[list[str]]:
    """The rows of the tables of requirements."""
    judged = PAGE.partition("## What is not met")[0]
    lines = [line for line in judged.splitlines() if re.match(r"\| \d", line)]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def _numbers(cell: str) -> list[tuple[int, int, int]]:
    """Every number that a cell names; ``1.2.6–1.2.8`` names three."""
    found = []
    for part in cell.split(", "):
        ends = [tuple(map(int, end.split("."))) for end in part.split("–")]
        first, last = ends[0], ends[-1]
        assert first[:2] == last[:2], cell
        found += [(*first[:2], number) for number in range(first[2], last[2] + 1)]
    return found


@pytest.mark.parametrize(
    ("path", "name"), sorted(set(re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", PAGE)))
)
def test_every_test_that_is_named_is_there(path: str, name: str) -> None:
    """One that was renamed or deleted shows nothing any more."""
    assert name in _tests_of(path)


def test_every_file_that_is_named_is_there() -> None:
    """And every folder."""
    named = set(re.findall(r"`((?:service|tests|docs|labels|scenario|\.ci)/[\w./-]*)`", PAGE))
    assert len(named) > 20
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []


def test_every_link_leads_somewhere() -> None:
    """To a page beside this one, and to a heading in it."""
    links = re.findall(r"\]\(([\w./-]*)(?:#([\w-]+))?\)", PAGE)
    assert links
    wrong = []
    for page, heading in links:
        text = (ROOT / "docs" / page).read_text(encoding="utf-8") if page else PAGE
        titles = {
            re.sub(r"[^\w -]", "", title).lower().replace(" ", "-")
            for title in re.findall(r"^#+ (.*)$", text, re.MULTILINE)
        }
        if heading and heading not in titles:
            wrong.append((page, heading))
    assert wrong == []


def test_each_requirement_is_judged_once_in_its_chapter() -> None:
    """With a mark that the page explains, and a word on how or why."""
    seen = []
    for number, sense, mark, how, shown in _rows():
        assert mark in MARKS, number
        assert sense, number
        assert how or shown, number
        seen += _numbers(number)
    assert len(seen) == len(set(seen))
    assert sorted({number[0] for number in seen}) == CHAPTERS
    assert len(seen) > 150


def test_what_is_not_met_is_said_again_with_what_it_would_take() -> None:
    """Nobody has to look for it in long tables."""
    again = PAGE.partition("## What is not met")[2].partition("\n## ")[0]
    missing = [row[0] for row in _rows() if row[2] == "no" and f"({row[0]})" not in again]
    assert missing == []
    for line in again.splitlines():
        if line.startswith("| ") and "---" not in line:
            assert len(line.strip("|").split("|")) == 3, line
