"""Fittings that bodies share, from the side: ladders, steps, running boards, windows. In scale inches."""

from __future__ import annotations

from carwright.publish.drawing.pen import Pen, steps
from carwright.publish.drawing.shape import Sizes
from carwright.publish.scene import Point


def rectangle(left: float, low: float, right: float, high: float) -> list[Point]:
    """Corners of a rectangle, the lower left one first."""
    return [(left, low), (left, high), (right, high), (right, low)]


def posts(pen: Pen, xs: list[float], low: float, high: float) -> None:
    """Upright lines."""
    pen.detail(*(((x, low), (x, high)) for x in xs))


def ladder(pen: Pen, x: float, low: float, high: float) -> None:
    """Two stiles and rungs, ``x`` its middle."""
    half = 8
    rungs = steps(low + 8, high - 4, 15)
    pen.detail(
        ((x - half, low), (x - half, high)),
        ((x + half, low), (x + half, high)),
        *(((x - half, z), (x + half, z)) for z in rungs),
    )


def steps_under(pen: Pen, x: float, low: float) -> None:
    """A sill step hanging below a corner."""
    half, deep = 7, 12
    pen.part(((x - half, low), (x - half, low - deep), (x + half, low - deep), (x + half, low)), closed=False)


def corners(pen: Pen, s: Sizes, low: float, high: float) -> None:
    """A ladder and a step under it at both ends."""
    for sign in (-1, 1):
        x = sign * (s.half_length - 13)
        ladder(pen, x, low, high)
        steps_under(pen, x, low)


def running_board(pen: Pen, s: Sizes, high: float) -> None:
    """The board along the roof, its top at ``high``."""
    thick = 2.5
    pen.part(rectangle(-s.half_length - 2, high - thick, s.half_length + 2, high))


def window(pen: Pen, x: float, low: float, half: float, high: float) -> None:
    """A window, ``x`` its middle and ``half`` half its width."""
    pen.block(x - half, low, x + half, high)
