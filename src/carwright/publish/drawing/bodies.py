"""Bodies from the side: what makes each kind of car itself, in its usual proportions, within its own length and height.

Everything here is in scale inches, sizes and pen alike. Sizes of details are those of ordinary cars (common practice).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise

from carwright.publish.drawing.fittings import corners, posts, rectangle, running_board, window
from carwright.publish.drawing.open_bodies import OPEN_BODIES
from carwright.publish.drawing.pen import Pen, arc, steps
from carwright.publish.drawing.shape import Sizes


def draw_body(pen: Pen, s: Sizes) -> None:
    """The body of a car from the side, over its sill."""
    with pen.measured_in(s.inch):
        _SIDES[s.kind.body](pen, s.in_inches())


def _roofed(pen: Pen, s: Sizes) -> float:
    """Sides, roof and running board; the height of the eaves."""
    eaves = s.top - 12
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, eaves))
    pen.part(rectangle(-s.half_length, eaves, s.half_length, s.top - 5), fill="wash")
    pen.detail(*(((x, s.top - 5), (x, s.top - 2.5)) for x in steps(-s.half_length, s.half_length, 48)))
    running_board(pen, s, s.top)
    return eaves


def _door(pen: Pen, half: float, low: float, high: float) -> None:
    pen.block(-half, low, half, high, fill="wash")
    pen.detail(*(((-half, z), (half, z)) for z in steps(low, high, 24)[1:-1]))
    rail = half + 30
    pen.detail(((-half, high + 2), (rail, high + 2)), ((-half, low - 2), (rail, low - 2)))


def _box(pen: Pen, s: Sizes) -> None:
    eaves = _roofed(pen, s)
    door = min(42, 0.24 * s.half_length)
    for sign in (-1, 1):
        first, last = sign * (door + 24), sign * (s.half_length - 26)
        if abs(last) > abs(first):
            posts(pen, steps(first, last, 34), s.floor, eaves)
    _door(pen, door, s.floor + 3, eaves - 4)
    corners(pen, s, s.floor, eaves - 3)


def _refrigerator(pen: Pen, s: Sizes) -> None:
    eaves = _roofed(pen, s)
    low, high = s.floor + 14, eaves - 10
    half = min(27, 0.2 * s.half_length)
    pen.block(-half, low, half, high, fill="wash")
    pen.detail(
        ((0.0, low), (0.0, high)),
        *(((x, z), (x + 9, z)) for x in (-half, half - 9) for z in (low + 10, high - 10)),
    )
    pen.detail(
        ((-s.half_length, eaves - 6), (s.half_length, eaves - 6)),
        ((-s.half_length, s.floor + 6), (s.half_length, s.floor + 6)),
    )
    for sign in (-1, 1):  # ice hatches at the ends of the roof
        for x in (s.half_length - 30, s.half_length - 66):
            pen.block(sign * x - 13, s.top - 5, sign * x + 13, s.top - 0.5)
    corners(pen, s, s.floor, eaves - 3)


def _stock(pen: Pen, s: Sizes) -> None:
    eaves = _roofed(pen, s)
    door = min(30, 0.2 * s.half_length)
    for z in steps(s.floor + 8, eaves - 8, 13):
        pen.detail(*(((-s.half_length, z + gap), (s.half_length, z + gap)) for gap in (0.0, 3)))
    for sign in (-1, 1):
        first, last = sign * (door + 4), sign * (s.half_length - 24)
        places = steps(first, last, 52)
        for x in places:
            pen.block(x - 2.5, s.floor, x + 2.5, eaves)
        for x0, x1 in pairwise(places):
            pen.detail(((x0, s.floor), (x1, eaves)))
    pen.block(-door, s.floor + 3, door, eaves - 4, fill="wash")
    for z in steps(s.floor + 10, eaves - 10, 13):
        pen.detail(((-door, z), (door, z)))
    corners(pen, s, s.floor, eaves - 3)


def _caboose(pen: Pen, s: Sizes) -> None:
    roof = s.floor + 0.72 * (s.top - s.floor)
    body = s.half_length - 34
    eaves = roof - 7
    pen.outline(
        [
            (-s.half_length, s.floor),
            (-s.half_length, s.floor + 5),
            (s.half_length, s.floor + 5),
            (s.half_length, s.floor),
        ]
    )
    pen.outline(rectangle(-body, s.floor + 5, body, eaves))
    half = min(56, 0.36 * s.half_length)
    pen.outline(rectangle(-half, roof - 2, half, s.top - 5), what="cupola")
    pen.part(
        [
            (-half - 6, s.top - 5),
            (-half - 4, s.top),
            (half + 4, s.top),
            (half + 6, s.top - 5),
        ],
        fill="wash",
    )
    pen.part([(-s.half_length, eaves), (-s.half_length, roof - 3), (-s.half_length + 8, roof),
              (s.half_length - 8, roof), (s.half_length, roof - 3), (s.half_length, eaves)], fill="wash")  # fmt: skip
    for x in (-0.5 * half, 0.5 * half):
        window(pen, x, roof + 5, 12, s.top - 12)
    for x in (-0.66 * body, -0.3 * body, 0.3 * body, 0.66 * body):
        window(pen, x, s.floor + 46, 12, eaves - 14)
    for sign in (-1, 1):  # end posts, rails and steps
        x = sign * (s.half_length - 5)
        pen.part(((x, s.floor + 5), (x, eaves)), closed=False)
        pen.detail(
            ((sign * body, s.floor + 40), (x, s.floor + 40)),
            ((sign * body, s.floor + 22), (x, s.floor + 22)),
        )
        pen.block(sign * (s.half_length - 30), s.floor - 20, sign * (s.half_length - 6), s.floor)
    pen.block(0.8 * body - 4, roof, 0.8 * body + 4, roof + 24)


def _brake_van(pen: Pen, s: Sizes) -> None:
    eaves = s.top - 8
    veranda = s.half_length - min(42, 0.3 * s.half_length)
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, eaves))
    pen.outline([(-s.half_length - 4, eaves), *arc(0.0, eaves, s.half_length + 4, s.top - eaves, 180, 0, 16)])
    for sign in (-1, 1):
        pen.block(
            sign * (s.half_length - 4),
            s.floor + 38,
            sign * (veranda + 4),
            eaves - 6,
        )
        pen.part(((sign * veranda, s.floor), (sign * veranda, eaves)), closed=False)
        pen.block(
            sign * (s.half_length - 8),
            s.floor - 18,
            sign * (veranda + 6),
            s.floor - 14,
        )
    posts(pen, steps(-veranda, veranda, 7), s.floor, eaves)
    pen.block(-14, s.floor + 36, 14, eaves - 10)
    pen.block(0.5 * veranda - 3, s.top - 5, 0.5 * veranda + 3, s.top + 10)


def _passenger(pen: Pen, s: Sizes) -> None:
    eaves = s.top - 20
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, eaves))
    pen.outline([(-s.half_length, eaves), *arc(-s.half_length + 16, eaves, 16, s.top - eaves, 180, 90, 6),
                 *arc(s.half_length - 16, eaves, 16, s.top - eaves, 90, 0, 6)], what="roof")  # fmt: skip
    belt, head = s.floor + 40, min(s.floor + 74, eaves - 8)
    pen.detail(
        ((-s.half_length, belt - 5), (s.half_length, belt - 5)),
        ((-s.half_length, head + 6), (s.half_length, head + 6)),
    )
    first = s.half_length - 70
    for x in steps(-first, first, 58):
        window(pen, x, belt, 17, head)
    for sign in (-1, 1):  # vestibule doors with their windows, steps and diaphragms
        x = sign * (s.half_length - 22)
        pen.block(x - 15, s.floor, x + 15, head + 4, fill="wash")
        window(pen, x, belt, 9, head)
        pen.block(x - 13, s.floor - 24, x + 13, s.floor)
        pen.part(rectangle(sign * s.half_length, s.floor + 6, sign * (s.half_length + 8), head + 8))
    pen.block(-40, s.floor - 22, 44, s.floor, fill="wash")


def _van(pen: Pen, s: Sizes) -> None:
    eaves = s.top - 12
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, eaves))
    pen.outline([(-s.half_length - 3, eaves), (-s.half_length + 4, s.top), (s.half_length - 4, s.top),
                 (s.half_length + 3, eaves)], what="roof")  # fmt: skip
    pen.detail(*(((-s.half_length, z), (s.half_length, z)) for z in steps(s.floor, eaves, 8)[1:-1]))
    door = min(32, 0.3 * s.half_length)
    for sign in (-1, 1):
        for x in steps(sign * (door + 20), sign * (s.half_length - 4), 44):
            pen.block(x - 2.5, s.floor, x + 2.5, eaves)
    pen.block(-door, s.floor + 2, door, eaves - 5, fill="wash")
    pen.detail(
        ((0.0, s.floor + 2), (0.0, eaves - 5)),
        ((-door, eaves - 5), (2.1 * door, eaves - 5)),
    )


def _plain(pen: Pen, s: Sizes) -> None:
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, s.top))


_SIDES: Mapping[str, Callable[[Pen, Sizes], None]] = {
    "box": _box,
    "refrigerator": _refrigerator,
    "stock": _stock,
    "caboose": _caboose,
    "brake_van": _brake_van,
    "passenger": _passenger,
    "van": _van,
    "plain": _plain,
    **OPEN_BODIES,
}
