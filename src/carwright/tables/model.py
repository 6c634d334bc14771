"""What a table holds: cells that know where they come from, and the clauses made of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from carwright.tables.formula import Formula
from carwright.units import Kind

STATUSES = ("standard", "handbook", "derived", "common practice", "memory", "measured here", "judgement")
"""What a figure is."""
CONFIDENCES = ("text", "second-hand", "derived", "memory", "own")
"""How it was seen: in the document, quoted by others, computed, remembered, or ours."""
FORCES = ("standard", "recommended", "regulation-derived", "derived", "adopted", "practice", "memory")
"""What a clause may do; which of them cost points is the rubric's."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from.

    Attributes
    ----------
    key : str
        Row of the bibliography.
    edition, locator : str
        Which issue, and where in it.
    status : str
        One of :data:`STATUSES`.
    confidence : str
        One of :data:`CONFIDENCES`.
    """

    key: str
    edition: str
    locator: str
    status: str
    confidence: str

    def sentence(self) -> str:
        """``nmra-s-4.2, limits edition, table of limits, row HO (standard; text)``."""
        return f"{self.key}, {self.edition}, {self.locator} ({self.status}; {self.confidence})"


@dataclass(frozen=True, slots=True)
class Column:
    """A declared column: its unit, its meaning and, for a requirement, what it limits."""

    name: str
    unit: str
    meaning: str
    characteristic: str = ""
    limit: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One figure, or the reason why there is none."""

    value: float | None
    unit: str
    source: Source
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Rival:
    """A disagreeing figure kept beside a cell."""

    row: str
    column: str
    value: float
    source: Source
    note: str


@dataclass(frozen=True, slots=True)
class Row:
    """A named row: cells, words and notes."""

    key: str
    cells: Mapping[str, Cell]
    words: Mapping[str, str]
    source: Source
    note: str = ""
    superseded_by: str = ""


@dataclass(frozen=True, slots=True)
class TableFormula:
    """A limit computed from a row's cells and the car's geometry."""

    characteristic: str
    limit: str
    formula: Formula


@dataclass(frozen=True, slots=True)
class Table:
    """One file of facts."""

    id: str
    title: str
    key: str
    columns: Mapping[str, Column]
    rows: Mapping[str, Row]
    source: Source
    note: str = ""
    superseded_by: str = ""
    force: str = ""
    applies: Mapping[str, str] = field(default_factory=dict)
    formulas: tuple[TableFormula, ...] = ()
    rivals: tuple[Rival, ...] = ()


@dataclass(frozen=True, slots=True)
class Limit:
    """One side of a clause: a figure, or a formula over the car's geometry, with its own source.

    Attributes
    ----------
    value : float or None
        In the inside unit; None for a formula.
    formula : Formula or None
        Computed when the car is known.
    constants : mapping
        Row cells the formula names, as printed.
    source : Source
        Where this side comes from.
    """

    value: float | None
    formula: Formula | None
    constants: Mapping[str, float]
    source: Source


@dataclass(frozen=True, slots=True)
class Clause:
    """One requirement for a scale.

    Attributes
    ----------
    id : str
        Body, sheet, scale and what: ``nmra/s-4.2/HO/wheel.back_to_back``.
    characteristic : str
        What it is about.
    kind : str or None
        Kind of quantity limited.
    nominal, lower, upper, plus, minus : Limit or None
        ``plus`` and ``minus`` are tolerances about the nominal.
    force : str
        One of :data:`FORCES`.
    source : Source
        Of the clause as a whole.
    rule_set : str
        Which rule set brought it.
    superseded_by : str
        The newer edition, where this is an old one.
    applies : mapping
        Car properties that must hold, such as ``coupler = "knuckle"``.
    note : str
        What a reader must know.
    """

    id: str
    characteristic: str
    kind: Kind | None
    nominal: Limit | None
    lower: Limit | None
    upper: Limit | None
    plus: Limit | None
    minus: Limit | None
    force: str
    source: Source
    rule_set: str
    superseded_by: str = ""
    applies: Mapping[str, str] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Clauses that go together for one scale."""

    id: str
    title: str
    clauses: tuple[Clause, ...]
    older: tuple[Clause, ...]
    replaces: tuple[str, ...]
