"""Sizes a drawing uses: from the sheet's geometry, then from readings, then usual proportions, which are listed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.kinds import Kind, kind_of

_USUAL = {"wheel_diameter": 33.0, "truck_wheelbase": 66.0, "body_length": 490.0}
"""Usual sizes of a full-size car, for drawing only [scale in]. Common practice."""
_SIX_WHEEL = 126.0
"""Usual wheelbase of a truck with three axles, for drawing only [scale in]. Common practice."""
_COUPLER, _BUFFER = 33.0, 41.3
"""Usual height of a coupler and of buffers, for drawing only [scale in]. 49 CFR 231.31 (middle of its band); memory."""
_LOW_FLOOR = 30.0
"""Floors lower than this are what ``floor_clearance`` speaks of [scale in]."""
_TWO = 2


@dataclass(frozen=True, slots=True)
class Sizes:
    """What a drawing is made from, in millimetres of the model.

    Attributes
    ----------
    kind : Kind
        What the car is.
    half_length, half_width : float
        Of the body.
    floor, top : float
        Of the body above the railhead.
    axles, trucks : tuple[float, ...]
        x of every axle and of every truck's middle, A end first; no trucks under a car on two axles.
    wheel : float
        Diameter on tread.
    gauge : float
        Of the track.
    faces, pivots : tuple[float, float]
        Mid-car to coupler face and to coupler pivot, at A and B.
    coupler_z : tuple[float, float]
        Height of the coupler or buffer at A and B.
    buffers : bool
        Whether the car is measured over buffers.
    inch : float
        A scale inch.
    assumed : tuple[str, ...]
        Sizes the sheet does not give.
    """

    kind: Kind
    half_length: float
    half_width: float
    floor: float
    top: float
    axles: tuple[float, ...]
    trucks: tuple[float, ...]
    wheel: float
    gauge: float
    faces: tuple[float, float]
    pivots: tuple[float, float]
    coupler_z: tuple[float, float]
    buffers: bool
    inch: float
    assumed: tuple[str, ...]

    @property
    def reach(self) -> float:
        """From mid-car to whatever stands out farthest."""
        return max(*self.faces, self.half_length)

    def face(self, end: str) -> float:
        """Mid-car to the coupler face of an end."""
        return self.faces["AB".index(end)]

    def coupler(self, end: str) -> float:
        """Height of the coupler of an end."""
        return self.coupler_z["AB".index(end)]

    def in_inches(self) -> Sizes:
        """The same in scale inches."""
        i = self.inch
        return replace(
            self,
            half_length=self.half_length / i,
            half_width=self.half_width / i,
            floor=self.floor / i,
            top=self.top / i,
            axles=tuple(x / i for x in self.axles),
            trucks=tuple(x / i for x in self.trucks),
            wheel=self.wheel / i,
            gauge=self.gauge / i,
            faces=(self.faces[0] / i, self.faces[1] / i),
            pivots=(self.pivots[0] / i, self.pivots[1] / i),
            coupler_z=(self.coupler_z[0] / i, self.coupler_z[1] / i),
            inch=1.0,
        )


def sizes_of(history: History, findings: Sequence[Finding]) -> Sizes:
    """Sizes for the drawing.

    Parameters
    ----------
    history : History
        For geometry and type.
    findings : sequence of Finding
        For measured coupler and buffer heights.
    """
    geometry, inch = history.geometry, 25.4 / history.scale.ratio
    kind, known = kind_of(history.type)
    assumed = [] if known or not history.type else [f"outline of a {history.type}"]

    def size(name: str, usual: float) -> float:
        if name in geometry:
            return geometry[name]
        assumed.append(name)
        return usual

    over = geometry.get("length_over_buffers")
    length = size("body_length", over - 48 * inch if over else _USUAL["body_length"] * inch)
    wheel = size("wheel_diameter", _USUAL["wheel_diameter"] * inch)
    trucks: tuple[float, ...] = ()
    axles: tuple[float, ...]
    if history.axles == _TWO:
        base = size("wheelbase", length * 0.5)
        axles = (base / 2, -base / 2)
    else:
        a = size("truck_centers", length * 0.72) / 2
        count = history.axles or 4
        counts = (count - count // _TWO, count // _TWO)  # an odd axle is the A truck's
        w = size("truck_wheelbase", (_USUAL["truck_wheelbase"] if counts[0] == _TWO else _SIX_WHEEL) * inch)
        trucks = (a, -a)
        shift = geometry.get("pivot_offset", 0.0)
        middles = (a - shift, -a + shift)
        axles = tuple(x for middle, own in zip(middles, counts, strict=True) for x in _placed(middle, w, own))
    both = {"coupler_face_A", "coupler_face_B"} <= set(geometry)
    usual_face = length / 2 + 18 * inch
    face = over / 2 if over else usual_face if both else size("coupler_face", usual_face)
    faces = (geometry.get("coupler_face_A", face), geometry.get("coupler_face_B", face))
    pivot = geometry.get("coupler_pivot", length / 2 - 12 * inch)
    pivots = (geometry.get("coupler_pivot_A", pivot), geometry.get("coupler_pivot_B", pivot))
    read: dict[str, float] = {}
    for finding in findings:
        if finding.characteristic in {"coupler.height", "buffer.height"} and finding.value is not None:
            read.setdefault(finding.at, finding.value)
    assumed += [f"coupler height at {end}" for end in "AB" if end not in read]
    usual = (_BUFFER if over is not None else _COUPLER) * inch
    heights = (read.get("A", usual), read.get("B", usual))
    top = size("body_height", kind.top * inch)
    floor = geometry.get("floor_clearance", kind.floor * inch) if kind.floor < _LOW_FLOOR else kind.floor * inch
    width = size("body_width", kind.width * inch)
    return Sizes(
        kind=kind,
        half_length=length / 2,
        half_width=width / 2,
        floor=min(floor, 0.8 * top),
        top=top,
        axles=axles,
        trucks=trucks,
        wheel=wheel,
        gauge=history.scale.gauge,
        faces=faces,
        pivots=pivots,
        coupler_z=heights,
        buffers=over is not None,
        inch=inch,
        assumed=tuple(assumed),
    )


def _placed(middle: float, base: float, count: int) -> list[float]:
    """Axles of one truck, the A end's first; a lone axle stands in its middle."""
    if count == 1:
        return [middle]
    return [middle + base / 2 - base * index / (count - 1) for index in range(count)]


def assumed_of(history: History, findings: Sequence[Finding]) -> list[str]:
    """What a side elevation had to assume, in words."""
    return [name.replace("_", " ") for name in sizes_of(history, findings).assumed if name != "body_width"]
