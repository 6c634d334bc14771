"""A quantity along a line: heights along a frame, a coupler's swing along a track. Band, limits, and where it fails."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from carwright.publish.lettering import Lettering, lettering_of
from carwright.publish.scene import Path, Rect, Scene, Shape, Text, line, number
from carwright.publish.theme import load_theme

WIDTH, _HEIGHT = 340.0, 168.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 8.0, 8.0, 22.0, 34.0
TEXT = 11.0


@dataclass(frozen=True, slots=True)
class Along:
    """What is drawn, in the units shown.

    Attributes
    ----------
    title : str
        What it is.
    x : tuple[float, ...]
        Places along the line, rising.
    value : tuple[float, ...]
        The quantity there.
    half_width : tuple[float, ...]
        Half of its 95 % interval there; empty where it has none.
    lower, upper : float or None
        Limits.
    x_words, value_words : callable
        A place and a value in words with unit.
    ends : tuple[str, str]
        What the line runs from and to.
    joined : bool
        Whether the quantity is known between the places, so that a line joins them.
    """

    title: str
    x: tuple[float, ...]
    value: tuple[float, ...]
    x_words: Callable[[float], str]
    value_words: Callable[[float], str]
    half_width: tuple[float, ...] = ()
    lower: float | None = None
    upper: float | None = None
    ends: tuple[str, str] = ("", "")
    joined: bool = True

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn.

        Raises
        ------
        ValueError
            "needs as many values as places, 2 or more: got 3 places and 1 values",
            "needs as many half-widths as places, or none: got 2 for 4",
            "places must rise", "the lower limit 1 lies above the upper -1"
        """
        if len(self.x) != len(self.value) or len(self.x) < 2:  # noqa: PLR2004 - a line has two ends
            msg = f"needs as many values as places, 2 or more: got {len(self.x)} places and {len(self.value)} values"
            raise ValueError(msg)

        if self.half_width and len(self.half_width) != len(self.x):
            msg = f"needs as many half-widths as places, or none: got {len(self.half_width)} for {len(self.x)}"
            raise ValueError(msg)
        if any(after < before for before, after in pairwise(self.x)):
            msg = "places must rise"
            raise ValueError(msg)
        if self.lower is not None and self.upper is not None and self.lower > self.upper:
            msg = f"the lower limit {self.lower:g} lies above the upper {self.upper:g}"
            raise ValueError(msg)

    def fails(self) -> list[int]:
        """Places where the value lies outside its limits."""
        low = self.lower if self.lower is not None else float("-inf")
        high = self.upper if self.upper is not None else float("inf")
        return [index for index, value in enumerate(self.value) if not low <= value <= high]


def along_scene(a: Along, letters: Lettering | None = None) -> Scene:
    """The chart: limits as lines with the allowed band between, the interval as a band or bars, failures marked."""
    own = letters or lettering_of(load_theme())
    half = a.half_width or (0.0,) * len(a.x)
    sides = [side for side in (a.lower, a.upper) if side is not None]
    reach = [value + sign * h for value, h in zip(a.value, half, strict=True) for sign in (-1, 1)]
    low, high = min(*reach, *sides, *a.value), max(*reach, *sides, *a.value)
    pad = 0.12 * (high - low or 1.0)
    low, high = low - pad, high + pad
    span = a.x[-1] - a.x[0] or 1.0

    def x(place: float) -> float:
        return _LEFT + (WIDTH - _LEFT - _RIGHT) * (place - a.x[0]) / span

    def y(value: float) -> float:
        return _TOP + (_HEIGHT - _TOP - _BOTTOM) * (high - value) / (high - low)

    shapes: list[Shape] = [
        Text(_LEFT, 13.0, own.cut(a.title, WIDTH - 2 * _LEFT, 13.0, bold=True), 13.0, bold=True, what="name")
    ]
    top = y(a.upper) if a.upper is not None else _TOP
    bottom = y(a.lower) if a.lower is not None else _HEIGHT - _BOTTOM
    if sides:
        shapes.append(Rect(_LEFT, top, WIDTH - _LEFT - _RIGHT, bottom - top, fill="allowed", what="allowed"))
    for side, words in ((a.lower, "at least"), (a.upper, "at most")):
        if side is not None:
            shapes.append(
                Path(f"M{_LEFT:g} {number(y(side))}H{WIDTH - _RIGHT:g}", "ink", 1.0, dash=(6.0, 3.0), what="limit")
            )
            level = y(side) + (-3 if words == "at most" else 11)
            shapes.append(
                Text(WIDTH - _RIGHT, level, f"{words} {a.value_words(side)}", TEXT, "end", "soft", what="limit-words")
            )
    shapes.append(Path(f"M{_LEFT:g} {_HEIGHT - _BOTTOM:g}H{WIDTH - _RIGHT:g}", "ink", 1.0, what="axis"))
    shapes += _series(a, half, x, y)
    worst = max(range(len(a.x)), key=lambda index: abs(a.value[index]))
    end_y = _HEIGHT - _BOTTOM + 13
    shapes += [
        Text(_LEFT, end_y, a.ends[0] or a.x_words(a.x[0]), TEXT, ink="soft", what="end"),
        Text(WIDTH - _RIGHT, end_y, a.ends[1] or a.x_words(a.x[-1]), TEXT, "end", "soft", what="end"),
        Text(
            _LEFT,
            _HEIGHT - 5,
            f"largest {a.value_words(a.value[worst])} at {a.x_words(a.x[worst])}",
            TEXT,
            what="worst",
        ),
    ]
    failing = a.fails()
    told = f"; outside its limits at {', '.join(a.x_words(a.x[index]) for index in failing[:5])}" if failing else ""
    words = f"{a.title}: largest {a.value_words(a.value[worst])} at {a.x_words(a.x[worst])}{told}"
    return Scene(0.0, 0.0, WIDTH, _HEIGHT, tuple(shapes), words, "along")


def _series(a: Along, half: Sequence[float], x: Callable[[float], float], y: Callable[[float], float]) -> list[Shape]:
    shapes: list[Shape] = []
    points = [(x(place), y(value)) for place, value in zip(a.x, a.value, strict=True)]
    if a.joined:
        if any(half):
            upper = [(x(p), y(v + h)) for p, v, h in zip(a.x, a.value, half, strict=True)]
            lower = [(x(p), y(v - h)) for p, v, h in zip(a.x, a.value, half, strict=True)]
            shapes.append(Path(line([*upper, *reversed(lower)], closed=True), "soft", 0.6, "line", what="interval"))
        shapes.append(Path(line(points), "ink", 1.8, what="series"))
    failing = set(a.fails())
    for index, (px, py) in enumerate(points):
        if not a.joined and half[index] > 0:
            top, bottom = y(a.value[index] + half[index]), y(a.value[index] - half[index])
            ends = f"M{number(px - 3)} {number(top)}h6M{number(px - 3)} {number(bottom)}h6"
            shapes.append(Path(f"M{number(px)} {number(top)}V{number(bottom)}{ends}", "ink", 1.2, what="interval"))
        if index in failing:
            shapes.append(Rect(px - 3.5, py - 3.5, 7, 7, fill="ink", what="outside"))
        elif not a.joined:
            shapes.append(Rect(px - 2.5, py - 2.5, 5, 5, "ink", 1.2, "paper", "point"))
    return shapes
