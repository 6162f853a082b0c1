"""A person's badge: a card of the size of a bank card, on a sheet to cut it from.

Whoever holds a copy of the code holds half of what signs in, and the card says so.
"""

import io

from reportlab.pdfgen.canvas import Canvas

from labels import symbol
from labels.lettering import ASCENT, LEADING, TEXT_FONT, fit, text_font, write
from labels.payload import grouped
from labels.stock import POINTS_PER_MM as MM

CARD_MM = (85.6, 53.98)
"""Width and height (ISO/IEC 7810, ID-1)."""

PAGE_MM = (210.0, 297.0)
_MARGIN_MM = 20.0
_MODULE_MM = 1.0
_DOTS = 10
_CAUTION = (
    "This badge is a key. Do not copy, photograph or lend it.",
    "Lost? Tell the administrator at once: it is ended in a minute.",
)
_SHEET = "Print at actual size and cut out. Keep no other copy of this sheet or of its file."


def badge_card(code: str, person_id: str, role: str, facility_name: str) -> bytes:
    """The PDF of one badge. The same badge gives the same bytes.

    A ValueError tells that the code is none: capitals and digits alone, so that its symbol is
    small and any hand scanner types it.
    """
    if not (code.isascii() and code.isalnum() and code == code.upper()):
        raise ValueError("A badge's code is of capitals and digits.")
    text_font()
    out = io.BytesIO()
    canvas = Canvas(out, (PAGE_MM[0] * MM, PAGE_MM[1] * MM), pageCompression=1, invariant=1)
    canvas.setTitle("Badge")
    canvas.setFont(TEXT_FONT, 9)
    foot = PAGE_MM[1] - _MARGIN_MM - CARD_MM[1]
    canvas.drawString(_MARGIN_MM * MM, (foot - 7) * MM, _SHEET)
    canvas.translate(_MARGIN_MM * MM, foot * MM)
    canvas.setLineWidth(0.5)
    canvas.rect(0, 0, CARD_MM[0] * MM, CARD_MM[1] * MM)
    side = _symbol(canvas, code)
    _words(canvas, code, person_id, role, facility_name, side)
    canvas.save()
    return out.getvalue()


def _symbol(canvas: Canvas, code: str) -> float:
    """Draw the symbol in the upper left corner; give how far it reaches with its border, in mm."""
    made = symbol.encode(code, "H")
    side = len(made.modules) * _MODULE_MM
    quiet = symbol.QUIET_MODULES * _MODULE_MM
    canvas.saveState()
    canvas.translate(quiet * MM, (CARD_MM[1] - quiet - side) * MM)
    scale = _MODULE_MM * MM / (_DOTS * symbol.TENTHS)
    canvas.scale(scale, scale)
    canvas.addLiteral(symbol.path(made, _DOTS))
    canvas.restoreState()
    return side + 2 * quiet


def _words(
    canvas: Canvas, code: str, person_id: str, role: str, facility_name: str, side: float
) -> None:
    right = (CARD_MM[0] - side - 3) * MM
    _text(canvas, (facility_name,), (side, CARD_MM[1] - 4), (right, 12 * MM), 10)
    _text(canvas, (person_id,), (side, CARD_MM[1] - 18), (right, 9 * MM), 18)
    _text(canvas, (role,), (side, CARD_MM[1] - 28), (right, 6 * MM), 12)
    below = CARD_MM[1] - side
    wide = (CARD_MM[0] - 8) * MM
    _text(canvas, (grouped(code),), (4, below), (wide, 4 * MM), 9)
    _text(canvas, _CAUTION, (4, below - 5), (wide, (below - 6) * MM), 8)


def _text(
    canvas: Canvas,
    paragraphs: tuple[str, ...],
    at_mm: tuple[float, float],
    room: tuple[float, float],
    largest: float,
) -> None:
    """Write lines from the upper left corner given, as large as they fit."""
    fitted = fit(paragraphs, room, largest, 4.5)
    y = at_mm[1] * MM - fitted.size * ASCENT
    for line in fitted.lines:
        write(canvas, (at_mm[0] * MM, y), line, fitted.size)
        y -= fitted.size * LEADING
