"""The side elevation: the car to scale, A end on the right, findings pinned, dimensions under it.

Drawn in millimetres of the model: x along the car, z up from the railhead.
"""

from __future__ import annotations

from collections.abc import Sequence

from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.bodies import draw_body
from carwright.publish.drawing.dimensions import TEXT, across, upright
from carwright.publish.drawing.gear import draw_couplers, draw_running_gear, draw_sill, rail
from carwright.publish.drawing.pen import PAPER, Bend, Pen
from carwright.publish.drawing.pins import pin_shapes, pins_of
from carwright.publish.drawing.shape import Sizes, sizes_of
from carwright.publish.scene import Scene, Text
from carwright.units import say

_MARGIN = 13.0
"""Room beside the couplers for heights [mm of paper]."""
_ROW = 5.6
"""Between two dimension lines [mm of paper]."""


def paper_mm(sizes: Sizes) -> float:
    """Model millimetres on one millimetre of paper, for a side elevation across the page."""
    return 2 * sizes.reach / (PAPER - 2 * _MARGIN)


def side_pen(sizes: Sizes, mm: float, bend: Bend | None = None) -> Pen:
    """The car itself from the side, nothing around it."""
    pen = Pen(mm, sizes.reach, bend, bool({"body_length", "body_height"} & set(sizes.assumed)))
    draw_sill(pen, sizes)
    draw_body(pen, sizes)
    pen.faint = False
    return pen


def elevation(history: History, findings: Sequence[Finding], numbered: Sequence[tuple[int, Finding]]) -> Scene:
    """The drawing; one user unit is one millimetre of the model.

    Parameters
    ----------
    history : History
        The car.
    findings : sequence of Finding
        All of the stage shown.
    numbered : sequence of (int, Finding)
        Those to pin, with their row numbers.
    """
    sizes = sizes_of(history, findings)
    mm = paper_mm(sizes)
    half = sizes.reach + _MARGIN * mm
    pen = side_pen(sizes, mm)
    pen.items.insert(0, rail(pen, -half + 1.5 * mm, half - 1.5 * mm))
    draw_running_gear(pen, sizes)
    draw_couplers(pen, sizes)
    top = max(sizes.top, pen.high)
    pins = pins_of(numbered, sizes)
    wheels = any(pin.z <= sizes.wheel / 2 for pin in pins)
    level = -(14.0 if wheels else 8.5) * mm
    bottom = _lengths(pen, history, sizes, level)
    _heights(pen, history, sizes, findings)
    for text, x, anchor in (("B end", -half + 1.5 * mm, "start"), ("A end", half - 1.5 * mm, "end")):
        pen.items.append(Text(x, 3.4 * mm, text, TEXT * mm, anchor, "soft", what="end"))  # type: ignore[arg-type]
    pen.items += pin_shapes(pins, sizes, mm, half, top)
    roof = top + (12.0 if len(pins) > sum(pin.z <= sizes.wheel / 2 for pin in pins) else 4.0) * mm
    roof = max(roof, pen.high + 1.0 * mm)
    bottom = min(bottom, -11.0 * mm) if wheels else bottom
    words = _described(history, numbered)
    return Scene(-half, -roof, 2 * half, roof - bottom, tuple(pen.items), words, "elevation", 1.0, links=True)


def _lengths(pen: Pen, history: History, sizes: Sizes, level: float) -> float:
    """Dimensions the sheet gives, shortest first, under the rail; the z where they end."""
    mm, known = pen.mm, history.geometry
    spans: list[tuple[float, float, str]] = []
    if "truck_wheelbase" in known and sizes.trucks:
        per = len(sizes.axles) // 2
        own = sizes.axles[:per]
        spans.append((min(own), max(own), _figure(history, "truck_wheelbase", "")))
    if "wheelbase" in known and not sizes.trucks:
        spans.append((-known["wheelbase"] / 2, known["wheelbase"] / 2, _figure(history, "wheelbase", "wheelbase ")))
    if "truck_centers" in known and sizes.trucks:
        spans.append(
            (
                -known["truck_centers"] / 2,
                known["truck_centers"] / 2,
                _figure(history, "truck_centers", "truck centers "),
            )
        )
    if "body_length" in known:
        spans.append((-known["body_length"] / 2, known["body_length"] / 2, _figure(history, "body_length", "body ")))
    if sizes.buffers or "coupler_face" not in sizes.assumed:
        over, name = sum(sizes.faces), "over buffers " if sizes.buffers else "over couplers "
        spans.append((-sizes.faces[1], sizes.faces[0], f"{name}{say(over, 'length', history.system)}"))
    for index, (left, right, words) in enumerate(spans):
        across(pen, left, right, level - index * _ROW * mm, words)
    return level - (max(0, len(spans) - 1) * _ROW + 3.0) * mm if spans else -5.0 * mm


def _figure(history: History, name: str, words: str) -> str:
    return f"{words}{say(history.geometry[name], 'length', history.system)}"


def _heights(pen: Pen, history: History, sizes: Sizes, findings: Sequence[Finding]) -> None:
    """Coupler or buffer heights as read, at their ends."""
    mm = pen.mm
    for end, sign in (("A", 1.0), ("B", -1.0)):
        if f"coupler height at {end}" in sizes.assumed:
            continue
        read = next(
            each
            for each in findings
            if each.at == end and each.characteristic in {"coupler.height", "buffer.height"} and each.value is not None
        )
        words = say(sizes.coupler(end), "length", history.system, read.half_width, unit=False).split(" ±")[0]
        start = sign * sizes.face(end)
        upright(pen, 0.0, sizes.coupler(end), start + sign * 6.0 * mm, words, start=start)


def _described(history: History, numbered: Sequence[tuple[int, Finding]]) -> str:
    pinned = "; ".join(f"{number}: {finding.subject} {finding.outcome}" for number, finding in numbered)
    return f"Side elevation of {history.title}, A end on the right. {pinned or 'Nothing pinned'}."
