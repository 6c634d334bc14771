"""A slice of the dating study: enough to catch a break; docs/studies/dating.md has the whole of it."""

from __future__ import annotations

import pytest
from dating_study import CASES, LEVELS, study_case

PHOTOS = 2500


def test_intervals_hold_the_month_as_often_as_they_say() -> None:
    found = study_case(CASES[0], PHOTOS)
    for level in LEVELS:
        assert abs(found.hits[level] - found.expected[level]) <= 3 * found.spread[level], level
        assert found.expected[level] >= level * PHOTOS
    assert found.p_uniform > 0.001


@pytest.mark.parametrize("case", CASES[1:])
def test_false_features_and_a_wrong_prior_cost_little_coverage(case: str) -> None:
    found = study_case(case, 1000)
    assert found.hits[0.95] / found.photos > 0.91
    assert found.hits[0.8] / found.photos > 0.74


def test_more_false_features_bring_more_warnings() -> None:
    clean, spoilt = (study_case(case, 1000) for case in CASES[:2])
    assert spoilt.warned > clean.warned
