"""Status of a car: what may be done with it now, and why."""

from __future__ import annotations

from collections.abc import Iterable

STATUSES = ("in service", "restricted", "held for work", "bad order")
"""Mildest first."""
STATUS_MARKS = {"in service": "●", "restricted": "◇", "held for work": "○", "bad order": "✕"}
"""Status as a shape; the word always stands beside it."""
RESTRICTED = STATUSES[1]
"""Fit to run, and only where it is said to."""


def worst(statuses: Iterable[str]) -> str:
    """The most severe of several; ``in service`` where there is none."""
    return max(statuses, key=STATUSES.index, default=STATUSES[0])
