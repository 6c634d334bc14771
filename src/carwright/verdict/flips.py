"""What would flip the verdict: which prior, stretched how far, or which limit, moved how far."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from carwright.explain.records import Explanation
from carwright.judge import Finding
from carwright.measure.distributions import normal_cdf, student_cdf
from carwright.units import System, outside, shown_unit
from carwright.verdict.causes import faults_of
from carwright.verdict.charges import Charge
from carwright.verdict.rubric import Rubric

FACTORS = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0)
"""How far a prior's spread is stretched or shrunk, nearest first [-]."""
_HALVINGS = 60


@dataclass(frozen=True, slots=True)
class Flip:
    """One change that would flip something.

    Attributes
    ----------
    kind : str
        ``prior`` or ``limit``.
    name : str
        Contribution, or clause with its place.
    factor : float
        What the prior's spread is multiplied by, 0 for a limit [-].
    shift : float
        How far the nearer limit would move, + upward, 0 for a prior [inside unit].
    effect : str
        What would then be so.
    nearness : float
        How small a change it is, for ranking: smaller is nearer [-].
    words : str
        The change in words.
    """

    kind: str
    name: str
    factor: float
    shift: float
    effect: str
    nearness: float
    words: str


def prior_flips(
    charges: Sequence[Charge],
    explanation: Explanation,
    names: Iterable[str],
    again: Callable[[str, float], Explanation],
) -> Iterator[Flip]:
    """For each prior the nearest stretch or shrinkage that changes which causes are charged.

    Parameters
    ----------
    charges : sequence of Charge
        Of the car as received, by finding.
    explanation : Explanation
        Of the car as received.
    names : iterable of str
        Contributions.
    again : callable
        Explanation with one contribution's spread multiplied by a factor.
    """
    failing = [charge.findings[0] for charge in charges if charge.findings[0].characteristic == "coupler.height"]
    failing = [finding for finding in failing if finding.outcome == "fails" and explanation.of(finding.at) is not None]
    if not failing:
        return
    now = faults_of(failing, explanation)
    for name in names:
        for factor in FACTORS:
            nearest = None
            for stretched in (factor, 1 / factor):
                then = faults_of(failing, again(name, stretched))
                if then != now:
                    causes = (
                        " and ".join(cause + (f" at {at}" if at else "") for cause, at in then.names) or "no few causes"
                    )
                    settled = "settled" if then.settled else "not settled"
                    nearest = (stretched, f"charged: {causes}, {settled}")
                    break
            if nearest is not None:
                stretched, effect = nearest
                words = f"spread of {name} × {factor:g}" if stretched > 1 else f"spread of {name} ÷ {factor:g}"
                yield Flip("prior", name, stretched, 0.0, effect, factor - 1, words)
                break


def _nearest_flip(finding: Finding, sign: float, rubric: Rubric) -> tuple[float, str] | None:
    """How far the limit on one side must move, + wider, for another outcome; None where it could not bring one.

    The state is taken as a t with the finding's degrees of freedom that has its 95 % interval.
    """
    value, half = finding.value or 0.0, finding.half_width or 0.0
    dof = finding.dof if math.isfinite(finding.dof) else _MANY
    scale = half / _quantile(dof)

    def chance(shift: float) -> float:
        upper = finding.upper + (shift if sign > 0 else 0.0) if finding.upper is not None else math.inf
        lower = finding.lower - (shift if sign < 0 else 0.0) if finding.lower is not None else -math.inf
        return _below(upper - value, scale, dof) - _below(lower - value, scale, dof)

    def crossing(wanted: float, low: float, high: float) -> float | None:
        if not chance(low) <= wanted <= chance(high):
            return None
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if chance(middle) >= wanted else (middle, high)
        return high

    reach = 40 * half + 2 * finding.excess
    edges = {
        "conforms": [("undecided", rubric.thresholds.conform, -reach, 0.0)],
        "fails": [("undecided", rubric.thresholds.fail, 0.0, reach)],
    }.get(
        finding.outcome,
        [("conforms", rubric.thresholds.conform, 0.0, reach), ("fails", rubric.thresholds.fail, -reach, 0.0)],
    )
    found = [(shift, then) for then, wanted, low, high in edges if (shift := crossing(wanted, low, high)) is not None]
    return min(found, key=lambda each: abs(each[0])) if found else None


_MANY = 1e4
"""Degrees of freedom from which a t is a normal [-]."""


def _below(distance: float, scale: float, dof: float) -> float:
    if math.isinf(distance):
        return 1.0 if distance > 0 else 0.0
    return student_cdf(distance / scale, dof) if dof < _MANY else normal_cdf(distance / scale)


@lru_cache(maxsize=64)
def _quantile(dof: float) -> float:
    """0.975 quantile of a t, by bisection [-]."""
    low, high = 0.0, 50.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _below(middle, 1.0, dof) < 0.975 else (low, middle)  # noqa: PLR2004
    return high


def _listed(names: Iterable[tuple[str, str]]) -> str:
    return " and ".join(cause + (f" at {at}" if at else "") for cause, at in names) or "no few causes"


def limit_flips(findings: Iterable[Finding], rubric: Rubric, system: System) -> Iterator[Flip]:
    """For each measured finding that may cost points how far its nearer limit would have to move."""
    for finding in findings:
        kind = finding.kind
        if finding.force not in rubric.charges or finding.value is None or finding.half_width is None or kind is None:
            continue
        sides = [
            (abs(limit - finding.value), sign, limit)
            for sign, limit in ((1.0, finding.upper), (-1.0, finding.lower))
            if limit is not None
        ]
        if not sides or finding.outcome == "not measured":
            continue
        _, sign, limit = min(sides)
        flipped = _nearest_flip(finding, sign, rubric)
        if flipped is None:
            continue
        shift, then = flipped
        both = finding.upper is not None and finding.lower is not None
        span = ((finding.upper or 0.0) - (finding.lower or 0.0)) / 2 if both else abs(limit)
        unit = shown_unit(kind, system)
        amount = f"{outside(abs(shift), kind, unit):.2g} {unit}"
        way = "wider" if shift > 0 else "tighter"
        yield Flip(
            "limit", f"{finding.clause} {finding.at}".strip(), 0.0, sign * shift, f"{finding.subject} {then}",
            abs(shift) / span if span else 1.0, f"limit of {finding.subject} {amount} {way}",
        )  # fmt: skip
