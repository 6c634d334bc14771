"""Chances that two coupler heights lie within their limits together, for many candidates at once."""

from __future__ import annotations

import math

import numpy as np

from carwright.explain.latent import Array

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)
_DRAWS = 128


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

    The first is integrated over by Gauss–Legendre quadrature between its limits (twenty nodes, no further out than five
    standard deviations), the second conditionally on it in closed form; error below 1e-4 where limits are no wider than
    eight standard deviations.

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
    slope = covariance[0, 1] / covariance[0, 0]
    rest = math.sqrt(max(covariance[1, 1] - slope * covariance[0, 1], 1e-12 * u_b * u_b))
    low = np.maximum((limits_a[0] - mean_a) / u_a, -5.0)
    high = np.minimum((limits_a[1] - mean_a) / u_a, 5.0)
    half = np.maximum(high - low, 0.0) / 2
    middle = (high + low) / 2
    total = np.zeros(np.broadcast_shapes(np.shape(mean_a), np.shape(mean_b)))
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        z = middle + half * node
        density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
        shifted = mean_b + slope * u_a * z
        total += (
            weight
            * half
            * density
            * (normal_cdf((limits_b[1] - shifted) / rest) - normal_cdf((limits_b[0] - shifted) / rest))
        )
    return np.clip(total, 0.0, 1.0)


def spread_points() -> Array:
    """Points that stand for a standard bivariate normal: a lattice rule through the inverse normal, shape (128, 2).

    Korobov lattice, symmetric about zero, so that means are exact; the same points every time.
    """
    from scipy.special import ndtri  # noqa: PLC0415 - loaded only where plans are searched

    half = _DRAWS // 2
    index = np.arange(half)
    lattice = np.stack([(index + 0.5) / half, (index * 19 % half + 0.5) / half], axis=1)
    found = ndtri(lattice)
    points = np.concatenate([found, -found])
    scaled: Array = points / np.sqrt((points**2).mean(axis=0))
    return scaled
