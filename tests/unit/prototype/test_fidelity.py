"""Dimensions against the full-size car: the scale as a whole told from local errors."""

from __future__ import annotations

import random

import numpy as np
import pytest

from carwright.history import FullSize
from carwright.measure import Component, Place, Value
from carwright.prototype.fidelity import Fidelity, ToleranceClass, fidelity_of, through_origin

CLOSE = ToleranceClass("close", "", 2.0, 1.0)


def value(name: str, estimate: float, u: float) -> Value:
    return Value(name, "", 0, (Place("", estimate, (Component("read", u),)),))


def compare(rows: list[tuple[str, float, float, float, float]], ratio: float = 87.1, over: str = "") -> Fidelity:
    """Rows of name, full size, its u, model, its u, in mm."""
    full = [
        FullSize(name, big, u_big, "drawing", "", "for strength" if name == over else "")
        for name, big, u_big, *_ in rows
    ]
    measured = {name: value(name, small, u_small) for name, _, _, small, u_small in rows}
    found = fidelity_of(full, measured, ratio, CLOSE)
    assert found is not None
    return found


def test_a_deviation_in_three_ways() -> None:
    [each] = compare([("length", 12192.0, 25.4, 141.0, 0.02)]).compared
    assert each.nominal == pytest.approx(12192 / 87.1)
    assert each.deviation == pytest.approx(141 - 12192 / 87.1)
    assert each.scale_inches(87.1) == pytest.approx((141 * 87.1 - 12192) / 25.4)
    assert each.percent == pytest.approx(100 * (141 * 87.1 / 12192 - 1))
    assert each.u_deviation == pytest.approx(np.hypot(0.02, 25.4 / 87.1))


def test_the_greater_tolerance_of_a_class_counts() -> None:
    assert CLOSE.allows(100.0, 87.1) == pytest.approx(1.0)
    assert CLOSE.allows(10.0, 87.1) == pytest.approx(2 * 25.4 / 87.1)


def test_a_model_off_scale_is_told_from_one_wrong_dimension() -> None:
    full = [("length", 12192.0), ("width", 2900.0), ("height", 4200.0), ("door", 1829.0), ("centers", 9400.0)]
    whole = compare([(name, big, 5.0, big / 87.1 * 1.02, 0.02) for name, big in full])
    assert whole.scale is not None
    assert whole.scale.told
    assert whole.scale.factor == pytest.approx(1.02, abs=1e-6)
    assert max(abs(each.local) for each in whole.compared) < 1e-9
    one = compare([(name, big, 5.0, big / 87.1 + (1.5 if name == "height" else 0), 0.02) for name, big in full])
    assert one.scale is not None
    assert not one.scale.told  # the scatter widens it
    worst = max(one.compared, key=lambda each: abs(each.local))
    assert worst.full.name == "height"


def test_the_regression_is_that_of_least_squares() -> None:
    rng = random.Random(7)
    for _ in range(20):
        x = [rng.uniform(1, 100) for _ in range(6)]
        u = [rng.uniform(0.05, 0.5) for _ in range(6)]
        y = [1.01 * a + rng.gauss(0, s) for a, s in zip(x, u, strict=True)]
        w = 1 / np.array(u)
        slope, residual, _, _ = np.linalg.lstsq((np.array(x) * w)[:, None], np.array(y) * w)
        found, u_found, chi2 = through_origin(x, y, u)
        assert found == pytest.approx(float(slope[0]), rel=1e-12)
        assert chi2 == pytest.approx(float(residual[0]), rel=1e-9)
        assert u_found == pytest.approx(float(1 / np.linalg.norm(np.array(x) * w)))


def test_what_is_left_of_a_dimension_has_less_uncertainty_than_it() -> None:
    found = compare([("length", 12192.0, 20.0, 140.0, 0.02), ("width", 2900.0, 20.0, 33.3, 0.02)])
    for each in found.compared:
        assert 0 <= each.u_local < each.u_deviation
    # n = 2 points and one fitted factor leave one degree of freedom: Σ u_local²/u² = n − 1
    assert sum((each.u_local / each.u_deviation) ** 2 for each in found.compared) == pytest.approx(1.0)


def test_over_scale_for_strength_is_left_out_of_the_scale_and_of_the_faults() -> None:
    rows = [
        ("length", 12192.0, 5.0, 139.98, 0.02),
        ("grab iron", 19.0, 0.5, 0.45, 0.01),
        ("width", 2900.0, 5.0, 33.3, 0.02),
    ]
    found = compare(rows, over="grab iron")
    assert [each.full.name for each in found.compared] == ["length", "width"]
    assert [each.full.name for each in found.over_scale] == ["grab iron"]
    assert found.scale is not None
    assert found.scale.dof == 1


def test_one_dimension_cannot_tell_the_scale() -> None:
    assert compare([("length", 12192.0, 5.0, 139.98, 0.02)]).scale is None


def test_what_was_not_measured_is_listed() -> None:
    found = fidelity_of([FullSize("length", 12192.0, 5.0, "drawing", "")], {}, 87.1, CLOSE)
    assert found is not None
    assert [full.name for full in found.unmeasured] == ["length"]
    assert fidelity_of([], {}, 87.1, CLOSE) is None


def test_a_regression_needs_points() -> None:
    with pytest.raises(ValueError, match="a regression needs points with x other than zero"):
        through_origin([0.0], [1.0], [1.0])
