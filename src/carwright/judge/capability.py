"""What an instrument can ever decide about a clause: how near a limit its readings leave a value undecided.

With standard uncertainty u and a normal state of knowledge, a value conforms with probability p or more once it lies
Φ⁻¹(p)·u inside a single limit, and fails the same way outside; between lies what no reading with that u decides
(JCGM 106:2012, 8.3). Between two limits w apart the probability is Φ((w/2 − d)/u) + Φ((w/2 + d)/u) − 1 at d from their
middle; where that is below p at the middle itself, w < 2Φ⁻¹((1 + p)/2)·u, no value can conform. Repeats shrink the
repeatability alone, so that what they leave is the least the instrument can do.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from carwright.history import Figures
from carwright.judge.clauses import Thresholds
from carwright.judge.outlook import MOST_REPEATS, after_u
from carwright.measure.distributions import normal_cdf, normal_quantile


@dataclass(frozen=True, slots=True)
class Capability:
    """What an instrument can decide about limits.

    Attributes
    ----------
    u_one, u_many : float
        Standard uncertainty of one reading, and of as many as anybody makes [inside unit].
    near_one, near_many : float
        Distance from a limit within which a value stays undecided, for either; infinite where no value can conform
        [inside unit].
    can_conform, could_conform : bool
        Whether some value between the limits can be shown to conform by one reading, and by many.
    u_needed : float
        Standard uncertainty from which some value can conform; infinite with a single limit [inside unit].
    """

    u_one: float
    u_many: float
    near_one: float
    near_many: float
    can_conform: bool
    could_conform: bool
    u_needed: float


def capability_of(
    figures: Figures, thresholds: Thresholds, *, lower: float | None, upper: float | None, most: int = MOST_REPEATS
) -> Capability:
    """What an instrument can decide.

    Parameters
    ----------
    figures : Figures
        The instrument.
    thresholds : Thresholds
        Probabilities at which a value counts as decided.
    lower, upper : float or None
        Limits of the clause [inside unit].
    most : int
        Readings that count as many.
    """
    one, many = (after_u(math.inf, figures, n=n) for n in (1, most))
    width = upper - lower if lower is not None and upper is not None else math.inf
    needed = width / (2 * normal_quantile((1 + thresholds.conform) / 2))
    near_one, near_many = (_near(u, width, thresholds) if u <= needed else math.inf for u in (one, many))
    return Capability(one, many, near_one, near_many, one <= needed, many <= needed, needed)


def _near(u: float, width: float, thresholds: Thresholds) -> float:
    """How far from a limit the farther of the two boundaries lies: where a value conforms, and where it fails."""
    if not math.isfinite(width) or u <= 0:
        return max(normal_quantile(thresholds.conform), normal_quantile(1 - thresholds.fail)) * u
    half = width / 2

    def conforms(off: float) -> float:
        return normal_cdf((half - off) / u) + normal_cdf((half + off) / u) - 1

    inside = _crossing(conforms, 0.0, half, thresholds.conform)
    outside = _crossing(conforms, 0.0, half + 10 * u, thresholds.fail)
    return max(half - inside, outside - half)


def _crossing(falls: Callable[[float], float], low: float, high: float, level: float) -> float:
    """Where a falling function comes down to a level; an end of the stretch where it does not within it."""
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if falls(middle) >= level else (low, middle)
    return (low + high) / 2
