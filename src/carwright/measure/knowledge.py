"""The state of knowledge about a value: its distribution, and the probability that it lies within limits.

Which distribution: normal and the part of rounding that repeats cannot average are convolved exactly; few degrees
of freedom give a t with ν by Welch–Satterthwaite; what a gauge said, what nature bounds at zero, and what rests on a
handful of repeats is drawn by Monte Carlo. Several places with one instrument share its calibration: the
probability that all conform is integrated over it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, Prior
from carwright.measure.combine import Component, Place
from carwright.measure.montecarlo import UNLIKELY, Draws, draw_places, weighted

if TYPE_CHECKING:
    from carwright.measure.montecarlo import Array

MANY_DOF = 100.0
"""From here the normal stands in for the t: the two differ by less than 0.0016 anywhere."""
FEW_DOF = 4.0
"""Below this a t scaled by Welch–Satterthwaite is not trusted where Type A dominates."""
_NEAR_ZERO = 4.0
_RECTANGULAR_MATTERS = 0.1
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
        ``normal``, ``t``, ``rounded`` (normal and rectangular convolved) or ``drawn``.
    """

    estimate: float
    u: float
    dof: float
    shape: Literal["normal", "t", "rounded", "drawn"]
    sigma: float
    half_step: float
    draws: Draws | None = None

    def cdf(self, x: float) -> float:
        """P(value ≤ x) [-]."""
        if self.draws is not None:
            return self.draws.probability(-math.inf, x)
        if math.isinf(x):
            return 0.0 if x < 0 else 1.0
        z = x - self.estimate
        if self.shape == "t":
            return student_cdf(z / self.u, self.dof)
        if self.shape == "rounded":
            return rounded_cdf(z, self.sigma, self.half_step)
        return normal_cdf(z / self.u)

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
        low, high = 0.0, self.u * 2
        while self.probability(self.estimate - high, self.estimate + high) < p:
            high *= 2
        for _ in range(60):
            middle = (low + high) / 2
            if self.probability(self.estimate - middle, self.estimate + middle) < p:
                low = middle
            else:
                high = middle
            if high - low < 1e-9 * self.u:
                break
        return (low + high) / 2


def normal_cdf(z: float) -> float:
    """Φ(z) [-]."""
    return 0.5 * math.erfc(-z / _SQRT2)


def student_cdf(z: float, dof: float) -> float:
    """Distribution function of Student's t [-]; SciPy's."""
    from scipy.special import stdtr  # noqa: PLC0415 - loaded only where degrees of freedom are few

    return float(stdtr(dof, z))


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
    if told or near_zero or _needs_draws(place):
        [values] = draw_places([place])
        weights = _weights(values, told, bounded=bounded)
        draws = weighted(values, weights)
        return Knowledge(draws.estimate, draws.u, place.dof, "drawn", 0.0, 0.0, draws)
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
    step = math.fsum(part.u**2 for part in place.components if part.shape == "rectangular")
    total = place.u**2
    if place.dof >= MANY_DOF:
        if step > 0 and _one_rectangle(place):
            return Knowledge(
                place.estimate,
                place.u,
                place.dof,
                "rounded",
                math.sqrt(max(0.0, total - step)),
                math.sqrt(3 * step),
            )
        return Knowledge(place.estimate, place.u, math.inf, "normal", place.u, 0.0)
    return Knowledge(place.estimate, place.u, place.dof, "t", place.u, 0.0)


def _one_rectangle(place: Place) -> bool:
    return sum(part.shape == "rectangular" for part in place.components) == 1


def _needs_draws(place: Place) -> bool:
    """Where neither the t nor the closed form is to be trusted."""
    if place.dof >= MANY_DOF:
        return False
    total = place.u**2
    thin = math.fsum(part.u**2 for part in place.components if part.dof < FEW_DOF)
    step = math.fsum(part.u**2 for part in place.components if part.shape == "rectangular")
    return thin > total / 2 or step > _RECTANGULAR_MATTERS * total


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
    if drawn or len(names) > 1 or any(_needs_draws(_without_shared(place)) for place in own):
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
