"""The limits of a clause for one car: figures as printed, or formulas over its geometry."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from carwright.errors import TableError
from carwright.history import History
from carwright.measure import Input, Value, propagate
from carwright.tables import Clause, Limit, Source
from carwright.units import Kind, inside, outside

MEASURED_GEOMETRY = {
    "body_length": "body.length",
    "body_width": "body.width",
    "length_over_buffers": "body.over_buffers",
}
"""Geometry that a reading can stand in for."""


@dataclass(frozen=True, slots=True)
class Limits:
    """A clause for one car, in the inside unit.

    Attributes
    ----------
    nominal, lower, upper : float or None
        None where the clause sets none, or where geometry is missing.
    u : float
        Standard uncertainty they share, from measured geometry.
    sources : tuple of (side, Source)
        Where each side comes from.
    missing : tuple[str, ...]
        Geometry the sheet does not give.
    """

    nominal: float | None
    lower: float | None
    upper: float | None
    u: float
    sources: tuple[tuple[str, Source], ...]
    missing: tuple[str, ...]

    @property
    def bounded(self) -> bool:
        """Whether there is any limit to judge by."""
        return self.lower is not None or self.upper is not None


def resolve(clause: Clause, history: History, values: Mapping[tuple[str, str], Value]) -> Limits:
    """Compute a clause's limits.

    Parameters
    ----------
    clause : Clause
        With figures or formulas.
    history : History
        For geometry and scale.
    values : mapping
        For geometry that was measured instead of stated.

    Returns
    -------
    Limits
        A tolerance gives limits about its nominal; one side's own limit goes before it.
    """
    known = {name: Input(length, 0.0) for name, length in history.geometry.items()}
    for name, what in MEASURED_GEOMETRY.items():
        value = values.get((what, ""))
        if name not in known and value is not None and value.places:
            known[name] = Input(value.places[0].estimate, value.places[0].u, value.places[0].dof)
    found: dict[str, float] = {}
    missing: list[str] = []
    u = 0.0
    for side in ("nominal", "lower", "upper", "plus", "minus"):
        limit: Limit | None = getattr(clause, side)
        if limit is None or clause.kind is None:
            continue
        if limit.formula is None:
            found[side] = limit.value if limit.value is not None else 0.0
            continue
        absent = [name for name in limit.formula.given if name not in known]
        if absent:
            missing += absent
            continue
        found[side], spread = _compute(limit, clause.kind, known, history.scale.ratio)
        u = max(u, spread)
    nominal = found.get("nominal")
    lower, upper = found.get("lower"), found.get("upper")
    if nominal is not None and "minus" in found and lower is None:
        lower = nominal - found["minus"]
    if nominal is not None and "plus" in found and upper is None:
        upper = nominal + found["plus"]
    sources = tuple(
        (side, limit.source)
        for side in ("nominal", "lower", "upper", "plus", "minus")
        if (limit := getattr(clause, side)) is not None
    )
    return Limits(nominal, lower, upper, u, sources, tuple(dict.fromkeys(missing)))


def _compute(limit: Limit, kind: Kind, known: Mapping[str, Input], ratio: float) -> tuple[float, float]:
    """A formula's value and standard uncertainty [inside unit]."""
    formula = limit.formula
    if formula is None:
        msg = "a limit is a figure or a formula"
        raise TypeError(msg)
    names = list(formula.given)
    constants = {**limit.constants, "ratio": ratio}

    def value(lengths: object) -> float:
        given = {
            name: outside(length, "length", formula.given[name])
            for name, length in zip(names, lengths, strict=True)  # type: ignore[call-overload]
        }
        return inside(formula({**constants, **given}), kind, formula.unit)

    try:
        result = propagate(value, [known[name] for name in names])
    except (ZeroDivisionError, OverflowError) as error:
        raise TableError(f"formula {formula.expression!r}", f"cannot be computed for this car: {error}") from error
    if not math.isfinite(result.estimate):
        raise TableError(f"formula {formula.expression!r}", "gives no number for this car")
    return result.estimate, result.u
