"""What to measure next: the ranking agrees with brute force, and says when repeats cannot help."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import carwright as cw
from carwright.history import Figures
from carwright.judge import Thresholds
from carwright.judge.outlook import State, after_u, expected_loss, outlook, p_decided


def opened(estimate: float, u: float, lower: float = -1.0, upper: float = 1.0) -> State:
    return State(estimate, u, lower, upper)


def figures(repeatability: float, calibration: float, name: str = "a") -> Figures:
    return Figures(name, 1e-6, calibration, repeatability, 20.0, "declared")


@pytest.mark.parametrize("lower", [-1.0, -math.inf])
@pytest.mark.parametrize(("estimate", "u", "after"), [(0.9, 0.3, 0.1), (1.2, 0.4, 0.2), (0.0, 1.0, 0.3)])
def test_the_preposterior_agrees_with_simulation(lower: float, estimate: float, u: float, after: float) -> None:
    """Simulated: the truth, then a further reading, then the state of knowledge after it."""
    generator = np.random.default_rng(5)
    truth = estimate + u * generator.standard_normal(400_000)
    noise = 1 / math.sqrt(1 / after**2 - 1 / u**2)
    seen = truth + noise * generator.standard_normal(truth.size)
    weight = after**2
    then = weight * (estimate / u**2 + seen / noise**2)
    p = stats.norm.cdf((1.0 - then) / after) - stats.norm.cdf((lower - then) / after)
    target = opened(estimate, u, lower)
    assert expected_loss(target, after) == pytest.approx(float(np.minimum(p, 1 - p).mean()), abs=0.004)
    decided = float(((p >= 0.95) | (p <= 0.05)).mean())
    assert p_decided(target, after, Thresholds()) == pytest.approx(decided, abs=0.004)


@given(st.floats(0.01, 1), st.floats(0.01, 1), st.integers(1, 12), st.integers(1, 30))
def test_repeats_never_shrink_the_calibration(repeatability: float, calibration: float, n: int, before: int) -> None:
    u = math.hypot(calibration, repeatability / math.sqrt(before))
    after = after_u(u, figures(repeatability, calibration), n=n, n_before=before)
    assert calibration <= after <= u * (1 + 1e-12)


@given(st.floats(0.6, 0.99), st.floats(0.02, 0.3), st.floats(0.001, 0.05))
def test_the_number_of_readings_is_the_least_that_would_settle(estimate: float, scatter: float, known: float) -> None:
    tool, state = figures(scatter, known), opened(estimate, 0.4)
    n, p, _ = outlook(state, tool, Thresholds(), 0)
    if p >= 0.8 and n > 1:
        before = p_decided(state, after_u(0.4, tool, n=n - 1), Thresholds())
        assert before < 0.8
    if p < 0.8:
        assert p_decided(state, after_u(0.4, tool, n=12), Thresholds()) < 0.8


def test_another_instrument_is_independent() -> None:
    assert after_u(0.1, figures(0.06, 0.08), n=1) == pytest.approx(0.1 / math.sqrt(2))


HEAD = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
[car.geometry]
axles_per_truck = 2
body_length = "5.35 in"
[[instrument]]
name = "stand"
preset = "height gauge"
resolution = "0.01 mm"
calibration = "{calibration}"
repeatability = "0.05 mm"
repeatability_n = 60
"""


def ranked(body: str, calibration: str = "0.001 mm") -> list[cw.NextReading]:
    return list(cw.inspect(cw.read_sheet_text(HEAD.format(calibration=calibration) + body)).next_readings)


def height(value: str, with_: str = "stand") -> str:
    return f'[[entry]]\nkind = "reading"\nwhat = "coupler.height"\nat = "A"\nvalues = ["{value}"]\nwith = "{with_}"\n'


def at_a(readings: list[cw.NextReading]) -> cw.NextReading:
    return next(each for each in readings if (each.what, each.at) == ("coupler.height", "A"))


def test_more_repeats_are_advised_where_they_settle_it() -> None:
    found = at_a(ranked(height("10.12 mm")))
    assert found.instrument == "stand"
    assert found.why == "more repeats settle it"
    assert (found.p_decided or 0) >= 0.8


def test_where_no_number_of_repeats_settles_it_that_is_said() -> None:
    found = at_a(ranked(height("10.08 mm"), calibration="0.3 mm"))
    assert found.why == "no number of repeats with the stand settles it"
    assert found.instrument == "height gauge"
    on_the_limit = at_a(ranked(height("10.1854 mm")))
    assert on_the_limit.p_decided is not None
    assert on_the_limit.p_decided < 1


def test_what_was_never_read_is_ranked_and_decided_things_are_not() -> None:
    found = ranked(height("9.93 mm"))
    assert ("coupler.height", "A") not in {(each.what, each.at) for each in found}
    assert ("coupler.height", "B") in {(each.what, each.at) for each in found}
    assert [each.worth for each in found] == sorted((each.worth for each in found), reverse=True)


def test_a_tool_is_offered_only_for_what_it_suits() -> None:
    for each in ranked(""):
        if each.what.startswith("wheel."):
            assert each.instrument in {"calliper", "stand"}
        if each.what == "weight.total":
            assert each.instrument.endswith("scale")


def test_geometry_a_clause_waits_for_is_asked_for() -> None:
    head = HEAD.replace('body_length = "5.35 in"\n', "").format(calibration="0.01 mm")
    weighed = '[[entry]]\nkind = "reading"\nwhat = "weight.total"\nvalues = ["100 g"]\nwith = "kitchen scale"\n'
    found = cw.inspect(cw.read_sheet_text(head + weighed)).next_readings
    [length] = [each for each in found if each.what == "body.length"]
    assert "needs body_length" in length.why
