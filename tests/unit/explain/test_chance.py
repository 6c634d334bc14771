"""Chances of two heights together, against SciPy's bivariate normal; and the points that stand for a spread."""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import multivariate_normal

from carwright.explain.chance import both_within, normal_cdf, spread_points, within

Array = NDArray[np.float64]
Limits = tuple[float, float]
INFINITE = math.inf


def exact(mean: tuple[float, float], covariance: Array, limits_a: Limits, limits_b: Limits) -> float:
    normal = multivariate_normal(mean, covariance, allow_singular=True)
    upper, lower = [limits_a[1], limits_b[1]], [limits_a[0], limits_b[0]]
    return float(normal.cdf(upper, lower_limit=lower))


def limits(rng: random.Random, u: float) -> Limits:
    """Limits from a tenth to eight standard deviations wide, one side missing now and then."""
    centre, width = rng.uniform(-3.5, 3.5) * u, math.exp(rng.uniform(math.log(0.1), math.log(8))) * u
    match rng.randrange(6):
        case 0:
            return -INFINITE, centre
        case 1:
            return centre, INFINITE
    return centre - width / 2, centre + width / 2


def largest_error(correlation: float, cases: int) -> float:
    rng = random.Random(round(1000 * correlation))
    worst = 0.0
    for _ in range(cases):
        u_a, u_b = math.exp(rng.uniform(-3, 0)), math.exp(rng.uniform(-3, 0))
        covariance = np.array([[u_a**2, correlation * u_a * u_b], [correlation * u_a * u_b, u_b**2]])
        mean = rng.uniform(-1, 1), rng.uniform(-1, 1)
        of_a, of_b = limits(rng, u_a), limits(rng, u_b)
        of_a, of_b = (of_a[0] + mean[0], of_a[1] + mean[0]), (of_b[0] + mean[1], of_b[1] + mean[1])
        found = float(both_within(np.array(mean[0]), np.array(mean[1]), covariance, of_a, of_b))
        worst = max(worst, abs(found - exact(mean, covariance, of_a, of_b)))
    return worst


@pytest.mark.parametrize("correlation", [0.0, 0.2, -0.2, 0.5, -0.5, 0.7, -0.7, 0.8, -0.8, 0.85, -0.85])
def test_both_within_against_the_exact_rectangle(correlation: float) -> None:
    assert largest_error(correlation, 600) < 1e-4


@pytest.mark.parametrize("correlation", [0.9, -0.9, 0.95, -0.95, 0.98, -0.98, 0.99, -0.99])
def test_both_within_where_one_remedy_sets_both_ends(correlation: float) -> None:
    """A straightened frame leaves correlations of 0.98 and 0.99."""
    assert largest_error(correlation, 600) < 1e-4


def test_both_within_takes_limits_far_wider_than_the_spread() -> None:
    """Every height surely within: the best amounts are chosen by differences of a thousandth."""
    covariance = np.array([[8e-4, 4e-4], [4e-4, 9e-4]])
    mean_a, mean_b = np.meshgrid(np.linspace(-0.15, 0.15, 13), np.linspace(-0.15, 0.15, 13))
    found = both_within(mean_a, mean_b, covariance, (-0.254, 0.254), (-0.254, 0.254))
    wanted = [
        exact((a, b), covariance, (-0.254, 0.254), (-0.254, 0.254))
        for a, b in zip(mean_a.ravel(), mean_b.ravel(), strict=True)
    ]
    assert found.shape == (13, 13)
    assert found.ravel() == pytest.approx(np.array(wanted), abs=1e-4)


def test_both_within_of_an_end_without_limits() -> None:
    covariance = np.array([[0.04, 0.01], [0.01, 0.09]])
    free = (-INFINITE, INFINITE)
    one = both_within(np.array([0.1]), np.array([0.2]), covariance, free, (-0.3, 0.4))
    assert one == pytest.approx(within(np.array([0.2]), np.array([0.3]), np.array([-0.3]), np.array([0.4])), abs=1e-6)
    assert both_within(np.array([0.1]), np.array([0.2]), covariance, free, free) == pytest.approx(1.0, abs=1e-6)


def test_both_within_of_limits_out_of_reach_is_nothing() -> None:
    covariance = np.eye(2) * 0.01
    assert both_within(np.array([0.0]), np.array([0.0]), covariance, (5.0, 6.0), (-1.0, 1.0)) == pytest.approx(0.0)


def test_within_and_the_normal_itself() -> None:
    """Φ(1.959964) = 0.975: standard table of the normal distribution."""
    assert normal_cdf(np.array([1.959964]))[0] == pytest.approx(0.975, abs=1e-6)
    found = within(
        np.array([0.0, 1.0]), np.array([1.0, 2.0]), np.array([-1.959964, -INFINITE]), np.array([1.959964, 1.0])
    )
    assert found == pytest.approx([0.95, 0.5], abs=1e-6)


def test_spread_points_have_zero_mean_and_unit_variances() -> None:
    points = spread_points()
    assert points.shape[1] == 2
    assert points.mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert points.var(axis=0) == pytest.approx([1.0, 1.0], abs=1e-12)


def test_spread_points_are_the_same_every_time() -> None:
    assert np.array_equal(spread_points(), spread_points())


def test_spread_points_are_nearly_uncorrelated() -> None:
    along, across = spread_points().T
    assert float((along * across).mean()) == pytest.approx(0.0, abs=0.02)


def test_spread_points_integrate_a_rectangle() -> None:
    points = spread_points()
    worst = 0.0
    for correlation, low, width in itertools.product((-0.8, -0.4, 0.0, 0.4, 0.8), (-2.0, -1.1, -0.3), (0.8, 1.7, 3.1)):
        covariance = np.array([[1.0, correlation], [correlation, 1.0]])
        drawn = points @ np.linalg.cholesky(covariance).T
        inside = ((drawn > low) & (drawn < low + width)).all(axis=1).mean()
        worst = max(worst, abs(inside - exact((0.0, 0.0), covariance, (low, low + width), (low, low + width))))
    assert worst < 5e-3
