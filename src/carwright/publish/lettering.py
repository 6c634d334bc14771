"""Letters as the shipped fonts draw them: how wide a text is, whether it fits, and what no font here can show."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from carwright.errors import CarwrightError
from carwright.publish.signs import JOINERS, REPLACEMENT, clusters, has_no_width, one_line, parted, words_of_line
from carwright.publish.theme import Theme

_SEMIBOLD = 600


class TextFitError(CarwrightError):
    """A text does not fit where it must stand, and nothing is drawn cut off.

    Attributes
    ----------
    place, text : str
        Where, and what.
    """

    def __init__(self, place: str, text: str, room: str) -> None:
        self.place, self.text = place, text
        super().__init__(f"{_known_by(place)}: {_known_by(text)!r} does not fit {room}; write it shorter")


def _known_by(text: str) -> str:
    """As much of a text as it is known by."""
    return text if len(text) <= 60 else f"{text[:57]}..."  # noqa: PLR2004 - a line of an error, no page of it


@dataclass(frozen=True, slots=True)
class Face:
    """One font file: the width of each of its signs [em]."""

    family: str
    weight: int
    widths: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class Fitted:
    """A text broken into lines, and the size they stand in."""

    lines: tuple[str, ...]
    size: float


def font_folders(theme: Theme) -> list[str]:
    """Folders with the fonts of a theme, its own before the shipped ones."""
    shipped = str(files("carwright.publish").joinpath("fonts"))
    return [theme.folder, shipped] if theme.folder else [shipped]


@lru_cache(maxsize=32)
def _read(path: str) -> Face:
    from fontTools.ttLib import TTFont, TTLibError  # noqa: PLC0415 - only where letters are measured

    try:
        with Path(path).open("rb") as file, TTFont(file, lazy=True) as font:
            per_em, advances, named = font["head"].unitsPerEm, font["hmtx"], font["name"]
            widths = {sign: advances[glyph][0] / per_em for sign, glyph in font.getBestCmap().items()}
            family = named.getDebugName(16) or named.getDebugName(1) or Path(path).stem
            return Face(family, int(font["OS/2"].usWeightClass), widths)
    except (TTLibError, OSError, KeyError, TypeError) as error:
        raise FontError(path, str(error)) from error


class FontError(CarwrightError):
    """A font cannot be used."""

    def __init__(self, place: str, why: str) -> None:
        self.place = place
        super().__init__(f"{place}: no font this program can read ({why})")


class Lettering:
    """The letters of a theme."""

    def __init__(self, theme: Theme) -> None:
        paths = [
            str(path)
            for folder in font_folders(theme)
            for path in sorted(Path(folder).iterdir())
            if path.suffix.lower() in {".ttf", ".otf"}
        ]
        faces = [_read(path) for path in paths]
        self.theme = theme
        self._chains: dict[bool, list[Face]] = {}
        for bold in (False, True):
            chain = []
            for family in (theme.family, *theme.fallback):
                own = [face for face in faces if face.family == family]
                if not own:
                    known = ", ".join(sorted({face.family for face in faces}))
                    raise FontError(family, f"no file of that family; there are {known}")
                wanted = _SEMIBOLD if bold else 400
                chain.append(min(own, key=lambda face: abs(face.weight - wanted)))
            self._chains[bold] = chain

        widths = {bold: _merged(chain) for bold, chain in self._chains.items()}
        self._widths = {bold: {code: width for code, (_, width) in own.items()} for bold, own in widths.items()}
        self._families = {bold: {code: family for code, (family, _) in own.items()} for bold, own in widths.items()}
        self._shown = frozenset(self._widths[False]) & frozenset(self._widths[True]) | JOINERS | {10, 9}

    def width(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width of a text in a size, in the size's unit: the sum of its signs' widths, kerning left out."""
        known = self._widths[bold]
        return size * sum(0.0 if has_no_width(sign) else known.get(ord(sign), 1.0) for sign in text)

    def runs(self, text: str, *, bold: bool = False) -> list[tuple[str, str]]:
        """A text in pieces of one family each: (family, piece).

        A typesetter left to itself would set a whole line in the family of its first odd sign. What no one family has
        together, a letter and an accent say, is parted; an accent its letter's family lacks is shown as ▯.
        """
        found: list[tuple[str, str]] = []
        for cluster in clusters(text):
            family, piece = self._set(parted(cluster), bold=bold)
            family = family or (found[-1][0] if found else self.theme.family)
            if found and found[-1][0] == family:
                found[-1] = (family, found[-1][1] + piece)
            elif piece:
                found.append((family, piece))
        return found

    def _set(self, cluster: str, *, bold: bool) -> tuple[str, str]:
        """The family that has all of a cluster, "" for a joiner alone, and what is shown of it."""
        needed = [sign for sign in cluster if ord(sign) not in JOINERS]
        if not needed:
            return "", cluster
        for face in self._chains[bold]:
            if all(ord(sign) in face.widths for sign in needed):
                return face.family, cluster
        family = self._families[bold].get(ord(cluster[0]), self.theme.family)
        own = next(face.widths for face in self._chains[bold] if face.family == family)
        kept = [sign if ord(sign) in own or ord(sign) in JOINERS else REPLACEMENT for sign in cluster]
        return family, "".join(kept) if REPLACEMENT in cluster or ord(REPLACEMENT) in own else cluster[0]

    def lacks(self, text: str) -> set[str]:
        """Signs of a text that none of the fonts has."""
        return {sign for sign in set(text) if ord(sign) not in self._shown}

    def shown(self, text: str) -> str:
        """A text with what no font has as ▯, and control characters as blanks."""
        if text.isascii() and text.isprintable():
            return text
        return "".join(self._as_shown(sign) for sign in text)

    def _as_shown(self, sign: str) -> str:
        if unicodedata.category(sign) == "Cc":
            return sign if sign == "\n" else " "
        if sign == "\ufeff":
            return ""  # a byte order mark within a text says nothing, and no font has it
        return sign if ord(sign) in self._shown else REPLACEMENT

    def wrap(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """Lines no wider than ``width``; a word too long for a line is broken where the line ends."""
        lines: list[str] = []
        line = ""
        for word in words_of_line(text):
            joined = f"{line} {word}" if line else word
            if self.width(joined, size, bold=bold) <= width:
                line = joined
                continue
            if line:
                lines.append(line)
            *whole, line = self._pieces(word, width, size, bold=bold)
            lines += whole
        return [*lines, line] if line else lines

    def _pieces(self, word: str, width: float, size: float, *, bold: bool) -> list[str]:
        pieces, piece = [], ""
        for sign in clusters(word):
            if piece and self.width(piece + sign, size, bold=bold) > width:
                pieces.append(piece)
                piece = ""
            piece += sign
        return [*pieces, piece]

    def fit(
        self, text: str, *, width: float, lines: int, largest: float, smallest: float, place: str, bold: bool = False
    ) -> Fitted:
        """The largest size in which a text stands in so many lines, whole words only.

        Parameters
        ----------
        text : str
            What.
        width : float
            Room across.
        lines : int
            Lines it may take [-].
        largest, smallest : float
            Sizes tried, the larger first, in steps of 4 %; in the unit of ``width``.
        place : str
            Named where it does not fit.

        Raises
        ------
        TextFitError
            "title card: 'A very long ...' does not fit 2 lines of 1500 px at 40 px; write it shorter"
        """
        plain = self.shown(text)
        words = words_of_line(plain)
        for size in _sizes(largest, smallest):
            if all(self.width(word, size, bold=bold) <= width for word in words):
                found = self.wrap(plain, width, size, bold=bold)
                if len(found) <= lines:
                    return Fitted(tuple(found), size)
        many = f"{lines} line{'s' if lines > 1 else ''}"
        raise TextFitError(place, text, f"{many} of {width:.0f} at size {smallest:g}")

    def cut(self, text: str, width: float, size: float, *, bold: bool = False) -> str:
        """A text fitting one line of a chart, with … where it was cut; the whole stands in the chart's description."""
        plain = self.shown(one_line(text))
        if self.width(plain, size, bold=bold) <= width:
            return plain
        while plain and self.width(f"{plain.rstrip()}…", size, bold=bold) > width:
            plain = plain[:-1]
        return f"{plain.rstrip()}…"


def _sizes(largest: float, smallest: float) -> Iterator[float]:
    """Sizes to try: in steps of 4 %, the smallest last."""
    size = largest
    while size > smallest:
        yield size
        size *= 0.96
    yield min(smallest, largest)


def _merged(chain: Sequence[Face]) -> dict[int, tuple[str, float]]:
    """For every sign the first family that has it, and its width there [em]."""
    found: dict[int, tuple[str, float]] = {}
    for face in reversed(chain):
        found |= {code: (face.family, width) for code, width in face.widths.items()}
    return found


@lru_cache(maxsize=8)
def lettering_of(theme: Theme) -> Lettering:
    """The letters of a theme, read once."""
    return Lettering(theme)


def lacking(texts: Sequence[str], theme: Theme) -> list[str]:
    """Signs in some texts that no font of a theme has, each once, in order."""
    letters = lettering_of(theme)
    return sorted({sign for text in texts for sign in letters.lacks(text)})
