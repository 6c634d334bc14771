"""Chances that two coupler heights lie within their limits together, for many candidates at once."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from carwright.explain.latent import Array

_DRAWS, _GENERATOR = 2048, 165
_STEPS = ((0.85, 20), (0.95, 32), (0.99, 64), (1.0, 200))
"""Correlation up to which so many nodes keep the error of a chance below 1e-4."""


@lru_cache(maxsize=8)
def _nodes(correlation: float) -> tuple[Array, Array]:
    count = next(nodes for most, nodes in _STEPS if correlation <= most)
    found: tuple[Array, Array] = np.polynomial.legendre.leggauss(count)
    return found


def normal_cdf(z: Array) -> Array:
    """Φ of an array [-]."""
    from scipy.special import ndtr  # noqa: PLC0415 - loaded only where plans are searched

    found: Array = ndtr(z)
    return found


def within(mean: Array, u: Array, lower: Array, upper: Array) -> Array:
    """P(lower ≤ x ≤ upper) of normals, elementwise [-]."""
    return normal_cdf((upper - mean) / u) - normal_cdf((lower - mean) / u)


def both_within(
    mean_a: Array, mean_b: Array, covariance: Array, limits_a: tuple[float, float], limits_b: tuple[float, float]
) -> Array:
    """P(both within their limits) of a bivariate normal.

    The first is integrated over by Gauss–Legendre quadrature between its limits (no further out than five standard
    deviations; the more nodes the nearer the correlation is to one), the second conditionally on it in closed form:
    error below 1e-4 up to a correlation of 0.99, below 1e-3 beyond.

    Parameters
    ----------
    mean_a, mean_b : Array
        Any shape [mm].
    covariance : Array
        Shape (2, 2), the same for all [mm²].
    limits_a, limits_b : tuple[float, float]
        May be infinite [mm].

    Returns
    -------
    Array
        Same shape [-].
    """
    u_a, u_b = math.sqrt(covariance[0, 0]), math.sqrt(covariance[1, 1])
    mean_a, mean_b = np.broadcast_arrays(mean_a, mean_b)
    near = _near(mean_a, u_a, limits_a) & _near(mean_b, u_b, limits_b)
    found = np.zeros(np.shape(near))
    a, b = mean_a[near], mean_b[near]
    slope = covariance[0, 1] / covariance[0, 0]
    rest = math.sqrt(max(covariance[1, 1] - slope * covariance[0, 1], 1e-12 * u_b * u_b))
    low = np.maximum((limits_a[0] - a) / u_a, -5.0)
    high = np.minimum((limits_a[1] - a) / u_a, 5.0)
    half = np.maximum(high - low, 0.0) / 2
    middle = (high + low) / 2
    correlation = min(1.0, abs(float(covariance[0, 1])) / (u_a * u_b))
    nodes, weights = _nodes(next(most for most, _ in _STEPS if correlation <= most))
    total = np.zeros(len(a))
    for node, weight in zip(nodes, weights, strict=True):
        z = middle + half * node
        shifted = b + slope * u_a * z
        above, below = (normal_cdf((limit - shifted) / rest) for limit in (limits_b[1], limits_b[0]))
        total += weight * np.exp(-z * z / 2) * (above - below)
    found[near] = np.clip(total * half / math.sqrt(2 * math.pi), 0.0, 1.0)
    return found


def _near(mean: Array, u: float, limits: tuple[float, float]) -> NDArray[np.bool_]:
    """Whether a mean lies so near its limits that the chance is not zero to seven digits."""
    found: NDArray[np.bool_] = (mean > limits[0] - _FAR * u) & (mean < limits[1] + _FAR * u)
    return found


_FAR = 5.2
"""Standard deviations outside a limit at which the chance is below 1e-7 [-]."""


@lru_cache(maxsize=1)
def spread_points() -> Array:
    """Points that stand for a standard bivariate normal: a lattice rule through the inverse normal, shape (2048, 2).

    Korobov lattice, symmetric about zero, so that means are exact; the same points every time.
    """
    from scipy.special import ndtri  # noqa: PLC0415 - loaded only where plans are searched

    half = _DRAWS // 2
    index = np.arange(half)
    lattice = np.stack([(index + 0.5) / half, (index * _GENERATOR % half + 0.5) / half], axis=1)
    found = ndtri(lattice)
    points = np.concatenate([found, -found])
    scaled: Array = points / np.sqrt((points**2).mean(axis=0))
    return scaled
