"""A plan as bench steps in working order, with the readings between."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from carwright.explain.hazards import Hazard, removed_first
from carwright.explain.levers import ENDS
from carwright.explain.options import Act
from carwright.explain.others import Cure, Settled
from carwright.explain.records import Step, caution_lines
from carwright.explain.search import Found
from carwright.history import History
from carwright.judge import Finding
from carwright.units import say
from carwright.words import Remedy, Vocabulary

_LEAVES_NEW = {"straighten", "untwist", "wheel-size", "replace-truck", "replace-coupler", "shank-high", "shank-low",
               "cure-droop", "exchange-trucks", "exchange-couplers"}  # fmt: skip
"""Works after which heights are read again before anything is chosen by them."""
_SWING = {"replace-coupler", "shank-high", "shank-low", "dress-shank", "cure-droop", "exchange-couplers", "box-shim",
          "box-raise"}  # fmt: skip
"""Works after which a coupler's swing is tried."""
_BENDING = {"straighten", "untwist"}


def steps_of(
    found: Found | None,
    rest: Settled,
    history: History,
    words: Vocabulary,
    hazards: Sequence[Hazard],
    findings: Iterable[Finding],
) -> list[Step]:
    """Steps: right wheels before shims, straighten before shims, droop before height, measuring between."""
    works = [(cure.remedy.order, cure.at, _cured(cure, cure.remedy, history, words, hazards))
             for cure in rest.cures if cure.remedy is not None]  # fmt: skip
    acts = list(zip(found.structure.acts, found.amounts, strict=True)) if found is not None else []
    for act, index in acts:
        works.append((act.remedy.order, act.at, _act(act, index, history, words, hazards)))
    trimmed = _pins(acts, findings)
    works += [(70, end, _plain(words.remedies["trim-pin"], end, history, words, hazards)) for end in trimmed]
    works.sort(key=lambda each: (each[0], each[1]))
    steps: list[Step] = []
    bending = [step for _, _, step in works if step.remedy in _BENDING]
    fragile = removed_first(history)
    if bending and fragile:
        steps.append(Step("", "", None, "", f"Take off, or guard where it stays on: {', '.join(fragile)}"))
    for number, (_, _, step) in enumerate(works):
        steps.append(step)
        later = [each for _, _, each in works[number + 1 :]]
        if step.remedy in _LEAVES_NEW and not any(each.remedy in _LEAVES_NEW for each in later):
            steps.append(_again(later, acts))
    if acts:
        swung = sorted({step.at for step in steps if step.remedy in _SWING})
        if swung:
            steps.append(
                Step("", "", None, "", f"Try the coupler's swing and its return to the middle at {' and '.join(swung)}")
            )
        steps.append(Step("", "", None, "", "Measure both couplers, free and lifted, and write the readings down"))
    return steps


def _cured(cure: Cure, remedy: Remedy, history: History, words: Vocabulary, hazards: Sequence[Hazard]) -> Step:
    """A step for a finding outside the stack: what was looked at is named, what is missing or too much is weighed."""
    graded = [finding.title for finding in cure.findings if finding.grade]
    finding = cure.findings[0]
    missing = (finding.nominal or finding.lower or 0.0) - (finding.value or 0.0)
    weighed = finding.characteristic == "weight.total" and finding.value is not None
    amount = say(abs(missing), "mass", history.system) if weighed else ""
    step = _plain(remedy, cure.at, history, words, hazards, amount=amount)
    if weighed and missing < 0:
        return replace(
            step, amount=missing, unit="g", words=f"Take {amount} out, evenly, and weigh the complete car again"
        )
    if weighed:
        step = replace(step, amount=missing, unit="g")
    return replace(step, words=f"{step.words}: {', '.join(graded)}") if graded else step


def _again(later: Sequence[Step], acts: Sequence[tuple[Act, int]]) -> Step:
    chosen = [
        act
        for act, _ in acts
        if act.adjustable and any(step.remedy == act.remedy.id and step.at == act.at for step in later)
    ]
    words = "Measure both coupler heights again, free"
    if chosen:
        names = " and ".join(f"{act.remedy.id} at {act.at}" for act in chosen)
        words += f", and choose the amount of {names} by them: the amount below is today's best guess"
    return Step("", "", None, "", words)


def _act(act: Act, index: int, history: History, words: Vocabulary, hazards: Sequence[Hazard]) -> Step:
    amount = act.amounts[index]
    shown = say(amount, "length", history.system) if amount else ""
    made_of = f" ({act.words[index]})" if act.words[index] else ""
    step = _plain(act.remedy, act.at, history, words, hazards, amount=f"{shown}{made_of}", face=act.face)
    return replace(step, amount=amount or None, unit="mm" if amount else "")


def _plain(
    remedy: Remedy,
    at: str,
    history: History,
    words: Vocabulary,
    hazards: Sequence[Hazard],
    *,
    amount: str = "",
    face: str = "",
) -> Step:
    where = at or "both ends"
    said = remedy.how.format(
        at=where, amount=amount or "what is needed", face={"under": "underside", "top": "top"}.get(face, "face")
    )
    cautions = [*caution_lines(remedy, words.cautions)]
    cautions += [
        f"{hazard.text} ({', '.join(hazard.parts)})"
        for hazard in hazards
        if hazard.matters_to(remedy.id) or hazard.stops
    ]
    if remedy.id in _BENDING or remedy.id == "dress-bolster":
        zinc = any(hazard.caution.startswith("zinc") for hazard in hazards)
        if not zinc:  # the casting caution stays only where the frame may be one
            cautions = [line for line in cautions if line != words.cautions["zinc-brittle"] or not history.parts]
    return Step(remedy.id, at, None, "", said, remedy.side, remedy.needs, tuple(dict.fromkeys(cautions)))


def _pins(acts: Sequence[tuple[Act, int]], findings: Iterable[Finding]) -> list[str]:
    """Ends whose trip pin was read and moves."""
    moved: set[str] = set()
    for act, _ in acts:
        moved |= set(ENDS) if act.at in {"", "all"} or act.on_truck else {act.at}
    read = {each.at for each in findings if each.characteristic == "pin.height" and each.value is not None}
    return sorted(moved & read)
