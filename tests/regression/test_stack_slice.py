"""A slice of the stack study: enough to catch a break; the study's page in docs/studies has the whole of it."""

from __future__ import annotations

import math
from functools import lru_cache

import pytest
from stack_study import ALL_MEASURED, NO_FRAME, WORLDS, Result, Row, droop_interval, page, study

KNOWN, ELSEWHERE = 400, 80
KINDS = (
    "wheel.diameter",
    "truck.ride at its own end",
    "truck.ride at the far end",
    "frame.bolster at its own end",
    "frame.bolster at the far end",
    "box.position at its own end",
    "shank.offset at its own end",
    "coupler.droop, cut at zero",
    "coupler.droop, share ± 1.96 u",
    "causes not told apart, as one",
)
FRAME = ("frame.bow", "frame.kink", "the frame, bow and kink together")
BIASED = "height gauges off by three calibration u"


@lru_cache(maxsize=1)
def results() -> dict[str, Result]:
    """Every world, few cars of each."""
    return {result.world.name: result for result in study(known=KNOWN, elsewhere=ELSEWHERE)}


def row(world: str, kind: str) -> Row:
    """One row of a world."""
    return next(each for each in results()[world].rows if each.kind == kind)


def slack(cars: int) -> float:
    """Two and a half standard errors; shares of one car are taken as one."""
    return 2.5 * math.sqrt(0.95 * 0.05 / cars)


@pytest.mark.parametrize("kind", KINDS)
def test_shares_of_cars_from_the_prior_hold_the_truth_94_to_96_times_in_100(kind: str) -> None:
    found = row(WORLDS[0].name, kind)
    assert found.count > 400
    assert 0.94 - slack(KNOWN) <= found.held <= 0.96 + slack(KNOWN)


@pytest.mark.parametrize("kind", ["frame.bow", "frame.kink"])
def test_bow_and_kink_of_cars_from_the_prior_hold_the_truth_94_to_96_times_in_100(kind: str) -> None:
    found = row(WORLDS[0].name, kind)
    assert 0.94 - slack(KNOWN) <= found.held <= 0.96 + slack(KNOWN)


def test_the_frame_as_one_holds_the_truth_at_least_90_times_in_100() -> None:
    found = row(WORLDS[0].name, "the frame, bow and kink together")
    assert found.measured > 60
    assert 0.94 - slack(KNOWN) <= found.held <= 0.96 + slack(KNOWN)


def test_residuals_of_cars_from_the_prior_are_uniform_and_few_cars_are_flagged() -> None:
    found = results()[WORLDS[0].name]
    assert found.uniform > 0.001
    assert 0.005 < found.flagged / found.cars < 0.07


def test_spreads_twice_or_half_the_prior_show_in_the_residuals() -> None:
    wide, narrow = results()["spreads twice the prior's"], results()["spreads half the prior's"]
    assert wide.flagged / wide.cars > 0.4
    assert narrow.flagged / narrow.cars < 0.03


@pytest.mark.parametrize("world", [world.name for world in WORLDS if world.name != BIASED])
def test_measured_shares_beside_the_frame_hold_in_every_world_unless_the_car_is_flagged(world: str) -> None:
    found = row(world, NO_FRAME)
    assert found.plain > 15
    assert found.plain_held >= 0.90 - 2.5 * math.sqrt(0.9 * 0.1 / (results()[world].cars - results()[world].flagged))


@pytest.mark.parametrize("kind", ["wheel.diameter", "shank.offset at its own end", "coupler.droop, cut at zero"])
def test_a_biased_gauge_moves_no_share_that_needs_no_height_over_the_rail(kind: str) -> None:
    assert row(BIASED, kind).measured_held >= 0.90 - slack(ELSEWHERE)


def test_a_cut_normal_gives_back_its_own_quantiles() -> None:
    # half-normal, s = 1: mean √(2/π), variance 1 − 2/π, quantiles Φ⁻¹(0.5125) and Φ⁻¹(0.9875) by definition
    low, high = droop_interval(math.sqrt(2 / math.pi), math.sqrt(1 - 2 / math.pi))
    assert low == pytest.approx(0.031338, abs=2e-5)
    assert high == pytest.approx(2.241403, abs=2e-4)
    assert droop_interval(10.0, 0.1) == pytest.approx((9.804004, 10.195996), abs=1e-4)


def test_the_page_has_every_world_and_kind() -> None:
    text = page(list(results().values()))
    for world, result in results().items():
        assert world[1:] in text
        assert f"{result.cars:,} cars, {result.flagged:,} flagged" in text
    assert text.count(f"| {ALL_MEASURED} |") == len(WORLDS)
