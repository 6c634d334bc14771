"""Photos that are sent in: read, checked, turned upright and written anew, without where they were taken."""

from __future__ import annotations

import io
import warnings

from carwright.errors import CarwrightError
from carwright.shop.canonical import digest_of

MOST_PIXELS = 60_000_000
"""Pixels a photo may have: more than any phone makes."""
LONGEST_SIDE = 4096
"""Pixels kept along the longer side [px]."""
QUALITY = 88
"""Of the JPEG written."""
FORMS = ("JPEG", "PNG", "WEBP")


_ORIENTATION = 0x0112
_TURNS = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}
"""How a picture is turned upright, by its Exif orientation (Exif 2.32, tag 0x0112): Pillow's own numbers of turns."""


class PictureError(CarwrightError):
    """What was sent is no photo that can be kept."""

    http_status = 422


def photo_of(content: bytes) -> tuple[str, bytes]:
    """A photo as it is kept.

    Parameters
    ----------
    content : bytes
        As sent.

    Returns
    -------
    tuple
        A name that follows from its content, and the picture as JPEG: its pixels turned upright, and nothing else of
        what the camera wrote.

    Raises
    ------
    PictureError
        "choose a picture first", "this is no JPEG, PNG or WebP picture, or it is damaged", "the picture has 80 million
        pixels; at most 60 million are taken"
    """
    from PIL import Image, UnidentifiedImageError  # noqa: PLC0415 - loaded only where a picture comes in

    if not content:
        raise PictureError("choose a picture first")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its size is asked just below, and what its Exif says is thrown away
            with Image.open(io.BytesIO(content), formats=FORMS) as found:
                _must_be_small(found.width * found.height)
                turn = _TURNS.get(found.getexif().get(_ORIENTATION, 1))
                upright = found if turn is None else found.transpose(Image.Transpose(turn))
                if upright.mode.startswith("I"):  # sixteen bits of grey
                    upright = upright.convert("I").point(lambda grey: grey / 256).convert("L")
                upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
                made = Image.new("RGB", upright.size, "white")
                flat = upright.convert("RGBA")
                made.paste(flat, (0, 0), flat)
    except PictureError:
        raise
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError) as error:
        raise PictureError("this is no JPEG, PNG or WebP picture, or it is damaged") from error
    out = io.BytesIO()
    made.save(out, "JPEG", quality=QUALITY, optimize=True)
    data = out.getvalue()
    return f"photos/{digest_of(data)[:16]}.jpg", data


def _must_be_small(pixels: int) -> None:
    if pixels > MOST_PIXELS:
        most = MOST_PIXELS // 10**6
        raise PictureError(f"the picture has {pixels / 1e6:.0f} million pixels; at most {most} million are taken")
