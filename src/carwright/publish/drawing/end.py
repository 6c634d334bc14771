"""A car from its end: body, wheelset, coupler or buffers. Bodies are drawn in scale inches."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from carwright.publish.drawing.gear import rail
from carwright.publish.drawing.pen import Pen, arc, steps
from carwright.publish.drawing.shape import Sizes


def end_pen(s: Sizes, mm: float) -> Pen:
    """Seen from the A end."""
    pen = Pen(mm, s.half_width, faint=bool({"body_height", "body_width"} & set(s.assumed)))
    pen.items.append(rail(pen, -s.half_width - 4 * mm, s.half_width + 4 * mm))
    _wheelset(pen, s)
    with pen.measured_in(s.inch):
        _ENDS.get(s.kind.body, _flat_end)(pen, s.in_inches())
    pen.faint = False
    z, i = s.coupler_z[0], s.inch
    if s.buffers:
        spacing = min(34.5 * i, s.half_width - 6 * i)
        for sign in (-1, 1):
            pen.disc(sign * spacing, z, 8 * i, what="coupler")
        pen.block(-3 * i, z - 4 * i, 3 * i, z + 4 * i)
    else:
        pen.part(
            ((-5 * i, z - 5.5 * i), (-5 * i, z + 5.5 * i), (6 * i, z + 5.5 * i), (6 * i, z - 5.5 * i)), what="coupler"
        )
        pen.detail(((1 * i, z - 5.5 * i), (1 * i, z + 5.5 * i)))
    pen.centre(((0.0, -2 * mm), (0.0, s.top + 3 * mm)))
    return pen


def _wheelset(pen: Pen, s: Sizes) -> None:
    """Two wheels on the rails and the axle between; treads as wide as usual."""
    r, half = s.wheel / 2, s.gauge / 2
    tread, flange = 4.0 * s.inch, 1.1 * s.inch
    for sign in (-1, 1):
        inner, outer = sign * (half - 0.6 * flange), sign * (half + tread)
        root = inner + sign * 1.2 * flange
        inside = ((inner, -flange), (inner, 2 * r + flange))
        outside = ((root, 2 * r), (outer, 2 * r), (outer, 0.0), (root, 0.0))
        pen.part((*inside, *outside), what="wheel")
    pen.block(-half, r - 3 * s.inch, half, r + 3 * s.inch)
    if s.trucks:
        pen.block(-half - 10 * s.inch, 1.2 * r, half + 10 * s.inch, 1.75 * r)


def _roof_end(pen: Pen, s: Sizes) -> None:
    """A house car: straight sides, a low roof, its running board, ladder and grab irons."""
    eaves = s.top - 12
    pen.outline(
        (
            (-s.half_width, s.floor),
            (-s.half_width, eaves),
            (0.0, s.top - 4),
            (s.half_width, eaves),
            (s.half_width, s.floor),
        )
    )
    pen.block(-10, s.top - 2.5, 10, s.top)
    for z in steps(s.floor + 20, eaves - 10, 22):
        pen.detail(((-0.94 * s.half_width, z), (0.94 * s.half_width, z)))
    _end_ladder(pen, s, eaves)


def _end_ladder(pen: Pen, s: Sizes, high: float) -> None:
    x = s.half_width - 13
    rungs = steps(s.floor + 6, high - 6, 15)
    pen.detail(
        ((x - 8, s.floor), (x - 8, high)), ((x + 8, s.floor), (x + 8, high)),
        *(((x - 8, z), (x + 8, z)) for z in rungs),
    )  # fmt: skip


def _arched_end(pen: Pen, s: Sizes) -> None:
    eaves = s.top - min(20, 0.2 * (s.top - s.floor))
    pen.outline(
        [(-s.half_width, s.floor), *arc(0.0, eaves, s.half_width, s.top - eaves, 180, 0, 24), (s.half_width, s.floor)]
    )
    door = min(16, 0.4 * s.half_width)
    pen.block(-door, s.floor, door, min(s.floor + 78, eaves))
    for sign in (-1, 1):
        x = sign * (door + s.half_width) / 2
        pen.block(x - 9, s.floor + 40, x + 9, min(s.floor + 70, eaves - 4))


def _caboose_end(pen: Pen, s: Sizes) -> None:
    roof = s.floor + 0.72 * (s.top - s.floor)
    cupola = 0.72 * s.half_width
    pen.outline(
        (
            (-cupola, roof - 4),
            (-cupola, s.top - 6),
            (0.0, s.top),
            (cupola, s.top - 6),
            (cupola, roof - 4),
        ),
        "cupola",
    )
    pen.outline(
        (
            (-s.half_width, s.floor),
            (-s.half_width, roof - 9),
            (0.0, roof),
            (s.half_width, roof - 9),
            (s.half_width, s.floor),
        )
    )
    door = 14
    pen.block(-door, s.floor + 4, door, roof - 14)
    for sign in (-1, 1):
        x = sign * (door + s.half_width) / 2
        pen.block(x - 9, s.floor + 46, x + 9, roof - 20)
        pen.block(sign * 0.45 * cupola - 8, roof + 4, sign * 0.45 * cupola + 8, s.top - 12)


def _open_end(pen: Pen, s: Sizes) -> None:
    pen.outline(((-s.half_width, s.floor), (-s.half_width, s.top), (s.half_width, s.top), (s.half_width, s.floor)))
    pen.block(-s.half_width, s.top - 5, s.half_width, s.top)
    for x in steps(-0.55 * s.half_width, 0.55 * s.half_width, 26):
        pen.block(x - 2.5, s.floor, x + 2.5, s.top - 5)
    _end_ladder(pen, s, s.top - 5)


def _hopper_end(pen: Pen, s: Sizes) -> None:
    covered = s.kind.body == "covered_hopper"
    eaves = s.top - 10 if covered else s.top
    waist = s.floor + 0.38 * (eaves - s.floor)
    top = (
        [(-s.half_width, eaves), (0.0, s.top - 4), (s.half_width, eaves)]
        if covered
        else [(-s.half_width, eaves), (s.half_width, eaves)]
    )
    pen.outline(
        [
            (-s.half_width, waist),
            *top,
            (s.half_width, waist),
            (0.24 * s.half_width, s.floor),
            (-0.24 * s.half_width, s.floor),
        ]
    )
    pen.detail(
        ((-s.half_width, waist), (s.half_width, waist)),
        ((-0.6 * s.half_width, eaves), (-0.6 * s.half_width, waist)),
        ((0.6 * s.half_width, eaves), (0.6 * s.half_width, waist)),
    )
    if covered:
        for sign in (-1, 1):
            x = sign * 0.5 * s.half_width
            pen.block(x - 12, eaves + 1, x + 12, s.top - 1, fill="wash")
        pen.block(-10, s.top - 2.5, 10, s.top)


def _tank_end(pen: Pen, s: Sizes) -> None:
    sill = s.floor + 10
    dome = min(20, 0.16 * (s.top - s.floor))
    high, low = s.top - dome, sill + 2
    middle, r = (high + low) / 2, (high - low) / 2
    rx = min(r, s.half_width - 2)
    pen.part(
        [
            (-18, high - 6),
            (-18, s.top),
            (18, s.top),
            (18, high - 6),
        ],
        fill="wash",
    )
    pen.outline(arc(0.0, middle, rx, r, 0, 360, 40)[:-1])
    pen.detail(arc(0.0, middle, 0.86 * rx, 0.86 * r, 0, 360, 40))
    pen.outline(((-s.half_width, s.floor), (-s.half_width, sill), (s.half_width, sill), (s.half_width, s.floor)))


def _flat_end(pen: Pen, s: Sizes) -> None:
    low = s.floor if s.kind.body not in {"depressed", "well"} else s.top - 15
    pen.outline(((-s.half_width, low), (-s.half_width, s.top), (s.half_width, s.top), (s.half_width, low)))
    pen.detail(((-s.half_width, s.top - 3), (s.half_width, s.top - 3)))


_ENDS: Mapping[str, Callable[[Pen, Sizes], None]] = {
    "box": _roof_end,
    "refrigerator": _roof_end,
    "stock": _roof_end,
    "van": _roof_end,
    "plain": _flat_end,
    "covered_hopper": _hopper_end,
    "open_hopper": _hopper_end,
    "gondola": _open_end,
    "wagon": _open_end,
    "tank": _tank_end,
    "caboose": _caboose_end,
    "brake_van": _arched_end,
    "passenger": _arched_end,
}
