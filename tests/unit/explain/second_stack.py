"""A second coupler-height stack: the frame is built piece by piece, and cars are drawn at random.

Nothing here comes from carwright.explain. A car is a dictionary of arrays, one element per drawn car. Its frame is
built from its two ends up: trucks on their wheels, a beam with a bow, a kink and two further bends laid on the trucks,
a coupler carried straight on from its pivot. All that is unknown is made of independent standard normal numbers; a
droop below zero is thrown away. Lengths are in mm; + is up, and x runs toward the A end.
"""

from __future__ import annotations

import itertools
import json
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import stats

DATA = Path(__file__).parents[3] / "src" / "carwright" / "tables" / "data"
RATIO = 87.1
INCH = 25.4 / RATIO
NOMINAL = 0.391 * 25.4
WIDE = 20 * INCH
ENDS = ("A", "B")
WHEELS = ("A outer", "A inner", "B inner", "B outer")
BENCH_HEIGHTS = ("coupler.height", "coupler.exchange", "box.height", "bolster.height", "frame.height")
WORK_SPREAD = {"straighten": 0.1, "washer": 0.02, "box-shim": 0.02, "dress-bolster": 0.05}
BESIDE = 0.2
"""Part of the spread of straightening that goes into cubic and quartic."""
BENDS = ("cubic", "quartic")
MOVES = {"washer": ("truck.ride", 1), "box-shim": ("box.position", -1), "dress-bolster": ("frame.bolster", -1)}
COUPLER = ("shank.offset", "coupler.droop")
CAUSE = {"frame.shape": "frame.bow"}
"""Under which cause a contribution is shown, where not under its own."""
SHOWN_WHOLE = ("wheel.diameter", "frame.shape")
LEAST_FOR_A_KINK = 7
BIC_NAMED = 6.0
CLEARLY_BETTER = 16.0
NO_SHAPE = 1e-3

Array = NDArray[np.float64]
Slot = tuple[str, str]
State = dict[Slot, Array]


def _priors() -> dict[str, tuple[float, float, float]]:
    rows = tomllib.loads((DATA / "words_contributions.toml").read_text(encoding="utf-8"))["row"]
    return {row["id"]: (row["mean"] * INCH, row["common"] * INCH, row["own"] * INCH) for row in rows}


PRIORS = _priors()
"""Mean, spread common to all places, spread of each place alone [mm]."""


# --- what is written down --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Tool:
    """An instrument of the sheet."""

    name: str
    repeatability: float
    calibration: float
    resolution: float = 0.001
    n: int = 20

    def own(self, values: Sequence[float]) -> float:
        """Standard uncertainty of a mean, calibration left out; the steps are too fine to matter."""
        squares = sum((value - sum(values) / len(values)) ** 2 for value in values)
        dof = self.n - 1
        pooled = (dof * self.repeatability**2 + squares) / (dof + len(values) - 1)
        if math.sqrt(pooled) < 5 * self.resolution:
            raise ValueError("this stack leaves out rounding: take an instrument with finer steps")
        return math.sqrt(pooled / len(values))


@dataclass(frozen=True)
class Seen:
    """A reading: repeats of one thing at one place."""

    what: str
    at: str
    values: tuple[float, ...]
    tool: Tool
    state: str = ""
    turned: bool | None = None


@dataclass(frozen=True)
class Line:
    """A profile of the frame along its centre line."""

    stations: tuple[float, ...]
    heights: tuple[float, ...]
    tool: Tool
    side: str = "centre"

    def y(self, build: Build) -> float:
        """Distance to the left of the centre line."""
        return {"left": 0.5, "centre": 0.0, "right": -0.5}[self.side] * build.width


@dataclass(frozen=True)
class Done:
    """A work."""

    remedy: str
    at: str = "all"
    amount: float | None = None


Story = tuple[Seen | Line | Done, ...]


@dataclass(frozen=True)
class Build:
    """What the maker built; design dimensions that are not given are unknown."""

    a: float = 54.0
    face: Mapping[str, float] = field(default_factory=lambda: {"A": 76.0, "B": 76.0})
    pivot: Mapping[str, float] = field(default_factory=lambda: {"A": 68.0, "B": 68.0})
    body_length: float = 142.0
    wheelbase: float = 19.25
    offset: float = 0.0
    mount: str = "body"
    design: Mapping[str, float] = field(default_factory=dict)
    width: float = 16.0

    def mouth(self, end: str) -> float:
        """Mouth of the box from mid-car."""
        pivot, face, half = self.pivot[end], self.face[end], self.body_length / 2
        return half if pivot < half < face else (pivot + face) / 2


def sheet(build: Build, story: Story) -> str:
    """The bench sheet of a car and its story."""
    geometry = {
        "body_length": build.body_length,
        "body_width": build.width,
        "truck_centers": 2 * build.a,
        "truck_wheelbase": build.wheelbase,
        "pivot_offset": build.offset,
        **{f"coupler_face_{end}": build.face[end] for end in ENDS},
        **{f"coupler_pivot_{end}": build.pivot[end] for end in ENDS},
        **build.design,
    }
    lines = ['format = "carwright-sheet/1"', "[car]", 'title = "Trial car"', 'scale = "HO"', 'type = "boxcar"']
    lines += ['coupler = "knuckle"', "[car.geometry]", "axles_per_truck = 2", f'coupler_mount = "{build.mount}"']
    lines += [f"{key} = {_mm(value)}" for key, value in geometry.items()]
    for tool in dict.fromkeys(each.tool for each in story if not isinstance(each, Done)):
        lines += ["[[instrument]]", f'name = "{tool.name}"', f"repeatability_n = {tool.n}"]
        lines += [f"{key} = {_mm(getattr(tool, key))}" for key in ("resolution", "calibration", "repeatability")]
    for each in story:
        lines += ["[[entry]]", *_entry(each)]
    return "\n".join(lines)


def _mm(value: float) -> str:
    return f'"{value:.12f} mm"'


def _many(values: Sequence[float]) -> str:
    return json.dumps([f"{value:.12f} mm" for value in values])


def _entry(each: Seen | Line | Done) -> Iterator[str]:
    match each:
        case Seen():
            yield from ('kind = "reading"', f'what = "{each.what}"', f'at = "{each.at}"')
            yield from (f"values = {_many(each.values)}", f'with = "{each.tool.name}"')
            if each.state:
                yield f'state = "{each.state}"'
            if each.turned is not None:
                yield f"turned = {str(each.turned).lower()}"
        case Line():
            yield from ('kind = "profile"', 'of = "frame"', 'datum = "plate"', f'side = "{each.side}"')
            yield from (f"stations = {_many(each.stations)}", f"heights = {_many(each.heights)}")
            yield f'with = "{each.tool.name}"'
        case Done():
            yield from ('kind = "work"', f'remedy = "{each.remedy}"', f'at = "{each.at}"')
            if each.amount is not None:
                yield f"amount = {_mm(each.amount)}"


# --- the car as a thing ----------------------------------------------------------------------------------------


def sign(end: str) -> float:
    """Where an end lies on the x axis."""
    return 1.0 if end == "A" else -1.0


def on_truck(build: Build, state: State, end: str, x: float) -> Array:
    """Height of the line over both axles of a truck, x from mid-car toward its end; axles of designed size at 0."""
    middle = build.a - build.offset
    outer, inner = middle + build.wheelbase / 2, middle - build.wheelbase / 2
    slope = (state["wheel.diameter", f"{end} outer"] - state["wheel.diameter", f"{end} inner"]) / (outer - inner)
    return state["wheel.diameter", f"{end} inner"] + slope * (x - inner)


def bearing(build: Build, state: State, end: str) -> Array:
    """Bearing face of a truck over its design."""
    return on_truck(build, state, end, build.a) + state["truck.ride", end]


def on_frame(build: Build, state: State, end: str, x: float, kink_at: float = 0.0) -> Array:
    """Height of the frame, and beyond a coupler pivot of what it carries straight on; x from mid-car toward the end."""
    curvature = 2 * state["frame.bow", ""] / build.a**2
    turn = 2 * state["frame.kink", ""] / build.a
    cubic, quartic = (state["frame.shape", bend] for bend in BENDS)
    seats = {each: bearing(build, state, each) + state["frame.bolster", each] for each in ENDS}

    def beam(at: float) -> Array:
        bent = cubic * (at / build.a) ** 3 + quartic * (at / build.a) ** 4
        return 0.5 * curvature * at**2 + turn * max(0.0, at - kink_at) + bent

    def laid(at: float) -> Array:
        missing = {each: seats[each] - beam(sign(each) * build.a) for each in ENDS}
        return beam(at) + missing["B"] + (missing["A"] - missing["B"]) * (at + build.a) / (2 * build.a)

    pivot = build.pivot[end]
    if x <= pivot:
        return laid(sign(end) * x)
    small = 1e-4
    ahead, behind = laid(sign(end) * (pivot + small)), laid(sign(end) * (pivot - small))
    return laid(sign(end) * pivot) + (ahead - behind) / (2 * small) * (x - pivot)


def box(build: Build, state: State, end: str, x: float, kink_at: float = 0.0) -> Array:
    """Box at x, over its design."""
    if build.mount == "truck":
        return on_truck(build, state, end, x) + state["box.position", end]
    return on_frame(build, state, end, x, kink_at) + state["box.position", end]


def head(build: Build, state: State, end: str, kink_at: float = 0.0) -> Array:
    """Coupler hanging free, over its design."""
    held = box(build, state, end, build.face[end], kink_at)
    return held + state["shank.offset", end] - state["coupler.droop", end]


def slots() -> list[Slot]:
    """Everything a car's state holds, twist apart."""
    ends = ("truck.ride", "frame.bolster", "box.position", "shank.offset", "coupler.droop")
    places: list[Slot] = [("wheel.diameter", wheel) for wheel in WHEELS]
    bends = (("frame.bow", ""), ("frame.kink", ""), *(("frame.shape", bend) for bend in BENDS))
    return [*places, *((what, end) for what in ends for end in ENDS), *bends]


@dataclass(frozen=True)
class Fit:
    """All lines of one stage, fitted by plain least squares with the lie of their plate and the twist free."""

    x: Array
    z: Array
    u: Array
    plate: list[Array]
    most: int

    @classmethod
    def of(cls, build: Build, lines: Sequence[Line]) -> Fit:
        """Gather the points of some lines."""
        points = [
            (x, line.y(build), z, line.tool.repeatability)
            for line in lines
            for x, z in zip(line.stations, line.heights, strict=True)
        ]
        x, y, z, u = (np.array(each) for each in zip(*points, strict=True))
        both = len({line.side for line in lines}) > 1
        plate = [np.ones_like(x), x, *([y, x * y] if both else [])]
        return cls(x, z, u, plate, max(len(set(line.stations)) for line in lines))

    def left(self, *shapes: Array) -> tuple[float, int]:
        """χ² of what these shapes leave, and its freedom."""
        columns = np.column_stack([*self.plate, *shapes]) / self.u[:, None]
        columns = columns / np.linalg.norm(columns, axis=0)
        found, _, rank, _ = np.linalg.lstsq(columns, self.z / self.u, rcond=1e-9)
        return float(np.sum((self.z / self.u - columns @ found) ** 2)), len(self.x) - int(rank)

    def kinked(self, at: float) -> Array:
        """A kink at a station."""
        return np.where(self.x > at, self.x - at, 0.0)

    def places(self) -> list[float]:
        """Where a kink is looked for: inner stations, and half way between them."""
        inner = sorted(set(self.x.tolist()))[1:-1]
        return [*inner, *((one + other) / 2 for one, other in itertools.pairwise(inner))]

    def alone(self) -> float:
        """Where a kink alone fits best."""
        return min(self.places(), key=lambda at: self.left(self.kinked(at))[0])

    def named_a_kink(self) -> bool:
        """Whether a kink alone beats a bow alone, and both together are not much better than it."""
        if self.most < LEAST_FOR_A_KINK:
            return False
        at = self.alone()
        bow, kink, both = (self.left(*each)[0] for each in self._rivals(at))
        size = math.log(len(self.x))
        # a kink has its place beside its size, a bow its size alone
        return bow - kink - size >= BIC_NAMED and min(bow, kink) - both < BIC_NAMED + size

    def _rivals(self, at: float) -> list[list[Array]]:
        return [[self.x**2], [self.kinked(at)], [self.x**2, self.kinked(at)]]

    def refused(self) -> bool:
        """Whether the heights follow no shape this stack knows nor a kink elsewhere: then they tell it nothing."""
        fitted = [self.left(self.x**2, self.kinked(0.0), self.x**3, self.x**4)]
        if self.named_a_kink():
            fitted.append(self.left(self.kinked(self.alone())))
        return all(dof > 0 and float(stats.chi2.sf(chi2, dof)) < NO_SHAPE for chi2, dof in fitted)

    def off_centre(self) -> bool:
        """Whether a kink is named, and one elsewhere does much better beside a bow than at mid-car."""
        if not self.named_a_kink() or self.refused():
            return False
        beside = min(self.left(self.x**2, self.kinked(at))[0] for at in self.places())
        return self.left(self.x**2, self.kinked(0.0))[0] - beside > CLEARLY_BETTER


def fits(build: Build, story: Story) -> dict[int, Fit]:
    """Fit the lines of every stage that has some."""
    stages: list[list[Line]] = [[]]
    for each in story:
        if isinstance(each, Done):
            stages.append([])
        elif isinstance(each, Line):
            stages[-1].append(each)
    return {stage: Fit.of(build, lines) for stage, lines in enumerate(stages) if lines}


def off_centre(build: Build, story: Story) -> bool:
    """Whether lines of any stage show a kink that clearly lies elsewhere than at mid-car, where this stack has it."""
    return any(fit.off_centre() for fit in fits(build, story).values())


# --- drawing cars ----------------------------------------------------------------------------------------------


class Dice:
    """Hands out standard normal numbers by name, the same for the same name, one per car.

    Parameters
    ----------
    numbers : Array or None
        One row per car, one column per name; None to count names, all numbers being zero.
    names : list of str
        Names seen so far, in the order of the columns.
    """

    def __init__(self, numbers: Array | None = None, names: list[str] | None = None) -> None:
        self.numbers, self.names = numbers, [] if names is None else list(names)
        self.floors: dict[str, float] = {}

    def roll(self, name: str) -> Array:
        """Numbers of a name."""
        if name not in self.names:
            self.names.append(name)
        return np.zeros(1) if self.numbers is None else self.numbers[:, self.names.index(name)]

    def part(self, what: str, place: str, made: str) -> Array:
        """A contribution of one batch ``made``."""
        mean, common, own = PRIORS[what]
        value = mean + own * self.roll(f"{what} {place} {made}")
        if common:
            value = value + common * self.roll(f"{what} {made}")
        if what == "coupler.droop":
            self.floors[f"{what} {place} {made}"] = -mean / own
        return value


@dataclass
class Told:
    """What a story says of drawn cars: by reading what it should show, its value and u; states; errors of heights.

    ``errors`` holds what calibration and bench add to each free coupler height, with its weight, by stage and end.
    """

    shown: list[Array] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    u: list[float] = field(default_factory=list)
    states: list[State] = field(default_factory=list)
    errors: dict[tuple[int, str], list[tuple[Array, float]]] = field(default_factory=dict)


def tell(build: Build, story: Story, dice: Dice) -> Told:
    """Walk through a story with drawn cars."""
    bow_unit = {("frame.bow", ""): dice.roll("frame.bow"), ("frame.kink", ""): dice.roll("frame.kink")}
    state: State = {slot: PRIORS[slot[0]][1] * numbers for slot, numbers in bow_unit.items()}
    state |= {slot: dice.part(*slot, "as received") for slot in slots() if slot not in state}
    told = Told(states=[state])
    refused = {stage for stage, fit in fits(build, story).items() if fit.refused()}
    tilts = any(isinstance(each, Seen) and each.turned and each.what in BENCH_HEIGHTS for each in story)
    for number, each in enumerate(story):
        match each:
            case Done():
                state = worked(state, each, dice, f"{each.remedy} of entry {number}")
                told.states.append(state)
            case Seen():
                sizes = {f"offset of {each.tool.name}": each.tool.calibration}
                if tilts and each.what in BENCH_HEIGHTS:
                    sizes["bench tilt"] = (-1 if each.turned else 1) * sign(each.at) * PRIORS["bench.tilt"][1]
                error = sum((size * dice.roll(name) for name, size in sizes.items()), np.zeros(1))
                told.shown.append(expected(build, state, each, dice) + error)
                told.value.append(sum(each.values) / len(each.values))
                told.u.append(each.tool.own(each.values))
                if each.what == "coupler.height" and not each.state:
                    trust = 1 / (told.u[-1] ** 2 + sum(size**2 for size in sizes.values()))
                    told.errors.setdefault((len(told.states) - 1, each.at), []).append((error, trust))
            case Line() if len(told.states) - 1 not in refused:
                # one plate carries all lines of a stage; it may lie anyhow
                up, *slopes = (
                    size * dice.roll(f"plate of stage {len(told.states) - 1}, {what}")
                    for what, size in (("height", 1e3), ("slope along", 10), ("slope across", 10))
                )
                twist, y = PRIORS["frame.twist"][1] * dice.roll("frame.twist"), each.y(build)
                for x, height in zip(each.stations, each.heights, strict=True):
                    part = x / build.a
                    frame = state["frame.bow", ""] * part**2
                    frame = frame + state["frame.kink", ""] * 2 * max(0.0, x) / build.a
                    frame = frame + state["frame.shape", "cubic"] * part**3 + state["frame.shape", "quartic"] * part**4
                    frame = frame + twist * x / (2 * build.a) * y / build.width  # over both truck centres
                    told.shown.append(up + slopes[0] * x + slopes[1] * y + frame)
                    told.value.append(height)
                    told.u.append(each.tool.repeatability)
    return told


def expected(build: Build, state: State, seen: Seen, dice: Dice) -> Array:
    """What a reading would show without errors."""
    end = seen.at
    match seen.what:
        case "coupler.height":
            droop = state["coupler.droop", end] if seen.state == "lifted" else 0.0
            return designed(build, "coupler", dice) + head(build, state, end) + droop
        case "coupler.exchange":
            good = PRIORS["coupler.exchange"][2] * dice.roll("known-good coupler")
            return designed(build, "coupler", dice) + box(build, state, end, build.face[end]) + good
        case "box.height":
            return designed(build, "box", dice) + box(build, state, end, build.mouth(end))
        case "bolster.height":
            return designed(build, "truck", dice) + bearing(build, state, end)
        case "frame.height":
            return designed(build, "frame", dice) + bearing(build, state, end) + state["frame.bolster", end]
        case "wheel.diameter":
            return 2 * (designed(build, "wheel", dice) + state["wheel.diameter", WHEELS[int(end) - 1]])
        case "shank.offset" | "coupler.droop":
            return state[seen.what, end]
    raise ValueError(seen.what)


def designed(build: Build, part: str, dice: Dice) -> Array:
    """Design height of a part, or a number from far and wide where the maker does not give it."""
    given, nan = build.design, math.nan
    size = {
        "coupler": given.get("coupler_height", NOMINAL),
        "box": given.get("box_height", nan),
        "truck": given.get("ride_height", given.get("wheel_diameter", nan) / 2 + given.get("bolster_stack", nan)),
        "wheel": given.get("wheel_diameter", nan) / 2,
    }.get(part, nan)
    return WIDE + WIDE * dice.roll(f"design of {part}") if math.isnan(size) else np.array([size])


def worked(state: State, done: Done, dice: Dice, made: str) -> State:
    """A car after a work."""
    after = dict(state)
    ends = ENDS if done.at == "all" else (done.at,)

    def spread(name: str = "") -> Array:
        return WORK_SPREAD[done.remedy] * dice.roll(f"{made} {name}")

    match done.remedy:
        case "straighten":
            after |= {(what, ""): spread(what) for what in ("frame.bow", "frame.kink")}
            after |= {("frame.shape", bend): BESIDE * spread(bend) for bend in BENDS}
        case "washer" | "box-shim" | "dress-bolster":
            slot = (MOVES[done.remedy][0], done.at)
            after[slot] = state[slot] + MOVES[done.remedy][1] * (done.amount or 0.0) + spread()
        case "exchange-couplers":
            far = {"A": "B", "B": "A"}
            after |= {(what, end): state[what, far[end]] for what in COUPLER for end in ENDS}
        case "replace-coupler":
            after |= {(what, end): dice.part(what, end, made) for what in COUPLER for end in ends}
        case "replace-truck":
            after |= {("truck.ride", end): dice.part("truck.ride", end, made) for end in ends}
            wheels = [wheel for wheel in WHEELS if wheel[0] in ends]
            after |= {("wheel.diameter", wheel): dice.part("wheel.diameter", wheel, made) for wheel in wheels}
        case _:
            raise ValueError(done.remedy)
    return after


Share = tuple[int, str, str, str]
"""Stage, end, cause, place of the cause."""


def shares(build: Build, told: Told) -> dict[Share, Array]:
    """What each cause alone does to each coupler: the head with it less the head without it."""
    found: dict[Share, Array] = {}
    for stage, state in enumerate(told.states):
        nothing = {slot: np.zeros_like(numbers) for slot, numbers in state.items()}
        for end in ENDS:
            causes: dict[tuple[str, str], State] = {}
            for what, place in slots():
                key = CAUSE.get(what, what), "" if what in SHOWN_WHOLE else place
                causes.setdefault(key, {})[what, place] = state[what, place]
            for (cause, place), own in causes.items():
                alone = head(build, nothing | own, end)
                if np.any(alone != 0):
                    found[stage, end, cause, place] = alone
    return found


@dataclass(frozen=True)
class Summary:
    """Mean and standard deviation of one share, each with its own Monte Carlo error."""

    mean: float
    sd: float
    mean_error: float
    sd_error: float


@dataclass(frozen=True)
class Linear:
    """A story as matrices over standard normal numbers, found by trying each number alone."""

    names: list[str]
    floors: dict[int, float]
    keys: list[Share]
    part: Array
    part_zero: Array
    seen: Array
    gap: Array
    u: Array

    def posterior(self, stretch: float = 1.0) -> tuple[Array, Array]:
        """Mean and covariance of the numbers, negative droops not yet thrown away; beliefs about the car stretched."""
        weighted = self.seen / self.u[:, None]
        known = np.array([name.startswith(("offset of", "bench")) for name in self.names])
        held = np.diag(np.where(known, 1.0, stretch**-2))
        covariance = np.linalg.inv(held + weighted.T @ weighted)
        covariance = (covariance + covariance.T) / 2
        return covariance @ weighted.T @ (self.gap / self.u), covariance

    def with_sums(self, sums: Mapping[Share, Sequence[Share]]) -> Linear:
        """The same story with sums of shares beside its shares."""
        rows = [[self.keys.index(each) for each in own] for own in sums.values()]
        part = np.vstack([self.part, *(self.part[row].sum(axis=0) for row in rows)])
        zero = np.concatenate([self.part_zero, [self.part_zero[row].sum() for row in rows]])
        return replace(self, keys=[*self.keys, *sums], part=part, part_zero=zero)

    def sd_uncut(self, key: Share, stretch: float) -> float:
        """Standard deviation of a share had every belief about the car been wider, no droop thrown away."""
        row = self.part[self.keys.index(key)]
        return math.sqrt(float(row @ self.posterior(stretch)[1] @ row))

    def sd_before(self, key: Share) -> float:
        """Standard deviation of a share before any reading; numbers are independent, those of droops cut off."""
        variance = np.ones(len(self.names))
        for column, floor in self.floors.items():
            variance[column] = stats.truncnorm.var(floor, np.inf)
        return math.sqrt(float(self.part[self.keys.index(key)] ** 2 @ variance))

    def summarise(self, draws: int, seed: int) -> tuple[dict[Share, Summary], int]:
        """Draw from the posterior, throw away negative droops; shares, and how many cars were left."""
        mean, covariance = self.posterior()
        values, vectors = np.linalg.eigh(covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        random = np.random.default_rng(seed)
        kept = []
        for _ in range(max(1, draws // 250_000)):
            numbers = mean + random.standard_normal((min(draws, 250_000), len(mean))) @ root.T
            good = np.all([numbers[:, column] >= floor for column, floor in self.floors.items()], axis=0)
            kept.append(numbers[good] @ self.part.T + self.part_zero)
        cars = np.concatenate(kept)
        return {key: summary(cars[:, i], np.ones(len(cars))) for i, key in enumerate(self.keys)}, len(cars)


def summary(numbers: Array, weights: Array) -> Summary:
    """Weighted mean and standard deviation, and their errors."""
    total = weights.sum()
    mean = float(weights @ numbers / total)
    away = (numbers - mean) ** 2
    variance = float(weights @ away / total)
    sd = math.sqrt(variance)
    mean_error = math.sqrt(float(weights**2 @ away)) / total
    sd_error = math.sqrt(float(weights**2 @ (away - variance) ** 2)) / total / (2 * sd) if sd > 0 else 0.0
    return Summary(mean, sd, float(mean_error), float(sd_error))


def linear(build: Build, story: Story) -> Linear:
    """Find the matrices of a story: every number 0, then each alone 1."""
    names, floors = names_of(build, story)
    size = len(names)
    trial = Dice(np.vstack([np.zeros(size), np.eye(size)]), names)
    told = tell(build, story, trial)
    by_share = shares(build, told) | _errors(told)
    parts = np.array([np.broadcast_to(each, (size + 1,)) for each in by_share.values()])
    shown = np.array([np.broadcast_to(each, (size + 1,)) for each in told.shown]).reshape(-1, size + 1)
    return Linear(
        names, floors, list(by_share), parts[:, 1:] - parts[:, :1], parts[:, 0], shown[:, 1:] - shown[:, :1],
        np.array(told.value) - shown[:, 0], np.array(told.u),
    )  # fmt: skip


def _errors(told: Told) -> dict[Share, Array]:
    """What instruments and bench add to each coupler's free readings, each reading weighed by what it can be trusted.

    A coupler that is not read again after a work keeps the readings it had.
    """
    found: dict[Share, Array] = {}
    for end in ENDS:
        own: list[tuple[Array, float]] = []
        for stage in range(len(told.states)):
            own = told.errors.get((stage, end), own)
            if own:
                whole = sum((error * trust for error, trust in own), np.zeros(1))
                found[stage, end, "instrument", ""] = whole / sum(trust for _, trust in own)
    return found


def names_of(build: Build, story: Story) -> tuple[list[str], dict[int, float]]:
    """Names of all numbers a story asks for, and the least value of those of droops."""
    counter = Dice()
    tell(build, story, counter)
    return counter.names, {counter.names.index(name): floor for name, floor in counter.floors.items()}


def weighed(build: Build, story: Story, draws: int, seed: int) -> tuple[dict[Share, Summary], float]:
    """Draw cars from the prior, weigh each by how likely its readings are; shares, and the effective number of cars."""
    names, floors = names_of(build, story)
    random = np.random.default_rng(seed)
    numbers = random.standard_normal((draws, len(names)))
    for column, floor in floors.items():
        while np.any(low := numbers[:, column] < floor):
            numbers[low, column] = random.standard_normal(int(low.sum()))
    told = tell(build, story, Dice(numbers, names))
    misfit = sum(
        (((value - shown) / u) ** 2 for shown, value, u in zip(told.shown, told.value, told.u, strict=True)),
        np.zeros(draws),
    )
    weights = np.exp(-0.5 * (misfit - misfit.min()))
    found = {key: summary(each, weights) for key, each in shares(build, told).items()}
    return found, float(weights.sum() ** 2 / (weights**2).sum())


def drawn(build: Build, story: Story, random: np.random.Generator) -> Story:
    """The same story of one car drawn from the prior: every value replaced by what that car's readings show."""
    names, floors = names_of(build, story)
    numbers = random.standard_normal(len(names))
    for column, floor in floors.items():
        while numbers[column] < floor:
            numbers[column] = random.standard_normal()
    told = tell(build, story, Dice(numbers[None, :] * _tame(names), names))
    shown = iter([float(each[0] + u * random.standard_normal()) for each, u in zip(told.shown, told.u, strict=True)])
    found: list[Seen | Line | Done] = []
    for each in story:
        match each:
            case Seen():
                found.append(Seen(each.what, each.at, (next(shown),), each.tool, each.state, each.turned))
            case Line():
                found.append(Line(each.stations, tuple(next(shown) for _ in each.stations), each.tool))
            case Done():
                found.append(each)
    return tuple(found)


def _tame(names: Sequence[str]) -> Array:
    """A plate lies within reach and a design is a size: neither is drawn from its wide prior, both are free anyway."""
    return np.array([0.0 if name.startswith(("plate", "design")) else 1.0 for name in names])
