"""The state of knowledge about a value: its distribution, and the probability that it lies within limits.

An error is the sum of a normal part (calibrations), of the part of rounding that repeats cannot average (rectangular)
and of repeatability with ν_A degrees of freedom, a t. A t is a normal whose variance is u_A² ν/χ²(ν), so the sum is a
mixture of closed forms over χ²(ν), integrated by the trapezoid rule. One t with degrees of freedom by
Welch–Satterthwaite would be quicker, but its 95 % intervals hold the truth only 93 to 94 times in 100 where a tabled
repeatability worth five degrees of freedom meets a calibration of its size (docs/studies/coverage.md).

What a gauge said, or what nature bounds at zero, reshapes the distribution: it is tabulated on a fine grid. Several
places with one instrument share its calibration, and the probability that all conform is integrated over it; where
they share more, or gauges spoke of them, it is drawn by Monte Carlo (JCGM 101).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Literal

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, GaugeLimits
from carwright.measure.combine import Component, Place, gathered, welch_satterthwaite
from carwright.measure.montecarlo import UNLIKELY, draw_places

if TYPE_CHECKING:
    from carwright.measure.montecarlo import Array

MANY_DOF = 100.0
"""Effective degrees of freedom from which the t's tails no longer show: p differs by less than 0.0016 anywhere."""
CLOSE = 1e-7
"""How nearly an interval holds its probability."""
_NEAR_ZERO = 4.0
_CELLS = 160
_NOTHING = 1e-9
_AROUND = (-3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0)
_SQRT2 = math.sqrt(2)
_SQRT2PI = math.sqrt(2 * math.pi)


@dataclass(frozen=True, slots=True)
class Tabulated:
    """A distribution on a grid: edges of its cells, and the probability up to each."""

    edges: tuple[float, ...]
    heights: tuple[float, ...]

    @property
    def estimate(self) -> float:
        """Mean [inside unit]."""
        return math.fsum([mass * middle for mass, middle in self._cells()])

    @property
    def u(self) -> float:
        """Standard deviation [inside unit]."""
        mean = self.estimate
        return math.sqrt(math.fsum([mass * (middle - mean) ** 2 for mass, middle in self._cells()]))

    def cdf(self, x: float) -> float:
        """P(value ≤ x), linear within a cell [-]."""
        index = bisect_right(self.edges, x) - 1
        if index < 0:
            return 0.0
        if index >= len(self.edges) - 1:
            return 1.0
        share = (x - self.edges[index]) / (self.edges[index + 1] - self.edges[index])
        return self.heights[index] + share * (self.heights[index + 1] - self.heights[index])

    def quantile(self, p: float) -> float:
        """X below which probability p lies [inside unit]."""
        index = min(max(bisect_right(self.heights, p) - 1, 0), len(self.edges) - 2)
        rise = self.heights[index + 1] - self.heights[index]
        share = (p - self.heights[index]) / rise if rise > 0 else 0.0
        return self.edges[index] + share * (self.edges[index + 1] - self.edges[index])

    def _cells(self) -> Iterator[tuple[float, float]]:
        for (low, high), (left, right) in zip(pairwise(self.heights), pairwise(self.edges), strict=True):
            yield high - low, (left + right) / 2


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
            return _convolved(z, self.sigma, self.half_step)
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


def normal_cdf(z: float) -> float:
    """Φ(z) [-]."""
    return 0.5 * math.erfc(-z / _SQRT2)


@lru_cache(maxsize=64)
def normal_quantile(p: float) -> float:
    """Z at which Φ(z) = p, by bisection [-]."""
    low, high = -40.0, 40.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if normal_cdf(middle) < p else (low, middle)
    return (low + high) / 2


@lru_cache(maxsize=256)
def chi_square_nodes(dof: float) -> tuple[tuple[float, float], ...]:
    """Weights and variance factors ν/w of a t with ν degrees of freedom as a mixture of normals.

    w = ν eʸ has density ∝ exp(ν(y − eʸ)/2) in y: smooth and gone at both ends, where the trapezoid rule converges
    geometrically.

    Parameters
    ----------
    dof : float
        ν > 0 [-].
    """
    width = math.sqrt(2 / dof)
    low, high = -max(7 * width, 40 / dof), min(6 * width, math.log(60 / dof + 4))
    step = 0.9 if dof > 12 else 0.6 if dof > 2 else 0.4  # noqa: PLR2004 - the heavier the tails, the finer
    count = math.ceil((high - low) / (width * step))
    points = [low + (high - low) * index / count for index in range(count + 1)]
    weights = [math.exp(dof / 2 * (y - math.exp(y) + 1)) for y in points]
    total = math.fsum(weights)
    return tuple(
        (weight / total, math.exp(-y)) for weight, y in zip(weights, points, strict=True) if weight > _NOTHING * total
    )


def student_cdf(z: float, dof: float) -> float:
    """Distribution function of Student's t [-]."""
    return math.fsum(weight * normal_cdf(z / math.sqrt(factor)) for weight, factor in chi_square_nodes(dof))


def _convolved(z: float, sigma: float, half_step: float) -> float:
    return normal_cdf(z / sigma) if half_step == 0 else rounded_cdf(z, sigma, half_step)


def rounded_cdf(z: float, sigma: float, half_step: float) -> float:
    """P(N(0, σ²) + U(−h, h) ≤ z), in closed form.

    ∫Φ is G(t) = tΦ(t) + φ(t), so the mean of Φ((z − w)/σ) over |w| ≤ h is σ[G((z + h)/σ) − G((z − h)/σ)]/(2h).
    """
    if sigma < 1e-6 * half_step:
        return min(1.0, max(0.0, (z + half_step) / (2 * half_step)))
    return min(1.0, max(0.0, sigma * (_g((z + half_step) / sigma) - _g((z - half_step) / sigma)) / (2 * half_step)))


def _g(t: float) -> float:
    return t * normal_cdf(t) + math.exp(-t * t / 2) / _SQRT2PI


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
        "the observations contradict each other: no value is likely under both"
    """
    state = _closed_form(place)
    told = [check for check in gauges if check.limits is not None]
    if not told and not (bounded and place.estimate < _NEAR_ZERO * place.u):
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


def _closed_form(place: Place) -> Knowledge:
    """Normal, one rectangle and one t; several rectangles together are taken as normal, several t as one."""
    rectangles = [part for part in place.components if part.shape == "rectangular"]
    resolution = rectangles[0] if len(rectangles) == 1 else None
    rest = [part for part in place.components if part is not resolution]
    half_step = abs(resolution.u) * math.sqrt(3) if resolution is not None else 0.0
    counted = [part for part in gathered(rest) if math.isfinite(part.dof)]
    own = math.fsum(part.u**2 for part in counted)
    square = math.fsum(part.u**2 for part in rest if not math.isfinite(part.dof))
    sigma = math.sqrt(square + own)
    if place.dof >= MANY_DOF:
        return Knowledge(place.estimate, place.u, place.dof, "rounded" if half_step else "normal", sigma, half_step)
    nodes = tuple(
        (weight, math.sqrt(square + own * factor))
        for weight, factor in chi_square_nodes(round(welch_satterthwaite(counted), 3))
    )
    return Knowledge(place.estimate, place.u, place.dof, "t", sigma, half_step, nodes)


def _weights(values: Array, gauges: Sequence[GaugeCheck], *, bounded: bool) -> Array:
    """:func:`likelihood` of many draws at once."""
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made
    from scipy.special import ndtr  # noqa: PLC0415

    weight = np.ones(len(values))
    for check in gauges:
        limits = check.limits
        if limits is None:
            continue
        u = limits.u if limits.u > 0 else 1e-12
        above = ndtr((values - limits.lower) / u) if math.isfinite(limits.lower) else np.ones(len(values))
        below = ndtr((limits.upper - values) / u)
        weight *= {"pass": above * below, "low": 1 - above}.get(check.result, 1 - below)
    return np.where(values >= 0, weight, 0.0) if bounded else weight


Told = tuple[Place, Sequence[GaugeCheck]]
"""A place and the gauge checks that speak of it."""


def probability_within(places: Sequence[Told], lower: float, upper: float, *, bounded: bool = False) -> float:
    """Probability that every place lies within limits.

    Parameters
    ----------
    places : sequence of (Place, gauge checks)
        What was read, and what gauges said, at each place.
    lower, upper : float
        Limits, either may be infinite [inside unit].
    bounded : bool
        Whether values below zero are impossible.

    Returns
    -------
    float
        Joint probability [-].

    Raises
    ------
    ContradictionError
        "the observations contradict each other: no value is likely under both"
    """
    if len(places) == 1:
        place, gauges = places[0]
        return knowledge(place, bounded=bounded, gauges=gauges).probability(lower, upper)
    told = [[check for check in gauges if check.limits is not None] for _, gauges in places]
    plain = [place for place, _ in places]
    near_zero = any(bounded and place.estimate < _NEAR_ZERO * place.u for place in plain)
    parted = None if any(told) or near_zero else part_common(plain)
    if parted is None:
        return _joint_by_draws(plain, told, lower, upper, bounded=bounded)
    own, common = parted
    return min(1.0, _joint_by_quadrature(own, common, lower, upper))


def part_common(places: Sequence[Place]) -> tuple[list[Place], Place] | None:
    """Part what each place has alone from what all of them share alike; None where some share and others do not.

    Returns
    -------
    tuple[list[Place], Place] or None
        The places without what they share, and that as a place of estimate 0.
    """
    found: dict[str, list[Component]] = {}
    for place in places:
        for part in place.components:
            if part.shared:
                found.setdefault(part.shared, []).append(part)
    alone = {name for name, parts in found.items() if len(parts) == 1}
    for name, parts in found.items():
        if name not in alone and (len(parts) != len(places) or len({round(part.u, 12) for part in parts}) > 1):
            return None
    own = [
        Place(
            place.name, place.estimate, tuple(p for p in place.components if not p.shared or p.shared in alone), place.n
        )
        for place in places
    ]
    return own, Place("", 0.0, tuple(parts[0] for name, parts in found.items() if name not in alone))


def _joint_by_quadrature(places: Sequence[Place], common: Place, lower: float, upper: float) -> float:
    """∫ Π P(place within limits | common error c) dF(c), over cells that follow the narrowest independent part."""
    parts = [_closed_form(place) for place in places]
    if not common.components:
        return math.prod([part.probability(lower, upper) for part in parts])
    state = _closed_form(common)
    reach = 6 * state.u if not state.nodes else 9 * state.u
    narrowest = min(part.u for part in parts)
    cells = min(400, max(24, math.ceil(4 * reach / narrowest)))
    width = 2 * reach / cells
    before = state.cdf(-reach)
    total = mass = 0.0
    for number in range(cells):
        left = -reach + width * number
        after = state.cdf(left + width)
        middle = left + width / 2
        share, before = after - before, after
        if share > _NOTHING:
            total += share * math.prod([part.probability(lower - middle, upper - middle) for part in parts])
            mass += share
    return total / mass


def _joint_by_draws(
    places: Sequence[Place],
    told: Sequence[Sequence[GaugeCheck]],
    lower: float,
    upper: float,
    *,
    bounded: bool,
) -> float:
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made

    joint = draw_places(places)
    weight = np.ones(len(joint[0]))
    inside = np.ones(len(joint[0]), dtype=bool)
    for values, gauges in zip(joint, told, strict=True):
        weight = weight * _weights(values, gauges, bounded=bounded)
        inside &= (values >= lower) & (values <= upper)
    total = float(weight.sum())
    if not total >= UNLIKELY * len(weight):
        raise ContradictionError
    return float(weight[inside].sum()) / total
