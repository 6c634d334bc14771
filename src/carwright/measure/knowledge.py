"""The state of knowledge about a value: its distribution, and the probability that it lies within limits.

An error is the sum of a normal part (calibrations), of the part of rounding that repeats cannot average (rectangular)
and of repeatability with ν_A degrees of freedom, a t. A t is a normal whose variance is u_A² ν/χ²(ν), so the sum is a
mixture of closed forms over χ²(ν), integrated by the trapezoid rule. One t with degrees of freedom by
Welch–Satterthwaite would be quicker, but its 95 % intervals hold the truth only 93 to 94 times in 100 where a tabled
repeatability worth five degrees of freedom meets a calibration of its size (docs/studies/coverage.md).

What a gauge said and what nature bounds at zero is drawn by Monte Carlo. Several places with one instrument share its
calibration: the probability that all conform is integrated over it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, Prior
from carwright.measure.combine import Component, Place, welch_satterthwaite
from carwright.measure.montecarlo import UNLIKELY, Draws, draw_places, weighted

if TYPE_CHECKING:
    from carwright.measure.montecarlo import Array

MANY_DOF = 100.0
"""Effective degrees of freedom from which the t's tails no longer show: p differs by less than 0.0016 anywhere."""
CLOSE = 1e-9
"""How nearly an interval holds its probability."""
_NEAR_ZERO = 4.0
_SQRT2 = math.sqrt(2)
_SQRT2PI = math.sqrt(2 * math.pi)


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
        ``normal``, ``rounded`` (normal and rectangular convolved), ``t`` (with few degrees of freedom) or ``drawn``.
    sigma : float
        Standard deviation of the normal part [inside unit].
    half_step : float
        Half-width of the rectangular part [inside unit].
    nodes : tuple of (weight, sigma)
        Of the mixture: with probability ``weight`` the normal part has this standard deviation.
    draws : Draws or None
        Where it was drawn.
    """

    estimate: float
    u: float
    dof: float
    shape: Literal["normal", "t", "rounded", "drawn"]
    sigma: float = 0.0
    half_step: float = 0.0
    nodes: tuple[tuple[float, float], ...] = ()
    draws: Draws | None = None

    def cdf(self, x: float) -> float:
        """P(value ≤ x) [-]."""
        if self.draws is not None:
            return self.draws.probability(-math.inf, x)
        if math.isinf(x):
            return 0.0 if x < 0 else 1.0
        z = x - self.estimate
        if not self.nodes:
            return _convolved(z, self.sigma, self.half_step)
        return math.fsum(weight * _convolved(z, sigma, self.half_step) for weight, sigma in self.nodes)

    def probability(self, lower: float, upper: float) -> float:
        """P(lower ≤ value ≤ upper) [-]."""
        if self.draws is not None:
            return self.draws.probability(lower, upper)
        return max(0.0, self.cdf(upper) - self.cdf(lower))

    def half_width(self, p: float = 0.95) -> float:
        """Half-width of the central interval that holds probability p [inside unit]."""
        if self.draws is not None:
            tail = (1 - p) / 2
            return (self.draws.quantile(1 - tail) - self.draws.quantile(tail)) / 2
        wanted = (1 + p) / 2
        low, high = 0.0, 2 * self.u
        below, above = 0.5 - wanted, self.cdf(self.estimate + high) - wanted
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
    count = math.ceil((high - low) / (0.45 * width))
    points = [low + (high - low) * index / count for index in range(count + 1)]
    weights = [math.exp(dof / 2 * (y - math.exp(y) + 1)) for y in points]
    total = math.fsum(weights)
    return tuple(
        (weight / total, math.exp(-y)) for weight, y in zip(weights, points, strict=True) if weight > 1e-13 * total
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


def knowledge(
    place: Place, *, bounded: bool = False, gauges: Sequence[GaugeCheck] = (), prior: Prior | None = None
) -> Knowledge:
    """The distribution of what was read at one place.

    Parameters
    ----------
    place : Place
        Estimate and components.
    bounded : bool
        Whether values below zero are impossible.
    gauges : sequence of GaugeCheck
        What gauges said of this place; those without limits of their own say nothing here.
    prior : Prior, optional
        What was known before.

    Returns
    -------
    Knowledge
    """
    told = [check for check in gauges if check.limits is not None]
    if prior is not None:
        place = with_prior(place, prior)
    near_zero = bounded and place.estimate < _NEAR_ZERO * place.u
    if told or near_zero:
        [values] = draw_places([place])
        draws = weighted(values, _weights(values, told, bounded=bounded))
        return Knowledge(draws.estimate, draws.u, place.dof, "drawn", draws=draws)
    return _closed_form(place)


def with_prior(place: Place, prior: Prior) -> Place:
    """Combine a reading with what was known before, by inverse variance."""
    weight = prior.u**2 / (prior.u**2 + place.u**2)
    components = tuple(
        Component(part.label, part.u * weight, part.dof, part.shape, part.shared) for part in place.components
    )
    before = Component(f"prior: {prior.source}", prior.u * (1 - weight))
    estimate = weight * place.estimate + (1 - weight) * prior.value
    return Place(place.name, estimate, (*components, before), place.n)


def _closed_form(place: Place) -> Knowledge:
    """Normal, one rectangle and one t; several rectangles together are taken as normal, several t as one."""
    rectangles = [part for part in place.components if part.shape == "rectangular"]
    resolution = rectangles[0] if len(rectangles) == 1 else None
    rest = [part for part in place.components if part is not resolution]
    half_step = abs(resolution.u) * math.sqrt(3) if resolution is not None else 0.0
    counted = [part for part in rest if math.isfinite(part.dof)]
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
    """Likelihood of each draw under what the gauges said (DESIGN §5), zero where nature forbids it."""
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made
    from scipy.special import ndtr  # noqa: PLC0415

    weight = np.ones(len(values))
    for check in gauges:
        limits = check.limits
        if limits is None:
            continue
        u = limits.u if limits.u > 0 else 1e-12
        if check.result == "pass":
            if math.isfinite(limits.lower):
                weight *= ndtr((values - limits.lower) / u)
            weight *= ndtr((limits.upper - values) / u)
        elif check.result == "low":
            weight *= ndtr((limits.lower - values) / u)
        else:
            weight *= ndtr((values - limits.upper) / u)
    return np.where(values >= 0, weight, 0.0) if bounded else weight


Told = tuple[Place, Sequence[GaugeCheck]]


def probability_within(
    places: Sequence[Told], lower: float, upper: float, *, bounded: bool = False, prior: Prior | None = None
) -> float:
    """Probability that every place lies within limits.

    Parameters
    ----------
    places : sequence of (Place, gauge checks)
        What was read, and what gauges said, at each place.
    lower, upper : float
        Limits, either may be infinite [inside unit].
    bounded : bool
        Whether values below zero are impossible.
    prior : Prior, optional
        What was known before, of each place.

    Returns
    -------
    float
        Joint probability [-].
    """
    if len(places) == 1:
        place, gauges = places[0]
        return knowledge(place, bounded=bounded, gauges=gauges, prior=prior).probability(lower, upper)
    own = [with_prior(place, prior) if prior is not None else place for place, _ in places]
    told = [[check for check in gauges if check.limits is not None] for _, gauges in places]
    names = {part.shared for place in own for part in place.components if part.shared}
    drawn = any(told) or any(bounded and place.estimate < _NEAR_ZERO * place.u for place in own)
    if drawn or len(names) > 1:
        return _joint_by_draws(own, told, lower, upper, bounded=bounded)
    return _joint_by_quadrature(own, lower, upper)


def _without_shared(place: Place) -> Place:
    return Place(place.name, place.estimate, tuple(part for part in place.components if not part.shared), place.n)


def _joint_by_quadrature(places: Sequence[Place], lower: float, upper: float) -> float:
    """∫ φ(c) Π P(place within limits | shared error c) dc, by the trapezoid rule over ±6 u_c.

    The trapezoid rule converges geometrically for such integrands; steps follow the narrowest independent part.
    """
    parts = [_closed_form(_without_shared(place)) for place in places]
    slopes = [math.fsum(part.u for part in place.components if part.shared) for place in places]
    widest = max(abs(slope) for slope in slopes)
    if widest == 0:
        return math.prod(part.probability(lower, upper) for part in parts)
    narrowest = min(part.u for part in parts)
    nodes = min(400, max(24, math.ceil(12 * widest / narrowest / 0.5)))
    total = mass = 0.0
    for number in range(nodes + 1):
        z = -6 + 12 * number / nodes
        density = math.exp(-z * z / 2)
        inner = 1.0
        for part, slope in zip(parts, slopes, strict=True):
            inner *= part.probability(lower - slope * z, upper - slope * z)
        total += density * inner
        mass += density
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
