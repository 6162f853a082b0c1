"""The printed symbol against readers, an encoder and rasterisers that are not ours.

Readers: zxing-cpp and zbar. Encoder: segno. Rasterisers: pdfium and poppler. Damage as measured
for this project's choice of two symbols, 5-dot modules and level H. A simulation of printer and
camera, not a printer: a real one should be tried before labels are bought in number.
"""

import io
import math
import shutil
import subprocess
from ctypes.util import find_library
from pathlib import Path

import numpy as np
import pytest
import qrcode
import segno
import zxingcpp
from PIL import Image
from qrcode.util import MODE_ALPHA_NUM, QRData, lost_point

from labels.sheets import level_for, print_labels
from labels.stock import STOCKS, Stock, named
from labels.symbol import LEVELS, QUIET_MODULES, encode, version_for
from tests.labels.camera import Bits, Paper, Picture, by_zbar, by_zxing, picture, raster
from tests.labels.samples import blank, filled
from tests.needs import without

MM_PER_INCH = 25.4
ROLL = named("roll-100x50-203")
TEXTS = ("HTTPS://A.EXAMPLE/7K3M92QDF0VX/AB3DEFG", filled(0).payload, "HTTPS://" + "Z" * 42)


def needs(found: object, what: str) -> None:
    """Skip with the reason where a system tool is missing; fail where all is required."""
    if not found:
        without(f"{what} is not installed on this system")


def label_of(page: Bits, stock: Stock, place: int, dpi: int) -> Bits:
    """One label cut from the raster of its page at some resolution."""
    scale = dpi / MM_PER_INCH
    row, column = divmod(place, stock.columns)
    left = stock.left_mm + column * (stock.label_width_mm + stock.gap_x_mm)
    top = stock.top_mm + row * (stock.label_height_mm + stock.gap_y_mm)
    rows = slice(round(top * scale), round((top + stock.label_height_mm) * scale))
    return page[rows, round(left * scale) : round((left + stock.label_width_mm) * scale)]


def symbols_of(label: Bits, stock: Stock, dpi: int, modules: int) -> list[Bits]:
    """The two symbols of a label, each cut out with its quiet zone."""
    _, layout = level_for(filled(0).payload, stock)
    scale = dpi / stock.dpi
    quiet = QUIET_MODULES * layout.dots
    whole = modules * layout.dots + 2 * quiet
    cuts = []
    for x, y in (layout.upper_symbol, layout.lower_symbol):
        foot, left = label.shape[0] - round((y - quiet) * scale), round((x - quiet) * scale)
        high = round(whole * scale)
        cuts.append(label[max(0, foot - high) : foot, left : left + high])
    return cuts


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", STOCKS)
def test_both_symbols_of_every_label_are_read_by_zxing(name: str, dpi: int) -> None:
    """Each label of a full sheet or of a roll gives its own payload twice, in one bit a dot."""
    stock = named(name)
    faces = [filled(number) if number % 2 else blank(number) for number in range(10)]
    pdf = print_labels(faces, stock)
    for number, face in enumerate(faces):
        sheet, place = divmod(number, stock.labels_a_page)
        label = label_of(_page(pdf, dpi, sheet), stock, place, dpi)
        assert by_zxing(picture(label)) == [face.payload] * 2


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("name", STOCKS)
def test_each_symbol_alone_is_read_by_zbar(name: str, dpi: int) -> None:
    """Either symbol of each label, cut out alone, gives the payload to a second reader."""
    needs(find_library("zbar"), "the system library libzbar")
    stock = named(name)
    faces = [filled(number) for number in range(4)]
    pdf = print_labels(faces, stock)
    for number, face in enumerate(faces):
        sheet, place = divmod(number, stock.labels_a_page)
        label = label_of(_page(pdf, dpi, sheet), stock, place, dpi)
        for cut in symbols_of(label, stock, dpi, 33):
            assert by_zbar(picture(cut, zoom=2)) == [face.payload]
            assert by_zxing(picture(cut)) == [face.payload]


_PAGES: dict[tuple[int, int, int], Bits] = {}


def _page(pdf: bytes, dpi: int, page: int) -> Bits:
    key = (hash(pdf), dpi, page)
    if key not in _PAGES:
        _PAGES.clear()
        _PAGES[key] = raster(pdf, dpi, page)
    return _PAGES[key]


@pytest.mark.parametrize("name", [name for name in STOCKS if name.startswith("roll")])
@pytest.mark.parametrize("drawn_by", ["pdfium", "poppler"])
def test_modules_are_whole_dots_in_two_rasterisers(
    name: str, drawn_by: str, tmp_path: Path
) -> None:
    """On a roll each module is a square of whole dots, to the dot, with no gain at the edges.

    poppler paints every dot that a shape touches, as page printers may (Adobe, PDF Reference 1.7,
    §10.6.4 scan conversion, from memory); pdfium was rounded at half a dot.
    """
    stock = named(name)
    face = filled(1)
    pdf = print_labels([face], stock)
    page = raster(pdf, stock.dpi) if drawn_by == "pdfium" else _by_poppler(pdf, stock, tmp_path)
    assert page.shape == (stock.dots(stock.page_height_mm), stock.dots(stock.page_width_mm))
    code, layout = level_for(face.payload, stock)
    assert layout.dots * MM_PER_INCH / stock.dpi >= 0.5
    wanted = np.kron(np.array(code.modules), np.ones((layout.dots, layout.dots), bool))
    size = len(wanted)
    for x, y in (layout.upper_symbol, layout.lower_symbol):
        foot = page.shape[0] - y
        assert (page[foot - size : foot, x : x + size] == wanted).all()


def _by_poppler(pdf: bytes, stock: Stock, folder: Path) -> Bits:
    needs(shutil.which("pdftoppm"), "pdftoppm of poppler-utils")
    (folder / "label.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-mono", "-singlefile", "-r", str(stock.dpi), "label.pdf", "label"]
    subprocess.run(command, check=True, cwd=folder, timeout=60)
    image = Image.open(io.BytesIO((folder / "label.pbm").read_bytes()))
    return np.logical_not(np.asarray(image, dtype=np.bool_))


@pytest.mark.parametrize("name", STOCKS)
def test_the_symbols_of_a_page_stand_at_least_12_mm_apart(name: str) -> None:
    """Measured on the printed page from the corners that zxing-cpp finds, label by label."""
    stock = named(name)
    dpi = max(300, stock.dpi if stock.is_roll else 300)
    page = raster(print_labels([filled(n) for n in range(stock.labels_a_page)], stock), dpi)
    for place in range(stock.labels_a_page):
        found = zxingcpp.read_barcodes(picture(label_of(page, stock, place, dpi)))
        one, other = (_box(each.position) for each in found)
        across = max(0, other[0] - one[2], one[0] - other[2])
        down = max(0, other[1] - one[3], one[1] - other[3])
        assert math.hypot(across, down) * MM_PER_INCH / dpi >= 12


def _box(position: zxingcpp.Position) -> tuple[int, int, int, int]:
    corners = (
        position.top_left,
        position.top_right,
        position.bottom_left,
        position.bottom_right,
    )
    across, down = [corner.x for corner in corners], [corner.y for corner in corners]
    return min(across), min(down), max(across), max(down)


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("level", LEVELS)
def test_the_matrix_equals_segnos(text: str, level: str) -> None:
    """Module for module the symbol is that of segno, an encoder of another author, at each mask."""
    for mask in range(8):
        theirs = segno.make(text, error=level, mask=mask, boost_error=False, micro=False)
        ours = encode(text, level, mask)
        assert [list(row) for row in theirs.matrix] == [list(map(int, r)) for r in ours.modules]


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("level", LEVELS)
def test_the_best_mask_is_chosen(text: str, level: str) -> None:
    """No other mask has fewer penalty points (ISO/IEC 18004, data masking) by qrcode's count."""
    points = []
    for mask in range(8):
        code = qrcode.QRCode(error_correction=LEVELS[level], border=0, mask_pattern=mask)
        code.add_data(QRData(text, mode=MODE_ALPHA_NUM))
        code.make()
        points.append(lost_point(code.modules))
    assert points[encode(text, level).mask] == min(points)


@pytest.mark.parametrize(
    ("characters", "level", "version"),
    [
        *((20, "H", 2), (21, "H", 3), (35, "H", 3), (36, "H", 4), (50, "H", 4), (51, "H", 5)),
        *((29, "Q", 2), (30, "Q", 3), (47, "Q", 3), (48, "Q", 4), (67, "Q", 4), (68, "Q", 5)),
    ],
)
def test_version_follows_the_published_capacity(characters: int, level: str, version: int) -> None:
    """Alphanumeric capacity by version and level: ISO/IEC 18004:2015 table 7 (public restating)."""
    assert version_for(characters, level) == version


# Damage -------------------------------------------------------------------------------------

TRIALS = 48
Spot = tuple[float, float]


def _boxes_mm(paper: Paper) -> list[tuple[float, float, float, float]]:
    """Left, top, right, bottom of the two symbols with their quiet zones, in mm."""
    code, layout = level_for(filled(0).payload, ROLL)
    around, size = QUIET_MODULES * layout.dots, len(code.modules) * layout.dots
    boxes = []
    for x, y in (layout.upper_symbol, layout.lower_symbol):
        top = paper.bits.shape[0] - y - size
        edges = (x - around, top - around, x + size + around, top + size + around)
        boxes.append(tuple(edge / paper.dots_per_mm for edge in edges))
    return boxes  # type: ignore[return-value]


def _spot(box: tuple[float, float, float, float], rng: np.random.Generator) -> Spot:
    """Any point of a box."""
    return float(rng.uniform(box[0], box[2])), float(rng.uniform(box[1], box[3]))


def _blot(paper: Paper, target: int, rng: np.random.Generator) -> Paper:
    return paper.blot(_spot(_boxes_mm(paper)[target], rng), 8)


def _crease(paper: Paper, target: int, rng: np.random.Generator) -> Paper:
    return paper.crease(_spot(_boxes_mm(paper)[target], rng), float(rng.uniform(0, math.pi)), 2)


def _mixed(paper: Paper, target: int, rng: np.random.Generator) -> Paper:
    """Three creases, two blots and four dead dots, each through either symbol."""
    boxes = _boxes_mm(paper)
    for _ in range(3):
        at = _spot(boxes[rng.integers(2)], rng)
        paper = paper.crease(at, float(rng.uniform(0, math.pi)), 0.5)
    for _ in range(2):
        paper = paper.blot(_spot(boxes[rng.integers(2)], rng), 3)
    left, _, right, _ = boxes[target]
    columns = rng.integers(int(left * paper.dots_per_mm), int(right * paper.dots_per_mm), 4)
    return paper.dead_dots(columns)


def _is_read(image: Picture, text: str) -> bool:
    """Whether either reader gives the payload; a wrong text is a failure in itself."""
    for reader in (by_zxing, by_zbar):
        texts = reader(image)
        assert set(texts) <= {text}
        if texts:
            return True
    return False


@pytest.mark.parametrize(
    ("damage", "least"),
    [(_blot, 0.95), (_crease, 0.75), (_mixed, 0.65)],
    ids=["stain 8 mm", "fold 2 mm", "mixed"],
)
def test_a_damaged_label_is_still_read(damage: object, least: float) -> None:
    """Aimed at one symbol, a stain, a fold or both spoil few labels; with one symbol, many more.

    The label is the real one at 203 dpi in one bit, seen by the camera of `tests.labels.camera`.
    The control is the same damaged label with only the symbol that was aimed at.
    """
    needs(find_library("zbar"), "the system library libzbar")
    rng = np.random.default_rng(20260703)
    read, read_alone = 0, 0
    papers = [
        Paper(raster(print_labels([filled(n)], ROLL), ROLL.dpi), ROLL.dpi / MM_PER_INCH)
        for n in range(8)
    ]
    for trial in range(TRIALS):
        face, paper = filled(trial % 8), papers[trial % 8]
        target = trial // 8 % 2
        spoilt = damage(paper, target, rng)  # type: ignore[operator]
        alone = spoilt.only(_boxes_mm(paper)[target])
        read += _is_read(spoilt.photo(rng), face.payload)
        read_alone += _is_read(alone.photo(rng), face.payload)
    assert read / TRIALS >= least
    assert read_alone / TRIALS <= read / TRIALS - 0.2


def test_a_clean_label_is_always_read_by_the_camera() -> None:
    """Control of the simulation: without damage every photo is read, at any angle."""
    rng = np.random.default_rng(7)
    paper = Paper(raster(print_labels([filled(0)], ROLL), ROLL.dpi), ROLL.dpi / MM_PER_INCH)
    assert all(by_zxing(paper.photo(rng)) for _ in range(12))
