"""Draws one composed label on a PDF canvas: the symbols, the block of colour, the words.

It decides nothing: places and texts come from the composition.
"""

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from labels.composition import RULE_POINTS, Composition, Text
from labels.face import Face
from labels.layout import Box, Layout
from labels.lettering import ASCENT, ID_FONT, LEADING, text_font, width, write
from labels.marks import hazard_form, pattern_form
from labels.stock import POINTS_PER_INCH, Stock
from labels.symbol import TENTHS

_HEAVY = 1.4
_COURIER_CAPITAL_EM = 0.58


def draw(canvas: Canvas, face: Face, made: Composition, *, colour: bool) -> None:
    """Draw everything of a label but its symbols, from the label's lower left corner."""
    text_font()
    canvas.setStrokeGray(0)
    _block(canvas, face, made, colour=colour)
    if made.hazard:
        _hazard(canvas, face.symbol, made.hazard)
    canvas.setFillGray(0)
    canvas.setLineWidth(RULE_POINTS)
    for box in made.cells:
        canvas.rect(box.x, box.y, box.width, box.height, stroke=1, fill=0)
    _id(canvas, made)
    for text in made.texts:
        _text(canvas, text)


def draw_symbols(canvas: Canvas, path: str, layout: Layout, stock: Stock) -> None:
    """Draw the symbol's path at its two places, in whole dots from the label's corner."""
    canvas.setFillGray(0)
    point = POINTS_PER_INCH / stock.dpi
    for x, y in (layout.upper_symbol, layout.lower_symbol):
        canvas.saveState()
        canvas.translate(x * point, y * point)
        canvas.scale(point / TENTHS, point / TENTHS)
        canvas.addLiteral(path)
        canvas.restoreState()


def _block(canvas: Canvas, face: Face, made: Composition, *, colour: bool) -> None:
    """The block of colour; colour and pattern never lie behind words, which stand on white."""
    canvas.setFillGray(1)
    if colour and face.colour_hex:
        canvas.setFillColor(HexColor(face.colour_hex))
    _rect(canvas, made.block, _HEAVY)
    if face.category_name:
        tile = made.tile.inset(_HEAVY / 2)
        form = pattern_form(canvas, face.pattern, tile.width, tile.height)
        _form(canvas, form, tile.x, tile.y)
    canvas.setFillGray(1)
    _rect(canvas, made.panel, RULE_POINTS)
    _rect(canvas, made.badge, _HEAVY)
    canvas.setStrokeGray(0)
    _rect(canvas, made.block, _HEAVY, filled=False)
    canvas.setFillGray(0)
    _letter(canvas, face.mark, made.badge)


def _form(canvas: Canvas, name: str, x: float, y: float) -> None:
    canvas.saveState()
    canvas.translate(x, y)
    canvas.doForm(name)
    canvas.restoreState()


def _rect(canvas: Canvas, box: Box, line: float, *, filled: bool = True) -> None:
    canvas.setLineWidth(line)
    inner = box.inset(line / 2)
    canvas.rect(inner.x, inner.y, inner.width, inner.height, stroke=1, fill=int(filled))


def _letter(canvas: Canvas, mark: str, badge: Box) -> None:
    """The category's letter in its white square, as tall as the square allows."""
    if not mark:
        return
    size = badge.height * 0.98
    size *= min(1.0, badge.width * 0.86 / width(mark, size))
    x = badge.x + (badge.width - width(mark, size)) / 2
    write(canvas, (x, badge.y + badge.height / 2 - size * 0.357), mark, size, bold=True)


def _hazard(canvas: Canvas, hazard: str, box: Box) -> None:
    """The hazard symbol with its word below."""
    word = hazard.upper()
    size = box.width / width(word, 1.0)
    below = size * 1.1
    side = min(box.width, box.height - below)
    x, y = box.x + (box.width - side) / 2, box.y + below + (box.height - below - side) / 2
    _form(canvas, hazard_form(canvas, hazard, side), x, y)
    canvas.setFillGray(0)
    write(canvas, (box.x, box.y + size * 0.12), word, size, bold=True)


def _id(canvas: Canvas, made: Composition) -> None:
    """The id in its groups, in letters of one width."""
    size, box = made.id_points, made.id_box
    canvas.setFillGray(0)
    canvas.setFont(ID_FONT, size)
    canvas.drawCentredString(
        box.x + box.width / 2,
        box.y + (box.height - size * _COURIER_CAPITAL_EM) / 2,
        made.id_text,
        mode=0,
    )


def _text(canvas: Canvas, text: Text) -> None:
    size, box = text.fitted.size, text.box
    y = box.top - size * ASCENT
    for line in text.fitted.lines:
        write(canvas, (box.x, y), line, size, bold=text.bold)
        y -= size * LEADING
