"""The composition of one label: every text fitted to its box, every frame, before any drawing.

Pure: a face and a layout in, boxes and lines out.
"""

from dataclasses import dataclass, field

from labels.face import Face, Hazard
from labels.layout import Box, Layout
from labels.lettering import LEADING, Fitted, fit
from labels.payload import grouped
from labels.stock import POINTS_PER_MM as MM

CAPTION_POINTS = 4.75
_BOLD = {"category_name", "colour_name", "unit_name", "sealed_at_local", "weight_kg", "cautions"}
_CAPTION = (CAPTION_POINTS, CAPTION_POINTS)
RULE_POINTS = 0.6
"""Width of thin rules, which stand half on each side of a box's edge."""

SMALLEST_POINTS = 4.5
"""Least size of print; below it letters of a 203 dpi printer run together."""

_ID_POINTS_MAX = 34.0
_ID_EM = 0.6
"""Width of every Courier character, in ems."""
_ROW_MM_MIN, _ROW_MM_MAX = 6.0, 9.0
_PRINT_POINTS = 7.0
_PRINT_POINTS_MAX = 8.5


@dataclass(frozen=True, slots=True)
class Text:
    """A fitted text in its box; `name` is the field of the face it shows."""

    name: str
    box: Box
    fitted: Fitted
    bold: bool = False


_NOWHERE = Box(0, 0, 0, 0)


@dataclass(slots=True)
class Composition:
    """All parts of one label, in points from its lower left corner."""

    id_text: str = ""
    id_box: Box = _NOWHERE
    id_points: float = 0.0
    block: Box = _NOWHERE
    tile: Box = _NOWHERE
    badge: Box = _NOWHERE
    panel: Box = _NOWHERE
    hazard: Box | None = None
    cells: list[Box] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)

    def put(
        self, name: str, paragraphs: tuple[str, ...], box: Box, sizes: tuple[float, float]
    ) -> Fitted:
        """Fit paragraphs into a box, from the larger size down to the smaller, and keep them."""
        fitted = fit(paragraphs, (box.width, box.height), *sizes)
        if fitted.lines or fitted.cut:
            bold = name in _BOLD
            self.texts.append(Text(name, box, fitted, bold))
        return fitted


def compose(face: Face, layout: Layout) -> Composition:
    """The composition of a face: printed where a field is filled, a box to write in where not."""
    made = Composition(id_text=grouped(face.container_id))
    _category(made, face, layout.upper)
    rest = _id(made, layout)
    _facts_and_print(made, face, rest)
    return made


def _id(made: Composition, layout: Layout) -> Box:
    """Place the id in the middle where there is room, else atop the lower band; what is left."""
    wide = len(made.id_text) * _ID_EM
    if layout.middle:
        made.id_box, rest = layout.middle, layout.lower
        made.id_points = min(_ID_POINTS_MAX, layout.middle.width / wide, layout.middle.height / 0.6)
    else:
        made.id_points = min(20.0, layout.lower.width / wide)
        made.id_box, rest = layout.lower.split_top(made.id_points * 0.68, 0.8 * MM)
    return rest


def _category(made: Composition, face: Face, box: Box) -> None:
    """The block of colour: a patterned tile with the letter, and a white panel with the words."""
    made.block, inner = box, box.inset(1.3 * MM)
    made.tile = Box(box.x, box.y, min(box.height, box.width * 0.27), box.height)
    made.panel = Box(made.tile.right, inner.y, inner.right - made.tile.right, inner.height)
    side = min(made.tile.width, made.tile.height) * 0.66
    across, down = made.tile.width - side, made.tile.height - side
    made.badge = Box(made.tile.x + across / 2, made.tile.y + down / 2, side, side)
    room = made.panel.inset(1.3 * MM)
    if face.symbol != Hazard.NONE:
        room, made.hazard = room.split_right(min(room.height * 0.9, room.width * 0.36), 0.8 * MM)
    if not face.category_name:
        made.put("caption", ("LETTER",), made.badge.inset(0.7 * MM), _CAPTION)
        made.put("caption", ("CATEGORY",), room.split_top(CAPTION_POINTS * LEADING)[0], _CAPTION)
        return
    below = room.height * 0.28 if face.colour_name else 0.0
    name, colour = room.split_top(room.height - below)
    made.put("category_name", (face.category_name,), name, (22.0, SMALLEST_POINTS))
    made.put("colour_name", (face.colour_name.upper(),), colour, (13.0, SMALLEST_POINTS))


def _facts_and_print(made: Composition, face: Face, box: Box) -> None:
    """Unit, sealing time and weight in captioned cells, then cautions and the regime's lines."""
    small = tuple(filter(None, (face.cautions, *face.regime_lines)))
    wanted = fit(small, (box.width, 1000.0), _PRINT_POINTS, SMALLEST_POINTS).height
    rows = 2 if box.height - 2 * _ROW_MM_MAX * MM >= wanted else 1
    free = box.height - wanted - 0.8 * MM
    high = max(_ROW_MM_MIN, min(free / MM, rows * _ROW_MM_MAX)) * MM if small else box.height
    cells, rest = box.split_top(high, 0.8 * MM)
    _cells(made, face, cells.inset(RULE_POINTS / 2), rows)
    if small:
        _small_print(made, face, rest)


def _cells(made: Composition, face: Face, box: Box, rows: int) -> None:
    if rows == 2:
        unit, below = box.split_top(box.height / 2)
        sealed, weight = below.split_right(below.width * 0.4)
    else:
        rest, weight = box.split_right(box.width * 0.26)
        unit, sealed = rest.split_right(rest.width * 0.45)
    _cell(made, unit, "UNIT", "unit_name", face.unit_name)
    _cell(
        made,
        sealed,
        "SEALED" if face.sealed_at_local else "DATE, TIME",
        "sealed_at_local",
        face.sealed_at_local,
    )
    _cell(made, weight, "WEIGHT" if face.weight_kg else "WEIGHT (kg)", "weight_kg", face.weight_kg)
    if face.facility_name:
        _, beside = unit.inset(0.7 * MM).split_right(unit.width - 7.5 * MM)
        beside = beside.split_top(CAPTION_POINTS * LEADING)[0]
        made.put("facility_name", (face.facility_name,), beside, _CAPTION)


def _cell(made: Composition, box: Box, caption: str, name: str, value: str) -> None:
    """One captioned cell; without a value it stays empty, to be written in by hand."""
    made.cells.append(box)
    inner = box.inset(0.7 * MM)
    above, room = inner.split_top(CAPTION_POINTS * LEADING)
    made.put("caption", (caption,), above, _CAPTION)
    made.put(name, (value,), room, (12.0, SMALLEST_POINTS))


def _small_print(made: Composition, face: Face, box: Box) -> None:
    """Cautions first and bold, then the regime's lines, together as large as they fit."""
    room = (box.width, box.height)
    small = tuple(filter(None, (face.cautions, *face.regime_lines)))
    size = fit(small, room, _PRINT_POINTS_MAX, SMALLEST_POINTS).size
    cautions = made.put("cautions", (face.cautions,), box, (size, size))
    below = box.split_top(cautions.height)[1]
    made.put("regime_lines", face.regime_lines, below, (size, size))
