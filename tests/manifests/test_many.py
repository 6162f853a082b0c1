"""A quarter of many containers: the same forms as of few at hand, in memory that does not grow."""

import tracemalloc
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import BytesIO
from operator import itemgetter
from random import Random
from tempfile import TemporaryFile

import pytest
from reportlab.pdfgen.canvas import Canvas

from service.custody.history import History, fold
from service.manifests import kept as keeping
from service.manifests import tables
from service.manifests.figures import QuarterFigures, figures
from service.manifests.kept import Pile, kept
from service.manifests.pages import Pages
from service.manifests.pdf import pdf
from service.manifests.xlsx import write_xlsx, xlsx
from tests.manifests.quarters import LATER, Q3, invented, reckoned, told
from tests.trade import at, bag

FEW, TIMES = 30, 1.3


@pytest.fixture
def little_room(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hardly any row is held in memory."""
    monkeypatch.setattr(keeping, "AT_HAND", FEW)
    monkeypatch.setattr(keeping, "READ_AT_ONCE", 7)


@pytest.mark.usefixtures("little_room")
@pytest.mark.parametrize("count", [0, 1, FEW - 1, FEW, FEW + 1, 10 * FEW + 3])
def test_rows_come_in_order_equal_ones_as_they_came(count: int) -> None:
    """However many went into the file; and may be read as often as wanted, side by side."""
    random = Random(count)
    rows = [(random.randrange(20), number) for number in range(count)]
    pile: Pile[tuple[int, int]] = Pile(itemgetter(0))
    for row in rows:
        pile.add(row)
    held = kept(pile)

    assert list(held) == sorted(rows, key=itemgetter(0)) == list(held)
    assert list(zip(held, held, strict=True)) == [(row, row) for row in held]
    assert (len(held), bool(list(held))) == (count, bool(count))


def test_all_forms_are_the_same_bytes_however_little_is_at_hand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every section has more rows than may be held."""
    stories = told()
    at_hand = _forms(reckoned(stories))
    monkeypatch.setattr(keeping, "AT_HAND", 2)
    monkeypatch.setattr(tables, "AT_ONCE", 2)
    assert _forms(reckoned(stories)) == at_hand


def _forms(of: QuarterFigures) -> tuple[bytes, bytes, dict[str, bytes]]:
    return pdf(of), xlsx(of), tables.tables(of)


def _histories(many: int) -> Iterator[History]:
    """Bags, each late in its store and never sent, one made after the other is read."""
    for number in range(many):
        sealed = at("2026-07-01 08:00") + timedelta(minutes=20 * number)
        story = bag("soiled", f"BAG-{number:05}").sealed(sealed, weight_g=1_000 + number)
        story.collected(sealed + timedelta(minutes=5)).stored(sealed + timedelta(minutes=9))
        yield fold(story.container, story.entries)


@pytest.mark.usefixtures("little_room")
def test_twice_the_containers_take_no_twice_the_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines, violations and open containers of each are in every form, and held by none.

    With all of them at hand it is half as much again. The PDF's fonts would hide that: its pages
    are looked at below.
    """
    monkeypatch.setattr(tables, "AT_ONCE", 50)
    _peak(lambda: _written(100))  # rules, and what is remembered of texts
    less, more = _peak(lambda: _written(300)), _peak(lambda: _written(600))
    assert more < TIMES * less


def _written(many: int) -> None:
    of = figures(_histories(many), invented(), Q3, now=LATER)
    assert (len(of.lines), len(of.open)) == (many, many)
    assert len(of.violations) >= many
    with TemporaryFile() as out:
        write_xlsx(of, out)
    for _, table in tables.parts(of):
        assert all(table)


def _peak(what: Callable[[], None]) -> int:
    """The most bytes that were held while this was done."""
    tracemalloc.start()
    try:
        what()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_pages_that_left_memory_give_the_document_of_the_library() -> None:
    """Byte by byte, with a form that is filled in last, as the library alone writes it."""
    alone, ours = BytesIO(), BytesIO()
    canvas = _canvas(alone)
    _drawn(canvas, canvas.showPage)
    canvas.save()
    canvas = _canvas(BytesIO())
    pages = Pages(canvas)
    _drawn(canvas, pages.turn)
    pages.write(ours)
    assert ours.getvalue() == alone.getvalue()


def _canvas(out: BytesIO) -> Canvas:
    return Canvas(out, invariant=1, pageCompression=1)


def _drawn(canvas: Canvas, turn: Callable[[], None]) -> None:
    for number in range(3):
        canvas.setPageSize((300 + number, 200))
        canvas.drawString(20, 100, f"page {number}")
        canvas.doForm("how-many")
        turn()
    canvas.beginForm("how-many")
    canvas.drawString(0, 0, "3")
    canvas.endForm()
