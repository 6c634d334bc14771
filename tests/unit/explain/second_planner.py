"""A second planner, in plain loops, for small drawers: every combination and every amount, none left out.

It shares with the planner only what the readings say of the car as it stands (mean and covariance of contributions) and
the coefficients of both couplers. What a remedy does is read here from the table anew: ``+`` moves a contribution by
the amount, ``=`` sets it anew with the remedy's spread, ``~`` sets it anew as parts come; a droop is cut off at zero.
"""

from __future__ import annotations

import itertools
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import multivariate_normal, truncnorm

Array = NDArray[np.float64]
Slot = tuple[str, str]
Limits = tuple[tuple[float, float], tuple[float, float]]
Price = tuple[float, float, int, float]

U_BETWEEN = 0.03
"""Standard uncertainty of a height read between works [mm]."""
DRAWS = 40_000
_LEVELS = ("yes", "partly", "no")


@dataclass(frozen=True)
class Car:
    """One car as it stands, and what is asked of it.

    Attributes
    ----------
    slots : tuple of (str, str)
        Contributions and their places, in the order of the arrays.
    rows : Array
        Coefficients of couplers A and B, shape (2, n) [-].
    mean, covariance : Array
        Of the contributions, shapes (n,) and (n, n) [mm, mm²].
    limits : tuple
        Of both couplers about the design [mm].
    inch : float
        A scale inch [mm].
    designed_wheel : float
        Diameter over the tread [mm].
    on_trucks : bool
        Whether couplers ride on the trucks.
    prior : mapping
        Mean and standard deviation of a contribution of a new part [mm].
    droop_most : float
        Greatest droop allowed [mm].
    droop_now : mapping
        Chance that an end's droop conforms as it stands, 1 where nobody read it [-].
    """

    slots: tuple[Slot, ...]
    rows: Array
    mean: Array
    covariance: Array
    limits: Limits
    inch: float
    designed_wheel: float
    on_trucks: bool
    prior: Mapping[str, tuple[float, float]]
    droop_most: float = math.inf
    droop_now: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Piece:
    """One kind of thing in the drawer [mm]."""

    name: str
    use: str
    thickness: float
    count: int = 1
    cost: float = 0.0


@dataclass(frozen=True)
class Work:
    """One remedy at one place: every amount it may take, or the one that was decided with it."""

    remedy: str
    at: str
    amounts: tuple[float, ...] = (0.0,)
    cost: float = 0.0
    face: str = ""


@dataclass(frozen=True)
class Weighed:
    """A combination, its best amounts, its chances and its price."""

    works: tuple[Work, ...]
    amounts: tuple[float, ...]
    price: Price
    p_open: float
    p_closed: float

    @property
    def names(self) -> tuple[tuple[str, str], ...]:
        """Remedies and places."""
        return tuple(sorted((work.remedy, work.at) for work in self.works))

    @property
    def p(self) -> float:
        """The better of both chances."""
        return max(self.p_open, self.p_closed)


@lru_cache(maxsize=1)
def table() -> dict[str, dict[str, Any]]:
    """Remedies as the table has them."""
    text = files("carwright.tables").joinpath("data/words_remedies.toml").read_text("utf-8")
    return {row["id"]: row for row in tomllib.loads(text)["row"]}


def shifts(remedy: str) -> list[tuple[str, str, float]]:
    """What a remedy shifts: contribution, ``+``, ``=`` or ``~``, and factor."""
    found = []
    for text in table()[remedy].get("shifts", "").split():
        mark = next(mark for mark in "=~+-" if mark in text)
        what, number = text.split(mark)
        found.append((what, "+", -float(number)) if mark == "-" else (what, mark, float(number)))
    return found


def chosen(remedy: str) -> bool:
    """Whether its amount is chosen to meet a height."""
    return [mark for _, mark, _ in shifts(remedy)] == ["+"]


def piles(drawer: Sequence[Piece], use: str, most: float) -> tuple[float, ...]:
    """Every thickness a pile can have, by adding one piece after another."""
    found = {0.0}
    for piece in drawer:
        if piece.use == use:
            for _ in range(min(piece.count, 4)):
                found |= {round(each + piece.thickness, 9) for each in found}
    return tuple(sorted(each for each in found if 0 < each <= most + 1e-9))


def by_hand(remedy: str, inch: float) -> tuple[float, ...]:
    """Amounts of a remedy done by hand, step by step."""
    row = table()[remedy]
    return tuple(row["step"] * n for n in range(1, 25) if row["step"] * n <= row["most"] * inch + 1e-9)


def works_at(car: Car, drawer: Sequence[Piece], closed: Sequence[str], end: str) -> Iterator[tuple[Work, ...]]:
    """Every set of works at one end: one for the coupler, one that lifts the pivot, one that moves the head."""

    def is_open(remedy: str) -> bool:
        return remedy not in closed and f"{remedy}@{end}" not in closed

    couplers: list[Work | None] = [None]
    couplers += [Work(name, end) for name in ("cure-droop", "replace-coupler") if is_open(name)]
    couplers += [
        Work(name, end, (piece.thickness,), piece.cost)
        for name in ("shank-high", "shank-low")
        for piece in drawer
        if piece.use == name and is_open(name)
    ]
    pivots: list[Work | None] = [None]
    heads: list[Work | None] = [None]
    for name, use, into in (("washer", "washer", pivots), ("box-shim", "shim", heads)):
        amounts = piles(drawer, use, table()[name]["most"] * car.inch)
        if is_open(name) and amounts and not (name == "washer" and car.on_trucks):
            into.append(Work(name, end, amounts))
    if is_open("dress-bolster") and not car.on_trucks:
        pivots.append(Work("dress-bolster", end, by_hand("dress-bolster", car.inch)))
    if is_open("box-raise"):
        heads.append(Work("box-raise", end, by_hand("box-raise", car.inch)))
    if is_open("dress-shank"):
        heads += [Work("dress-shank", end, by_hand("dress-shank", car.inch), face=face) for face in ("under", "top")]
    for coupler, pivot, head in itertools.product(couplers, pivots, heads):
        dressed = head is not None and head.remedy == "dress-shank"
        if dressed and coupler is not None and coupler.remedy != "cure-droop":
            continue
        yield tuple(work for work in (coupler, pivot, head) if work is not None)


def combinations(
    car: Car, drawer: Sequence[Piece], closed: Sequence[str], ends: Sequence[str]
) -> Iterator[tuple[Work, ...]]:
    """Every combination of works on the car and at its ends, amounts still open."""
    straight: list[tuple[Work, ...]] = [()]
    if "straighten" not in closed and not car.on_trucks:
        straight.append((Work("straighten", ""),))
    wheels: list[tuple[Work, ...]] = [()]
    if "wheel-size" not in closed and "wheel-size@all" not in closed:
        wheels.append((Work("wheel-size", "all", (car.designed_wheel,)),))
        wheels += [(Work("wheel-size", "all", (each.thickness,), each.cost),) for each in drawer if each.use == "wheel"]
    at_a = list(works_at(car, drawer, closed, "A")) if "A" in ends else [()]
    at_b = list(works_at(car, drawer, closed, "B")) if "B" in ends else [()]
    for first in wheels:
        for second in straight:
            for third in at_a:
                for fourth in at_b:
                    yield (*first, *second, *third, *fourth)


def price_of(works: Sequence[Work]) -> Price:
    """Effort, cost, level of what cannot be undone, risk."""
    rows = [table()[work.remedy] for work in works]
    whole = 1.0
    for row in rows:
        whole *= 1 - row["risk"]
    cost = sum(row["cost"] for row in rows) + sum(work.cost for work in works)
    level = max((_LEVELS.index(row["reversible"]) for row in rows), default=0)
    return round(float(sum(row["effort"] for row in rows)), 6), round(float(cost), 6), level, round(1 - whole, 9)


def dominates(one: Price, other: Price) -> bool:
    """As good in every respect and better in one."""
    return one != other and all(mine <= theirs for mine, theirs in zip(one, other, strict=True))


@dataclass(frozen=True)
class Left:
    """Heights with everything set anew, before the works whose amount is chosen, and what those add."""

    mean: Array
    covariance: Array
    executed: Array
    lifts: tuple[Array | None, ...]
    columns: tuple[tuple[Array, float], ...]
    anew: bool
    droops: Mapping[str, tuple[float, float]]


def new_droop(mean: float, spread: float) -> tuple[float, float]:
    """Mean and standard deviation of a normal cut off at zero [mm]."""
    cut = truncnorm((0 - mean) / spread, np.inf, loc=mean, scale=spread)
    return float(cut.mean()), float(cut.std())


def left_by(car: Car, works: Sequence[Work]) -> Left:
    """What a combination leaves."""
    mean, covariance = car.mean.copy(), car.covariance.copy()
    executed = np.zeros((2, 2))
    lifts: list[Array | None] = []
    columns: list[tuple[Array, float]] = []
    droops: dict[str, tuple[float, float]] = {}
    anew = False
    for work in works:
        row = table()[work.remedy]
        if chosen(work.remedy):
            what, _, factor = shifts(work.remedy)[0]
            column = car.rows[:, car.slots.index((what, work.at))] * (-factor if work.face == "top" else factor)
            lifts.append(column)
            columns.append((column, row["spread"]))
            executed += row["spread"] ** 2 * np.outer(column, column)
            continue
        lifts.append(None)
        anew = True
        for what, mark, factor in shifts(work.remedy):
            for index, (name, place) in enumerate(car.slots):
                if name != what or (place and work.at not in {"", "all", place[0]}):
                    continue
                centre, spread = factor * work.amounts[0], row.get("spread", 0.0)
                if what == "frame.shape":  # what is straightened keeps little of its error in finer bends
                    spread *= 0.2
                if what == "wheel.diameter":
                    centre = (work.amounts[0] - car.designed_wheel) / 2
                if mark == "~":
                    centre, spread = centre + car.prior[what][0], car.prior[what][1]
                if what == "coupler.droop":
                    centre, spread = new_droop(centre, spread)
                    droops[place] = (centre, spread)
                mean[index] = centre
                covariance[index, :] = 0.0
                covariance[:, index] = 0.0
                covariance[index, index] = spread**2
    return Left(
        car.rows @ mean,
        car.rows @ covariance @ car.rows.T,
        executed,
        tuple(lifts),
        tuple(columns),
        anew,
        droops,
    )


def chance(mean: Array, covariance: Array, limits: Limits) -> float:
    """Chance that both lie within their limits."""
    normal = multivariate_normal(mean, covariance, allow_singular=True)
    return float(normal.cdf([limits[0][1], limits[1][1]], lower_limit=[limits[0][0], limits[1][0]]))


def droop_chance(car: Car, left: Left) -> float:
    """Chance that both droops conform: as they stand, or cut off at zero anew."""
    p = 1.0
    for end in ("A", "B"):
        if end not in left.droops:
            p *= car.droop_now.get(end, 1.0)
        elif end in car.droop_now:
            mean, u = left.droops[end]
            p *= 0.5 * (1 + math.erf((car.droop_most - mean) / u / math.sqrt(2)))
    return p


def closed_loop(left: Left, works: Sequence[Work], limits: Limits) -> float:
    """Chance by simulation: works that set anew, a reading of both, amounts chosen by it, and their execution."""
    rng = np.random.default_rng(20260302)
    half = rng.standard_normal((DRAWS // 2, 4 + len(left.columns)))
    z = np.concatenate([half, -half])
    root = np.linalg.cholesky(left.covariance + 1e-15 * np.eye(2))
    true = left.mean + z[:, :2] @ root.T
    read = true + U_BETWEEN * z[:, 2:4]
    weight = left.covariance @ np.linalg.inv(left.covariance + U_BETWEEN**2 * np.eye(2))
    believed = left.mean + (read - left.mean) @ weight.T
    middle = [sum(each) / 2 for each in limits]
    moves: list[list[Array]] = []
    for end in ("A", "B"):
        own = [
            [amount * lift for amount in work.amounts]
            for work, lift in zip(works, left.lifts, strict=True)
            if lift is not None and work.at == end
        ]
        moves.append([sum(each, np.zeros(2)) for each in itertools.product(*own)])
    done = [np.zeros_like(true), np.zeros_like(true)]
    for _ in range(2):
        for index in (0, 1):
            tried = np.array(moves[index])
            stands = believed[:, index] + done[1 - index][:, index]
            off = np.abs(stands[:, None] + tried[None, :, index] - middle[index])
            done[index] = tried[off.argmin(axis=1)]
    after = true + done[0] + done[1]
    for number, (column, spread) in enumerate(left.columns):
        after = after + z[:, 4 + number, None] * spread * column
    inside = np.ones(len(after), dtype=bool)
    for index in (0, 1):
        inside &= (limits[index][0] <= after[:, index]) & (after[:, index] <= limits[index][1])
    return float(inside.mean())


def weigh(car: Car, works: tuple[Work, ...], wanted: float) -> Weighed:
    """Best amounts of a combination by largest chance; the closed loop only where the open one falls short."""
    left = left_by(car, works)
    beside = droop_chance(car, left)
    best, amounts = -1.0, tuple(0.0 for _ in works)
    for choice in itertools.product(*(work.amounts for work in works)):
        mean = left.mean.copy()
        for lift, amount in zip(left.lifts, choice, strict=True):
            if lift is not None:
                mean = mean + lift * amount
        p = chance(mean, left.covariance + left.executed, car.limits)
        if p > best:
            best, amounts = p, choice
    p_open = best * beside
    p_closed = p_open
    if p_open < wanted + 0.02 and left.anew and left.columns:
        p_closed = max(p_open, closed_loop(left, works, car.limits) * beside)
    return Weighed(works, amounts, price_of(works), p_open, p_closed)


@dataclass(frozen=True)
class Enumerated:
    """Everything weighed, and the front."""

    weighed: tuple[Weighed, ...]
    front: tuple[Weighed, ...]
    structures: int
    choices: int


def enumerate_all(
    car: Car, drawer: Sequence[Piece], closed: Sequence[str], ends: Sequence[str], wanted: float = 0.90
) -> Enumerated:
    """Weigh every combination but those that one which surely reaches the chance wanted is better than."""
    every = sorted(combinations(car, drawer, closed, ends), key=price_of)
    weighed: list[Weighed] = []
    sure: list[Price] = []
    for works in every:
        price = price_of(works)
        if any(dominates(other, price) for other in sure):
            continue
        found = weigh(car, works, wanted)
        weighed.append(found)
        if found.p >= wanted + 0.01:
            sure.append(price)
    reach = [each for each in weighed if each.p >= wanted]
    front = [each for each in reach if not any(dominates(other.price, each.price) for other in reach)]
    choices = sum(math.prod(len(work.amounts) for work in works) for works in every)
    return Enumerated(tuple(weighed), tuple(front), len(every), choices)
