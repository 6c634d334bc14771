"""What a plan changes beside what it cures, and what it leaves as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from carwright.explain.levers import ENDS, OTHER
from carwright.explain.model import Model
from carwright.explain.search import Found
from carwright.explain.shares import MEASURED, parts_of
from carwright.history import History
from carwright.judge import Finding
from carwright.units import say

_MATTERS = 0.25
"""A cause that is left is named from this part of the clause's tolerance [-]."""
_SHOWN = 0.02
"""Changes smaller than this are not named [mm]."""


def leaves_of(found: Found, model: Model, heights: Mapping[str, Finding]) -> Iterator[str]:
    """Causes that are measured and matter, and that no remedy of the plan touches."""
    treated = {shift.what for act in found.structure.acts for shift in act.remedy.shifts}
    stage = len(model.history.stages) - 1
    seen: set[str] = set()
    for end, finding in heights.items():
        reach = _tolerance(finding)
        for part in parts_of(model, end, stage):
            share, u = model.estimate(part.row)
            before = float(part.row @ model.posterior.prior_covariance @ part.row)
            told = u * u <= (1 - MEASURED) * before
            name = f"{part.cause} at {part.place}" if part.place else part.cause
            if told and part.cause not in treated and abs(share) > _MATTERS * reach and name not in seen:
                seen.add(name)
                amount = say(share, "length", model.history.system)
                yield f"{name}, which puts {amount} into the coupler at {end}"


def _tolerance(finding: Finding) -> float:
    if finding.lower is not None and finding.upper is not None:
        return (finding.upper - finding.lower) / 2
    return float("inf")


def changes_of(found: Found, history: History, heights: Mapping[str, Finding]) -> Iterator[str]:
    """Ride height at each end, floor clearance, and the far coupler, by the amounts of the plan."""
    lifts = dict.fromkeys(ENDS, 0.0)
    far = dict.fromkeys(ENDS, 0.0)
    for number, (act, index) in enumerate(zip(found.structure.acts, found.amounts, strict=True)):
        if number not in found.after.lift:
            continue
        moved = found.after.lift[number] * act.amounts[index]
        if act.on_truck:
            lifts[act.at] += act.sign * act.amounts[index]
            far[OTHER[act.at]] += float(moved[ENDS.index(OTHER[act.at])])
    for end in ENDS:
        if abs(lifts[end]) > _SHOWN:
            word = "higher" if lifts[end] > 0 else "lower"
            yield f"the body rides {say(abs(lifts[end]), 'length', history.system)} {word} at {end}"
        if abs(far[end]) > _SHOWN and end in heights:
            word = "rises" if far[end] > 0 else "falls"
            yield f"the coupler at {end} {word} by {say(abs(far[end]), 'length', history.system)} with it"
    clearance = history.geometry.get("floor_clearance")
    lowest = min(lifts.values())
    if clearance is not None and lowest < -_SHOWN:
        yield f"floor clearance falls to about {say(clearance + lowest, 'length', history.system)}"
