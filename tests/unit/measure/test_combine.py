"""Components: shared ones add with their sign, own ones in squares."""

from __future__ import annotations

import math

import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from carwright.measure import Component, Input, Place, combine_linear, merge, propagate

SIZES = st.floats(0.001, 10)


def place(estimate: float, own: float, shared: float = 0.0, name: str = "calliper", dof: float = math.inf) -> Place:
    parts = [Component("repeatability", own, dof)]
    if shared:
        parts.append(Component(name, shared, shared=name))
    return Place("", estimate, tuple(parts))


def test_a_shared_calibration_cancels_in_a_difference() -> None:
    droop = combine_linear([(1.0, place(10.5, 0.01, 0.05)), (-1.0, place(10.4, 0.01, 0.05))])
    assert droop.estimate == pytest.approx(0.1)
    assert droop.u == pytest.approx(math.hypot(0.01, 0.01))


def test_a_shared_calibration_adds_in_a_sum() -> None:
    gauge = combine_linear([(1.0, place(14.4, 0.01, 0.02)), (1.0, place(0.76, 0.01, 0.02))])
    assert gauge.u == pytest.approx(math.sqrt(0.01**2 * 2 + 0.04**2))


def test_different_instruments_do_not_share() -> None:
    both = combine_linear([(1.0, place(1, 0.01, 0.02)), (-1.0, place(1, 0.01, 0.02, "rule"))])
    assert both.u == pytest.approx(math.sqrt(2 * 0.01**2 + 2 * 0.02**2))


@given(SIZES, SIZES, SIZES, SIZES, st.floats(-3, 3), st.floats(-3, 3))
def test_sums_agree_with_an_independent_library(a: float, b: float, ua: float, ub: float, ca: float, cb: float) -> None:
    common = uncertainties.ufloat(0, 0.05)
    expected = ca * (uncertainties.ufloat(a, ua) + common) + cb * (uncertainties.ufloat(b, ub) + common)
    found = combine_linear([(ca, place(a, ua, 0.05)), (cb, place(b, ub, 0.05))])
    assert found.estimate == pytest.approx(expected.nominal_value, abs=1e-9)
    assert found.u == pytest.approx(expected.std_dev, rel=1e-9, abs=1e-12)


@given(SIZES, SIZES, SIZES, SIZES, SIZES, SIZES)
def test_propagation_agrees_with_an_independent_library(
    a: float, b: float, c: float, ua: float, ub: float, uc: float
) -> None:
    x, y, z = uncertainties.ufloat(a, ua), uncertainties.ufloat(b, ub), uncertainties.ufloat(c, uc)
    expected = x * y + z * z
    found = propagate(lambda v: v[0] * v[1] + v[2] * v[2], [Input(a, ua), Input(b, ub), Input(c, uc)])
    assert found.u == pytest.approx(expected.std_dev, rel=1e-6)
    assert math.fsum(part**2 for part in found.contributions) == pytest.approx(found.u**2, rel=1e-9)


def test_a_correlation_must_fit() -> None:
    with pytest.raises(ValueError, match="correlation must be 2 by 2, got 1 rows"):
        propagate(sum, [Input(1, 1), Input(2, 1)], [[1.0]])


@given(st.lists(st.tuples(SIZES, SIZES), min_size=2, max_size=4))
def test_a_merged_value_is_never_less_certain_than_its_best_part(parts: list[tuple[float, float]]) -> None:
    places = [place(x, u) for x, u in parts]
    merged = merge(places)
    assert merged.u <= min(each.u for each in places) * (1 + 1e-12)
    assert min(x for x, _ in parts) - 1e-9 <= merged.estimate <= max(x for x, _ in parts) + 1e-9


def test_a_budget_yields_each_share() -> None:
    rows = place(1.0, 0.03, 0.04).budget()
    assert [(label, round(share, 2)) for label, _, share in rows] == [("calliper", 0.64), ("repeatability", 0.36)]


def test_degrees_of_freedom_by_welch_and_satterthwaite() -> None:
    mixed = Place("", 0.0, (Component("a", 0.57, 9), Component("b", 0.25)))
    assert mixed.dof == pytest.approx(9 * (1 + 0.25**2 / 0.57**2) ** 2)
    assert math.isinf(place(1.0, 0.1).dof)
