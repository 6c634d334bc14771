"""A pen for one view of a car: points in millimetres of the model, up is up, three weights of line.

Line weights follow the trade's habit of three (ISO 128-2: wide, narrow and half as narrow), in millimetres of paper, so
that every drawing is as heavy as the next whatever the car's length.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise

from carwright.publish.scene import Circle, Path, Point, Shape, line

PAPER = 178.0
"""Millimetres of paper a view is as a rule drawn across."""
OUTLINE, PART, DETAIL = 0.45, 0.28, 0.14
"""Widths of lines [mm of paper]."""
DASH = (2.2, 1.1)
"""Dash and gap of an outline drawn from what is assumed [mm of paper]."""
_PIECES = 24
"""Pieces a long line is bent in."""
Bend = Callable[[float, float], Point]
"""Where a point of the body is drawn, when the body is deformed."""


@dataclass
class Pen:
    """Draws one view.

    Attributes
    ----------
    mm : float
        Model millimetres on one millimetre of paper [-].
    reach : float
        Half of what the view is across [mm].
    bend : callable or None
        Where points of the body go.
    faint : bool
        Whether the outline is dashed: what it is drawn from is assumed.
    unit : float
        What points are given in [mm].
    dash : tuple of float
        Dash and gap of a faint outline [mm of paper].
    left, right, low, high : float
        How far what was drawn reaches [mm].
    """

    mm: float
    reach: float
    bend: Bend | None = None
    faint: bool = False
    unit: float = 1.0
    dash: tuple[float, float] = DASH
    left: float = math.inf
    right: float = -math.inf
    low: float = math.inf
    high: float = -math.inf
    items: list[Shape] = field(default_factory=list)

    @contextmanager
    def measured_in(self, unit: float) -> Iterator[None]:
        """Take points in another unit for a while; ``unit`` is its length [mm]."""
        before, self.unit = self.unit, unit
        yield
        self.unit = before

    def outline(self, points: Sequence[Point], what: str = "body", fill: str = "wash") -> None:
        """A closed shape that bounds the car."""
        dash = tuple(each * self.mm for each in self.dash) if self.faint else ()
        self.items.append(Path(self._line(points, closed=True), "ink", OUTLINE * self.mm, fill, dash, what))

    def part(self, points: Sequence[Point], *, closed: bool = True, fill: str = "paper", what: str = "part") -> None:
        """A part upon it."""
        filled = fill if closed else "none"
        self.items.append(Path(self._line(points, closed=closed), "ink", PART * self.mm, filled, (), what))

    def detail(self, *lines: Sequence[Point], closed: bool = False) -> None:
        """Thin lines that say what kind of car it is."""
        if lines:
            d = "".join(self._line(points, closed=closed) for points in lines)
            self.items.append(Path(d, "soft", DETAIL * self.mm, "none", (), "detail"))

    def block(self, left: float, low: float, right: float, high: float, *, fill: str = "paper") -> None:
        """A rectangular part."""
        self.part(((left, low), (left, high), (right, high), (right, low)), fill=fill)

    def disc(
        self, x: float, z: float, r: float, *, fill: str = "paper", what: str = "part", width: float = PART
    ) -> None:
        """A round part; it stays round and goes where its middle goes."""
        x, z = self._at(x, z)
        self.reach_to((x - r * self.unit, z - r * self.unit), (x + r * self.unit, z + r * self.unit))
        self.items.append(Circle(x, -z, r * self.unit, "ink", width * self.mm, fill, what))

    def centre(self, *lines: Sequence[Point]) -> None:
        """Centre lines, dash and dot."""
        dash = tuple(each * self.mm for each in (3.0, 0.8, 0.6, 0.8))
        d = "".join(line([(x, -z) for x, z in points]) for points in lines)
        self.items.append(Path(d, "soft", DETAIL * self.mm, "none", dash, "centre"))

    def reach_to(self, *points: Point) -> None:
        """Note that something reaches these points, given in millimetres."""
        for x, z in points:
            self.left, self.right = min(self.left, x), max(self.right, x)
            self.low, self.high = min(self.low, z), max(self.high, z)

    def _at(self, x: float, z: float) -> Point:
        x, z = x * self.unit, z * self.unit
        return self.bend(x, z) if self.bend is not None else (x, z)

    def _line(self, points: Sequence[Point], *, closed: bool) -> str:
        placed = [(x * self.unit, z * self.unit) for x, z in points]
        if self.bend is None:
            self.reach_to(*placed)
            return line([(x, -z) for x, z in placed], closed=closed)
        whole = [*placed, placed[0]] if closed else placed
        bent = [self.bend(x, z) for x, z in _fine(whole, 2 * self.reach / _PIECES)]
        self.reach_to(*bent)
        return line([(x, -z) for x, z in (bent[:-1] if closed else bent)], closed=closed)


def _fine(points: Sequence[Point], longest: float) -> Iterator[Point]:
    """The same line with points close enough to bend."""
    for (x0, z0), (x1, z1) in pairwise(points):
        steps = max(1, math.ceil(abs(x1 - x0) / longest))
        for step in range(steps):
            yield x0 + (x1 - x0) * step / steps, z0 + (z1 - z0) * step / steps
    yield points[-1]


def arc(x: float, z: float, rx: float, rz: float, start: float, end: float, count: int = 10) -> list[Point]:
    """Points of an ellipse from one angle to another, 0 along x, 90 up [deg]."""
    angles = (math.radians(start + (end - start) * index / count) for index in range(count + 1))
    return [(x + rx * math.cos(angle), z + rz * math.sin(angle)) for angle in angles]


def mirrored(points: Sequence[Point]) -> list[Point]:
    """The same seen in a mirror at mid-car."""
    return [(-x, z) for x, z in points]


def steps(first: float, last: float, gap: float) -> list[float]:
    """Places from first to last, both among them, as near as may be to ``gap`` apart."""
    count = max(1, round(abs(last - first) / gap))
    return [first + (last - first) * index / count for index in range(count + 1)]
