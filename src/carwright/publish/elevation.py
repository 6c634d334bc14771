"""The side elevation of a car, drawn to scale from its geometry, with findings pinned where they are.

Drawn in millimetres of the model: x along the car with the A end on the right, z up from the railhead. What the sheet
does not give is drawn from usual proportions and listed under the drawing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

from carwright.history import History
from carwright.judge import Finding
from carwright.publish.outlines import outline_of
from carwright.publish.wording import MARKS
from carwright.units import say

_USUAL = {"wheel_diameter": 33.0, "truck_wheelbase": 66.0, "body_length": 490.0}
"""Usual sizes of a full-size car, for drawing only [scale in]."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A mark on the drawing: row number of the finding, where it points, and its shape."""

    number: int
    outcome: str
    x: float
    z: float
    words: str


@dataclass
class Shape:
    """Sizes the drawing uses [mm], and which of them are assumed."""

    half_length: float
    floor: float
    top: float
    axles: tuple[float, ...]
    trucks: tuple[float, ...]
    wheel: float
    faces: dict[str, float]
    coupler_z: dict[str, float]
    assumed: list[str] = field(default_factory=list)


def shape_of(history: History, findings: Sequence[Finding]) -> Shape:
    """Sizes for the drawing, from geometry, then readings, then usual proportions.

    Parameters
    ----------
    history : History
        For geometry and type.
    findings : sequence of Finding
        For measured coupler and buffer heights.
    """
    geometry, inch = history.geometry, 25.4 / history.scale.ratio
    outline, known = outline_of(history.type)
    assumed = [] if known or not history.type else [f"outline of a {history.type}"]

    def size(name: str, usual: float) -> float:
        if name in geometry:
            return geometry[name]
        assumed.append(name)
        return usual

    over = geometry.get("length_over_buffers")
    length = size("body_length", over - 48 * inch if over else _USUAL["body_length"] * inch)
    two_axles = history.axles == 2  # noqa: PLR2004 - a car on two axles has no trucks
    wheel = size("wheel_diameter", _USUAL["wheel_diameter"] * inch)
    trucks: tuple[float, ...] = ()
    axles: tuple[float, ...]
    if two_axles:
        base = size("wheelbase", length * 0.5)
        axles = (base / 2, -base / 2)
    else:
        a = size("truck_centers", length * 0.72) / 2
        w = size("truck_wheelbase", _USUAL["truck_wheelbase"] * inch)
        per = max(2, (history.axles or 4) // 2)
        offsets = [w / 2 - w * index / (per - 1) for index in range(per)]
        trucks = (a, -a)
        axles = tuple(centre + offset for centre in trucks for offset in offsets)
    face = over / 2 if over else size("coupler_face", length / 2 + 18 * inch)
    faces = {end: geometry.get(f"coupler_face_{end}", face) for end in "AB"}
    heights: dict[str, float] = {}
    for finding in findings:
        if finding.characteristic in {"coupler.height", "buffer.height"} and finding.value is not None:
            heights.setdefault(finding.at, finding.value)
    for end in "AB":
        if end not in heights:
            heights[end] = 33 * inch
            assumed.append(f"coupler height at {end}")
    top = geometry.get("body_height", outline.top * inch)
    if "body_height" not in geometry:
        assumed.append("body_height")
    floor = geometry.get("floor_clearance", outline.floor * inch) if outline.floor < 30 else outline.floor * inch  # noqa: PLR2004
    return Shape(length / 2, floor, top, axles, trucks, wheel, faces, heights, assumed)


def pins_of(numbered: Sequence[tuple[int, Finding]], shape: Shape) -> list[Pin]:
    """Where each finding belongs on the drawing."""
    return [
        Pin(number, finding.outcome, *_spot(finding, shape, number), f"{finding.subject}: {finding.outcome}")
        for number, finding in numbered
    ]


def _spot(finding: Finding, shape: Shape, number: int) -> tuple[float, float]:
    what, at = finding.characteristic, finding.at
    end = {"A": 1.0, "B": -1.0}.get(at, 0.0)
    middle = (shape.floor + shape.top) / 2
    if what.startswith(("coupler.", "buffer.", "pin.")) and end:
        return end * shape.faces[at], shape.coupler_z[at]
    if what.startswith("wheel.") and at[:1].isdigit():
        index = int(at.rstrip("LR")) - 1
        return (shape.axles[index] if index < len(shape.axles) else 0.0), shape.wheel / 2
    if what.startswith(("wheel.", "roll.")):
        return 0.0, 0.0
    if end:
        return end * shape.half_length * 0.88, middle
    return shape.half_length * (0.12 * ((number * 3) % 5 - 2)), middle


def elevation_svg(history: History, findings: Sequence[Finding], numbered: Sequence[tuple[int, Finding]]) -> str:
    """The drawing as SVG; one user unit is one millimetre of the model.

    Parameters
    ----------
    history : History
        The car.
    findings : sequence of Finding
        All of the stage shown.
    numbered : sequence of (int, Finding)
        Those to pin, with their row numbers.

    Returns
    -------
    str
        An ``svg`` element with ``class="elevation"``, styled by the page, and a description for screen readers.
    """
    shape = shape_of(history, findings)
    reach = max(*shape.faces.values(), shape.half_length)
    unit = 2 * reach / 100
    lines = len(_spans(history))
    margin, above, below = 7 * unit, 11 * unit, (9.5 + 4.2 * lines) * unit
    width, height = 2 * (reach + margin), shape.top + above + below
    box = f"{-reach - margin:.2f} {-shape.top - above:.2f} {width:.2f} {height:.2f}"
    described = escape(_described(history, numbered))
    parts = [
        f'<svg class="elevation" viewBox="{box}" style="--u:{unit:.3f}px" role="group" aria-label="{described}">',
        f'<path class="rail" d="M{-reach - margin * 0.7:.2f} 0H{reach + margin * 0.7:.2f}"/>',
        *_body(history, shape),
        *_running_gear(shape),
        *_couplers(history, shape),
        *_dimensions(history, unit),
        f'<text class="end" x="{-reach - margin * 0.7:.2f}" y="{3.4 * unit:.2f}">B end</text>',
        f'<text class="end right" x="{reach + margin * 0.7:.2f}" y="{3.4 * unit:.2f}">A end</text>',
        *_pins(pins_of(numbered, shape), shape, unit, reach + margin),
        "</svg>",
    ]
    return "".join(parts)


def assumed_of(history: History, findings: Sequence[Finding]) -> list[str]:
    """What the drawing had to assume."""
    return [name.replace("_", " ") for name in shape_of(history, findings).assumed]


def _described(history: History, numbered: Sequence[tuple[int, Finding]]) -> str:
    pinned = "; ".join(f"{number}: {finding.subject} {finding.outcome}" for number, finding in numbered)
    return f"Side elevation of {history.title}, A end on the right. {pinned or 'Nothing pinned'}."


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.2f} {-z:.2f}" for x, z in points)


def _body(history: History, shape: Shape) -> list[str]:
    outline, _ = outline_of(history.type)
    high = shape.top - shape.floor

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * shape.half_length, shape.floor + point[1] * high

    faint = " assumed" if {"body_length", "body_height"} & set(shape.assumed) else ""
    inch = 25.4 / history.scale.ratio
    sill = max(shape.half_length - 4 * inch, 0.0)
    parts = [
        f'<path class="body" d="M{-sill:.2f} {-29 * inch:.2f}H{sill:.2f}V{-40 * inch:.2f}H{-sill:.2f}Z"/>',
        f'<path class="body{faint}" d="{_path([at(point) for point in outline.body])}Z"/>',
    ]
    parts += [f'<path class="line" d="{_path([at(start), at(end)])}"/>' for start, end in outline.lines]
    return parts


def _running_gear(shape: Shape) -> list[str]:
    radius = shape.wheel / 2
    parts = []
    for centre in shape.trucks:
        own = [x for x in shape.axles if math.copysign(1, x) == math.copysign(1, centre)]
        left, right = min(own) - radius * 0.45, max(own) + radius * 0.45
        parts.append(
            f'<path class="frame" d="M{left:.2f} {-radius * 0.75:.2f}H{right:.2f}V{-radius * 1.3:.2f}'
            f'L{centre + radius:.2f} {-radius * 1.9:.2f}H{centre - radius:.2f}L{left:.2f} {-radius * 1.3:.2f}Z"/>'
        )
    for x in shape.axles:
        parts.append(f'<circle class="wheel" cx="{x:.2f}" cy="{-radius:.2f}" r="{radius:.2f}"/>')
        parts.append(f'<circle class="hub" cx="{x:.2f}" cy="{-radius:.2f}" r="{radius * 0.22:.2f}"/>')
    return parts


def _couplers(history: History, shape: Shape) -> list[str]:
    """Couplers at the height they were read, or buffers where the car is measured over them."""
    inch = 25.4 / history.scale.ratio
    buffers = "length_over_buffers" in history.geometry
    parts = []
    for end, sign in (("A", 1.0), ("B", -1.0)):
        z = shape.coupler_z[end]
        start = sign * (shape.half_length - (0 if buffers else 12) * inch)
        face = sign * history.geometry["length_over_buffers"] / 2 if buffers else sign * shape.faces[end]
        head, half = (2.5 * inch, 8 * inch) if buffers else (8 * inch, 5.5 * inch)
        faint = " assumed" if f"coupler height at {end}" in shape.assumed else ""
        parts.append(
            f'<path class="coupler{faint}" d="M{start:.2f} {-z - 2.5 * inch:.2f}H{face - sign * head:.2f}'
            f"V{-z - half:.2f}H{face:.2f}V{-z + half:.2f}H{face - sign * head:.2f}"
            f'V{-z + 2.5 * inch:.2f}H{start:.2f}Z"/>'
        )
    return parts


def _spans(history: History) -> list[tuple[str, str]]:
    spans = (("truck_centers", "truck centers"), ("wheelbase", "wheelbase"), ("body_length", "body"))
    return [span for span in spans if span[0] in history.geometry]


def _dimensions(history: History, unit: float) -> list[str]:
    """Dimension lines for what the sheet gives, under the rail."""
    parts = []
    level = 11.8 * unit
    known = history.geometry
    for name, words in _spans(history):
        half = known[name] / 2
        text = f"{words} {say(known[name], 'length', history.system)}"
        parts.append(
            f'<path class="dimension" d="M{-half:.2f} {level:.2f}H{half:.2f}'
            f'M{-half:.2f} {level - unit:.2f}v{2 * unit:.2f}M{half:.2f} {level - unit:.2f}v{2 * unit:.2f}"/>'
            f'<text class="dimension-text" x="0" y="{level - 0.8 * unit:.2f}">{escape(text)}</text>'
        )
        level += 4.2 * unit
    return parts


def _pins(pins: Sequence[Pin], shape: Shape, unit: float, limit: float) -> list[str]:
    """Pins in rows: wheels and track under the rail, everything else above the roof, spread so none overlap."""
    parts = []
    low = [pin for pin in pins if pin.z <= shape.wheel / 2]
    high = [pin for pin in pins if pin.z > shape.wheel / 2]
    for group, level in ((high, shape.top + 6.5 * unit), (low, -5.5 * unit)):
        places = _spread(group, 6.4 * unit, limit - 0.2 * unit)
        for pin, x in zip(sorted(group, key=lambda pin: (pin.x, pin.number)), places, strict=True):
            parts.append(f'<path class="leader" d="M{pin.x:.2f} {-pin.z:.2f}L{x:.2f} {-level:.2f}"/>')
            parts.append(f'<circle class="spot" cx="{pin.x:.2f}" cy="{-pin.z:.2f}" r="{0.6 * unit:.2f}"/>')
            word = "fails" if pin.outcome == "fails" else "open"
            parts.append(
                f'<a class="pin {word}" href="#f{pin.number}"><title>{escape(pin.words)} {MARKS[pin.outcome]}</title>'
                f"{_mark(pin.outcome, x, -level, 2.3 * unit)}"
                f'<text x="{x:.2f}" y="{-level:.2f}">{pin.number}</text></a>'
            )
    return parts


def _mark(outcome: str, x: float, y: float, r: float) -> str:
    """A filled square fails, an outlined diamond is undecided: told apart without colour."""
    if outcome == "fails":
        return f'<rect x="{x - r:.2f}" y="{y - r:.2f}" width="{2 * r:.2f}" height="{2 * r:.2f}"/>'
    s = r * 1.35
    return f'<path d="M{x:.2f} {y - s:.2f}L{x + s:.2f} {y:.2f}L{x:.2f} {y + s:.2f}L{x - s:.2f} {y:.2f}Z"/>'


def _spread(pins: Sequence[Pin], gap: float, limit: float) -> list[float]:
    """Places along a row, in order, at least ``gap`` apart where there is room, within the drawing."""
    places = sorted(pin.x for pin in pins)
    if not places:
        return []
    room = 2 * (limit - gap / 2)
    step = min(gap, room / max(1, len(places) - 1))
    result: list[float] = []
    for x in places:
        result.append(max(x, result[-1] + step) if result else max(x, -limit + gap / 2))
    over = result[-1] - (limit - gap / 2)
    if over > 0:
        result[-1] -= over
        for index in range(len(result) - 2, -1, -1):
            result[index] = min(result[index], result[index + 1] - step)
    return result
