"""Estimates with the components of their uncertainty, and sums of them.

A component that several readings share (an instrument's calibration in one sitting) carries a name; in a sum or
difference the same name adds with its sign, so that it cancels where it should.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

INFINITE = math.inf


@dataclass(frozen=True, slots=True)
class Component:
    """One contribution to a standard uncertainty.

    Attributes
    ----------
    label : str
        What it comes from.
    u : float
        Standard uncertainty; signed where it is shared, so that sums keep its sign [inside unit].
    dof : float
        Degrees of freedom, infinite for Type B [-].
    shape : str
        ``normal`` (t where dof is finite) or ``rectangular``.
    shared : str
        Name of the nuisance it belongs to, "" where it is this reading's own.
    """

    label: str
    u: float
    dof: float = INFINITE
    shape: Literal["normal", "rectangular"] = "normal"
    shared: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """What was read at one place.

    Attributes
    ----------
    name : str
        ``turn 180 deg``, ``place 2`` or "".
    estimate : float
        [inside unit]
    components : tuple[Component, ...]
        Of its uncertainty.
    n : int
        Readings behind it [-].
    """

    name: str
    estimate: float
    components: tuple[Component, ...]
    n: int = 1

    @property
    def u(self) -> float:
        """Combined standard uncertainty [inside unit]."""
        return math.sqrt(math.fsum(component.u**2 for component in self.components))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom by Welch–Satterthwaite (GUM G.4.1) [-]."""
        return welch_satterthwaite(gathered(self.components))

    def budget(self) -> list[tuple[str, float, float]]:
        """Label, u and share of the variance of each component, largest first."""
        total = self.u**2 or 1.0
        rows = [(part.label, abs(part.u), part.u**2 / total) for part in gathered(self.components)]
        return sorted(rows, key=lambda row: -row[2])


def gathered(components: Iterable[Component]) -> list[Component]:
    """Components with the repeatability of each instrument gathered into one.

    Readings with one instrument rest on one record of its repeatability: their variances are uncertain together, not
    apart, so their sum keeps the fewest degrees of freedom among them.
    """
    kept: list[Component] = []
    same: dict[str, Component] = {}
    for component in components:
        if math.isinf(component.dof):
            kept.append(component)
            continue
        held = same.get(component.label)
        if held is not None:
            u, dof = math.hypot(held.u, component.u), min(held.dof, component.dof)
            component = replace(component, u=u, dof=dof)  # noqa: PLW2901 - the two as one
        same[component.label] = component
    return [*kept, *same.values()]


def welch_satterthwaite(components: Iterable[Component]) -> float:
    """ν_eff = u⁴ / Σ u_i⁴/ν_i, infinite where every ν_i is (GUM G.4.1)."""
    squares, quartics = [], []
    for component in components:
        squares.append(component.u**2)
        if math.isfinite(component.dof):
            quartics.append(component.u**4 / component.dof)
    below = math.fsum(quartics)
    return math.fsum(squares) ** 2 / below if below > 0 else INFINITE


def combine_linear(terms: Sequence[tuple[float, Place]], *, name: str = "") -> Place:
    """Sum c_i x_i of independent places that may share nuisances.

    Parameters
    ----------
    terms : sequence of (float, Place)
        Coefficient [-] and place.
    name : str
        Name of the result.

    Returns
    -------
    Place
        Estimate Σ c_i x_i [inside unit]; shared components of one name are added with their signs before squaring.
    """
    own: list[Component] = []
    shared: dict[str, Component] = {}
    for coefficient, place in terms:
        for component in place.components:
            u = coefficient * component.u
            if not component.shared:
                own.append(replace(component, u=abs(u)))
            elif component.shared in shared:
                held = shared[component.shared]
                shared[component.shared] = replace(held, u=held.u + u)
            else:
                shared[component.shared] = replace(component, u=u)
    estimate = math.fsum(coefficient * place.estimate for coefficient, place in terms)
    kept = [component for component in (*own, *shared.values()) if component.u != 0]
    return Place(name, estimate, tuple(kept), min(place.n for _, place in terms))


def merge(places: Sequence[Place], *, name: str = "") -> Place:
    """Weighted mean of what several instruments say of one place, by inverse variance.

    Parameters
    ----------
    places : sequence of Place
        At least one, each with u > 0.
    name : str
        Name of the result.
    """
    if len(places) == 1:
        return replace(places[0], name=name)
    weights = [1 / place.u**2 for place in places]
    total = math.fsum(weights)
    merged = combine_linear([(weight / total, place) for weight, place in zip(weights, places, strict=True)], name=name)
    return replace(merged, n=sum(place.n for place in places))
