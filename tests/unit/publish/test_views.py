"""Side, end and plan on one sheet: true to scale, in line with one another, within the frame, and readable in grey."""

from __future__ import annotations

import io
import re
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from PIL import Image
from test_bodies import GEAR, RATIOS, UNKNOWN, read, sheet, sized, spans, usual_height
from test_scene import Drawn, called, outside_frame, parsed, shapes_in

import carwright as cw
from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.elevation import elevation
from carwright.publish.drawing.kinds import KINDS
from carwright.publish.drawing.pen import DETAIL, OUTLINE, PAPER, PART
from carwright.publish.drawing.shape import sizes_of
from carwright.publish.drawing.views import sheet_of_views
from carwright.publish.scene import Scene, standalone_svg
from carwright.publish.theme import MEDIA, Medium, load_theme
from carwright.publish.typeset import pictures

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
THEME = load_theme()
MARGINS = 13.0 + 3 * 12.0
"""Paper that the views leave free across the sheet [mm]."""
Views = dict[str, list[Drawn]]


def scene_of(history: History, findings: tuple[Finding, ...] = ()) -> Scene:
    """The sheet of three views."""
    return sheet_of_views(history, findings)


def views_of(scene: Scene) -> Views:
    """Shapes of each view where they stand on the sheet."""
    groups = list(parsed(scene))
    assert [each.get("class") for each in groups] == ["view side", "view end-view", "view plan"]
    found = {}
    for group in groups:
        alone = ET.Element("svg")
        alone.append(group)
        found[str(group.get("class")).removeprefix("view ")] = list(shapes_in(alone))
    assert all(found.values())
    return found


def move_of(scene: Scene, view: str) -> tuple[float, float]:
    """How far a view is moved."""
    [group] = [each for each in parsed(scene) if each.get("class") == f"view {view}"]
    found = re.match(r"translate\((\S+) (\S+)\)", group.get("transform", "translate(0 0)"))
    assert found is not None
    return float(found[1]), float(found[2])


def extent(shapes: list[Drawn]) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of several shapes."""
    lefts, tops, rights, lows = zip(*(each.extent for each in shapes), strict=True)
    return min(lefts), min(tops), max(rights), max(lows)


def named(shapes: list[Drawn], *whats: str) -> list[Drawn]:
    """Shapes that show one of several things."""
    return [each for each in shapes if each.what in whats]


def bodily(shapes: list[Drawn]) -> list[Drawn]:
    """Shapes of the body."""
    return named(shapes, "body", "part", "cupola", "roof")


# --- true to scale, and in line ----------------------------------------------------------------------------------


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("gear", GEAR)
@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_three_views_are_true_to_scale_and_in_line(kind: str, gear: str, scale: str) -> None:
    scene = scene_of(sized(kind, gear, scale), (read("coupler.height", "A", 10.2),))
    assert scene.unit_mm == 1.0
    views = views_of(scene)
    (right, level), (middle, up) = move_of(scene, "end-view"), move_of(scene, "plan")
    assert move_of(scene, "side") == (0.0, 0.0)
    assert (level, middle) == (0.0, 0.0)
    # The side and the plan show its length.
    assert spans(named(views["side"], "body"), -70.0, 70.0)
    [plan] = named(views["plan"], "body")
    assert plan.extent == pytest.approx((-70.0, up - 15.5, 70.0, up + 15.5), abs=0.01)
    # The plan and the end show its width.
    assert spans(named(views["end-view"], "body"), right - 15.5, right + 15.5)
    # Couplers are seen from all three sides.
    for view in ("side", "plan"):
        faces = extent(named(views[view], "coupler"))
        assert (faces[0], faces[2]) == pytest.approx((-77.0, 75.0), abs=0.01)
    [end] = named(views["end-view"], "coupler")
    assert -(end.extent[1] + end.extent[3]) / 2 == pytest.approx(10.2, abs=0.01)
    # So are its axles, or what stands for them.
    wheels = sorted(named(views["side"], "wheel"), key=lambda each: each.extent)
    assert [(each.extent[0] + each.extent[2]) / 2 for each in wheels] == pytest.approx(GEAR[gear][2], abs=0.01)
    assert all((each.extent[1], each.extent[3]) == pytest.approx((-10.4, 0.0), abs=0.01) for each in wheels)
    lines = [
        each for each in named(views["plan"], "centre") if len(each.lines) == 1 and each.extent[0] == each.extent[2]
    ]
    pivots = (-35.0, 35.0) if gear == "four wheels" else (-50.0, 50.0)
    assert sorted(each.extent[0] for each in lines) == pytest.approx(pivots, abs=0.01)


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_a_body_is_as_high_from_the_end_as_from_the_side(kind: str, scale: str) -> None:
    height = round(usual_height(kind, scale), 2)
    geometry = f'axles_per_truck = 2\nbody_length = "140 mm"\nbody_width = "31 mm"\nbody_height = "{height} mm"'
    views = views_of(scene_of(sheet(kind, geometry, scale)))
    end = bodily(views["end-view"])
    assert -extent(end)[1] == pytest.approx(height, abs=0.01)
    tops = sorted({round(-each.extent[1], 2) for each in bodily(views["side"])})
    if kind == "brake van":
        tops.pop()  # the stove pipe, which stands over the roof
    assert tops[-1] == pytest.approx(-extent(end)[1], abs=0.01)


@pytest.mark.parametrize("scale", RATIOS)
def test_wheels_stand_on_the_gauge(scale: str) -> None:
    history = sized("gondola", scale=scale)
    scene = scene_of(history)
    right, _ = move_of(scene, "end-view")
    wheels = named(views_of(scene)["end-view"], "wheel")
    sizes = sizes_of(history, [])
    assert sizes.gauge == history.scale.gauge > 8
    for wheel, sign in zip(wheels, (-1, 1), strict=True):
        x0, y0, x1, y1 = wheel.extent
        inner, outer = sorted((abs(x0 - right), abs(x1 - right)))
        assert sign * (x0 + x1 - 2 * right) > 0
        assert inner < sizes.gauge / 2 < outer
        assert outer == pytest.approx(sizes.gauge / 2 + 4 * sizes.inch, abs=0.01)
        assert (-y0, y1) == pytest.approx((10.4 + 1.1 * sizes.inch, 1.1 * sizes.inch), abs=0.01)


def test_a_car_over_buffers_has_two_at_each_end() -> None:
    history = sized("four-wheel van", "four wheels", "H0", buffers=True)
    scene = scene_of(history)
    right, _ = move_of(scene, "end-view")
    discs = named(views_of(scene)["end-view"], "coupler")
    inch = 25.4 / 87
    middles = [((each.extent[0] + each.extent[2]) / 2, (each.extent[1] + each.extent[3]) / 2) for each in discs]
    spacing = min(34.5 * inch, 15.5 - 6 * inch)
    for (x, y), sign in zip(middles, (-1, 1), strict=True):
        assert (x, y) == pytest.approx((right + sign * spacing, -41.3 * inch), abs=0.01)
    plan = views_of(scene)["plan"]
    assert not named(plan, "coupler")
    parts = extent(named(plan, "part"))
    assert (parts[0], parts[2]) == pytest.approx((-77.0, 77.0), abs=0.01)


@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_views_stand_apart(kind: str) -> None:
    for scale in RATIOS:
        for length in (60, 140, 280):
            height = round(usual_height(kind, scale), 2)
            geometry = f'axles_per_truck = 2\nbody_length = "{length} mm"\nbody_height = "{height} mm"'
            views = views_of(scene_of(sheet(kind, geometry, scale)))
            for one, other in combinations(views.values(), 2):
                a, b = extent(one), extent(other)
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_every_kind_has_a_plan_and_an_end_of_its_own_family() -> None:
    looks = {}
    for kind in [*KINDS, UNKNOWN]:
        views = views_of(scene_of(sized(kind)))
        looks[kind] = tuple(
            tuple(each.element.get("d") or repr(each.extent) for each in views[view]) for view in ("plan", "end-view")
        )
    plans = {kind: plan for kind, (plan, _) in looks.items()}
    same = {frozenset(kind for kind, other in plans.items() if other == plan) for plan in plans.values()}
    assert {group for group in same if len(group) > 1} == {
        frozenset({"boxcar", "stock car"}),
        frozenset({"gondola", "four-wheel wagon", "well car"}),
        frozenset({"flat car", "depressed-center flat car"}),
        frozenset({"passenger car", "four-wheel van"}),
    }
    assert len({end for _, end in looks.values()}) >= 8


# --- frame, weights, dashes --------------------------------------------------------------------------------------


def wide(kind: str, scale: str, length: float, share: float, gear: str) -> History:
    """A body of any length and height, with its usual width and all that is dimensioned."""
    inch = 25.4 / RATIOS[scale]
    trucks = f'truck_centers = "{0.7 * length} mm"\ntruck_wheelbase = "{0.14 * length} mm"'
    base = f'wheelbase = "{0.5 * length} mm"' if gear == "axles = 2" else trucks
    across = (KINDS[kind].width if kind in KINDS else 118) * inch
    lengths = (
        f'body_length = "{length} mm"\nbody_height = "{share * usual_height(kind, scale):.2f} mm"\n'
        f'body_width = "{min(across, 0.9 * length):.2f} mm"\ncoupler_face = "{length / 2 + 6} mm"'
    )
    return sheet(kind, f"{gear}\n{base}\n{lengths}", scale)


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_nothing_leaves_the_frame(kind: str, scale: str) -> None:
    for length in (60.0, 140.0, 300.0):
        for share in (0.4, 1.0, 2.5):
            for gear in ("axles_per_truck = 2", "axles_per_truck = 3", "axles = 2"):
                if length == 300.0 and scale == "N":
                    continue  # no car is that long there, and its end has no room for its figure
                assert outside_frame(scene_of(wide(kind, scale, length, share, gear))) == []


def test_views_without_any_size_are_within_the_frame() -> None:
    for kind in [*KINDS, UNKNOWN]:
        for gear in ("axles_per_truck = 2", "axles = 2"):
            assert outside_frame(scene_of(sheet(kind, gear))) == []


@pytest.mark.parametrize(("scale", "length", "width"), [("H0", 330, 30.0), ("N", 300, 18.0)])
def test_the_width_of_a_long_narrow_car_is_within_the_frame(scale: str, length: float, width: float) -> None:
    geometry = f'axles_per_truck = 2\nbody_length = "{length} mm"\nbody_width = "{width:.2f} mm"'
    history = cw.read_sheet_text(
        f'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "{scale}"\ntype = "passenger car"\n'
        f'system = "metric"\n[car.geometry]\n{geometry}\n'
    ).history
    assert outside_frame(scene_of(history)) == []


def test_wheels_wider_than_a_body_are_within_the_frame() -> None:
    geometry = 'axles_per_truck = 2\nbody_length = "60 mm"\nbody_width = "15 mm"\nbody_height = "20 mm"'
    assert outside_frame(scene_of(sheet("flat car", geometry, "O"))) == []


@pytest.mark.parametrize("kind", [*KINDS, UNKNOWN])
def test_lines_are_of_three_weights_and_the_rail(kind: str) -> None:
    history = sized(kind)
    sizes = sizes_of(history, [])
    mm = (2 * sizes.reach + 2 * sizes.half_width) / (PAPER - MARGINS)
    shapes = [each for view in views_of(scene_of(history)).values() for each in view]
    found = {float(width) for each in shapes if (width := each.element.get("stroke-width")) is not None}
    expected = {OUTLINE, PART, DETAIL, 1.6 * OUTLINE}
    assert sorted(found) == pytest.approx(sorted(each * mm for each in expected), abs=0.001)


@pytest.mark.parametrize("missing", ["body_length", "body_height", ""])
def test_outlines_from_what_is_assumed_are_dashed_in_the_views_that_show_it(missing: str) -> None:
    lengths = {"body_length": "140 mm", "body_height": "45 mm", "body_width": "31 mm"}
    rest = "\n".join(f'{key} = "{value}"' for key, value in lengths.items() if key != missing)
    views = views_of(scene_of(sheet("boxcar", f"axles_per_truck = 2\n{rest}")))
    dashed = {
        name
        for name, shapes in views.items()
        if all(each.element.get("stroke-dasharray") for each in named(shapes, "body"))
    }
    shown_in = {"body_length": {"side", "plan"}, "body_height": {"side", "end-view"}, "": set()}
    assert dashed == shown_in[missing]


def test_a_width_that_is_assumed_is_dashed() -> None:
    history = sheet("boxcar", 'axles_per_truck = 2\nbody_length = "140 mm"\nbody_height = "45 mm"')
    [plan] = named(views_of(scene_of(history))["plan"], "body")
    assert plan.element.get("stroke-dasharray")


def test_the_sheet_is_told_in_words() -> None:
    scene = scene_of(sized("boxcar"))
    assert scene.words == "Three views of x. Side, A end on the right; end, seen from A; plan, from above."
    assert (scene.kind, scene.links) == ("views", False)


# --- in grey -----------------------------------------------------------------------------------------------------


def luma(colour: str) -> float:
    """How light a colour is in a grey picture, 0 to 1 [-]. ITU-R BT.601 (memory), as Pillow has it."""
    return Image.new("RGB", (1, 1), colour).convert("L").getpixel((0, 0)) / 255  # type: ignore[operator]


@pytest.mark.parametrize("medium", MEDIA)
def test_ink_paper_and_what_is_allowed_differ_in_lightness(medium: Medium) -> None:
    shades = {name: luma(THEME.ink(name, medium)) for name in ("ink", "allowed", "paper")}
    for one, other in combinations(shades.values(), 2):
        assert abs(one - other) >= 0.1
    assert abs(luma(THEME.ink("soft", medium)) - shades["paper"]) >= 0.1
    assert abs(luma(THEME.ink("accent", medium)) - shades["paper"]) >= 0.1
    assert abs(luma(THEME.ink("line", medium)) - shades["paper"]) >= 0.1


class Grey:
    """A scene rendered in a medium and turned grey."""

    def __init__(self, scene: Scene, medium: Medium, across: int = 900) -> None:
        self.scene, self.factor = scene, across / scene.width
        drawn = standalone_svg(scene, THEME, medium, ground=True)
        [png] = pictures([drawn], THEME, width=across, height=scene.height * self.factor, scale=1.0, what="a drawing")
        self.image = Image.open(io.BytesIO(png)).convert("RGB").convert("L")

    def at(self, x: float, y: float) -> float:
        """Lightness at a place of the scene, 0 to 1 [-]."""
        place = (int((x - self.scene.x) * self.factor), int((y - self.scene.y) * self.factor))
        return self.image.getpixel(place) / 255  # type: ignore[operator]


@pytest.mark.parametrize("medium", MEDIA)
def test_a_drawing_is_read_without_its_colours(medium: Medium) -> None:
    """A pin that fails is told from an undecided one, a line from its ground, all in grey."""
    findings = (
        Finding("a/b/HO/c", "t", "weight.total", "", 0, "fails", "standard", "standard", "x", "measured"),
        Finding("a/b/HO/c", "t", "look.part", "A", 0, "undecided", "standard", "standard", "x", "measured"),
    )
    scene = elevation(sized("boxcar"), findings, list(enumerate(findings, 1)))
    grey = Grey(scene, medium)
    paper = grey.at(scene.x + 1, scene.y + 1)
    assert paper == pytest.approx(luma(THEME.ink("paper", medium)), abs=0.02)
    square, diamond = called(scene, "mark")
    assert (square.tag, diamond.tag) == ("rect", "path")
    x0, y0, x1, _ = square.extent
    assert abs(grey.at(x0 + 0.12 * (x1 - x0), y0 + 0.12 * (x1 - x0)) - paper) >= 0.5
    x0, y0, x1, _ = diamond.extent
    assert grey.at((x0 + x1) / 2, y0 + 0.2 * (x1 - x0)) == pytest.approx(paper, abs=0.05)
    [rail] = called(scene, "rail")
    assert abs(grey.at(rail.extent[0] + 1, 0.0) - paper) >= 0.3
    wheel = called(scene, "wheel")[0]
    rim = max(abs(grey.at(wheel.extent[0] + dx, -5.2) - paper) for dx in (-0.1, 0.0, 0.1))
    assert rim >= 0.3


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_views_of_the_examples_are_within_their_frames(path: Path) -> None:
    inspection = cw.inspect(cw.read_sheet(path))
    scene = sheet_of_views(inspection.history, inspection.findings)
    assert outside_frame(scene) == []
    numbered = [
        (number, each) for number, each in enumerate(inspection.findings, 1) if each.outcome in {"fails", "undecided"}
    ]
    assert outside_frame(elevation(inspection.history, inspection.findings, numbered)) == []
    page = parsed(scene)
    inks = {each.get(key) for each in page.iter() for key in ("fill", "stroke")} - {None, "none"}
    assert inks <= {f"var(--{name})" for name in ("paper", "ink", "soft", "line", "wash", "accent", "allowed")}
