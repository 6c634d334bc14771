"""Loads for open cars, densities, and what weight costs a train."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from carwright.explain.ballast import grams, positive
from carwright.tables import shipped

SHOT = 0.64
"""Share of a room that spheres poured at random fill when shaken down (common knowledge, *memory*) [-]."""
LOAD_MATERIALS = ("steel", "tungsten", "brass", "zinc alloy", "lead")
"""What the core of a load may hold; lead stands last, since it needs the most care."""
_SLACK = 1e-9
"""What a share may be off by [-]."""


@lru_cache(maxsize=1)
def densities() -> Mapping[str, float]:
    """Density at room temperature by material, from ``materials/densities`` [g/cm3]."""
    rows = shipped().table("materials/densities").rows
    return {name: row.cells["density"].value or 0.0 for name, row in rows.items()}


@dataclass(frozen=True, slots=True)
class Mix:
    """A heavy material in the core of a load.

    Attributes
    ----------
    material : str
        As in ``materials/densities``.
    share : float
        Of the core's volume that the material must fill; below 0 or above 1 where it cannot be [-].
    hidden : bool
        Whether a skin covers it, so that it may look like anything.
    shot : bool
        Whether shot or filings fill that share (0 to 0.64).
    solid : bool
        Whether solid pieces do (0 to 1).
    """

    material: str
    share: float
    hidden: bool
    shot: bool
    solid: bool


@dataclass(frozen=True, slots=True)
class Load:
    """A load for an open car: a skin on top and four sides, and a core of heavy material and air.

    Attributes
    ----------
    length, width, height : float
        Outside [mm].
    volume : float
        Outside [mm3].
    mass : float
        Wanted [g].
    density : float
        Mass over outside volume [g/cm3].
    mixes : tuple[Mix, ...]
        One for each of :data:`LOAD_MATERIALS`, in that order.
    reason : str
        Why no material reaches the mass, or "".
    """

    length: float
    width: float
    height: float
    volume: float
    mass: float
    density: float
    mixes: tuple[Mix, ...]
    reason: str


def design_load(*, length: float, width: float, height: float, mass: float, cover: float = 1.5) -> Load:
    """Say what a load of given outside size must hold to weigh what is wanted.

    Parameters
    ----------
    length, width, height : float
        Outside [mm].
    mass : float
        Of the whole load [g].
    cover : float
        Thickness of the skin of polystyrene or filler, 1.05 g/cm3, on top and four sides [mm].

    Returns
    -------
    Load
        Share of the core each heavy material must fill, (mass − skin) / (core × density), the rest of it being air.

    Raises
    ------
    ValueError
        "length must be > 0 mm, got 0.0", and the same of width and height; "mass must be > 0 g, got -1.0"
        "cover must be >= 0 mm and leave a core, got 15.0 on 40.0 x 25.0 x 10.0 mm"

    Notes
    -----
    Densities: :func:`densities`. Shot or filings fill at most 0.64 of a room: common knowledge, *memory*.
    """
    for name, edge in (("length", length), ("width", width), ("height", height)):
        if not positive(edge):
            raise ValueError(f"{name} must be > 0 mm, got {edge}")
    _check_mass(mass)
    core_edges = (length - 2 * cover, width - 2 * cover, height - cover)
    if not (cover >= 0 and min(core_edges) > 0):
        raise ValueError(f"cover must be >= 0 mm and leave a core, got {cover} on {length} x {width} x {height} mm")
    volume, core = length * width * height, math.prod(core_edges)
    skin = (volume - core) * densities()["polystyrene"] / _MM3_PER_CM3
    mixes = tuple(_mix(material, (mass - skin) / core * _MM3_PER_CM3, covered=cover > 0) for material in LOAD_MATERIALS)
    density = mass / volume * _MM3_PER_CM3
    reason = ""
    if mass < skin * (1 - _SLACK):
        reason = f"the skin alone weighs {grams(skin)}, more than the {grams(mass)} wanted"
    elif not any(mix.solid for mix in mixes):
        heaviest = min(mixes, key=lambda mix: mix.share).material
        reason = f"the load would need {density:.1f} g/cm3, more than a solid core of {heaviest} gives"
    return Load(length, width, height, volume, mass, density, mixes, reason)


_MM3_PER_CM3 = 1000.0


def _mix(material: str, needed: float, *, covered: bool) -> Mix:
    """A material where the core needs so many g/cm3 on the whole."""
    share = needed / densities()[material]
    return Mix(material, share, covered, -_SLACK <= share <= SHOT + _SLACK, -_SLACK <= share <= 1 + _SLACK)


def _check_mass(mass: float) -> None:
    if not positive(mass):
        raise ValueError(f"mass must be > 0 g, got {mass}")


def pulled(
    *,
    mass_before: float,
    mass_after: float,
    resistance_before: float,
    resistance_after: float,
    grade: float,
    cars: float,
) -> float:
    """Say how many cars of a new mass an engine pulls that pulls so many of the old one.

    Parameters
    ----------
    mass_before, mass_after : float
        Of one car [g].
    resistance_before, resistance_after : float
        Rolling resistance over weight [-].
    grade : float
        Rise over run, + uphill [-].
    cars : float
        Pulled before [-].

    Returns
    -------
    float
        cars × m₀ (c₀ + grade) / (m₁ (c₁ + grade)), the pull being the same; not rounded down [-].

    Raises
    ------
    ValueError
        "mass must be > 0 g, got 0.0"; "cars must be >= 0, got -1.0"
        "resistance and grade must come to > 0, got 0.02 and -0.03"

    Notes
    -----
    Source: balance of forces on a train at steady speed; on slopes a model climbs the sine and the tangent are equal.
    """
    _check_mass(mass_before)
    _check_mass(mass_after)
    if not 0 <= cars < math.inf:
        raise ValueError(f"cars must be >= 0, got {cars}")
    for resistance in (resistance_before, resistance_after):
        if not (resistance >= 0 and positive(resistance + grade)):
            raise ValueError(f"resistance and grade must come to > 0, got {resistance} and {grade}")
    return cars * mass_before * (resistance_before + grade) / (mass_after * (resistance_after + grade))
