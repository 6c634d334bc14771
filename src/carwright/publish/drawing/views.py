"""Side, end and plan on one sheet, as a drawing office lays them out: the plan above the side, the end beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.dimensions import across, upright
from carwright.publish.drawing.elevation import side_pen
from carwright.publish.drawing.gear import draw_couplers, draw_running_gear, rail
from carwright.publish.drawing.pen import PAPER, Pen, arc, steps
from carwright.publish.drawing.shape import Sizes, sizes_of
from carwright.publish.scene import Group, Scene, Shape
from carwright.units import say

_BETWEEN = 13.0
"""Between two views [mm of paper]."""
_SIDE = 12.0
"""Room beside the views [mm of paper]."""


def sheet_of_views(history: History, findings: Sequence[Finding]) -> Scene:
    """Three views on one sheet; one user unit is one millimetre of the model.

    Parameters
    ----------
    history : History
        The car.
    findings : sequence of Finding
        Of the stage shown, for coupler heights.
    """
    sizes = sizes_of(history, findings)
    mm = (2 * sizes.reach + 2 * sizes.half_width) / (PAPER - _BETWEEN - 3 * _SIDE)
    side, end, plan = _side(sizes, mm), _end(sizes, mm), _plan(sizes, mm)
    _dimension(side, end, plan, history, sizes, mm)
    right = max(sizes.reach, side.right) + _BETWEEN * mm + max(sizes.half_width, -end.left) + 3 * mm
    up = max(sizes.top, side.high, end.high) + (_BETWEEN + 3.0) * mm + sizes.half_width
    items: tuple[Shape, ...] = (
        Group(tuple(side.items), what="view side"),
        Group(tuple(end.items), what="view end-view", move=(right, 0.0)),
        Group(tuple(plan.items), what="view plan", move=(0.0, -up)),
    )
    left = min(-sizes.reach - _SIDE * mm, side.left - 2 * mm, plan.left - 2 * mm)
    top = -up - max(sizes.half_width + 9.0 * mm, plan.high + 4.0 * mm)
    width = right + max(sizes.half_width + (_SIDE + 3.0) * mm, end.right + 4.0 * mm) - left
    names = "Side, A end on the right; end, seen from A; plan, from above"
    return Scene(left, top, width, 16.0 * mm - top, items, f"Three views of {history.title}. {names}.", "views", 1.0)


def _side(sizes: Sizes, mm: float) -> Pen:
    pen = side_pen(sizes, mm)
    pen.items.insert(0, rail(pen, -sizes.reach, sizes.reach))
    draw_running_gear(pen, sizes)
    draw_couplers(pen, sizes)
    return pen


# --- The end ----------------------------------------------------------------------------------------------------


def _end(s: Sizes, mm: float) -> Pen:
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


# --- The plan ---------------------------------------------------------------------------------------------------


def _plan(s: Sizes, mm: float) -> Pen:
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


def _dimension(side: Pen, end: Pen, plan: Pen, history: History, s: Sizes, mm: float) -> None:
    """Each size once, in the view that shows it best."""
    known, system = history.geometry, history.system

    def figure(name: str, words: str = "") -> str:
        return f"{words}{say(known[name], 'length', system)}"

    level = -8.0 * mm
    if "truck_centers" in known and s.trucks:
        across(
            side,
            -known["truck_centers"] / 2,
            known["truck_centers"] / 2,
            level,
            figure("truck_centers", "truck centers "),
        )
    if "wheelbase" in known and not s.trucks:
        across(side, -known["wheelbase"] / 2, known["wheelbase"] / 2, level, figure("wheelbase", "wheelbase "))
    if "body_length" in known:
        across(
            plan,
            -known["body_length"] / 2,
            known["body_length"] / 2,
            s.half_width + 4.5 * mm,
            figure("body_length", "body "),
            start=s.half_width,
        )
    if "body_width" in known:
        across(end, -known["body_width"] / 2, known["body_width"] / 2, level, figure("body_width"))
    if "body_height" in known:
        upright(side, 0.0, known["body_height"], -s.reach - 5.0 * mm, figure("body_height"), start=-s.half_length)
