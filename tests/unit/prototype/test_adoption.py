"""Adoption curves: between 0 and 1, adding up, and where the rules put them."""

from __future__ import annotations

import numpy as np
import pytest

from carwright.dates import month_of
from carwright.prototype.book import Book
from carwright.prototype.shares import Curves
from carwright.tables.dated_model import Dated

MONTHS = np.arange(month_of(1850, 1), month_of(2027, 1))
KINDS = ("box", "refrigerator", "stock", "tank", "flat", "covered hopper", "")


def share(
    dated: Dated, feature: str, date: tuple[int, int], *, kind: str = "box", built: int = 0, shown: str = ""
) -> float:
    group = dated.group_of[feature]
    found = Curves(Book(dated, kind), MONTHS).group(group, frozenset(shown.split()))
    row = int(np.searchsorted(found.breaks, built, side="right"))
    return float(found.shares[row, found.features.index(feature), month_of(*date) - MONTHS[0]])


@pytest.mark.parametrize("kind", KINDS)
def test_shares_of_a_group_never_exceed_all_cars(dated: Dated, kind: str) -> None:
    curves = Curves(Book(dated, kind), MONTHS)
    for group in dated.groups.values():
        shares = curves.group(group, frozenset()).shares
        assert shares.min() >= 0.0, group.id
        total = shares.sum(axis=1)
        assert total.max() <= 1 + 1e-12, group.id
        if group.one and (not group.types or not kind or kind in group.types):
            assert total.min() >= 1 - 1e-12, group.id


@pytest.mark.parametrize(
    ("feature", "date", "counted"),
    [
        ("bearing.roller", (1958, 12), 0.02),
        ("wheel.cast-iron", (1948, 1), 0.85),
        ("truck.arch-bar", (1937, 6), 0.17),
        ("sheathing.wood", (1950, 1), 0.29),
        ("sheathing.wood", (1954, 12), 0.18),
        ("aci-label", (1971, 6), 0.91),
    ],
)
def test_counted_shares_stand(dated: Dated, feature: str, date: tuple[int, int], counted: float) -> None:
    assert share(dated, feature, date) == pytest.approx(counted)


def test_nothing_is_there_before_its_first_sighting(dated: Dated) -> None:
    assert share(dated, "brake.AB", (1924, 12)) == 0.0
    assert share(dated, "brake.AB", (1930, 1)) > 0.0
    assert share(dated, "reflectors.sheeting", (2005, 10)) == 0.0


def test_a_ban_leaves_exceptions_that_fade(dated: Dated) -> None:
    before, after, later = (share(dated, "brake.K", date) for date in ((1953, 6), (1953, 7), (1963, 7)))
    assert before > 0.3
    assert after < 0.03
    assert later < after / 2


def test_cars_built_under_a_rule_show_it(dated: Dated) -> None:
    new, old = month_of(1940, 1), month_of(1930, 1)
    assert share(dated, "brake.AB", (1945, 1), built=new) == pytest.approx(0.98)
    assert share(dated, "brake.AB", (1945, 1), built=old) < 0.6
    assert share(dated, "running-board.none", (1970, 1), built=month_of(1968, 1)) > 0.85
    assert share(dated, "reflectors.sheeting", (2010, 1), built=month_of(2008, 1)) == pytest.approx(0.99)


def test_conditions_choose_the_rules(dated: Dated) -> None:
    assert share(dated, "running-board.none", (1965, 6)) == 0.0
    assert share(dated, "running-board.none", (1965, 6), shown="excess-height") > 0.0


def test_what_nobody_asks_for_any_longer_halves_in_five_years(dated: Dated) -> None:
    first, then = share(dated, "aci-label", (1990, 1)), share(dated, "aci-label", (1995, 1))
    assert then == pytest.approx(first / 2, rel=1e-6)
