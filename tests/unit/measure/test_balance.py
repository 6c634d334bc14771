"""Balance: the formulas against a rigid body on its contacts."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import UFloat, ufloat, umath

from carwright.measure.balance import along, height_and_side, height_by_lifting, leaning_height, tipping_contacts
from carwright.measure.rolling import Measured


def exact(value: float) -> Measured:
    return Measured(value, 0.0)


def trucks(
    weight_a: float, weight_b: float, *, tilt: float = 0.0, u_tilt: float = 0.0, height: float = 0.0
) -> Measured:
    return along(
        Measured(weight_a, 0.1), Measured(weight_b, 0.1),
        pivot_a=60.0, pivot_b=55.0, tilt=tilt, u_tilt=u_tilt, height=height,
    )  # fmt: skip


def test_the_heavier_truck_draws_the_centre_of_gravity() -> None:
    assert trucks(50, 50).value == pytest.approx(2.5)
    assert trucks(80, 0).value == pytest.approx(60)
    assert trucks(0, 80).value == pytest.approx(-55)


@given(st.floats(-40, 40), st.floats(5, 40), st.floats(-0.05, 0.05))
def test_a_tilted_bench_is_taken_off(x: float, height: float, tilt: float) -> None:
    """Forces and moments in the bench's frame: gravity leans towards the end that is lower."""
    mass = 107.0
    down, towards_a = mass * math.cos(tilt), mass * math.sin(tilt)
    # about pivot B at the rail: the normal force at A, 115 mm away, holds gravity's moment
    weight_a = (down * (x + 55) + towards_a * height) / 115
    weight_b = down - weight_a
    if min(weight_a, weight_b) < 0:
        return
    assert trucks(weight_a, weight_b, tilt=tilt, height=height).value == pytest.approx(x, abs=1e-9)


def test_the_lower_truck_reads_more() -> None:
    """A end lower: the same readings put the centre of gravity farther from A than on a level bench."""
    assert trucks(50, 50, tilt=0.01, height=25).value == pytest.approx(2.5 - 0.25, abs=1e-4)
    assert trucks(50, 50, tilt=-0.01, height=25).value == pytest.approx(2.5 + 0.25, abs=1e-4)
    assert trucks(50, 50, u_tilt=0.01, height=25).u == pytest.approx(math.hypot(trucks(50, 50).u, 0.25), rel=1e-6)


def tips(x: float, y: float, half: float) -> tuple[float, float]:
    """Tilts at which a body with its centre of gravity at (x across, y up) goes over: right side raised, left raised.

    Turned about the middle of the track until the moment of gravity about the low contact changes sign, by bisection.
    """
    angles = []
    for low in (half, -half):  # with the right side raised the car stands on its left contact, and the other way round
        turn = 1.0 if low > 0 else -1.0  # raising the right side (y < 0) leans the car to the left (y > 0)
        below, above = 0.0, math.pi / 2
        for _ in range(60):
            angle = (below + above) / 2
            across = x * math.cos(angle) + turn * y * math.sin(angle)  # where the plumb line falls, seen level
            contact = low * math.cos(angle)
            stands = (contact - across) * turn > 0
            below, above = (angle, above) if stands else (below, angle)
        angles.append(below)
    return angles[0], angles[1]


@given(st.floats(10, 40), st.floats(-3, 3), st.floats(7, 9))
def test_a_rigid_body_gives_its_height_and_side_back(height: float, side: float, half: float) -> None:
    right_raised, left_raised = tips(side, height, half)
    h, y = height_and_side(tip_left=exact(left_raised), tip_right=exact(right_raised), contacts=exact(2 * half))
    assert h.value == pytest.approx(height, rel=1e-9)
    assert y.value == pytest.approx(side, abs=1e-9)


def test_left_is_the_side_that_is_raised() -> None:
    """Left of the middle the centre of gravity is nearer to the left contact: going over the right one takes more."""
    right_raised, left_raised = tips(1.0, 20.0, 8.0)
    assert math.tan(right_raised) == pytest.approx((8 - 1) / 20)
    assert math.tan(left_raised) == pytest.approx((8 + 1) / 20)
    _, y = height_and_side(tip_left=exact(left_raised), tip_right=exact(right_raised), contacts=exact(16.0))
    assert y.value == pytest.approx(1.0)
    _, exchanged = height_and_side(tip_left=exact(right_raised), tip_right=exact(left_raised), contacts=exact(16.0))
    assert exchanged.value == pytest.approx(-1.0)


@given(st.floats(15, 40), st.floats(0, 2), st.floats(0, 15), st.floats(0, 0.1))
def test_a_body_that_shifts_and_leans(height: float, offset: float, bolster: float, lean: float) -> None:
    """The centre of gravity goes across by offset + (h - bolster) lean; a rigid body there tips at what is put in."""
    moved = offset + (height - bolster) * lean
    right_raised, _ = tips(moved, height, 8.0)
    found = leaning_height(
        tip=exact(right_raised), contacts=exact(16.0), offset=offset, bolster=bolster, lean=exact(lean)
    )
    assert found.value == pytest.approx(height, rel=1e-9)


def test_a_stiff_body_is_the_plain_formula() -> None:
    h, _ = height_and_side(tip_left=exact(0.35), tip_right=exact(0.35), contacts=exact(16.0))
    stiff = leaning_height(tip=exact(0.35), contacts=exact(16.0), offset=0.0, bolster=9.0, lean=exact(0.0))
    assert stiff.value == pytest.approx(h.value)


@given(st.floats(5, 40), st.floats(20, 100), st.floats(1, 25), st.booleans())
def test_lifting_one_axle(height: float, from_weighed: float, rise: float, weighed_raised: bool) -> None:  # noqa: FBT001
    """Moments about the axle that is not weighed, on a line through both axles turned by the lift."""
    wheelbase, mass = 120.0, 300.0
    angle = math.asin(rise / wheelbase) * (-1 if weighed_raised else 1)
    # gravity's lever about the other axle, projected level, over the projected wheelbase
    lever = (wheelbase - from_weighed) * math.cos(angle) + height * math.sin(angle)
    lifted = mass * lever / (wheelbase * math.cos(angle))
    found = height_by_lifting(
        level=exact(mass * (wheelbase - from_weighed) / wheelbase),
        lifted=exact(lifted),
        mass=exact(mass),
        rise=exact(-rise if weighed_raised else rise),
        wheelbase=wheelbase,
    )
    assert found.value == pytest.approx(height, rel=1e-9)


def test_contacts_are_the_outer_faces_of_the_flanges() -> None:
    assert tipping_contacts(back_to_back=14.4, flange=0.75) == pytest.approx(15.9)
    assert tipping_contacts(back_to_back=14.4, flange=0.0) == 14.4


def same(ours: Measured, theirs: UFloat) -> None:
    assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.u == pytest.approx(theirs.std_dev, rel=1e-6)


def test_uncertainties_against_an_independent_library() -> None:
    a, b, tilt = ufloat(52, 0.1), ufloat(55, 0.1), ufloat(0.004, 0.002)
    same(trucks(52, 55, tilt=0.004, u_tilt=0.002, height=25), (60 * a - 55 * b) / (a + b) - 25 * umath.tan(tilt))
    left, right, s = ufloat(0.36, 0.01), ufloat(0.33, 0.01), ufloat(15.9, 0.1)
    h, y = height_and_side(tip_left=Measured(0.36, 0.01), tip_right=Measured(0.33, 0.01), contacts=Measured(15.9, 0.1))
    theirs = s / (umath.tan(left) + umath.tan(right))
    same(h, theirs)
    same(y, theirs * (umath.tan(left) - umath.tan(right)) / 2)
    beta = ufloat(0.03, 0.01)
    same(
        leaning_height(
            tip=Measured(0.36, 0.01), contacts=Measured(15.9, 0.1), offset=0.4, bolster=8.0, lean=Measured(0.03, 0.01)
        ),
        (s / 2 - 0.4 + 8.0 * beta) / (umath.tan(left) + beta),
    )
    rise = ufloat(8, 0.1)
    same(
        height_by_lifting(
            level=Measured(96.78, 0.02),
            lifted=Measured(97.31, 0.02),
            mass=Measured(167.04, 0.03),
            rise=Measured(8, 0.1),
            wheelbase=90.0,
        ),
        90 * (ufloat(97.31, 0.02) - ufloat(96.78, 0.02)) / (ufloat(167.04, 0.03) * umath.tan(umath.asin(rise / 90))),
    )


def tipping(left: float = 0.3, right: float = 0.3, contacts: float = 16.0) -> object:
    return height_and_side(tip_left=exact(left), tip_right=exact(right), contacts=exact(contacts))


def leaning(
    *, tip: float = 0.3, contacts: float = 16.0, offset: float = 0.0, bolster: float = 8.0, lean: float = 0.0
) -> object:
    return leaning_height(tip=exact(tip), contacts=exact(contacts), offset=offset, bolster=bolster, lean=exact(lean))


def lifting(*, mass: float = 167.0, rise: float = 8.0) -> object:
    return height_by_lifting(
        level=exact(96.78), lifted=exact(97.31), mass=exact(mass), rise=exact(rise), wheelbase=90.0
    )


def pivots(pivot_a: float, pivot_b: float) -> object:
    return along(exact(50), exact(50), pivot_a=pivot_a, pivot_b=pivot_b, tilt=0.0, u_tilt=0.0, height=0.0)


LIFT = "rise must not be 0 and stay below the wheelbase of 90.0 mm, got "


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: trucks(-5.0, 50), "a truck's weight must be >= 0 g, got -5.0"),
        (lambda: trucks(50, -5.0), "a truck's weight must be >= 0 g, got -5.0"),
        (lambda: trucks(0.0, 0.0), "the two trucks must carry more than 0 g, got 0.0"),
        (lambda: pivots(50.0, -50.0), "pivot_a + pivot_b must be > 0 mm, got 0.0"),
        (lambda: pivots(-50.0, math.nan), "pivot_a + pivot_b must be > 0 mm, got nan"),
        (lambda: trucks(50, 50, height=-1.0), "height must be >= 0 mm, got -1.0"),
        (lambda: trucks(50, 50, tilt=math.radians(95)), "tilt must lie between -90 and 90 degrees, got 95.0"),
        (lambda: trucks(50, 50, u_tilt=-0.1), "u must be >= 0, got -0.1"),
        (lambda: tipping(left=0.0), "angles must lie between 0 and 90 degrees, got 0.0"),
        (lambda: tipping(right=math.radians(95)), "angles must lie between 0 and 90 degrees, got 95.0"),
        (lambda: tipping(contacts=0.0), "contacts must be > 0 mm apart, got 0.0"),
        (lambda: leaning(tip=math.pi / 2), "angles must lie between 0 and 90 degrees, got 90.0"),
        (lambda: leaning(contacts=-1.0), "contacts must be > 0 mm apart, got -1.0"),
        (
            lambda: leaning(offset=8.0),
            "offset must be at least 0 and less than half of the contacts' 16.0 mm, got 8.0",
        ),
        (
            lambda: leaning(offset=-0.5),
            "offset must be at least 0 and less than half of the contacts' 16.0 mm, got -0.5",
        ),
        (lambda: leaning(bolster=-1.0), "bolster must be >= 0 mm, got -1.0"),
        (lambda: leaning(lean=-0.1), "lean must be >= 0 rad, got -0.1"),
        (lambda: tipping_contacts(back_to_back=0.0, flange=0.7), "back_to_back must be > 0 mm, got 0.0"),
        (lambda: tipping_contacts(back_to_back=14.4, flange=-0.1), "flange must be >= 0 mm, got -0.1"),
        (lambda: lifting(mass=0.0), "mass must be > 0 g, got 0.0"),
        (lambda: lifting(rise=0.0), LIFT + "0.0"),
        (lambda: lifting(rise=90.0), LIFT + "90.0"),
        (lambda: lifting(rise=-95.0), LIFT + "-95.0"),
    ],
)
def test_refusals(make: Callable[[], object], sentence: str) -> None:
    with pytest.raises(ValueError) as refused:  # noqa: PT011 - the sentence is compared whole below
        make()
    assert str(refused.value) == sentence
