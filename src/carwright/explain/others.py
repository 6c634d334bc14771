"""Findings no model of heights reaches: which remedies are for them, and the chance that each does it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from carwright.explain.options import LEVELS, is_closed
from carwright.explain.search import Price, dominated
from carwright.judge import Finding
from carwright.words import Remedy, Vocabulary

EASED = {"look.paint", "look.lettering", "look.packing"}
"""Looks that no remedy here cures: they stand in the verdict and stop no plan."""


@dataclass(frozen=True)
class Cure:
    """One way to settle a finding: a remedy at a place, or leaving it where it is only undecided."""

    remedy: Remedy | None
    at: str
    findings: tuple[Finding, ...]
    p: float


@dataclass(frozen=True)
class Settled:
    """Cures for everything beside the heights, with their price together."""

    cures: tuple[Cure, ...]
    p: float
    price: Price


def open_findings(findings: Iterable[Finding], charges: Collection[str], modelled: Collection[str]) -> list[Finding]:
    """Findings that fail or are undecided, may cost points, and are not heights a model predicts."""
    return [
        finding
        for finding in findings
        if finding.outcome in {"fails", "undecided"}
        and finding.force in charges
        and finding.basis != "no limit"
        and finding.characteristic not in EASED
        and finding.characteristic not in modelled
    ]


def ways(finding_groups: Sequence[Sequence[Finding]], words: Vocabulary, closed: Sequence[str]) -> list[list[Cure]]:
    """For each place with open findings every cure that settles all of them."""
    found = []
    for group in finding_groups:
        own = [
            Cure(remedy, _place(group), tuple(group), remedy.success)
            for remedy in words.remedies.values()
            if all(finding.characteristic in remedy.cures for finding in group)
            and not is_closed(remedy.id, _place(group), closed)
        ]
        if all(finding.outcome == "undecided" for finding in group):
            chance = min(0.5 if finding.p_conform is None else finding.p_conform for finding in group)
            own.append(Cure(None, _place(group), tuple(group), chance))
        found.append(own)
    return found


def grouped(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Findings of one place that belong together: one wheelset, one end, or one thing."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        family = "wheel" if finding.characteristic.startswith("wheel.") else finding.characteristic
        name = finding.title if finding.grade else ""
        groups.setdefault((family + name, _place([finding])), []).append(finding)
    return list(groups.values())


def _place(group: Sequence[Finding]) -> str:
    at = group[0].at
    return at.rstrip("LR") if group[0].characteristic.startswith("wheel.") else at


def settle(options: Sequence[Sequence[Cure]]) -> list[Settled]:
    """Combinations of cures, none worse than another in price and chance together."""
    front = [Settled((), 1.0, (0.0, 0.0, 0, 0.0))]
    for own in options:
        grown = []
        for held, cure in product(front, own):
            effort, cost, level, risk = held.price
            if cure.remedy is not None:
                effort, cost = effort + cure.remedy.effort, cost + cure.remedy.cost
                level = max(level, LEVELS[cure.remedy.reversible])
                risk = 1 - (1 - risk) * (1 - cure.remedy.risk)
            grown.append(Settled((*held.cures, cure), held.p * cure.p, (effort, cost, level, risk)))
        front = [
            each
            for each in grown
            if not any(other is not each and other.p >= each.p and _before(other, each) for other in grown)
        ]
    return front


def _before(other: Settled, each: Settled) -> bool:
    """Whether one price is as good in every respect, and better in one or in chance."""
    same = other.price == each.price and other.p == each.p
    return not same and dominated(each.price, [other.price])
