"""Drawings against what drawing offices agree on, and cars against sizes that sheets and laws give.

ISO 128-2, ISO 129-1, ISO 3098-1 and ISO 216 are cited from memory, as are the ratios of NMRA RP-3 and NEM 010; each
case says what it takes from which.
"""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree as ET

import pytest

import carwright as cw
from carwright.history import History
from carwright.publish.drawing.dimensions import TEXT, across, upright
from carwright.publish.drawing.elevation import elevation, paper_mm
from carwright.publish.drawing.pen import DETAIL, OUTLINE, PAPER, PART, Pen
from carwright.publish.drawing.shape import sizes_of
from carwright.publish.drawing.views import sheet_of_views
from carwright.publish.report.printed import PAPERS
from carwright.publish.scene import Scene, inline_svg, standalone_svg
from carwright.publish.theme import load_theme

SERIES = (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
"""Widths of lines, each the square root of two times the one before [mm]. ISO 128-2 (memory)."""
STEP = math.sqrt(2)


def car(scale: str, geometry: str, kind: str = "boxcar") -> History:
    """A car of a geometry."""
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "{scale}"\ntype = "{kind}"\n'
    return cw.read_sheet_text(f"{head}[car.geometry]\n{geometry}\n").history


def numbers(path: str) -> list[float]:
    """Numbers of a path."""
    return [float(each) for each in re.findall(r"-?\d+\.?\d*", path)]


def called(scene: Scene, what: str) -> list[ET.Element]:
    """Elements of a drawing that show one thing."""
    return [each for each in ET.fromstring(inline_svg(scene)).iter() if each.get("class") == what]


def of(pen: Pen, what: str) -> list[ET.Element]:
    """What a pen has drawn of one thing."""
    return called(Scene(-100.0, -100.0, 200.0, 200.0, tuple(pen.items), "x", "x"), what)


def value(element: ET.Element, key: str) -> float:
    """A number of an element."""
    return float(element.get(key, "nan"))


# --- lines -------------------------------------------------------------------------------------------------------


def test_narrow_lines_are_half_as_wide_as_the_next() -> None:
    """ISO 128-2: extra wide, wide and narrow lines are as 4 : 2 : 1 (memory)."""
    assert pytest.approx(2.0, rel=0.05) == PART / DETAIL
    assert pytest.approx(2.0, rel=0.25) == OUTLINE / PART
    assert pytest.approx(4.0, rel=0.25) == OUTLINE / DETAIL


@pytest.mark.parametrize("weight", [OUTLINE, PART, DETAIL])
def test_lines_are_about_as_wide_as_a_pen_of_the_series(weight: float) -> None:
    """ISO 128-2: widths are of a series in steps of the square root of two (memory); half a step off at most."""
    nearest = min(SERIES, key=lambda each: abs(math.log(each / weight)))
    assert abs(math.log(nearest / weight)) <= math.log(STEP) / 2
    assert weight >= SERIES[0]


def test_the_weights_are_those_of_the_drawing() -> None:
    """What is measured above is what is drawn: on paper 178 mm wide, whatever the scale."""
    for scale, length in (("N", 77), ("HO", 141), ("O", 257)):
        history = car(scale, f'axles_per_truck = 2\nbody_length = "{length} mm"')
        mm = paper_mm(sizes_of(history, []))
        scene = elevation(history, (), [])
        assert scene.width / mm == pytest.approx(PAPER) == pytest.approx(178.0)
        for what, weight in (("body", OUTLINE), ("part", PART), ("detail", DETAIL)):
            found = {round(value(each, "stroke-width") / mm, 2) for each in called(scene, what)}
            assert found == {weight}


# --- dimensions --------------------------------------------------------------------------------------------------


def dimensioned(words: str = "40 mm") -> Pen:
    """A horizontal dimension of 40 mm, 8 mm under a thing, at one millimetre of paper each."""
    pen = Pen(1.0, 50.0)
    across(pen, -20.0, 20.0, -8.0, words)
    return pen


def test_an_arrowhead_is_about_three_times_as_long_as_wide() -> None:
    """ISO 129-1: heads are closed and filled, or open, at an included angle from 15 to 90 degrees (memory).

    Three to one, about 19 degrees, is the trade's habit: common practice.
    """
    arrows = of(dimensioned(), "arrow")
    assert len(arrows) == 2
    for arrow in arrows:
        xs, ys = numbers(arrow.get("d", ""))[::2], numbers(arrow.get("d", ""))[1::2]
        length, width = max(xs) - min(xs), max(ys) - min(ys)
        assert 2.4 <= length / width <= 3.2
        assert 15 <= 2 * math.degrees(math.atan(width / 2 / length)) <= 30
        assert (arrow.get("d") or "").endswith("Z")
        assert arrow.get("fill") == "var(--soft)"


def test_a_figure_stands_above_its_line_and_in_its_middle() -> None:
    """ISO 129-1: values stand parallel to their line, near its middle, above it and clear of it (memory)."""
    [figure], [line] = of(dimensioned(), "figure"), of(dimensioned(), "dimension")
    level = numbers(line.get("d", ""))[1]
    assert value(figure, "y") < level
    assert 0.5 <= level - value(figure, "y") <= 1.0
    assert figure.get("text-anchor") == "middle"
    assert value(figure, "x") == 0.0
    assert figure.get("transform") is None


def test_a_figure_of_a_height_is_read_from_the_right() -> None:
    """ISO 129-1: values are read from the bottom or from the right-hand side of the drawing (memory)."""
    pen = Pen(1.0, 50.0)
    upright(pen, 0.0, 40.0, 10.0, "40 mm", start=0.0)
    [figure], [line] = of(pen, "figure"), of(pen, "dimension")
    assert (figure.get("transform") or "").startswith("rotate(-90 ")
    assert value(figure, "x") < numbers(line.get("d", ""))[0] == 10.0
    assert value(figure, "y") == -20.0


def test_an_extension_line_runs_a_little_past_its_dimension_line() -> None:
    """ISO 129-1: extension lines go on past the dimension line by about eight times their width (memory)."""
    [extension] = of(dimensioned(), "extension")
    ys = numbers(extension.get("d", ""))[1::2]
    past = max(ys) - 8.0
    assert past == pytest.approx(8 * DETAIL, rel=0.15)
    assert min(ys) > 0.0


def test_lines_of_a_dimension_are_narrow() -> None:
    """ISO 128-2, line type 01.1: dimension, extension and leader lines are continuous and narrow (memory)."""
    pen = dimensioned()
    for what in ("extension", "dimension"):
        for each in of(pen, what):
            assert value(each, "stroke-width") == DETAIL
            assert each.get("stroke-dasharray") is None


def test_centre_lines_are_narrow_dashes_and_dots() -> None:
    """ISO 128-2, line type 04.1: long dash, gap, dot, gap, narrow (memory)."""
    pen = Pen(1.0, 50.0)
    pen.centre(((0.0, 0.0), (0.0, 10.0)))
    [line] = of(pen, "centre")
    dash, gap, dot, other = (float(each) for each in (line.get("stroke-dasharray") or "").split())
    assert value(line, "stroke-width") == DETAIL
    assert dash > 3 * gap
    assert gap == other
    assert dot < dash / 3


def test_figures_are_of_a_height_of_the_series() -> None:
    """ISO 3098-1: heights of lettering are 1.8, 2.5, 3.5, 5 … mm (memory)."""
    assert TEXT in {1.8, 2.5, 3.5, 5.0}


def test_figures_are_as_high_as_they_are_said_to_be() -> None:
    """ISO 3098-1: the height that counts is that of a capital letter (memory), as the font has it."""
    from fontTools.ttLib import TTFont  # noqa: PLC0415 - only here

    from carwright.publish.lettering import font_folders  # noqa: PLC0415

    with TTFont(f"{font_folders(load_theme())[0]}/SourceSans3-Regular.ttf") as font:
        capitals = font["OS/2"].sCapHeight / font["head"].unitsPerEm
    assert capitals * TEXT == pytest.approx(2.5, rel=0.1)


# --- sheets ------------------------------------------------------------------------------------------------------


def test_sheets_are_those_of_offices() -> None:
    """ISO 216: A4 is 210 by 297 mm, a sixteenth of a square metre; letter is 8 1/2 by 11 in (memory)."""
    assert PAPERS["a4"] == (210.0, 297.0)
    assert PAPERS["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
    wide, high = PAPERS["a4"]
    assert high / wide == pytest.approx(math.sqrt(2), abs=0.001)
    assert wide * high == pytest.approx(1e6 / 16, rel=0.003)


def test_a_drawing_fits_between_the_margins_of_either_sheet() -> None:
    """On both sheets a view 178 mm wide stands whole between the margins."""
    theme = load_theme()
    assert min(wide for wide, _ in PAPERS.values()) - 2 * theme.margin_mm >= PAPER


# --- cars to scale -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scale", "ratio"),
    [
        ("N", 160.0), ("HO", 87.1), ("S", 64.0), ("O", 48.0),  # NMRA RP-3, S-1.2 (memory)
        ("H0", 87.0), ("TT", 120.0),  # NEM 010 (memory)
    ],
)  # fmt: skip
def test_a_full_size_car_is_drawn_at_a_millimetre_for_each_of_its_model(scale: str, ratio: float) -> None:
    """A boxcar 40 ft 6 in long, trucks 30 ft 10 in apart on 33 in wheels, taken to scale by the published ratio."""
    sizes = {"body_length": "40' 6\"", "truck_centers": "30' 10\"", "truck_wheelbase": "5' 6\"", "body_height": "14'"}
    geometry = "\n".join(f"{key} = '''{size} {scale}'''" for key, size in sizes.items())
    history = car(scale, f'axles_per_truck = 2\nwheel_diameter = "33 scale in"\n{geometry}')
    inch = 25.4 / ratio
    scene = elevation(history, (), [])
    xs = [x for each in called(scene, "body") for x in numbers(each.get("d", ""))[::2]]
    assert max(xs) - min(xs) == pytest.approx(486 * inch, abs=0.01)
    wheels = called(scene, "wheel")
    assert sorted(value(each, "cx") for each in wheels) == pytest.approx(
        [sign * (185 + way * 33) * inch for sign, way in ((-1, 1), (-1, -1), (1, -1), (1, 1))], abs=0.01
    )
    assert [value(each, "r") for each in wheels] == pytest.approx([16.5 * inch] * 4, abs=0.001)
    tops = [-y for what in ("body", "part") for each in called(scene, what) for y in numbers(each.get("d", ""))[1::2]]
    assert max(tops) == pytest.approx(168 * inch, abs=0.01)
    file = ET.fromstring(standalone_svg(scene, load_theme()))
    assert file.get("width") == f"{scene.width:.3f}".rstrip("0").rstrip(".") + "mm"
    assert float((file.get("width") or "").removesuffix("mm")) == pytest.approx(scene.width, abs=0.001)


@pytest.mark.parametrize(("scale", "ratio"), [("N", 160.0), ("HO", 87.1), ("O", 48.0)])
def test_a_coupler_nobody_read_stands_within_the_band_of_the_law(scale: str, ratio: float) -> None:
    """49 CFR 231.31(a): 31 1/2 to 34 1/2 in above the rails; the drawing takes its middle, scaled."""
    history = car(scale, "axles_per_truck = 2")
    for each in called(elevation(history, (), []), "coupler"):
        ys = numbers(each.get("d", ""))[1::2]
        height = -(min(ys) + max(ys)) / 2 * ratio / 25.4
        assert height == pytest.approx((31.5 + 34.5) / 2, abs=0.05)


@pytest.mark.parametrize(("scale", "gauge"), [("HO", 16.5), ("N", 9.0), ("H0", 16.5), ("S", 22.5), ("O", 32.0)])
def test_wheels_from_the_end_stand_on_the_gauge(scale: str, gauge: float) -> None:
    """NMRA S-1.2 and NEM 010: standard gauge in each scale (memory); flanges within it, treads upon the rails."""
    history = car(scale, "axles_per_truck = 2")
    assert history.scale.gauge == pytest.approx(gauge, abs=0.3)
    root = ET.fromstring(inline_svg(sheet_of_views(history, ())))
    [end] = [each for each in root if each.get("class") == "view end-view"]
    wheels = [numbers(each.get("d", ""))[::2] for each in end if each.get("class") == "wheel"]
    assert len(wheels) == 2
    for xs, sign in zip(wheels, (-1, 1), strict=True):
        across_ = sorted(abs(x) for x in xs)
        assert across_[0] < history.scale.gauge / 2 < across_[-1]
        assert all(sign * x > 0 for x in xs)
