"""Judging clauses on values (JCGM 106:2012): four outcomes, each with its reason.

Boundary convention, stated once: a probability equal to a threshold decides; a value equal to a limit is inside.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck, History
from carwright.judge.finding import Basis, Finding, Outcome
from carwright.judge.limits import Limits, resolve
from carwright.measure import Component, Knowledge, Place, Value, Values, knowledge, probability_within
from carwright.tables import Clause
from carwright.units import say
from carwright.words import Vocabulary


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
    yield from ((at, None) for at in wanted if at not in seen)
    if not wanted and not read:
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
    base = Finding(
        clause=clause.id,
        title=words.characteristics[clause.characteristic].title,
        characteristic=clause.characteristic,
        at=at,
        stage=values.stage,
        outcome="not measured",
        force=clause.force,
        status=clause.source.status,
        rule_set=clause.rule_set,
        basis="nothing read",
        kind=clause.kind,
        nominal=limits.nominal,
        lower=limits.lower,
        upper=limits.upper,
        u_limit=limits.u,
        sources=limits.sources or (("clause", clause.source),),
        superseded_by=clause.superseded_by,
        notes=(clause.note,) if clause.note else (),
    )
    if value is None:
        work = values.stale.get((clause.characteristic, at))
        if work is not None:
            return replace(base, basis="stale", reason=f"read before {work.remedy}, which touches it: read it again")
        return replace(base, reason="nothing was read")
    base = _with_value(base, value)
    if clause.kind is None:
        return _by_eye(base, value)
    if limits.missing:
        needed = ", ".join(limits.missing)
        return replace(base, basis="needs geometry", reason=f"{base.title} needs {needed} in [car.geometry]")
    if not limits.bounded:
        return _no_limit(base, history)
    if not value.places:
        return _gauge_only(base, value.gauges, limits)
    return _measured(base, value, limits, history, thresholds)


def _with_value(base: Finding, value: Value) -> Finding:
    standing = tuple(
        figures.name if figures.basis == "declared" else f"{figures.name} ({figures.basis})"
        for figures in value.figures
    )
    gauges = tuple(sorted({check.limits.name for check in value.gauges if check.limits is not None}))
    return replace(
        base,
        instruments=standing + gauges,
        entries=value.entries,
        derived=value.derived,
        notes=base.notes + value.notes,
        places=tuple((place.name, place.estimate, place.u) for place in value.places),
    )


def _by_eye(base: Finding, value: Value) -> Finding:
    failed = any(check.result != "pass" for check in value.gauges)
    return replace(base, basis="by eye", outcome="fails" if failed else "conforms")


def _no_limit(base: Finding, history: History) -> Finding:
    found = replace(base, outcome="undecided", basis="no limit")
    if base.places:
        _, estimate, u = base.places[0]
        found = replace(found, value=estimate, u=u)
    reason = "the sheet prints no tolerance: choose a rule set that adopts one"
    if found.value is not None and base.nominal is not None and base.kind is not None:
        off = say(found.value - base.nominal, base.kind, history.system)
        reason = f"{off} from the nominal, and {reason}"
    return replace(found, reason=reason)


def _gauge_only(base: Finding, gauges: Sequence[GaugeCheck], limits: Limits) -> Finding:
    """Without a reading or a prior a gauge gives no number: only what its own limits settle."""
    lower, upper = _ends(limits)
    outcomes = {gauge_outcome(check, lower, upper) for check in gauges}
    seen = all(check.limits is None for check in gauges)
    basis: Basis = "by eye" if seen else "gauge only"
    outcome: Outcome = "fails" if "fails" in outcomes else "undecided" if "undecided" in outcomes else "conforms"
    reason = ""
    if outcome == "undecided":
        reason = "the gauge's own limits are not inside the clause's: read the value, or state a prior"
    return replace(base, outcome=outcome, basis=basis, reason=reason)


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
        return "conforms" if check.result == "pass" else "fails"
    match check.result:
        case "pass":
            return "conforms" if limits.lower >= lower and limits.upper <= upper else "undecided"
        case "low":
            return "fails" if limits.lower <= lower else "undecided"
        case _:
            return "fails" if limits.upper >= upper else "undecided"


def _ends(limits: Limits) -> tuple[float, float]:
    return (
        limits.lower if limits.lower is not None else -math.inf,
        limits.upper if limits.upper is not None else math.inf,
    )


def _measured(base: Finding, value: Value, limits: Limits, history: History, thresholds: Thresholds) -> Finding:
    lower, upper = _ends(limits)
    told = value.told()
    if limits.u > 0:
        told = [(_widened(place, limits.u), gauges) for place, gauges in told]
    try:
        p = probability_within(told, lower, upper, bounded=value.bounded, prior=value.prior)
        states = [
            knowledge(place, bounded=value.bounded, gauges=gauges, prior=value.prior) for place, gauges in value.told()
        ]
    except ContradictionError as error:
        return replace(base, outcome="undecided", basis="contradiction", reason=f"{error}: read it again")
    index = min(range(len(states)), key=lambda i: _room(states[i].estimate, lower, upper))
    worst, place = states[index], value.places[index]
    outcome: Outcome = "conforms" if p >= thresholds.conform else "fails" if p <= thresholds.fail else "undecided"
    lone = {gauge_outcome(check, lower, upper) for check in value.lone_gauges()}
    notes = base.notes + _run_out(value, history, base)
    if outcome == "conforms" and lone & {"fails", "undecided"}:
        outcome = "fails" if "fails" in lone else "undecided"
        notes = (*notes, "a gauge says otherwise at a place that was not read")
    capable, u_needed = _capability(worst, lower, upper, thresholds)
    return replace(
        base,
        outcome=outcome,
        basis="measured",
        p_conform=p,
        value=worst.estimate,
        u=worst.u,
        dof=worst.dof,
        half_width=worst.half_width(),
        n=place.n,
        budget=tuple(place.budget()),
        capable=capable,
        u_needed=u_needed,
        excess=max(0.0, -_room(worst.estimate, lower, upper)),
        notes=notes,
        reason=_why_open(base, outcome, capable=capable, u_needed=u_needed, history=history),
    )


def _widened(place: Place, u: float) -> Place:
    limit = Component("the limit's own uncertainty", u, shared="limit")
    return Place(place.name, place.estimate, (*place.components, limit), place.n)


def _room(estimate: float, lower: float, upper: float) -> float:
    """Distance to the nearer limit, + inside [inside unit]."""
    return min(estimate - lower, upper - estimate)


def _capability(state: Knowledge, lower: float, upper: float, thresholds: Thresholds) -> tuple[bool, float | None]:
    """Whether any value could conform: U − L ≥ 2 t u (DESIGN §6), and the u at which one could."""
    if not (math.isfinite(lower) and math.isfinite(upper)):
        return True, None
    half = (upper - lower) / 2
    tail = state.half_width(thresholds.conform)
    if half >= tail:
        return True, None
    return False, state.u * half / tail


def _run_out(value: Value, history: History, base: Finding) -> tuple[str, ...]:
    turns = [place.estimate for place in value.places if place.name.startswith("turn")]
    if len(turns) < 2 or base.kind is None:  # noqa: PLR2004 - run-out needs two turns
        return ()
    return (f"run-out {say(max(turns) - min(turns), base.kind, history.system)} between turns",)


def _why_open(base: Finding, outcome: Outcome, *, capable: bool, u_needed: float | None, history: History) -> str:
    if outcome != "undecided":
        return ""
    if not capable and u_needed is not None and base.kind is not None:
        names = ", ".join(base.instruments) or "the instrument"
        needed = say(u_needed, base.kind, history.system)
        return f"{names} is not capable here: no reading could conform; a standard uncertainty of {needed} is needed"
    return "too near a limit for this uncertainty"
