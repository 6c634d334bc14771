"""A finding: one clause judged on one value, with every number that went in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from carwright.tables import Source
from carwright.units import Kind

Outcome = Literal["conforms", "fails", "undecided", "not measured"]
OUTCOMES: tuple[Outcome, ...] = ("fails", "undecided", "not measured", "conforms")
"""In the order they are shown."""

Basis = Literal[
    "measured",
    "gauge only",
    "by eye",
    "no limit",
    "needs geometry",
    "nothing read",
    "stale",
    "contradiction",
    "dated rule",
]


@dataclass(frozen=True, slots=True)
class Finding:
    """What one clause says of one place.

    Attributes
    ----------
    clause : str
        Clause id.
    title, characteristic, at : str
        What was judged, and where.
    stage : int
        Stage judged.
    outcome : str
        conforms, fails, undecided or not measured.
    p_conform : float or None
        Probability of conformity; None by eye, by gauge only, or without a limit [-].
    value, u, dof : float or None
        Estimate, standard uncertainty and degrees of freedom, of the worst place [inside unit].
    half_width : float or None
        Half of the interval that holds the value with probability 0.95 [inside unit].
    kind : str or None
        Kind of quantity.
    nominal, lower, upper : float or None
        The clause for this car; None where it sets none [inside unit].
    u_limit : float
        Standard uncertainty of the limits themselves, where they are computed from something measured.
    force, status, rule_set : str
        What the clause may do, what its figure is, and which rule set brought it.
    sources : tuple of (side, Source)
        Of nominal and limits separately.
    basis : str
        How it was judged.
    reason : str
        Why it is not decided or not measured; "" otherwise.
    instruments : tuple[str, ...]
        Instruments used, with the standing of their figures.
    entries : tuple[int, ...]
        Entries of the sheet behind it.
    places : tuple of (name, estimate, u)
        Every place read.
    budget : tuple of (label, u, share)
        Of the worst place.
    n : int
        Readings behind the worst place.
    capable : bool
        False where no value could conform with this uncertainty.
    u_needed : float or None
        Standard uncertainty at which a value could conform.
    excess : float
        How far the estimate lies outside the nearer limit, 0 inside [inside unit].
    superseded_by : str
        The newer edition, where the clause is of an old one.
    derived : str
        How the value was computed, "" where it was read.
    notes : tuple[str, ...]
        What a reader must know of this value.
    clause_note : str
        What a reader must know of the clause.
    grade : str
        Grade of a look.
    cause : str
        What it is charged to, where a room that found it says so; "" otherwise.
    """

    clause: str
    title: str
    characteristic: str
    at: str
    stage: int
    outcome: Outcome
    force: str
    status: str
    rule_set: str
    basis: Basis
    p_conform: float | None = None
    value: float | None = None
    u: float | None = None
    dof: float = math.inf
    half_width: float | None = None
    kind: Kind | None = None
    nominal: float | None = None
    lower: float | None = None
    upper: float | None = None
    u_limit: float = 0.0
    sources: tuple[tuple[str, Source], ...] = ()
    reason: str = ""
    instruments: tuple[str, ...] = ()
    entries: tuple[int, ...] = ()
    places: tuple[tuple[str, float, float], ...] = ()
    budget: tuple[tuple[str, float, float], ...] = ()
    n: int = 0
    capable: bool = True
    u_needed: float | None = None
    excess: float = 0.0
    superseded_by: str = ""
    derived: str = ""
    notes: tuple[str, ...] = ()
    grade: str = ""
    clause_note: str = ""
    cause: str = ""

    @property
    def where(self) -> str:
        """``at A``, ``axle 3``, ``wheel 3L`` or ""."""
        if not self.at:
            return ""
        if self.at == "all":
            return "all axles"
        if self.at[0].isdigit() and self.characteristic.startswith("wheel."):
            return f"wheel {self.at}" if self.at[-1] in "LR" else f"axle {self.at}"
        return f"at {self.at}"

    @property
    def subject(self) -> str:
        """Title with its place."""
        return f"{self.title} {self.where}".strip()
