"""Rolling: the formulas against a car whose motion is integrated, and what is suspected when methods disagree."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2
from uncertainties import UFloat, ufloat, umath

from carwright.measure.rolling import (
    METAL_WHEEL_INERTIA,
    SLOPE_U,
    UNKNOWN_WHEEL_INERTIA,
    Both,
    Measured,
    both_ways,
    breakaway_grade,
    equivalent_grade,
    resistance_from_coast,
    resistance_from_pull,
    resistance_from_run_out,
    rolling_inertia,
)
from carwright.measure.rolling_agreement import Comparison, agreement, compare
from carwright.units import GRAVITY

LEVEL = Measured(0.0, 0.0)


@dataclass(frozen=True)
class Car:
    """A body on wheelsets that turn by themselves: only creep at the tread ties the two together."""

    c: float = 0.02
    mass: float = 110.0
    wheelsets: float = 16.0
    gyration: float = 3.5
    radius: float = 5.25

    @property
    def wheels(self) -> list[tuple[float, float, float]]:
        return [(self.wheelsets / 4, self.gyration, self.radius)] * 4


LIGHT, HEAVY = Car(), Car(wheelsets=40.0, gyration=4.0)
CREEP, STEP = 4e4, 1e-4  # g/s and s: the tread follows the car within 0.2 ms
State = tuple[float, float, float]


def integrate(
    car: Car, slope: Callable[[float], float], *, speed: float, seconds: float, pulled_at: float | None = None
) -> list[State]:
    """Way, speed and pull [mm, mm/s, g mm/s2] of every step, by Runge and Kutta; stops where the car does.

    Newton for the body, Euler for the wheels, nothing put together: the bearings hold each wheelset back with a moment,
    and what reaches the body is the force at the treads.
    """
    turning = car.wheelsets * car.gyration**2
    pull_rate = 5e3 if pulled_at is not None else 0.0

    def rates(way: float, v: float, turn: float) -> State:
        t = slope(way)
        tread = CREEP * (v - turn * car.radius)
        bearings = car.c * car.mass * GRAVITY * math.cos(t) * car.radius
        pull = pull_rate * ((pulled_at or 0.0) - v)
        return (
            v,
            GRAVITY * math.sin(t) + (pull - tread) / car.mass,
            (tread * car.radius - bearings) / turning,
        )

    state: State = (0.0, speed, speed / car.radius)
    track = [(0.0, speed, 0.0)]
    for _ in range(round(seconds / STEP)):
        k1 = rates(*state)
        k2 = rates(*(x + STEP / 2 * k for x, k in zip(state, k1, strict=True)))
        k3 = rates(*(x + STEP / 2 * k for x, k in zip(state, k2, strict=True)))
        k4 = rates(*(x + STEP * k for x, k in zip(state, k3, strict=True)))
        way, v, turn = (
            x + STEP / 6 * (a + 2 * b + 2 * c + d) for x, a, b, c, d in zip(state, k1, k2, k3, k4, strict=True)
        )
        state = (way, v, turn)
        if v <= 0 and way > 1:
            break
        track.append((way, v, pull_rate * ((pulled_at or 0.0) - v)))
    return track


def coast(car: Car, slope: float) -> Measured:
    """Deceleration from three places a fifth of a second apart, as a person reads it."""
    track = integrate(car, lambda _: slope, speed=400.0, seconds=0.45)
    first, middle, last = (track[round(t / STEP)][0] for t in (0.02, 0.22, 0.42))
    return Measured((2 * middle - first - last) / 0.2**2, 0.0)


def run_out(car: Car, fall: float) -> Measured:
    """H/D of a run from a ramp, drawn as if its run-out were level, while all of it is tilted by ``fall``."""

    def ramp(way: float) -> float:
        return 0.15 * min(1.0, max(0.0, (140 - way) / 40))

    track = integrate(car, lambda way: ramp(way) + fall, speed=0.0, seconds=20)
    assert track[-1][1] < 1
    drop = distance = 0.0
    for (before, _, _), (after, _, _) in pairwise(track):
        drop += math.sin(ramp((before + after) / 2)) * (after - before)
        distance += math.cos(ramp((before + after) / 2)) * (after - before)
    return Measured(drop / distance, 0.0)


def pull(car: Car, slope: float) -> Measured:
    """Force [N] once it is steady."""
    return Measured(integrate(car, lambda _: slope, speed=100.0, seconds=0.4, pulled_at=100.0)[-1][2] * 1e-6, 0.0)


@pytest.mark.parametrize("car", [LIGHT, HEAVY])
@pytest.mark.parametrize("slope", [-0.004, 0.0, 0.006])
def test_a_coasting_car_gives_its_resistance_back(car: Car, slope: float) -> None:
    inertia = Measured(rolling_inertia(car.wheels, mass=car.mass), 0.0)
    found = resistance_from_coast(coast(car, slope), inertia=inertia, slope=Measured(slope, 0.0))
    assert found.value == pytest.approx(car.c, rel=1e-4)
    assert found.u == 0


@pytest.mark.parametrize("car", [LIGHT, HEAVY])
@pytest.mark.parametrize("fall", [-0.003, 0.0, 0.003])
def test_a_run_out_gives_the_resistance_whatever_the_wheels(car: Car, fall: float) -> None:
    found = resistance_from_run_out(run_out(car, fall), slope=Measured(fall, 0.0))
    assert found.value == pytest.approx(car.c, rel=0.004)


@pytest.mark.parametrize("slope", [-0.004, 0.0, 0.004])
def test_a_steady_pull_gives_the_resistance(slope: float) -> None:
    found = resistance_from_pull(pull(LIGHT, slope), mass=Measured(110.0, 0.0), slope=Measured(slope, 0.0))
    assert found.value == pytest.approx(0.02, rel=1e-4)


@pytest.mark.parametrize("fall", [-0.003, 0.003])
def test_both_ways_find_resistance_and_the_fall_towards_the_a_end(fall: float) -> None:
    inertia = Measured(rolling_inertia(LIGHT.wheels, mass=110.0), 0.0)
    coasts = {
        way: resistance_from_coast(coast(LIGHT, slope), inertia=inertia, slope=LEVEL)
        for way, slope in (("A", fall), ("B", -fall))
    }
    pulls = {
        way: resistance_from_pull(pull(LIGHT, slope), mass=Measured(110.0, 0.0), slope=LEVEL)
        for way, slope in (("A", fall), ("B", -fall))
    }
    run_outs = {
        way: resistance_from_run_out(run_out(LIGHT, slope), slope=LEVEL) for way, slope in (("A", fall), ("B", -fall))
    }
    for found, slack in ((coasts, 1e-3), (pulls, 1e-3), (run_outs, 0.02)):
        both = both_ways(found, level_u=SLOPE_U)
        assert both.resistance.value == pytest.approx(0.02, rel=slack)
        assert both.slope is not None
        assert both.slope.value == pytest.approx(fall, rel=slack)
        assert both.ways == ("A", "B")


def test_breakaway_grade_and_the_fall_of_its_base() -> None:
    start, fall = math.atan(0.025), 0.003
    both = breakaway_grade({"A": Measured(start - fall, 0.0005), "B": Measured(start + fall, 0.0005)})
    assert both.resistance.value == pytest.approx(0.025, rel=1e-4)
    assert both.slope is not None
    assert both.slope.value == pytest.approx(fall, rel=1e-3)
    one = breakaway_grade({"B": Measured(0.2, 0.001)})
    assert one.resistance.value == pytest.approx(math.tan(0.2))
    assert one.resistance.u == pytest.approx(math.hypot(0.001 / math.cos(0.2) ** 2, SLOPE_U))
    assert (one.slope, one.ways) == (None, ("B",))


def same(ours: Measured, theirs: UFloat) -> None:
    assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.u == pytest.approx(theirs.std_dev, rel=1e-6)


def test_uncertainties_against_an_independent_library() -> None:
    a, lam, t = ufloat(190, 6), ufloat(0.06, 0.01), ufloat(0.004, 0.0025)
    inputs = Measured(190, 6), Measured(0.06, 0.01), Measured(0.004, 0.0025)
    same(
        resistance_from_coast(inputs[0], inertia=inputs[1], slope=inputs[2]),
        (a * (1 + lam) / 9806.65 + umath.sin(t)) / umath.cos(t),
    )
    same(resistance_from_run_out(Measured(0.02, 0.001), slope=inputs[2]), ufloat(0.02, 0.001) + umath.tan(t))
    same(
        resistance_from_pull(Measured(0.021, 0.001), mass=Measured(107, 0.5), slope=inputs[2]),
        ufloat(0.021, 0.001) / (ufloat(0.107, 0.0005) * 9.80665) + umath.tan(t),
    )
    c_a, c_b = ufloat(0.018, 0.0006), ufloat(0.024, 0.0008)
    both = both_ways({"A": Measured(0.018, 0.0006), "B": Measured(0.024, 0.0008)}, level_u=SLOPE_U)
    same(both.resistance, (c_a + c_b) / 2)
    assert both.slope is not None
    same(both.slope, umath.atan((c_b - c_a) / 2))


def test_one_way_leaves_the_slope_unknown() -> None:
    one = both_ways({"A": Measured(0.02, 0.0006)}, level_u=0.0025)
    assert one == Both(Measured(0.02, math.hypot(0.0006, 0.0025)), None, ("A",))
    unsaid = both_ways({"A": Measured(0.02, 0.0006), "": Measured(0.022, 0.0008)}, level_u=0.0025)
    assert unsaid.resistance.value == pytest.approx(0.021)
    assert unsaid.resistance.u == pytest.approx(math.hypot(0.0005, 0.0025))
    assert (unsaid.slope, unsaid.ways) == (None, ("A", ""))
    known = {"A": Measured(0.018, 0.0006), "B": Measured(0.024, 0.0008)}
    assert both_ways(known | {"": Measured(0.5, 0.1)}, level_u=0.0025) == both_ways(known, level_u=0.1)


def test_wheels_add_to_the_mass() -> None:
    assert rolling_inertia([(10.0, 3.0, 6.0), (20.0, 4.0, 4.0)], mass=100.0) == pytest.approx((2.5 + 20) / 100)
    assert (METAL_WHEEL_INERTIA.value, METAL_WHEEL_INERTIA.u) == (0.06, 0.01)
    assert (UNKNOWN_WHEEL_INERTIA.value, UNKNOWN_WHEEL_INERTIA.u) == (0.04, 0.025)
    light = rolling_inertia(LIGHT.wheels, mass=LIGHT.mass)
    assert abs(light - METAL_WHEEL_INERTIA.value) < METAL_WHEEL_INERTIA.u


def test_equivalent_grade_is_in_percent() -> None:
    grade = equivalent_grade(Measured(0.018, 0.001))
    assert (grade.value, grade.u) == pytest.approx((1.8, 0.1))


@given(st.lists(st.tuples(st.floats(0.001, 0.1), st.floats(1e-4, 0.01)), min_size=2, max_size=3))
def test_agreement_is_a_chi_square_test(pairs: list[tuple[float, float]]) -> None:
    mean = sum(c / u**2 for c, u in pairs) / sum(1 / u**2 for _, u in pairs)
    square = sum(((c - mean) / u) ** 2 for c, u in pairs)
    p = agreement([Measured(c, u) for c, u in pairs])
    assert p == pytest.approx(float(chi2.sf(square, len(pairs) - 1)), rel=1e-6, abs=1e-300)


def test_agreement_needs_two_or_three_values_with_u() -> None:
    with pytest.raises(ValueError, match=r"^agreement needs two or three values, got 4$"):
        agreement([Measured(0.02, 0.001)] * 4)
    with pytest.raises(ValueError, match=r"^u must be > 0 to compare, got 0\.0$"):
        agreement([Measured(0.02, 0.001), Measured(0.02, 0.0)])


def both(value: float, u: float = 0.0004, *ways: str) -> Both:
    return Both(Measured(value, u), None, ways or ("A", "B"))


def compared(
    *,
    coast: Both | None = None,
    run_out: Both | None = None,
    pull: Both | None = None,
    breakaway: Both | None = None,
    inertia: Measured = METAL_WHEEL_INERTIA,
) -> Comparison:
    return compare(coast=coast, run_out=run_out, pull=pull, breakaway=breakaway, inertia=inertia)


def test_fewer_than_two_ways_compare_to_nothing() -> None:
    for found in (compared(), compared(pull=both(0.02), breakaway=both(0.03))):
        assert (found.agrees, found.p, found.where) == (True, 1.0, "")
        assert found.why == "fewer than two ways: nothing to compare"
    assert compared(pull=both(0.02)).values == {"pull": Measured(0.02, 0.0004)}


def test_three_ways_that_agree() -> None:
    found = compared(coast=both(0.0200), run_out=both(0.0206), pull=both(0.0203), breakaway=both(0.03))
    assert found.agrees
    assert found.where == ""
    assert found.p == pytest.approx(math.exp(-((0.0003**2 + 0.0003**2) / 0.0004**2) / 2))
    assert found.why == "coast 0.0200 ± 0.0004, run-out 0.0206 ± 0.0004, pull 0.0203 ± 0.0004 agree (p 0.570)"
    assert list(found.values) == ["coast", "run_out", "pull"]


def test_the_threshold_itself_agrees_and_breakaway_is_never_compared() -> None:
    apart = 2.80703376834 * math.sqrt(2) * 0.0004  # two-sided 0.005 point of the normal
    assert compared(coast=both(0.02), pull=both(0.02 + apart * 0.99999)).agrees
    assert not compared(coast=both(0.02), pull=both(0.02 + apart * 1.00001)).agrees
    assert compared(coast=both(0.02), pull=both(0.02), breakaway=both(0.9)).agrees


@pytest.mark.parametrize(("way", "shown", "value"), [("falling", "0.70", 0.013), ("rising", "0.80", 0.028)])
def test_a_slope_under_a_method_run_one_way(way: str, shown: str, value: float) -> None:
    found = compared(coast=both(0.0200), run_out=both(0.0200), pull=both(value, 0.0004, "A"))
    assert (found.agrees, found.where) == (False, "slope")
    assert f"the pull was run one way only, and a track {way} {shown} % that way explains it" in found.why


def test_a_slope_is_no_explanation() -> None:
    steep = compared(coast=both(0.0200), run_out=both(0.0200), pull=both(0.0301, 0.0004, "A"))
    others_apart = compared(coast=both(0.0200), run_out=both(0.0300), pull=both(0.0250, 0.0004, "A"))
    undirected = compared(coast=both(0.0200), pull=both(0.0260, 0.0004))
    for found in (steep, others_apart, undirected):
        assert (found.agrees, found.where) == (False, "cannot be told")
    assert undirected.why.endswith("(p < 0.001): nothing that was tried explains it")
    assert compared(coast=both(0.0200), run_out=both(0.0200), pull=both(0.0299, 0.0004, "A")).where == "slope"


def test_an_integrated_car_tells_of_its_wheels() -> None:
    """Wheels of λ = 0.21 taken for none: the coast reads low, and the comparison finds the λ."""
    lam = rolling_inertia(HEAVY.wheels, mass=HEAVY.mass)
    assumed = Measured(0.0, 0.0)
    found = compared(
        coast=both(resistance_from_coast(coast(HEAVY, 0.0), inertia=assumed, slope=LEVEL).value, 0.0003),
        run_out=both(resistance_from_run_out(run_out(HEAVY, 0.0), slope=LEVEL).value, 0.0003),
        pull=both(resistance_from_pull(pull(HEAVY, 0.0), mass=Measured(110.0, 0.0), slope=LEVEL).value, 0.0003),
        inertia=assumed,
    )
    assert (found.agrees, found.where) == (False, "inertia")
    assert f"the coast joins the others with an inertia of {lam:.2f}, not 0.00 as assumed" in found.why


def test_inertia_at_the_ends_of_what_a_car_can_have() -> None:
    low = compared(coast=both(0.0220, 0.0003), run_out=both(0.02), pull=both(0.02), inertia=Measured(0.09, 0.0))
    assert (low.where, "inertia of 0.00, not 0.09" in low.why) == ("inertia", True)
    high = compared(coast=both(0.0155), run_out=both(0.02), pull=both(0.02), inertia=Measured(0.0, 0.0))
    assert (high.where, "inertia of 0.25, not 0.00" in high.why) == ("inertia", True)
    mistimed = compared(coast=both(0.0140), run_out=both(0.02), pull=both(0.02), inertia=Measured(0.0, 0.0))
    assert mistimed.where == "timing"
    assert "no inertia from 0 to 0.25 brings the coast to the others (it takes 0.43)" in mistimed.why
    assert compared(coast=both(0.0260), run_out=both(0.02), pull=both(0.02)).where == "timing"
    assert compared(coast=both(0.0), run_out=both(0.02), pull=both(0.02)).where == "timing"


def test_run_out_and_pull_must_agree_before_the_coast_is_blamed() -> None:
    apart = compared(coast=both(0.0185), run_out=both(0.0194), pull=both(0.0206))  # by 2.1 standard uncertainties
    assert (apart.agrees, apart.where) == (False, "cannot be told")
    together = compared(coast=both(0.0180), run_out=both(0.0195), pull=both(0.0205))  # by 1.8
    assert (together.agrees, together.where) == (False, "inertia")


def test_a_pull_read_while_starting() -> None:
    steady = partial(compared, coast=both(0.0200), run_out=both(0.0202))
    found = steady(pull=both(0.0320), breakaway=both(0.0325))
    assert (found.agrees, found.where) == (False, "breakaway")
    assert "the pull reaches the 0.0325 ± 0.0004 at which the car starts" in found.why
    assert compared(coast=both(0.0200), pull=both(0.0320), breakaway=both(0.0325)).where == "breakaway"
    assert steady(pull=both(0.0400), breakaway=both(0.0325)).where == "breakaway"
    assert steady(pull=both(0.0312), breakaway=both(0.0325)).where == "cannot be told"
    assert steady(pull=both(0.0320)).where == "cannot be told"
    assert steady(pull=both(0.0100), breakaway=both(0.0050)).where == "cannot be told"
    assert compared(coast=both(0.02), run_out=both(0.03), breakaway=both(0.03)).where == "cannot be told"
    unlike = compared(coast=both(0.0200), run_out=both(0.0260), pull=both(0.0320), breakaway=both(0.0325))
    assert unlike.where == "cannot be told"


def test_breakaway_needs_three_sigma() -> None:
    """2.9 standard uncertainties of the difference already disagree (p 0.0037), but are no proof of a start."""
    sigma = 0.0004 * math.sqrt(2)
    for apart, where in ((2.9, "cannot be told"), (2.99, "cannot be told"), (3.01, "breakaway")):
        found = compared(coast=both(0.02), pull=both(0.02 + apart * sigma), breakaway=both(0.0218))
        assert (found.agrees, found.where) == (False, where)


def test_every_explanation_that_fits_is_told() -> None:
    found = compared(coast=both(0.0180, 0.0003, "A"), run_out=both(0.02), pull=both(0.02))
    assert found.where == "slope"
    assert "falling 0.20 % that way explains it, or the coast joins the others with an inertia of 0.18" in found.why


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: Measured(math.nan, 0.1), "a value must be finite, got nan"),
        (lambda: Measured(1.0, -0.1), "u must be >= 0, got -0.1"),
        (lambda: Measured(1.0, math.nan), "u must be >= 0, got nan"),
        (
            lambda: resistance_from_coast(Measured(-3.0, 1.0), inertia=METAL_WHEEL_INERTIA, slope=LEVEL),
            "deceleration must be >= 0 mm/s2, got -3.0",
        ),
        (
            lambda: resistance_from_coast(Measured(3.0, 1.0), inertia=Measured(-0.1, 0.0), slope=LEVEL),
            "inertia must be >= 0, got -0.1",
        ),
        (
            lambda: resistance_from_coast(Measured(3.0, 1.0), inertia=LEVEL, slope=Measured(math.radians(95), 0)),
            "slope must lie between -90 and 90 degrees, got 95.0",
        ),
        (lambda: resistance_from_run_out(Measured(-0.01, 0.0), slope=LEVEL), "ratio must be >= 0, got -0.01"),
        (
            lambda: resistance_from_run_out(Measured(0.01, 0.0), slope=Measured(-2.0, 0.0)),
            "slope must lie between -90 and 90 degrees, got -114.592",
        ),
        (
            lambda: resistance_from_pull(Measured(-0.1, 0.0), mass=Measured(100, 1), slope=LEVEL),
            "force must be >= 0 N, got -0.1",
        ),
        (
            lambda: resistance_from_pull(Measured(0.1, 0.0), mass=Measured(0.0, 1), slope=LEVEL),
            "mass must be > 0 g, got 0.0",
        ),
        (
            lambda: resistance_from_pull(Measured(0.1, 0.0), mass=Measured(1.0, 1), slope=Measured(2.0, 0.0)),
            "slope must lie between -90 and 90 degrees, got 114.592",
        ),
        (lambda: rolling_inertia([(4.0, 3.0, 5.0)], mass=0.0), "mass must be > 0 g, got 0.0"),
        (lambda: rolling_inertia([], mass=100.0), "rolling_inertia needs a wheelset, got none"),
        (
            lambda: rolling_inertia([(4.0, 3.0, 5.0), (4.0, 3.0, 0.0)], mass=100.0),
            "wheelset 2 must have mass >= 0 g, gyration >= 0 mm and rolling radius > 0 mm, got (4.0, 3.0, 0.0)",
        ),
        (
            lambda: rolling_inertia([(16.0, 3.0, 5.0)] * 2, mass=20.0),
            "wheelsets must not outweigh their car of 20.0 g, got 32.0 g",
        ),
        (lambda: both_ways({}, level_u=0.0025), "both_ways needs a result, got none"),
        (lambda: both_ways({"C": LEVEL}, level_u=0.0025), "a way must be A, B or '', got 'C'"),
        (lambda: both_ways({"A": LEVEL}, level_u=-0.1), "level_u must be >= 0, got -0.1"),
        (lambda: breakaway_grade({}), "both_ways needs a result, got none"),
        (
            lambda: breakaway_grade({"A": Measured(math.radians(-1), 0.0)}),
            "a starting slope must be at least 0 and less than 90 degrees, got -1.0",
        ),
        (
            lambda: breakaway_grade({"A": Measured(math.pi / 2, 0.0)}),
            "a starting slope must be at least 0 and less than 90 degrees, got 90.0",
        ),
        (lambda: compared(coast=both(0.02, 0.0), pull=both(0.02)), "u must be > 0 to compare, got 0.0"),
    ],
)
def test_refusals(make: Callable[[], object], sentence: str) -> None:
    with pytest.raises(ValueError) as refused:  # noqa: PT011 - the sentence is compared whole below
        make()
    assert str(refused.value) == sentence
