"""Monte Carlo: reproducible, and right where the answer is known."""

from __future__ import annotations

import numpy as np
import pytest

from carwright.errors import ContradictionError
from carwright.measure import Component, draw, propagate_draws
from carwright.measure.montecarlo import weighted


def test_draws_are_the_same_every_time_and_whatever_the_count() -> None:
    parts = [Component("a", 1.0), Component("b", 2.0, shape="rectangular"), Component("c", 1.0, dof=6)]
    first, second = draw(parts, 50_000), draw(parts, 50_000)
    for one, two in zip(first, second, strict=True):
        assert np.array_equal(one, two)
    assert np.array_equal(draw(parts, 20_000)[0], first[0][:20_000])


def test_each_shape_has_its_spread() -> None:
    normal, flat, student = draw(
        [Component("a", 0.5), Component("b", 0.5, shape="rectangular"), Component("c", 0.5, dof=10)], 200_000
    )
    assert float(normal.std()) == pytest.approx(0.5, rel=0.01)
    assert float(flat.std()) == pytest.approx(0.5, rel=0.01)
    assert float(np.abs(flat).max()) <= 0.5 * 3**0.5
    assert float(student.std()) == pytest.approx(0.5 * (10 / 8) ** 0.5, rel=0.02)


def test_weights_must_leave_something() -> None:
    with pytest.raises(ContradictionError):
        weighted(np.array([1.0, 2.0]), np.zeros(2))


def test_quantiles_and_probabilities_of_draws() -> None:
    drawn = weighted(np.arange(1000.0))
    assert drawn.probability(0, 499.5) == pytest.approx(0.5)
    assert drawn.quantile(0.25) == pytest.approx(249, abs=1)
    assert drawn.shortest(0.5)[1] - drawn.shortest(0.5)[0] == pytest.approx(499)


def test_a_function_of_inputs() -> None:
    product = propagate_draws(lambda a, b: a * b, [(2.0, Component("a", 0.1)), (3.0, Component("b", 0.2))], 200_000)
    assert product.estimate == pytest.approx(6.0, abs=0.01)
    assert product.u == pytest.approx((9 * 0.01 + 4 * 0.04 + 0.0004) ** 0.5, rel=0.01)
