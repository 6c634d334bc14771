"""Do plans succeed as often as predicted? Cars drawn from the prior, worked on as the plan says, and looked at again.

Of each car with a failing coupler some combinations of remedies, good and bad ones alike, are weighed by the program;
then the works are done on the true car, each with its remedy's own spread, and both true heights are held against the
limits. *Open*: amounts as written. *Closed*: what takes no chosen amount is done first, both heights are measured with
u 0.03 mm, and amounts are chosen as the program says a person would. What works do is written here by hand from their
rows in the table, and not taken from the program.

Outcomes of one car hang together through its true state, so that the plain z of Spiegelhalter would be too strict with
many of them: few are taken of each car, and a z from sums over cars is given beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray
from stack_study import (
    DESIGN,
    FINER,
    OTHER,
    WHEEL,
    WORLDS,
    A,
    E,
    Generator,
    Sheet,
    Truth,
    World,
    bent,
    judged,
    positive,
    priors,
    read,
    truth_of,
)

from carwright.explain.levers import ENDS
from carwright.explain.model import Model, model_of
from carwright.explain.options import Act, Structure, structures
from carwright.explain.planner import WANTED, target_of
from carwright.explain.predict import Predictor
from carwright.explain.search import Found, Target, weigh
from carwright.explain.shares import designed_height, heights_of
from carwright.explain.stock import usual_stock
from carwright.history import History
from carwright.inspection import words_of
from carwright.tables import shipped

CARS, PER_CAR, CHUNK, SEED = 11_000, 14, 250, 20261126
LEAST = 0.05
"""Combinations that cannot come near this chance are not weighed to the end [-]."""
U_READING = 0.03
"""Of a height measured between works [mm]."""
BINS = 10

_HEAD = """# Predicted success of plans against outcomes

Made by `make studies`; seeds fixed. Synthetic HO cars with both couplers read, and at random lifted, over their wheels
and along a profile; those with a failing coupler are kept. Of each, combinations of remedies drawn at random from all
the planner knows are weighed, offered or not, and one outcome of each is drawn on the true car. Closed outcomes are
those of combinations where choosing amounts after a reading promises more than writing them down before.
"""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Outcome:
    """A prediction and what came of it; ``car`` is its number."""

    car: int
    p: float
    came: bool


def sheet_of(world: World, generator: Generator) -> Sheet:
    """A car with both heights read, and at random lifted, over its wheels, and a profile."""
    sheet = Sheet(truth_of(world, generator), world, generator)
    lifted, wheels, profile = (bool(each) for each in generator.random(3) < 0.5)  # noqa: PLR2004 - evens
    sheet.heights(lifted=lifted)
    if wheels:
        sheet.wheels()
    if profile:
        sheet.profile(int(generator.integers(5, 10)))
    return sheet


@lru_cache(maxsize=1)
def combinations() -> tuple[Structure, ...]:
    """All combinations for the synthetic car: its geometry is always the same."""
    history = read(Sheet(truth_of(WORLDS[0], np.random.default_rng(0)), WORLDS[0], np.random.default_rng(0)).text)
    model = model_of(history, words_of(shipped()), designed=DESIGN)
    if isinstance(model, str):
        raise TypeError(model)
    return tuple(structures(model, words_of(shipped()), usual_stock(shipped()), (), ENDS))


@dataclass
class Bench:
    """A true car while it is worked on."""

    truth: Truth
    generator: Generator

    @classmethod
    def of(cls, truth: Truth, generator: Generator) -> Bench:
        """A copy of a car, so that every combination starts from the same one."""
        return cls(Truth(dict(truth.parts), truth.bend, truth.slope, truth.kink_at), generator)

    def near(self, mean: float, spread: float) -> float:
        """A result about what was meant [mm]."""
        return float(self.generator.normal(mean, spread))

    def do(self, act: Act, amount: float) -> None:
        """One work."""
        parts, at, spread = self.truth.parts, act.at, act.remedy.spread
        match act.remedy.id:
            case "straighten":
                parts["frame.bow", ""], parts["frame.kink", ""] = self.near(0.0, spread), self.near(0.0, spread)
                self.truth.bend, self.truth.slope = bent(
                    "bow", parts["frame.bow", ""], self.near(0.0, FINER * spread), self.near(0.0, FINER * spread)
                )
            case "wheel-size":
                for place in [each for each in parts if each[0] == "wheel.diameter"]:
                    parts[place] = self.near((amount - WHEEL) / 2, spread)
            case "cure-droop":
                parts["coupler.droop", at] = positive(0.0, spread, self.generator)
            case "replace-coupler" | "shank-high" | "shank-low" as name:
                mean, common, own = priors()["shank.offset"]
                style = {"replace-coupler": 0.0, "shank-high": amount, "shank-low": -amount}[name]
                parts["shank.offset", at] = self.near(mean + style, math.hypot(common, own))
                droop, _, own = priors()["coupler.droop"]
                parts["coupler.droop", at] = positive(droop, own, self.generator)
            case _:
                what, sign = adjusted(act)
                parts[what, at] += sign * self.near(amount, spread)

    def heights(self) -> Array:
        """True heights of both couplers over the design [mm]."""
        return np.array([self.truth.coupler(end) for end in ENDS])


def adjusted(act: Act) -> tuple[str, float]:
    """What a work of chosen amount moves, and which way."""
    match act.remedy.id:
        case "washer":
            return "truck.ride", 1.0
        case "dress-bolster":
            return "frame.bolster", -1.0
        case "box-shim":
            return "box.position", -1.0
        case "box-raise":
            return "box.position", 1.0
        case "dress-shank":
            return "shank.offset", 1.0 if act.face == "top" else -1.0
    raise KeyError(act.remedy.id)


def is_chosen(act: Act) -> bool:
    """Whether a work's amount is chosen to meet a height."""
    return len(act.amounts) > 1


def lifts(act: Act) -> Array:
    """What one millimetre of a chosen amount does to A and B: its own coupler rises, over a pivot the far one falls."""
    what, sign = adjusted(act)
    found = dict.fromkeys(ENDS, 0.0)
    if what in {"truck.ride", "frame.bolster"}:
        found[act.at] = sign * (E[act.at] + A) / (2 * A)
        found[OTHER[act.at]] = -sign * (E[OTHER[act.at]] - A) / (2 * A)
    else:
        found[act.at] = sign
    return np.array([found[end] for end in ENDS])


def chosen(acts: Sequence[Act], mean: Array, limits: Sequence[tuple[float, float]]) -> dict[int, float]:
    """Amounts a person takes: at A what brings A nearest the middle, then at B, and both once more."""
    middle = np.array([sum(each) / 2 for each in limits])
    own = [[number for number, act in enumerate(acts) if is_chosen(act) and act.at == end] for end in ENDS]
    grids = [np.array(list(product(*(acts[k].amounts for k in each)))) for each in own]  # one empty row where none is
    columns = [np.array([lifts(acts[k]) for k in each]).reshape(-1, 2) for each in own]
    moves = [grid @ column for grid, column in zip(grids, columns, strict=True)]
    taken = [0, 0]  # before B's turn comes for the first time it counts with its least amounts
    for number in (0, 1, 0, 1):
        off = np.abs((mean - middle + moves[1 - number][taken[1 - number]] + moves[number])[:, number])
        taken[number] = int(np.argmin(off))
    return {k: float(amount) for each, grid, row in zip(own, grids, taken, strict=True)
            for k, amount in zip(each, grid[row], strict=True)}  # fmt: skip


def as_written(truth: Truth, found: Found, generator: Generator) -> Array:
    """True heights after a plan with its amounts as written."""
    bench = Bench.of(truth, generator)
    for act, index in zip(found.structure.acts, found.amounts, strict=True):
        bench.do(act, act.amounts[index])
    return bench.heights()


def as_measured(truth: Truth, found: Found, target: Target, generator: Generator) -> Array:
    """True heights after a plan whose amounts are chosen by what was measured, and by what was known before."""
    bench, acts = Bench.of(truth, generator), found.structure.acts
    for act in acts:
        if not is_chosen(act):
            bench.do(act, act.amounts[0])
    seen = bench.heights() + generator.normal(0.0, U_READING, 2)
    known = found.after.before
    gain = known @ np.linalg.inv(known + np.eye(2) * U_READING**2)
    for number, amount in chosen(acts, found.after.mean + gain @ (seen - found.after.mean), target.limits).items():
        bench.do(acts[number], amount)
    return bench.heights()


@dataclass(frozen=True)
class Weighed:
    """What came of one car: open and closed outcomes, and whether a coupler failed at all."""

    opened: tuple[Outcome, ...]
    closed: tuple[Outcome, ...]
    failing: bool


def weighed(history: History) -> tuple[Model, Target] | None:
    """The program's model and limits of a car with a failing coupler; None where none fails."""
    heights = heights_of(judged(history, 0))
    if not any(finding.outcome == "fails" for finding in heights.values()):
        return None
    designed = designed_height(history, heights)
    model = model_of(history, words_of(shipped()), designed=designed)
    if isinstance(model, str):
        raise TypeError(model)
    return model, target_of(heights, designed, WANTED)


def car(world: World, number: int, per_car: int) -> Weighed:
    """Some combinations for one car, by its number; the same every time."""
    generator = np.random.default_rng([SEED, WORLDS.index(world), number])
    sheet = sheet_of(world, generator)
    found = weighed(read(sheet.text))
    if found is None:
        return Weighed((), (), failing=False)
    model, target = found
    predictor = Predictor(model)
    opened, closed = [], []
    for index in generator.choice(len(combinations()), per_car, replace=False):
        plan = weigh(combinations()[index], predictor, target, LEAST)
        if plan is None:
            continue
        opened.append(Outcome(number, plan.p_open, within(as_written(sheet.truth, plan, generator), target)))
        if plan.p_closed > plan.p_open:
            heights = as_measured(sheet.truth, plan, target, generator)
            closed.append(Outcome(number, plan.p_closed, within(heights, target)))
    return Weighed(tuple(opened), tuple(closed), failing=True)


def within(heights: Array, target: Target) -> bool:
    """Whether both heights lie within their limits."""
    return all(low <= height <= high for height, (low, high) in zip(heights, target.limits, strict=True))


def cars(world: World, start: int, count: int, per_car: int) -> list[Weighed]:
    """Cars ``start`` to ``start + count`` of a world."""
    return [car(world, number, per_car) for number in range(start, start + count)]


@dataclass(frozen=True)
class Bin:
    """Predictions between two tenths: how many, their mean, the share that came, and its standard error over cars."""

    low: float
    count: int
    predicted: float
    came: float
    error: float


@dataclass(frozen=True)
class Result:
    """Predictions of one kind, ``open`` or ``closed``, against what came.

    Attributes
    ----------
    world, kind : str
        In words.
    cars, count : int
        Cars with a failing coupler that were worked on, and outcomes.
    bins : tuple[Bin, ...]
        By predicted chance.
    z, z_cars : float
        Spiegelhalter's, and the same sum over its scatter from car to car [-].
    z_whole : float
        How many more came than predicted, over its scatter from car to car [-].
    """

    world: str
    kind: str
    cars: int
    count: int
    bins: tuple[Bin, ...]
    z: float
    z_cars: float
    z_whole: float


def result_of(world: World, kind: str, outcomes: Sequence[Outcome]) -> Result:
    """Reliability of some predictions."""
    p, came = np.array([each.p for each in outcomes]), np.array([each.came for each in outcomes], dtype=float)
    cars_of = np.unique([each.car for each in outcomes], return_inverse=True)[1]
    low = np.minimum((p * BINS).astype(int), BINS - 1)
    bins = []
    for number in range(BINS):
        own = low == number
        if own.any():
            off = np.bincount(cars_of[own], (came - p)[own])
            error = math.sqrt(float(np.sum(off**2))) / int(own.sum())
            bins.append(Bin(number / BINS, int(own.sum()), float(p[own].mean()), float(came[own].mean()), error))
    score = (came - p) * (1 - 2 * p)
    z = float(score.sum() / math.sqrt(float(((1 - 2 * p) ** 2 * p * (1 - p)).sum())))
    return Result(
        world.name,
        kind,
        int(cars_of.max()) + 1,
        len(p),
        tuple(bins),
        z,
        z_cars=_over_cars(score, cars_of),
        z_whole=_over_cars(came - p, cars_of),
    )


def _over_cars(scores: Array, cars_of: NDArray[np.intp]) -> float:
    """A sum over its scatter from car to car [-]."""
    return float(scores.sum() / math.sqrt(float(np.sum(np.bincount(cars_of, scores) ** 2))))


Mapper = Callable[..., Iterable[list[Weighed]]]


def study(
    mapper: Mapper = map, *, count: int = CARS, per_car: int = PER_CAR, worlds: Sequence[World] = WORLDS[:1]
) -> list[Result]:
    """Open and closed predictions against outcomes.

    Parameters
    ----------
    mapper : callable
        ``map``, or that of a pool of processes.
    count : int
        Cars drawn; those without a failing coupler are put back.
    per_car : int
        Combinations weighed of each.
    worlds : sequence of World
        Of the stack study.
    """
    results = []
    for world in worlds:
        jobs = [(world, start, min(CHUNK, count - start), per_car) for start in range(0, count, CHUNK)]
        found = [each for some in mapper(cars, *zip(*jobs, strict=True)) for each in some]
        results.append(result_of(world, "open", [outcome for each in found for outcome in each.opened]))
        results.append(result_of(world, "closed", [outcome for each in found for outcome in each.closed]))
    return results


def page(results: Sequence[Result]) -> str:
    """The study as a page of Markdown."""
    blocks = [_HEAD]
    for result in results:
        blocks.append(
            f"\n## {result.kind.capitalize()}, world: {result.world}\n\n{result.count:,} outcomes of "
            f"{result.cars:,} cars with a failing coupler. Spiegelhalter's z {result.z:+.2f}; from sums over cars "
            f"{result.z_cars:+.2f}, and {result.z_whole:+.2f} for how many came in all.\n\n"
            "| predicted between | outcomes | mean predicted | came | standard error over cars |\n"
            "|---|---|---|---|---|\n"
        )
        blocks += [
            f"| {each.low:.1f} and {each.low + 1 / BINS:.1f} | {each.count:,} | {each.predicted:.4f} | "
            f"{each.came:.4f} | {each.error:.4f} |\n"
            for each in result.bins
        ]
    return "".join(blocks)
