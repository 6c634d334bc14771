"""What carries and couples a car, from the side: sill, trucks of two or three axles, four-wheeler springs, couplers."""

from __future__ import annotations

from itertools import pairwise

from carwright.publish.drawing.pen import DASH, OUTLINE, Pen
from carwright.publish.drawing.shape import Sizes
from carwright.publish.scene import Path, Point, line

_HIGH_BODY = 40.0
"""A body that begins above this stands on a sill of its own [scale in]."""


def draw_sill(pen: Pen, s: Sizes) -> None:
    """The centre sill between the bolsters, and the bolsters, under a body that leaves room for them."""
    if not s.trucks:  # a sole bar between the buffer beams
        low = max(s.floor - 11 * s.inch, 0.9 * s.wheel)
        pen.part(_box(-s.half_length, low, s.half_length, s.floor), fill="wash")
    low, high = 27 * s.inch, min(s.floor, 42 * s.inch)
    if s.floor >= 34 * s.inch and s.trucks:
        a = s.trucks[0]
        pen.part(
            ((-a, low + 6 * s.inch), (-a, high), (a, high), (a, low + 6 * s.inch), (0.8 * a, low), (-0.8 * a, low)),
            fill="wash",
        )
    if s.kind.floor < _HIGH_BODY and s.trucks:  # hoppers and wells: stub sills out to the couplers
        for sign, face in ((1.0, s.faces[0]), (-1.0, s.faces[1])):
            outer = min(s.half_length, face - 8 * s.inch)
            pen.part(_box(sign * (s.trucks[0] - 14 * s.inch), 29 * s.inch, sign * outer, 40 * s.inch), fill="wash")


def _box(left: float, low: float, right: float, high: float) -> list[Point]:
    return [(left, low), (left, high), (right, high), (right, low)]


def draw_running_gear(pen: Pen, s: Sizes) -> None:
    """Wheels on the rail, then what holds them."""
    r = s.wheel / 2
    for x in s.axles:
        pen.disc(x, r, r, what="wheel")
        pen.disc(x, r, 0.78 * r, what="web", width=0.14)
    own = len(s.axles) - len(s.axles) // 2
    for centre, axles in zip(s.trucks, (s.axles[:own], s.axles[own:]), strict=False):
        _truck(pen, s, centre, axles)
    if not s.trucks:
        for x in s.axles:
            _axle_guard(pen, s, x)


def _truck(pen: Pen, s: Sizes, pivot: float, axles: tuple[float, ...]) -> None:
    """A side frame over its axle boxes: a window for the bolster and its springs between each two of them."""
    r, left, right = s.wheel / 2, min(axles), max(axles)
    middle = (left + right) / 2
    if len(axles) <= 2:  # noqa: PLR2004 - two axles, or a lone one
        top, low = 1.66 * r, 0.52 * r
        half = 0.34 * (right - left)
        rise = ((left - 0.5 * r, 0.8 * r), (left - 0.5 * r, 1.3 * r), (left + 0.5 * r, 1.36 * r))
        over = ((middle - half, top), (middle + half, top))
        fall = ((right - 0.5 * r, 1.36 * r), (right + 0.5 * r, 1.3 * r), (right + 0.5 * r, 0.8 * r))
        bow = 0.72 * half
        under = ((right - 0.5 * r, 0.9 * r), (middle + bow, low), (middle - bow, low), (left + 0.5 * r, 0.9 * r))
        pen.part((*rise, *over, *fall, *under), what="frame")
        pen.block(middle - 0.42 * half, 0.7 * r, middle + 0.42 * half, 1.38 * r, fill="wash")
        springs = [middle + share * half for share in (-0.26, 0.0, 0.26)]
        pen.detail(
            *(((x, 0.74 * r), (x, 1.1 * r)) for x in springs),
            ((middle - 0.42 * half, 1.1 * r), (middle + 0.42 * half, 1.1 * r)),
        )
    else:
        low, high = 0.95 * r, 1.5 * r
        pen.part(_box(left - 0.75 * r, low, right + 0.75 * r, high), what="frame")
        for x0, x1 in pairwise(sorted(axles)):
            pen.block((x0 + x1) / 2 - 0.42 * r, low, (x0 + x1) / 2 + 0.42 * r, high, fill="wash")
            pen.part(((x0, 0.78 * r), (x0 + 0.5 * r, 0.6 * r), (x1 - 0.5 * r, 0.6 * r), (x1, 0.78 * r)), closed=False)
    for x in axles:
        pen.block(x - 0.3 * r, 0.68 * r, x + 0.3 * r, 1.28 * r)
        pen.detail(((x - 0.3 * r, 1.1 * r), (x + 0.3 * r, 1.1 * r)))
    pen.centre(((pivot, 0.2 * r), (pivot, 2.3 * r)))


def _axle_guard(pen: Pen, s: Sizes, x: float) -> None:
    """W-shaped guard, axle box and leaf spring of a four-wheeler."""
    r, high = s.wheel / 2, max(s.floor - 6 * s.inch, 1.8 * s.wheel / 2)
    pen.part(
        ((x - 1.1 * r, high), (x - 0.42 * r, 0.75 * r), (x + 0.42 * r, 0.75 * r), (x + 1.1 * r, high)), closed=False
    )
    for index in range(4):
        half, z = (1.25 - 0.24 * index) * r, 1.52 * r + 0.09 * r * (3 - index)
        pen.detail(((x - half, z + 0.1 * r), (x, z - 0.06 * r), (x + half, z + 0.1 * r)))
    pen.block(x - 0.36 * r, 0.66 * r, x + 0.36 * r, 1.36 * r)


def draw_couplers(pen: Pen, s: Sizes, *, shift: tuple[float, float] = (0.0, 0.0)) -> None:
    """Couplers at the height read, or buffers where the car is measured over them; ``shift`` at A and B [mm]."""
    for index, (end, sign) in enumerate((("A", 1.0), ("B", -1.0))):
        z, face, inch = s.coupler_z[index] + shift[index], s.faces[index], s.inch
        start = min(s.half_length, face - 2 * inch)
        dash = f"coupler height at {end}" in s.assumed
        plain = pen.faint
        pen.faint = dash
        pen.dash = (0.9, 0.6)
        if s.buffers:
            pen.part(_box(sign * start, z - 2.5 * inch, sign * (face - 2.5 * inch), z + 2.5 * inch))
            pen.outline(
                _box(sign * (face - 2.5 * inch), z - 8 * inch, sign * face, z + 8 * inch), what="coupler", fill="paper"
            )
        else:
            pen.part(_box(sign * (start - 8 * inch), z - 5.5 * inch, sign * start, z + 5.5 * inch), fill="wash")
            outline = ((start, -2.5), (face - 9.5 * inch, -2.5), (face - 9.5 * inch, -5.5), (face, -5.5), (face, 5.5),
                       (face - 9.5 * inch, 5.5), (face - 9.5 * inch, 2.5), (start, 2.5))  # fmt: skip
            pen.outline([(sign * x, z + across * inch) for x, across in outline], what="coupler", fill="paper")
            pen.detail([(sign * (face - 3.4 * inch), z - 5.5 * inch), (sign * (face - 3.4 * inch), z + 5.5 * inch)])
        pen.faint, pen.dash = plain, DASH


def rail(pen: Pen, left: float, right: float) -> Path:
    """The railhead, drawn behind all else."""
    return Path(line([(left, 0.0), (right, 0.0)]), "ink", 1.6 * OUTLINE * pen.mm, "none", (), "rail")
