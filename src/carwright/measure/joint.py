"""The probability that every place read conforms, where the places share some of their errors.

What all places share alike (an instrument's calibration) is integrated over; what each has alone is multiplied. Where
they share in other patterns, or gauges spoke of them, the joint probability is drawn by Monte Carlo (JCGM 101).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from carwright.errors import ContradictionError
from carwright.history import GaugeCheck
from carwright.measure.combine import Component, Place
from carwright.measure.distributions import NOTHING
from carwright.measure.knowledge import NEAR_ZERO, closed_form, knowledge
from carwright.measure.montecarlo import UNLIKELY, draw_places

if TYPE_CHECKING:
    from carwright.measure.montecarlo import Array

Told = tuple[Place, Sequence[GaugeCheck]]
"""A place and the gauge checks that speak of it."""


def probability_within(places: Sequence[Told], lower: float, upper: float, *, bounded: bool = False) -> float:
    """Probability that every place lies within limits.

    Parameters
    ----------
    places : sequence of (Place, gauge checks)
        What was read, and what gauges said, at each place.
    lower, upper : float
        Limits, either may be infinite [inside unit].
    bounded : bool
        Whether values below zero are impossible.

    Returns
    -------
    float
        Joint probability [-].

    Raises
    ------
    ContradictionError
        "the observations contradict each other, or what is possible"
    """
    if len(places) == 1:
        place, gauges = places[0]
        return knowledge(place, bounded=bounded, gauges=gauges).probability(lower, upper)
    told = [[check for check in gauges if check.limits is not None] for _, gauges in places]
    plain = [place for place, _ in places]
    near_zero = any(bounded and place.estimate < NEAR_ZERO * place.u for place in plain)
    parted = None if any(told) or near_zero else part_common(plain)
    if parted is None:
        return _joint_by_draws(plain, told, lower, upper, bounded=bounded)
    own, common = parted
    return min(1.0, _joint_by_quadrature(own, common, lower, upper))


def part_common(places: Sequence[Place]) -> tuple[list[Place], Place] | None:
    """Part what each place has alone from what all of them share alike; None where some share and others do not.

    Returns
    -------
    tuple[list[Place], Place] or None
        The places without what they share, and that as a place of estimate 0.
    """
    found: dict[str, list[Component]] = {}
    for place in places:
        for part in place.components:
            if part.shared:
                found.setdefault(part.shared, []).append(part)
    alone = {name for name, parts in found.items() if len(parts) == 1}
    for name, parts in found.items():
        if name not in alone and (len(parts) != len(places) or len({round(part.u, 12) for part in parts}) > 1):
            return None
    own = [
        Place(
            place.name, place.estimate, tuple(p for p in place.components if not p.shared or p.shared in alone), place.n
        )
        for place in places
    ]
    return own, Place("", 0.0, tuple(parts[0] for name, parts in found.items() if name not in alone))


def _joint_by_quadrature(places: Sequence[Place], common: Place, lower: float, upper: float) -> float:
    """∫ Π P(place within limits | common error c) dF(c), over cells that follow the narrowest independent part."""
    parts = [closed_form(place) for place in places]
    if not common.components:
        return math.prod([part.probability(lower, upper) for part in parts])
    state = closed_form(common)
    reach = 6 * state.u if not state.nodes else 9 * state.u
    narrowest = min(part.u for part in parts)
    cells = min(400, max(24, math.ceil(4 * reach / narrowest)))
    width = 2 * reach / cells
    before = state.cdf(-reach)
    total = mass = 0.0
    for number in range(cells):
        left = -reach + width * number
        after = state.cdf(left + width)
        middle = left + width / 2
        share, before = after - before, after
        if share > NOTHING:
            total += share * math.prod([part.probability(lower - middle, upper - middle) for part in parts])
            mass += share
    return total / mass


def _joint_by_draws(
    places: Sequence[Place],
    told: Sequence[Sequence[GaugeCheck]],
    lower: float,
    upper: float,
    *,
    bounded: bool,
) -> float:
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made

    joint = draw_places(places)
    weight = np.ones(len(joint[0]))
    inside = np.ones(len(joint[0]), dtype=bool)
    for values, gauges in zip(joint, told, strict=True):
        weight = weight * _weights(values, gauges, bounded=bounded)
        inside &= (values >= lower) & (values <= upper)
    total = float(weight.sum())
    if not total >= UNLIKELY * len(weight):
        raise ContradictionError
    return float(weight[inside].sum()) / total


def _weights(values: Array, gauges: Sequence[GaugeCheck], *, bounded: bool) -> Array:
    """:func:`likelihood` of many draws at once."""
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made
    from scipy.special import ndtr  # noqa: PLC0415

    weight = np.ones(len(values))
    for check in gauges:
        limits = check.limits
        if limits is None:
            continue
        u = limits.u if limits.u > 0 else 1e-12
        above = ndtr((values - limits.lower) / u) if math.isfinite(limits.lower) else np.ones(len(values))
        below = ndtr((limits.upper - values) / u)
        weight *= {"pass": above * below, "low": 1 - above}.get(check.result, 1 - below)
    return np.where(values >= 0, weight, 0.0) if bounded else weight
