"""Judging clauses on values (JCGM 106:2012): four outcomes, each with its reason.

Boundary convention, stated once: a probability equal to a threshold decides; a value equal to a limit is inside.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, History
from carwright.judge.finding import Finding, Outcome
from carwright.judge.limits import Limits, resolve
from carwright.measure import Component, Place, Value, Values, knowledge, probability_within
from carwright.tables import Clause
from carwright.units import Kind, say, shown_unit
from carwright.words import Vocabulary

STATED = 0.95
"""Probability with which a stated interval holds the value [-]."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Probabilities of conformity at which a value conforms or fails [-]."""

    conform: float = 0.95
    fail: float = 0.05


def judge_stage(
    clauses: Sequence[Clause], values: Values, history: History, words: Vocabulary, thresholds: Thresholds
) -> list[Finding]:
    """Judge every clause at every place of one stage.

    Parameters
    ----------
    clauses : sequence of Clause
        Those in force, or superseded ones beside them.
    values : Values
        Of the stage.
    history : History
        For geometry, axles and what clauses apply to.
    words : Vocabulary
        Titles of characteristics.
    thresholds : Thresholds
        The rubric's.

    Returns
    -------
    list of Finding
        One per clause and place; a clause that does not apply to this car gives none.
    """
    findings = []
    for clause in clauses:
        if any(history.properties.get(key) != wanted for key, wanted in clause.applies.items()):
            continue
        limits = resolve(clause, history, values.found)
        for at, value in _places(clause, values, history, words):
            findings.append(_judge(clause, limits, at, value, values, history, words, thresholds))
    return findings


def _places(clause: Clause, values: Values, history: History, words: Vocabulary) -> Iterator[tuple[str, Value | None]]:
    """Places a clause is judged at: where something was read, and where it should have been."""
    what = words.characteristics[clause.characteristic]
    read = values.of(what.id)
    if what.places == "directions":
        both = [value for value in read if value.at == "" and value.derived] or read
        yield from ((value.at, value) for value in both)
        if not both:
            yield "", None
        return
    wanted: list[str] = []
    if what.places == "ends":
        wanted = ["A", "B"]
    elif what.places in {"axles", "wheels"} and history.axles is not None:
        wanted = [str(axle) for axle in range(1, history.axles + 1)]
    yield from ((value.at, value) for value in read)
    seen = {value.at.rstrip("LR") if what.places == "wheels" else value.at for value in read}
    if "all" in seen:
        return
    stale = {at.rstrip("LR") if what.places == "wheels" else at for name, at in values.stale if name == what.id}
    yield from ((at, None) for at in wanted or sorted(stale) if at not in seen)
    if not wanted and (not read or what.places in {"axles", "wheels"}):
        yield "", None


def _judge(
    clause: Clause,
    limits: Limits,
    at: str,
    value: Value | None,
    values: Values,
    history: History,
    words: Vocabulary,
    thresholds: Thresholds,
) -> Finding:
    facts: Facts = {
        "clause": clause.id,
        "title": words.characteristics[clause.characteristic].title,
        "characteristic": clause.characteristic,
        "at": at,
        "stage": values.stage,
        "outcome": "not measured",
        "force": clause.force,
        "status": clause.source.status,
        "rule_set": clause.rule_set,
        "basis": "nothing read",
        "kind": clause.kind,
        "nominal": limits.nominal,
        "lower": limits.lower,
        "upper": limits.upper,
        "u_limit": limits.u,
        "sources": limits.sources or (("clause", clause.source),),
        "superseded_by": clause.superseded_by,
        "notes": (),
        "clause_note": clause.note,
    }
    if value is None:
        stale = (values.stale.get((clause.characteristic, at + side)) for side in ("", "L", "R"))
        work = next((work for work in stale if work is not None), None)
        if work is not None:
            reason = f"read before {work.remedy}, which touches it: read it again"
            return Finding(**facts | {"basis": "stale", "reason": reason})
        reason = "nothing was read"
        if not at and words.characteristics[clause.characteristic].places in {"axles", "wheels"}:
            reason = "how many axles the car has is not said: axles_per_truck, or axles, in [car.geometry]"
        return Finding(**facts | {"reason": reason})
    facts |= facts_of(value, facts["notes"])
    if clause.kind is None:
        return _by_eye(facts, value)
    if limits.missing:
        reason = f"{facts['title']} needs {', '.join(limits.missing)} in [car.geometry]"
        return Finding(**facts | {"basis": "needs geometry", "reason": reason})
    if not limits.bounded:
        return _no_limit(facts, clause.kind, limits, history)
    if not value.places:
        return _gauge_only(facts, value.gauges, limits)
    return judge_measured(facts, clause.kind, value, limits, history, thresholds)


Facts = dict[str, Any]
"""Fields of a finding as they are gathered."""


def facts_of(value: Value, notes: tuple[str, ...]) -> Facts:
    """Fields of a finding that come from its value alone."""
    standing = tuple(
        figures.name if figures.basis == "declared" else f"{figures.name} ({figures.basis})"
        for figures in value.figures
    )
    gauges = tuple(sorted({check.limits.name for check in value.gauges if check.limits is not None}))
    return {
        "instruments": tuple(dict.fromkeys(standing + gauges)),
        "entries": value.entries,
        "derived": value.derived,
        "notes": notes + value.notes,
        "places": tuple((place.name, place.estimate, place.u) for place in value.places),
    }


def _by_eye(facts: Facts, value: Value) -> Finding:
    failed = any(check.result != "pass" for check in value.gauges)
    return Finding(**facts | {"basis": "by eye", "outcome": "fails" if failed else "conforms"})


def _no_limit(facts: Facts, kind: Kind, limits: Limits, history: History) -> Finding:
    reason = "the sheet prints no tolerance: choose a rule set that adopts one"
    facts |= {"outcome": "undecided", "basis": "no limit"}
    if facts["places"]:
        _, estimate, u = facts["places"][0]
        facts |= {"value": estimate, "u": u}
        if limits.nominal is not None:
            reason = f"{say(estimate - limits.nominal, kind, history.system)} from the nominal, and {reason}"
    return Finding(**facts | {"reason": reason})


def _gauge_only(facts: Facts, gauges: Sequence[GaugeCheck], limits: Limits) -> Finding:
    """Without a reading or a prior a gauge gives no number: only what its own limits settle."""
    lower, upper = _ends(limits)
    outcome = gauges_outcome(gauges, lower, upper)
    seen = all(check.limits is None for check in gauges)
    reason = ""
    if outcome == "undecided":
        reason = "the gauge's own limits do not settle the clause: read the value, or state a prior"
    return Finding(**facts | {"outcome": outcome, "basis": "by eye" if seen else "gauge only", "reason": reason})


def gauges_outcome(gauges: Sequence[GaugeCheck], lower: float, upper: float) -> Outcome:
    """What checks settle together: at one place the sharpest speaks, and every place must conform."""
    places: dict[str, set[Outcome]] = {}
    for check in gauges:
        places.setdefault(check.place, set()).add(gauge_outcome(check, lower, upper))
    each = [
        "fails" if "fails" in found else "conforms" if "conforms" in found else "undecided" for found in places.values()
    ]
    return "fails" if "fails" in each else "undecided" if "undecided" in each else "conforms"


def gauge_outcome(check: GaugeCheck, lower: float, upper: float) -> Outcome:
    """What one check settles of a clause by itself.

    Parameters
    ----------
    check : GaugeCheck
        Result and the gauge's own limits; None for by eye.
    lower, upper : float
        The clause's, may be infinite [inside unit].
    """
    limits = check.limits
    if limits is None:
        beyond = math.isfinite(lower) if check.result == "low" else math.isfinite(upper)
        return "fails" if check.result != "pass" and beyond else "conforms"
    vague = limits.u > (limits.upper - limits.lower) / _SHARP
    match check.result:
        case "pass" if limits.upper < lower or limits.lower > upper:
            return "fails"
        case "pass":
            return "conforms" if limits.lower >= lower and limits.upper <= upper and not vague else "undecided"
        case "low":
            return "fails" if limits.lower <= lower else "undecided"
        case _:
            return "fails" if limits.upper >= upper else "undecided"


_SHARP = 6.0
"""A gauge whose own u is more than a sixth of what it accepts settles nothing by passing."""


def _ends(limits: Limits) -> tuple[float, float]:
    return (
        limits.lower if limits.lower is not None else -math.inf,
        limits.upper if limits.upper is not None else math.inf,
    )


def judge_measured(
    facts: Facts, kind: Kind, value: Value, limits: Limits, history: History, thresholds: Thresholds
) -> Finding:
    """Judge a value that was read against limits, by the decision rule every clause goes by.

    Parameters
    ----------
    facts : dict
        Fields of the finding that are known already, ``instruments`` and ``notes`` among them.
    kind : str
        Kind of quantity.
    value, limits
        With the same unit.
    history : History
        For the units of what is said.
    thresholds : Thresholds
        The rubric's.
    """
    lower, upper = _ends(limits)
    told = value.told()
    try:
        states = [knowledge(place, bounded=value.bounded, gauges=gauges) for place, gauges in told]
        if len(told) == 1 and not limits.u:
            p = states[0].probability(lower, upper)
        else:
            wide = [(_widened(place, limits.u), gauges) for place, gauges in told] if limits.u else told
            p = probability_within(wide, lower, upper, bounded=value.bounded)
    except ContradictionError as error:
        reason = f"{error}: read it again"
        return Finding(**facts | {"outcome": "undecided", "basis": "contradiction", "reason": reason})
    index = min(range(len(states)), key=lambda i: _room(states[i].estimate, lower, upper))
    worst, place = states[index], value.places[index]
    half_width = worst.half_width()
    tail = half_width if thresholds.conform == STATED else worst.half_width(thresholds.conform)
    capable, u_needed = _capability(worst.u, tail, lower, upper)
    outcome: Outcome = "conforms" if p >= thresholds.conform else "fails" if p <= thresholds.fail else "undecided"
    if outcome == "fails" and not capable and max(worst.cdf(lower), 1 - worst.cdf(upper)) < 1 - thresholds.fail:
        outcome = "undecided"  # the probability is small only because the limits are narrower than the reading
    reason = ""
    if outcome == "undecided":
        reason = _why_open(facts["instruments"], kind, None if capable else u_needed, history)
    notes = facts["notes"] + _run_out(value, history, kind)
    others = gauges_outcome(value.lone_gauges(), lower, upper)
    if outcome == "conforms" and others != "conforms":
        outcome, reason = others, "a gauge at a place that was not read says otherwise"
        if others == "undecided":
            reason = "a gauge at a place that was not read does not settle it: read that place too"
    unsaid = {check.result for check in value.gauges if check.limits is None}
    if outcome == "conforms" and gauges_outcome([c for c in value.gauges if c.limits is None], lower, upper) == "fails":
        outcome, reason = "undecided", f"a gauge that is not described says {' and '.join(sorted(unsaid - {'pass'}))}"
    if worst.shape == "tabulated" and value.bounded and not value.gauges:
        notes = (*notes, "no value below zero is possible: what remains moves the estimate")
    return Finding(
        **facts
        | {
            "outcome": outcome,
            "basis": "measured",
            "p_conform": p,
            "value": worst.estimate,
            "u": worst.u,
            "dof": worst.dof,
            "half_width": half_width,
            "n": place.n,
            "budget": tuple(place.budget()),
            "capable": capable,
            "u_needed": u_needed,
            "excess": max(0.0, -_room(worst.estimate, lower, upper)),
            "notes": notes,
            "reason": reason,
        }
    )


def _widened(place: Place, u: float) -> Place:
    limit = Component("the limit's own uncertainty", u, shared="limit")
    return Place(place.name, place.estimate, (*place.components, limit), place.n)


def _room(estimate: float, lower: float, upper: float) -> float:
    """Distance to the nearer limit, + inside [inside unit]."""
    return min(estimate - lower, upper - estimate)


def _capability(u: float, tail: float, lower: float, upper: float) -> tuple[bool, float | None]:
    """Whether any value could conform, half of U − L being at least t u (DESIGN §6); else the u at which one could."""
    half = (upper - lower) / 2
    return (True, None) if half >= tail else (False, u * half / tail)


def _run_out(value: Value, history: History, kind: Kind) -> tuple[str, ...]:
    turns: dict[str, list[float]] = {}
    for place in value.places:
        if place.name.startswith("turn"):
            turns.setdefault(" ".join(place.name.split()[:3]), []).append(place.estimate)
    if len(turns) < 2:  # noqa: PLR2004 - run-out needs two turns
        return ()
    means = [math.fsum(found) / len(found) for found in turns.values()]
    return (f"run-out {say(max(means) - min(means), kind, history.system)} between turns",)


def _why_open(instruments: Sequence[str], kind: Kind, u_needed: float | None, history: History) -> str:
    if u_needed is None:
        return "too near a limit for this uncertainty"
    names = ", ".join(instruments) or "the instrument"
    needed = say(u_needed, kind, history.system, u_needed).partition(" ± ")[0] + " " + shown_unit(kind, history.system)
    return f"{names} is not capable here: no reading could conform; a standard uncertainty of {needed} is needed"
