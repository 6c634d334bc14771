"""Table files are pinned: rows and sums, so that an altered cell turns a test red."""

from __future__ import annotations

import math
import zlib

import pytest

from carwright.inspection import words_of
from carwright.tables import load_rules, shipped

EXPECTED: dict[str, tuple[int, int, float, int]] = {
    "british": (25, 81, 2801.05, 3243127352),
    "cfr/231.31": (3, 6, 147.0, 751279552),
    "cfr/231.31-scaled": (35, 70, 2004.0, 835426148),
    "cfr/231.31-scaled-nem": (12, 24, 792.0, 825543163),
    "nem/302-2015": (8, 8, 8.54, 2102398707),
    "nem/302-2015-raise": (8, 8, 8.54, 2102398707),
    "nem/303-2015": (12, 79, 1849.7, 825543163),
    "nem/310-1977": (6, 72, 692.3, 1329201255),
    "nem/310-2009": (4, 45, 189.0, 3710659104),
    "nem/310-311-2002": (1, 1, 1.2, 492838426),
    "nem/310g-2010": (4, 44, 2730.6, 2406788561),
    "nem/311.1-1996": (1, 8, 63.35, 1458177011),
    "nem/360-1994": (4, 8, 33.3, 2022902944),
    "nem/362": (1, 5, 28.05, 2966880008),
    "nmra/rp-20.1": (8, 16, 16.65, 978739353),
    "nmra/rp-25": (8, 64, 2.304, 3239400216),
    "nmra/rp-4": (9, 36, 20.74, 2193915643),
    "nmra/s-2": (1, 1, 0.391, 3859341709),
    "nmra/s-4.1": (8, 87, 62.341, 934105873),
    "nmra/s-4.2": (20, 80, 47.456, 2351004715),
    "nmra/s-4.2-2010": (1, 3, 9.52, 2076683159),
    "nmra/s-4.2-derived": (11, 12, 6.135, 489039748),
    "p87/p87.1": (1, 9, 51.56, 2128390374),
    "scales/nem": (54, 162, 7696.0, 2693111118),
    "scales/nmra": (37, 93, 3109.737, 1711744843),
    "words/characteristics": (33, 104, 15398.262, 4041609333),
    "words/instruments": (11, 11, 66.0, 2620665370),
    "words/looks": (7, 0, 0.0, 438042321),
    "words/cautions": (18, 0, 0.0, 3314800800),
    "words/contributions": (12, 36, 6.82, 2603678107),
    "words/hazards": (9, 0, 0.0, 956343783),
    "words/stock": (9, 18, 11.205, 2884190190),
    "materials/densities": (16, 16, 120.99, 418665764),
    "words/remedies": (30, 167, 2173.39, 3940687216),
    "words/methods": (33, 0, 0.0, 1348862470),
    "fidelity/classes": (3, 6, 10.5, 4120067436),
}
"""Rows, filled cells, the sum of all figures and a checksum of all words of every shipped table."""
RULES: dict[str, tuple[int, float]] = {
    "bench": (277, 311.265265),
    "nem": (512, 11847.9),
    "nmra": (225, 3133.6418),
}
"""Clauses over all scales, and the sum of their limits, of every shipped rule set."""


def pin(table_id: str) -> tuple[int, int, float, int]:
    table = shipped().table(table_id)
    figures = [cell.value for row in table.rows.values() for cell in row.cells.values() if cell.value is not None]
    words = repr([(row.key, sorted(row.words.items()), row.superseded_by) for row in table.rows.values()])
    return len(table.rows), len(figures), round(math.fsum(figures), 6), zlib.crc32(words.encode())


def pin_rules(name: str) -> tuple[int, float]:
    words = words_of(shipped())
    count, limits = 0, []
    for scale in words.scales.values():
        rules = load_rules([name], scale=scale, tables=shipped(), words=words)
        for clause in (*rules.clauses, *rules.older):
            count += 1
            sides = (clause.nominal, clause.lower, clause.upper, clause.plus, clause.minus)
            limits += [side.value for side in sides if side is not None and side.value is not None]
    return count, round(math.fsum(limits), 6)


@pytest.mark.parametrize("table_id", shipped().ids())
def test_a_table_is_as_it_was_checked(table_id: str) -> None:
    assert pin(table_id) == EXPECTED[table_id]


@pytest.mark.parametrize("name", shipped().rule_sets())
def test_a_rule_set_is_as_it_was_checked(name: str) -> None:
    assert pin_rules(name) == RULES[name]


def test_no_table_is_left_out() -> None:
    assert set(EXPECTED) == set(shipped().ids())
    assert set(RULES) == set(shipped().rule_sets())
