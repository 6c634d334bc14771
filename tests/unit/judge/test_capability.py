"""What an instrument can decide, as its readings and the limits change."""

from __future__ import annotations

import math

import pytest

from carwright.history import Figures
from carwright.judge.capability import capability_of
from carwright.judge.clauses import Thresholds
from carwright.judge.outlook import MOST_REPEATS

USUAL = Thresholds()


def tool(repeatability: float = 0.05, calibration: float = 0.02, resolution: float = 0.01) -> Figures:
    return Figures("calliper", resolution, calibration, repeatability, 9.0, "declared")


def test_one_reading_has_all_of_the_scatter_and_many_share_it() -> None:
    found = capability_of(tool(), USUAL, lower=0.0, upper=None)
    # Scatter of five steps: no rounding is common to all readings.
    assert found.u_one == pytest.approx(math.hypot(0.02, 0.05), rel=1e-6)
    assert found.u_many == pytest.approx(math.hypot(0.02, 0.05 / math.sqrt(MOST_REPEATS)), rel=1e-6)


@pytest.mark.parametrize("most", [1, 2, 5, 12, 100])
def test_many_is_as_many_as_one_says(most: int) -> None:
    found = capability_of(tool(), USUAL, lower=0.0, upper=None, most=most)
    assert found.u_many == pytest.approx(math.sqrt(0.02**2 + 0.05**2 / most), rel=1e-6)


def test_repeats_never_go_below_what_they_share() -> None:
    found = capability_of(tool(calibration=0.2, repeatability=0.001, resolution=0.5), USUAL, lower=0.0, upper=1.0,
                          most=10**6)  # fmt: skip
    assert found.u_many >= 0.2
    assert found.u_many > math.hypot(0.2, 0.5 / math.sqrt(12) * 0.9)


def test_more_uncertainty_never_decides_more() -> None:
    found = [capability_of(tool(calibration=0.002 * 1.3**step), USUAL, lower=9.0, upper=9.6) for step in range(30)]
    for key in ("u_one", "u_many", "near_one", "near_many"):
        values = [getattr(each, key) for each in found]
        assert values == sorted(values)
        assert values[0] < values[-1]
    for key in ("can_conform", "could_conform"):
        able = [getattr(each, key) for each in found]
        assert able == sorted(able, reverse=True)
        assert (able[0], able[-1]) == (True, False)


def test_many_decide_whatever_one_does() -> None:
    for step in range(60):
        found = capability_of(tool(repeatability=0.01 * 1.1**step), USUAL, lower=9.0, upper=9.6)
        assert found.near_many <= found.near_one
        assert found.could_conform >= found.can_conform


def test_there_are_limits_one_reading_cannot_decide_and_many_can() -> None:
    found = capability_of(tool(repeatability=0.2), USUAL, lower=9.0, upper=9.6)
    assert (found.can_conform, found.could_conform) == (False, True)
    assert found.u_many < found.u_needed < found.u_one


@pytest.mark.parametrize(("lower", "upper"), [(1.0, None), (None, 1.0), (None, None)])
def test_with_less_than_two_limits_something_always_conforms(lower: float | None, upper: float | None) -> None:
    found = capability_of(tool(calibration=1e6), USUAL, lower=lower, upper=upper)
    assert found.can_conform
    assert found.could_conform
    assert found.u_needed == math.inf


@pytest.mark.parametrize(("lower", "upper"), [(1.0, 1.0), (2.0, 1.0)])
def test_between_limits_without_room_nothing_conforms(lower: float, upper: float) -> None:
    found = capability_of(tool(), USUAL, lower=lower, upper=upper)
    assert not found.can_conform
    assert not found.could_conform


def test_where_limits_lie_does_not_matter() -> None:
    here, there = (capability_of(tool(), USUAL, lower=at, upper=at + 0.5) for at in (0.0, 1024.0))
    assert here == there


def test_stricter_thresholds_leave_more_undecided() -> None:
    found = [
        capability_of(tool(), Thresholds(p, 1 - p), lower=0.0, upper=0.5) for p in (0.6, 0.8, 0.9, 0.95, 0.99, 0.999)
    ]
    near = [each.near_one for each in found]
    needed = [each.u_needed for each in found]
    assert near == sorted(near)
    assert needed == sorted(needed, reverse=True)
    assert near[0] < near[-1]
    assert needed[0] > needed[-1]


@pytest.mark.parametrize(("conform", "fail"), [(0.95, 0.2), (0.8, 0.05)])
def test_the_stricter_of_two_thresholds_says_how_near_is_undecided(conform: float, fail: float) -> None:
    both = capability_of(tool(), Thresholds(conform, fail), lower=0.0, upper=None)
    usual = capability_of(tool(), USUAL, lower=0.0, upper=None)
    assert both.near_one == pytest.approx(usual.near_one, rel=1e-9)
