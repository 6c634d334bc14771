"""The frame drawn larger than it bends: where its marks stand, before and after, and what it says as text."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

import carwright as cw
from carwright.explain.records import Plan, Predicted
from carwright.publish.drawing.deformed import Deformation, Line, ascii_elevation, deformation_of, deformed_scene
from carwright.publish.report import report_html
from carwright.publish.scene import inline_svg

CAR = Path("examples/ho-flat-car.toml")
A, E, C = 54.0, 76.0, 68.0
NOMINAL = 9.9314
HOSTILE = """</svg><script>alert("1")</script>&'"""
SHEET = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
coupler = "knuckle"
[car.geometry]
axles_per_truck = 2
coupler_mount = "body"
body_length = "142 mm"
truck_centers = "108 mm"
coupler_face_A = "76 mm"
coupler_face_B = "80 mm"
coupler_pivot = "68 mm"
[[instrument]]
name = "stand"
resolution = "0.001 mm"
calibration = "0.004 mm"
repeatability = "0.01 mm"
repeatability_n = 500
"""


def bowed(a: float = 0.5, b: float = 0.4, sag: float = 0.5) -> cw.Inspection:
    """A car whose frame sags, and both of whose couplers stand off [mm]."""
    text = SHEET
    for at, off in (("A", a), ("B", b)):
        text += f'[[entry]]\nkind = "reading"\nwhat = "coupler.height"\nat = "{at}"\nstate = "free"\n'
        text += f'values = ["{NOMINAL + off:.4f} mm"]\nwith = "stand"\n'
    stations = (-70, -52, -35, -17, 0, 17, 35, 52, 70)
    heights = [f"{8 + sag * (x / A) ** 2:.4f} mm" for x in stations]
    text += '[[entry]]\nkind = "profile"\nof = "frame"\ndatum = "plate"\nside = "centre"\n'
    text += f'stations = {[f"{x} mm" for x in stations]}\nheights = {heights}\nwith = "stand"\n'
    return cw.inspect(cw.read_sheet_text(text))


def planned(**more: object) -> Plan:
    """A plan that brings both couplers near."""
    predicted = (
        Predicted("coupler.height", "A", NOMINAL + 0.05, 0.02, 0.99, "model"),
        Predicted("coupler.height", "B", NOMINAL - 0.03, 0.02, 0.99, "model"),
    )
    values = {"cost": 0.0, "risk": 0.0, "reversible": "yes", "p_open": 0.9, "p_closed": 0.9} | more
    return Plan(steps=(), effort=1.0, predicted=predicted, **values)  # type: ignore[arg-type]


def drawn(found: Deformation, title: str = "x") -> ET.Element:
    """The drawing as parsed."""
    return ET.fromstring(inline_svg(deformed_scene(found, "metric", title)))


def marks(root: ET.Element) -> dict[str, dict[str, tuple[float, float]]]:
    """Centres of the couplers' marks by state and end."""
    found: dict[str, dict[str, tuple[float, float]]] = {"now": {}, "then": {}}
    for rect in root.iter("rect"):
        x, y, width, height = (float(rect.get(key, "nan")) for key in ("x", "y", "width", "height"))
        found["now"]["A" if x > 0 else "B"] = (x + width / 2, y + height / 2)
    for circle in root.iter("circle"):
        x, y = float(circle.get("cx", "nan")), float(circle.get("cy", "nan"))
        found["then"]["A" if x > 0 else "B"] = (x, y)
    return found


def frame(root: ET.Element, kind: str) -> list[tuple[float, float]]:
    """Points of a frame's line, heights + upward."""
    [path] = [each for each in root.iter("path") if each.get("class") == f"frame-{kind}"]
    return [(float(x), -float(y)) for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path.get("d", ""))]


@pytest.mark.parametrize("factor", [1.0, 7.0, 30.0, 500.0])
def test_couplers_stand_at_their_deviation_times_the_factor(factor: float) -> None:
    found = deformation_of(bowed(), planned(), factor)
    assert found is not None
    assert found.factor == factor
    seen = marks(drawn(found))
    for state, offs in (("now", {"A": 0.5, "B": 0.4}), ("then", {"A": 0.05, "B": -0.03})):
        for end, off in offs.items():
            x, y = seen[state][end]
            assert x == pytest.approx(E if end == "A" else -80.0, abs=0.011)
            assert -y == pytest.approx(off * factor, abs=0.006 + 2e-4 * factor)


def test_the_frame_is_drawn_as_it_bends_and_straight_where_it_is_straightened() -> None:
    inspection = bowed()
    found = deformation_of(inspection, planned(straightens=True), 10.0)
    assert found is not None
    root = drawn(found)
    now, then = frame(root, "now"), frame(root, "then")

    def above_chord(points: list[tuple[float, float]], x: float) -> float:
        def at(where: float) -> float:
            return min(points, key=lambda point: abs(point[0] - where))[1]

        return at(x) - (at(-A) + at(A)) / 2

    assert above_chord(now, 0.0) == pytest.approx(-10 * inspection.explanation.bow, abs=0.6)
    assert above_chord(now, 0.0) < -3
    assert above_chord(then, 0.0) == pytest.approx(0.0, abs=0.02)
    assert [x for x, _ in now] == [x for x, _ in then]


def test_what_lifts_a_pivot_lifts_the_frame_there() -> None:
    inspection = bowed()
    found = deformation_of(inspection, planned(seats={"A": 0.3}), 10.0)
    assert found is not None
    assert found.after is not None
    for (x, before), (_, after) in zip(found.now.frame, found.after.frame, strict=True):
        assert after - before == pytest.approx(0.3 * (x + A) / (2 * A), abs=1e-9)


def test_the_factor_is_chosen_so_that_it_shows_and_stays_on_the_sheet() -> None:
    for size in (0.001, 0.05, 0.5, 3.0):
        found = deformation_of(bowed(size, size, size), None)
        assert found is not None
        assert 1 <= found.factor <= 500
        root = drawn(found)
        left, top, width, height = (float(each) for each in (root.get("viewBox") or "").split())
        for x, y in [*marks(root)["now"].values(), *((x, -z) for x, z in frame(root, "now"))]:
            assert left <= x <= left + width
            assert top <= y <= top + height


def test_without_a_plan_nothing_is_drawn_after_it() -> None:
    found = deformation_of(bowed(), None)
    assert found is not None
    assert found.after is None
    assert marks(drawn(found))["then"] == {}
    assert [line for line in ascii_elevation(bowed(), None) if "then" in line] == []


def test_without_a_coupler_height_nothing_is_drawn() -> None:
    bare = cw.inspect(cw.read_sheet_text(SHEET))
    assert deformation_of(bare, None) is None
    assert list(ascii_elevation(bare, None)) == []


def test_a_coupler_nobody_read_has_no_mark() -> None:
    lines = bowed()
    text = (
        SHEET + '[[entry]]\nkind = "reading"\nwhat = "coupler.height"\nat = "A"\nvalues = ["10.4 mm"]\nwith = "stand"\n'
    )
    found = deformation_of(cw.inspect(cw.read_sheet_text(text)), None)
    assert found is not None
    assert set(marks(drawn(found))["now"]) == {"A"}
    assert set(marks(drawn(deformation_of(lines, None) or found))["now"]) == {"A", "B"}


def test_hostile_titles_are_escaped() -> None:
    found = deformation_of(bowed(), planned())
    assert found is not None
    text = inline_svg(deformed_scene(found, "us", HOSTILE))
    assert "<script" not in text
    assert HOSTILE in (ET.fromstring(text).get("aria-label") or "")


# --- as text -------------------------------------------------------------------------------------------------------


def picture(lines: list[str], kind: str) -> list[str]:
    """Rows of one state."""
    start = next(number for number, line in enumerate(lines) if line.strip().startswith(f"{kind}: "))
    rows = []
    for line in lines[start + 1 :]:
        if not line.startswith("    "):
            break
        rows.append(line[4:])
    return rows


def test_the_text_says_the_same() -> None:
    lines = [*ascii_elevation(bowed(), planned())]
    now, then = picture(lines, "now"), picture(lines, "then")
    assert any("A +0.50 mm" in line or "A +0.020 in" in line for line in lines)
    for rows, mark in ((now, "#"), (then, "o")):
        base = next(number for number, row in enumerate(rows) if "--" in row)
        assert any(mark in row for row in rows)
        assert all(len(row) <= 61 for row in rows)
        column = {
            end: next((row.index(end), base - number) for number, row in enumerate(rows) if end in row) for end in "AB"
        }
        assert column["B"][0] < column["A"][0]
        if mark == "#":
            assert column["A"][1] > 0
            assert column["B"][1] > 0
    assert lines[-1].strip().startswith("---")


def test_the_step_of_a_row_is_never_nothing() -> None:
    last = [*ascii_elevation(cw.inspect(cw.read_sheet(CAR)), None)][-1]
    assert "is 0.000 in" not in last


def test_a_small_exaggeration_flattens_the_text() -> None:
    def rows(factor: float) -> int:
        return len(picture([*ascii_elevation(bowed(), None, factor)], "now"))

    assert rows(1.0) == 1
    assert rows(500.0) > rows(1.0)


def test_marks_beyond_the_rows_stay_at_the_edge() -> None:
    line = Line(((-70.0, 0.0), (70.0, 0.0)), {"A": 1.0, "B": -1.0})
    assert line.largest == 1.0
    assert Line((), {}).largest == 0.0
    for row in ascii_elevation(bowed(3.0, -3.0, 0.0), None, 500.0):
        assert len(row) <= 120


def test_the_report_draws_it_with_the_exaggeration_asked_for() -> None:
    text = report_html(bowed(), version="0", exaggerate=37.0)
    assert "37 times larger" in text
