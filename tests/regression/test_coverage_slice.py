"""A slice of the coverage study: enough to catch a break; docs/studies/coverage.md has the whole of it."""

from __future__ import annotations

import math

import pytest
from coverage_study import coverage, instruments

TRIALS = 5000
SLACK = 2 * math.sqrt(0.95 * 0.05 / TRIALS)


@pytest.mark.parametrize("mode", ["preset", "declared"])
@pytest.mark.parametrize("name", sorted(instruments()))
def test_stated_intervals_hold_the_truth_94_to_96_times_in_100(name: str, mode: str) -> None:
    found = coverage(name, mode, TRIALS)
    assert 0.94 - SLACK <= found.held <= 0.96 + SLACK
    assert found.equal > 50
