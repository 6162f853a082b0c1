"""The texts of the codes in a photograph: what a camera saw of a label, read and not judged.

Pillow and zxing-cpp do the reading. What a picture may be is bounded before anything is unpacked:
a file of a few bytes can say that it is larger than all memory.
"""

from io import BytesIO

import zxingcpp
from PIL import Image

FORMATS = ("JPEG", "PNG", "WEBP")
MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp")
PIXELS_MAX = 25_000_000
"""Twice what telephones make unless told otherwise; a camera's frame has one or two million."""
SIDE = 2_000
"""Pixels of the longer side that are enough: a picture twice as large is taken in smaller."""


class PictureError(ValueError):
    """It is no picture that can be read; the message says why."""


def texts(content: bytes) -> tuple[str, ...]:
    """Give the text of each code in a picture, each once, in reading order.

    However the camera was held, and whatever it noted of that (EXIF): symbols are found turned by
    any angle, and mirrored.

    Raises:
        PictureError: it is no JPEG, PNG or WebP, is cut short or broken, or has too many pixels.
    """
    grey = _grey(content)
    # Made anew: one that is kept is told at the program's end to have leaked.
    symbols = zxingcpp.BarcodeFormats(
        [zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.Code128]
    )
    found = zxingcpp.read_barcodes(grey, formats=symbols)
    return tuple(dict.fromkeys(code.text for code in found if code.text))


def _grey(content: bytes) -> Image.Image:
    try:
        with Image.open(BytesIO(content), formats=FORMATS) as picture:
            width, height = picture.size
            if width * height > PIXELS_MAX:
                raise PictureError(_too_many(f"{width} by {height} pixels"))
            picture.draft("L", (SIDE, SIDE * height // width or 1))  # a JPEG unpacks to less
            grey = picture.convert("L")
    except (PictureError, MemoryError):
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise PictureError(_too_many("far more pixels")) from error
    except Exception as error:  # whatever a decoder stumbles over is the fault of what was sent
        raise PictureError(
            "it is no JPEG, PNG or WebP picture, or it is broken or cut short: take it again"
        ) from error
    return grey.reduce(max(1, max(grey.size) // SIDE))


def _too_many(said: str) -> str:
    return f"the picture has {said}; at most {PIXELS_MAX:,} in all are read: take a smaller one"
