"""Side, end and plan on one sheet, as a drawing office lays them out: the plan above the side, the end beside it."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.dimensions import across, upright
from carwright.publish.drawing.elevation import side_pen
from carwright.publish.drawing.end import end_pen
from carwright.publish.drawing.gear import draw_couplers, draw_running_gear, rail
from carwright.publish.drawing.pen import PAPER, Pen
from carwright.publish.drawing.plan import plan_pen
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
    side, end, plan = _side(sizes, mm), end_pen(sizes, mm), plan_pen(sizes, mm)
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
