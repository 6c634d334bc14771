"""Conformity against JCGM 106:2012, and the worked figures of capability and risk.

Sources: JCGM 106:2012, clauses 7 and 8 (examples marked *memory* were remembered and agree with a recomputation).
Tolerance: half the last printed digit unless said.
"""

from __future__ import annotations

import math

import pytest

from carwright.measure import Component, Place, knowledge


def p_conform(estimate: float, u: float, lower: float = -math.inf, upper: float = math.inf) -> float:
    return knowledge(Place("", estimate, (Component("u", u),))).probability(lower, upper)


@pytest.mark.parametrize(
    ("estimate", "u", "lower", "upper", "printed", "slack"),
    [
        (509.7, 8.6, 490.0, math.inf, 0.989, 0.0005),  # burst pressure, lower limit; memory
        (-5.47, 0.05, -math.inf, -5.40, 0.92, 0.005),  # breakdown voltage, upper limit; memory
        (13.6, 1.8, 12.5, 16.3, 0.66, 0.005),  # oil viscosity, two-sided; memory
        (0.0, 1.0, -math.inf, 1.645, 0.950, 0.0005),  # guard factors of clause 8
        (0.0, 1.0, -math.inf, 1.96, 0.975, 0.0005),
        (0.0, 1.0, -math.inf, 0.0, 0.5, 0.0005),
    ],
)
def test_probability_of_conformity(
    estimate: float, u: float, lower: float, upper: float, printed: float, slack: float
) -> None:
    assert p_conform(estimate, u, lower, upper) == pytest.approx(printed, abs=slack)


@pytest.mark.parametrize(
    ("p", "z"), [(0.80, 0.841621), (0.90, 1.281552), (0.95, 1.644854), (0.99, 2.326348), (0.999, 3.090232)]
)
def test_guard_factors(p: float, z: float) -> None:
    """One-sided guard bands w = z u (JCGM 106:2012, 8.3): at the acceptance limit p is just reached."""
    assert p_conform(10.0 - z * 0.3, 0.3, upper=10.0) == pytest.approx(p, abs=1e-6)


def test_the_speed_law() -> None:
    """JCGM 106:2012, example with limit 100 km/h, u 2 % of the reading, p 0.999: act from 107 km/h (memory)."""
    low, high = 100.0, 120.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if p_conform(middle, 0.02 * middle, lower=100.0) >= 0.999 else (middle, high)
    assert low == pytest.approx(107, abs=0.5)
    assert low == pytest.approx(106.5876, abs=0.0005)


@pytest.mark.parametrize(("mean", "outside"), [(10.0, 0.01241933), (10.5, 0.10573819), (12.0, 0.99379033)])
def test_share_outside_limits(mean: float, outside: float) -> None:
    """Capability example: limits [9, 11], standard deviation 0.4 (a library's public test of a risk paper)."""
    assert 1 - p_conform(mean, 0.4, 9.0, 11.0) == pytest.approx(outside, abs=5e-9)
