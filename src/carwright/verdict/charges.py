"""What is charged: each fault once, whatever it makes fail.

A finding no model explains is its own cause; findings the rubric gives one cause at one place are charged together, at
the dearest of them. :mod:`carwright.verdict.causes` turns charges of coupler heights into charges of their causes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from carwright.judge import Finding
from carwright.verdict.rubric import ChargeRule, Rubric
from carwright.words import Scale


@dataclass(frozen=True, slots=True)
class Charge:
    """One cause, the findings it makes fail, and what it costs before the category's limit.

    Attributes
    ----------
    cause, at, category : str
        What, where, and under which head.
    points : float
        [points]
    findings : tuple[Finding, ...]
        Dearest first.
    status : str
        Status it brings, "" for none.
    why : str
        How the points were found.
    provisional : bool
        Whether it still hangs on an undecided finding, or on a cause that is not settled.
    because : tuple[str, ...]
        Lines of the chain between finding and cause.
    settled_by : str
        The later reading that settled the cause, "" where none was needed.
    """

    cause: str
    at: str
    category: str
    points: float
    findings: tuple[Finding, ...]
    status: str
    why: str
    provisional: bool = False
    because: tuple[str, ...] = ()
    settled_by: str = ""


def charges_of(findings: Iterable[Finding], rubric: Rubric, scale: Scale) -> list[Charge]:
    """Charges of one stage.

    Parameters
    ----------
    findings : iterable of Finding
        All of them; those that may not cost points are passed over.
    rubric : Rubric
        What costs how much.
    scale : Scale
        For how far is far.

    Returns
    -------
    list of Charge
        In order of category, then dearest first.
    """
    groups: dict[tuple[str, str, str], list[Charge]] = {}
    for finding in findings:
        charge = _single(finding, rubric, scale)
        if charge is not None:
            own = finding.title if finding.grade else finding.characteristic if charge.cause == "unexplained" else ""
            place = finding.at.rstrip("LR") if finding.characteristic.startswith("wheel.") else finding.at
            groups.setdefault((charge.cause, own, place), []).append(charge)
    merged = [_merge(group, place) for (_, _, place), group in groups.items()]
    order = [category.id for category in rubric.categories]
    merged.sort(key=lambda charge: (order.index(charge.category), -charge.points, charge.cause, charge.at))
    return merged


def stake_of(finding: Finding, rubric: Rubric) -> float:
    """Points that hang on a finding: what it would cost at its dearest, 0 where it only informs."""
    rule = rubric.rule_for(finding.characteristic)
    return rule.most if rule is not None and finding.force in rubric.charges else 0.0


def _single(finding: Finding, rubric: Rubric, scale: Scale) -> Charge | None:
    if finding.force not in rubric.charges or finding.outcome in {"conforms", "not measured"}:
        return None
    if finding.grade:
        return _look(finding, rubric)
    rule = rubric.rule_for(finding.characteristic)
    if rule is None or finding.basis == "no limit":
        return None
    cause = finding.cause or rule.cause
    depth = _depth(finding, rule, scale)
    points = rule.least + (rule.most - rule.least) * depth
    why = f"{rule.least:g} just outside to {rule.most:g} far outside, {depth:.0%} of the way"
    if finding.basis == "dated rule":
        why = f"{rule.most:g} for each cause, whatever it makes wrong"
    status = rule.status_far if depth >= 1 and rule.status_far else rule.status
    if finding.outcome == "fails":
        return Charge(cause, finding.at, rule.category, points, (finding,), status, why)
    chance = 0.5 if finding.p_conform is None else 1 - finding.p_conform
    why = f"{why}; undecided: times the probability {chance:.2f} that it is at fault"
    return Charge(cause, finding.at, rule.category, points * chance, (finding,), "", why, provisional=True)


def _look(finding: Finding, rubric: Rubric) -> Charge | None:
    rule = rubric.look_rules.get(finding.characteristic.removeprefix("look."))
    if rule is None:
        return None
    grades = list(rule.points)
    status = rule.status if grades.index(finding.grade) >= grades.index(rule.status_from) else ""
    why = f"graded {finding.grade}"
    points = rule.points[finding.grade]
    return Charge(finding.characteristic, finding.at, rule.category, points, (finding,), status, why)


def points_for(finding: Finding, excess: float, rubric: Rubric, scale: Scale) -> float:
    """What a finding costs where its value lies ``excess`` outside its limit [points]."""
    rule = rubric.rule_for(finding.characteristic)
    if rule is None:
        return 0.0
    return rule.least + (rule.most - rule.least) * _depth(replace(finding, excess=excess), rule, scale)


def _depth(finding: Finding, rule: ChargeRule, scale: Scale) -> float:
    """How far outside, 0 at the limit and 1 at ``far`` or beyond [-]."""
    [(unit, far)] = rule.far.items() if rule.far else [("share", math.inf)]
    if unit == "scale_in":
        span = far * 25.4 / scale.ratio
    elif unit == "percent":
        span = far / 100
    else:
        limits = [abs(side) for side in (finding.lower, finding.upper) if side is not None]
        span = far * min(limits, default=math.inf)
    return min(1.0, finding.excess / span) if span > 0 else 1.0


def _merge(group: Sequence[Charge], place: str) -> Charge:
    """One cause at one place: what is certain goes before what is provisional, the dearest before the rest."""
    ranked = sorted(group, key=lambda charge: (charge.provisional, -charge.points))
    first = ranked[0]
    findings = tuple(finding for charge in ranked for finding in charge.findings)
    return replace(first, at=place, findings=findings)


def further_places(charges: Sequence[Charge], rubric: Rubric) -> list[Charge]:
    """The same cause at a further place costs a share of its charge; what is certain comes before what is not."""
    seen: set[tuple[str, str]] = set()
    result: dict[int, Charge] = {}
    for index, charge in sorted(enumerate(charges), key=lambda pair: (pair[1].provisional, -pair[1].points)):
        key = (charge.cause, charge.findings[0].characteristic if charge.cause == "unexplained" else "")
        if key in seen and not charge.findings[0].grade:
            share = rubric.further_places
            why = f"{charge.why}; a further place: times {share:g}"
            charge = replace(charge, points=charge.points * share, why=why)  # noqa: PLW2901 - the same one, cheaper
        seen.add(key)
        result[index] = charge
    return [result[index] for index in range(len(charges))]
