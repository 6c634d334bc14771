"""The touchable elevation: the car to scale, and over it the places one can measure, each a link as large as a thumb.

Millimetres of the model, as every drawing; letters and marks are sized so that they can be read where the drawing is as
wide as a small phone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from carwright.history import History
from carwright.judge import OUTCOMES, Finding
from carwright.publish.drawing.elevation import side_pen
from carwright.publish.drawing.gear import draw_couplers, draw_running_gear, rail
from carwright.publish.drawing.pen import PAPER
from carwright.publish.drawing.pins import mark
from carwright.publish.drawing.shape import Sizes, sizes_of
from carwright.publish.scene import Group, Rect, Scene, Shape, Text
from carwright.web.places import Spot, by_spot, spots_of, worst

PHONE = 328.0
"""Width of the drawing on the smallest phone [px]."""
_THUMB = 50.0
"""Least width of a place to touch, there [px]."""
_MARK, _LETTER = 9.0, 11.5
"""Half a mark's side, and letters, there [px]."""


def touchable(
    history: History,
    findings: Sequence[Finding],
    charges: Sequence[str],
    *,
    chosen: str,
    address: Callable[[Spot], str],
) -> Scene:
    """The drawing.

    Parameters
    ----------
    history : History
        The car.
    findings : sequence of Finding
        Of the stage shown.
    charges : sequence of str
        Forces that may cost points; what only informs makes no mark.
    chosen : str
        Id of the spot touched last.
    address : callable
        Where a spot leads.
    """
    sizes = sizes_of(history, findings)
    half = sizes.reach * 1.03
    px = 2 * half / PHONE
    pen = side_pen(sizes, 2 * half / PAPER * 1.4)
    pen.items.insert(0, rail(pen, -half, half))
    draw_running_gear(pen, sizes)
    draw_couplers(pen, sizes)
    top = max(sizes.top, pen.high)
    roof, foot = top + 27 * px, -30 * px
    edges = _edges(sizes, history, half, _THUMB * px)
    told = by_spot(findings, spots_of(history))
    items: list[Shape] = list(pen.items)
    for spot, left, right in edges:
        counts = worst(told[spot.id], charges)
        items.append(
            _place(spot, counts, (left, -roof, right, -foot), px, chosen=spot.id == chosen, href=address(spot))
        )
    words = f"Side elevation of {history.title}, A end on the right; each part leads to what can be measured there."
    return Scene(-half, -roof, 2 * half, roof - foot, tuple(items), words, "touch", links=True)


def _edges(sizes: Sizes, history: History, half: float, least: float) -> list[tuple[Spot, float, float]]:
    """Where each spot begins and ends along the car: at least a thumb wide, and no two over one another."""
    per = len(sizes.axles) // 2 or 1
    reach_a = max(sizes.axles[:per], default=0.3 * half) + sizes.wheel / 2
    inner_a = min(sizes.axles[: len(sizes.axles) - per] or sizes.axles, default=0.2 * half) - sizes.wheel / 2
    reach_b = -min(sizes.axles[-per:], default=-0.3 * half) + sizes.wheel / 2
    inner_b = -max(sizes.axles[-per:], default=-0.2 * half) - sizes.wheel / 2
    outer = [max(min(reach, half - least), 1.5 * least) for reach in (reach_b, reach_a)]
    inner = [max(min(inner_b, outer[0] - least), least * 0.5), max(min(inner_a, outer[1] - least), least * 0.5)]
    bounds = [-half, -outer[0], -inner[0], inner[1], outer[1], half]
    return [(spot, bounds[index], bounds[index + 1]) for index, spot in enumerate(spots_of(history))]


def _place(
    spot: Spot,
    counts: Mapping[str, int],
    frame: tuple[float, float, float, float],
    px: float,
    *,
    chosen: bool,
    href: str,
) -> Group:
    left, top, right, bottom = frame
    middle = (left + right) / 2
    shapes: list[Shape] = [Rect(left, top, right - left, bottom - top, "none", 0.0, "wash", "hit")]
    if chosen:
        inset = 1.5 * px
        shapes.append(
            Rect(
                left + inset,
                top + inset,
                right - left - 2 * inset,
                bottom - top - 2 * inset,
                "accent",
                2.5 * px,
                "none",
                "chosen",
            )
        )
    outcome = next((each for each in OUTCOMES if counts.get(each)), "")
    if outcome:
        y = top + 14.5 * px
        shapes.append(mark(outcome, middle, y, _MARK * px, px * 1.4))
        if outcome != "conforms":
            ink = "paper" if outcome == "fails" else "ink"
            text = str(min(counts[outcome], 99))
            shapes.append(Text(middle, y + 4.3 * px, text, _LETTER * 0.95 * px, "middle", ink, bold=True, what="count"))
    label = {"coupler": spot.end, "truck": f"truck {spot.end}", "body": "body"}[spot.part]
    if spot.part == "truck" and spot.title.startswith("Wheelset"):
        label = f"axle {spot.axles[0]}"
    shapes.append(Text(middle, bottom - 9 * px, label, _LETTER * px, "middle", "ink", bold=chosen, what="name"))
    told = ", ".join(f"{counts[each]} {each}" for each in OUTCOMES if counts.get(each)) or "nothing judged"
    return Group(tuple(shapes), f"{spot.title}: {told}{'; chosen' if chosen else ''}", href, f"spot spot-{spot.part}")
