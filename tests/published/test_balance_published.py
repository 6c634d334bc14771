"""Centre of gravity against published weighings and moment tables.

Sources: FAA AC 43.13-1B, chapter 10, paragraph 10-18; FAA-H-8083-1 (*memory*); public readings of a small car on two
scales, whose inputs were read in the text and whose answers were recomputed. Tolerance: half the last printed digit
unless said.
"""

from __future__ import annotations

import math

import pytest

from carwright.measure.balance import along, height_by_lifting
from carwright.measure.rolling import Measured
from carwright.measure.rolling_agreement import agreement


def centre(items: list[tuple[float, float]]) -> float:
    """Arm of the whole, by taking two supports together at a time: ``along`` with pivots at their arms."""
    weight, arm = items[0]
    for other, other_arm in items[1:]:
        (front, front_arm), (rear, rear_arm) = sorted(
            [(weight, arm), (other, other_arm)], key=lambda item: item[1], reverse=True
        )
        arm = along(
            Measured(front, 0.0),
            Measured(rear, 0.0),
            pivot_a=front_arm,
            pivot_b=-rear_arm,
            tilt=0.0,
            u_tilt=0.0,
            height=0.0,
        ).value
        weight += other
    return arm


def test_moment_table_of_a_rearward_check() -> None:
    """AC 43.13-1B, 10-18: 43428 lb-in over 2036 lb, inside the limit of 21.9 in. Its first moment is rounded by 0.4."""
    table = [(1169.0, 10.6), (17.0, -49.0), (170.0, 16.0), (340.0, 48.0), (240.0, 22.0), (100.0, 75.5)]
    found = centre(table)
    assert sum(weight for weight, _ in table) == 2036
    assert found == pytest.approx(43_428 / 2036, abs=0.5 / 2036)
    assert found == pytest.approx(21.330255, abs=5e-7)
    assert found < 21.9


def test_three_weights_on_a_board() -> None:
    """FAA-H-8083-1 (memory): 100 at 50, 100 at 90, 200 at 150 in balance at 110 in."""
    assert centre([(100.0, 50.0), (100.0, 90.0), (200.0, 150.0)]) == pytest.approx(110, abs=1e-9)


READ = 0.01 / math.sqrt(12)
"""u of a scale read to 0.01 g [g]."""
FRONT, REAR = Measured(70.26, READ), Measured(96.78, READ)
LEFT, RIGHT = Measured(82.67, READ), Measured(82.28, READ)


def between(first: Measured, second: Measured, *, apart: float) -> float:
    """Distance from the first scale."""
    half = apart / 2
    found = along(first, second, pivot_a=half, pivot_b=half, tilt=0.0, u_tilt=0.0, height=0.0)
    return half - found.value


def test_a_small_car_on_two_scales() -> None:
    """Wheelbase 90, track 59 mm: 52.144397 mm behind the front axle, 29.430251 (cut, not rounded) from the left."""
    assert between(FRONT, REAR, apart=90) == pytest.approx(52.144397, abs=5e-7)
    assert between(REAR, FRONT, apart=90) == pytest.approx(37.855603, abs=5e-7)
    assert between(LEFT, RIGHT, apart=59) == pytest.approx(29.430251, abs=1e-6)


def test_the_two_weighings_do_not_weigh_one_car() -> None:
    """167.04 g one way and 164.95 g the other: 2.09 g apart, too much even for u 0.3 g of each (judgement)."""
    for u in (READ * math.sqrt(2), 0.3):
        assert agreement([Measured(70.26 + 96.78, u), Measured(82.67 + 82.28, u)]) < 0.005
    assert agreement([Measured(167.04, 0.3), Measured(166.90, 0.3)]) > 0.5


@pytest.mark.parametrize(
    ("level", "lifted", "rise", "height"),
    [
        (REAR, 97.31, 8.0, 3.1998),
        (FRONT, 70.90, 8.0, 3.8640),
        (FRONT, 69.56, -8.0, 4.2262),
        (REAR, 96.08, -8.0, 4.2262),
        (REAR, 90.52, 12.7, -23.66),
    ],
)
def test_the_small_car_with_one_axle_raised(level: Measured, lifted: float, rise: float, height: float) -> None:
    """Heights above the axles, recomputed; the source signs the rise by the front axle, here by the one not weighed.

    The author of the last row notes that it did not work: it puts the centre of gravity under the ground.
    """
    found = height_by_lifting(
        level=level,
        lifted=Measured(lifted, READ),
        mass=Measured(167.04, READ * math.sqrt(2)),
        rise=Measured(rise, 0.1),
        wheelbase=90.0,
    )
    assert found.value == pytest.approx(height, abs=0.005 if rise > 10 else 0.00005)


def test_the_tangent_and_not_the_sine() -> None:
    """Constructed: 1000 g, 120 mm, centre of gravity 60 mm along and 25 mm above the axles, one raised by 20 mm.

    The low axle then reads 535.214761 g. A public page ends in b² (W₁ − W₀)/(h M), the sine for the tangent: 25.355.
    """
    found = height_by_lifting(
        level=Measured(500.0, 0.0),
        lifted=Measured(535.214761, 0.0),
        mass=Measured(1000.0, 0.0),
        rise=Measured(20.0, 0.0),
        wheelbase=120.0,
    )
    assert found.value == pytest.approx(25, abs=5e-7)
    trap = 120**2 * 35.214761 / (20 * 1000)
    assert trap == pytest.approx(25.355, abs=0.0005)
    assert abs(found.value - trap) > 0.3
