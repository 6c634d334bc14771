"""Whether the ways of measuring rolling agree, and what to suspect where they do not (DESIGN §5, Rolling)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from carwright.measure.rolling import Both, Measured
from carwright.units import matching_digits, say_probability


@dataclass(frozen=True, slots=True)
class Comparison:
    """Whether the ways of measuring rolling agree, and what to suspect where they do not.

    Attributes
    ----------
    agrees : bool
        p reaches :data:`AGREES`.
    p : float
        Probability of at least this disagreement by chance [-].
    values : mapping of str to Measured
        c of each method present: ``coast``, ``run_out``, ``pull`` [-].
    where : str
        ``slope``, ``inertia``, ``timing``, ``breakaway`` or ``cannot be told``; "" where they agree.
    why : str
        One sentence, with every explanation that fits; ``where`` is the first of them.
    """

    agrees: bool
    p: float
    values: Mapping[str, Measured]
    where: Literal["", "slope", "inertia", "timing", "breakaway", "cannot be told"]
    why: str


AGREES = 0.005
"""p from which methods agree [-]. Judgement."""
STEEPEST = 0.01
"""Slope a track called level may hide [-]. Judgement: twice the worst yard found."""
HEAVIEST = 0.25
"""λ no car exceeds [-]. Judgement: solid discs (I = m r²/2) that make up half of it."""
SAME, APART = 2.0, 3.0
"""Standard deviations up to which two values are one, and beyond which they are not [-]. Judgement."""


def agreement(found: Sequence[Measured]) -> float:
    """Probability that two or three values of one quantity scatter this much about their weighted mean, by chance.

    χ² = Σ(c_i − c̄)²/u_i² with one degree of freedom less than there are values: Q(½, χ²/2) = erfc √(χ²/2) for two,
    Q(1, χ²/2) = exp(−χ²/2) for three. What values share, such as one track's slope, is taken as each one's own.

    Parameters
    ----------
    found : sequence of Measured
        Two or three, each with u > 0 [one unit].

    Returns
    -------
    float
        p [-].

    Raises
    ------
    ValueError
        "agreement needs two or three values, got 4"; "u must be > 0 to compare, got 0.0"
    """
    if len(found) not in {2, 3}:
        raise ValueError(f"agreement needs two or three values, got {len(found)}")
    for entry in found:
        if entry.u == 0:
            raise ValueError(f"u must be > 0 to compare, got {entry.u}")
    mean = _weighted(found)
    half = math.fsum(((entry.value - mean.value) / entry.u) ** 2 for entry in found) / 2
    return math.erfc(math.sqrt(half)) if len(found) == 2 else math.exp(-half)  # noqa: PLR2004 - one degree of freedom


def compare(
    *, coast: Both | None, run_out: Both | None, pull: Both | None, breakaway: Both | None, inertia: Measured
) -> Comparison:
    """Compare two or three ways of measuring rolling, and say what would explain a disagreement.

    Looked for in this order: a track slope of at most :data:`STEEPEST` under a method run one way only; an inertia
    other than assumed, up to :data:`HEAVIEST`, where run-out and pull agree against the coast; the coast's timing,
    where no inertia would do; a pull read while starting, where it reaches the breakaway grade.

    Parameters
    ----------
    coast, run_out, pull : Both or None
        c by each method, None where it was not tried [-].
    breakaway : Both or None
        Grade at which the car starts; only an explanation, never one of the values compared [-].
    inertia : Measured
        λ with which the coast was worked out [-].

    Returns
    -------
    Comparison
        With fewer than two methods they agree, p = 1.

    Raises
    ------
    ValueError
        "u must be > 0 to compare, got 0.0"
    """
    tried = {"coast": coast, "run_out": run_out, "pull": pull}
    found = {name: both for name, both in tried.items() if both is not None}
    values = {name: both.resistance for name, both in found.items()}
    if len(found) < 2:  # noqa: PLR2004 - it takes two to disagree
        return Comparison(agrees=True, p=1.0, values=values, where="", why="fewer than two ways: nothing to compare")
    p = agreement(list(values.values()))
    said = ", ".join(f"{_NAMES[name]} {_say(value)}" for name, value in values.items())
    if p >= AGREES:
        return Comparison(agrees=True, p=p, values=values, where="", why=f"{said} agree (p {say_probability(p)})")
    reasons = [*_slope(found), *_inertia(values, inertia), *_breakaway(values, breakaway)]
    because = ", or ".join(reason for _, reason in reasons) or "nothing that was tried explains it"
    why = f"{said} disagree (p {say_probability(p)}): {because}"
    return Comparison(agrees=False, p=p, values=values, where=reasons[0][0] if reasons else "cannot be told", why=why)


_NAMES = {"coast": "coast", "run_out": "run-out", "pull": "pull"}
_Reason = tuple[Literal["slope", "inertia", "timing", "breakaway"], str]


def _slope(found: Mapping[str, Both]) -> Iterator[_Reason]:
    """A method run one way only, which a slope under it alone would bring to the others."""
    for name, both in found.items():
        others = [other.resistance for key, other in found.items() if key != name]
        if {"A", "B"} <= set(both.ways) or not _one(others):
            continue
        fall = _weighted(others).value - both.resistance.value
        if math.fabs(fall) <= STEEPEST:
            track = f"a track {'falling' if fall > 0 else 'rising'} {100 * math.fabs(fall):.2f} % that way explains it"
            yield "slope", f"the {_NAMES[name]} was run one way only, and {track}"


def _inertia(values: Mapping[str, Measured], assumed: Measured) -> Iterator[_Reason]:
    """Run-out and pull know nothing of λ: where they agree against the coast, its λ or its times are wrong."""
    if len(values) < len(_NAMES) or math.fabs(_apart(values["run_out"], values["pull"])) > SAME:
        return
    mean, coast = _weighted([values["run_out"], values["pull"]]), values["coast"]
    needed = (1 + assumed.value) * mean.value / coast.value - 1 if coast.value > 0 else math.inf
    nearest = min(max(needed, 0.0), HEAVIEST)  # within its noise the coast may ask for a little less than nothing
    scale = (1 + nearest) / (1 + assumed.value)
    if math.fabs(_apart(Measured(coast.value * scale, coast.u * scale), mean)) <= SAME:
        yield (
            "inertia",
            f"the coast joins the others with an inertia of {nearest:.2f}, not {assumed.value:.2f} as assumed",
        )
    else:
        never = f"no inertia from 0 to {HEAVIEST} brings the coast to the others (it takes {needed:.2f})"
        yield "timing", f"{never}, so its times or distances are suspect"


def _breakaway(values: Mapping[str, Measured], breakaway: Both | None) -> Iterator[_Reason]:
    """A pull above the others, which agree, and as high as the grade at which the car starts."""
    others = [value for name, value in values.items() if name != "pull"]
    if breakaway is None or "pull" not in values or not _one(others):
        return
    pull, start = values["pull"], breakaway.resistance
    if _apart(pull, _weighted(others)) > APART and _apart(pull, start) >= -SAME:
        yield "breakaway", f"the pull reaches the {_say(start)} at which the car starts: it was read while starting"


def _weighted(found: Sequence[Measured]) -> Measured:
    """Mean by inverse variance."""
    weights = [entry.u**-2 for entry in found]
    total = math.fsum(weights)
    mean = math.fsum(weight * entry.value for weight, entry in zip(weights, found, strict=True)) / total
    return Measured(mean, total**-0.5)


def _one(found: Sequence[Measured]) -> bool:
    """Whether values are of one quantity; a single value is."""
    return len(found) == 1 or agreement(found) >= AGREES


def _apart(first: Measured, second: Measured) -> float:
    """First less second, in standard uncertainties of the difference."""
    return (first.value - second.value) / math.hypot(first.u, second.u)


def _say(value: Measured) -> str:
    digits = matching_digits(value.u)
    return f"{value.value:.{digits}f} ± {value.u:.{digits}f}"
