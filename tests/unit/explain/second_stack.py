"""A second coupler-height stack: the frame is built piece by piece, and cars are drawn at random.

Nothing here comes from carwright.explain. A car is a dictionary of arrays, one element per drawn car. Its frame is built
from its two ends up: trucks on their wheels, a bowed and kinked beam laid on the trucks, a coupler carried straight on
from its pivot. All that is unknown is made of independent standard normal numbers; a droop below zero is thrown away.
Lengths are in mm; + is up, and x runs toward the A end.
"""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DATA = Path(__file__).parents[3] / "src" / "carwright" / "tables" / "data"
RATIO = 87.1
INCH = 25.4 / RATIO
NOMINAL = 0.391 * 25.4
WIDE = 20 * INCH
ENDS = ("A", "B")
WHEELS = ("A outer", "A inner", "B inner", "B outer")
BENCH_HEIGHTS = ("coupler.height", "coupler.exchange", "box.height", "bolster.height", "frame.height")
WORK_SPREAD = {"straighten": 0.1, "washer": 0.02, "box-shim": 0.02, "dress-bolster": 0.05}

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

    def mouth(self, end: str) -> float:
        """Mouth of the box from mid-car."""
        pivot, face, half = self.pivot[end], self.face[end], self.body_length / 2
        return half if pivot < half < face else (pivot + face) / 2


def sheet(build: Build, story: Story) -> str:
    """The bench sheet of a car and its story."""
    geometry = {
        "body_length": build.body_length,
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
            yield from ('kind = "profile"', 'of = "frame"', 'datum = "plate"', 'side = "centre"')
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
    seats = {each: bearing(build, state, each) + state["frame.bolster", each] for each in ENDS}

    def beam(at: float) -> Array:
        return 0.5 * curvature * at**2 + turn * max(0.0, at - kink_at)

    def laid(at: float) -> Array:
        missing = {each: seats[each] - beam(sign(each) * build.a) for each in ENDS}
        return beam(at) + missing["B"] + (missing["A"] - missing["B"]) * (at + build.a) / (2 * build.a)

    pivot = build.pivot[end]
    if x <= pivot:
        return laid(sign(end) * x)
    small = 1e-3
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
    return [*places, *((what, end) for what in ends for end in ENDS), ("frame.bow", ""), ("frame.kink", "")]


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
    """What a story says of drawn cars: by reading what it should show, its value and u, and shares by stage and end."""

    shown: list[Array] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    u: list[float] = field(default_factory=list)
    states: list[State] = field(default_factory=list)


def tell(build: Build, story: Story, dice: Dice) -> Told:
    """Walk through a story with drawn cars."""
    bow_unit = {("frame.bow", ""): dice.roll("frame.bow"), ("frame.kink", ""): dice.roll("frame.kink")}
    state: State = {slot: PRIORS[slot[0]][1] * numbers for slot, numbers in bow_unit.items()}
    state |= {slot: dice.part(*slot, "as received") for slot in slots() if slot not in state}
    told = Told(states=[state])
    tilts = any(isinstance(each, Seen) and each.turned and each.what in BENCH_HEIGHTS for each in story)
    for number, each in enumerate(story):
        match each:
            case Done():
                state = worked(state, each, dice, f"{each.remedy} of entry {number}")
                told.states.append(state)
            case Seen():
                shown = expected(build, state, each, dice)
                if tilts and each.what in BENCH_HEIGHTS:
                    tilt = PRIORS["bench.tilt"][1] * dice.roll("bench tilt")
                    shown = shown + (-1 if each.turned else 1) * sign(each.at) * tilt
                told.shown.append(shown + each.tool.calibration * dice.roll(f"offset of {each.tool.name}"))
                told.value.append(sum(each.values) / len(each.values))
                told.u.append(each.tool.own(each.values))
            case Line():
                up, slope = 1e3 * dice.roll(f"plate under {number}"), 10 * dice.roll(f"plate slope under {number}")
                for x, height in zip(each.stations, each.heights, strict=True):
                    curve = state["frame.bow", ""] * (x / build.a) ** 2
                    bend = state["frame.kink", ""] * 2 * max(0.0, x) / build.a
                    told.shown.append(up + slope * x + curve + bend)
                    told.value.append(height)
                    told.u.append(each.tool.repeatability)
    return told


def expected(build: Build, state: State, seen: Seen, dice: Dice) -> Array:
    """What a reading would show without errors."""
    end, design = seen.at, build.design

    def unknown(name: str) -> Array:
        return WIDE + WIDE * dice.roll(f"design of {name}")

    coupler = design.get("coupler_height", NOMINAL)
    match seen.what:
        case "coupler.height":
            droop = state["coupler.droop", end] if seen.state == "lifted" else 0.0
            return coupler + head(build, state, end) + droop
        case "coupler.exchange":
            good = PRIORS["coupler.exchange"][2] * dice.roll("known-good coupler")
            return coupler + box(build, state, end, build.face[end]) + good
        case "box.height":
            floor = design["box_height"] if "box_height" in design else unknown("box")
            return floor + box(build, state, end, build.mouth(end))
        case "bolster.height":
            if "ride_height" in design:
                return design["ride_height"] + bearing(build, state, end)
            if {"wheel_diameter", "bolster_stack"} <= design.keys():
                return design["wheel_diameter"] / 2 + design["bolster_stack"] + bearing(build, state, end)
            return unknown("truck") + bearing(build, state, end)
        case "frame.height":
            return unknown("frame") + bearing(build, state, end) + state["frame.bolster", end]
        case "wheel.diameter":
            radius = design["wheel_diameter"] / 2 if "wheel_diameter" in design else unknown("wheel")
            return 2 * (radius + state["wheel.diameter", WHEELS[int(end) - 1]])
        case "shank.offset" | "coupler.droop":
            return state[seen.what, end]
    raise ValueError(seen.what)


def worked(state: State, done: Done, dice: Dice, made: str) -> State:
    """A car after a work."""
    after = dict(state)
    spread = WORK_SPREAD.get(done.remedy, 0.0)

    def about(amount: float, place: str = "") -> Array:
        return amount + spread * dice.roll(f"{made} {place}")

    match done.remedy:
        case "straighten":
            for what in ("frame.bow", "frame.kink"):
                after[what, ""] = about(0.0, what)
        case "washer":
            after["truck.ride", done.at] = state["truck.ride", done.at] + about(done.amount or 0.0)
        case "box-shim":
            after["box.position", done.at] = state["box.position", done.at] - about(done.amount or 0.0)
        case "dress-bolster":
            after["frame.bolster", done.at] = state["frame.bolster", done.at] - about(done.amount or 0.0)
        case "exchange-couplers":
            for what in ("shank.offset", "coupler.droop"):
                after[what, "A"], after[what, "B"] = state[what, "B"], state[what, "A"]
        case "replace-coupler":
            for what in ("shank.offset", "coupler.droop"):
                after[what, done.at] = dice.part(what, done.at, made)
        case _:
            raise ValueError(done.remedy)
    return after


Share = tuple[int, str, str, str]
"""Stage, end, cause, place of the cause."""


def shares(build: Build, states: Sequence[State]) -> dict[Share, Array]:
    """What each cause alone does to each coupler: the head with it less the head without it."""
    found = {}
    for stage, state in enumerate(states):
        nothing = {slot: np.zeros_like(numbers) for slot, numbers in state.items()}
        for end in ENDS:
            for what, place in dict.fromkeys((w, "" if w == "wheel.diameter" else p) for w, p in slots()):
                own = {slot: state[slot] for slot in state if slot[0] == what and (not place or slot[1] == place)}
                alone = head(build, nothing | own, end)
                if np.any(alone != 0):
                    found[stage, end, what, place] = alone
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

    def posterior(self) -> tuple[Array, Array]:
        """Mean and covariance of the numbers, negative droops not yet thrown away."""
        weighted = self.seen / self.u[:, None]
        size = len(self.names)
        covariance = np.linalg.inv(np.eye(size) + weighted.T @ weighted)
        covariance = (covariance + covariance.T) / 2
        return covariance @ weighted.T @ (self.gap / self.u), covariance

    def summarise(self, draws: int, seed: int, *, before: bool = False) -> tuple[dict[Share, Summary], int]:
        """Draw from the posterior (or the prior), throw away negative droops; shares, and how many cars were left."""
        mean, covariance = (np.zeros(len(self.names)), np.eye(len(self.names))) if before else self.posterior()
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
    by_share = shares(build, told.states) | _offsets(story, trial, len(told.states))
    parts = np.array([np.broadcast_to(each, (size + 1,)) for each in by_share.values()])
    shown = np.array([np.broadcast_to(each, (size + 1,)) for each in told.shown]).reshape(-1, size + 1)
    return Linear(
        names, floors, list(by_share), parts[:, 1:] - parts[:, :1], parts[:, 0], shown[:, 1:] - shown[:, :1],
        np.array(told.value) - shown[:, 0], np.array(told.u),
    )  # fmt: skip


def _offsets(story: Story, dice: Dice, stages: int) -> dict[Share, Array]:
    """What the instrument adds where all free heights were read with one."""
    tools = {each.tool for each in story if isinstance(each, Seen) and each.what == "coupler.height" and not each.state}
    if len(tools) != 1:
        return {}
    (tool,) = tools
    offset = tool.calibration * dice.roll(f"offset of {tool.name}")
    return {(stage, end, "instrument", ""): offset for stage in range(stages) for end in ENDS}


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
    found = {key: summary(each, weights) for key, each in shares(build, told.states).items()}
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
