"""Bodies from the side: what makes each kind of car itself, in its usual proportions, within its own length and height.

Everything here is in scale inches, sizes and pen alike. Sizes of details are those of ordinary cars (common practice).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise

from carwright.publish.drawing.pen import Pen, arc, mirrored, steps
from carwright.publish.drawing.shape import Sizes
from carwright.publish.scene import Point

_TWO_BAYS = 260
"""Half-length up to which a hopper car is drawn with two bays; longer ones have three [scale in]."""


def draw_body(pen: Pen, s: Sizes) -> None:
    """The body of a car from the side, over its sill."""
    with pen.measured_in(s.inch):
        _SIDES[s.kind.body](pen, s.in_inches())


def _rectangle(left: float, low: float, right: float, high: float) -> list[Point]:
    return [(left, low), (left, high), (right, high), (right, low)]


def _posts(pen: Pen, xs: list[float], low: float, high: float) -> None:
    pen.detail(*(((x, low), (x, high)) for x in xs))


def _ladder(pen: Pen, x: float, low: float, high: float) -> None:
    """Two stiles and rungs, ``x`` its middle."""
    half = 8
    rungs = steps(low + 8, high - 4, 15)
    pen.detail(
        ((x - half, low), (x - half, high)),
        ((x + half, low), (x + half, high)),
        *(((x - half, z), (x + half, z)) for z in rungs),
    )


def _steps_under(pen: Pen, x: float, low: float) -> None:
    """A sill step hanging below a corner."""
    half, deep = 7, 12
    pen.part(((x - half, low), (x - half, low - deep), (x + half, low - deep), (x + half, low)), closed=False)


def _corners(pen: Pen, s: Sizes, low: float, high: float) -> None:
    for sign in (-1, 1):
        x = sign * (s.half_length - 13)
        _ladder(pen, x, low, high)
        _steps_under(pen, x, low)


def _running_board(pen: Pen, s: Sizes, high: float) -> None:
    thick = 2.5
    pen.part(_rectangle(-s.half_length - 2, high - thick, s.half_length + 2, high))


def _roofed(pen: Pen, s: Sizes) -> float:
    """Sides, roof and running board; the height of the eaves."""
    eaves = s.top - 12
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, eaves))
    pen.part(_rectangle(-s.half_length, eaves, s.half_length, s.top - 5), fill="wash")
    pen.detail(*(((x, s.top - 5), (x, s.top - 2.5)) for x in steps(-s.half_length, s.half_length, 48)))
    _running_board(pen, s, s.top)
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
            _posts(pen, steps(first, last, 34), s.floor, eaves)
    _door(pen, door, s.floor + 3, eaves - 4)
    _corners(pen, s, s.floor, eaves - 3)


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
    _corners(pen, s, s.floor, eaves - 3)


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
    _corners(pen, s, s.floor, eaves - 3)


def _bays(count: int, inner: float) -> list[tuple[float, float]]:
    """Left and right edge of each hopper bay between the trucks."""
    width = 2 * inner / count
    return [(-inner + width * index, -inner + width * (index + 1)) for index in range(count)]


def _inner(s: Sizes) -> float:
    """Half of the room between the trucks."""
    if s.trucks:
        own = [x for x in s.axles if x > 0]
        return max(min(own) - s.wheel, 0.3 * s.half_length)
    return max(min(abs(x) for x in s.axles) - s.wheel, 0.3 * s.half_length)


def _stand(pen: Pen, s: Sizes, waist: float) -> None:
    """What carries the ends of a hopper body: end platform, posts, and the slope sheet seen between them."""
    for sign in (-1, 1):
        end, bolster = s.half_length, s.trucks[0] if s.trucks else 0.7 * s.half_length
        inner = _inner(s)
        if inner < bolster < end:
            pen.part(
                [(sign * x, z) for x, z in ((end - 30, waist), (bolster - 6, 40), (inner, 40), (inner, waist))],
                fill="wash",
            )
            pen.block(sign * (bolster - 5), 38, sign * (bolster + 5), waist, fill="wash")
        pen.block(sign * (end - 4), 38, sign * (end - 9), waist, fill="wash")


def _hopper_body(s: Sizes, eaves: float, waist: float) -> list[Point]:
    """Sides that run down to the bays between the trucks."""
    inner = _inner(s)
    count = 2 if s.half_length < _TWO_BAYS else 3
    gate = 9
    points: list[Point] = [
        (-s.half_length, waist),
        (-s.half_length, eaves),
        (s.half_length, eaves),
        (s.half_length, waist),
    ]
    for left, right in reversed(_bays(count, inner)):
        middle = (left + right) / 2
        points += [(right, waist), (middle + gate, s.floor), (middle - gate, s.floor), (left, waist)]
    return points


def _covered_hopper(pen: Pen, s: Sizes) -> None:
    eaves = s.top - 10
    waist = s.floor + 0.36 * (eaves - s.floor)
    slope = 0.72 * s.half_length + 0.28 * _inner(s)
    _stand(pen, s, waist)
    for sign in (-1, 1):
        pen.part(
            _rectangle(sign * s.half_length, waist - 7, sign * (s.half_length - 50), waist),
            fill="paper",
        )
    pen.outline(_hopper_body(s, eaves, waist))
    for sign in (-1, 1):
        pen.detail(((sign * s.half_length, eaves - 14), (sign * min(slope, s.half_length - 20), waist)))
        _ladder(pen, sign * (s.half_length - 12), waist - 7, eaves)
        _steps_under(pen, sign * (s.half_length - 12), waist - 7)
    _posts(pen, steps(-s.half_length + 30, s.half_length - 30, 40), waist, eaves)
    pen.detail(
        ((-s.half_length, eaves - 5), (s.half_length, eaves - 5)),
        ((-s.half_length, waist), (s.half_length, waist)),
    )
    for x in steps(-s.half_length + 40, s.half_length - 40, 72):
        pen.block(x - 14, eaves, x + 14, s.top - 4, fill="wash")
    _running_board(pen, s, s.top)
    _gates(pen, s)


def _gates(pen: Pen, s: Sizes) -> None:
    count = 2 if s.half_length < _TWO_BAYS else 3
    for left, right in _bays(count, _inner(s)):
        middle = (left + right) / 2
        pen.block(middle - 11, s.floor - 2, middle + 11, s.floor + 4)


def _open_hopper(pen: Pen, s: Sizes) -> None:
    waist = s.floor + 0.42 * (s.top - s.floor)
    _stand(pen, s, waist)
    for sign in (-1, 1):
        pen.part(_rectangle(sign * s.half_length, waist - 8, sign * (s.half_length - 50), waist))
    pen.outline(_hopper_body(s, s.top, waist))
    pen.detail(
        ((-s.half_length, s.top - 5), (s.half_length, s.top - 5)),
        ((-s.half_length, waist), (s.half_length, waist)),
    )
    for x in steps(-s.half_length + 30, s.half_length - 30, 38):
        pen.block(x - 2.5, waist, x + 2.5, s.top - 5)
    for sign in (-1, 1):
        pen.detail(((sign * s.half_length, s.top - 10), (sign * (s.half_length - 50), waist)))
        _ladder(pen, sign * (s.half_length - 12), waist - 8, s.top - 8)
        _steps_under(pen, sign * (s.half_length - 12), waist - 8)
    _gates(pen, s)


def _gondola(pen: Pen, s: Sizes) -> None:
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, s.top))
    pen.part(_rectangle(-s.half_length, s.top - 5, s.half_length, s.top), fill="wash")
    for x in steps(-s.half_length + 26, s.half_length - 26, 44):
        pen.block(x - 3, s.floor, x + 3, s.top - 5)
    _corners(pen, s, s.floor, s.top - 3)


def _flat(pen: Pen, s: Sizes) -> None:
    low = s.floor - 6
    pen.outline([(-s.half_length, s.floor), (-s.half_length, s.top), (s.half_length, s.top), (s.half_length, s.floor),
                 (0.5 * s.half_length, low), (-0.5 * s.half_length, low)])  # fmt: skip
    pen.detail(((-s.half_length, s.top - 3), (s.half_length, s.top - 3)))
    for x in steps(-s.half_length + 14, s.half_length - 14, 36):
        pen.block(x - 3, s.top - 11, x + 3, s.top - 4)
    for sign in (-1, 1):
        _steps_under(pen, sign * (s.half_length - 13), s.floor)


def _depressed(pen: Pen, s: Sizes) -> None:
    inner, deck = _inner(s), 15
    low = s.floor + 12
    over = s.top - deck
    right = [(s.half_length, over), (s.half_length, s.top), (inner + 14, s.top), (inner - 16, low)]
    under = [(inner - 22, s.floor), (inner + 8, over)]
    pen.outline([*right, *reversed(mirrored(right)), *mirrored(list(reversed(under)))[:2], *under])
    pen.detail(((-inner + 16, low - 4), (inner - 16, low - 4)))
    for sign in (-1, 1):
        _steps_under(pen, sign * (s.half_length - 13), over)


def _well(pen: Pen, s: Sizes) -> None:
    inner = _inner(s)
    platform = min(42, s.top - 8)
    right = [(s.half_length, platform - 10), (s.half_length, platform), (inner + 24, platform),
             (inner, s.top)]  # fmt: skip
    under = [(inner - 6, s.floor), (inner + 14, platform - 10)]
    pen.outline([*right, *reversed(mirrored(right)), *mirrored(list(reversed(under))), *under])
    pen.detail(
        ((-inner, s.top - 6), (inner, s.top - 6)),
        ((-inner, s.floor + 6), (inner, s.floor + 6)),
    )
    _posts(pen, steps(-inner + 6, inner - 6, 60), s.floor + 6, s.top - 6)
    for sign in (-1, 1):
        _steps_under(pen, sign * (s.half_length - 13), platform - 10)


def _tank(pen: Pen, s: Sizes) -> None:
    sill_top = s.floor + 10
    dome = min(20, 0.16 * (s.top - s.floor))
    high, low = s.top - dome, sill_top + 2
    middle, r = (high + low) / 2, (high - low) / 2
    end, head = s.half_length - 22, 14
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, sill_top))
    half = 26
    pen.part([(-half, high - 3), *arc(-half + 6, s.top - 6, 6, 6, 180, 90, 4),
              *arc(half - 6, s.top - 6, 6, 6, 90, 0, 4), (half, high - 3)], fill="wash")  # fmt: skip
    pen.outline([*arc(end - head, middle, head, r, 90, -90), *arc(-end + head, middle, head, r, 270, 90)])
    pen.detail(
        *(((x, low), (x, high)) for x in (-0.62 * end, 0.62 * end)), ((-end + head, middle), (end - head, middle))
    )
    for sign in (-1, 1):  # saddles, hand rail stanchions
        pen.block(
            sign * (end - 34) - 12,
            s.floor + 2,
            sign * (end - 34) + 12,
            low + 12,
            fill="wash",
        )
        _steps_under(pen, sign * (s.half_length - 13), s.floor)
    rail = middle + 2
    pen.part(((-end, rail), (end, rail)), closed=False)
    pen.detail(*(((x, rail), (x, rail - 7)) for x in steps(-end, end, 90)))
    _ladder(pen, 0.0, sill_top, high + 4)


def _window(pen: Pen, x: float, low: float, half: float, high: float) -> None:
    pen.block(x - half, low, x + half, high)


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
    pen.outline(_rectangle(-body, s.floor + 5, body, eaves))
    half = min(56, 0.36 * s.half_length)
    pen.outline(_rectangle(-half, roof - 2, half, s.top - 5), what="cupola")
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
        _window(pen, x, roof + 5, 12, s.top - 12)
    for x in (-0.66 * body, -0.3 * body, 0.3 * body, 0.66 * body):
        _window(pen, x, s.floor + 46, 12, eaves - 14)
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
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, eaves))
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
    _posts(pen, steps(-veranda, veranda, 7), s.floor, eaves)
    pen.block(-14, s.floor + 36, 14, eaves - 10)
    pen.block(0.5 * veranda - 3, s.top - 5, 0.5 * veranda + 3, s.top + 10)


def _passenger(pen: Pen, s: Sizes) -> None:
    eaves = s.top - 20
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, eaves))
    pen.outline([(-s.half_length, eaves), *arc(-s.half_length + 16, eaves, 16, s.top - eaves, 180, 90, 6),
                 *arc(s.half_length - 16, eaves, 16, s.top - eaves, 90, 0, 6)], what="roof")  # fmt: skip
    belt, head = s.floor + 40, min(s.floor + 74, eaves - 8)
    pen.detail(
        ((-s.half_length, belt - 5), (s.half_length, belt - 5)),
        ((-s.half_length, head + 6), (s.half_length, head + 6)),
    )
    first = s.half_length - 70
    for x in steps(-first, first, 58):
        _window(pen, x, belt, 17, head)
    for sign in (-1, 1):  # vestibule doors with their windows, steps and diaphragms
        x = sign * (s.half_length - 22)
        pen.block(x - 15, s.floor, x + 15, head + 4, fill="wash")
        _window(pen, x, belt, 9, head)
        pen.block(x - 13, s.floor - 24, x + 13, s.floor)
        pen.part(_rectangle(sign * s.half_length, s.floor + 6, sign * (s.half_length + 8), head + 8))
    pen.block(-40, s.floor - 22, 44, s.floor, fill="wash")


def _van(pen: Pen, s: Sizes) -> None:
    eaves = s.top - 12
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, eaves))
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


def _wagon(pen: Pen, s: Sizes) -> None:
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, s.top))
    planks = steps(s.floor, s.top, 9)[1:-1]
    pen.detail(*(((-s.half_length, z), (s.half_length, z)) for z in planks))
    door = min(30, 0.3 * s.half_length)
    for x in (-s.half_length + 3, -door, door, s.half_length - 3):
        pen.block(x - 2.5, s.floor, x + 2.5, s.top)
    for x in (-0.5 * door, 0.5 * door):
        pen.detail(((x, s.floor), (x, s.top)))


def _plain(pen: Pen, s: Sizes) -> None:
    pen.outline(_rectangle(-s.half_length, s.floor, s.half_length, s.top))


_SIDES: Mapping[str, Callable[[Pen, Sizes], None]] = {
    "box": _box,
    "refrigerator": _refrigerator,
    "stock": _stock,
    "covered_hopper": _covered_hopper,
    "open_hopper": _open_hopper,
    "gondola": _gondola,
    "flat": _flat,
    "depressed": _depressed,
    "well": _well,
    "tank": _tank,
    "caboose": _caboose,
    "brake_van": _brake_van,
    "passenger": _passenger,
    "van": _van,
    "wagon": _wagon,
    "plain": _plain,
}
