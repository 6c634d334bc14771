"""A theme: type, colours and spacing of everything published, as a file the user may replace."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from carwright.errors import TableError
from carwright.tables.load import read_toml
from carwright.tables.shape import check_shape
from carwright.textfile import read_text

FORMAT = "carwright-theme/1"
Medium = Literal["light", "dark", "print", "video"]
"""A page by day and by night, paper, and a card over a moving picture."""
MEDIA: tuple[Medium, ...] = ("light", "dark", "print", "video")
INKS = ("paper", "ink", "soft", "line", "wash", "accent", "allowed")
"""What colours are for: ground, strokes and text, second text, hairlines, tinted ground, accent, what is allowed."""
_LARGEST = 100_000
"""Bytes a theme may have."""
_READABLE = 4.5
"""Least contrast of text on its ground [-]. WCAG 2.2, success criterion 1.4.3."""
_MUST_BE_READ = (("ink", "paper"), ("soft", "paper"), ("accent", "paper"), ("ink", "wash"), ("ink", "allowed"))

_FILE_KEYS = {
    **dict.fromkeys(("format", "id", "title", "note"), "a text"),
    **dict.fromkeys(("type", "spacing", "colours"), "a table"),
}
_NUMBER = "a number of zero or more"
_TYPE_KEYS = {
    "family": "a text",
    "fallback": "a list of texts",
    "folder": "a text",
    "print_pt": _NUMBER,
    "head_pt": _NUMBER,
}
_SPACING_KEYS = dict.fromkeys(("margin_mm", "gap_mm", "line"), _NUMBER)
_COLOUR_KEYS: Mapping[str, str] = dict.fromkeys(MEDIA, "a table of texts")
_BETWEEN: Mapping[str, tuple[float, float]] = {
    "print_pt": (6, 14),
    "head_pt": (10, 40),
    "margin_mm": (8, 40),
    "gap_mm": (0.5, 12),
    "line": (1.1, 2.0),
}
"""Least and most of each size: outside them a page cannot be read or has no room."""


@dataclass(frozen=True, slots=True)
class Theme:
    """How things look.

    Attributes
    ----------
    id, title : str
        Its name.
    family : str
        Type family.
    fallback : tuple[str, ...]
        Families for what it lacks, in order.
    folder : str
        Font files of the user's own, "" for none.
    print_pt, head_pt : float
        Body text and title in print [pt].
    margin_mm, gap_mm : float
        Of a printed page, and between blocks [mm].
    line : float
        Line height [em].
    colours : mapping
        For each medium, each ink as ``#rrggbb``.
    """

    id: str
    title: str
    family: str
    fallback: tuple[str, ...]
    folder: str
    print_pt: float
    head_pt: float
    margin_mm: float
    gap_mm: float
    line: float
    colours: Mapping[str, Mapping[str, str]] = field(hash=False)

    def ink(self, name: str, medium: Medium) -> str:
        """A colour as ``#rrggbb``; ``none`` stays itself."""
        return name if name == "none" else self.colours[medium][name]


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21 [-].

    WCAG 2.2, "contrast ratio" and "relative luminance".

    Parameters
    ----------
    one, other : str
        ``#rrggbb``, in either order.
    """
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    channels = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)  # noqa: PLR2004
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@lru_cache(maxsize=1)
def _shipped() -> tuple[Theme, Mapping[str, Any]]:
    """The shipped theme, and the document it is from."""
    name = "themes/bench.toml"
    base = read_toml(files("carwright.publish").joinpath(name).read_text("utf-8"), name)
    return _theme(base, base, name, ""), base


def load_theme(path: str = "") -> Theme:
    """A theme by its file; the shipped one where no file is named. What it leaves out is taken from the shipped one.

    Parameters
    ----------
    path : str
        A TOML file with ``format = "carwright-theme/1"``.

    Raises
    ------
    TableError
        "<file>: unknown key 'colors'; did you mean 'colours'?", "<file>: colours.print: ink on paper has contrast 1.9;
        at least 4.5 is needed to be read", "<file>: print_pt must lie between 6 and 14, got 3"
    """
    shipped, base = _shipped()
    if not path:
        return shipped
    own = read_toml(read_text(path, most=_LARGEST, what="theme"), path)
    if own.get("format") != FORMAT:
        raise TableError(path, f"format must be {FORMAT!r}, got {str(own.get('format'))[:40]!r}")
    return _theme(own, base, path, str(Path(path).parent))


def _theme(own: Mapping[str, Any], base: Mapping[str, Any], place: str, beside: str) -> Theme:
    check_shape(own, _FILE_KEYS, place)
    for name, keys in (("type", _TYPE_KEYS), ("spacing", _SPACING_KEYS), ("colours", _COLOUR_KEYS)):
        check_shape(own.get(name, {}), keys, f"{place}: {name}")
    sizes = {**base["type"], **own.get("type", {}), **base["spacing"], **own.get("spacing", {})}
    for name, (least, most) in _BETWEEN.items():
        if not least <= sizes[name] <= most:
            raise TableError(place, f"{name} must lie between {least:g} and {most:g}, got {sizes[name]:g}")
    folder = str(sizes["folder"])
    if folder:
        folder = str(Path(beside) / folder)
        if not Path(folder).is_dir():
            raise TableError(place, f"type.folder: there is no folder {folder!r}")
    return Theme(
        id=str(own.get("id", base["id"])),
        title=str(own.get("title", base["title"])),
        family=sizes["family"],
        fallback=tuple(sizes["fallback"]),
        folder=folder,
        print_pt=float(sizes["print_pt"]),
        head_pt=float(sizes["head_pt"]),
        margin_mm=float(sizes["margin_mm"]),
        gap_mm=float(sizes["gap_mm"]),
        line=float(sizes["line"]),
        colours={medium: _colours(own, base, medium, place) for medium in MEDIA},
    )


def _colours(own: Mapping[str, Any], base: Mapping[str, Any], medium: str, place: str) -> Mapping[str, str]:
    here = f"{place}: colours.{medium}"
    given = own.get("colours", {}).get(medium, {})
    check_shape(given, dict.fromkeys(INKS, "a text"), here)
    colours = {**base["colours"][medium], **given}
    for name, colour in colours.items():
        if not re.fullmatch(r"#[0-9a-fA-F]{6}", colour):
            raise TableError(here, f"{name} must be a colour such as #1d1f21, got {colour[:20]!r}")
    for front, back in _MUST_BE_READ:
        found = contrast(colours[front], colours[back])
        if found < _READABLE:
            needed = f"at least {_READABLE:g} is needed to be read"
            raise TableError(here, f"{front} on {back} has contrast {math.floor(10 * found) / 10:.1f}; {needed}")
    return colours
