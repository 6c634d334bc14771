"""Plans: what to do, in working order, what it will bring, and what no plan can do."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from carwright.explain.chance import within
from carwright.explain.effects import changes_of, leaves_of
from carwright.explain.hazards import Hazard, hazards_of, stops
from carwright.explain.levers import ENDS
from carwright.explain.model import Model, model_of
from carwright.explain.options import Structure, structures
from carwright.explain.others import Settled, grouped, open_findings, settle, ways
from carwright.explain.predict import Predictor
from carwright.explain.records import Plan, Plans, Predicted
from carwright.explain.search import Found, Price, Target, dominated, search
from carwright.explain.shares import Readings, designed_height, heights_of, parts_of
from carwright.explain.steps import steps_of
from carwright.explain.stock import Item
from carwright.history import History
from carwright.judge import Finding
from carwright.tables import Tables
from carwright.words import Vocabulary

WANTED = 0.90
"""Chance that everything conforms from which a plan is offered [-]."""
_MODELLED = ("coupler.height", "coupler.droop", "pin.height")
_NAMES = ("yes", "partly", "no")


@dataclass(frozen=True)
class Task:
    """What a plan is made for.

    Attributes
    ----------
    history, words, tables
        The car and the names.
    findings : sequence of Finding
        Of the last stage.
    charges : collection of str
        Forces that may cost points.
    stock : sequence of Item
        What is in the drawer.
    closed : tuple[str, ...]
        Options the person closed, such as ``straighten`` or ``washer@A``.
    wanted : float
        Chance from which a plan is offered [-].
    """

    history: History
    words: Vocabulary
    tables: Tables
    findings: Sequence[Finding]
    charges: Collection[str]
    stock: Sequence[Item]
    closed: tuple[str, ...] = ()
    wanted: float = WANTED


def plans_of(task: Task) -> Plans:
    """Every plan worth offering, or why there is none and what would open one.

    Returns
    -------
    Plans
        Non-dominated over effort, parts cost, reversibility and risk; every finding predicted.
    """
    hazards = hazards_of(task.history, task.tables)
    barred = (*task.closed, *stops(hazards))
    heights = {end: each for end, each in heights_of(task.findings).items() if each.force in task.charges}
    open_ones = open_findings(task.findings, task.charges, ())
    wrong = [each for each in open_ones if heights and (each.characteristic in _MODELLED or _needs_coupler(each))]
    others = [each for each in open_ones if each not in wrong]
    if not open_ones:
        return Plans((), 0, "nothing that may cost points fails or is undecided", task.closed)
    settled = settle(ways(grouped(others), task.words, barred))
    if not settled:
        return Plans((), 0, _no_cure(others, task, barred), task.closed)
    if not wrong:
        plans = [_plan(None, None, each, task, hazards, heights) for each in settled if each.p >= task.wanted]
        reason = (
            "" if plans else f"the best chance is {max(each.p for each in settled):.2f}, {task.wanted:.2f} is wanted"
        )
        return Plans(tuple(_front(plans)), len(settled), reason, task.closed)
    model = model_of(task.history, task.words, designed=designed_height(task.history, heights))
    if isinstance(model, str):
        return Plans((), 0, f"no plan for the coupler heights: {model}", task.closed)
    renewed = sorted({each.at for each in wrong if _needs_coupler(each)})
    return _with_heights(task, model, heights, settled, hazards, barred, renewed)


def _needs_coupler(finding: Finding) -> bool:
    """Whether only a new coupler settles it, so that heights change with it."""
    return finding.characteristic == "coupler.action" and finding.at in ENDS


_NEW_COUPLER = ("replace-coupler", "shank-high", "shank-low")


def target_of(heights: Mapping[str, Finding], designed: float, wanted: float) -> Target:
    """Limits of both couplers about the design; an end nobody judged has none."""
    limits = []
    for end in ENDS:
        finding = heights.get(end)
        low = finding.lower - designed if finding is not None and finding.lower is not None else -float("inf")
        high = finding.upper - designed if finding is not None and finding.upper is not None else float("inf")
        limits.append((low, high))
    return Target((limits[0], limits[1]), wanted)


def _with_heights(
    task: Task,
    model: Model,
    heights: Mapping[str, Finding],
    settled: Sequence[Settled],
    hazards: Sequence[Hazard],
    barred: tuple[str, ...],
    renewed: Sequence[str],
) -> Plans:
    designed = designed_height(task.history, dict(heights))
    target = target_of(heights, designed, task.wanted)
    predictor = Predictor(model)

    def renews(structure: Structure, end: str) -> bool:
        return any(act.at == end and act.remedy.id in _NEW_COUPLER for act in structure.acts)

    combinations = [
        structure
        for structure in structures(model, task.words, task.stock, barred, tuple(heights))
        if all(renews(structure, end) for end in renewed)
    ]
    best_rest = max(each.p for each in settled)
    front, tried, nearest = search(
        combinations, predictor, target, best_rest, lambda found: _beside(found, task, renewed)
    )
    plans = [
        plan
        for found in front
        for rest in settled
        if max((plan := _plan(found, designed, rest, task, hazards, heights, model, renewed)).p_open, plan.p_closed)
        >= task.wanted
    ]
    reason = "" if plans else _no_plan(task, model, heights, nearest, best_rest, barred, renewed)
    return Plans(tuple(_front(plans)), tried * len(settled), reason, task.closed)


def _price(plan: Plan) -> Price:
    return plan.effort, plan.cost, _NAMES.index(plan.reversible), plan.risk


def _front(plans: Sequence[Plan]) -> list[Plan]:
    """Plans no other is better than in every respect, least effort first."""
    kept: list[Plan] = []
    for plan in sorted(plans, key=lambda each: (_price(each), -each.p_closed)):
        if not dominated(_price(plan), [_price(each) for each in kept]):
            kept.append(plan)
    return kept


def _plan(
    found: Found | None,
    designed: float | None,
    rest: Settled,
    task: Task,
    hazards: Sequence[Hazard],
    heights: Mapping[str, Finding],
    model: Model | None = None,
    renewed: Sequence[str] = (),
) -> Plan:
    effort, cost, level, risk = rest.price
    p_open = p_closed = rest.p
    predicted = [
        Predicted(
            finding.characteristic, finding.at, None, None, cure.p,
            f"{cure.remedy.title}, then measured" if cure.remedy is not None else "left as it is",
        )
        for cure in rest.cures
        for finding in cure.findings
    ]  # fmt: skip
    seats: dict[str, float] = {}
    if found is not None and designed is not None:
        own = found.structure.price
        effort, cost, level = effort + own[0], cost + own[1], max(level, own[2])
        risk = 1 - (1 - risk) * (1 - own[3])
        action = task.words.remedies["replace-coupler"].success
        predicted = [
            *_heights(found, designed, heights),
            *_droops(found, task),
            *(Predicted("coupler.action", end, None, None, action, "a new coupler, then tried") for end in renewed),
            *predicted,
        ]
        beside = _beside(found, task, renewed)
        p_open, p_closed = p_open * found.p_open * beside, p_closed * found.p_closed * beside
        seats = _seats(found)
    steps = steps_of(found, rest, task.history, task.words, hazards, task.findings)
    return Plan(
        steps=tuple(steps),
        effort=effort,
        cost=round(cost, 2),
        risk=risk,
        reversible=_NAMES[level],
        p_open=p_open,
        p_closed=p_closed,
        predicted=tuple(predicted),
        seats=seats,
        straightens=found is not None and any(act.remedy.id == "straighten" for act in found.structure.acts),
        leaves=tuple(leaves_of(found, model, heights)) if found is not None and model is not None else (),
        changes=tuple(changes_of(found, task.history, heights)) if found is not None else (),
    )


def _heights(found: Found, designed: float, heights: Mapping[str, Finding]) -> list[Predicted]:
    """Coupler heights as the plan leaves them, amounts as written."""
    rows = []
    mean = found.after.mean.copy()
    for number, (act, index) in enumerate(zip(found.structure.acts, found.amounts, strict=True)):
        if number in found.after.lift:
            mean = mean + found.after.lift[number] * act.amounts[index]
    for index, end in enumerate(ENDS):
        finding = heights.get(end)
        if finding is None:
            continue
        u = float(found.after.covariance[index, index]) ** 0.5
        low = finding.lower if finding.lower is not None else -float("inf")
        high = finding.upper if finding.upper is not None else float("inf")
        value = float(mean[index]) + designed
        p = float(
            within(mean[index : index + 1] + designed, mean[:1] * 0 + u, mean[:1] * 0 + low, mean[:1] * 0 + high)[0]
        )
        rows.append(Predicted("coupler.height", end, value, u, p, "from the stack"))
    return rows


def _droops(found: Found, task: Task) -> list[Predicted]:
    rows = []
    for finding in task.findings:
        if finding.characteristic == "coupler.droop" and finding.force in task.charges and finding.at in ENDS:
            mean, u = found.after.droop[finding.at]
            rows.append(
                Predicted("coupler.droop", finding.at, mean, u, _droop_chance(found, finding), "from the stack")
            )
    return rows


def _droop_chance(found: Found, finding: Finding) -> float:
    """Chance that a droop is within its limit: as judged where nothing touches it, from the stack where it is cured."""
    touched = any(
        act.at == finding.at and any(shift.what == "coupler.droop" for shift in act.remedy.shifts)
        for act in found.structure.acts
    )
    if not touched and finding.p_conform is not None:
        return finding.p_conform
    if not touched:
        return 1.0
    return _below(found.after.droop[finding.at], finding.upper)


def _below(state: tuple[float, float], upper: float | None) -> float:
    if upper is None:
        return 1.0
    mean, u = np.array([state[0]]), np.array([state[1]])
    return float(within(mean, u, np.array([-np.inf]), np.array([upper]))[0])


def _beside(found: Found, task: Task, renewed: Sequence[str]) -> float:
    """Chance of droops and trip pins that the plan moves or that are open now, and of couplers that had to be new."""
    p = task.words.remedies["replace-coupler"].success ** len(renewed)
    for finding in task.findings:
        if finding.force not in task.charges or finding.at not in ENDS:
            continue
        if finding.characteristic == "coupler.droop" and finding.outcome != "not measured":
            p *= _droop_chance(found, finding)
        if finding.characteristic == "pin.height" and finding.value is not None:
            p *= (
                task.words.remedies["trim-pin"].success if finding.at in pins_moved(found) else finding.p_conform or 1.0
            )
    return p


def pins_moved(found: Found) -> list[str]:
    """Ends whose trip pin moves with the head or the box."""
    moved = set()
    for act in found.structure.acts:
        moved |= set(ENDS) if act.at in {"", "all"} or act.on_truck else {act.at}
    return sorted(moved)


def _seats(found: Found) -> dict[str, float]:
    """How far the frame rises at each pivot."""
    seats = dict.fromkeys(ENDS, 0.0)
    for number, (act, index) in enumerate(zip(found.structure.acts, found.amounts, strict=True)):
        if number in found.after.lift and act.on_truck:
            seats[act.at] += act.sign * act.amounts[index]
    return seats


def _no_cure(others: Sequence[Finding], task: Task, barred: tuple[str, ...]) -> str:
    for group in grouped(others):
        if not ways([group], task.words, barred)[0]:
            opening = [remedy.id for remedy in task.words.remedies.values()
                       if all(each.characteristic in remedy.cures for each in group)]  # fmt: skip
            if opening:
                return f"no plan: {group[0].subject} is cured only by {' or '.join(opening)}, which is closed"
            return f"no plan: no remedy here is for {group[0].subject}"
    return "no plan"


def _no_plan(
    task: Task,
    model: Model,
    heights: Mapping[str, Finding],
    nearest: Found | None,
    rest: float,
    barred: tuple[str, ...],
    renewed: Sequence[str],
) -> str:
    """Why there is none, and which closed option or which reading would open one."""
    chance = nearest.p_closed * rest * _beside(nearest, task, renewed) if nearest is not None else 0.0
    best = f"the best reaches {chance:.2f}" if nearest is not None else "none comes near"
    said = f"no plan reaches {task.wanted:.2f}: {best}"
    target = target_of(heights, designed_height(task.history, dict(heights)), task.wanted)
    opening = []
    for option in task.closed:
        kept = [each for each in barred if each != option]
        freed = structures(model, task.words, task.stock, kept, tuple(heights))
        if search(freed, Predictor(model), target, rest, lambda found: _beside(found, task, renewed))[0]:
            opening.append(option)
    stopped = [hazard.text for hazard in hazards_of(task.history, task.tables) if hazard.stops]
    if stopped:
        said = f"{said}. {stopped[0]}"
    if opening:
        return f"{said}; opening {' or '.join(opening)} would allow one"
    stage = len(model.history.stages) - 1
    rows = np.array([part.row for end in heights for part in parts_of(model, end, stage)])
    readings = Readings(model, stage)
    whole = float(np.einsum("ij,jk,ik->", rows, model.posterior.covariance, rows))
    tell = readings.best(readings.cuts(rows), whole)
    return f"{said}; reading {tell.words} would tell most" if tell is not None else said
