"""The prototype record: rivals side by side, and how many cars there were."""

from __future__ import annotations

import math

import pytest

from carwright.history import Statement
from carwright.prototype.record import quantity_of, record_of


def said(what: str, value: str, trust: float | None = None, source: str = "") -> Statement:
    return Statement(what, value, source, trust)


def test_rivals_stand_side_by_side_most_trusted_first() -> None:
    record = record_of(
        [said("builder", "Sedge Works", 0.4, "a list"), said("builder", "Otter Shops", 0.9, "builder list")]
    )
    fact = record.of("builder")
    assert fact is not None
    assert [claim.value for claim in fact.claims] == ["Otter Shops", "Sedge Works"]
    assert fact.best.source == "builder list"
    assert not fact.agreed
    assert record.notes == ("sources differ on builder: Otter Shops (builder list); Sedge Works (a list)",)


def test_claims_that_say_the_same_agree() -> None:
    fact = record_of([said("owner", "Tansy  River"), said("owner", "tansy river")]).of("owner")
    assert fact is not None
    assert fact.agreed
    assert record_of([]).of("owner") is None


@pytest.mark.parametrize(
    ("claims", "mean", "u", "low", "high"),
    [
        ([("500", 0.8)], 500, 0, 500, 500),
        # two claims by their trust: mean = (8·500 + 2·490)/10, variance = 0.8·0.2·10²
        ([("500", 0.8), ("490", 0.2)], 498, 4, 490, 500),
        # an even range of 21 numbers: variance (21² − 1)/12
        ([("480..500", 1.0)], 490, math.sqrt(440 / 12), 480, 500),
        ([("about 1,000 cars", 1.0)], 1000, 50, 1000, 1000),
        ([("some", 1.0), ("200", 0.5)], 200, 0, 200, 200),
    ],
)
def test_the_quantity_is_a_mixture_of_claims(
    claims: list[tuple[str, float]], mean: float, u: float, low: int, high: int
) -> None:
    found = quantity_of([said("quantity", value, trust) for value, trust in claims])
    assert found is not None
    assert (found.estimate, found.u) == pytest.approx((mean, u))
    assert (found.low, found.high) == (low, high)


def test_a_quantity_nobody_counts_is_none_and_said() -> None:
    assert quantity_of([said("quantity", "a few"), said("quantity", "500..480")]) is None
    assert quantity_of([said("quantity", text) for text in (",", "1..,", "9" * 400)]) is None
    record = record_of([said("quantity", "a few")])
    assert record.quantity is None
    assert "no claim of the quantity is a number of cars" in record.notes[0]
