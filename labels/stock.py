"""The label stocks that can be printed on, as rows of sizes: A4 and Letter sheets, thermal rolls.

Sizes are of common generic stocks (common practice, no source); names are this project's own.
"""

import math
from dataclasses import dataclass

MM_PER_INCH = 25.4
POINTS_PER_INCH = 72
POINTS_PER_MM = POINTS_PER_INCH / MM_PER_INCH


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One kind of label sheet or roll: sizes in mm, resolution in printer dots an inch.

    `colour` is False for thermal printers: they have black only, so no tint is drawn that the
    printer would have to break up into dots.
    """

    name: str
    title: str
    dpi: int
    page_width_mm: float
    page_height_mm: float
    label_width_mm: float
    label_height_mm: float
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    colour: bool = True

    def __post_init__(self) -> None:
        width_mm = self.left_mm + self.columns * (self.label_width_mm + self.gap_x_mm)
        height_mm = self.top_mm + self.rows * (self.label_height_mm + self.gap_y_mm)
        if (
            min(self.columns, self.rows, self.dpi) < 1
            or width_mm - self.gap_x_mm > self.page_width_mm + 0.01
            or height_mm - self.gap_y_mm > self.page_height_mm + 0.01
        ):
            raise ValueError(f"The labels of stock {self.name!r} do not fit on its page.")

    @property
    def labels_a_page(self) -> int:
        """How many labels one page or one feed of the roll has."""
        return self.columns * self.rows

    @property
    def is_roll(self) -> bool:
        """Whether the page is the label itself, as on a roll."""
        return self.labels_a_page == 1

    def dots(self, length_mm: float) -> int:
        """Whole printer dots that fit into a length in mm (rounded down)."""
        return math.floor(length_mm * self.dpi / MM_PER_INCH + 1e-6)

    @property
    def page_size_points(self) -> tuple[float, float]:
        """The PDF page; on a roll it is whole dots, so that the printer driver scales nothing."""
        if self.is_roll:
            return self._whole(self.page_width_mm), self._whole(self.page_height_mm)
        return self.page_width_mm * POINTS_PER_MM, self.page_height_mm * POINTS_PER_MM

    def _whole(self, length_mm: float) -> float:
        """Points of the whole dots in a length, a hair less so that no driver rounds one up."""
        return round(self.dots(length_mm) * POINTS_PER_INCH / self.dpi - 0.005, 3)

    def place_dots(self, at: int) -> tuple[int, int]:
        """Lower left corner of the label at a place of the page (row by row), in whole dots."""
        row, column = divmod(at, self.columns)
        x_mm = self.left_mm + column * (self.label_width_mm + self.gap_x_mm)
        bottom_mm = (
            self.page_height_mm
            - self.top_mm
            - row * (self.label_height_mm + self.gap_y_mm)
            - self.label_height_mm
        )
        return self.dots(x_mm), self.dots(bottom_mm) if not self.is_roll else 0


def _roll(width_mm: float, height_mm: float, dpi: int) -> Stock:
    return Stock(
        name=f"roll-{width_mm:.0f}x{height_mm:.0f}-{dpi}",
        title=f"Roll {width_mm:.0f} × {height_mm:.0f} mm, thermal printer of {dpi} dpi",
        dpi=dpi,
        page_width_mm=width_mm,
        page_height_mm=height_mm,
        label_width_mm=width_mm,
        label_height_mm=height_mm,
        colour=False,
    )


_ALL = (
    Stock(
        name="a4-8",
        title="A4 sheet, 8 labels of 99.1 × 67.7 mm",
        dpi=600,
        page_width_mm=210,
        page_height_mm=297,
        label_width_mm=99.1,
        label_height_mm=67.7,
        columns=2,
        rows=4,
        left_mm=4.65,
        top_mm=13.1,
        gap_x_mm=2.5,
    ),
    Stock(
        name="a4-10",
        title="A4 sheet, 10 labels of 99.1 × 57 mm",
        dpi=600,
        page_width_mm=210,
        page_height_mm=297,
        label_width_mm=99.1,
        label_height_mm=57,
        columns=2,
        rows=5,
        left_mm=4.65,
        top_mm=6,
        gap_x_mm=2.5,
    ),
    Stock(
        name="letter-10",
        title="Letter sheet, 10 labels of 101.6 × 50.8 mm",
        dpi=600,
        page_width_mm=215.9,
        page_height_mm=279.4,
        label_width_mm=101.6,
        label_height_mm=50.8,
        columns=2,
        rows=5,
        left_mm=3.97,
        top_mm=12.7,
        gap_x_mm=4.76,
    ),
    _roll(100, 50, 203),
    _roll(100, 50, 300),
    _roll(75, 50, 203),
    _roll(75, 50, 300),
)

STOCKS: dict[str, Stock] = {each.name: each for each in _ALL}


def named(name: str) -> Stock:
    """The stock of that name; a ValueError lists the names there are."""
    if name not in STOCKS:
        raise ValueError(f"Unknown label stock {name!r}; there are {', '.join(STOCKS)}.")
    return STOCKS[name]
