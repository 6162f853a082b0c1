"""The pages of the regimes say what the files say, and the committed ones are in step."""

import re

from service.regimes.load import BUNDLED, assemble, available, load
from service.regimes.page import DOCS, SECTIONS, page, pages


def test_the_committed_pages_are_in_step_with_the_files() -> None:
    """A changed row needs its page written again: python -m service.regimes.page."""
    committed = {path.name: path.read_text(encoding="utf-8") for path in DOCS.glob("*.md")}
    assert committed == pages()


def test_a_page_has_every_row_of_its_regime() -> None:
    """No table of rows is left off a page, and no row of a table."""
    for regime_id in available():
        regime = load(BUNDLED / f"{regime_id}.toml")
        lines = page(regime).splitlines()
        wanted = sum(len(getattr(regime, table)) for _, table, _, _ in SECTIONS)
        heads = sum(1 for line in lines if re.fullmatch(r"\| --- (\| --- )*\|", line))
        table_lines = sum(1 for line in lines if line.startswith("| "))
        facts_and_sources = len(regime.site_facts) + len(regime.source)
        assert table_lines - 2 * heads == wanted + facts_and_sources


def test_a_page_says_how_each_value_was_verified() -> None:
    """Memory is never shown as the text itself."""
    text = page(assemble("india-2016"))
    assert "| 48 hours | from the first item put in | untreated | rule 8(7) (`bmwm-2016`)" in text
    assert "memory, medium" in text
    assert "cardboard box with blue marking" in text
    assert "2016-03-28 until 2018-03-16" in text
    assert "local codes" in text


def test_the_index_sets_the_regimes_side_by_side() -> None:
    """Red is anatomical in England and recyclable plastic in India: the page shows it."""
    text = pages()["README.md"]
    red = next(line for line in text.splitlines() if line.startswith("| red |"))
    assert "Anatomical waste" in red
    assert "Contaminated waste, recyclable" in red
    assert "72 hours, from the first item put in" in text
    for regime_id in available():
        assert f"({regime_id}.md)" in text
