"""What a whole is made of: one bar, its parts told apart by pattern and named beside it."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.publish.charts.hatch import hatch
from carwright.publish.lettering import Lettering
from carwright.publish.scene import Circle, Path, Rect, Scene, Shape, Text, number

WIDTH, _BAR, _ROW = 340.0, 22.0, 19.0
TEXT = 12.0
_MOST = 8
"""Parts told by name; the small ones behind them are one."""


def composition_scene(title: str, parts: Sequence[tuple[str, float, str]], letters: Lettering) -> Scene | None:
    """A bar of parts with their names and amounts, largest first; None where there is nothing.

    Parameters
    ----------
    title : str
        What the whole is.
    parts : sequence of (str, float, str)
        Name, size ≥ 0 in any one unit, and the size in words.
    letters : Lettering
        For the room names take.

    Raises
    ------
    ValueError
        "a part cannot be negative: -1"
    """
    for _, size, _ in parts:
        if size < 0:
            msg = f"a part cannot be negative: {size:g}"
            raise ValueError(msg)
    told = sorted((part for part in parts if part[1] > 0), key=lambda part: (-part[1], part[0]))
    whole = sum(size for _, size, _ in told)
    if whole <= 0:
        return None
    if len(told) > _MOST:
        rest = sum(size for _, size, _ in told[_MOST - 1 :])
        told = [*told[: _MOST - 1], (f"{len(told) - _MOST + 1} more", rest, f"{rest / whole:.0%}")]
    shapes: list[Shape] = [Text(0.0, 13.0, letters.cut(title, WIDTH, 13.0, bold=True), 13.0, bold=True, what="name")]
    x, top = 0.0, 20.0
    for index, (name, size, words) in enumerate(told):
        width = WIDTH * size / whole
        shapes += _patterned(index, x, top, width, _BAR)
        y = top + _BAR + 8 + _ROW * index
        shapes += _patterned(index, 0.0, y, 16.0, 12.0)
        shapes.append(Text(24.0, y + 10.5, letters.cut(name, WIDTH - 24 - 90, TEXT), TEXT, what="part-name"))
        shapes.append(Text(WIDTH, y + 10.5, words, TEXT, "end", "soft", what="amount"))
        x += width
    described = "; ".join(f"{name} {words}" for name, _, words in told)
    height = top + _BAR + 8 + _ROW * len(told)
    return Scene(0.0, 0.0, WIDTH, height, tuple(shapes), f"{title}: {described}", "composition")


def _patterned(index: int, x: float, y: float, width: float, height: float) -> list[Shape]:
    """Eight fills a pen could draw: solid, hatched either way, crossed, dotted, lined, tinted, empty."""
    frame = Rect(x, y, width, height, "ink", 0.9, "none", "edge")
    match index % _MOST:
        case 0:
            return [Rect(x, y, width, height, "ink", 0.9, "ink", "part")]
        case 1:
            return [frame, hatch(x, y, width, height)]
        case 2:
            return [Rect(x, y, width, height, "ink", 0.9, "allowed", "part")]
        case 3:
            return [frame, hatch(x, y, width, height, back=True)]
        case 4:
            return [frame, *_dots(x, y, width, height)]
        case 5:
            return [frame, hatch(x, y, width, height), hatch(x, y, width, height, back=True)]
        case 6:
            lines = "".join(f"M{number(x)} {number(y + d)}H{number(x + width)}" for d in _between(height, 4.0))
            return [frame, Path(lines, "ink", 0.9, what="lines")]
        case _:
            return [Rect(x, y, width, height, "ink", 0.9, "paper", "part")]


def _dots(x: float, y: float, width: float, height: float) -> list[Shape]:
    return [
        Circle(x + dx, y + dy, 1.0, fill="ink", what="dot")
        for dx in _between(width, 5.0)
        for dy in _between(height, 5.0)
    ]


def _between(length: float, gap: float) -> list[float]:
    count = max(1, int(length / gap))
    return [length * (index + 0.5) / count for index in range(count)]
