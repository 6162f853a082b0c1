"""A photograph of a label is brought to the service, and its codes are read.

The symbols are drawn by segno 1.6 (ISO/IEC 18004), an encoder that is not ours; orientation is
noted as in Exif 2.32 (CIPA DC-008-2019), tag 0x0112, table of its eight values.
"""

import zlib
from collections.abc import Callable
from io import BytesIO
from random import Random
from struct import pack
from typing import Any

import pytest
import segno
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageEnhance, ImageFilter, ImageOps

from labels.photograph import PIXELS_MAX
from labels.sheets import print_labels
from labels.stock import named
from service.custody.words import Role
from service.duties import finding
from tests.api.client import Clock, Device, ids, problem_of, scanned
from tests.labels.camera import picture, raster
from tests.labels.samples import filled

DOOR = "/v1/codes"
[BAG, OTHER] = ids(2, seed=31)
WRONG = BAG[:-1] + ("0" if BAG[-1] != "0" else "1")


def symbol(text: str, scale: int = 8) -> Image.Image:
    """A QR symbol on white, as segno draws it."""
    out = BytesIO()
    segno.make(text, error="h", micro=False).save(out, kind="png", scale=scale, border=4)
    return Image.open(BytesIO(out.getvalue())).convert("L")


def on_table(symbol: Image.Image, size: tuple[int, int] = (1280, 960)) -> Image.Image:
    """The symbol somewhere on a grey table."""
    table = Image.new("L", size, 150)
    table.paste(symbol, ((size[0] - symbol.width) // 3, (size[1] - symbol.height) // 2))
    return table


def file(picture: Image.Image, form: str = "JPEG", **said: Any) -> bytes:
    """The picture as a file."""
    out = BytesIO()
    picture.save(out, form, **said)
    return out.getvalue()


def read(device: Device, content: bytes) -> list[dict[str, Any]]:
    """What the service read."""
    answer = device.post(DOOR, content, {"Content-Type": "image/jpeg"})
    assert answer.status_code == 200, answer.text
    codes: list[dict[str, Any]] = answer.json()["codes"]
    return codes


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_label_of_ours_is_read(ward: Device, form: str) -> None:
    """In each form: its text, its id, that its check character is right and its tag is ours."""
    code = scanned(BAG)
    [found] = read(ward, file(on_table(symbol(code)), form))
    assert found == {"text": code, "container": BAG, "right": True, "genuine": True}


@pytest.mark.parametrize(
    ("text", "container", "right", "genuine"),
    [
        (scanned(BAG, b"somebody else's key"), BAG, True, False),
        (BAG, BAG, True, None),
        (scanned(WRONG), WRONG, False, True),
        ("CEILING LAMP 71", None, None, None),
        ("https://example.org/leaflet", None, None, None),
    ],
    ids=["a false label", "a bare id", "a wrong check character", "a lamp's", "a leaflet's"],
)
def test_what_is_not_ours_is_told(
    ward: Device, text: str, container: str | None, right: bool | None, genuine: bool | None
) -> None:
    """A code that is no container's is given as it stands: the person sees what was in sight."""
    [found] = read(ward, file(on_table(symbol(text))))
    assert found == {"text": text, "container": container, "right": right, "genuine": genuine}


def test_two_labels_in_sight_are_both_read_and_one_label_once(ward: Device) -> None:
    """A label bears its code twice."""
    table = Image.new("L", (1600, 1200), 150)
    for at, code in enumerate((scanned(BAG), scanned(OTHER), scanned(BAG))):
        table.paste(symbol(code, 6), (60 + 500 * at, 200 + 100 * at))
    assert {one["container"] for one in read(ward, file(table))} == {BAG, OTHER}
    assert len(read(ward, file(table))) == 2


def test_a_printed_label_is_read(ward: Device) -> None:
    """As the sheet has it, at the 203 dots to the inch of a label printer."""
    face = filled(1)
    page = raster(print_labels([face], named("roll-100x50-203")), 203)
    [found] = read(ward, file(Image.fromarray(picture(page)), "PNG"))
    assert found["text"] == face.payload


def _skewed(table: Image.Image) -> Image.Image:
    width, height = table.size
    corners = (0, 0, 0, height, width, height * 4 / 5, width, height / 5)
    return table.transform(
        table.size, Image.Transform.QUAD, corners, Image.Resampling.BICUBIC, fillcolor=150
    )


@pytest.mark.parametrize(
    "worsen",
    [
        lambda p: p.rotate(37, expand=True, fillcolor=150),
        lambda p: p.filter(ImageFilter.GaussianBlur(2)),
        lambda p: ImageEnhance.Brightness(p).enhance(0.25),
        lambda p: ImageEnhance.Contrast(p).enhance(0.35),
        lambda p: p.resize((p.width // 3, p.height // 3)),
        _skewed,
    ],
    ids=["turned", "blurred", "dark", "faint", "far off", "from the side"],
)
def test_a_worse_picture_is_read(
    ward: Device, worsen: Callable[[Image.Image], Image.Image]
) -> None:
    """As telephones take them in a corridor (a simulation, not a camera)."""
    [found] = read(ward, file(worsen(on_table(symbol(scanned(BAG)))), quality=60))
    assert found["container"] == BAG


@pytest.mark.parametrize("orientation", range(1, 9))
def test_however_the_camera_was_held(ward: Device, orientation: int) -> None:
    """The pixels lie turned or mirrored, and Exif says how."""
    back = {2: 2, 3: 3, 4: 4, 5: 5, 6: 8, 7: 7, 8: 6}.get(orientation, 1)
    upright = on_table(symbol(scanned(BAG)))
    exif = Image.Exif()
    exif[0x0112] = back
    turning = BytesIO(file(upright, exif=exif))
    with Image.open(turning) as noted:
        lying = ImageOps.exif_transpose(noted)
    exif[0x0112] = orientation
    [found] = read(ward, file(lying, exif=exif))
    assert found["container"] == BAG


def test_nothing_in_sight_is_no_fault(ward: Device) -> None:
    """The list is empty."""
    assert read(ward, file(Image.new("L", (640, 480), 90))) == []


def test_twelve_million_pixels_are_read(ward: Device) -> None:
    """As telephones make them."""
    large = on_table(symbol(scanned(BAG), 14), (4000, 3000))
    [found] = read(ward, file(large))
    assert found["container"] == BAG


def png_that_says(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims a size (PNG, third edition, 11.2.1 IHDR)."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = zlib.crc32(kind + content)
        return pack(">I", len(content)) + kind + content + pack(">I", check)

    header = pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    pixels = zlib.compress(bytes(1 << 16))
    parts = chunk(b"IHDR", header), chunk(b"IDAT", pixels), chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


@pytest.mark.parametrize("side", [5_001, 12_000, 60_000, 2_000_000_000])
def test_a_picture_that_says_it_is_huge_is_not_unpacked(ward: Device, side: int) -> None:
    """Whatever number of pixels it claims in a file of a few bytes."""
    assert side * side > PIXELS_MAX
    told = problem_of(ward.post(DOOR, png_that_says(side, side)), 422)
    assert "pixels" in told["detail"] or "broken" in told["detail"]


def test_a_compressed_text_in_a_picture_is_not_unpacked_without_end(ward: Device) -> None:
    """A PNG may carry a note that swells a thousandfold (PNG, third edition, 11.3.3.3 zTXt)."""
    note = b"zTXt" + b"note\0\0" + zlib.compress(bytes(200_000_000), 9)
    chunk = pack(">I", len(note) - 4) + note + pack(">I", zlib.crc32(note))
    whole = file(on_table(symbol(BAG), (400, 400)), "PNG")
    after_header = 8 + 25
    problem_of(ward.post(DOOR, whole[:after_header] + chunk + whole[after_header:]), 422)


@pytest.mark.parametrize(
    "brought", [b"", b"what", b"\xff\xd8\xff", b"GIF89a\1\0\1\0\0\0\0;", b"%PDF-1.7", b"<svg/>"]
)
def test_what_is_no_picture_is_told(ward: Device, brought: bytes) -> None:
    """A GIF and a drawing are not read either."""
    assert "no JPEG" in problem_of(ward.post(DOOR, brought), 422)["detail"]


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_picture_that_is_cut_short_is_told(ward: Device, form: str) -> None:
    """Half of it may hold no code: it is not guessed at."""
    whole = file(on_table(symbol(scanned(BAG))), form)
    assert "cut short" in problem_of(ward.post(DOOR, whole[: len(whole) // 2]), 422)["detail"]


_WHOLE = {
    form: file(on_table(symbol(scanned(BAG)), (500, 400)), form) for form in ("JPEG", "PNG", "WEBP")
}


@given(form=st.sampled_from(sorted(_WHOLE)), seed=st.integers(0, 2**32), places=st.integers(1, 30))
@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_whatever_bytes_come_the_service_answers(
    ward: Device, form: str, seed: int, places: int
) -> None:
    """A picture with bytes changed anywhere is read, or told to be broken; nothing fails."""
    random, broken = Random(seed), bytearray(_WHOLE[form])
    for _ in range(places):
        broken[random.randrange(len(broken))] = random.randrange(256)
    answer = ward.post(DOOR, bytes(broken))
    assert answer.status_code in (200, 422), answer.text


@given(brought=st.binary(max_size=2_000))
@settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_bytes_of_no_kind_are_told_to_be_no_picture(ward: Device, brought: bytes) -> None:
    """Never a fault of the service."""
    problem_of(ward.post(DOOR, brought), 422)


def test_a_photograph_may_be_larger_than_other_bodies_up_to_a_bound(
    app_with: Callable[..., FastAPI],
) -> None:
    """The bound is a setting of its own."""
    content = file(on_table(symbol(scanned(BAG))))
    for most, expected in ((len(content) - 1, 413), (len(content), 200)):
        app = app_with(body_bytes_max=1_000, picture_bytes_max=most)
        with TestClient(app) as http:
            answer = Device(http, Role.WARD).post(DOOR, content)
        assert answer.status_code == expected, answer.text


def test_so_many_are_read_at_a_time(ward: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who comes beyond that is told to come again: cores are for those who record."""
    monkeypatch.setattr(finding, "_PATIENCE_S", 0)
    content = file(on_table(symbol(scanned(BAG))))
    for _ in range(finding.PICTURES_AT_ONCE):
        finding._looks.acquire()
    try:
        answer = ward.post(DOOR, content)
    finally:
        finding._looks.release(finding.PICTURES_AT_ONCE)
    assert "photographs" in problem_of(answer, 503)["detail"]
    assert answer.headers["retry-after"]
    assert read(ward, content)


def test_nothing_is_recorded(ward: Device, officer: Device, clock: Clock) -> None:
    """Neither in the record nor of the container."""
    read(ward, file(on_table(symbol(scanned(BAG)))))
    assert officer.get("/v1/events").json()["entries"] == []
    problem_of(officer.get(f"/v1/containers/{BAG}"), 404)
