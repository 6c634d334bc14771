"""What was measured of a car and no clause judges: the shape of its frame, where its weight lies, how it rolls."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from carwright.history import History
from carwright.measure.balance import along, height_and_side, tipping_contacts
from carwright.measure.frame import BELIEVABLE, FrameShape, frame_shape
from carwright.measure.rolling import (
    METAL_WHEEL_INERTIA,
    SLOPE_U,
    UNKNOWN_WHEEL_INERTIA,
    Both,
    Measured,
    both_ways,
    breakaway_grade,
    resistance_from_coast,
    resistance_from_pull,
    resistance_from_run_out,
)
from carwright.measure.rolling_agreement import Comparison, compare
from carwright.measure.values import Values

PLASTIC_WHEEL_INERTIA = Measured(0.02, 0.01)
"""λ of a light car on plastic wheels and metal axles [-]. Judgement: a third of the metal wheels' mass."""
BENCH_TILT = 0.002
"""u of the slope of a bench both scales stand on [rad]. Judgement."""
_USUAL_HEIGHT = 60.0
"""Height of the centre of gravity where nobody tipped the car, for the effect of a sloping bench [scale in]."""


@dataclass(frozen=True, slots=True)
class Straight:
    """Minimum-zone straightness of one line (ISO 1101), and what noise adds to it on average [mm]."""

    line: str
    width: float
    bias: float
    spread: float


@dataclass(frozen=True, slots=True)
class Balance:
    """Centre of gravity [mm]: x + toward A, y + toward the left side, z above the railhead; None where not told.

    ``notes`` says what does not agree.
    """

    x: Measured | None = None
    y: Measured | None = None
    z: Measured | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rolling:
    """Rolling resistance each way it was measured [-], breakaway apart, and whether the ways agree."""

    methods: Mapping[str, Both]
    breakaway: Both | None
    comparison: Comparison
    inertia: Measured
    mass: float | None
    notes: tuple[str, ...] = ()

    @property
    def resistance(self) -> Measured | None:
        """The preferred way: run-out, which is free of inertia, then pull, then coast."""
        return next(
            (self.methods[name].resistance for name in ("run_out", "pull", "coast") if name in self.methods), None
        )


@dataclass(frozen=True, slots=True)
class Bench:
    """All of it, for one stage; empty where nothing was read."""

    frame: FrameShape | None = None
    straight: tuple[Straight, ...] = ()
    balance: Balance | None = None
    rolling: Rolling | None = None
    rock: float | None = None
    notes: tuple[str, ...] = field(default=())


def bench_of(history: History, values: Values) -> Bench:
    """What the readings of a stage say of frame, balance and rolling.

    Parameters
    ----------
    history : History
        Geometry and profiles.
    values : Values
        Of the stage.
    """
    frame = _frame(history, values.stage)
    rock = values.found.get(("frame.rock", ""))
    return Bench(
        frame=frame,
        straight=tuple(_straight(history, frame)) if frame is not None else (),
        balance=_balance(history, values),
        rolling=_rolling(history, values),
        rock=rock.places[0].estimate if rock is not None and rock.places else None,
    )


def _frame(history: History, stage: int) -> FrameShape | None:
    """The latest shape read at or before a stage, where no straightening came between."""
    bends = [work.stage for work in history.works if work.remedy in {"straighten", "untwist"} and work.stage <= stage]
    profiles = [each for each in history.profiles if max(bends, default=0) <= each.stage <= stage]
    if not profiles:
        return None
    latest = max(each.stage for each in profiles)
    own = [each for each in profiles if each.stage == latest]
    span = history.geometry.get("truck_centers") or history.geometry.get("wheelbase")
    half = span / 2 if span else max(max(map(abs, each.stations)) for each in own) or 1.0
    believable = BELIEVABLE * 25.4 / history.scale.ratio
    return frame_shape(own, half_span=half, width=history.geometry.get("body_width", 0.0), believable=believable)


def _straight(history: History, frame: FrameShape) -> list[Straight]:
    import numpy as np  # noqa: PLC0415 - only where a profile was read

    from carwright.measure.minimum_zone import noise_bias, straightness  # noqa: PLC0415

    found = []
    own = {profile.entry: profile for profile in history.profiles}
    for (line, points), entry in zip(frame.lines, frame.entries, strict=True):
        if len(points) < 3:  # noqa: PLR2004 - two points are always straight
            continue
        figures = own[entry].figures
        array = np.array(points)
        fit = np.polyfit(array[:, 0], array[:, 1], min(2, len(points) - 1))
        smooth = np.column_stack([array[:, 0], np.polyval(fit, array[:, 0])])
        u = np.full(len(points), math.hypot(figures.repeatability, figures.resolution / math.sqrt(12)))
        bias, spread = noise_bias(smooth, u, straightness)
        found.append(Straight(line, straightness(array).width, bias, spread))
    return found


def _measured(values: Values, what: str, at: str) -> Measured | None:
    value = values.found.get((what, at))
    return Measured(value.places[0].estimate, value.places[0].u) if value is not None and value.places else None


def _balance(history: History, values: Values) -> Balance | None:
    found = {end: _measured(values, "weight.truck", end) for end in ("A", "B")}
    tips = {side: _measured(values, "tip.angle", side) for side in ("L", "R")}
    first, second, left, right = found["A"], found["B"], tips["L"], tips["R"]
    notes = []
    x = y = z = None
    if left is not None and right is not None:
        contacts = _contacts(values)
        if contacts is None:
            notes.append("height of the centre of gravity needs wheel.back_to_back and wheel.flange_thickness")
        else:
            z, y = height_and_side(tip_left=left, tip_right=right, contacts=contacts)
    span = history.geometry.get("truck_centers")
    if first is not None and second is not None:
        if span is None:
            notes.append("place of the centre of gravity needs truck_centers in [car.geometry]")
        else:
            height = z.value if z is not None else _USUAL_HEIGHT * 25.4 / history.scale.ratio
            x = along(first, second, pivot_a=span / 2, pivot_b=span / 2, tilt=0.0, u_tilt=BENCH_TILT, height=height)
        whole = _measured(values, "weight.total", "")
        if whole is not None:
            gap = first.value + second.value - whole.value
            u = math.hypot(first.u, second.u, whole.u)
            if abs(gap) > 3 * u:
                notes.append(f"the trucks together weigh {gap:+.2f} g against the whole car: weigh again")
    if x is None and z is None and not notes:
        return None
    return Balance(x, y, z, tuple(notes))


def _contacts(values: Values) -> Measured | None:
    """Spacing of the contacts a car tips about: back-to-back and two flanges, means of what was read."""
    backs = [value.places[0] for value in values.of("wheel.back_to_back") if value.places]
    flanges = [value.places[0] for value in values.of("wheel.flange_thickness") if value.places]
    if not backs or not flanges:
        return None
    back = sum(place.estimate for place in backs) / len(backs)
    flange = sum(place.estimate for place in flanges) / len(flanges)
    u = math.hypot(max(place.u for place in backs), 2 * max(place.u for place in flanges))
    return Measured(tipping_contacts(back_to_back=back, flange=flange), u)


def _rolling(history: History, values: Values) -> Rolling | None:
    ways = ("A", "B", "")
    level = Measured(0.0, 0.0)
    wheels = {"metal": METAL_WHEEL_INERTIA, "plastic": PLASTIC_WHEEL_INERTIA}
    inertia = wheels.get(history.properties.get("wheels", ""), UNKNOWN_WHEEL_INERTIA)
    mass = _measured(values, "weight.total", "")
    notes, methods = [], {}
    read = {
        what: {way: _measured(values, what, way) for way in ways} for what in ("roll.coast", "roll.runout", "roll.pull")
    }
    kept = {what: {way: value for way, value in own.items() if value is not None} for what, own in read.items()}
    if kept["roll.coast"]:
        found = {way: resistance_from_coast(a, inertia=inertia, slope=level) for way, a in kept["roll.coast"].items()}
        methods["coast"] = both_ways(found, level_u=SLOPE_U)
    if kept["roll.runout"]:
        found = {way: resistance_from_run_out(a, slope=level) for way, a in kept["roll.runout"].items()}
        methods["run_out"] = both_ways(found, level_u=SLOPE_U)
    if kept["roll.pull"] and mass is None:
        notes.append("the pull needs weight.total to become a resistance")
    elif kept["roll.pull"] and mass is not None:
        found = {way: resistance_from_pull(a, mass=mass, slope=level) for way, a in kept["roll.pull"].items()}
        methods["pull"] = both_ways(found, level_u=SLOPE_U)
    starts = {way: value for way in ("A", "B") if (value := _measured(values, "roll.start", way)) is not None}
    if not starts and (start := _measured(values, "roll.start", "")) is not None:
        starts = {"": start}
    if not methods and not starts and not notes:
        return None
    breakaway = breakaway_grade(starts) if starts else None
    comparison = compare(
        coast=methods.get("coast"), run_out=methods.get("run_out"), pull=methods.get("pull"), breakaway=breakaway,
        inertia=inertia,
    )  # fmt: skip
    return Rolling(methods, breakaway, comparison, inertia, mass.value if mass is not None else None, tuple(notes))
