"""Every kind of car from the side, straight and bent: true to scale, within its frame, in three weights of line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_scene import Drawn, called, outside_frame, parsed, shapes_of

import carwright as cw
from carwright.explain.records import Plan, Predicted
from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.deformed import (
    Line,
    before_after,
    bent_elevation,
    deformation_of,
    interpolated,
)
from carwright.publish.drawing.elevation import elevation, paper_mm
from carwright.publish.drawing.kinds import KINDS, kind_of
from carwright.publish.drawing.pen import DASH, DETAIL, OUTLINE, PART, Pen, arc, mirrored, steps
from carwright.publish.drawing.shape import assumed_of, sizes_of
from carwright.publish.scene import Scene, inline_svg

RATIOS = {"N": 160.0, "HO": 87.1, "O": 48.0, "H0": 87.0}
"""NMRA RP-3 and S-1.2, NEM 010 (memory)."""
UNKNOWN = "log bunk"
GEAR = {
    "two-axle trucks": ("axles_per_truck = 2", "", (-57.5, -42.5, 42.5, 57.5)),
    "three-axle trucks": ("axles_per_truck = 3", "", (-57.5, -50.0, -42.5, 42.5, 50.0, 57.5)),
    "four wheels": ("axles = 2", 'wheelbase = "70 mm"', (-35.0, 35.0)),
}
"""Axles as a sheet says them, and where they are on a car with trucks 100 mm apart and 15 mm long."""


def sheet(kind: str, geometry: str, scale: str = "HO") -> History:
    """A car of a kind with a geometry."""
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "{scale}"\ntype = "{kind}"\n'
    return cw.read_sheet_text(f"{head}[car.geometry]\n{geometry}\n").history


def sized(kind: str, gear: str = "two-axle trucks", scale: str = "HO", *, buffers: bool = False) -> History:
    """A car of 140 mm and 45 mm, coupled 75 mm from its middle at A and 77 mm at B."""
    axles, base, _ = GEAR[gear]
    ends = 'length_over_buffers = "154 mm"' if buffers else 'coupler_face_A = "75 mm"\ncoupler_face_B = "77 mm"'
    trucks = base or 'truck_centers = "100 mm"\ntruck_wheelbase = "15 mm"'
    lengths = 'body_length = "140 mm"\nbody_height = "45 mm"\nbody_width = "31 mm"\nwheel_diameter = "10.4 mm"'
    return sheet(kind, f"{axles}\n{trucks}\n{ends}\n{lengths}", scale)


def usual_height(kind: str, scale: str) -> float:
    """Height of a body of a kind [mm]."""
    return (KINDS[kind].top if kind in KINDS else 150.0) * 25.4 / RATIOS[scale]


def stretched(kind: str, scale: str, length: float, height: float, gear: str = "axles_per_truck = 2") -> History:
    """A body of any size, coupled 6 mm from its ends."""
    trucks = f'truck_centers = "{0.7 * length} mm"\ntruck_wheelbase = "{0.14 * length} mm"'
    base = f'wheelbase = "{0.5 * length} mm"' if gear == "axles = 2" else trucks
    lengths = f'body_length = "{length} mm"\nbody_height = "{height} mm"\ncoupler_face = "{length / 2 + 6} mm"'
    return sheet(kind, f"{gear}\n{base}\n{lengths}", scale)


def read(what: str, at: str, value: float) -> Finding:
    """A reading within a finding."""
    return Finding("a/b/HO/c", "t", what, at, 0, "conforms", "standard", "standard", "x", "measured", value=value)


def plain(history: History, findings: Sequence[Finding] = ()) -> Scene:
    """The side elevation without pins."""
    return elevation(history, findings, [])


def spans(shapes: Sequence[Drawn], left: float, right: float) -> list[Drawn]:
    """Shapes that reach from one x to another."""
    return [each for each in shapes if (each.extent[0], each.extent[2]) == pytest.approx((left, right), abs=0.01)]


# --- true to scale -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_a_user_unit_is_a_millimetre(kind: str, gear: str, scale: str) -> None:
    buffers = scale == "H0"
    scene = plain(sized(kind, gear, scale, buffers=buffers), [read("coupler.height", "A", 10.2)])
    assert scene.unit_mm == 1.0
    shapes = shapes_of(scene)
    bodies = [each for each in shapes if each.what == "body"]
    assert spans(bodies, -70.0, 70.0)
    wheels = sorted((each for each in shapes if each.what == "wheel"), key=lambda each: each.extent)
    assert [(each.extent[0] + each.extent[2]) / 2 for each in wheels] == pytest.approx(GEAR[gear][2], abs=0.01)
    for wheel in wheels:
        left, top, right, low = wheel.extent
        assert (right - left, top, low) == pytest.approx((10.4, -10.4, 0.0), abs=0.01)
    couplers = [each for each in shapes if each.what == "coupler"]
    assert max(each.extent[2] for each in couplers) == pytest.approx(77.0 if buffers else 75.0, abs=0.01)
    assert min(each.extent[0] for each in couplers) == pytest.approx(-77.0, abs=0.01)
    at_a = max(couplers, key=lambda each: each.extent[2])
    assert -(at_a.extent[1] + at_a.extent[3]) / 2 == pytest.approx(10.2, abs=0.01)
    at_b = min(couplers, key=lambda each: each.extent[0])
    usual = (41.3 if buffers else 33.0) * 25.4 / RATIOS[scale]
    assert -(at_b.extent[1] + at_b.extent[3]) / 2 == pytest.approx(usual, abs=0.01)


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_a_body_is_as_high_as_it_is_said_to_be(kind: str, scale: str) -> None:
    height = round(1.1 * usual_height(kind, scale), 2)
    shapes = shapes_of(plain(stretched(kind, scale, 140.0, height)))
    tops = sorted({round(-each.extent[1], 2) for each in shapes if each.what in {"body", "part", "cupola", "roof"}})
    if kind == "brake van":  # its stove pipe stands ten scale inches over its roof
        assert tops.pop() == pytest.approx(height + 10 * 25.4 / RATIOS[scale], abs=0.01)
    assert tops[-1] == pytest.approx(height, abs=0.01)


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", KINDS)
def test_what_a_sheet_leaves_out_has_its_usual_size(kind: str, scale: str) -> None:
    history = sheet(kind, "axles_per_truck = 2", scale)
    sizes, inch = sizes_of(history, []), 25.4 / RATIOS[scale]
    assert sizes.inch == pytest.approx(inch)
    assert (sizes.half_length, sizes.top, sizes.half_width, sizes.floor) == pytest.approx(
        (245 * inch, KINDS[kind].top * inch, KINDS[kind].width * inch / 2, KINDS[kind].floor * inch)
    )
    assert sizes.wheel == pytest.approx(33 * inch)
    assert sizes.faces == pytest.approx((263 * inch, 263 * inch))
    assert sizes.trucks == pytest.approx((0.36 * 490 * inch, -0.36 * 490 * inch))
    assert sizes.axles[0] - sizes.axles[1] == pytest.approx(66 * inch)
    assert sizes.coupler_z == pytest.approx((33 * inch, 33 * inch))
    inches = sizes.in_inches()
    assert (inches.half_length, inches.top, inches.wheel, inches.inch) == pytest.approx((245, KINDS[kind].top, 33, 1))
    assert inches.faces == pytest.approx((263, 263))
    assert set(assumed_of(history, [])) == {
        "body length", "body height", "wheel diameter", "truck centers", "truck wheelbase", "coupler face",
        "coupler height at A", "coupler height at B",
    }  # fmt: skip


def test_a_truck_of_three_axles_is_longer_where_its_wheelbase_is_not_known() -> None:
    axles = sizes_of(sheet("boxcar", "axles_per_truck = 3"), []).axles
    assert axles[0] - axles[2] == pytest.approx(126 * 25.4 / 87.1)
    assert axles[0] - axles[1] == pytest.approx(63 * 25.4 / 87.1)


def test_pivots_off_the_middle_of_their_trucks_shift_the_axles() -> None:
    lengths = 'axles_per_truck = 2\ntruck_centers = "100 mm"\ntruck_wheelbase = "15 mm"\npivot_offset = "1 mm"'
    sizes = sizes_of(sheet("boxcar", lengths), [])
    assert sizes.axles == pytest.approx((56.5, 41.5, -41.5, -56.5))
    assert sizes.trucks == pytest.approx((50.0, -50.0))


def test_the_first_reading_of_a_coupler_is_taken() -> None:
    findings = [read("coupler.height", "B", 9.5), read("coupler.height", "B", 8.0), read("pin.height", "A", 1.0)]
    sizes = sizes_of(sized("boxcar"), findings)
    assert sizes.coupler("B") == 9.5
    assert sizes.coupler("A") == pytest.approx(33 * 25.4 / 87.1)
    assert (sizes.face("A"), sizes.face("B"), sizes.reach) == (75.0, 77.0, 77.0)
    assert [each for each in sizes.assumed if "height at" in each] == ["coupler height at A"]


def test_a_kind_nobody_knows_is_said_to_be_assumed() -> None:
    assert f"outline of a {UNKNOWN}" in assumed_of(sized(UNKNOWN), [])
    assert not [each for each in assumed_of(sized("  Boxcar "), []) if "outline" in each]


def test_coupler_faces_given_for_each_end_are_known() -> None:
    history = sized("boxcar")
    assert "coupler face" not in assumed_of(history, [])
    assert any("over couplers" in each.text for each in shapes_of(plain(history)))


@pytest.mark.parametrize("axles", [3, 5])
def test_a_car_is_drawn_on_as_many_wheels_as_it_has(axles: int) -> None:
    history = sheet("four-wheel wagon", f'axles = {axles}\nbody_length = "100 mm"\nwheelbase = "60 mm"', "H0")
    assert len(called(plain(history), "wheel")) == axles


@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_nothing_of_a_car_is_below_the_rail(kind: str) -> None:
    scene = plain(sheet(kind, "axles_per_truck = 2"))
    of_it = {"body", "part", "detail", "frame", "wheel", "web", "cupola", "roof", "coupler"}
    assert max(each.extent[3] for each in shapes_of(scene) if each.what in of_it) <= 0.0
    [rail] = called(scene, "rail")
    assert (rail.extent[1], rail.extent[3]) == (0.0, 0.0)
    assert rail.extent[0] < min(each.extent[0] for each in called(scene, "coupler"))
    assert shapes_of(scene)[0].what == "rail"


# --- what makes a kind itself ------------------------------------------------------------------------------------


def test_no_two_kinds_look_alike() -> None:
    looks = {
        kind: tuple(each.element.get("d", "") for each in shapes_of(plain(sized(kind))) if each.tag == "path")
        for kind in [*KINDS, UNKNOWN]
    }
    assert len(set(looks.values())) == len(looks)


@pytest.mark.parametrize(
    ("kind", "whats"),
    [
        ("caboose", {"cupola"}), ("passenger car", {"roof"}), ("four-wheel van", {"roof"}), ("boxcar", set()),
        ("gondola", set()), ("tank car", set()),
    ],
)  # fmt: skip
def test_a_roof_or_a_cupola_is_named(kind: str, whats: set[str]) -> None:
    assert {each.what for each in shapes_of(plain(sized(kind)))} & {"cupola", "roof"} == whats


@pytest.mark.parametrize("kind", ["covered hopper", "open hopper"])
@pytest.mark.parametrize(("inches", "bays"), [(400, 2), (519, 2), (521, 3), (700, 3)])
def test_a_long_hopper_has_three_bays(kind: str, inches: int, bays: int) -> None:
    inch = 25.4 / 87.1
    history = sheet(kind, f'axles_per_truck = 2\nbody_length = "{inches * inch:.3f} mm"')
    floor = sizes_of(history, []).floor
    [body] = called(plain(history), "body")
    low = [x for x, y in body.points if -y == pytest.approx(floor, abs=0.01)]
    assert len(low) == 2 * bays
    gates = [
        each for each in called(plain(history), "part") if each.extent[3] == pytest.approx(2 * inch - floor, abs=0.01)
    ]
    assert len(gates) == bays


@pytest.mark.parametrize(("kind", "floor"), [("covered hopper", 5.0), ("well car", 5.0), ("boxcar", 42 * 25.4 / 87.1)])
def test_clearance_under_the_floor_is_that_of_cars_with_a_low_one(kind: str, floor: float) -> None:
    history = sheet(kind, 'axles_per_truck = 2\nfloor_clearance = "5 mm"')
    assert sizes_of(history, []).floor == pytest.approx(floor)


def test_a_floor_stays_below_the_top() -> None:
    sizes = sizes_of(sheet("boxcar", 'axles_per_truck = 2\nbody_height = "10 mm"'), [])
    assert sizes.floor == pytest.approx(8.0)


@pytest.mark.parametrize(("gear", "frames"), [("two-axle trucks", 2), ("three-axle trucks", 2), ("four wheels", 0)])
def test_trucks_have_side_frames_and_four_wheelers_none(gear: str, frames: int) -> None:
    shapes = called(plain(sized("boxcar", gear)), "frame")
    assert len(shapes) == frames
    for frame, pivot in zip(shapes, (50.0, -50.0), strict=False):
        assert (frame.extent[0] + frame.extent[2]) / 2 == pytest.approx(pivot, abs=0.01)


# --- weights and dashes ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_lines_are_of_three_weights_and_the_rail(kind: str, gear: str) -> None:
    history = sized(kind, gear)
    mm = paper_mm(sizes_of(history, []))
    weights = {
        float(width) for each in shapes_of(plain(history)) if (width := each.element.get("stroke-width")) is not None
    }
    expected = {OUTLINE, PART, DETAIL, 1.6 * OUTLINE}
    assert sorted(weights) == pytest.approx(sorted(each * mm for each in expected), abs=0.001)


def test_the_paper_is_as_wide_for_every_car() -> None:
    for length in (40, 140, 300):
        history = sheet("boxcar", f'axles_per_truck = 2\nbody_length = "{length} mm"')
        scene, mm = plain(history), paper_mm(sizes_of(history, []))
        assert scene.width / mm == pytest.approx(178.0)
        assert scene.x + scene.width / 2 == pytest.approx(0.0)


def dash_of(shape: Drawn) -> list[float] | None:
    """Dash and gap of a shape."""
    found = shape.element.get("stroke-dasharray")
    return None if found is None else [float(each) for each in found.split()]


@pytest.mark.parametrize("missing", ["body_length", "body_height", ""])
def test_an_outline_from_what_is_assumed_is_dashed(missing: str) -> None:
    lengths = {"body_length": "140 mm", "body_height": "45 mm", "coupler_face": "76 mm"}
    given_ = "\n".join(f'{key} = "{value}"' for key, value in lengths.items() if key != missing)
    history = sheet("boxcar", f"axles_per_truck = 2\n{given_}")
    mm = paper_mm(sizes_of(history, []))
    expected = [each * mm for each in DASH] if missing else None
    for body in called(plain(history), "body"):
        assert dash_of(body) == (pytest.approx(expected, abs=0.001) if expected else None)
    assert all(dash_of(part) is None for part in called(plain(history), "part"))


def test_a_coupler_nobody_read_is_dashed_finely() -> None:
    history = sized("boxcar")
    mm = paper_mm(sizes_of(history, []))
    a, b = sorted(
        called(plain(history, [read("coupler.height", "A", 9.9)]), "coupler"), key=lambda each: -each.extent[2]
    )
    assert dash_of(a) is None
    assert dash_of(b) == pytest.approx([0.9 * mm, 0.6 * mm], abs=0.001)


# --- within the frame --------------------------------------------------------------------------------------------

LENGTHS = (40.0, 140.0, 300.0)
"""Of very short, ordinary and very long bodies [mm]."""
HEIGHTS = (0.9, 1.0, 2.5)
"""Of very low, ordinary and very high bodies, in the usual height of their kind [-]."""


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", [kind for kind in [*KINDS, UNKNOWN] if kind != "brake van"])
def test_nothing_leaves_the_frame(kind: str, scale: str) -> None:
    for length in LENGTHS:
        for share in HEIGHTS:
            for gear in ("axles_per_truck = 2", "axles_per_truck = 3", "axles = 2"):
                height = round(share * usual_height(kind, scale), 2)
                assert outside_frame(plain(stretched(kind, scale, length, height, gear))) == []


@pytest.mark.parametrize("length", [60, 75, 85])
def test_the_stove_pipe_of_a_brake_van_is_within_the_frame(length: float) -> None:
    assert outside_frame(plain(stretched("brake van", "H0", length, 43.0, "axles = 2"))) == []


@pytest.mark.parametrize(
    ("kind", "length", "share"), [("flat car", 60, 0.6), ("caboose", 40, 0.5), ("passenger car", 40, 0.4)]
)
def test_what_stands_above_a_very_low_body_is_within_the_frame(kind: str, length: float, share: float) -> None:
    height = round(share * usual_height(kind, "HO"), 2)
    assert outside_frame(plain(stretched(kind, "HO", length, height))) == []


# --- the pen -----------------------------------------------------------------------------------------------------


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(1, 100))
def test_steps_run_from_first_to_last_as_near_as_may_be_to_their_gap(first: float, last: float, gap: float) -> None:
    places = steps(first, last, gap)
    assert (places[0], places[-1]) == pytest.approx((first, last))
    apart = [b - a for a, b in pairwise(places)]
    assert apart == pytest.approx([apart[0]] * len(apart), abs=1e-9)
    assert len(apart) == 1 or abs(len(apart) - abs(last - first) / gap) <= 0.5 + 1e-9
    assert len(apart) > 1 or abs(last - first) / gap <= 1.5 + 1e-9


def test_an_arc_is_part_of_an_ellipse() -> None:
    points = arc(1.0, 2.0, 3.0, 4.0, 180.0, 0.0, 6)
    assert len(points) == 7
    assert points[0] == pytest.approx((-2.0, 2.0))
    assert points[3] == pytest.approx((1.0, 6.0))
    assert points[-1] == pytest.approx((4.0, 2.0))
    assert all(((x - 1) / 3) ** 2 + ((z - 2) / 4) ** 2 == pytest.approx(1.0) for x, z in points)
    assert mirrored(points)[0] == pytest.approx((2.0, 2.0))


def test_a_pen_takes_points_in_other_units_for_a_while() -> None:
    pen = Pen(2.0, 10.0)
    with pen.measured_in(0.5):
        pen.block(0, 0, 4, 2)
        pen.disc(4, 2, 6)
    pen.block(0, 0, 4, 2)
    scene = Scene(-20.0, -20.0, 40.0, 40.0, tuple(pen.items), "x", "x")
    small, disc, large = shapes_of(scene)
    assert small.extent == (0, -1, 2, 0)
    assert disc.extent == (-1, -4, 5, 2)
    assert large.extent == (0, -2, 4, 0)
    assert {each.element.get("stroke-width") for each in (small, disc, large)} == {"0.56"}


def test_details_are_thin_and_soft_and_open_parts_are_not_filled() -> None:
    pen = Pen(1.0, 10.0)
    pen.detail()
    pen.detail(((0, 0), (1, 1)), ((2, 2), (3, 3)))
    pen.part(((0, 0), (1, 1)), closed=False, fill="wash")
    pen.outline(((0, 0), (1, 1), (2, 0)))
    detail, part, outline = shapes_of(Scene(0.0, 0.0, 9.0, 9.0, tuple(pen.items), "x", "x"))
    looks = [
        [each.element.get(key) for key in ("stroke", "stroke-width", "fill", "class")]
        for each in (detail, part, outline)
    ]
    assert looks == [
        ["var(--soft)", "0.14", "none", "detail"],
        ["var(--ink)", "0.28", "none", "part"],
        ["var(--ink)", "0.45", "var(--wash)", "body"],
    ]
    assert len(detail.lines) == 2
    assert outline.lines[0][0] == outline.lines[0][-1]


# --- bent --------------------------------------------------------------------------------------------------------

BENT = Line(((-70.0, 0.3), (-35.0, -0.1), (0.0, -0.4), (35.0, -0.15), (70.0, 0.5)), {"A": 0.6, "B": -0.2})
NOMINAL = {"A": 9.93, "B": 9.93}


READ = (read("coupler.height", "A", 10.53), read("coupler.height", "B", 9.73))


def bent(kind: str, state: Line = BENT, factor: float = 20.0, nominal: dict[str, float] | None = None) -> Scene:
    """A car in a state of deformation."""
    right = NOMINAL if nominal is None else nominal
    return bent_elevation(sized(kind), READ, state, factor, nominal=right, words="as it stands")


def coupler_heights(scene: Scene) -> tuple[float, float]:
    """Middles of the couplers at A and B above the rail."""
    a, b = sorted(called(scene, "coupler"), key=lambda each: -each.extent[2])
    return -(a.extent[1] + a.extent[3]) / 2, -(b.extent[1] + b.extent[3]) / 2


@given(
    st.lists(st.tuples(st.integers(-90, 90), st.floats(-5, 5)), min_size=1, max_size=9, unique_by=lambda pair: pair[0]),
    st.floats(-120, 120),
)
def test_heights_between_places_are_straight_and_level_beyond(known: list[tuple[int, float]], x: float) -> None:
    places, heights = zip(*sorted(known), strict=True)
    assert interpolated(x, places, heights) == pytest.approx(float(np.interp(x, places, heights)), abs=1e-9)


@pytest.mark.parametrize("factor", [0.0, 1.0, 20.0])
def test_a_body_is_bent_by_so_many_times_its_frame(factor: float) -> None:
    [body] = called(bent(UNKNOWN, factor=factor), "body")
    places, heights = zip(*BENT.frame, strict=True)
    sizes = sizes_of(sized(UNKNOWN), [])
    unbent = [(x, -y - factor * float(np.interp(x, places, heights))) for x, y in body.points]
    for x, z in unbent:
        sides = abs(abs(x) - 70.0) < 0.01 and sizes.floor - 0.01 <= z <= 45.01
        assert sides or min(abs(z - sizes.floor), abs(z - 45.0)) < 0.01
    for corner in ((-70.0, sizes.floor), (-70.0, 45.0), (70.0, 45.0), (70.0, sizes.floor)):
        assert min(math.dist(corner, point) for point in unbent) < 0.01
    corners = {(x, z): factor * height for x, height in ((-70.0, 0.3), (70.0, 0.5)) for z in (sizes.floor, 45.0)}
    for (x, z), moved in corners.items():
        assert min(math.dist((x, -(z + moved)), point) for point in body.points) < 0.01
    assert len(body.points) > 40


@pytest.mark.parametrize("kind", KINDS)
def test_a_body_without_deviation_is_drawn_as_it_is(kind: str) -> None:
    level = Line(((-70.0, 0.0), (70.0, 0.0)), {})
    whats = {"body", "part", "roof", "cupola"}
    straight, same = (
        [each.extent for each in shapes_of(scene) if each.what in whats]
        for scene in (plain(sized(kind), READ), bent(kind, level, 50.0, {}))
    )
    assert len(straight) == len(same) > 2
    for one, other in zip(straight, same, strict=True):
        assert one == pytest.approx(other, abs=0.01)


def test_a_round_part_stays_round_and_goes_where_its_middle_goes() -> None:
    pen = Pen(1.0, 10.0, lambda x, z: (x + 1.0, z + x))
    pen.disc(10.0, 20.0, 2.0)
    [disc] = shapes_of(Scene(0.0, 0.0, 1.0, 1.0, tuple(pen.items), "x", "x"))
    assert disc.extent == pytest.approx((9.0, -32.0, 13.0, -28.0))


def test_wheels_of_a_bent_car_stay_on_the_rail() -> None:
    straight, same = (called(scene, "wheel") for scene in (plain(sized("boxcar")), bent("boxcar")))
    assert [each.extent for each in straight] == [each.extent for each in same]


LEVEL = Line(((-70.0, 0.0), (70.0, 0.0)), BENT.couplers)


@pytest.mark.parametrize("factor", [1.0, 20.0])
def test_couplers_are_moved_by_so_many_times_their_deviation(factor: float) -> None:
    scene = bent("boxcar", LEVEL, factor)
    assert coupler_heights(scene) == pytest.approx((9.93 + 0.6 * factor, 9.93 - 0.2 * factor), abs=0.01)
    a, b = sorted(called(scene, "coupler"), key=lambda each: -each.extent[2])
    assert (a.extent[2], b.extent[0]) == pytest.approx((75.0, -77.0))


@pytest.mark.parametrize("factor", [1.0, 20.0])
def test_couplers_of_a_bent_frame_are_moved_by_their_own_deviation_alone(factor: float) -> None:
    expected = (9.93 + 0.6 * factor, 9.93 - 0.2 * factor)
    assert coupler_heights(bent("boxcar", BENT, factor)) == pytest.approx(expected, abs=0.01)


def test_the_right_height_of_a_coupler_is_a_centre_line() -> None:
    lines = [each for each in called(bent("boxcar"), "centre") if each.extent[1] == each.extent[3]]
    assert sorted(each.extent[1] for each in lines) == pytest.approx([-9.93, -9.93])
    mm = paper_mm(sizes_of(sized("boxcar"), []))
    a = max(lines, key=lambda each: each.extent[0])
    assert (a.extent[0], a.extent[2]) == pytest.approx((75 - 12 * mm, 75 + 9 * mm), abs=0.01)


def test_a_coupler_without_a_nominal_is_moved_from_where_it_was_read() -> None:
    assert coupler_heights(bent("boxcar", LEVEL, nominal={"A": 9.93})) == pytest.approx((21.93, 5.73), abs=0.01)
    only = Line(LEVEL.frame, {"A": 0.6})
    assert coupler_heights(bent("boxcar", only)) == pytest.approx((21.93, 9.73), abs=0.01)


def test_a_bent_car_says_how_much_larger_it_is_drawn() -> None:
    scene = bent("boxcar")
    assert scene.words == "as it stands: x with deviations drawn 20 times larger"
    assert [each.text for each in called(scene, "state")] == ["as it stands"]
    assert sorted(each.text for each in called(scene, "end")) == ["A end", "B end"]
    assert (scene.kind, scene.unit_mm) == ("bent", 1.0)


SHEET = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
type = "boxcar"
coupler = "knuckle"
[car.geometry]
axles_per_truck = 2
coupler_mount = "body"
body_length = "142 mm"
truck_centers = "108 mm"
coupler_face = "78 mm"
coupler_pivot = "68 mm"
[[entry]]
kind = "reading"
what = "coupler.height"
at = "A"
values = ["10.43 mm", "10.44 mm"]
with = "height gauge"
[[entry]]
kind = "reading"
what = "coupler.height"
at = "B"
values = ["10.33 mm"]
with = "height gauge"
[[entry]]
kind = "profile"
of = "frame"
datum = "plate"
side = "centre"
stations = ["-70 mm", "-35 mm", "0 mm", "35 mm", "70 mm"]
heights = ["8.84 mm", "8.21 mm", "8 mm", "8.21 mm", "8.84 mm"]
with = "height gauge"
"""


@pytest.mark.parametrize("planned", [False, True])
def test_the_car_is_drawn_before_and_after_where_a_plan_is_drawn_beside_it(*, planned: bool) -> None:
    inspection = cw.inspect(cw.read_sheet_text(SHEET))
    predicted = (Predicted("coupler.height", "A", 9.95, 0.02, 0.99, "model"),)
    plan = Plan(
        steps=(), effort=1.0, cost=0.0, risk=0.0, reversible="yes", p_open=0.9, p_closed=0.9, predicted=predicted,
        straightens=True,
    )  # fmt: skip
    found = deformation_of(inspection, plan if planned else None)
    assert found is not None
    scenes = before_after(inspection, found)
    assert [each.text for scene in scenes for each in called(scene, "state")] == [
        "as it stands", "as plan 1 would leave it",
    ][: 1 + planned]  # fmt: skip
    assert all(f"drawn {found.bent_factor:g} times larger" in scene.words for scene in scenes)
    for scene in scenes:
        assert outside_frame(scene) == []
    if planned:
        now, then = (called(scene, "body")[0].extent for scene in scenes)
        assert now[1] < then[1] - 0.2  # the ends stand high, and lower where the frame is straightened


def test_couplers_stand_as_they_were_read_in_the_drawing_before() -> None:
    inspection = cw.inspect(cw.read_sheet_text(SHEET))
    found = deformation_of(inspection, None, 1.0)
    assert found is not None
    [scene] = before_after(inspection, found)
    assert coupler_heights(scene) == pytest.approx((10.435, 10.33), abs=0.01)


def test_a_whole_car_is_bent_less_than_its_frame_unless_a_factor_is_wanted() -> None:
    inspection = cw.inspect(cw.read_sheet_text(SHEET))
    chosen, wanted = deformation_of(inspection, None), deformation_of(inspection, None, 37.0)
    assert chosen is not None
    assert wanted is not None
    assert 1.0 <= chosen.bent_factor < chosen.factor
    assert (wanted.factor, wanted.bent_factor) == (37.0, 37.0)


@pytest.mark.parametrize("factor", [200.0, 500.0])
def test_a_car_bent_by_any_factor_is_within_its_frame(factor: float) -> None:
    inspection = cw.inspect(cw.read_sheet_text(SHEET))
    found = deformation_of(inspection, None, factor)
    assert found is not None
    for scene in before_after(inspection, found):
        assert outside_frame(scene) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_drawn_in_well_formed_xml(kind: str) -> None:
    root = parsed(plain(sized(kind)))
    assert root.get("class") == "elevation"
    assert root.get("aria-label") == "Side elevation of x, A end on the right. Nothing pinned."
    assert ET.fromstring(inline_svg(bent(kind))).get("class") == "bent"


def test_a_kind_is_known_in_either_spelling() -> None:
    assert kind_of("Depressed-centre flat car") == kind_of("depressed-center flat car")
    assert kind_of("depressed-centre flat car")[1]
