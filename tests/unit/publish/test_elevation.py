"""The elevation is true to scale, pins are where the findings are, and nothing a person writes can break it."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.history import History
from carwright.judge import Finding
from carwright.publish.charts.limits import limits_scene
from carwright.publish.drawing.elevation import elevation, paper_mm
from carwright.publish.drawing.kinds import KINDS, kind_of
from carwright.publish.drawing.pins import APART, pins_of
from carwright.publish.drawing.shape import assumed_of, sizes_of
from carwright.publish.scene import inline_svg

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "{title}"
scale = "HO"
type = "{type}"
[car.geometry]
{geometry}
"""
FULL = """
body_length = "135.9 mm"
body_height = "48 mm"
truck_centers = "96.0 mm"
truck_wheelbase = "19.3 mm"
axles_per_truck = 2
coupler_face = "76.7 mm"
wheel_diameter = "10.5 mm"
"""


def history(geometry: str = FULL, car_type: str = "boxcar", title: str = "x") -> History:
    return cw.read_sheet_text(HEAD.format(geometry=geometry, type=car_type, title=title)).history


def drawn(geometry: str = FULL, car_type: str = "boxcar", findings: tuple[Finding, ...] = ()) -> ET.Element:
    return ET.fromstring(inline_svg(elevation(history(geometry, car_type), findings, list(enumerate(findings, 1)))))


def finding(what: str, at: str, outcome: str = "fails", value: float | None = None) -> Finding:
    return Finding("a/b/HO/c", "thing", what, at, 0, outcome, "standard", "standard", "x", "measured", value=value)  # type: ignore[arg-type]


def numbers(path: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+\.?\d*", path)]


def test_one_user_unit_is_one_millimetre() -> None:
    svg = drawn()
    wheels = [each for each in svg.iter("circle") if each.get("class") == "wheel"]
    places = sorted(float(each.get("cx", "nan")) for each in wheels)
    assert places == pytest.approx([-57.65, -38.35, 38.35, 57.65])
    assert {float(each.get("r", "nan")) for each in wheels} == {5.25}
    assert {float(each.get("cy", "nan")) for each in wheels} == {-5.25}
    body = [each for each in svg.iter("path") if each.get("class") == "body"][-1]
    xs = numbers(body.get("d", ""))[::2]
    assert (min(xs), max(xs)) == pytest.approx((-67.95, 67.95))
    drawn_paths = [each for each in svg.iter("path") if each.get("class") in {"body", "part"}]
    highest = max(-z for each in drawn_paths for z in numbers(each.get("d", ""))[1::2])
    assert highest == pytest.approx(48.0)


def test_couplers_stand_where_they_were_read() -> None:
    svg = drawn(findings=(finding("coupler.height", "A", value=10.4), finding("coupler.height", "B", value=9.1)))
    couplers = [numbers(each.get("d", "")) for each in svg.iter("path") if each.get("class") == "coupler"]
    a, b = sorted(couplers, key=max, reverse=True)
    for path, height in ((a, 10.4), (b, 9.1)):
        zs = path[1::2]
        assert -(min(zs) + max(zs)) / 2 == pytest.approx(height, abs=0.01)
    assert max(a) == pytest.approx(76.7)
    assert min(b) == pytest.approx(-76.7)


def test_pins_are_where_the_findings_are() -> None:
    shape = sizes_of(history(), [])
    wanted = (("coupler.height", "B"), ("wheel.width", "3L"), ("weight.total", ""), ("look.part", "A"))
    spots = {}
    for what, at in wanted:
        [pin] = pins_of([(1, finding(what, at))], shape)
        spots[what, at] = (pin.x, pin.z)
    assert spots["coupler.height", "B"][0] == pytest.approx(-76.7)
    assert spots["wheel.width", "3L"] == pytest.approx((-38.35, 5.25))
    assert spots["look.part", "A"][0] > 50
    assert spots["weight.total", ""][1] > 10


@given(st.lists(st.sampled_from(["coupler.height", "wheel.width", "weight.total", "look.part"]), max_size=14))
def test_pins_never_overlap_and_stay_on_the_drawing(whats: list[str]) -> None:
    findings = tuple(finding(what, "A" if what.startswith(("coupler", "look")) else "1") for what in whats)
    svg = drawn(findings=findings)
    left, _, width, _ = numbers(svg.get("viewBox", ""))
    rows: dict[float, list[float]] = {}
    for text in svg.iter("text"):
        if text.get("class") == "pin-number":
            rows.setdefault(float(text.get("y", "nan")), []).append(float(text.get("x", "nan")))
    assert sum(len(row) for row in rows.values()) == len(findings)
    mm = paper_mm(sizes_of(history(), findings))
    for row in rows.values():
        xs = sorted(row)
        assert xs[0] >= left
        assert xs[-1] <= left + width
        assert all(b - a >= APART * mm - 0.01 for a, b in pairwise(xs))


@pytest.mark.parametrize("car_type", [*KINDS, "zeppelin carrier"])
def test_every_type_is_drawn(car_type: str) -> None:
    svg = drawn(car_type=car_type)
    assert svg.get("role") == "group"
    assert [each for each in svg.iter("path") if "body" in (each.get("class") or "")]
    assert kind_of(car_type)[1] == (car_type in KINDS)


def test_a_four_wheeler_has_no_trucks_and_its_buffers() -> None:
    geometry = 'length_over_buffers = "104.5 mm"\nbody_length = "91 mm"\nwheelbase = "51.7 mm"\naxles = 2\n'
    svg = drawn(geometry, "four-wheel van")
    assert len([each for each in svg.iter("circle") if each.get("class") == "wheel"]) == 2
    assert not [each for each in svg.iter("path") if each.get("class") == "frame"]
    faces = [
        max(map(abs, numbers(each.get("d", ""))[::1]))
        for each in svg.iter("path")
        if "coupler" in str(each.get("class"))
    ]
    assert max(faces) == pytest.approx(52.25)


def test_what_is_assumed_is_said() -> None:
    assert "body length" in assumed_of(history("axles_per_truck = 2"), [])
    assert "body length" not in assumed_of(history(), [])


@given(st.text(alphabet=st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=60))
def test_titles_are_escaped(title: str) -> None:
    plain = title.replace("\\", "").replace('"', "")
    found = history(title=f"{plain}<b>&")
    ET.fromstring(inline_svg(elevation(found, (), [])))


def bar(
    value: float, half: float, lower: float | None, upper: float | None, outcome: str = "fails"
) -> ET.Element | None:
    made = Finding(
        "a/b/c", "t", "x", "", 0, outcome, "standard", "standard", "x", "measured", value=value, half_width=half,  # type: ignore[arg-type]
        lower=lower, upper=upper,
    )  # fmt: skip
    scene = limits_scene(made)
    return ET.fromstring(inline_svg(scene)) if scene is not None else None


def test_a_bar_is_to_scale() -> None:
    svg = bar(10.4, 0.05, 9.677, 10.185)
    assert svg is not None
    band = next(each for each in svg.iter("rect") if each.get("class") == "allowed")
    left, width = float(band.get("x", "nan")), float(band.get("width", "nan"))
    point = next(each for each in svg.iter("rect") if each.get("class") == "estimate")
    x = float(point.get("x", "nan")) + 3.5
    assert (x - left) / width == pytest.approx((10.4 - 9.677) / (10.185 - 9.677), abs=0.002)


@pytest.mark.parametrize(("outcome", "tag"), [("fails", "rect"), ("undecided", "path"), ("conforms", "circle")])
def test_an_estimate_shows_its_outcome_by_shape(outcome: str, tag: str) -> None:
    svg = bar(1.0, 0.1, None, 1.1, outcome)
    assert svg is not None
    assert [each.tag for each in svg if "estimate" in (each.get("class") or "")] == [tag]


def test_no_bar_without_a_limit() -> None:
    assert bar(1.0, 0.1, None, None) is None
