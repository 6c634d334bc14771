"""Rolling resistance three ways, the track's own slope, and what to suspect where the ways disagree.

DESIGN §5, Rolling. c is the force that holds a rolling car back over its weight [-]. A slope t is an angle [rad],
+ downhill in the direction of travel. Along the track a car slows by a = g(c cos t − sin t)/(1 + λ), from its equation
of motion, where λ = ΣI/(m r²) is what its turning wheels add to its mass.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from carwright.measure.gum import Input, propagate
from carwright.units import GRAVITY


@dataclass(frozen=True, slots=True)
class Measured:
    """An estimate with its standard uncertainty.

    Attributes
    ----------
    value : float
        Estimate [inside unit].
    u : float
        Standard uncertainty, >= 0 [same unit].

    Raises
    ------
    ValueError
        "a value must be finite, got nan"; "u must be >= 0, got -0.1"
    """

    value: float
    u: float

    def __post_init__(self) -> None:
        """Refuse what no arithmetic can bring back into order."""
        if not math.isfinite(self.value):
            raise ValueError(f"a value must be finite, got {self.value}")
        if not 0 <= self.u < math.inf:
            raise ValueError(f"u must be >= 0, got {self.u}")


SLOPE_U = 0.0025
"""u of the slope of a track called level [-]. Judgement: half the 0.5 % that "level" yards were found to be out."""
METAL_WHEEL_INERTIA = Measured(0.06, 0.01)
"""λ of a light HO car on metal wheels [-]. Judgement, from the range 0.05 to 0.07."""
UNKNOWN_WHEEL_INERTIA = Measured(0.04, 0.025)
"""λ where nobody looked at the wheels [-]. Judgement: from nearly weightless wheels to heavy ones under a light car."""
NEWTON = 1e-6
"""Newtons in one g mm/s², exact."""


def derive(function: Callable[[Sequence[float]], float], *inputs: Measured) -> Measured:
    """Function of independent inputs, with u to first order (JCGM 100:2008, 5.1).

    Parameters
    ----------
    function : callable
        Takes the inputs' values in order.
    *inputs : Measured
        Independent of one another.

    Returns
    -------
    Measured
        In the function's unit.
    """
    result = propagate(function, [Input(entry.value, entry.u) for entry in inputs])
    return Measured(result.estimate, result.u)


def resistance_from_coast(deceleration: Measured, *, inertia: Measured, slope: Measured) -> Measured:
    """Rolling resistance of a car that coasts to a stand; on the level c = a(1 + λ)/g.

    The equation of motion a = g(c cos t − sin t)/(1 + λ), solved for c.

    Parameters
    ----------
    deceleration : Measured
        a, >= 0 [mm/s²].
    inertia : Measured
        λ, >= 0 [-].
    slope : Measured
        t, + downhill in the direction of travel [rad].

    Returns
    -------
    Measured
        c [-].

    Raises
    ------
    ValueError
        "deceleration must be >= 0 mm/s2, got -3.0"; "inertia must be >= 0, got -0.1";
        "slope must lie between -90 and 90 degrees, got 95.0"
    """
    if deceleration.value < 0:
        raise ValueError(f"deceleration must be >= 0 mm/s2, got {deceleration.value}")
    if inertia.value < 0:
        raise ValueError(f"inertia must be >= 0, got {inertia.value}")
    _check_slope(slope)
    return derive(
        lambda v: v[0] * (1 + v[1]) / (GRAVITY * math.cos(v[2])) + math.tan(v[2]), deceleration, inertia, slope
    )


def resistance_from_run_out(ratio: Measured, *, slope: Measured) -> Measured:
    """Rolling resistance from a run-out, rest to rest: c = H/D + tan t, free of λ.

    From rest to rest the whole drop goes into rolling, and nothing is left in wheels or speed. H and D are taken as if
    the run-out were level. Where it falls by t the car drops D tan t more; what the tilt does to the ramp itself is of
    second order (H tan t beside D).

    Parameters
    ----------
    ratio : Measured
        H/D: drop over the horizontal distance from stand to stand, >= 0 [-].
    slope : Measured
        t, + downhill in the direction of travel [rad].

    Returns
    -------
    Measured
        c [-].

    Raises
    ------
    ValueError
        "ratio must be >= 0, got -0.01"; "slope must lie between -90 and 90 degrees, got 95.0"
    """
    if ratio.value < 0:
        raise ValueError(f"ratio must be >= 0, got {ratio.value}")
    _check_slope(slope)
    return derive(lambda v: v[0] + math.tan(v[1]), ratio, slope)


def resistance_from_pull(force: Measured, *, mass: Measured, slope: Measured) -> Measured:
    """Rolling resistance from the force that keeps a car rolling at one speed: c = F/(m g) + tan t.

    Exact for a level track; on a slope the direction of the pull enters only to second order.

    Parameters
    ----------
    force : Measured
        F while rolling, not while starting, >= 0 [N].
    mass : Measured
        m, > 0 [g].
    slope : Measured
        t, + downhill in the direction of travel [rad].

    Returns
    -------
    Measured
        c [-].

    Raises
    ------
    ValueError
        "force must be >= 0 N, got -0.1"; "mass must be > 0 g, got 0.0";
        "slope must lie between -90 and 90 degrees, got 95.0"
    """
    if force.value < 0:
        raise ValueError(f"force must be >= 0 N, got {force.value}")
    _check_mass(mass.value)
    _check_slope(slope)
    return derive(lambda v: v[0] / (v[1] * GRAVITY * NEWTON) + math.tan(v[2]), force, mass, slope)


def rolling_inertia(wheels: Sequence[tuple[float, float, float]], *, mass: float) -> float:
    """λ = ΣI/(m r²): what turning wheelsets add to the mass of the car, as a share of it.

    Parameters
    ----------
    wheels : sequence of (float, float, float)
        Of each wheelset its mass [g], radius of gyration [mm] and rolling radius [mm].
    mass : float
        m, of the whole car with its wheelsets [g].

    Returns
    -------
    float
        λ [-].

    Raises
    ------
    ValueError
        "mass must be > 0 g, got 0.0"; "rolling_inertia needs a wheelset, got none";
        "wheelset 2 must have mass >= 0 g, gyration >= 0 mm and rolling radius > 0 mm, got (4.0, 3.0, 0.0)";
        "wheelsets must not outweigh their car of 20.0 g, got 32.0 g"
    """
    _check_mass(mass)
    if not wheels:
        raise ValueError("rolling_inertia needs a wheelset, got none")
    for number, wheelset in enumerate(wheels, start=1):
        if not (wheelset[0] >= 0 and wheelset[1] >= 0 and wheelset[2] > 0):
            wanted = "mass >= 0 g, gyration >= 0 mm and rolling radius > 0 mm"
            raise ValueError(f"wheelset {number} must have {wanted}, got {wheelset}")
    together = math.fsum(weight for weight, _, _ in wheels)
    if together > mass:
        raise ValueError(f"wheelsets must not outweigh their car of {mass} g, got {together} g")
    return math.fsum(weight * (gyration / radius) ** 2 for weight, gyration, radius in wheels) / mass


@dataclass(frozen=True, slots=True)
class Both:
    """What one method says once the ways it was run are put together.

    Attributes
    ----------
    resistance : Measured
        c, or the grade at which the car starts [-].
    slope : Measured or None
        Of the track, + downhill towards the car's A end [rad]; None where one way leaves it unknown.
    ways : tuple[str, ...]
        Leading ends that entered: ``A``, ``B``, or "" where it was not said.
    """

    resistance: Measured
    slope: Measured | None
    ways: tuple[str, ...]


def both_ways(found: Mapping[str, Measured], *, level_u: float) -> Both:
    """Mean of both ways, in which the track's slope drops out, and that slope.

    Each result was worked out as if the track were level (slope 0, u 0). Where it falls by s towards the A end, a run
    with A leading goes downhill and needs c = c_A + tan s; one with B leading goes uphill and needs c = c_B − tan s.
    So c = (c_A + c_B)/2 and tan s = (c_B − c_A)/2. The car stands the same way round in both; a car that itself rolls
    worse one way passes for a slope. A result whose way was not said is left out beside both ways.

    Parameters
    ----------
    found : mapping of str to Measured
        c by leading end: ``A``, ``B`` or "" [-].
    level_u : float
        u of the slope of a track called level, for instance :data:`SLOPE_U`; enters where one way is missing [-].

    Returns
    -------
    Both
        u of the mean is √(u_A² + u_B²)/2: what both share (λ, mass) is halved with the rest and thus told too small.

    Raises
    ------
    ValueError
        "both_ways needs a result, got none"; "a way must be A, B or '', got 'C'"; "level_u must be >= 0, got -0.1"
    """
    if not found:
        raise ValueError("both_ways needs a result, got none")
    for way in found:
        if way not in {"A", "B", ""}:
            raise ValueError(f"a way must be A, B or '', got {way!r}")
    if not level_u >= 0:
        raise ValueError(f"level_u must be >= 0, got {level_u}")
    if "A" in found and "B" in found:
        a, b = found["A"], found["B"]
        u = math.hypot(a.u, b.u) / 2
        slope = derive(lambda v: math.atan((v[1] - v[0]) / 2), a, b)
        return Both(Measured((a.value + b.value) / 2, u), slope, ("A", "B"))
    mean = math.fsum(entry.value for entry in found.values()) / len(found)
    own = math.hypot(*(entry.u for entry in found.values())) / len(found)
    return Both(Measured(mean, math.hypot(own, level_u)), None, tuple(found))


def breakaway_grade(slopes: Mapping[str, Measured]) -> Both:
    """Grade at which the car starts, both ways together; it is breakaway, never merged with rolling.

    The board's slope is read against what was called level; a base that falls by s towards the A end helps the car
    start with A leading and hinders it with B leading, so that mean and slope follow as in :func:`both_ways`.

    Parameters
    ----------
    slopes : mapping of str to Measured
        Angle at which it starts, by leading end: ``A``, ``B`` or "" [rad].

    Returns
    -------
    Both
        ``resistance`` is the grade, tan of the angle [-].

    Raises
    ------
    ValueError
        "a starting slope must be at least 0 and less than 90 degrees, got -1.0"; else as :func:`both_ways`
    """
    for slope in slopes.values():
        if not 0 <= slope.value < math.pi / 2:
            wanted = "at least 0 and less than 90 degrees"
            raise ValueError(f"a starting slope must be {wanted}, got {round(math.degrees(slope.value), 3)}")
    grades = {way: derive(lambda v: math.tan(v[0]), slope) for way, slope in slopes.items()}
    return both_ways(grades, level_u=SLOPE_U)


def equivalent_grade(resistance: Measured) -> Measured:
    """Grade down which the car keeps its speed: tan t = c.

    Parameters
    ----------
    resistance : Measured
        c [-].

    Returns
    -------
    Measured
        100 c [%].
    """
    return Measured(100 * resistance.value, 100 * resistance.u)


def _check_mass(mass: float) -> None:
    if not mass > 0:
        raise ValueError(f"mass must be > 0 g, got {mass}")


def _check_slope(slope: Measured) -> None:
    if not -math.pi / 2 < slope.value < math.pi / 2:
        raise ValueError(f"slope must lie between -90 and 90 degrees, got {round(math.degrees(slope.value), 3)}")
