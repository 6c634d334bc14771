"""From failing coupler heights to the causes they are charged to: one cause once, however many findings it makes fail.

The causes charged are the fewest whose shares, taken away together, bring every failing height within its limits; of
several such sets the one that leaves least. They are settled where every one of them is measured. Where not, no points
hang on an assumed split: the dearest finding stands, since something is wrong whatever it is, and what a second fault
would cost is provisional.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from carwright.explain.records import Coupler, Explanation, Group, Share
from carwright.judge import Finding
from carwright.units import System, say
from carwright.verdict.charges import Charge, points_for
from carwright.verdict.rubric import Rubric
from carwright.words import Scale

_MOST = 3
"""Causes tried together."""
_SAYS = 0.1
"""A share is named in the chain where it holds this part of the error [-]."""
Name = tuple[str, str]
"""Cause and place."""


@dataclass(frozen=True)
class Faults:
    """The causes of failing heights, and whether they are settled."""

    names: tuple[Name, ...]
    settled: bool


def by_cause(
    charges: Sequence[Charge],
    explanation: Explanation | None,
    rubric: Rubric,
    scale: Scale,
    *,
    system: System = "us",
    earlier: Iterable[tuple[str, Explanation]] = (),
) -> list[Charge]:
    """Charges with those of coupler heights turned into charges of their causes.

    Parameters
    ----------
    charges : sequence of Charge
        Of one stage.
    explanation : Explanation or None
        Of that stage, from the whole history.
    rubric, scale
        What costs how much, and how far is far.
    system : str
        Units of the chains.
    earlier : iterable of (str, Explanation)
        The same from what was known at this stage, "", and after each later entry; asked only as far as it is needed.

    Returns
    -------
    list of Charge
        In the order they came; a cause charged by several findings stands once.
    """
    if explanation is None or not explanation.couplers:
        return list(charges)
    failing = [
        charge
        for charge in charges
        if charge.findings[0].characteristic == "coupler.height"
        and not charge.provisional
        and explanation.of(charge.at) is not None
    ]
    if not failing:
        return list(charges)
    findings = [charge.findings[0] for charge in failing]
    faults = faults_of(findings, explanation)
    certain = faults if faults.settled else Faults(_alone(findings, explanation), settled=False)
    made: list[Charge] = []
    if certain.names:
        by = _settled_by(findings, certain, earlier)
        made = _settled(failing, certain, explanation, rubric, scale, system, by)
    if not faults.settled:
        left = _still_failing(failing, certain, explanation, rubric, scale)
        made += _open(left, faults, explanation, system)
    rest = [charge for charge in charges if charge not in failing]
    return _joined([*made, *rest], explanation, rubric)


def _settled_by(findings: Sequence[Finding], faults: Faults, earlier: Iterable[tuple[str, Explanation]]) -> str:
    """The first entry after which the causes were told as they are now; "" where they were from the start."""
    last = ""
    for entry, explanation in earlier:
        last = entry
        now = faults_of(findings, explanation)
        certain = now if now.settled else Faults(_alone(findings, explanation), settled=False)
        if certain == faults:
            break
    return last


def _alone(findings: Sequence[Finding], explanation: Explanation) -> tuple[Name, ...]:
    """Measured causes each of which alone would put a failing coupler outside its limits, whatever the others do."""
    found: list[Name] = []
    for finding in findings:
        coupler = explanation.of(finding.at)
        if coupler is None or finding.nominal is None:
            continue
        for name, share in _atoms(coupler, _doubt(finding)).items():
            if share.basis != "measured" or name in found:
                continue
            surely = abs(share.share) - _SURE * share.u
            if surely > 0 and _excess(finding.nominal + math.copysign(surely, share.share), finding) > 0:
                found.append(name)
    return tuple(found)


_SURE = 1.645
"""Standard uncertainties a share must exceed a tolerance by to be a fault for certain [-]."""


def _still_failing(
    failing: Sequence[Charge], certain: Faults, explanation: Explanation, rubric: Rubric, scale: Scale
) -> list[Charge]:
    """Heights that would fail even without the causes charged for certain, at what they would still cost."""
    left = []
    for charge in failing:
        finding = charge.findings[0]
        told = [name for name in certain.names if _share_of(explanation, finding, name, told=True)]
        value = (finding.value or 0.0) - sum(_share_of(explanation, finding, name) for name in told)
        excess = _excess(value, finding)
        if excess > 0 or not certain.names:
            points = points_for(finding, excess, rubric, scale) if certain.names else charge.points
            left.append(replace(charge, points=points))
    return left


def faults_of(findings: Sequence[Finding], explanation: Explanation) -> Faults:
    """The fewest causes whose shares, taken away, bring every failing height within its limits."""
    shares = {
        finding.at: _atoms(coupler, _doubt(finding))
        for finding in findings
        if (coupler := explanation.of(finding.at)) is not None
    }
    names = list(dict.fromkeys(name for own in shares.values() for name in own))
    for count in range(1, _MOST + 1):
        curing = []
        for chosen in combinations(names, count):
            left = [_left(finding, shares[finding.at], chosen) for finding in findings if finding.at in shares]
            if all(within for within, _ in left):
                curing.append((sum(off for _, off in left), chosen))
        if curing:
            _, best = min(curing, key=lambda each: each[0])
            return Faults(tuple(best), all(_known(name, shares) for name in best))
    return Faults((), settled=False)


def _atoms(coupler: Coupler, doubt: float) -> dict[Name, Share]:
    """Shares by cause and place; causes whose sum is told but not its split stand as one, under the likeliest.

    Told is what is measured, and what is doubtful by no more than ``doubt`` [mm], or no more than half of what it was
    before any reading, even with beliefs twice as wide: so that a further reading never takes back what was settled.
    """
    found = {
        (share.cause, share.place): replace(share, basis="measured") if _settles(share, doubt) else share
        for share in coupler.shares
        if not share.fixed
    }
    for group in coupler.groups:
        if not group.measured and not _settles(group, doubt):
            continue
        members = [share for share in coupler.shares if share.name in group.names]
        first = next(share for share in members if share.name == group.lead)
        for share in members:
            del found[share.cause, share.place]
        before = max(share.before for share in members)
        found[first.cause, first.place] = replace(first, share=group.share, u=group.u, before=before, basis="measured")
    return found


def _settles(told: Share | Group, doubt: float) -> bool:
    return told.u_loose <= max(doubt, told.before / 2)


_QUARTER = 0.25


def _doubt(finding: Finding) -> float:
    """A quarter of what the limits allow to one side of nominal [mm]."""
    sides = [abs(limit - (finding.nominal or 0.0)) for limit in (finding.lower, finding.upper) if limit is not None]
    return _QUARTER * min(sides, default=0.0)


def _left(finding: Finding, shares: dict[Name, Share], chosen: Iterable[Name]) -> tuple[bool, float]:
    """Whether a height is within its limits without some shares, and how far from nominal it then is."""
    value = (finding.value or 0.0) - sum(shares[name].share for name in chosen if name in shares)
    low = finding.lower if finding.lower is not None else -float("inf")
    high = finding.upper if finding.upper is not None else float("inf")
    return low <= value <= high, abs(value - (finding.nominal or 0.0))


_REACHES = 0.3
"""A cause must be measured at every end it could reach with this part of its greatest spread [-]."""


def _known(name: Name, shares: dict[str, dict[Name, Share]]) -> bool:
    own = [held[name] for held in shares.values() if name in held]
    most = max(share.before for share in own)
    return all(share.basis == "measured" for share in own if share.before >= _REACHES * most)


def _settled(
    failing: Sequence[Charge],
    faults: Faults,
    explanation: Explanation,
    rubric: Rubric,
    scale: Scale,
    system: System,
    settled_by: str,
) -> list[Charge]:
    """One charge a cause, largest first: each at what its findings still cost when the larger causes are gone."""
    made: list[Charge] = []
    gone: list[Name] = []

    def weight(name: Name) -> float:
        return sum(abs(_share_of(explanation, charge.findings[0], name)) for charge in failing)

    for name in sorted(faults.names, key=weight, reverse=True):
        touched = [charge for charge in failing if abs(_share_of(explanation, charge.findings[0], name)) > 0]
        cost = []
        for charge in touched:
            finding = charge.findings[0]
            value = (finding.value or 0.0) - sum(_share_of(explanation, finding, each) for each in gone)
            excess = _excess(value, finding)
            if excess > 0 or not gone:
                cost.append((points_for(finding, excess, rubric, scale), charge))
        if not cost:
            cost = [(points_for(touched[0].findings[0], 0.0, rubric, scale), touched[0])] if touched else []
        if not cost:
            continue
        points, dearest = max(cost, key=lambda each: each[0])
        findings = tuple(charge.findings[0] for _, charge in sorted(cost, key=lambda each: -each[0]))
        lines = tuple(_says(explanation, finding, name, system) for finding in findings)
        gone_words = f" with {' and '.join(each[0] for each in gone)} taken away" if gone else ""
        made.append(
            replace(
                dearest,
                cause=name[0],
                at=name[1],
                points=points,
                findings=findings,
                because=lines,
                why=f"{dearest.why}{gone_words}; one cause, charged once",
                settled_by=settled_by,
            )
        )
        gone.append(name)
    return made


def _open(failing: Sequence[Charge], faults: Faults, explanation: Explanation, system: System) -> list[Charge]:
    """The dearest finding stands; every further one is provisional until the cause is settled."""
    likely = " with ".join(_named(name) for name in faults.names) or "no three causes together"
    made = []
    for rank, charge in enumerate(sorted(failing, key=lambda each: -each.points)):
        coupler = explanation.of(charge.at)
        shares = coupler.shares if coupler is not None else ()
        likeliest = [share for share in shares if (share.cause, share.place) in faults.names] or list(shares)
        tells = [share.tell.words for share in likeliest if share.tell is not None][:3]
        lines = [_says(explanation, charge.findings[0], name, system) for name in faults.names]
        lines.append(f"not settled: likeliest {likely}; to tell, read {', '.join(dict.fromkeys(tells)) or 'more'}")
        why = charge.why
        if rank:
            why += "; one fault or two is not settled"
        made.append(replace(charge, because=tuple(filter(None, lines)), why=why, provisional=rank > 0))
    return made


def _joined(charges: Sequence[Charge], explanation: Explanation, rubric: Rubric) -> list[Charge]:
    """One charge a cause and place; a trip pin that is off only as its coupler is goes with it."""
    kept: dict[tuple[str, str, str], Charge] = {}
    for charge in charges:
        own = charge.findings[0].characteristic if charge.cause == "unexplained" else ""
        key = (charge.cause, charge.at, own or charge.findings[0].title * bool(charge.findings[0].grade))
        if charge.findings[0].characteristic == "pin.height":
            host = next((each for each in kept.values() if _carries(each, charge, explanation)), None)
            if host is not None:
                place = next(name for name, each in kept.items() if each is host)
                kept[place] = replace(host, findings=(*host.findings, *charge.findings))
                continue
        held = kept.get(key)
        if held is None:
            kept[key] = charge
        else:
            first, second = sorted((held, charge), key=lambda each: (each.provisional, -each.points))
            kept[key] = replace(
                first, findings=(*first.findings, *second.findings), because=(*first.because, *second.because)
            )
    order = [category.id for category in rubric.categories]
    return sorted(kept.values(), key=lambda each: (order.index(each.category), -each.points, each.cause, each.at))


def _carries(host: Charge, pin: Charge, explanation: Explanation) -> bool:
    """Whether a trip pin would be right if its coupler stood right."""
    finding = pin.findings[0]
    ends = {each.at for each in host.findings if each.characteristic == "coupler.height"}
    coupler = explanation.of(finding.at)
    if finding.at not in ends or coupler is None or finding.value is None:
        return False
    return _excess(finding.value - (coupler.value - coupler.nominal), finding) == 0


def _excess(value: float, finding: Finding) -> float:
    low = finding.lower - value if finding.lower is not None else 0.0
    high = value - finding.upper if finding.upper is not None else 0.0
    return max(0.0, low, high)


def _share_of(explanation: Explanation, finding: Finding, name: Name, *, told: bool = False) -> float:
    """What a cause puts into a failing height, 0 where it does not reach it, or is asked to be told and is not [mm]."""
    coupler = explanation.of(finding.at)
    own = _atoms(coupler, _doubt(finding)).get(name) if coupler is not None else None
    return own.share if own is not None and (not told or own.basis == "measured") else 0.0


def _named(name: Name) -> str:
    return f"{name[0]} at {name[1]}" if name[1] else name[0]


def _says(explanation: Explanation, finding: Finding, name: Name, system: System) -> str:
    coupler = explanation.of(finding.at)
    if coupler is None:
        return ""
    share = _atoms(coupler, _doubt(finding)).get(name)
    if share is None or abs(share.share) < _SAYS * abs(coupler.value - coupler.nominal):
        return ""
    amount = say(share.share, "length", system, 1.96 * share.u)
    return f"share: {_named(name)} puts {amount} into the height at {finding.at}, {share.basis}"
