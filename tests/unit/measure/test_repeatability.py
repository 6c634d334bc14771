"""Repeats and rounding: checked against a display that really rounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from carwright.measure import pooled_repeatability, rounding_share
from carwright.measure.repeatability import rounding_correlation


def test_pooling_weighs_by_degrees_of_freedom() -> None:
    pooled, dof = pooled_repeatability([1.0, 1.2, 1.1], repeatability=0.05, dof=5)
    assert dof == 7
    assert pooled == pytest.approx(math.sqrt((5 * 0.05**2 + 2 * 0.1**2) / 7))


def test_one_reading_rests_on_the_instruments_record() -> None:
    assert pooled_repeatability([3.0], repeatability=0.02, dof=19) == pytest.approx((0.02, 19))


@given(st.integers(1, 30), st.floats(1e-6, 1e3))
def test_equal_readings_never_give_zero(n: int, value: float) -> None:
    assert pooled_repeatability([value] * n, repeatability=0.01, dof=5)[0] > 0


def test_what_cannot_be_pooled_is_refused() -> None:
    with pytest.raises(ValueError, match=r"repeatability and dof must be > 0, got 0\.0 and 5"):
        pooled_repeatability([1.0], repeatability=0.0, dof=5)


@pytest.mark.parametrize("noise", [0.0, 0.05, 0.15, 0.3, 0.5, 0.8])
def test_rounding_correlation_is_that_of_a_display(noise: float) -> None:
    generator = np.random.default_rng(7)
    true = generator.uniform(-0.5, 0.5, 400_000)
    errors = []
    for _ in range(2):
        seen = true + noise * generator.standard_normal(true.size)
        errors.append(np.round(seen) - seen)
    correlation = float(np.mean(errors[0] * errors[1])) * 12
    assert rounding_correlation(noise) == pytest.approx(correlation, abs=0.006)


@pytest.mark.parametrize("noise", [0.1, 0.25, 0.4, 0.7, 1.5])
def test_the_share_follows_from_the_scatter_seen(noise: float) -> None:
    generator = np.random.default_rng(11)
    true = generator.uniform(-0.5, 0.5, 200_000)
    seen = np.round(true[:, None] + noise * generator.standard_normal((true.size, 2)))
    scatter = math.sqrt(float(np.mean((seen[:, 0] - seen[:, 1]) ** 2)) / 2)
    assert rounding_share(scatter, resolution=1.0) == pytest.approx(rounding_correlation(noise), abs=0.02)


@given(st.floats(0.001, 5), st.floats(0.001, 5))
def test_the_share_falls_as_the_scatter_grows(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert 0 <= rounding_share(high, resolution=1.0) <= rounding_share(low, resolution=1.0) + 1e-9 <= 1 + 1e-9


def test_without_scatter_the_whole_step_is_common() -> None:
    assert rounding_share(0.0, resolution=0.5) == pytest.approx(1.0, abs=1e-3)
    assert rounding_share(5.0, resolution=0.5) == 0.0
