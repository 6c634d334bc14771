"""The frame as it stands and as a plan leaves it: deviations from the design, drawn larger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from carwright.explain.records import Explanation, Plan
from carwright.inspection import Inspection
from carwright.publish.why import length_words
from carwright.units import System, say

_POINTS = 41
_FILLS = 0.055
"""Part of the car's length that the largest deviation takes where the exaggeration is chosen [-]."""
_ROUND = (1, 2, 5, 10, 15, 20, 25, 30, 40, 50)


@dataclass(frozen=True, slots=True)
class Line:
    """One state of the car: its frame's deviations along x, and its couplers' from the nominal [mm].

    Attributes
    ----------
    frame : tuple of (float, float)
        x from mid-car and height over the design.
    couplers : mapping
        Height over nominal by end.
    """

    frame: tuple[tuple[float, float], ...]
    couplers: Mapping[str, float]

    @property
    def largest(self) -> float:
        """Largest deviation in it [mm]."""
        return max((abs(z) for z in (*(z for _, z in self.frame), *self.couplers.values())), default=0.0)


@dataclass(frozen=True, slots=True)
class Deformation:
    """Before and after, with the factor they are drawn by."""

    now: Line
    after: Line | None
    faces: Mapping[str, float]
    half_span: float
    factor: float


def deformation_of(inspection: Inspection, plan: Plan | None, factor: float | None = None) -> Deformation | None:
    """The car's last stage and what a plan makes of it; None where no coupler height tells.

    Parameters
    ----------
    inspection : Inspection
        For causes of the last stage.
    plan : Plan or None
        What is drawn beside it.
    factor : float, optional
        How many times deviations are drawn larger; chosen so that they show where omitted [-].
    """
    stage = len(inspection.history.stages) - 1
    explanation = inspection.explanations[stage]
    if not explanation.couplers or not explanation.half_span:
        return None
    known = inspection.history.geometry
    faces = {end: known.get(f"coupler_face_{end}", known.get("coupler_face", 0.0)) for end in "AB"}
    couplers = {each.at: each.value - each.nominal for each in explanation.couplers}
    reach = known.get("body_length", 2 * min(faces.values())) / 2
    now = Line(_frame(explanation, explanation.seats, reach, straight=False), couplers)
    after = None
    if plan is not None and plan.predicted:
        seats = {end: explanation.seats[end] + plan.seats.get(end, 0.0) for end in explanation.seats}
        nominal = {each.at: each.nominal for each in explanation.couplers}
        predicted = {
            each.at: each.value - nominal[each.at]
            for each in plan.predicted
            if each.characteristic == "coupler.height" and each.value is not None and each.at in nominal
        }
        after = Line(_frame(explanation, seats, reach, straight=plan.straightens), {**couplers, **predicted})
    chosen = factor or _chosen(max(now.largest, after.largest if after is not None else 0.0), reach)
    return Deformation(now, after, faces, explanation.half_span, chosen)


def _chosen(largest: float, reach: float) -> float:
    wanted = 2 * reach * _FILLS / max(largest, 1e-6)
    return float(max(each for each in _ROUND if each <= max(wanted, 1)))


def _frame(
    explanation: Explanation, seats: Mapping[str, float], reach: float, *, straight: bool
) -> tuple[tuple[float, float], ...]:
    a = explanation.half_span
    bow, kink = (0.0, 0.0) if straight else (explanation.bow, explanation.kink)

    def bent(x: float) -> float:
        return bow * x * x / a**2 + 2 * kink / a * max(0.0, x - explanation.kink_at)

    def chord(low: float, high: float, x: float) -> float:
        return low + (high - low) * (x + a) / (2 * a)

    points = []
    for index in range(_POINTS):
        x = reach * (2 * index / (_POINTS - 1) - 1)
        seat = chord(seats.get("B", 0.0), seats.get("A", 0.0), x)
        points.append((x, seat + bent(x) - chord(bent(-a), bent(a), x)))
    return tuple(points)


def deformed_svg(found: Deformation, system: System, title: str) -> str:
    """Frame and couplers before (solid) and after (dashed) against the nominal line; one unit is one millimetre."""
    reach = max(*found.faces.values(), *(x for x, _ in found.now.frame))
    unit = 2 * reach / 100
    high = max(found.now.largest, found.after.largest if found.after is not None else 0.0) * found.factor
    top, bottom = 16 * unit + high, 9 * unit + high
    width, height = 2 * (reach + 8 * unit), top + bottom
    words = _described(found, system, title)
    box = f"{-reach - 8 * unit:.2f} {-top:.2f} {width:.2f} {height:.2f}"
    parts = [
        f'<svg class="deformed" viewBox="{box}" style="--u:{unit:.3f}px" role="img" aria-label="{escape(words)}">',
        f'<path class="nominal" d="M{-reach - 3 * unit:.2f} 0H{reach + 3 * unit:.2f}"/>',
        f'<text class="small" x="0" y="{bottom - 1.5 * unit:.2f}">drawn {found.factor:g} times larger</text>',
        *(
            f'<path class="pivot" d="M{x:.2f} {2.2 * unit:.2f}l{1.5 * unit:.2f} {2.6 * unit:.2f}h{-3 * unit:.2f}Z"/>'
            for x in (-found.half_span, found.half_span)
        ),
    ]
    states = [("now", found.now)] + ([("then", found.after)] if found.after is not None else [])
    for name, line in states:
        points = "L".join(f"{x:.2f} {-z * found.factor:.2f}" for x, z in line.frame)
        parts.append(f'<path class="frame-{name}" d="M{points}"/>')
        for end, sign in (("A", 1.0), ("B", -1.0)):
            if end not in line.couplers:
                continue
            x, z = sign * found.faces[end], -line.couplers[end] * found.factor
            parts.append(f'<path class="head-{name}" d="M{x - sign * 6 * unit:.2f} {z:.2f}H{x:.2f}"/>')
            r = 1.5 * unit
            mark = (
                f'<rect class="mark-{name}" x="{x - r:.2f}" y="{z - r:.2f}" width="{2 * r:.2f}" height="{2 * r:.2f}"/>'
                if name == "now"
                else f'<circle class="mark-{name}" cx="{x:.2f}" cy="{z:.2f}" r="{r:.2f}"/>'
            )
            parts.append(mark)
    for end, sign, anchor in (("B", -1.0, "start"), ("A", 1.0, "end")):
        text = [f"{end} end"]
        if end in found.now.couplers:
            text.append(f"{_signed(found.now.couplers[end], system)} now")
        if found.after is not None and end in found.after.couplers:
            text.append(f"{_signed(found.after.couplers[end], system)} then")
        x = sign * (reach + 7 * unit)
        for index, words_there in enumerate(text):
            y = -top + (3.5 + 3.6 * index) * unit
            parts.append(
                f'<text class="small" style="text-anchor:{anchor}" x="{x:.2f}" y="{y:.2f}">{escape(words_there)}</text>'
            )
    return "".join([*parts, "</svg>"])


def _signed(value: float, system: System) -> str:
    text = say(abs(value), "length", system)
    if not any(digit in text for digit in "123456789"):
        return text
    return f"{'−' if value < 0 else '+'}{text}"


def _described(found: Deformation, system: System, title: str) -> str:
    ends = [f"{end}: {_signed(value, system)} now" for end, value in found.now.couplers.items()]
    if found.after is not None:
        ends += [f"{end}: {_signed(value, system)} after the plan" for end, value in found.after.couplers.items()]
    larger = f"deviations {found.factor:g} times larger"
    return f"Frame and couplers of {title} against their design, {larger}. {'; '.join(ends)}"


_COLUMNS, _HALF_ROWS = 61, 4


def ascii_elevation(inspection: Inspection, plan: Plan | None, factor: float | None = None) -> Sequence[str]:
    """Before and after as text: ``#`` the frame now, ``o`` after the plan, ``A`` and ``B`` the couplers."""
    found = deformation_of(inspection, plan, factor)
    if found is None:
        return []
    system = inspection.history.system
    reach = max(found.faces.values())
    largest = max(found.now.largest, found.after.largest if found.after is not None else 0.0) or 1.0
    per_row = max(largest / _HALF_ROWS, 2 * reach / _COLUMNS * 2.1 / found.factor if factor else 0.0)
    lines = []
    for name, line, mark in (("now", found.now, "#"), ("then", found.after, "o")):
        if line is None:
            continue
        grid = [[" "] * _COLUMNS for _ in range(2 * _HALF_ROWS + 1)]
        grid[_HALF_ROWS] = ["-"] * _COLUMNS
        for x, z in line.frame:
            _put(grid, x / reach, z / per_row, mark)
        for end, sign in (("A", 1.0), ("B", -1.0)):
            if end in line.couplers:
                _put(grid, sign, line.couplers[end] / per_row, end)
        used = [index for index, row in enumerate(grid) if set(row) - {" "}]
        shown = ["".join(row).rstrip() for row in grid[min(used) : max(used) + 1]]
        heights = ", ".join(f"{end} {_signed(value, system)}" for end, value in sorted(line.couplers.items()))
        lines += [f"\n  {name}: {heights}", *(f"    {row}" for row in shown)]
    row = length_words(per_row, system)
    lines.append(f"  --- right coupler height and designed frame; one row is {row}; # o frame, A B couplers")
    return lines


def _put(grid: list[list[str]], across: float, rows: float, mark: str) -> None:
    column = round((across + 1) / 2 * (_COLUMNS - 1))
    row = _HALF_ROWS - max(-_HALF_ROWS, min(_HALF_ROWS, round(rows)))
    if 0 <= column < _COLUMNS:
        grid[row][column] = mark
