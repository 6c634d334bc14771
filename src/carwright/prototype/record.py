"""The prototype record: each claim with its source and trust, rivals side by side, and how many cars there were."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from carwright.history.records import Statement

USUAL_TRUST = 0.7
"""Of a claim that states none; judgement [-]."""
ORDER = ("owner", "class", "series", "number", "quantity", "builder", "built", "rebuilt", "repainted", "renumbered",
         "last_seen", "capacity")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fact:
    """Everything said of one thing.

    Attributes
    ----------
    what : str
        ``quantity``.
    claims : tuple[Statement, ...]
        Most trusted first.
    agreed : bool
        Whether all of them say the same.
    """

    what: str
    claims: tuple[Statement, ...]
    agreed: bool

    @property
    def best(self) -> Statement:
        """The most trusted claim; of equals the first written."""
        return self.claims[0]


@dataclass(frozen=True, slots=True)
class Quantity:
    """How many cars were built, from rival claims weighed by their trust.

    Attributes
    ----------
    estimate, u : float
        Mean and standard uncertainty [cars].
    low, high : int
        Least and greatest anybody claims [cars].
    """

    estimate: float
    u: float
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Record:
    """The prototype, as far as it is known."""

    facts: tuple[Fact, ...]
    quantity: Quantity | None
    notes: tuple[str, ...] = ()

    def of(self, what: str) -> Fact | None:
        """Everything said of one thing."""
        return next((fact for fact in self.facts if fact.what == what), None)


def trust_of(statement: Statement) -> float:
    """Trust in a claim, the usual where it states none [-]."""
    return USUAL_TRUST if statement.trust is None else statement.trust


def record_of(statements: Sequence[Statement]) -> Record:
    """The record of a prototype.

    Parameters
    ----------
    statements : sequence of Statement
        Claims in the order they were written.
    """
    facts = []
    notes = []
    for what in ORDER:
        own = [each for each in statements if each.what == what]
        if not own:
            continue
        ranked = tuple(sorted(own, key=lambda each: -trust_of(each)))
        agreed = len({" ".join(each.value.casefold().split()) for each in own}) == 1
        facts.append(Fact(what, ranked, agreed))
        if not agreed:
            rivals = "; ".join(f"{each.value} ({each.source or 'no source given'})" for each in ranked)
            notes.append(f"sources differ on {what.replace('_', ' ')}: {rivals}")
    quantity = next((fact for fact in facts if fact.what == "quantity"), None)
    cars = quantity_of(quantity.claims) if quantity is not None else None
    if quantity is not None and cars is None:
        notes.append("no claim of the quantity is a number of cars, such as 500 or 480..500")
    return Record(tuple(facts), cars, tuple(notes))


_RANGE = re.compile(
    r"(?:(about|circa|ca\.?|c\.)\s*)?(\d[\d,]{0,9})(?:\s*(?:\.\.|to|-|–)\s*(\d[\d,]{0,9}))?(?:\s*cars?)?"
)
ABOUT = 0.05
"""Standard uncertainty of a quantity that is only about right, as a part of it; judgement [-]."""


def quantity_of(claims: Sequence[Statement]) -> Quantity | None:
    """A mixture of the claims by their trust; None where none of them is a number.

    A single number is taken as it stands, a range evenly, ``about 500`` as normal with 5 %.
    """
    parts: list[tuple[float, float, float, int, int]] = []
    for claim in claims:
        found = _RANGE.fullmatch(claim.value.strip().casefold())
        if found is None:
            continue
        low = int(found[2].replace(",", ""))
        high = int(found[3].replace(",", "")) if found[3] else low
        if high < low:
            continue
        variance = ((high - low + 1) ** 2 - 1) / 12.0
        if found[1]:
            variance += (ABOUT * (low + high) / 2) ** 2
        parts.append((trust_of(claim), (low + high) / 2, variance, low, high))
    total = sum(part[0] for part in parts)
    if not parts or total <= 0:
        return None
    mean = sum(weight * middle for weight, middle, *_ in parts) / total
    spread = sum(weight * (variance + (middle - mean) ** 2) for weight, middle, variance, *_ in parts) / total
    return Quantity(mean, math.sqrt(spread), min(part[3] for part in parts), max(part[4] for part in parts))
