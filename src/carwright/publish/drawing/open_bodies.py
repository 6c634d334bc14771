"""Bodies one loads from above, from the side: hoppers, gondolas, flats, wells and tanks. In scale inches.

Sizes of details are those of ordinary cars (common practice).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from carwright.publish.drawing.fittings import corners, ladder, posts, rectangle, running_board, steps_under
from carwright.publish.drawing.pen import Pen, arc, mirrored, steps
from carwright.publish.drawing.shape import Sizes
from carwright.publish.scene import Point

_TWO_BAYS = 260
"""Half-length up to which a hopper car is drawn with two bays; longer ones have three [scale in]."""


def _inner(s: Sizes) -> float:
    """Half of the room between the trucks."""
    if s.trucks:
        own = [x for x in s.axles if x > 0]
        return max(min(own) - s.wheel, 0.3 * s.half_length)
    return max(min(abs(x) for x in s.axles) - s.wheel, 0.3 * s.half_length)


def _bays(count: int, inner: float) -> list[tuple[float, float]]:
    """Left and right edge of each hopper bay between the trucks."""
    width = 2 * inner / count
    return [(-inner + width * index, -inner + width * (index + 1)) for index in range(count)]


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
            rectangle(sign * s.half_length, waist - 7, sign * (s.half_length - 50), waist),
            fill="paper",
        )
    pen.outline(_hopper_body(s, eaves, waist))
    for sign in (-1, 1):
        pen.detail(((sign * s.half_length, eaves - 14), (sign * min(slope, s.half_length - 20), waist)))
        ladder(pen, sign * (s.half_length - 12), waist - 7, eaves)
        steps_under(pen, sign * (s.half_length - 12), waist - 7)
    posts(pen, steps(-s.half_length + 30, s.half_length - 30, 40), waist, eaves)
    pen.detail(
        ((-s.half_length, eaves - 5), (s.half_length, eaves - 5)),
        ((-s.half_length, waist), (s.half_length, waist)),
    )
    for x in steps(-s.half_length + 40, s.half_length - 40, 72):
        pen.block(x - 14, eaves, x + 14, s.top - 4, fill="wash")
    running_board(pen, s, s.top)
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
        pen.part(rectangle(sign * s.half_length, waist - 8, sign * (s.half_length - 50), waist))
    pen.outline(_hopper_body(s, s.top, waist))
    pen.detail(
        ((-s.half_length, s.top - 5), (s.half_length, s.top - 5)),
        ((-s.half_length, waist), (s.half_length, waist)),
    )
    for x in steps(-s.half_length + 30, s.half_length - 30, 38):
        pen.block(x - 2.5, waist, x + 2.5, s.top - 5)
    for sign in (-1, 1):
        pen.detail(((sign * s.half_length, s.top - 10), (sign * (s.half_length - 50), waist)))
        ladder(pen, sign * (s.half_length - 12), waist - 8, s.top - 8)
        steps_under(pen, sign * (s.half_length - 12), waist - 8)
    _gates(pen, s)


def _gondola(pen: Pen, s: Sizes) -> None:
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, s.top))
    pen.part(rectangle(-s.half_length, s.top - 5, s.half_length, s.top), fill="wash")
    for x in steps(-s.half_length + 26, s.half_length - 26, 44):
        pen.block(x - 3, s.floor, x + 3, s.top - 5)
    corners(pen, s, s.floor, s.top - 3)


def _flat(pen: Pen, s: Sizes) -> None:
    low = s.floor - 6
    pen.outline([(-s.half_length, s.floor), (-s.half_length, s.top), (s.half_length, s.top), (s.half_length, s.floor),
                 (0.5 * s.half_length, low), (-0.5 * s.half_length, low)])  # fmt: skip
    pen.detail(((-s.half_length, s.top - 3), (s.half_length, s.top - 3)))
    for x in steps(-s.half_length + 14, s.half_length - 14, 36):
        pen.block(x - 3, s.top - 11, x + 3, s.top - 4)
    for sign in (-1, 1):
        steps_under(pen, sign * (s.half_length - 13), s.floor)


def _depressed(pen: Pen, s: Sizes) -> None:
    inner, deck = _inner(s), 15
    low = s.floor + 12
    over = s.top - deck
    right = [(s.half_length, over), (s.half_length, s.top), (inner + 14, s.top), (inner - 16, low)]
    under = [(inner - 22, s.floor), (inner + 8, over)]
    pen.outline([*right, *reversed(mirrored(right)), *mirrored(list(reversed(under)))[:2], *under])
    pen.detail(((-inner + 16, low - 4), (inner - 16, low - 4)))
    for sign in (-1, 1):
        steps_under(pen, sign * (s.half_length - 13), over)


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
    posts(pen, steps(-inner + 6, inner - 6, 60), s.floor + 6, s.top - 6)
    for sign in (-1, 1):
        steps_under(pen, sign * (s.half_length - 13), platform - 10)


def _tank(pen: Pen, s: Sizes) -> None:
    sill_top = s.floor + 10
    dome = min(20, 0.16 * (s.top - s.floor))
    high, low = s.top - dome, sill_top + 2
    middle, r = (high + low) / 2, (high - low) / 2
    end, head = s.half_length - 22, 14
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, sill_top))
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
        steps_under(pen, sign * (s.half_length - 13), s.floor)
    rail = middle + 2
    pen.part(((-end, rail), (end, rail)), closed=False)
    pen.detail(*(((x, rail), (x, rail - 7)) for x in steps(-end, end, 90)))
    ladder(pen, 0.0, sill_top, high + 4)


def _wagon(pen: Pen, s: Sizes) -> None:
    pen.outline(rectangle(-s.half_length, s.floor, s.half_length, s.top))
    planks = steps(s.floor, s.top, 9)[1:-1]
    pen.detail(*(((-s.half_length, z), (s.half_length, z)) for z in planks))
    door = min(30, 0.3 * s.half_length)
    for x in (-s.half_length + 3, -door, door, s.half_length - 3):
        pen.block(x - 2.5, s.floor, x + 2.5, s.top)
    for x in (-0.5 * door, 0.5 * door):
        pen.detail(((x, s.floor), (x, s.top)))


OPEN_BODIES: Mapping[str, Callable[[Pen, Sizes], None]] = {
    "covered_hopper": _covered_hopper,
    "open_hopper": _open_hopper,
    "gondola": _gondola,
    "flat": _flat,
    "depressed": _depressed,
    "well": _well,
    "tank": _tank,
    "wagon": _wagon,
}
