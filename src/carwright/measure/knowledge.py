"""The state of knowledge about a value: its distribution, and the probability that it lies within limits.

An error is the sum of a normal part (calibrations), of the part of rounding that repeats cannot average (rectangular)
and of repeatability with ν_A degrees of freedom, a t. A t is a normal whose variance is u_A² ν/χ²(ν), so the sum is a
mixture of closed forms over χ²(ν), integrated by the trapezoid rule. One t with degrees of freedom by
Welch–Satterthwaite would be quicker, but its 95 % intervals hold the truth only 93 to 94 times in 100 where a tabled
repeatability worth five degrees of freedom meets a calibration of its size (docs/studies/coverage.md).

What a gauge said, or what nature bounds at zero, reshapes the distribution: it is tabulated on a fine grid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import Literal

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, GaugeLimits
from carwright.measure.combine import Place, gathered, welch_satterthwaite
from carwright.measure.distributions import Tabulated, chi_square_nodes, convolved, normal_cdf, rounded_cdf
from carwright.measure.montecarlo import UNLIKELY

_SQRT2 = math.sqrt(2)
MANY_DOF = 200.0
"""Degrees of freedom of a repeatability from which its t is taken as normal: p differs by less than 0.001 anywhere."""
LITTLE = 1e-3
"""Share of the variance below which the tails of a t no longer show."""
CLOSE = 1e-7
"""How nearly an interval holds its probability."""
NEAR_ZERO = 4.0
"""Estimates within so many u of zero feel that nothing lies below it."""
_CELLS = 160
_AROUND = (-3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0)


@dataclass(frozen=True, slots=True)
class Knowledge:
    """A distribution.

    Attributes
    ----------
    estimate, u : float
        Mean (or location) and standard uncertainty [inside unit].
    dof : float
        Degrees of freedom [-].
    shape : str
        ``normal``, ``rounded`` (normal and rectangular convolved), ``t`` (with few degrees of freedom) or
        ``tabulated``.
    sigma : float
        Standard deviation of the normal part [inside unit].
    half_step : float
        Half-width of the rectangular part [inside unit].
    nodes : tuple of (weight, sigma)
        Of the mixture: with probability ``weight`` the normal part has this standard deviation.
    table : Tabulated or None
        Where it was reshaped.
    """

    estimate: float
    u: float
    dof: float
    shape: Literal["normal", "t", "rounded", "tabulated"]
    sigma: float = 0.0
    half_step: float = 0.0
    nodes: tuple[tuple[float, float], ...] = ()
    table: Tabulated | None = None

    def cdf(self, x: float) -> float:
        """P(value ≤ x) [-]."""
        if math.isinf(x):
            return 0.0 if x < 0 else 1.0
        if self.table is not None:
            return self.table.cdf(x)
        z = x - self.estimate
        if not self.nodes:
            return convolved(z, self.sigma, self.half_step)
        if self.half_step:
            return math.fsum([weight * rounded_cdf(z, sigma, self.half_step) for weight, sigma in self.nodes])
        turned = -z / _SQRT2
        return 0.5 * math.fsum([weight * math.erfc(turned / sigma) for weight, sigma in self.nodes])

    def probability(self, lower: float, upper: float) -> float:
        """P(lower ≤ value ≤ upper) [-]."""
        return min(1.0, max(0.0, self.cdf(upper) - self.cdf(lower)))

    def half_width(self, p: float = 0.95) -> float:
        """Half-width of the central interval that holds probability p [inside unit]."""
        if self.table is not None:
            tail = (1 - p) / 2
            return (self.table.quantile(1 - tail) - self.table.quantile(tail)) / 2
        wanted = (1 + p) / 2
        low, high = 1.5 * self.u, 2.2 * self.u
        below, above = self.cdf(self.estimate + low) - wanted, self.cdf(self.estimate + high) - wanted
        if below > 0:
            low, below, high, above = 0.0, 0.5 - wanted, low, below
        while above < 0:
            low, below = high, above
            high *= 2
            above = self.cdf(self.estimate + high) - wanted
        for _ in range(60):  # regula falsi, halving the weight of an end that stays (Illinois rule)
            middle = high - above * (high - low) / (above - below)
            there = self.cdf(self.estimate + middle) - wanted
            if abs(there) < CLOSE:
                return middle
            if there < 0:
                low, below, above = middle, there, above / 2
            else:
                high, above, below = middle, there, below / 2
        return (low + high) / 2


def knowledge(place: Place, *, bounded: bool = False, gauges: Sequence[GaugeCheck] = ()) -> Knowledge:
    """The distribution of what was read at one place.

    Parameters
    ----------
    place : Place
        Estimate and components.
    bounded : bool
        Whether values below zero are impossible.
    gauges : sequence of GaugeCheck
        What gauges said of this place; those without limits of their own say nothing here.

    Returns
    -------
    Knowledge

    Raises
    ------
    ContradictionError
        "the observations contradict each other, or what is possible"
    """
    state = closed_form(place)
    told = [check for check in gauges if check.limits is not None]
    if not told and not (bounded and place.estimate < NEAR_ZERO * place.u):
        return state
    table = tabulate(state, tuple((check.result, check.limits) for check in told if check.limits), bounded=bounded)
    return Knowledge(table.estimate, table.u, place.dof, "tabulated", table=table)


Said = tuple[str, GaugeLimits]
"""Result of a gauge check, and the gauge's own limits."""


def likelihood(x: float, said: Sequence[Said], *, bounded: bool) -> float:
    """Likelihood of a value under what gauges said (DESIGN §5), 0 where nature forbids it [-]."""
    if bounded and x < 0:
        return 0.0
    product = 1.0
    for result, limits in said:
        above = _step(x - limits.lower, limits.u)
        below = _step(limits.upper - x, limits.u)
        product *= above * below if result == "pass" else 1 - above if result == "low" else 1 - below
    return product


def _step(distance: float, u: float) -> float:
    """Φ(distance/u), a sharp step where a gauge is taken as exact."""
    if math.isinf(distance) or u == 0:
        return 1.0 if distance >= 0 else 0.0
    return normal_cdf(distance / u)


@lru_cache(maxsize=256)
def tabulate(state: Knowledge, said: tuple[Said, ...], *, bounded: bool) -> Tabulated:
    """Reweigh a distribution by :func:`likelihood` on a grid over ±8 u.

    A gauge's own limits are edges of the grid, so that a sharp gauge cuts where it should.

    Parameters
    ----------
    state : Knowledge
        Before.
    said : tuple of (result, limits)
        What gauges said.
    bounded : bool
        Whether values below zero are impossible.

    Raises
    ------
    ContradictionError
        Where the likelihood, averaged over the state, is below 0.001.
    """
    low, high = state.estimate - 8 * state.u, state.estimate + 8 * state.u
    if bounded:
        low = min(max(low, 0.0), high)
    width = (high - low) / _CELLS
    edges = {low + width * index for index in range(_CELLS + 1)}
    for _, limits in said:
        around = (limit + step * limits.u for limit in (limits.lower, limits.upper) for step in _AROUND)
        edges |= {edge for edge in around if low < edge < high}
    ends = sorted(edges)
    heights = [state.cdf(edge) for edge in ends]
    masses = [
        (after - before) * likelihood((left + right) / 2, said, bounded=bounded)
        for (before, after), (left, right) in zip(pairwise(heights), pairwise(ends), strict=True)
    ]
    total = math.fsum(masses)
    if not total >= UNLIKELY:
        raise ContradictionError
    return Tabulated(tuple(ends), (0.0, *(each / total for each in accumulate(masses))))


def closed_form(place: Place) -> Knowledge:
    """Normal, one rectangle and one t; several rectangles together are taken as normal, several t as one."""
    rectangles = [part for part in place.components if part.shape == "rectangular"]
    resolution = rectangles[0] if len(rectangles) == 1 else None
    rest = [part for part in place.components if part is not resolution]
    half_step = abs(resolution.u) * math.sqrt(3) if resolution is not None else 0.0
    counted = [part for part in gathered(rest) if math.isfinite(part.dof)]
    own = math.fsum(part.u**2 for part in counted)
    square = math.fsum(part.u**2 for part in rest if not math.isfinite(part.dof))
    sigma = math.sqrt(square + own)
    dof = welch_satterthwaite(counted)
    if dof >= MANY_DOF or own <= LITTLE * place.u**2:
        return Knowledge(place.estimate, place.u, place.dof, "rounded" if half_step else "normal", sigma, half_step)
    nodes = tuple((weight, math.sqrt(square + own * factor)) for weight, factor in chi_square_nodes(round(dof, 3)))
    return Knowledge(place.estimate, place.u, place.dof, "t", sigma, half_step, nodes)
