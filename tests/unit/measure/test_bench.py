"""What a sheet says of frame, balance and rolling: worked by hand, and silent where nothing was read."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

import carwright as cw
from carwright.measure.bench import Balance, Bench, Rolling

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Flat car"
scale = "HO"
system = "metric"
{car}
[car.geometry]
body_length = "190 mm"
body_width = "31.5 mm"
axles_per_truck = 2
{geometry}
[[instrument]]
name = "stand"
resolution = "0.01 mm"
calibration = "0.02 mm"
repeatability = "0.02 mm"
repeatability_n = 30
[[instrument]]
name = "scale"
resolution = "0.1 g"
calibration = "0.1 g"
repeatability = "0.1 g"
repeatability_n = 30
"""
CENTRES = 'truck_centers = "132 mm"'
GRAVITY = 9806.65


def reading(what: str, at: str, value: str, with_: str = "") -> str:
    place = f'at = "{at}"\n' if at else ""
    named = f'with = "{with_}"\n' if with_ else ""
    return f'[[entry]]\nkind = "reading"\nwhat = "{what}"\n{place}values = ["{value}"]\n{named}'


def profile(stations: list[float], heights: list[float], *, side: str = "left", key: str = "heights") -> str:
    x = ", ".join(f'"{each:g} mm"' for each in stations)
    z = ", ".join(f'"{each:.2f} mm"' for each in heights)
    datum = "straightedge" if key == "gaps" else "plate"
    head = f'[[entry]]\nkind = "profile"\nof = "sill"\ndatum = "{datum}"\nside = "{side}"\nwith = "stand"\n'
    return f"{head}stations = [{x}]\n{key} = [{z}]\n"


def work(remedy: str, at: str = "") -> str:
    return f'[[entry]]\nkind = "work"\nremedy = "{remedy}"\n' + (f'at = "{at}"\n' if at else "")


def bench(body: str, *, car: str = "", geometry: str = CENTRES, stage: str = "last") -> Bench:
    text = HEAD.format(car=car, geometry=geometry) + body
    return cw.inspect(cw.read_sheet_text(text), stage=stage).bench


def balance(body: str, geometry: str = CENTRES) -> Balance:
    found = bench(body, geometry=geometry).balance
    assert found is not None
    return found


def rolling(body: str, car: str = 'wheels = "metal"') -> Rolling:
    found = bench(body, car=car).rolling
    assert found is not None
    return found


# --- nothing -------------------------------------------------------------------------------------------------


def test_nothing_read_is_nothing_shown() -> None:
    assert bench("") == Bench(None, (), None, None, None, ())
    assert bench(reading("weight.total", "", "100.0 g", "scale")) == Bench()


# --- frame ---------------------------------------------------------------------------------------------------


def test_three_points_show_their_zone_and_what_noise_adds() -> None:
    """Of three points of a straight line the zone is |z₂ − (z₁ + z₃)/2|: on average u √(3/2) √(2/π)."""
    (flat,) = bench(profile([-80, 0, 80], [5.0, 5.0, 5.0])).straight
    u = math.hypot(0.02, 0.01 / math.sqrt(12))
    assert flat.line == "sill, left"
    assert flat.width == pytest.approx(0, abs=1e-12)
    spread = u * math.sqrt(1.5)
    assert flat.bias == pytest.approx(spread * math.sqrt(2 / math.pi), rel=0.05)
    assert flat.spread == pytest.approx(spread * math.sqrt(1 - 2 / math.pi), rel=0.1)


def test_a_zone_is_the_least_width_between_two_lines() -> None:
    found = bench(
        profile([-80, -40, 0, 40, 80], [5.0, 5.0, 5.3, 5.0, 5.0]) + profile([-80, 0, 80], [5, 5, 6], side="right")
    )
    assert [each.line for each in found.straight] == ["sill, left", "sill, right"]
    assert found.straight[0].width == pytest.approx(0.3, rel=1e-4)
    assert found.straight[1].width == pytest.approx(0.5, rel=1e-4)
    assert found.frame is not None
    assert (found.frame.span, found.frame.width) == (132.0, 31.5)


def test_zone_and_profile_of_gaps_are_of_the_car_not_of_the_edge() -> None:
    body = profile([-80, -40, 0, 40, 80], [0.0, 0.3, 0.4, 0.3, 0.0], key="gaps")
    found = bench(body)
    assert found.frame is not None
    assert found.frame.sag is not None
    assert found.frame.sag > 0
    assert found.straight[0].width == pytest.approx(0.4, rel=1e-4)


def test_two_stations_have_no_straightness() -> None:
    assert bench(profile([-80, 80], [5.0, 5.4])).straight == ()


SAGGED, STRAIGHT = [5.4, 5.1, 5.0, 5.1, 5.4], [5.0, 5.0, 5.0, 5.0, 5.0]
PLACES = [-80.0, -40.0, 0.0, 40.0, 80.0]


def test_a_frame_speaks_until_it_is_bent() -> None:
    before = profile(PLACES, SAGGED)
    as_received = bench(before).frame
    assert as_received is not None
    other = bench(before + work("washer", "A")).frame
    assert other == as_received
    for bending in ("straighten", "untwist"):
        assert bench(before + work(bending)).frame is None
        assert bench(before + work(bending), stage="received").frame == as_received
        after = bench(before + work(bending) + profile(PLACES, STRAIGHT)).frame
        assert after is not None
        assert after.sag == pytest.approx(0, abs=1e-9)
        assert after.stage == 1


def test_a_later_profile_goes_before_an_earlier_one() -> None:
    both = bench(profile(PLACES, SAGGED) + work("washer", "A") + profile(PLACES, STRAIGHT))
    assert both.frame is not None
    assert both.frame.entries == (3,)


@pytest.mark.parametrize(
    ("geometry", "span"),
    [(CENTRES, 132.0), ('wheelbase = "80 mm"', 80.0), ("", 160.0)],
)
def test_sag_is_told_over_truck_centres_wheelbase_or_stations(geometry: str, span: float) -> None:
    found = bench(profile(PLACES, [5 + 1e-4 * x**2 for x in PLACES]), geometry=geometry).frame
    assert found is not None
    assert found.span == span
    assert found.sag == pytest.approx(1e-4 * span**2 / 4, abs=0.003)


def test_rock_on_a_plate_is_shown() -> None:
    assert bench(reading("frame.rock", "", "0.30 mm", "stand")).rock == pytest.approx(0.3)


# --- balance -------------------------------------------------------------------------------------------------

TRUCKS = reading("weight.truck", "A", "60.0 g", "scale") + reading("weight.truck", "B", "40.0 g", "scale")
WHEELS = reading("wheel.back_to_back", "1", "14.50 mm") + reading("wheel.flange_thickness", "1", "0.75 mm")


def tips(left: float, right: float) -> str:
    return reading("tip.angle", "L", f"{left:.3f} deg") + reading("tip.angle", "R", f"{right:.3f} deg")


def test_place_along_the_car_by_hand() -> None:
    x = balance(TRUCKS).x
    assert x is not None
    assert x.value == pytest.approx(66 * 20 / 100)
    one = math.sqrt(0.1**2 + 0.1**2 + 0.1**2 / 12)  # of one weighing [g]
    weights = math.hypot(66 * 2 * 40 * one, 66 * 2 * 60 * one) / 100**2
    tilt = 0.002 * 60 * 25.4 / 87.1
    assert x.u == pytest.approx(math.hypot(weights, tilt), rel=0.05)
    light = balance(reading("weight.truck", "A", "40.0 g") + reading("weight.truck", "B", "60.0 g")).x
    assert light is not None
    assert light.value == pytest.approx(-13.2)


def test_height_and_side_by_hand() -> None:
    """Tangents 1/2 and 1/3, contacts 14.50 + 2 · 0.75 = 16 mm: h = 16/(5/6) = 19.2 mm, y = 19.2 · (1/6)/2 = 1.6 mm."""
    found = balance(tips(math.degrees(math.atan(1 / 2)), math.degrees(math.atan(1 / 3))) + WHEELS)
    assert found.x is None
    assert found.z is not None
    assert found.y is not None
    assert found.z.value == pytest.approx(19.2, abs=2e-3)
    assert found.y.value == pytest.approx(1.6, abs=2e-3)
    assert found.z.u > 0
    even = balance(tips(25, 25) + WHEELS)
    assert even.y is not None
    assert even.y.value == pytest.approx(0, abs=1e-9)


def test_contacts_are_means_over_the_axles_read() -> None:
    more = reading("wheel.back_to_back", "2", "14.30 mm") + reading("wheel.flange_thickness", "2", "0.65 mm")
    found = balance(tips(math.degrees(math.atan(0.5)), math.degrees(math.atan(0.5))) + WHEELS + more)
    assert found.z is not None
    assert found.z.value == pytest.approx(14.4 + 2 * 0.7, abs=2e-3)


def test_a_known_height_goes_before_the_usual_one_for_the_bench_s_slope() -> None:
    low, usual = balance(TRUCKS + tips(45, 45) + WHEELS), balance(TRUCKS)
    assert low.x is not None
    assert usual.x is not None
    assert low.x.value == usual.x.value
    assert low.x.u < usual.x.u


@pytest.mark.parametrize(
    ("whole", "said"),
    [("100.0 g", ""), ("100.4 g", ""), ("97.0 g", "+3.00 g"), ("104.0 g", "-4.00 g")],
)
def test_trucks_that_do_not_add_up_are_named(whole: str, said: str) -> None:
    notes = balance(TRUCKS + reading("weight.total", "", whole, "scale")).notes
    expected = f"the trucks together weigh {said} against the whole car: weigh again"
    assert notes == ((expected,) if said else ())


@pytest.mark.parametrize(
    ("body", "geometry", "note"),
    [
        (TRUCKS, "", "place of the centre of gravity needs truck_centers in [car.geometry]"),
        (tips(25, 25), CENTRES, "height of the centre of gravity needs wheel.back_to_back and wheel.flange_thickness"),
        (
            tips(25, 25) + reading("wheel.back_to_back", "1", "14.50 mm"),
            CENTRES,
            "height of the centre of gravity needs wheel.back_to_back and wheel.flange_thickness",
        ),
    ],
)
def test_what_balance_lacks_is_said(body: str, geometry: str, note: str) -> None:
    found = balance(body, geometry)
    assert (found.x, found.y, found.z) == (None, None, None)
    assert found.notes == (note,)


def test_one_truck_or_one_tip_alone_tells_nothing() -> None:
    assert bench(reading("weight.truck", "A", "60.0 g")).balance is None
    assert bench(reading("tip.angle", "L", "25 deg") + WHEELS).balance is None


def test_adding_ballast_makes_weights_and_tips_stale() -> None:
    body = TRUCKS + tips(25, 25) + WHEELS + work("ballast")
    assert bench(body).balance is None
    assert bench(body, stage="received").balance is not None


@pytest.mark.parametrize("angle", ["0 deg", "95 deg", "-20 deg"])
def test_an_impossible_angle_is_refused_with_the_sheet(angle: str) -> None:
    with pytest.raises(cw.SheetError):
        bench(reading("tip.angle", "L", angle) + reading("tip.angle", "R", "25 deg") + WHEELS)


# --- rolling -------------------------------------------------------------------------------------------------

MASS = 100.0
WEIGHED = reading("weight.total", "", f"{MASS:.1f} g", "scale")


def coast(c: float, at: str, inertia: float = 0.06) -> str:
    return reading("roll.coast", at, f"{c * GRAVITY / (1 + inertia):.1f} mm/s2")


def run_out(c: float, at: str) -> str:
    return reading("roll.runout", at, f"{100 * c:.3f} %")


def pull(c: float, at: str) -> str:
    return reading("roll.pull", at, f"{c * MASS * 1e-3 * 9.80665 * 1e3:.2f} mN")


def start(c: float, at: str) -> str:
    return reading("roll.start", at, f"{100 * c:.2f} %")


def both(method: Callable[[float, str], str], c: float, *, slope: float = 0.0) -> str:
    return method(c - slope, "A") + method(c + slope, "B")


def heavy_wheels(c: float, at: str) -> str:
    return coast(c, at, inertia=0.2)


def test_three_ways_agree_and_the_track_s_slope_drops_out() -> None:
    found = rolling(
        WEIGHED + both(coast, 0.015, slope=0.002) + both(run_out, 0.015, slope=0.002) + both(pull, 0.015, slope=0.002)
    )
    assert set(found.methods) == {"coast", "run_out", "pull"}
    for each in found.methods.values():
        assert each.resistance.value == pytest.approx(0.015, abs=2e-5)
        assert each.slope is not None
        assert each.slope.value == pytest.approx(0.002, abs=2e-5)
        assert each.ways == ("A", "B")
    assert found.comparison.agrees
    assert found.comparison.where == ""
    assert found.mass == pytest.approx(MASS)
    assert found.resistance == found.methods["run_out"].resistance
    assert found.notes == ()


def test_one_way_only_holds_the_slope_of_a_track_called_level() -> None:
    found = rolling(run_out(0.015, "A"))
    one = found.methods["run_out"]
    assert (one.ways, one.slope) == (("A",), None)
    assert one.resistance.u >= 0.0025
    assert one.resistance.u > rolling(both(run_out, 0.015)).methods["run_out"].resistance.u
    assert found.comparison.why.startswith("fewer than two ways")
    unsaid = rolling(run_out(0.015, "")).methods["run_out"]
    assert unsaid.ways == ("",)


def test_run_out_is_preferred_to_pull_and_pull_to_coast() -> None:
    some = rolling(WEIGHED + both(coast, 0.015) + both(pull, 0.0151))
    assert some.resistance == some.methods["pull"].resistance
    least = rolling(both(coast, 0.015))
    assert least.resistance == least.methods["coast"].resistance
    only_start = rolling(start(0.02, "A"))
    assert only_start.resistance is None
    assert only_start.breakaway is not None


@pytest.mark.parametrize(
    ("body", "where"),
    [
        (both(coast, 0.02) + both(run_out, 0.02) + pull(0.0115, "A"), "slope"),
        (both(heavy_wheels, 0.02) + both(run_out, 0.02) + both(pull, 0.02), "inertia"),
        (both(coast, 0.01) + both(run_out, 0.02) + both(pull, 0.02), "timing"),
        (both(coast, 0.01) + both(run_out, 0.01) + both(pull, 0.03) + both(start, 0.03), "breakaway"),
    ],
)
def test_ways_that_disagree_say_where(body: str, where: str) -> None:
    found = rolling(WEIGHED + body).comparison
    assert not found.agrees
    assert found.where == where


@pytest.mark.parametrize(("wheels", "inertia"), [("metal", 0.06), ("plastic", 0.02), ("", 0.04)])
def test_inertia_is_that_of_the_wheels(wheels: str, inertia: float) -> None:
    found = rolling(reading("roll.coast", "A", "150 mm/s2"), f'wheels = "{wheels}"' if wheels else "")
    assert found.inertia.value == inertia
    assert found.methods["coast"].resistance.value == pytest.approx(150 * (1 + inertia) / GRAVITY)


def test_a_pull_needs_the_car_s_weight() -> None:
    found = rolling(both(pull, 0.015))
    assert found.methods == {}
    assert found.notes == ("the pull needs weight.total to become a resistance",)
    assert rolling(WEIGHED + both(pull, 0.015)).notes == ()


def test_where_it_starts_is_breakaway_and_no_way_of_rolling() -> None:
    found = rolling(both(start, 0.02, slope=0.004))
    assert found.methods == {}
    assert found.breakaway is not None
    assert found.breakaway.resistance.value == pytest.approx(0.02, abs=1e-5)


def test_the_flat_car_as_received() -> None:
    """The shipped example, its figures worked by hand from its entries."""
    found = cw.inspect(cw.read_sheet(Path("examples/ho-flat-car.toml")), stage="received").bench
    assert found.balance is not None
    assert found.balance.x is not None
    half = (43 * 12 + 3) * 25.4 / 87.1 / 2
    assert found.balance.x.value == pytest.approx(half * (46.8 - 45.1) / (46.8 + 45.1), rel=1e-9)
    contacts = (14.47 + 14.445 + 14.46 + 14.455) / 4 + 2 * (0.75 + 3 * 0.76) / 4
    left, right = math.tan(math.radians(27.5)), math.tan(math.radians(26.5))
    assert found.balance.z is not None
    assert found.balance.z.value == pytest.approx(contacts / (left + right), rel=1e-9)
    assert found.balance.y is not None
    assert found.balance.y.value == pytest.approx(contacts * (left - right) / (left + right) / 2, rel=1e-9)
    assert found.balance.notes == ()
    assert found.rolling is not None
    assert found.rolling.comparison.agrees
    assert len(found.straight) == 2
