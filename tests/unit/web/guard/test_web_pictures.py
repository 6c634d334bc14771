"""Photos sent in: kept as nothing but a picture, upright, and refused where they are none."""

from __future__ import annotations

import io
import re
import struct
import tempfile
import warnings
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient
from webapp import token, visited, with_hopper

from carwright.shop import Shop
from carwright.web.pictures import LONGEST_SIDE, MOST_PIXELS, PictureError, photo_of

MAKER = "Camera-of-the-attic"


def _written(image: Image.Image, form: str, **options: Any) -> bytes:  # noqa: ANN401 - whatever a format takes
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def _exif(orientation: int = 1) -> Image.Exif:
    made = Image.Exif()
    made[0x010F] = MAKER
    made[0x0112] = orientation
    made[0x8825] = {1: "N", 2: (51.0, 30.0, 12.0), 3: "E", 4: (7.0, 5.0, 3.0)}
    return made


def _kept(content: bytes) -> Image.Image:
    _, data = photo_of(content)
    found = Image.open(io.BytesIO(data))
    found.load()
    return found


def _near(pixel: Any, wanted: tuple[int, int, int]) -> bool:  # noqa: ANN401 - as Pillow types pixels
    return all(abs(int(got) - want) <= 12 for got, want in zip(pixel, wanted, strict=True))


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png_of(width: int, height: int) -> bytes:
    """A PNG that says it is so large, in some hundred bytes."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", zlib.compress(b"\0" * 99)) + _chunk(b"IEND", b"")
    )


RED = Image.new("RGB", (40, 20), "red")
JPEG = _written(RED, "JPEG")


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_nothing_but_the_picture_is_kept(form: str) -> None:
    given = _written(RED, form, exif=_exif(), **({"comment": b"where I live"} if form == "JPEG" else {}))
    assert MAKER.encode() in given
    name, data = photo_of(given)
    found = Image.open(io.BytesIO(data))
    assert found.format == "JPEG"
    assert dict(found.getexif()) == {}
    assert set(found.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for part in (MAKER.encode(), b"Exif", b"GPS", b"where I live", b"http"):
        assert part not in data
    assert name.startswith("photos/")
    assert name.endswith(".jpg")
    assert photo_of(given) == (name, data)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_is_kept_upright(orientation: int) -> None:
    upright = Image.new("RGB", (64, 32), "white")
    upright.paste("red", (0, 0, 16, 16))
    upright.paste("blue", (48, 16, 64, 32))
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }  # fmt: skip
    lying = upright.transpose(undo[orientation]) if orientation in undo else upright
    found = _kept(_written(lying, "JPEG", exif=_exif(orientation), quality=95))
    assert found.size == (64, 32)
    assert _near(found.getpixel((6, 6)), (254, 0, 0))
    assert _near(found.getpixel((57, 25)), (0, 0, 254))
    assert _near(found.getpixel((57, 6)), (255, 255, 255))


def test_what_is_transparent_becomes_white() -> None:
    picture = Image.new("RGBA", (40, 20), (255, 0, 0, 0))
    picture.paste((0, 0, 255, 255), (0, 0, 20, 20))
    for form in ("PNG", "WEBP"):
        found = _kept(_written(picture, form, lossless=True) if form == "WEBP" else _written(picture, form))
        assert _near(found.getpixel((4, 10)), (0, 0, 254))
        assert _near(found.getpixel((36, 10)), (255, 255, 255))


def test_pictures_of_other_colour_models_are_read() -> None:
    palette = Image.new("P", (40, 20), 1)
    palette.putpalette([0, 0, 0, 255, 0, 0])
    assert _near(_kept(_written(palette, "PNG")).getpixel((9, 9)), (254, 0, 0))
    assert _near(_kept(_written(palette, "PNG", transparency=1)).getpixel((9, 9)), (255, 255, 255))
    assert _near(_kept(_written(Image.new("CMYK", (40, 20), (0, 255, 255, 0)), "JPEG")).getpixel((9, 9)), (254, 0, 0))
    assert _near(_kept(_written(Image.new("L", (40, 20), 100), "JPEG")).getpixel((9, 9)), (100, 100, 100))
    assert _near(_kept(_written(Image.new("LA", (40, 20), (9, 0)), "PNG")).getpixel((9, 9)), (255, 255, 255))
    assert _near(_kept(_written(Image.new("1", (40, 20), 1), "PNG")).getpixel((9, 9)), (255, 255, 255))


def test_grey_of_16_bits_keeps_its_tones() -> None:
    assert _near(_kept(_written(Image.new("I;16", (40, 20), 128 * 257), "PNG")).getpixel((9, 9)), (128, 128, 128))


@pytest.mark.parametrize("form", ["PNG", "WEBP", "MPO"])
def test_of_moving_pictures_the_first_is_kept(form: str) -> None:
    more = [Image.new("RGB", (40, 20), "blue")]
    found = _kept(_written(RED, form, save_all=True, append_images=more))
    assert _near(found.getpixel((9, 9)), (254, 0, 0))
    assert getattr(found, "n_frames", 1) == 1


def test_a_large_picture_is_made_smaller() -> None:
    found = _kept(_written(Image.new("1", (LONGEST_SIDE + 1000, 100)), "PNG"))
    assert max(found.size) == LONGEST_SIDE
    assert _kept(JPEG).size == (40, 20)


@pytest.mark.parametrize(
    ("width", "height"), [(10_000, 6001), (60_000, 60_000), (2**31 - 1, 2**31 - 1), (1, 70_000_000)]
)
def test_a_small_file_of_too_many_pixels_is_refused_unread(width: int, height: int) -> None:
    assert width * height > MOST_PIXELS
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(PictureError, match=r"million pixels|damaged"):
            photo_of(_png_of(width, height))


def test_a_png_with_a_text_that_swells_is_refused_or_read_without_it() -> None:
    swelling = _chunk(b"zTXt", b"k\0\0" + zlib.compress(b"a" * 30_000_000, 9))
    given = _written(RED, "PNG")
    at = given.index(b"IDAT") - 4
    with pytest.raises(PictureError, match="damaged"):
        photo_of(given[:at] + swelling + given[at:])


@pytest.mark.parametrize(
    "content",
    [
        b"x", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF\0\0\0\0WEBP", b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"<html><script>alert(1)</script></html>", b"%PDF-1.4", b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
        b"GIF89a\1\0\1\0\0\0\0;", b"PK\3\4", JPEG[: len(JPEG) // 2], JPEG[:20], _written(RED, "PNG")[:-30],
        _written(RED, "WEBP")[:-9], _written(RED, "GIF"), _written(RED, "TIFF"), _written(RED, "BMP"),
        _written(RED, "PPM"), _written(RED, "ICO"), _png_of(0, 0), _png_of(0, 5), b"\0" * 1000,
    ],
)  # fmt: skip
def test_what_is_no_photo_is_refused_in_words(content: bytes) -> None:
    with pytest.raises(PictureError, match=r"JPEG, PNG or WebP"):
        photo_of(content)


def test_no_picture_at_all_is_refused_in_words() -> None:
    with pytest.raises(PictureError, match="choose a picture first"):
        photo_of(b"")


@pytest.mark.parametrize(
    "tail", [b"<script>alert(1)</script>", b"PK\3\4" + b"\0" * 40, b"<?php x ?>", b"%PDF-1.4 trailer"]
)
def test_what_hides_behind_or_within_a_picture_is_gone(tail: bytes) -> None:
    inside = JPEG[:2] + b"\xff\xfe" + struct.pack(">H", len(tail) + 2) + tail + JPEG[2:]
    for given in (JPEG + tail, inside):
        _, data = photo_of(given)
        assert tail not in data
        assert data.endswith(b"\xff\xd9")


DAMAGED = {
    "a number that is none": (
        "4d4d002a000000080004010100020000000405616d0001120003000000010006000087690004000000010000003e8825"
        "0004000000010000005000000000000192860001000000036162630000000000000200010002000000024e0000000002"
        "0005000000030000006e00000000000000010000000100000002000000010000000300000001"
    ),
    "a text where figures stand": (
        "4d4d002a000000080004010f00028c00000443616d0001120003000000010006000087690004000000010000003e8825"
        "0004000000010000005000050000000192860001000000036162630000000000000200020002000000024e0000000002"
        "0005000000030000006e00000000000000010000000100000002000000010000000300000001"
    ),
}
"""What a camera wrote, with one or two bytes of it spoilt; the picture beside it is whole."""


@pytest.mark.parametrize(
    "damaged",
    list(DAMAGED),
)
def test_a_good_picture_with_spoilt_camera_data_is_taken_or_refused_in_words(damaged: str) -> None:
    body = b"Exif\0\0" + bytes.fromhex(DAMAGED[damaged])
    given = JPEG[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + JPEG[2:]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            _, data = photo_of(given)
        except PictureError:
            return
    assert Image.open(io.BytesIO(data)).format == "JPEG"


@pytest.fixture
def spooled(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Any]]:
    """Files the server holds uploads in."""
    made: list[Any] = []

    def recorded(*args: Any, **options: Any) -> Any:  # noqa: ANN401 - passed on
        made.append(tempfile.SpooledTemporaryFile(*args, **options))  # noqa: SIM115 - closed below
        return made[-1]

    monkeypatch.setattr("starlette.formparsers.SpooledTemporaryFile", recorded)
    yield made
    for each in made:
        each.close()


def _upload(client: TestClient, car: str, content: bytes, name: str = "a.jpg") -> Any:  # noqa: ANN401 - an answer
    return client.post(
        f"/car/{car}/entries",
        data={"do": "photo", "spot": "body", "shows": "the side"},
        files={"file": (name, content, "image/jpeg")},
        headers={"x-carwright-token": token(client)},
    )


@pytest.mark.usefixtures("spooled")
@pytest.mark.parametrize("name", ["../../etc/x.jpg", "a\x00.jpg", "<script>.html"])
def test_an_upload_is_kept_stripped_under_a_name_of_our_own(shop: Shop, name: str) -> None:
    car = with_hopper(shop)
    folder = shop.address.folder
    assert folder is not None
    with visited(shop) as client:
        assert _upload(client, car, _written(RED, "JPEG", exif=_exif(6)), name).status_code == 303
        made = str(shop.state(car).entries[-1].content()["file"])
        served = client.get(f"/car/{car}/photos/{made}")
    digits = made.removeprefix("photos/").removesuffix(".jpg")
    assert len(digits) == 16
    assert set(digits) <= set("0123456789abcdef")
    assert served.status_code == 200
    assert served.headers["content-type"] == "image/jpeg"
    assert served.headers["x-content-type-options"] == "nosniff"
    assert Image.open(io.BytesIO(served.content)).size == (20, 40)
    kept = [path.read_bytes() for path in folder.rglob("*") if path.is_file()]
    assert kept
    for data in [*kept, served.content]:
        assert MAKER.encode() not in data
        assert b"Exif" not in data


@pytest.mark.usefixtures("spooled")
@pytest.mark.parametrize(
    "content", [b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"<script>x</script>", b"", JPEG[:50]]
)
def test_an_upload_that_is_no_photo_is_refused_beside_its_field_and_kept_nowhere(shop: Shop, content: bytes) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        answer = _upload(client, car, content)
    assert answer.status_code == 422
    assert re.search(r"it is damaged|hoose a picture first", answer.text)
    assert shop.state(car).digest == before


def test_a_photo_kept_by_other_ways_is_served_stripped_too(shop: Shop) -> None:
    car = with_hopper(shop)
    given = _written(RED, "JPEG", exif=_exif(6))
    shop.append(
        car, [{"kind": "photo", "when": "2026-01-01", "file": "near.jpg", "shows": "s"}], files={"near.jpg": given}
    )
    with visited(shop) as client:
        served = client.get(f"/car/{car}/photos/near.jpg")
    assert served.status_code == 200
    assert MAKER.encode() not in served.content
    assert b"Exif" not in served.content
    assert Image.open(io.BytesIO(served.content)).size == (20, 40)


def test_a_kept_file_that_is_no_picture_is_not_served_as_one(shop: Shop) -> None:
    car = with_hopper(shop)
    page = b"<html><script>alert(1)</script></html>"
    shop.append(
        car, [{"kind": "photo", "when": "2026-01-01", "file": "near.jpg", "shows": "s"}], files={"near.jpg": page}
    )
    with visited(shop) as client:
        served = client.get(f"/car/{car}/photos/near.jpg")
    assert served.status_code == 404
    assert "alert(1)" not in served.text


@pytest.mark.parametrize(
    "name",
    [
        "../near.jpg", "..%2fnear.jpg", "%2e%2e/%2e%2e/shop.db", "%00", "near.jpg%00", "/etc/passwd", "%2fetc%2fpasswd",
        "x" * 400, "NEAR.JPG", "near.jpg/", "x%0d%0aset-cookie:a=b",
    ],
)  # fmt: skip
def test_no_other_name_leads_to_a_file(shop: Shop, tmp_path: Path, name: str) -> None:
    car = with_hopper(shop)
    (tmp_path / "near.jpg").write_bytes(JPEG)
    shop.append(
        car, [{"kind": "photo", "when": "2026-01-01", "file": "near.jpg", "shows": "s"}], files={"near.jpg": JPEG}
    )
    with visited(shop) as client:
        answer = client.get(f"/car/{car}/photos/{name}")
    assert answer.status_code in {404, 422, 307}
    assert "set-cookie" not in answer.headers or "a=b" not in answer.headers["set-cookie"]


def test_a_photo_of_one_car_is_not_served_as_one_of_another(shop: Shop) -> None:
    car = with_hopper(shop)
    shop.append(
        car, [{"kind": "photo", "when": "2026-01-01", "file": "near.jpg", "shows": "s"}], files={"near.jpg": JPEG}
    )
    with visited(shop) as client:
        other = client.post("/add/new", data={"token": token(client), "title": "Boxcar", "scale": "HO", "another": "1"})
        assert other.status_code == 303
        where = other.headers["location"]
        assert where != f"/car/{car}"
        assert client.get(f"{where}/photos/near.jpg").status_code == 404


@pytest.mark.parametrize("content", [JPEG, b"no picture"])
def test_the_file_of_an_upload_is_closed_once_it_is_answered(shop: Shop, spooled: list[Any], content: bytes) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert _upload(client, car, content).status_code in {303, 422}
    assert len(spooled) == 1
    assert spooled[0].closed


def test_more_pixels_than_any_phone_makes_are_refused_before_they_are_read() -> None:
    out = io.BytesIO()
    Image.new("1", (8000, 8000)).save(out, "PNG")
    assert len(out.getvalue()) < 20_000
    with pytest.raises(PictureError, match="the picture has 64 million pixels; at most 60 million are taken"):
        photo_of(out.getvalue())
