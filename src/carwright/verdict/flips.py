"""What would flip the verdict: which prior, stretched how far, or which limit, moved how far."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from carwright.explain.records import Explanation
from carwright.judge import Finding
from carwright.units import System, outside, shown_unit
from carwright.verdict.causes import faults_of
from carwright.verdict.charges import Charge
from carwright.verdict.rubric import Rubric

FACTORS = (1.25, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0)
"""How far a prior's spread is stretched or shrunk, nearest first [-]."""
_Z = 1.6448536269514722
"""Standard uncertainties at which a one-sided probability is 0.95 [-]."""


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


def _listed(names: Iterable[tuple[str, str]]) -> str:
    return " and ".join(cause + (f" at {at}" if at else "") for cause, at in names) or "no few causes"


def limit_flips(findings: Iterable[Finding], rubric: Rubric, system: System) -> Iterator[Flip]:
    """For each measured finding that may cost points how far its nearer limit would have to move."""
    for finding in findings:
        kind = finding.kind
        if finding.force not in rubric.charges or finding.value is None or finding.half_width is None or kind is None:
            continue
        reach = _Z * finding.half_width / 1.959964
        sides = [
            (abs(limit - finding.value), sign, limit)
            for sign, limit in ((1.0, finding.upper), (-1.0, finding.lower))
            if limit is not None
        ]
        if not sides or finding.outcome == "not measured":
            continue
        _, sign, limit = min(sides)
        inside = sign * (limit - finding.value)
        if finding.outcome == "conforms":
            shift, then = reach - inside, "undecided"
        elif finding.outcome == "fails":
            shift, then = -reach - inside, "undecided"
        else:
            shift, then = min(((reach - inside, "conforms"), (-reach - inside, "fails")), key=lambda each: abs(each[0]))
        both = finding.upper is not None and finding.lower is not None
        span = ((finding.upper or 0.0) - (finding.lower or 0.0)) / 2 if both else abs(limit)
        unit = shown_unit(kind, system)
        amount = f"{outside(abs(shift), kind, unit):.2g} {unit}"
        way = "wider" if shift > 0 else "tighter"
        yield Flip(
            "limit", f"{finding.clause} {finding.at}".strip(), 0.0, sign * shift, f"{finding.subject} {then}",
            abs(shift) / span if span else 1.0, f"limit of {finding.subject} {amount} {way}",
        )  # fmt: skip
