"""From failing coupler heights to the causes they are charged to: one cause once, however many findings it makes fail.

The causes charged are the fewest whose shares, taken away together, bring every failing height within its limits; of
several such sets the one that leaves least. They are settled where every one of them is measured. Where not, no points
hang on an assumed split: the dearest finding stands, since something is wrong whatever it is, and what a second fault
would cost is provisional.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from carwright.explain.records import Coupler, Explanation, Share
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
    earlier: Explanation | None = None,
    settled_by: str = "",
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
    earlier : Explanation, optional
        The same from the readings before any work: what was settled then.
    settled_by : str
        The later reading that settles what was open then.

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
    faults = faults_of([charge.findings[0] for charge in failing], explanation)
    if faults.settled:
        before = faults_of([charge.findings[0] for charge in failing], earlier) if earlier is not None else faults
        by = settled_by if before != faults or not before.settled else ""
        made = _settled(failing, faults, explanation, rubric, scale, system, by)
    else:
        made = _open(failing, faults, explanation, system)
    rest = [charge for charge in charges if charge not in failing]
    return _joined([*made, *rest], explanation, rubric)


def faults_of(findings: Sequence[Finding], explanation: Explanation) -> Faults:
    """The fewest causes whose shares, taken away, bring every failing height within its limits."""
    shares = {
        finding.at: _atoms(coupler) for finding in findings if (coupler := explanation.of(finding.at)) is not None
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


def _atoms(coupler: Coupler) -> dict[Name, Share]:
    """Shares by cause and place; causes whose sum is measured but not its split stand as one, under the larger."""
    found = {(share.cause, share.place): share for share in coupler.shares if share.basis != "exact"}
    for group in coupler.groups:
        if not group.measured:
            continue
        members = [share for share in coupler.shares if share.name in group.names]
        first = next(share for share in members if share.name == group.lead)
        for share in members:
            del found[share.cause, share.place]
        before = max(share.before for share in members)
        found[first.cause, first.place] = replace(first, share=group.share, u=group.u, before=before, basis="measured")
    return found


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
        return sum(abs(_share(explanation, charge.at, name)) for charge in failing)

    for name in sorted(faults.names, key=weight, reverse=True):
        touched = [charge for charge in failing if abs(_share(explanation, charge.at, name)) > 0]
        cost = []
        for charge in touched:
            finding = charge.findings[0]
            value = (finding.value or 0.0) - sum(_share(explanation, charge.at, each) for each in gone)
            excess = _excess(value, finding)
            if excess > 0 or not gone:
                cost.append((points_for(finding, excess, rubric, scale), charge))
        if not cost:
            cost = [(points_for(touched[0].findings[0], 0.0, rubric, scale), touched[0])] if touched else []
        if not cost:
            continue
        points, dearest = max(cost, key=lambda each: each[0])
        findings = tuple(charge.findings[0] for _, charge in sorted(cost, key=lambda each: -each[0]))
        lines = tuple(_says(explanation, finding.at, name, system) for finding in findings)
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
        tells = [share.tell.words for share in coupler.shares if share.tell is not None] if coupler is not None else []
        lines = [_says(explanation, charge.at, name, system) for name in faults.names]
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


def _share(explanation: Explanation, at: str, name: Name) -> float:
    coupler = explanation.of(at)
    own = _atoms(coupler).get(name) if coupler is not None else None
    return own.share if own is not None else 0.0


def _named(name: Name) -> str:
    return f"{name[0]} at {name[1]}" if name[1] else name[0]


def _says(explanation: Explanation, at: str, name: Name, system: System) -> str:
    coupler = explanation.of(at)
    if coupler is None:
        return ""
    share = _atoms(coupler).get(name)
    if share is None or abs(share.share) < _SAYS * abs(coupler.value - coupler.nominal):
        return ""
    amount = say(share.share, "length", system, 1.96 * share.u)
    return f"share: {_named(name)} puts {amount} into the height at {at}, {share.basis}"
