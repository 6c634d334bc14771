"""Table files are pinned: rows and sums, so that an altered cell turns a test red."""

from __future__ import annotations

import math

import pytest

from carwright.tables import shipped

EXPECTED: dict[str, tuple[int, int, float]] = {
    "british": (25, 81, 2801.05),
    "cfr/231.31": (3, 6, 147.0),
    "cfr/231.31-scaled": (35, 70, 2004.0),
    "cfr/231.31-scaled-nem": (12, 24, 792.0),
    "nem/302-2015": (8, 8, 8.54),
    "nem/302-2015-raise": (8, 8, 8.54),
    "nem/303-2015": (12, 79, 1849.7),
    "nem/310-1977": (6, 72, 692.3),
    "nem/310-2009": (4, 45, 189.0),
    "nem/310-311-2002": (1, 1, 1.2),
    "nem/310g-2010": (4, 44, 2730.6),
    "nem/311.1-1996": (1, 8, 63.35),
    "nem/360-1994": (4, 8, 33.3),
    "nem/362": (1, 5, 28.05),
    "nmra/rp-20.1": (8, 16, 16.65),
    "nmra/rp-25": (8, 64, 2.304),
    "nmra/rp-4": (9, 36, 20.74),
    "nmra/s-2": (1, 1, 0.391),
    "nmra/s-4.1": (8, 87, 62.341),
    "nmra/s-4.2": (20, 80, 47.456),
    "nmra/s-4.2-2010": (1, 3, 9.52),
    "nmra/s-4.2-derived": (11, 12, 6.135),
    "p87/p87.1": (1, 9, 51.56),
    "scales/nem": (54, 162, 7696.0),
    "scales/nmra": (37, 93, 3109.737),
    "words/characteristics": (33, 102, 15316.262),
    "words/instruments": (11, 11, 66.0),
    "words/looks": (7, 0, 0.0),
    "words/remedies": (25, 0, 0.0),
}
"""Rows, filled cells and the sum of all figures of every shipped table."""


def pin(table_id: str) -> tuple[int, int, float]:
    table = shipped().table(table_id)
    figures = [cell.value for row in table.rows.values() for cell in row.cells.values() if cell.value is not None]
    return len(table.rows), len(figures), round(math.fsum(figures), 6)


@pytest.mark.parametrize("table_id", shipped().ids())
def test_a_table_is_as_it_was_checked(table_id: str) -> None:
    assert pin(table_id) == EXPECTED[table_id]


def test_no_table_is_left_out() -> None:
    assert set(EXPECTED) == set(shipped().ids())
