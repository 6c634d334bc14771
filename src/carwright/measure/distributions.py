"""Distribution functions in closed form or by quadrature, and distributions on a grid; plain floats, no libraries."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

NOTHING = 1e-9
"""Probability that is left out of a sum."""
_SQRT2 = math.sqrt(2)
_SQRT2PI = math.sqrt(2 * math.pi)


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
        (weight / total, math.exp(-y)) for weight, y in zip(weights, points, strict=True) if weight > NOTHING * total
    )


def student_cdf(z: float, dof: float) -> float:
    """Distribution function of Student's t [-]."""
    return math.fsum(weight * normal_cdf(z / math.sqrt(factor)) for weight, factor in chi_square_nodes(dof))


def convolved(z: float, sigma: float, half_step: float) -> float:
    """:func:`rounded_cdf`, or the normal where there is no step [-]."""
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


def chi_square_tail(x: float, dof: float) -> float:
    """P(χ² > x), by the series or the continued fraction of the incomplete gamma function [-].

    Abramowitz and Stegun 6.5.29 and 6.5.31.
    """
    if x <= 0:
        return 1.0
    a, t = dof / 2, x / 2
    front = math.exp(-t + a * math.log(t) - math.lgamma(a))
    if t < a + 1:
        term = total = 1 / a
        k = a
        while term > total * 1e-16:
            k += 1
            term *= t / k
            total += term
        return max(0.0, 1 - front * total)
    b = t + 1 - a
    c, d = 1e300, 1 / b
    h = d
    for k in range(1, 500):
        step = -k * (k - a)
        b += 2
        d = 1 / (step * d + b or 1e-300)
        c = b + step / c
        h *= d * c
        if abs(d * c - 1) < 1e-15:  # noqa: PLR2004 - converged
            break
    return front * h
