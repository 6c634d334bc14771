"""The frame as it stands and as a plan leaves it: deviations from the design, drawn larger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from carwright.explain.records import Explanation, Plan
from carwright.history import History
from carwright.inspection import Inspection
from carwright.judge import Finding
from carwright.publish.drawing.dimensions import TEXT
from carwright.publish.drawing.elevation import paper_mm, side_pen
from carwright.publish.drawing.gear import draw_couplers, draw_running_gear, rail
from carwright.publish.drawing.pen import PAPER
from carwright.publish.drawing.shape import sizes_of
from carwright.publish.scene import Circle, Path, Rect, Scene, Shape, Text, line
from carwright.publish.why import length_words
from carwright.units import System, say

_POINTS = 41
_FILLS = 0.055
"""Part of the car's length that the largest deviation takes where the exaggeration is chosen [-]."""
_FILLS_BENT = 0.016
"""The same for a whole car drawn bent [-]."""
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
    wanted: bool = False

    @property
    def bent_factor(self) -> float:
        """The factor whole cars are drawn by: smaller, since a body bent out of all likeness tells nothing [-]."""
        if self.wanted:
            return self.factor
        largest = max(self.now.largest, self.after.largest if self.after is not None else 0.0)
        return _chosen(largest, max(self.faces.values()), _FILLS_BENT)


def deformation_of(inspection: Inspection, plan: Plan | None, factor: float | None = None) -> Deformation | None:
    """The car's last stage and, where that differs, what a plan makes of it; None where no coupler height tells.

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
    if after == now:
        after = None  # a plan that leaves frame and couplers alone has nothing to show here
    chosen = factor or _chosen(max(now.largest, after.largest if after is not None else 0.0), reach, _FILLS)
    return Deformation(now, after, faces, explanation.half_span, chosen, factor is not None)


def _chosen(largest: float, reach: float, fills: float) -> float:
    wanted = 2 * reach * fills / max(largest, 1e-6)
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


def deformed_scene(found: Deformation, system: System, title: str) -> Scene:
    """Frame and couplers before (solid) and after (dashed) against the nominal line; one unit is one millimetre."""
    reach = max(*found.faces.values(), *(x for x, _ in found.now.frame))
    mm = 2 * reach / (PAPER - 28)
    high = max(found.now.largest, found.after.largest if found.after is not None else 0.0) * found.factor
    top, bottom = 24 * mm + high, 14 * mm + high
    half = reach + 14 * mm
    dash = tuple(each * mm for each in (2.4, 0.8, 0.5, 0.8))
    nominal = line([(-reach - 5 * mm, 0.0), (reach + 5 * mm, 0.0)])
    larger = f"drawn {found.factor:g} times larger"
    shapes: list[Shape] = [
        Path(nominal, "soft", 0.3 * mm, "none", dash, "nominal"),
        Text(0.0, bottom - 2.2 * mm, larger, TEXT * mm, "middle", "soft", what="small"),
    ]
    for x in (-found.half_span, found.half_span):
        triangle = line([(x, 3.3 * mm), (x + 2.2 * mm, 7.2 * mm), (x - 2.2 * mm, 7.2 * mm)], closed=True)
        shapes.append(Path(triangle, "none", 0.0, "soft", (), "pivot"))
    states = [("now", found.now)] + ([("then", found.after)] if found.after is not None else [])
    for name, state in states:
        shapes += _state(name, state, found, mm)
    for end, sign, anchor in (("B", -1.0, "start"), ("A", 1.0, "end")):
        told = [f"{end} end"]
        if end in found.now.couplers:
            told.append(f"{_signed(found.now.couplers[end], system)} now")
        if found.after is not None and end in found.after.couplers:
            told.append(f"{_signed(found.after.couplers[end], system)} then")
        x = sign * (half - 2 * mm)
        for index, words in enumerate(told):
            y = -top + (4.5 + 4.2 * index) * mm
            shapes.append(Text(x, y, words, TEXT * mm, anchor, "soft", what="small"))  # type: ignore[arg-type]
    words = _described(found, system, title)
    return Scene(-half, -top, 2 * half, top + bottom, tuple(shapes), words, "deformed", 1.0)


def _state(name: str, state: Line, found: Deformation, mm: float) -> list[Shape]:
    """One state: the frame as a line, and at each end a head with its mark."""
    now = name == "now"
    ink, dash = ("ink", ()) if now else ("accent", (1.8 * mm, 1.0 * mm))
    width = 0.6 * mm
    frame = line([(x, -z * found.factor) for x, z in state.frame])
    shapes: list[Shape] = [Path(frame, ink, width, "none", dash, f"frame-{name}")]
    r = 2.2 * mm
    for end, sign in (("A", 1.0), ("B", -1.0)):
        if end not in state.couplers:
            continue
        x, z = sign * found.faces[end], -state.couplers[end] * found.factor
        shapes.append(Path(line([(x - sign * 9 * mm, z), (x, z)]), ink, width, "none", dash, f"head-{name}"))
        shapes.append(
            Rect(x - r, z - r, 2 * r, 2 * r, fill="ink", what="mark-now")
            if now
            else Circle(x, z, r, "accent", width, "paper", "mark-then")
        )
    return shapes


def bent_elevation(
    history: History,
    findings: Sequence[Finding],
    state: Line,
    factor: float,
    *,
    nominal: Mapping[str, float],
    words: str,
) -> Scene:
    """The car itself in one state, its frame bent and its couplers moved by so many times what they are.

    Parameters
    ----------
    history, findings
        For the car's sizes.
    state : Line
        Deviations of frame and couplers [mm].
    factor : float
        How many times deviations are drawn larger [-].
    nominal : mapping
        Right coupler height by end, marked by a dash-and-dot line [mm].
    words : str
        Stands under the car.
    """
    sizes = sizes_of(history, findings)
    mm = paper_mm(sizes)
    places, heights = zip(*state.frame, strict=True)

    def bend(x: float, z: float) -> tuple[float, float]:
        return x, z + factor * interpolated(x, places, heights)

    pen = side_pen(sizes, mm, bend)
    pen.bend = None  # trucks stand on the rail, and couplers have deviations of their own
    half = sizes.reach + 13.0 * mm
    pen.items.insert(0, rail(pen, -half + 1.5 * mm, half - 1.5 * mm))
    draw_running_gear(pen, sizes)
    right = {end: nominal.get(end, sizes.coupler(end)) for end in "AB"}
    shift = tuple(
        right[end] + factor * state.couplers[end] - sizes.coupler(end) if end in state.couplers else 0.0 for end in "AB"
    )
    draw_couplers(pen, sizes, shift=(shift[0], shift[1]))
    for end, sign in (("A", 1.0), ("B", -1.0)):
        if end in nominal:
            x = sign * sizes.face(end)
            pen.centre(((x - sign * 12 * mm, nominal[end]), (x + sign * 9 * mm, nominal[end])))
    base = max(0.0, -pen.low)
    pen.items.append(Text(0.0, base + 6.5 * mm, words, 3.2 * mm, "middle", "ink", bold=True, what="state"))
    for text, x, anchor in (("B end", -half + 1.5 * mm, "start"), ("A end", half - 1.5 * mm, "end")):
        pen.items.append(Text(x, base + 4.2 * mm, text, TEXT * mm, anchor, "soft", what="end"))  # type: ignore[arg-type]
    high = max(sizes.top, pen.high) + 4.0 * mm
    said = f"{words}: {history.title} with deviations drawn {factor:g} times larger"
    return Scene(-half, -high, 2 * half, high + base + 9.0 * mm, tuple(pen.items), said, "bent", 1.0)


def interpolated(x: float, places: Sequence[float], heights: Sequence[float]) -> float:
    """Height at a place, straight between the places known, level beyond the outer ones."""
    if x <= places[0]:
        return heights[0]
    for index in range(1, len(places)):
        if x <= places[index]:
            part = (x - places[index - 1]) / (places[index] - places[index - 1])
            return heights[index - 1] + part * (heights[index] - heights[index - 1])
    return heights[-1]


def before_after(
    inspection: Inspection, found: Deformation, *, now: str = "as it stands", then: str = "as plan 1 would leave it"
) -> list[Scene]:
    """The car as it stands and, where a plan is drawn beside it, as that would leave it, equally exaggerated."""
    history = inspection.history
    explanation = inspection.explanations[len(history.stages) - 1]
    nominal = {each.at: each.nominal for each in explanation.couplers}
    states = [(now, found.now)] + ([(then, found.after)] if found.after is not None else [])
    return [
        bent_elevation(history, inspection.last, state, found.bent_factor, nominal=nominal, words=words)
        for words, state in states
    ]


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
    for name, state, mark in (("now", found.now, "#"), ("then", found.after, "o")):
        if state is None:
            continue
        grid = [[" "] * _COLUMNS for _ in range(2 * _HALF_ROWS + 1)]
        grid[_HALF_ROWS] = ["-"] * _COLUMNS
        for x, z in state.frame:
            _put(grid, x / reach, z / per_row, mark)
        for end, sign in (("A", 1.0), ("B", -1.0)):
            if end in state.couplers:
                _put(grid, sign, state.couplers[end] / per_row, end)
        used = [index for index, row in enumerate(grid) if set(row) - {" "}]
        shown = ["".join(row).rstrip() for row in grid[min(used) : max(used) + 1]]
        heights = ", ".join(f"{end} {_signed(value, system)}" for end, value in sorted(state.couplers.items()))
        lines += [f"\n  {name}: {heights}", *(f"    {row}" for row in shown)]
    row = length_words(per_row, system)
    lines.append(f"  --- right coupler height and designed frame; one row is {row}; # o frame, A B couplers")
    return lines


def _put(grid: list[list[str]], across: float, rows: float, mark: str) -> None:
    column = round((across + 1) / 2 * (_COLUMNS - 1))
    row = _HALF_ROWS - max(-_HALF_ROWS, min(_HALF_ROWS, round(rows)))
    if 0 <= column < _COLUMNS:
        grid[row][column] = mark
