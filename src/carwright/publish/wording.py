"""How findings are put into words and numbers, the same on the screen, in print and on a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from carwright.inspection import Inspection
from carwright.judge import Finding, NextReading
from carwright.units import System, say, say_probability
from carwright.verdict import Verdict
from carwright.words import Vocabulary

MARKS = {"fails": "✕", "undecided": "◇", "not measured": "○", "conforms": "●"}
"""Outcome as a shape; the word always stands beside it."""


def value_words(finding: Finding, system: System) -> str:
    """``0.412 ± 0.002 in``: the half-width holds the value with probability 0.95."""
    if finding.grade:
        return finding.grade
    if finding.value is None or finding.kind is None:
        by_hand = "by eye" if finding.kind is None else "by a gauge not described"
        return {"by eye": by_hand, "gauge only": "gauge only"}.get(finding.basis, "")
    width = finding.half_width if finding.half_width is not None else None
    return say(finding.value, finding.kind, system, width)


def limit_words(finding: Finding, system: System) -> str:
    """``0.381 to 0.401 in``, ``at least 0.566 in``, ``0.391 in, no tolerance``."""
    if finding.kind is None:
        return ""
    lower, upper, kind = finding.lower, finding.upper, finding.kind
    if lower is not None and upper is not None:
        return f"{say(lower, kind, system, unit=False)} to {say(upper, kind, system)}"
    if lower is not None:
        return f"at least {say(lower, kind, system)}"
    if upper is not None:
        return f"at most {say(upper, kind, system)}"
    if finding.nominal is not None:
        return f"{say(finding.nominal, kind, system)}, no tolerance"
    return ""


def probability_words(p: float | None) -> str:
    """``0.801``, ``< 0.001`` or ``> 0.999``."""
    if p is None:
        return ""
    return say_probability(p)


def rule_words(finding: Finding, charges: Iterable[str]) -> str:
    """Body and sheet, with the standing of the clause; ``informs`` where it may not cost points."""
    sheet = "/".join(finding.clause.split("/")[:2])
    standing = finding.force if finding.force in set(charges) else f"{finding.force}, informs"
    return f"{sheet} ({standing})"


def split(inspection: Inspection) -> tuple[list[Finding], list[Finding]]:
    """Findings whose clause may cost points, and those that only inform; what was not measured is in neither."""
    charges = inspection.rubric.charges
    read = [finding for finding in inspection.findings if finding.outcome != "not measured"]
    return (
        [finding for finding in read if finding.force in charges],
        [finding for finding in read if finding.force not in charges],
    )


def next_words(readings: Sequence[NextReading], words: Vocabulary) -> list[str]:
    """What to measure next, in words: places that need the same reading stand in one line, in order of rank."""
    groups: dict[tuple[str, str, int, str], list[NextReading]] = {}
    for reading in readings:
        groups.setdefault((reading.what, reading.instrument, reading.n, reading.why), []).append(reading)
    return [_next_line(group, words) for group in groups.values()]


def _next_line(group: Sequence[NextReading], words: Vocabulary) -> str:
    first = group[0]
    title = words.characteristics[first.what].title
    where = place_words([each.at for each in group if each.at])
    by = "by hand" if first.instrument == "by hand" else f"with the {first.instrument}"
    times = f", {first.n} readings" if first.n > 1 else ""
    each_one = " each" if len(group) > 1 else ""
    chances = [each.p_decided for each in group if each.p_decided is not None]
    decides = f", decides with probability {min(chances):.2f}" if chances else ""
    subject = f"{title} ({where})" if where else title
    return f"{subject} {by}{times}: about {first.minutes:.2g} min{each_one}{decides}; {first.why}"


def place_words(places: Sequence[str]) -> str:
    """``A, B``, ``axle 3`` or ``axles 1, 3``."""
    if places and all(at[0].isdigit() for at in places):
        name = "wheel" if any(at[-1] in "LR" for at in places) else "axle"
        return f"{name}{'s' if len(places) > 1 else ''} {', '.join(places)}"
    return ", ".join(places)


def not_measured_words(findings: Iterable[Finding]) -> list[str]:
    """``back-to-back (axles 3, 4)`` for each characteristic that was not measured."""
    places: dict[str, list[str]] = {}
    for finding in findings:
        if finding.outcome == "not measured":
            held = places.setdefault(finding.title, [])
            if finding.at and finding.at not in held:
                held.append(finding.at)
    return [f"{title} ({place_words(ats)})" if ats else title for title, ats in places.items()]


def points_words(verdict: Verdict) -> str:
    """``108.6 of 120 points as received: small faults``, with what is provisional and what nobody examined."""
    if verdict.out_of == 0:
        return "no points yet: nothing was examined"
    so_far = ", as far as measured" if verdict.unmeasured else ""
    words = f"{verdict.points:g} of {verdict.out_of:g} points as received{so_far}: {verdict.band}"
    more = []
    if verdict.points_if_provisional_lifted > verdict.points:
        more.append(f"{verdict.points_if_provisional_lifted:g} if what is provisional falls away")
    if verdict.unexamined:
        heads = ", ".join(each.title for each in verdict.categories if not each.examined)
        more.append(f"{verdict.unexamined:g} more not examined: {heads}")
    return f"{words} ({'; '.join(more)})" if more else words


def upper_first(text: str) -> str:
    """A sentence with its first letter large."""
    return f"{text[:1].upper()}{text[1:]}"
