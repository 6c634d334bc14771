"""Where a car's centre of gravity lies: along it, to its side, and how high.

DESIGN §5, Weight and balance. Frame: x along the car from mid-length, + towards the A end; y + to the left seen facing
+x; z up from the railhead.
"""

from __future__ import annotations

import math

from carwright.measure.rolling import Measured, derive


def along(
    weight_a: Measured,
    weight_b: Measured,
    *,
    pivot_a: float,
    pivot_b: float,
    tilt: float,
    u_tilt: float,
    height: float,
) -> Measured:
    """Place along the car of its centre of gravity, from the weights on its two trucks.

    Moments about mid-length: x = (x_A W_A − x_B W_B)/W − h tan(tilt). On a bench that falls towards the A end the plumb
    line through the centre of gravity meets the rails h tan(tilt) nearer to A, and the lower truck reads too much: that
    much is taken off.

    Parameters
    ----------
    weight_a, weight_b : Measured
        W_A and W_B, >= 0 and together > 0 [g].
    pivot_a, pivot_b : float
        x_A and x_B: truck A turns at +x_A, truck B at −x_B; one may be negative, the two may not coincide [mm].
    tilt, u_tilt : float
        Slope of the bench, + when the A end is lower, and its u [rad].
    height : float
        h of the centre of gravity, as well as it is known; matters only with tilt and u_tilt [mm].

    Returns
    -------
    Measured
        x, + towards the A end [mm].

    Raises
    ------
    ValueError
        "a truck's weight must be >= 0 g, got -5.0"; "the two trucks must carry more than 0 g, got 0.0";
        "pivot_a + pivot_b must be > 0 mm, got 0.0"; "height must be >= 0 mm, got -1.0";
        "tilt must lie between -90 and 90 degrees, got 95.0"; "u must be >= 0, got -0.1"
    """
    for weight in (weight_a, weight_b):
        if weight.value < 0:
            raise ValueError(f"a truck's weight must be >= 0 g, got {weight.value}")
    if not weight_a.value + weight_b.value > 0:
        raise ValueError(f"the two trucks must carry more than 0 g, got {weight_a.value + weight_b.value}")
    if not pivot_a + pivot_b > 0:
        raise ValueError(f"pivot_a + pivot_b must be > 0 mm, got {pivot_a + pivot_b}")
    if not height >= 0:
        raise ValueError(f"height must be >= 0 mm, got {height}")
    if not -math.pi / 2 < tilt < math.pi / 2:
        raise ValueError(f"tilt must lie between -90 and 90 degrees, got {round(math.degrees(tilt), 3)}")
    return derive(
        lambda v: (pivot_a * v[0] - pivot_b * v[1]) / (v[0] + v[1]) - height * math.tan(v[2]),
        weight_a,
        weight_b,
        Measured(tilt, u_tilt),
    )


def height_and_side(*, tip_left: Measured, tip_right: Measured, contacts: Measured) -> tuple[Measured, Measured]:
    """Height and side of the centre of gravity, from the angles at which the car tips both ways.

    A car whose centre of gravity is at (y, h) goes over its right-hand contact, at −s/2, when tan φ = (s/2 + y)/h, and
    over its left-hand one, at +s/2, when tan φ = (s/2 − y)/h. The sum of the two gives h = s/(tan φ_L + tan φ_R). With
    y + to the left, y = h(tan φ_L − tan φ_R)/2 follows only where L names the side that is *raised*: φ_L is the tilt,
    left side up, at which the car goes over its right-hand wheels. Then y is + towards the raised left side, away from
    where that tip falls. Labelled by the side they fall to, the two angles go in exchanged.

    Parameters
    ----------
    tip_left, tip_right : Measured
        φ_L with the left side raised, φ_R with the right side raised, left and right seen facing the A end [rad].
    contacts : Measured
        s, spacing of the contacts the car tips about, :func:`tipping_contacts` [mm].

    Returns
    -------
    tuple[Measured, Measured]
        h above the railhead and y, + to the left [mm]; their errors are correlated where the angles' are not.

    Raises
    ------
    ValueError
        "angles must lie between 0 and 90 degrees, got 95.0"; "contacts must be > 0 mm apart, got 0.0"
    """
    _check_tip(tip_left)
    _check_tip(tip_right)
    _check_contacts(contacts)
    height = derive(lambda v: v[2] / (math.tan(v[0]) + math.tan(v[1])), tip_left, tip_right, contacts)
    side = derive(
        lambda v: v[2] * (math.tan(v[0]) - math.tan(v[1])) / (2 * (math.tan(v[0]) + math.tan(v[1]))),
        tip_left,
        tip_right,
        contacts,
    )
    return height, side


def leaning_height(*, tip: Measured, contacts: Measured, offset: float, bolster: float, lean: Measured) -> Measured:
    """Height of the centre of gravity of a car whose body shifts and leans before it tips.

    The body slides y₀ towards the low side and leans β about height z_r, so that its centre of gravity stands
    y₀ + (h − z_r) β nearer to the contact: h tan φ = s/2 − y₀ − (h − z_r) β, h = (s/2 − y₀ + z_r β)/(tan φ + β).

    Parameters
    ----------
    tip : Measured
        φ at which it tips, the mean of both sides [rad].
    contacts : Measured
        s, spacing of the contacts it tips about [mm].
    offset : float
        y₀, sideplay from the middle towards the low side [mm].
    bolster : float
        z_r, height about which the body leans [mm].
    lean : Measured
        β, lean of the body beyond the track's tilt, small, as tangent or angle [rad].

    Returns
    -------
    Measured
        h above the railhead [mm].

    Raises
    ------
    ValueError
        "angles must lie between 0 and 90 degrees, got 95.0"; "contacts must be > 0 mm apart, got 0.0";
        "offset must be at least 0 and less than half of the contacts' 16.0 mm, got 9.0";
        "bolster must be >= 0 mm, got -1.0"; "lean must be >= 0 rad, got -0.1"
    """
    _check_tip(tip)
    _check_contacts(contacts)
    if not 0 <= offset < contacts.value / 2:
        wanted = f"at least 0 and less than half of the contacts' {contacts.value} mm"
        raise ValueError(f"offset must be {wanted}, got {offset}")
    if not bolster >= 0:
        raise ValueError(f"bolster must be >= 0 mm, got {bolster}")
    if lean.value < 0:
        raise ValueError(f"lean must be >= 0 rad, got {lean.value}")
    return derive(
        lambda v: (v[1] / 2 - offset + bolster * v[2]) / (math.tan(v[0]) + v[2]),
        tip,
        contacts,
        lean,
    )


def tipping_contacts(*, back_to_back: float, flange: float) -> float:
    """Spacing of the contacts a car tips about: the outer faces of its flanges, close to the rails' inner edges.

    Parameters
    ----------
    back_to_back : float
        Distance between the backs of the wheels, > 0 [mm].
    flange : float
        Thickness of one flange, >= 0 [mm].

    Returns
    -------
    float
        s [mm].

    Raises
    ------
    ValueError
        "back_to_back must be > 0 mm, got 0.0"; "flange must be >= 0 mm, got -0.1"
    """
    if not back_to_back > 0:
        raise ValueError(f"back_to_back must be > 0 mm, got {back_to_back}")
    if not flange >= 0:
        raise ValueError(f"flange must be >= 0 mm, got {flange}")
    return back_to_back + 2 * flange


def height_by_lifting(
    *, level: Measured, lifted: Measured, mass: Measured, rise: Measured, wheelbase: float
) -> Measured:
    """Height of the centre of gravity above the axles, from what one axle weighs level and with the other raised.

    c = b (W₁ − W₀)/(M tan θ), sin θ = rise/b. The tangent, not the sine: b² (W₁ − W₀)/(rise M) reads 1.4 % too much at
    θ = 9.6°.

    Parameters
    ----------
    level, lifted : Measured
        W₀ and W₁ on one and the same axle [g].
    mass : Measured
        M, > 0 [g].
    rise : Measured
        Of the other axle; negative where the weighed one is raised [mm].
    wheelbase : float
        b [mm].

    Returns
    -------
    Measured
        c above the axle line [mm].

    Raises
    ------
    ValueError
        "mass must be > 0 g, got 0.0"; "rise must not be 0 and stay below the wheelbase of 90.0 mm, got 0.0"
    """
    if not mass.value > 0:
        raise ValueError(f"mass must be > 0 g, got {mass.value}")
    if rise.value == 0 or not -wheelbase < rise.value < wheelbase:
        raise ValueError(f"rise must not be 0 and stay below the wheelbase of {wheelbase} mm, got {rise.value}")
    return derive(
        lambda v: wheelbase * (v[1] - v[0]) / (v[2] * math.tan(math.asin(v[3] / wheelbase))), level, lifted, mass, rise
    )


def _check_tip(tip: Measured) -> None:
    if not 0 < tip.value < math.pi / 2:
        raise ValueError(f"angles must lie between 0 and 90 degrees, got {round(math.degrees(tip.value), 3)}")


def _check_contacts(contacts: Measured) -> None:
    if not contacts.value > 0:
        raise ValueError(f"contacts must be > 0 mm apart, got {contacts.value}")
