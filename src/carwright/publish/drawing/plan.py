"""A car from above: body, roof or floor, couplers, centre lines. Bodies are drawn in scale inches."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from carwright.publish.drawing.pen import Pen, arc, steps
from carwright.publish.drawing.shape import Sizes


def plan_pen(s: Sizes, mm: float) -> Pen:
    """From above, A end on the right."""
    pen = Pen(mm, s.reach, faint=bool({"body_length", "body_width"} & set(s.assumed)))
    i = s.inch
    for sign, face, pivot in ((1.0, s.faces[0], s.pivots[0]), (-1.0, s.faces[1], s.pivots[1])):
        if s.buffers:
            spacing = min(34.5 * i, s.half_width - 6 * i)
            for across_it in (-spacing, spacing):
                pen.block(
                    sign * s.half_length,
                    across_it - 2.5 * i,
                    sign * (face - 2.5 * i),
                    across_it + 2.5 * i,
                )
                pen.block(sign * (face - 2.5 * i), across_it - 8 * i, sign * face, across_it + 8 * i)
        else:
            pen.block(sign * min(pivot, s.half_length - 4 * i), -2.6 * i, sign * (face - 9 * i), 2.6 * i)
            knuckle = ((-9, -4), (0, -6), (0, -1), (-4, 1), (0, 5), (-9, 5))
            pen.part([(sign * (face + x * i), y * i) for x, y in knuckle], what="coupler")
    pen.outline(
        (
            (-s.half_length, -s.half_width),
            (-s.half_length, s.half_width),
            (s.half_length, s.half_width),
            (s.half_length, -s.half_width),
        )
    )
    with pen.measured_in(s.inch):
        _PLANS.get(s.kind.body, _plain_plan)(pen, s.in_inches())
    pen.faint = False
    pen.centre(((-s.reach - 3 * mm, 0.0), (s.reach + 3 * mm, 0.0)))
    for x in s.trucks or s.axles:
        pen.centre(((x, -s.half_width - 2.5 * mm), (x, s.half_width + 2.5 * mm)))
    return pen


def _plain_plan(pen: Pen, s: Sizes) -> None:
    del pen, s


def _roof_plan(pen: Pen, s: Sizes) -> None:
    seams = steps(-s.half_length, s.half_length, 44)[1:-1]
    pen.detail(*(((x, -s.half_width), (x, s.half_width)) for x in seams))
    pen.block(-s.half_length - 2, -10, s.half_length + 2, 10)
    pen.detail(
        ((-s.half_length, -3), (s.half_length, -3)),
        ((-s.half_length, 3), (s.half_length, 3)),
    )
    if s.kind.body == "refrigerator":
        for sign in (-1, 1):
            for x in (s.half_length - 30, s.half_length - 66):
                for y in (-0.55 * s.half_width, 0.55 * s.half_width):
                    pen.block(sign * x - 13, y - 13, sign * x + 13, y + 13)


def _hatch_plan(pen: Pen, s: Sizes) -> None:
    for x in steps(-s.half_length + 40, s.half_length - 40, 72):
        for y in (-0.5 * s.half_width, 0.5 * s.half_width):
            pen.block(x - 14, y - 14, x + 14, y + 14)
    pen.block(-s.half_length, -10, s.half_length, 10)


def _open_plan(pen: Pen, s: Sizes) -> None:
    wall = 4
    pen.block(-s.half_length + wall, -s.half_width + wall, s.half_length - wall, s.half_width - wall)
    if s.kind.body == "open_hopper":
        inner, outer = 0.55 * s.half_length, s.half_length - wall
        near, far = -s.half_width + wall, s.half_width - wall
        for sign in (-1, 1):
            pen.detail(
                ((sign * inner, near), (sign * inner, far)),
                ((sign * outer, far), (sign * inner, 0.3 * s.half_width)),
                ((sign * outer, near), (sign * inner, -0.3 * s.half_width)),
            )
        pen.detail(((0.0, -s.half_width + wall), (0.0, s.half_width - wall)))
    else:
        boards = steps(-s.half_length + wall, s.half_length - wall, 14)[1:-1]
        pen.detail(*(((x, -s.half_width + wall), (x, s.half_width - wall)) for x in boards))


def _deck_plan(pen: Pen, s: Sizes) -> None:
    boards = steps(-s.half_length, s.half_length, 14)[1:-1]
    pen.detail(*(((x, -s.half_width), (x, s.half_width)) for x in boards))


def _tank_plan(pen: Pen, s: Sizes) -> None:
    end, r = s.half_length - 22, 0.82 * s.half_width
    head = 14
    pen.part([*arc(end - head, 0.0, head, r, 90, -90, 12), *arc(-end + head, 0.0, head, r, 270, 90, 12)], fill="wash")
    pen.disc(0.0, 0.0, min(26, 0.6 * r))
    pen.disc(0.0, 0.0, min(13, 0.3 * r), width=0.14)


def _caboose_plan(pen: Pen, s: Sizes) -> None:
    half = min(56, 0.36 * s.half_length)
    pen.block(-half, -0.72 * s.half_width, half, 0.72 * s.half_width, fill="wash")
    pen.block(-s.half_length, -8, -half, 8)
    pen.block(half, -8, s.half_length, 8)
    pen.disc(0.8 * (s.half_length - 34), 0.45 * s.half_width, 5)


def _curved_plan(pen: Pen, s: Sizes) -> None:
    pen.detail(
        *(((-s.half_length, share * s.half_width), (s.half_length, share * s.half_width)) for share in (-0.7, 0.7))
    )
    pen.detail(*(((x, -s.half_width), (x, s.half_width)) for x in steps(-s.half_length, s.half_length, 96)[1:-1]))


_PLANS: Mapping[str, Callable[[Pen, Sizes], None]] = {
    "box": _roof_plan,
    "refrigerator": _roof_plan,
    "stock": _roof_plan,
    "covered_hopper": _hatch_plan,
    "open_hopper": _open_plan,
    "gondola": _open_plan,
    "wagon": _open_plan,
    "flat": _deck_plan,
    "depressed": _deck_plan,
    "well": _open_plan,
    "tank": _tank_plan,
    "caboose": _caboose_plan,
    "brake_van": _curved_plan,
    "passenger": _curved_plan,
    "van": _curved_plan,
}
