"""What printer and camera make of a printed label, for tests: rasters, damage, photos, readers.

A simulation, not a printer: dots of one bit, a camera of 12 pixels a mm, blur, noise, rotation.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import pypdfium2
import zxingcpp
from numpy.typing import NDArray
from PIL import Image, ImageFilter

Bits = NDArray[np.bool_]
Picture = NDArray[np.uint8]

CAMERA_PIXELS_PER_MM = 12
BLUR_MM = 0.1
NOISE = 6.0
MM_PER_INCH = 25.4


def raster(pdf: bytes, dpi: int, page: int = 0) -> Bits:
    """One page as printed in one bit a dot; True is a printed dot, top row first."""
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_pil()) < 128


def picture(bits: Bits, zoom: int = 1) -> Picture:
    """The dots as a grey picture, white paper and black ink, each dot `zoom` pixels wide."""
    grey = np.where(bits, 0, 255).astype(np.uint8)
    return np.kron(grey, np.ones((zoom, zoom), np.uint8))


def by_zxing(image: Picture) -> list[str]:
    """The texts that zxing-cpp reads in a picture."""
    only = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode])
    return [found.text for found in zxingcpp.read_barcodes(image, only)]


def by_zbar(image: Picture) -> list[str]:
    """The texts that zbar reads in a picture (needs the system's libzbar)."""
    from pyzbar import pyzbar

    found = pyzbar.decode(Image.fromarray(image), symbols=[pyzbar.ZBarSymbol.QRCODE])
    return [each.data.decode("ascii") for each in found]


@dataclass(frozen=True)
class Paper:
    """A printed label that can be damaged; measures in mm from its upper left corner."""

    bits: Bits
    dots_per_mm: float

    def _places(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        rows, columns = np.ogrid[: self.bits.shape[0], : self.bits.shape[1]]
        across, down = (columns + 0.5) / self.dots_per_mm, (rows + 0.5) / self.dots_per_mm
        return across.astype(np.float32), down.astype(np.float32)

    def blot(self, at: tuple[float, float], across_mm: float) -> "Paper":
        """A dark round stain."""
        x, y = self._places()
        stain = (x - at[0]) ** 2 + (y - at[1]) ** 2 <= (across_mm / 2) ** 2
        return Paper(self.bits | stain, self.dots_per_mm)

    def crease(self, at: tuple[float, float], angle: float, wide_mm: float) -> "Paper":
        """A straight fold right across the label, where the ink is gone."""
        x, y = self._places()
        away = (x - at[0]) * math.sin(angle) - (y - at[1]) * math.cos(angle)
        return Paper(self.bits & (np.abs(away) > wide_mm / 2), self.dots_per_mm)

    def dead_dots(self, columns: NDArray[np.int64]) -> "Paper":
        """Dots of the print head that never print, so that a white line runs along the feed."""
        bits = self.bits.copy()
        bits[:, columns] = False
        return Paper(bits, self.dots_per_mm)

    def only(self, box: tuple[float, float, float, float]) -> "Paper":
        """The part of the label in a box (left, top, right, bottom), the rest cut away."""
        left, top, right, bottom = (round(edge * self.dots_per_mm) for edge in box)
        return Paper(self.bits[top:bottom, left:right], self.dots_per_mm)

    def photo(self, rng: np.random.Generator) -> Picture:
        """The label as a camera sees it: turned by any angle, blurred, with noise."""
        scale = CAMERA_PIXELS_PER_MM / self.dots_per_mm
        height, width = self.bits.shape
        image = Image.fromarray(np.where(self.bits, 40, 215).astype(np.uint8))
        image = image.resize((round(width * scale), round(height * scale)), Image.Resampling.BOX)
        image = image.rotate(
            float(rng.uniform(-180, 180)), Image.Resampling.BILINEAR, expand=True, fillcolor=215
        )
        image = image.filter(ImageFilter.GaussianBlur(BLUR_MM * CAMERA_PIXELS_PER_MM))
        seen = np.asarray(image, dtype=np.float32)
        seen += _noise(seen.shape, rng)
        return np.clip(seen, 0, 255).astype(np.uint8)


def _noise(shape: tuple[int, ...], rng: np.random.Generator) -> NDArray[np.float32]:
    """Noise of the camera: a piece, at random, of one large field made once."""
    field = _noise_field()
    down, across = (int(rng.integers(0, len(field) - side)) for side in shape)
    return field[down : down + shape[0], across : across + shape[1]]


@cache
def _noise_field() -> NDArray[np.float32]:
    return NOISE * np.random.default_rng(1).standard_normal((1600, 1600), dtype=np.float32)
