"""Levers against frames built piece by piece (second_stack), and against one turned in full.

The formulas they stand for are those of DESIGN §7; here nothing is a formula but a beam laid on two trucks.
"""

import functools
import math

import numpy as np
import pytest
import second_stack as second
from hypothesis import assume, given
from hypothesis import strategies as st

import carwright as cw
from carwright.explain.levers import Levers, Row, levers_of

MM = 1e-9


def levers(build: second.Build) -> Levers:
    """Levers of a car read from its sheet."""
    found = levers_of(cw.read_sheet_text(second.sheet(build, ())).history)
    assert isinstance(found, Levers)
    return found


@st.composite
def builds(draw: st.DrawFn, mount: str = "body") -> second.Build:
    """Cars whose two ends differ."""

    def length(least: int, most: int) -> float:
        return draw(st.integers(100 * least, 100 * most)) / 100

    a = length(20, 110)
    pivot = {end: a + length(-6, 30) for end in second.ENDS}
    face = {end: max(pivot[end], a) + length(2, 20) for end in second.ENDS}
    body = 2 * (min(face.values()) + length(-12, 8)) + 0.001  # never just at a face or a pivot
    offset, wheelbase = length(-5, 5), length(10, 19)
    return second.Build(a, face, pivot, body, wheelbase, offset, mount)


numbers = st.floats(-1, 1).map(lambda x: round(x, 6))
states = st.fixed_dictionaries({slot: numbers.map(lambda x: np.array([x])) for slot in second.slots()})
ends = st.sampled_from(second.ENDS)


def total(row: Row, state: second.State) -> float:
    """A row times a car."""
    return math.fsum(
        value * (0.0 if slot[0] == "frame.twist" else float(state[slot][0])) for slot, value in row.items()
    )


def clear_of_pivots(build: second.Build, kink_at: float) -> bool:
    """Whether a kink does not lie just at a coupler's pivot, where its tangent is anybody's."""
    return min(abs(kink_at - build.pivot["A"]), abs(kink_at + build.pivot["B"])) > 0.01


@given(builds(), states, ends, st.floats(-1.4, 1.4))
def test_a_body_mounted_coupler_stands_where_the_beam_puts_it(
    build: second.Build, state: second.State, end: str, where: float
) -> None:
    kink_at = where * build.a
    assume(clear_of_pivots(build, kink_at))
    lever, x = levers(build), build.mouth(end)
    head = second.head(build, state, end, kink_at)[0]
    assert total(lever.coupler(end, kink_at), state) == pytest.approx(head, abs=MM)
    assert total(lever.box(end, kink_at), state) == pytest.approx(second.box(build, state, end, x, kink_at)[0], abs=MM)
    lifted = head + state["coupler.droop", end][0]
    assert total(lever.coupler(end, kink_at, free=False), state) == pytest.approx(lifted, abs=MM)
    exchanged = second.box(build, state, end, build.face[end], kink_at)[0]
    assert total(lever.coupler(end, kink_at, own=False), state) == pytest.approx(exchanged, abs=MM)


@given(builds(), states, ends)
def test_a_beam_rests_on_its_trucks_whatever_its_shape(build: second.Build, state: second.State, end: str) -> None:
    assume(build.pivot[end] > build.a)
    lever = levers(build)
    bearing = second.bearing(build, state, end)[0]
    assert total(lever.truck(end), state) == pytest.approx(bearing, abs=MM)
    seat = bearing + state["frame.bolster", end][0]
    assert total(lever.seat(end), state) == pytest.approx(seat, abs=MM)
    assert total(lever.frame_at(end, build.a, 0.0), state) == pytest.approx(seat, abs=MM)


@given(builds("truck"), states, ends, st.floats(-1.4, 1.4))
def test_a_truck_mounted_coupler_stands_on_the_line_over_its_own_axles(
    build: second.Build, state: second.State, end: str, where: float
) -> None:
    lever = levers(build)
    row = lever.coupler(end, where * build.a)
    assert total(row, state) == pytest.approx(second.head(build, state, end)[0], abs=MM)
    assert total(lever.box(end), state) == pytest.approx(second.box(build, state, end, build.mouth(end))[0], abs=MM)
    felt = {slot for slot, value in row.items() if value}
    assert not {what for what, _ in felt} & {"truck.ride", "frame.bolster", "frame.bow", "frame.kink", "frame.shape"}
    assert all(place.startswith(end) for _, place in felt)


@given(builds(), ends, st.floats(0.05, 2))
def test_a_washer_lifts_its_own_coupler_and_lowers_the_far_one(build: second.Build, end: str, t: float) -> None:
    lever, far = levers(build), {"A": "B", "B": "A"}[end]
    own = t * lever.coupler(end)["truck.ride", end]
    other = t * lever.coupler(far)["truck.ride", end]
    assert own == pytest.approx(t * (build.face[end] + build.a) / (2 * build.a), rel=1e-9)
    assert other == pytest.approx(-t * (build.face[far] - build.a) / (2 * build.a), rel=1e-9)
    assert own > t
    assert other < 0


@given(builds(), ends)
def test_the_sign_of_every_contribution(build: second.Build, end: str) -> None:
    row, far = levers(build).coupler(end), {"A": "B", "B": "A"}[end]
    for slot in (("truck.ride", end), ("frame.bolster", end), ("box.position", end), ("shank.offset", end)):
        assert row[slot] > 0, slot
    for slot in (("truck.ride", far), ("frame.bolster", far), ("coupler.droop", end)):
        assert row[slot] < 0, slot
    assert row["frame.kink", ""] > 0
    assert row["wheel.diameter", f"{end} outer"] + row["wheel.diameter", f"{end} inner"] > 0
    assert row["wheel.diameter", f"{far} outer"] + row["wheel.diameter", f"{far} inner"] < 0
    assert row.get(("frame.twist", ""), 0.0) == 0
    if build.pivot[end] > build.a:
        assert row["frame.bow", ""] > 0  # low in the middle, high at the ends
        assert row["frame.shape", "cubic"] * second.sign(end) > 0  # beyond the trucks a cubic rises toward A
        assert row["frame.shape", "quartic"] > row["frame.bow", ""]  # and a quartic faster than a bow


@given(builds())
def test_all_contributions_of_a_level_lift_add_up_to_it(build: second.Build) -> None:
    """Wheels one unit larger all round, or both trucks one unit higher, lift every part of the car by one unit."""
    row = levers(build).coupler("A")
    wheels = [value for (what, _), value in row.items() if what == "wheel.diameter"]
    rides = [value for (what, _), value in row.items() if what == "truck.ride"]
    assert math.fsum(wheels) == pytest.approx(1, abs=1e-12)
    assert math.fsum(rides) == pytest.approx(1, abs=1e-12)


def test_a_kink_beyond_the_other_pivot_does_nothing_here() -> None:
    lever = levers(second.Build(a=50, pivot={"A": 70.0, "B": 66.0}))
    assert lever.coupler("A", -58.0)["frame.kink", ""] == 0
    assert lever.coupler("B", 58.0)["frame.kink", ""] == 0
    assert lever.coupler("A", 58.0)["frame.kink", ""] == pytest.approx(2 / 50 * (76 - 58))
    assert lever.coupler("B", -58.0)["frame.kink", ""] == pytest.approx(2 / 50 * (76 - 58))
    assert lever.coupler("A", 71.0)["frame.kink", ""] == 0  # the box is forward of it, held straight from its pivot


@pytest.mark.parametrize(("body_length", "mouth"), [(142.0, 71.0), (160.0, 72.0), (130.0, 72.0)])
def test_the_mouth_of_the_box_is_the_end_of_the_body_where_that_can_be(body_length: float, mouth: float) -> None:
    assert levers(second.Build(body_length=body_length)).mouths == {"A": mouth, "B": mouth}


# --- a frame turned in full ------------------------------------------------------------------------------------


def turned_in_full(build: second.Build, state: second.State, end: str, kink_at: float) -> float:
    """Height of a coupler face when the frame is bent and set down as a solid thing, angles and arcs in full.

    The frame is a chain of short straight pieces of fixed length; it is turned and lifted until its points over the
    pivots stand at the heights of the seats.
    """
    curvature = 2 * state["frame.bow", ""][0] / build.a**2
    kink = 2 * state["frame.kink", ""][0] / build.a
    reach, step = 1.6 * build.a, 0.01
    along = np.arange(-reach, reach + step / 2, step)
    middles = (along[1:] + along[:-1]) / 2
    part = middles / build.a
    bends = (3 * part**2 - 1) * state["frame.shape", "cubic"][0] + 4 * part**3 * state["frame.shape", "quartic"][0]
    angles = curvature * middles + kink * (middles > kink_at) + bends / build.a
    x = np.concatenate([[0.0], np.cumsum(step * np.cos(angles))])
    z = np.concatenate([[0.0], np.cumsum(step * np.sin(angles))])
    at = functools.partial(np.interp, xp=along)
    sign = second.sign(end)
    pivot = sign * build.pivot[end]
    slope = math.atan2(at(pivot + 0.02, fp=z) - at(pivot - 0.02, fp=z), at(pivot + 0.02, fp=x) - at(pivot - 0.02, fp=x))
    ahead = build.face[end] - build.pivot[end]
    face = np.array(
        [at(pivot, fp=x) + sign * ahead * math.cos(slope), at(pivot, fp=z) + sign * ahead * math.sin(slope)]
    )
    left, right = (np.array([at(s * build.a, fp=x), at(s * build.a, fp=z)]) for s in (-1, 1))
    seats = {each: second.bearing(build, state, each)[0] + state["frame.bolster", each][0] for each in second.ENDS}
    chord = right - left
    length = float(np.hypot(*chord))
    turn = math.asin((seats["A"] - seats["B"]) / length) - math.atan2(chord[1], chord[0])
    laid = seats["B"] + (face - left) @ np.array([math.sin(turn), math.cos(turn)])
    rest = state["box.position", end][0] + state["shank.offset", end][0] - state["coupler.droop", end][0]
    return float(laid + rest)


@pytest.mark.parametrize("end", second.ENDS)
@pytest.mark.parametrize("kink_at", [-62.0, -20.0, 0.0, 31.0, 61.0])
def test_a_real_frame_leaves_the_straight_line_by_less_than_a_micrometre_or_two(end: str, kink_at: float) -> None:
    build = second.Build(a=54, face={"A": 79.0, "B": 74.0}, pivot={"A": 69.0, "B": 65.0}, offset=2.0)
    random = np.random.default_rng(5)
    for _ in range(20):
        state = {slot: np.array([float(random.normal(0, 0.25))]) for slot in second.slots()}
        straight = total(levers(build).coupler(end, kink_at), state)
        assert straight == pytest.approx(turned_in_full(build, state, end, kink_at), abs=0.002)
