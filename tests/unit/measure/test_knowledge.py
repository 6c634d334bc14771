"""States of knowledge against brute force: closed forms, quadrature and weighted draws say the same."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, GaugeLimits
from carwright.measure import Component, Place, knowledge, probability_within
from carwright.measure.distributions import normal_cdf, rounded_cdf, student_cdf


def place(
    estimate: float, own: float, *, dof: float = math.inf, step: float = 0.0, shared: float = 0.0, name: str = ""
) -> Place:
    parts = [Component("repeatability", own, dof)]
    if step:
        parts.append(Component("resolution", step / math.sqrt(12), shape="rectangular"))
    if shared:
        parts.append(Component("calibration", shared, shared="calibration"))
    return Place(name, estimate, tuple(parts))


def check(result: str, lower: float, upper: float, u: float = 0.02, at: str = "") -> GaugeCheck:
    return GaugeCheck(1, "wheel.back_to_back", "1", at, result, GaugeLimits("gauge", lower, upper, u), 0)


@given(st.floats(-6, 6))
def test_normal_and_student_are_those_of_scipy(z: float) -> None:
    assert normal_cdf(z) == pytest.approx(float(stats.norm.cdf(z)), abs=1e-14)
    for dof in (1.0, 2.0, 4.7, 30.0):
        assert student_cdf(z, dof) == pytest.approx(float(stats.t.cdf(z, dof)), abs=5e-6)


@given(st.floats(-4, 4), st.floats(0.01, 3), st.floats(0.01, 3))
def test_a_normal_and_a_rectangle_convolved_in_closed_form(z: float, sigma: float, half: float) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(400)
    expected = float(np.sum(weights * stats.norm.cdf((z - half * nodes) / sigma)) / 2)
    assert rounded_cdf(z, sigma, half) == pytest.approx(expected, abs=2e-3 if sigma < half / 30 else 1e-9)


def test_a_bare_rectangle() -> None:
    assert rounded_cdf(0.25, 1e-12, 0.5) == pytest.approx(0.75)
    assert rounded_cdf(9, 1e-12, 0.5) == 1.0


@pytest.mark.parametrize(
    ("state", "shape"),
    [
        (place(1.0, 0.1), "normal"),
        (place(1.0, 0.1, dof=12), "t"),
        (place(1.0, 0.1, step=0.5), "rounded"),
        (place(1.0, 0.1, dof=3), "t"),
        (place(1.0, 0.1, dof=5, step=0.2), "t"),
        (place(1.0, 0.1, dof=260, step=0.5), "rounded"),
        (place(1.0, 0.1, dof=260), "normal"),
        (place(1.0, 0.001, dof=5, shared=0.1), "normal"),
    ],
)
def test_the_distribution_fits_the_case(state: Place, shape: str) -> None:
    assert knowledge(state).shape == shape


@pytest.mark.parametrize("dof", [1.0, 2.0, 5.0, 12.0, 60.0])
def test_a_bare_t_is_students(dof: float) -> None:
    state = knowledge(place(1.0, 0.1, dof=dof))
    assert state.half_width() == pytest.approx(0.1 * float(stats.t.ppf(0.975, dof)), rel=1e-4)


@pytest.mark.parametrize(
    ("dof", "step", "shared"), [(2.0, 0.0, 0.1), (5.0, 0.3, 0.05), (5.0, 0.0, 0.1), (19.0, 0.5, 0.2)]
)
def test_few_degrees_of_freedom_agree_with_draws(dof: float, step: float, shared: float) -> None:
    """The mixture against brute force: t, rectangle and normal drawn and added."""
    found = knowledge(place(1.0, 0.1, dof=dof, step=step, shared=shared))
    generator = np.random.default_rng(8)
    errors = 0.1 * generator.standard_t(dof, 400_000) + shared * generator.standard_normal(400_000)
    errors += generator.uniform(-step / 2, step / 2, 400_000)
    for x in (0.5, 0.9, 1.1, 1.4):
        assert found.cdf(x) == pytest.approx(float((1 + errors <= x).mean()), abs=0.003)
    assert found.half_width() == pytest.approx(float(np.quantile(np.abs(errors), 0.95)), rel=0.01)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(-2.5, 2.5), min_size=2, max_size=3),
    st.floats(0.3, 1.5),
    st.floats(0.1, 2.0),
    st.floats(0.5, 3.0),
)
def test_places_that_share_a_calibration_conform_jointly(
    estimates: list[float], own: float, shared: float, half: float
) -> None:
    places = [place(x, own, shared=shared, name=str(i)) for i, x in enumerate(estimates)]
    found = probability_within([(each, ()) for each in places], -half, half)
    generator = np.random.default_rng(3)
    common = shared * generator.standard_normal(100_000)
    inside = np.ones(100_000, dtype=bool)
    for x in estimates:
        inside &= np.abs(x + common + own * generator.standard_normal(100_000)) <= half
    assert found == pytest.approx(float(inside.mean()), abs=0.008)


def test_independent_places_multiply() -> None:
    alone = knowledge(place(0.5, 1.0)).probability(-1, 1)
    both = probability_within([(place(0.5, 1.0, name="a"), ()), (place(0.5, 1.0, name="b"), ())], -1, 1)
    assert both == pytest.approx(alone**2, abs=1e-12)


@pytest.mark.parametrize(("result", "sign"), [("pass", 0), ("low", -1), ("high", 1)])
def test_a_gauge_is_a_likelihood(result: str, sign: int) -> None:
    found = knowledge(place(14.5, 0.1), gauges=[check(result, 14.38, 14.60)])
    grid = np.linspace(13.9, 15.1, 20_001)
    weight = stats.norm.pdf(grid, 14.5, 0.1)
    match sign:
        case 0:
            weight *= stats.norm.cdf((grid - 14.38) / 0.02) * stats.norm.cdf((14.60 - grid) / 0.02)
        case -1:
            weight *= stats.norm.cdf((14.38 - grid) / 0.02)
        case _:
            weight *= stats.norm.cdf((grid - 14.60) / 0.02)
    weight /= weight.sum()
    assert found.estimate == pytest.approx(float(grid @ weight), abs=1e-4)
    within = (grid >= 14.4) & (grid <= 14.6)
    assert found.probability(14.4, 14.6) == pytest.approx(float(weight[within].sum()), abs=1e-3)


def test_nothing_below_zero_where_nature_forbids_it() -> None:
    found = knowledge(place(0.02, 0.05), bounded=True)
    a, b = -0.02 / 0.05, math.inf
    expected = stats.truncnorm(a, b, loc=0.02, scale=0.05)
    assert found.estimate == pytest.approx(float(expected.mean()), abs=1e-4)
    assert found.u == pytest.approx(float(expected.std()), abs=1e-4)
    assert found.half_width() == pytest.approx((expected.ppf(0.975) - expected.ppf(0.025)) / 2, rel=1e-3)
    assert found.probability(-1, 10) == 1.0
    assert found.probability(-1, 0) == 0
    assert knowledge(place(1.0, 0.05), bounded=True).shape == "normal"


def test_observations_that_contradict_are_named() -> None:
    with pytest.raises(ContradictionError, match="contradict each other"):
        knowledge(place(14.9, 0.01), gauges=[check("low", 14.38, 14.60, u=0.001)])
    with pytest.raises(ContradictionError):
        probability_within(
            [(place(14.9, 0.01, name="a"), [check("low", 14.38, 14.60, u=0.001)]), (place(14.9, 0.01, name="b"), [])],
            14.4,
            14.6,
        )


def test_joint_draws_agree_with_the_quadrature() -> None:
    places = [place(0.4, 0.5, shared=0.3, name="a"), place(-0.2, 0.5, shared=0.3, name="b")]
    wide = check("pass", -50, 50)
    drawn = probability_within([(each, [wide]) for each in places], -1, 1)
    assert drawn == pytest.approx(probability_within([(each, ()) for each in places], -1, 1), abs=0.01)
