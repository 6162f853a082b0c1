"""The stocks: their labels fit the page, their names are known, rolls are whole dots."""

import math
from dataclasses import replace
from typing import Any

import pytest

from labels.layout import APART_MM_MIN, lay_out
from labels.stock import STOCKS, named
from labels.symbol import QUIET_MODULES, module_dots, size_modules

MM_PER_INCH = 25.4


def test_an_unknown_stock_is_refused_with_the_names_there_are() -> None:
    """The message lists the stocks that can be asked for."""
    with pytest.raises(ValueError, match="there are a4-8, a4-10"):
        named("a4-9")


@pytest.mark.parametrize("change", [{"columns": 3}, {"top_mm": 40}, {"rows": 0}])
def test_labels_that_do_not_fit_the_page_are_refused(change: dict[str, Any]) -> None:
    """A stock whose labels run off the page cannot be made."""
    with pytest.raises(ValueError, match="do not fit"):
        replace(named("a4-8"), **change)


def test_sheets_leave_equal_margins() -> None:
    """The labels of a sheet stand in its middle, so a sheet turned round prints as well."""
    for stock in STOCKS.values():
        wide = stock.columns * stock.label_width_mm + (stock.columns - 1) * stock.gap_x_mm
        high = stock.rows * stock.label_height_mm + (stock.rows - 1) * stock.gap_y_mm
        assert stock.page_width_mm - wide == pytest.approx(2 * stock.left_mm, abs=0.05)
        assert stock.page_height_mm - high == pytest.approx(2 * stock.top_mm, abs=0.05)


@pytest.mark.parametrize(("dpi", "dots"), [(203, 5), (300, 8), (600, 15)])
def test_a_module_is_whole_dots_and_at_least_six_tenths_of_a_mm(dpi: int, dots: int) -> None:
    """5 dots at 203 dpi by design; at other resolutions the fewest dots that reach 0.6 mm."""
    assert module_dots(dpi) == dots
    assert 0.6 <= dots * MM_PER_INCH / dpi < 0.7


@pytest.mark.parametrize("name", STOCKS)
def test_the_longest_payload_fits_every_stock_at_level_h(name: str) -> None:
    """Two symbols of 50 characters at level H (version 4) have room on each stock."""
    stock = named(name)
    layout = lay_out(stock, size_modules(4))
    assert layout is not None
    places = zip(layout.upper_symbol, layout.lower_symbol, strict=True)
    across, down = (max(0, upper - lower - 33 * layout.dots) for upper, lower in places)
    assert math.hypot(across, down) * MM_PER_INCH / stock.dpi >= APART_MM_MIN
    quiet = QUIET_MODULES * layout.dots
    assert min(layout.lower_symbol) >= quiet
    assert layout.upper_symbol[0] + 33 * layout.dots + quiet <= stock.dots(stock.label_width_mm)
    assert layout.upper_symbol[1] + 33 * layout.dots + quiet <= stock.dots(stock.label_height_mm)


def test_a_label_too_small_for_two_symbols_has_no_layout() -> None:
    """Where two symbols cannot stand 12 mm apart there is no layout at all."""
    small = replace(named("roll-75x50-203"), label_width_mm=50, page_width_mm=50)
    assert lay_out(small, size_modules(4)) is None
