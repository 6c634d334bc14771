"""Photos for a report: turned upright, made smaller, re-encoded without what the camera wrote into them."""

from __future__ import annotations

import base64
import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from carwright.history import Photo

if TYPE_CHECKING:
    from PIL.Image import Image

LONGEST_SIDE = 1200
"""Pixels of the longer side in a report."""
MOST_PIXELS = 60_000_000
"""A picture with more pixels is not opened: no bench camera makes one."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo ready for a page; ``data`` is "" and ``problem`` says why where it cannot be shown."""

    photo: Photo
    data: str
    width: int
    height: int
    problem: str = ""


def picture_of(photo: Photo, folder: str) -> Picture:
    """Read, shrink and re-encode one photo; place and camera data are dropped.

    Parameters
    ----------
    photo : Photo
        As the sheet names it.
    folder : str
        Where the sheet lies.
    """
    from PIL import Image, ImageOps  # noqa: PLC0415 - only reports with photos need it

    path = Path(folder) / photo.file
    try:
        with warnings.catch_warnings(action="ignore"), Image.open(path) as image:
            if image.width * image.height > MOST_PIXELS:
                return Picture(photo, "", 0, 0, f"{photo.file} has more than {MOST_PIXELS} pixels")
            upright = _on_white(ImageOps.exif_transpose(image))
    except Exception as error:  # noqa: BLE001 - decoders raise anything on a damaged file, and the page must go on
        return Picture(photo, "", 0, 0, f"{photo.file} cannot be shown: {_reason(error)}")
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    upright.info.clear()  # comments and profiles are written again otherwise
    buffer = io.BytesIO()
    upright.save(buffer, "JPEG", quality=82, optimize=True)
    encoded = base64.b64encode(buffer.getvalue()).decode("ascii")
    return Picture(photo, f"data:image/jpeg;base64,{encoded}", upright.width, upright.height)


def _on_white(image: Image) -> Image:
    """A picture without transparency: what shows through is white, as paper is."""
    from PIL import Image as Images  # noqa: PLC0415 - only reports with photos need it

    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        ground = Images.new("RGBA", image.size, (255, 255, 255, 255))
        return Images.alpha_composite(ground, image.convert("RGBA")).convert("RGB")
    return image.convert("RGB")


def _reason(error: Exception) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    return "it may not be read" if isinstance(error, PermissionError) else "it is no picture this program can read"
