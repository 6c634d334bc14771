"""What an instrument can decide, against JCGM 106:2012 computed a second time.

Source: JCGM 106:2012, clauses 7.2 to 7.4 (conformance probability, one and two limits, normal state of knowledge) and
8.3 (guard bands). The distribution is scipy's; boundaries are looked for value by value, by no formula.
"""

from __future__ import annotations

import math

import pytest
from scipy.stats import norm

from carwright.history import Figures
from carwright.judge.capability import capability_of
from carwright.judge.clauses import Thresholds

STEPS = 4000


def tool(u: float) -> Figures:
    """One whose readings have, one by one, the standard uncertainty u."""
    return Figures("gauge", u * 1e-3, u * 0.8, u * 0.6, 9.0, "declared")


def conformance(value: float, u: float, lower: float, upper: float) -> float:
    """JCGM 106:2012, 7.4: Φ((T_U − y)/u) − Φ((T_L − y)/u)."""
    return float(norm.cdf(upper, value, u) - norm.cdf(lower, value, u))


@pytest.mark.parametrize("side", ["lower", "upper"])
@pytest.mark.parametrize(("conform", "fail"), [(0.95, 0.05), (0.9, 0.1), (0.99, 0.01), (0.8, 0.05), (0.95, 0.2)])
@pytest.mark.parametrize("u", [0.003, 0.2])
def test_values_farther_from_one_limit_are_decided_and_some_nearer_are_not(
    side: str, conform: float, fail: float, u: float
) -> None:
    """JCGM 106:2012, 8.3: with one limit the guard band is Φ⁻¹(p) u."""
    lower, upper = (10.0, math.inf) if side == "lower" else (-math.inf, 10.0)
    found = capability_of(
        tool(u), Thresholds(conform, fail), lower=10.0 if side == "lower" else None,
        upper=10.0 if side == "upper" else None,
    )  # fmt: skip
    assert found.u_one == pytest.approx(u, rel=1e-5)
    distances = [4 * u * (step - STEPS / 2) / (STEPS / 2) for step in range(STEPS + 1)]
    undecided = [
        abs(each) for each in distances if fail < conformance(10.0 + each, found.u_one, lower, upper) < conform
    ]
    assert found.near_one == pytest.approx(max(undecided), abs=2 * 4 * u / (STEPS / 2))


@pytest.mark.parametrize("conform", [0.8, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("width", [0.5, 1.0, 2.0, 2.5, 3.0, 3.3, 3.8, 4.0, 5.0, 5.2, 6.0, 20.0])
def test_some_value_between_two_limits_conforms_or_none_does(conform: float, width: float) -> None:
    """JCGM 106:2012, 7.4, looked for over all values between the limits."""
    found = capability_of(tool(1.0), Thresholds(conform, 1 - conform), lower=-width / 2, upper=width / 2)
    for u, able in ((found.u_one, found.can_conform), (found.u_many, found.could_conform)):
        best = max(
            conformance(-width / 2 + width * step / STEPS, u, -width / 2, width / 2) for step in range(STEPS + 1)
        )
        assert abs(best - conform) > 1e-4  # no case stands on the edge
        assert able == (best >= conform)


@pytest.mark.parametrize("conform", [0.8, 0.9, 0.95, 0.99])
def test_the_uncertainty_needed_just_suffices(conform: float) -> None:
    """JCGM 106:2012, 7.4: at the middle of the limits the probability just reaches the threshold."""
    needed = capability_of(tool(1.0), Thresholds(conform, 1 - conform), lower=3.0, upper=3.7).u_needed
    assert conformance(3.35, needed, 3.0, 3.7) == pytest.approx(conform, abs=1e-9)
    assert conformance(3.35, needed * 1.001, 3.0, 3.7) < conform
    assert needed == pytest.approx(0.35 / norm.ppf((1 + conform) / 2), rel=1e-9)


@pytest.mark.parametrize(
    "width",
    [
        4.0,
        5.0,
        8.0,
        30.0,
    ],
)  # fmt: skip
def test_values_farther_from_both_limits_are_decided(width: float) -> None:
    """JCGM 106:2012, 7.4: with limits 4 u apart, what lies 1.7 u within is still undecided."""
    found = capability_of(tool(1.0), Thresholds(), lower=-width / 2, upper=width / 2)
    assert found.can_conform
    inside = [width / 2 * step / STEPS for step in range(STEPS + 1)]
    nearest = [width / 2 - each for each in inside if conformance(each, found.u_one, -width / 2, width / 2) < 0.95]
    assert max(nearest) <= found.near_one * (1 + 2e-2)
