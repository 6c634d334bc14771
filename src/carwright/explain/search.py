"""The search: every combination of remedies and amounts, kept where no other is better in every respect."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from carwright.explain.chance import both_within, spread_points
from carwright.explain.latent import Array
from carwright.explain.levers import ENDS
from carwright.explain.options import Structure
from carwright.explain.predict import After, Predictor
from carwright.measure.distributions import normal_cdf as normal

Price = tuple[float, float, int, float]
"""Effort, cost, level of what cannot be undone, risk."""
U_AGAIN = 0.03
"""Standard uncertainty of measuring a height again between works: a tabled height gauge, three readings [mm]."""


@dataclass(frozen=True)
class Target:
    """What is asked of the two couplers: limits about the design [mm], and the chance wanted [-]."""

    limits: tuple[tuple[float, float], tuple[float, float]]
    wanted: float


@dataclass(frozen=True)
class Found:
    """A combination with its best amounts and its chances, open and closed loop."""

    structure: Structure
    amounts: tuple[int, ...]
    p_open: float
    p_closed: float
    after: After


def amount_grid(structure: Structure, after: After) -> tuple[list[tuple[int, ...]], Array]:
    """Every choice of amounts: index by act, and what it does to both couplers, shape (n, 2) [mm]."""
    ranges = [range(len(act.amounts)) if number in after.lift else (0,) for number, act in enumerate(structure.acts)]
    choices = list(product(*ranges))
    moves = np.zeros((1, 2))
    for number, act in enumerate(structure.acts):
        own = np.outer(act.amounts, after.lift[number]) if number in after.lift else np.zeros((1, 2))
        moves = (moves[:, None, :] + own[None, :, :]).reshape(-1, 2)
    return choices, moves


def open_chances(after: After, moves: Array, target: Target) -> Array:
    """Chance that both couplers conform, for every choice of amounts as written, shape (n,) [-]."""
    mean = after.mean + moves
    return both_within(mean[:, 0], mean[:, 1], after.covariance, *target.limits)


def closed_chance(after: After, structure: Structure, target: Target) -> float:
    """Chance that both conform when amounts are chosen after measuring what the other remedies left.

    The reading leaves the state normal with a smaller covariance about a mean that is itself normal. For each of a
    fixed set of such means the amounts are chosen as a person would: at A what brings A nearest the middle of its
    limits, then the same at B, and both once more, since each end moves the other a little.
    """
    reading = np.eye(2) * U_AGAIN**2
    gain = np.linalg.solve(after.before + reading, after.before).T
    left = after.before - gain @ after.before + (after.covariance - after.before)
    root = np.linalg.cholesky(gain @ after.before + np.eye(2) * 1e-15)
    means = after.mean + spread_points() @ root.T
    middle = np.array([_middle(limits) for limits in target.limits])
    moves = [_moves(structure, after, end) for end in ENDS]
    chosen = [np.zeros(len(means), dtype=int) for _ in ENDS]
    for _ in range(2):
        for index in range(2):
            other = moves[1 - index][chosen[1 - index]]
            off = np.abs(means[:, index, None] + other[:, index, None] + moves[index][None, :, index] - middle[index])
            chosen[index] = np.argmin(off, axis=1)
    mean = means + moves[0][chosen[0]] + moves[1][chosen[1]]
    return float(both_within(mean[:, 0], mean[:, 1], left, *target.limits).mean())


def _moves(structure: Structure, after: After, end: str) -> Array:
    """What the chosen amounts at one end can do to both couplers, shape (n, 2) [mm]."""
    moves = np.zeros((1, 2))
    for number, act in enumerate(structure.acts):
        if number in after.lift and act.at == end:
            moves = (moves[:, None, :] + np.outer(act.amounts, after.lift[number])[None, :, :]).reshape(-1, 2)
    return moves


_INSIDE = 0.4
"""How far inside a lone limit is aimed [mm]."""


def _middle(limits: tuple[float, float]) -> float:
    low, high = limits
    if math.isfinite(low) and math.isfinite(high):
        return (low + high) / 2
    if math.isfinite(low):
        return low + _INSIDE
    return high - _INSIDE if math.isfinite(high) else 0.0


def dominated(price: Price, others: Sequence[Price]) -> bool:
    """Whether some other is as good in every respect."""
    return any(all(theirs <= ours for theirs, ours in zip(other, price, strict=True)) for other in others)


def search(
    combinations: Sequence[Structure],
    predictor: Predictor,
    target: Target,
    rest: float = 1.0,
    beside: Callable[[Found], float] | None = None,
) -> tuple[list[Found], int, Found | None]:
    """Combinations that reach the chance wanted and that no other is better than in every respect.

    Parameters
    ----------
    combinations : sequence of Structure
        Least effort first.
    predictor : Predictor
        What each would do.
    target : Target
        Limits and the chance wanted.
    rest : float
        Chance of everything else that must conform, by which the couplers' own is multiplied [-].
    beside : callable, optional
        Chance of what else a combination moves: droops, trip pins [-].

    Returns
    -------
    tuple[list[Found], int, Found or None]
        The front, how many combinations of remedies and amounts were weighed, and the best of those that fell short.
    """
    front: list[Found] = []
    prices: list[Price] = []
    chances: list[float] = []
    best = tried = 0.0
    nearest: Found | None = None
    for structure in combinations:
        tried += math.prod(len(act.amounts) if act.adjustable else 1 for act in structure.acts)
        price = structure.price
        alike = prices.index(price) if price in prices else None
        if alike is None and dominated(price, prices):
            continue
        found = weigh(structure, predictor, target, target.wanted / rest if nearest is not None else 0.0)
        if found is None:
            continue
        chance = found.p_closed * (beside(found) if beside is not None else 1.0)
        if alike is not None:
            if chance > chances[alike]:
                front[alike], chances[alike] = found, chance
        elif chance * rest >= target.wanted:
            front.append(found)
            prices.append(price)
            chances.append(chance)
        elif nearest is None or chance > best:
            nearest, best = found, chance
    return front, int(tried), nearest


def weigh(structure: Structure, predictor: Predictor, target: Target, least: float = 0.0) -> Found | None:
    """Best amounts and chances of one combination; None where it cannot come near ``least``."""
    after = predictor.after(structure)
    if _bound(structure, after, target) < least:
        return None
    choices, moves = amount_grid(structure, after)
    if len(moves) > _WEIGHED:
        middle = np.array([_middle(limits) for limits in target.limits])
        off = (((after.mean + moves - middle) / np.sqrt(np.diag(after.covariance))) ** 2).sum(axis=1)
        near = np.sort(np.argpartition(off, _WEIGHED)[:_WEIGHED])
    else:
        near = np.arange(len(moves))
    chances = open_chances(after, moves[near], target)
    best = _best(chances, after.mean + moves[near], target)
    p_open = float(chances[best])
    best = int(near[best])
    p_closed = closed_chance(after, structure, target) if after.lift and after.uncertain else p_open
    return Found(structure, choices[best], p_open, max(p_open, p_closed), after)


def _best(chances: Array, means: Array, target: Target) -> int:
    """Best chance to a thousandth; of equals, what brings both couplers nearest the middle of their limits."""
    middle = np.array([_middle(limits) for limits in target.limits])
    off = ((means - middle) ** 2).sum(axis=1)
    return int(np.lexsort((off, -np.round(chances, 3)))[0])


_WEIGHED = 1024
"""Choices of amounts whose chance is computed: those whose means lie nearest the middle of the limits."""


def _bound(structure: Structure, after: After, target: Target) -> float:
    """More than the chance can be: each coupler alone, its mean as near the middle as its acts can bring it."""
    bound = 1.0
    for index, (low, high) in enumerate(target.limits):
        variance = float(after.covariance[index, index])
        reach = [abs(float(lift[index])) * max(structure.acts[number].amounts) for number, lift in after.lift.items()]
        if after.uncertain and reach:
            seen = float(after.before[index, index])
            variance += seen * U_AGAIN**2 / (seen + U_AGAIN**2) - seen
            reach.append(4 * math.sqrt(seen))
        u = math.sqrt(max(variance, 1e-12))
        mean = float(after.mean[index])
        span = sum(reach)
        aim = min(max(_middle((low, high)), mean - span), mean + span)
        alone = normal((high - aim) / u) - normal((low - aim) / u)
        bound = min(bound, alone)
    return bound
