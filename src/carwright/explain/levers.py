"""How each contribution reaches a coupler: the levers of DESIGN §7, from the car's geometry.

Pivots at x = ±a, coupler pivot at ±c, coupler face at ±e; + is up everywhere. Wheels, truck, washers and body bolster
lift the pivot; the frame's chord carries that to the coupler with ``(e + a)/2a`` at its own end and ``−(e − a)/2a`` at
the far one. A coupler on the truck feels its own truck's wheels only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from carwright.history import History

ENDS = ("A", "B")
OTHER = {"A": "B", "B": "A"}

Slot = tuple[str, str]
"""A contribution and its place: an end, ``A outer`` and ``A inner`` for wheels, "" for the frame."""
SLOTS: tuple[Slot, ...] = (
    *(("wheel.diameter", f"{end} {axle}") for end in ENDS for axle in ("outer", "inner")),
    *((what, end) for what in ("truck.ride", "frame.bolster") for end in ENDS),
    ("frame.bow", ""),
    ("frame.kink", ""),
    ("frame.shape", "cubic"),
    ("frame.shape", "quartic"),
    ("frame.twist", ""),
    *((what, end) for what in ("box.position", "shank.offset", "coupler.droop") for end in ENDS),
)
INDEX: Mapping[Slot, int] = {slot: index for index, slot in enumerate(SLOTS)}

Row = dict[Slot, float]
"""Coefficient of each contribution [-]."""

_USUAL_WHEELBASE = 66.0
_USUAL_SHANK = 27.0
"""Where the sheet does not say: truck wheelbase and coupler pivot to face, judgement [scale in]."""


@dataclass(frozen=True, slots=True)
class Levers:
    """The car as the levers see it [mm].

    Attributes
    ----------
    a : float
        Pivots from mid-car; axles of a car without trucks.
    faces, pivots, mouths : mapping
        Coupler face e, coupler pivot c and box mouth from mid-car, by end.
    wheelbase, offset : float
        Truck wheelbase w, and pivot from its middle toward the car end o.
    truck_mounted : bool
        Whether the coupler rides on the truck.
    axles : int or None
        How many the car has.
    trucks : bool
        False for a car on two axles.
    notes : tuple[str, ...]
        What was assumed.
    """

    a: float
    faces: Mapping[str, float]
    pivots: Mapping[str, float]
    mouths: Mapping[str, float]
    wheelbase: float
    offset: float
    truck_mounted: bool
    axles: int | None
    trucks: bool
    notes: tuple[str, ...]

    def wheels(self, end: str, at: float = 0.0) -> Row:
        """Height of a truck's plane at ``at`` from its pivot toward the car end: r̄ and beyond."""
        if not self.trucks:
            return {("wheel.diameter", f"{end} outer"): 1.0}
        share = (self.offset + at) / self.wheelbase
        return {("wheel.diameter", f"{end} outer"): 0.5 + share, ("wheel.diameter", f"{end} inner"): 0.5 - share}

    def truck(self, end: str) -> Row:
        """Bearing face of a truck above the rail, T without the body bolster."""
        return {**self.wheels(end), ("truck.ride", end): 1.0}

    def seat(self, end: str) -> Row:
        """Frame at its pivot."""
        return {**self.truck(end), ("frame.bolster", end): 1.0}

    def frame_at(self, end: str, x: float, kink_at: float = 0.0) -> Row:
        """Frame at x from mid-car toward an end, beyond its coupler pivot straight on."""
        up, down = (x + self.a) / (2 * self.a), (x - self.a) / (2 * self.a)
        c = min(self.pivots[end], x)
        row = scaled(self.seat(end), up)
        row = added(row, scaled(self.seat(OTHER[end]), -down))
        row["frame.bow", ""] = (2 * c * x - c * c - self.a**2) / self.a**2
        row["frame.kink", ""] = 2 / self.a * self._kink(end, x, c, kink_at)
        share, further = c / self.a, (x - c) / self.a
        sign = 1.0 if end == "A" else -1.0
        row["frame.shape", "cubic"] = sign * (share**3 - share + (3 * share**2 - 1) * further)
        row["frame.shape", "quartic"] = share**4 - 1 + 4 * share**3 * further
        return row

    def _kink(self, end: str, x: float, c: float, kink_at: float) -> float:
        """Rise at x for a kink of one radian at ``kink_at``."""
        x0 = kink_at if end == "A" else -kink_at
        if abs(x0) <= self.a:
            return (x - self.a) * (self.a + x0) / (2 * self.a)
        return x - x0 if x0 > self.a and c > x0 else 0.0

    def box(self, end: str, kink_at: float = 0.0) -> Row:
        """Floor of the box mouth."""
        if self.truck_mounted:
            row = self.wheels(end, self.mouths[end] - self.a)
        else:
            row = self.frame_at(end, self.mouths[end], kink_at)
        return {**row, ("box.position", end): 1.0}

    def coupler(self, end: str, kink_at: float = 0.0, *, free: bool = True, own: bool = True) -> Row:
        """Coupler height: lifted without its droop, exchanged without its own shank and droop."""
        if self.truck_mounted:
            row = self.wheels(end, self.faces[end] - self.a)
        else:
            row = self.frame_at(end, self.faces[end], kink_at)
        row["box.position", end] = 1.0
        if own:
            row["shank.offset", end] = 1.0
        if own and free:
            row["coupler.droop", end] = -1.0
        return row

    def axle_slots(self, at: str) -> list[Slot]:
        """Wheels an axle number stands for; none for a middle axle, which carries no height of its own here."""
        if at == "all" or self.axles is None:
            return [slot for slot in SLOTS if slot[0] == "wheel.diameter"]
        axle, per = int(at.rstrip("LR")), self.axles // 2
        names = {1: "A outer", self.axles: "B outer"}
        if self.trucks and per > 1:
            names |= {per: "A inner", per + 1: "B inner"}
        return [("wheel.diameter", names[axle])] if axle in names else []


def scaled(row: Row, factor: float) -> Row:
    """A row times a factor."""
    return {slot: factor * value for slot, value in row.items()}


def added(first: Row, second: Row) -> Row:
    """Sum of two rows."""
    return {slot: first.get(slot, 0.0) + second.get(slot, 0.0) for slot in dict.fromkeys((*first, *second))}


def levers_of(history: History) -> Levers | str:
    """The levers of a car, or what the sheet lacks for them, in words.

    Parameters
    ----------
    history : History
        For geometry, mount and axles.
    """
    known, inch = history.geometry, 25.4 / history.scale.ratio
    trucks = history.axles != 2  # noqa: PLR2004 - a car on two axles has no trucks
    base = "truck_centers" if trucks else "wheelbase"
    faces = {end: known.get(f"coupler_face_{end}", known.get("coupler_face")) for end in ENDS}
    missing = [name for name in (base,) if name not in known] + (["coupler_face"] if None in faces.values() else [])
    if missing:
        return f"needs {' and '.join(missing)} in [car.geometry]"
    notes = []
    e = {end: value for end, value in faces.items() if value is not None}
    c = {end: known.get(f"coupler_pivot_{end}", known.get("coupler_pivot")) for end in ENDS}
    if None in c.values():
        notes.append("coupler pivot taken 27 scale inches behind the face")
    pivots = {end: value if value is not None else e[end] - _USUAL_SHANK * inch for end, value in c.items()}
    if not history.coupler_mount:
        notes.append("couplers taken as mounted on the body")
    mounted = history.coupler_mount == "truck"
    if mounted and "truck_wheelbase" not in known:
        notes.append("truck wheelbase taken as 66 scale inches")
    half = known.get("body_length", 0.0) / 2
    return Levers(
        a=known[base] / 2,
        faces=e,
        pivots=pivots,
        mouths={end: half if pivots[end] < half < e[end] else (pivots[end] + e[end]) / 2 for end in ENDS},
        wheelbase=known.get("truck_wheelbase", _USUAL_WHEELBASE * inch),
        offset=known.get("pivot_offset", 0.0),
        truck_mounted=mounted,
        axles=history.axles,
        trucks=trucks,
        notes=tuple(notes),
    )


def ends_of(at: str) -> Iterable[str]:
    """Ends a work's place stands for."""
    return (at,) if at in ENDS else ENDS
