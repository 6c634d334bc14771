"""A slice of the plan study: enough to catch a break; the study's page in docs/studies has the whole of it."""

from __future__ import annotations

from functools import lru_cache

import pytest
from plan_study import Result, page, study

CARS, PER_CAR, ENOUGH = 260, 14, 40


@lru_cache(maxsize=1)
def results() -> dict[str, Result]:
    """Open and closed predictions of few cars."""
    return {result.kind: result for result in study(count=CARS, per_car=PER_CAR)}


@pytest.mark.parametrize("kind", ["open", "closed"])
def test_what_is_predicted_comes_as_often_as_predicted(kind: str) -> None:
    found = results()[kind]
    assert found.count > 700
    assert abs(found.z) < 3
    assert abs(found.z_cars) < 3
    assert abs(found.z_whole) < 3


@pytest.mark.parametrize("kind", ["open", "closed"])
def test_every_tenth_of_the_scale_is_reliable(kind: str) -> None:
    filled = [each for each in results()[kind].bins if each.count >= ENOUGH]
    assert len(filled) >= 6
    for each in filled:
        assert abs(each.came - each.predicted) <= 0.03 + 3 * each.error


def test_the_page_has_both_kinds_and_every_bin() -> None:
    found = results()
    text = page(list(found.values()))
    for result in found.values():
        assert f"{result.kind.capitalize()}, world" in text
        assert all(f"| {each.count:,} | {each.predicted:.4f} | {each.came:.4f} |" in text for each in result.bins)
