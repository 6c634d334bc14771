"""What further readings would do for an open finding: preposterior analysis of a normal state of knowledge.

The loss of deciding now is min(p, 1 − p) times the points at stake. A further reading leaves a smaller uncertainty
u′ and moves the estimate by a normal amount of variance u² − u′²; the expected loss after it is an integral over
that (preposterior analysis). Repeats with the same instrument shrink neither its calibration nor the rounding they
share; another instrument is independent.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from carwright.history import Figures
from carwright.judge.clauses import Thresholds
from carwright.measure import rounding_share
from carwright.measure.distributions import normal_cdf, normal_quantile

SETTLED = 0.8
"""A plan of readings "would settle" a finding when it decides it with this probability."""
MOST_REPEATS = 12
"""More repeats than these nobody makes."""
_FIRST_LOOK = 3


class State(NamedTuple):
    """A normal state of knowledge and the limits it is judged by."""

    estimate: float
    u: float
    lower: float
    upper: float


@lru_cache(maxsize=1024)
def outlook(
    state: State, figures: Figures, thresholds: Thresholds, n_before: int, *, unread: bool = False
) -> tuple[int, float, float]:
    """The least number of readings that would settle a finding, else the most; their chance; the fall of the loss.

    Parameters
    ----------
    state : State
        Before.
    figures : Figures
        The instrument.
    thresholds : Thresholds
        When a finding counts as decided.
    n_before : int
        Readings already made with this instrument.
    unread : bool
        Whether nothing was read yet: then a first look is three readings, however little they may settle.

    Returns
    -------
    tuple[int, float, float]
        n, P(decided) [-], and the expected fall of min(p, 1 − p) [-].
    """

    def chance(n: int) -> float:
        return p_decided(state, after_u(state.u, figures, n=n, n_before=n_before), thresholds)

    low, high = 1, MOST_REPEATS
    if chance(high) < SETTLED:
        low = _FIRST_LOOK if unread else high
    else:
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if chance(middle) >= SETTLED else (middle + 1, high)
    after = after_u(state.u, figures, n=low, n_before=n_before)
    drop = loss(state.estimate, state.u, state) - expected_loss(state, after)
    return low, chance(low), max(0.0, drop)


def after_u(u: float, figures: Figures, *, n: int, n_before: int = 0) -> float:
    """Standard uncertainty after n more readings.

    Parameters
    ----------
    u : float
        Before [inside unit].
    figures : Figures
        The instrument.
    n : int
        Further readings.
    n_before : int
        Readings already made with this instrument, 0 where it is another one.

    Returns
    -------
    float
        With the same instrument √(u_c² + s²/(n + n₀)), never above u; with another the two combined by inverse
        variance [inside unit].
    """
    share = rounding_share(figures.repeatability, resolution=figures.resolution)
    common = figures.calibration**2 + figures.resolution**2 / 12 * share
    fresh = common + figures.repeatability**2 / (n + n_before)
    if n_before:
        return min(u, math.sqrt(fresh))
    return 1 / math.sqrt(1 / u**2 + 1 / fresh)


def _p(estimate: float, u: float, lower: float, upper: float) -> float:
    return normal_cdf((upper - estimate) / u) - normal_cdf((lower - estimate) / u)


def loss(estimate: float, u: float, target: State) -> float:
    """Loss of deciding now, min(p, 1 − p), for another estimate and u [-]."""
    p = _p(estimate, u, target.lower, target.upper)
    return min(p, 1 - p)


_NODES = tuple((-4 + 8 * i / 32, math.exp(-((-4 + 8 * i / 32) ** 2) / 2)) for i in range(33))
_MASS = math.fsum(weight for _, weight in _NODES)


def expected_loss(target: State, after: float) -> float:
    """Mean of the loss once readings have left the standard uncertainty ``after`` [-]."""
    move = math.sqrt(max(0.0, target.u**2 - after**2))
    return math.fsum([weight * loss(target.estimate + move * z, after, target) for z, weight in _NODES]) / _MASS


def p_decided(target: State, after: float, thresholds: Thresholds) -> float:
    """P that the probability of conformity after the readings is past a threshold.

    With one limit that probability falls steadily across it, with two it falls to both sides of their middle; so the
    estimates that decide are found by bisection, and their probability is that of the estimate's move.
    """
    move = math.sqrt(max(0.0, target.u**2 - after**2))
    if move == 0:
        p = _p(target.estimate, after, target.lower, target.upper)
        return 1.0 if p >= thresholds.conform or p <= thresholds.fail else 0.0
    sure, lost = after * normal_quantile(thresholds.conform), after * normal_quantile(1 - thresholds.fail)
    if math.isfinite(target.lower) and math.isfinite(target.upper):
        middle, half = (target.lower + target.upper) / 2, (target.upper - target.lower) / 2
        inner, outer = half - sure, half + lost
        if half < _WIDE * after:
            inner = _crossing(target, after, middle, thresholds.conform)
            outer = _crossing(target, after, middle, thresholds.fail)
        within = _between(target.estimate, move, middle - inner, middle + inner) if inner > 0 else 0.0
        return within + 1 - _between(target.estimate, move, middle - outer, middle + outer)
    limit, sign = (target.upper, 1.0) if math.isfinite(target.upper) else (target.lower, -1.0)
    return 1 - _between(sign * (target.estimate - limit), move, -sure, lost)


_WIDE = 4.0
"""Half-width of limits, in u, from which the far limit no longer matters at the near one."""


def _crossing(target: State, after: float, middle: float, level: float) -> float:
    """Distance from the middle of two limits at which the probability of conformity comes down to a level."""

    def above(distance: float) -> bool:
        return _p(middle + distance, after, target.lower, target.upper) >= level

    low, high = 0.0, (target.upper - target.lower) / 2 + 8 * after
    if not above(low):
        return 0.0
    for _ in range(40):
        distance = (low + high) / 2
        low, high = (distance, high) if above(distance) else (low, distance)
    return (low + high) / 2


def _between(estimate: float, move: float, low: float, high: float) -> float:
    return normal_cdf((high - estimate) / move) - normal_cdf((low - estimate) / move)
