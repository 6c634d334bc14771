"""Typst, the typesetter from PyPI: PDF from a template and data, pictures from scenes. Nothing is read from outside."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from importlib.resources import files
from typing import Any

from carwright.errors import CarwrightError
from carwright.publish.lettering import font_folders
from carwright.publish.theme import Theme


class TypesetError(CarwrightError):
    """The typesetter refused what it was given."""

    http_status = 500

    def __init__(self, what: str, why: str) -> None:
        super().__init__(f"{what} could not be typeset: {why}")


ACCESSIBLE = "ua-1"
"""PDF/UA-1, ISO 14289-1: the typesetter refuses what lacks a title, alternative words or a glyph."""


def pdf(template: str, data: Mapping[str, Any], theme: Theme, *, what: str) -> bytes:
    """A PDF: tagged, fonts embedded, no date but what the data says, so that the same data gives the same bytes.

    Parameters
    ----------
    template : str
        A file of ``publish/templates``.
    data : mapping
        What the template reads as ``data.json``; never pasted into its source.
    theme : Theme
        For its fonts.
    what : str
        Named where it fails.

    Raises
    ------
    TypesetError
        What the typesetter said.
    """
    sources = {"main": _template(template), "data.json": json.dumps(data, ensure_ascii=False).encode()}
    return _compile(sources, theme, what, {"pdf_standards": [ACCESSIBLE]})[0]


def _template(name: str) -> bytes:
    return files("carwright.publish").joinpath("templates", name).read_bytes()


_PICTURES = b"""\
#let data = json("data.json")
#set page(width: data.width * 1pt, height: data.height * 1pt, margin: 0pt, fill: none)
#for (index, each) in data.pictures.enumerate() {
  if index > 0 { pagebreak() }
  image(bytes(each), format: "svg", width: 100%, height: 100%)
}
"""


def pictures(
    drawn: Sequence[str], theme: Theme, *, width: float, height: float, scale: float, what: str
) -> list[bytes]:
    """SVG texts of one size as PNG, transparent where nothing is drawn.

    Parameters
    ----------
    drawn : sequence of str
        Each a whole SVG file.
    theme : Theme
        For its fonts.
    width, height : float
        Size of each [px].
    scale : float
        Pixels made of one [-].
    what : str
        Named where it fails.
    """
    if not drawn:
        return []
    data = json.dumps({"width": width, "height": height, "pictures": list(drawn)}).encode()
    return _compile({"main": _PICTURES, "data.json": data}, theme, what, {"format": "png", "ppi": 72.0 * scale})


def _compile(sources: dict[str, bytes], theme: Theme, what: str, options: dict[str, Any]) -> list[bytes]:
    import typst  # noqa: PLC0415 - 34 MB, loaded only where something is typeset

    try:
        made = typst.compile(sources, font_paths=font_folders(theme), ignore_system_fonts=True, **options)
    except (typst.TypstError, RuntimeError) as error:
        raise TypesetError(what, str(error).splitlines()[0]) from error
    return made if isinstance(made, list) else [made]
