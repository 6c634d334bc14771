"""Dimensions say what their arrows span, with arrows from without where there is no room; pins mark what was found."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_bodies import RATIOS, read, sized, stretched, usual_height
from test_scene import Drawn, outside_frame, overlapping, parsed, shapes_in, shapes_of

import carwright as cw
from carwright.history import History
from carwright.judge import Finding
from carwright.publish.drawing.dimensions import TEXT, across, upright
from carwright.publish.drawing.elevation import elevation, paper_mm
from carwright.publish.drawing.kinds import KINDS
from carwright.publish.drawing.pen import DETAIL, Pen
from carwright.publish.drawing.pins import APART, mark, pin_shapes, pins_of
from carwright.publish.drawing.shape import sizes_of
from carwright.publish.drawing.views import sheet_of_views
from carwright.publish.lettering import lettering_of
from carwright.publish.scene import Scene, Shape
from carwright.publish.theme import load_theme
from carwright.publish.wording import MARKS
from carwright.units import parse

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
LETTERS = lettering_of(load_theme())
FIGURE = re.compile(r"(?:(?P<what>[a-z ]+) )?(?P<number>\d+(?:\.\d+)?)(?: (?P<unit>in|mm))?")


@dataclass(frozen=True)
class Dimensioned:
    """A dimension as drawn: what it says, and from where to where its arrows point."""

    figure: Drawn
    arrows: tuple[Drawn, Drawn]
    line: Drawn
    extension: Drawn

    @property
    def span(self) -> float:
        """Between the points of its arrows [mm]."""
        (x0, y0), (x1, y1) = (each.lines[0][0] for each in self.arrows)
        return abs(x1 - x0) + abs(y1 - y0)

    def said(self, unit: str) -> tuple[float, float]:
        """What its figure says, and half of the last place [mm]."""
        found = FIGURE.fullmatch(self.figure.text)
        assert found is not None, self.figure.text
        quantity = parse(f"{found['number']} {found['unit'] or unit}", "length")
        return quantity.value, quantity.last_place / 2


def dimensions_in(shapes: list[Drawn]) -> list[Dimensioned]:
    """Dimensions of a drawing, by the order in which each is drawn: extension lines, line, arrows, figure."""
    found: list[Dimensioned] = []
    group: list[Drawn] = []
    for each in shapes:
        if each.what == "extension":
            group = []
        group.append(each)
        if each.what == "figure":
            arrows = [other for other in group if other.what == "arrow"]
            lines = [other for other in group if other.what == "dimension"]
            assert len(arrows) == 2
            assert group[0].what == "extension"
            found.append(Dimensioned(each, (arrows[0], arrows[1]), lines[-1], group[0]))
    return found


def every_dimension(scene: Scene) -> list[Dimensioned]:
    """Dimensions of an elevation or of all views."""
    views = [each for each in parsed(scene) if (each.get("class") or "").startswith("view ")]
    if not views:
        return dimensions_in(shapes_of(scene))
    whole = list(shapes_in(parsed(scene)))
    return dimensions_in(whole)


def system_of(kind: str, scale: str, system: str) -> History:
    """A car whose every size is given, in one system of units."""
    inch = 25.4 / RATIOS[scale]
    length, four = 480 * inch, kind.startswith(("four", "brake"))
    ends = (
        f'length_over_buffers = "{length + 48 * inch:.3f} mm"'
        if four
        else f'coupler_face = "{length / 2 + 18 * inch:.3f} mm"'
    )
    trucks = f'truck_centers = "{350 * inch:.3f} mm"\ntruck_wheelbase = "{66 * inch:.3f} mm"\naxles_per_truck = 2'
    base = f'axles = 2\nwheelbase = "{200 * inch:.3f} mm"' if four else trucks
    return cw.read_sheet_text(
        f'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "{scale}"\ntype = "{kind}"\nsystem = "{system}"\n'
        f'[car.geometry]\n{base}\n{ends}\nbody_length = "{length:.3f} mm"\nbody_width = "{110 * inch:.3f} mm"\n'
        f'body_height = "{usual_height(kind, scale):.3f} mm"\n'
    ).history


# --- figures -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_figure_says_what_its_arrows_span(kind: str, scale: str, system: str) -> None:
    history = system_of(kind, scale, system)
    findings = tuple(
        replace(read("coupler.height", end, value), half_width=0.03) for end, value in (("A", 9.87), ("B", 5.43))
    )
    unit = "in" if system == "us" else "mm"
    side = every_dimension(elevation(history, findings, []))
    views = every_dimension(sheet_of_views(history, findings))
    whats = [(found["what"] if (found := FIGURE.fullmatch(each.figure.text)) else "?") for each in side]
    four = kind.startswith(("four", "brake"))
    assert whats == (
        ["wheelbase", "body", "over buffers", None, None]
        if four
        else [None, "truck centers", "body", "over couplers", None, None]
    )
    assert len(views) == 4
    for each in [*side, *views]:
        value, half_place = each.said(unit)
        assert each.span == pytest.approx(value, abs=half_place + 0.003)
        assert value > 1


def test_dimensions_stand_under_the_rail_the_shortest_first() -> None:
    history = sized("boxcar")
    mm = paper_mm(sizes_of(history, []))
    lengths = [
        each for each in every_dimension(elevation(history, (), [])) if each.figure.element.get("transform") is None
    ]
    levels = [each.line.extent[1] / mm for each in lengths]
    assert levels == pytest.approx([8.5, 14.1, 19.7, 25.3], abs=0.01)
    assert [each.span for each in lengths] == pytest.approx([15.0, 100.0, 140.0, 152.0], abs=0.01)
    wheel = read("wheel.width", "1", 2.0)
    lower = [each.line.extent[1] / mm for each in every_dimension(elevation(history, (wheel,), [(1, wheel)]))]
    assert lower[0] == pytest.approx(14.0, abs=0.01)


@pytest.mark.parametrize(("half_width", "figure"), [(None, "0.389"), (0.3, "0.389"), (0.03, "0.3886"), (3.0, "0.39")])
def test_a_coupler_height_has_as_many_places_as_are_known(half_width: float | None, figure: str) -> None:
    finding = replace(read("coupler.height", "A", 9.87), half_width=half_width)
    texts = [each.figure.text for each in every_dimension(elevation(sized("boxcar"), (finding,), []))]
    assert texts[-1] == figure


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_figure_between_its_arrows_has_room_there(kind: str, scale: str) -> None:
    for scene in (elevation(system_of(kind, scale, "us"), (), []), sheet_of_views(system_of(kind, scale, "us"), ())):
        for each in every_dimension(scene):
            beside = each.figure.element.get("text-anchor") != "middle"
            above = each.line.extent[0] == each.line.extent[2] and each.figure.element.get("transform") is None
            if not (beside or above):
                wide = LETTERS.width(each.figure.text, float(each.figure.element.get("font-size", "nan")))
                assert wide < each.span


@pytest.mark.parametrize("scale", RATIOS)
@pytest.mark.parametrize("kind", KINDS)
def test_words_of_a_drawing_stand_apart(kind: str, scale: str) -> None:
    history = system_of(kind, scale, "us")
    findings = (read("coupler.height", "A", 9.87), read("coupler.height", "B", 5.43))
    assert overlapping(elevation(history, findings, [])) == []
    assert overlapping(sheet_of_views(history, findings)) == []


@pytest.mark.parametrize("length", [300, 312])
def test_coupler_heights_of_a_long_low_car_are_within_the_frame(length: float) -> None:
    history = stretched("flat car", "HO", length, usual_height("flat car", "HO"))
    assert outside_frame(elevation(history, (read("coupler.height", "A", 9.9),), [])) == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_figures_of_the_examples_say_what_their_arrows_span(path: Path) -> None:
    inspection = cw.inspect(cw.read_sheet(path))
    unit = "in" if inspection.history.system == "us" else "mm"
    scene = elevation(inspection.history, inspection.findings, [])
    found = [*every_dimension(scene), *every_dimension(sheet_of_views(inspection.history, inspection.findings))]
    assert len(found) >= 3
    for each in found:
        value, half_place = each.said(unit)
        assert each.span == pytest.approx(value, abs=half_place + 0.003)


# --- how a dimension is drawn ------------------------------------------------------------------------------------


def drawn(pen: Pen) -> list[Drawn]:
    """What a pen has drawn."""
    return shapes_of(Scene(-100.0, -100.0, 200.0, 200.0, tuple(pen.items), "x", "x"))


def level(left: float, right: float, *, mm: float = 1.0, words: str = "9 mm", start: float = 0.0) -> list[Drawn]:
    """A horizontal dimension at a level of -8 mm of paper."""
    pen = Pen(mm, 50.0)
    across(pen, left, right, -8.0 * mm, words, start=start)
    return drawn(pen)


def inward(arrow: Drawn, other: Drawn) -> bool:
    """Whether an arrow stands between the two points that are measured."""
    (x, _), middle = arrow.lines[0][0], sum(px for px, _ in arrow.lines[0][1:3]) / 2
    return (middle - x) * (other.lines[0][0][0] - x) > 0


@pytest.mark.parametrize("mm", [0.5, 1.0, 2.0])
def test_a_dimension_with_room_has_its_arrows_and_its_figure_within(mm: float) -> None:
    extension, line, left, right, figure = level(-20.0 * mm, 20.0 * mm, mm=mm)
    assert [each.what for each in (extension, line, left, right, figure)] == [
        "extension", "dimension", "arrow", "arrow", "figure",
    ]  # fmt: skip
    assert line.extent == pytest.approx((-20 * mm, 8 * mm, 20 * mm, 8 * mm))
    assert (left.lines[0][0], right.lines[0][0]) == ((-20 * mm, 8 * mm), (20 * mm, 8 * mm))
    assert inward(left, right)
    assert inward(right, left)
    for arrow in (left, right):
        x0, y0, x1, y1 = arrow.extent
        assert (x1 - x0, y1 - y0) == pytest.approx((2.2 * mm, 0.84 * mm), abs=0.002)
        assert (arrow.element.get("fill"), arrow.element.get("stroke")) == ("var(--soft)", None)
    assert figure.element.get("text-anchor") == "middle"
    assert float(figure.element.get("x", "nan")) == 0.0
    assert float(figure.element.get("y", "nan")) == pytest.approx(8 * mm - 0.8 * mm)
    assert float(figure.element.get("font-size", "nan")) == pytest.approx(TEXT * mm)
    assert {each.element.get("stroke-width") for each in (extension, line)} == {f"{DETAIL * mm:g}"}


@pytest.mark.parametrize(("start", "sign"), [(0.0, 1.0), (-20.0, -1.0), (5.0, 1.0)])
def test_extension_lines_leave_a_gap_and_run_past_the_line(start: float, sign: float) -> None:
    extension = level(-20.0, 20.0, start=start)[0]
    assert [each[0][0] for each in extension.lines] == [-20.0, 20.0]
    for (x0, y0), (x1, y1) in extension.lines:
        assert x0 == x1
        assert y0 == pytest.approx(-start + sign * 0.8)
        assert y1 == pytest.approx(8.0 + sign * 1.2)


@pytest.mark.parametrize("mm", [0.5, 1.0, 2.0])
def test_a_dimension_without_room_has_its_arrows_and_its_figure_outside(mm: float) -> None:
    shapes = level(-2.0 * mm, 2.0 * mm, mm=mm)
    assert [each.what for each in shapes] == [
        "extension", "dimension", "dimension", "dimension", "arrow", "arrow", "figure",
    ]  # fmt: skip
    _, before, after, between, left, right, figure = shapes
    assert not inward(left, right)
    assert not inward(right, left)
    assert (left.lines[0][0][0], right.lines[0][0][0]) == (-2 * mm, 2 * mm)
    assert before.extent == pytest.approx((-6.4 * mm, 8 * mm, -2 * mm, 8 * mm))
    assert after.extent == pytest.approx((2 * mm, 8 * mm, 6.4 * mm, 8 * mm))
    assert between.extent == pytest.approx((-2 * mm, 8 * mm, 2 * mm, 8 * mm))
    assert figure.element.get("text-anchor") is None
    assert float(figure.element.get("x", "nan")) == pytest.approx(7.4 * mm)


@pytest.mark.parametrize(("room", "outside"), [(5.3, True), (5.5, False)])
def test_arrows_go_outside_where_two_heads_and_a_millimetre_have_no_room(room: float, outside: bool) -> None:  # noqa: FBT001
    shapes = level(0.0, room, words="")
    left, right = (each for each in shapes if each.what == "arrow")
    assert inward(left, right) is not outside


@pytest.mark.parametrize("words", ["1", "12.50 mm", "truck centers 3.780 in", "over couplers 6.040 in"])
def test_a_figure_goes_beside_its_line_where_it_has_no_room(words: str) -> None:
    needed = 0.56 * TEXT * len(words)
    for room, anchor in ((needed + 0.01, "middle"), (needed - 0.01, None)):
        figure = level(0.0, room, words=words)[-1]
        assert figure.element.get("text-anchor") == anchor
        assert LETTERS.width(words, TEXT) < needed


def standing(low: float, high: float, *, start: float = 0.0, words: str = "9 mm") -> list[Drawn]:
    """A vertical dimension at x = 6."""
    pen = Pen(1.0, 50.0)
    upright(pen, low, high, 6.0, words, start=start)
    return drawn(pen)


@pytest.mark.parametrize(("start", "sign"), [(0.0, 1.0), (20.0, -1.0)])
def test_a_height_is_read_from_the_right(start: float, sign: float) -> None:
    extension, line, low, high, figure = standing(0.0, 30.0, start=start)
    assert line.extent == (6.0, -30.0, 6.0, 0.0)
    assert (low.lines[0][0], high.lines[0][0]) == ((6.0, 0.0), (6.0, -30.0))
    assert low.extent[1] == pytest.approx(-2.2, abs=0.002)
    assert high.extent[3] == pytest.approx(-27.8, abs=0.002)
    lower, upper = extension.lines
    assert [x for x, _ in lower] == pytest.approx([6 - 2 * sign, 6 + 1.2 * sign])
    assert [z for _, z in (*lower, *upper)] == [0.0, 0.0, -30.0, -30.0]
    assert [x for x, _ in upper] == pytest.approx([start + 0.8 * sign, 6 + 1.2 * sign])
    assert figure.element.get("transform") == "rotate(-90 5.2 -15)"
    assert figure.element.get("text-anchor") == "middle"
    assert figure.extent[2] <= 6.0


def test_a_low_height_has_its_arrows_outside_and_its_figure_above() -> None:
    _, _, low, high, figure = standing(0.0, 4.0)
    assert low.extent[3] == pytest.approx(2.2, abs=0.002)
    assert high.extent[1] == pytest.approx(-6.2, abs=0.002)
    assert figure.element.get("transform") is None
    assert (figure.element.get("x"), figure.element.get("y")) == ("6", "-7.8")


def test_a_figure_above_a_low_height_is_clear_of_its_arrow() -> None:
    *_, high, figure = standing(0.0, 4.0)
    assert figure.extent[3] <= high.extent[1] or figure.extent[0] >= high.extent[2]


# --- pins --------------------------------------------------------------------------------------------------------

SIZES = sizes_of(sized("boxcar"), (read("coupler.height", "A", 10.2), read("coupler.height", "B", 9.1)))
OUTCOMES = ("fails", "undecided", "not measured", "conforms")


def found(what: str, at: str = "", outcome: str = "fails") -> Finding:
    """A finding of something somewhere."""
    return replace(read(what, at, 9.9), outcome=outcome)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("what", "at", "spot"),
    [
        ("coupler.height", "A", (75.0, 10.2)), ("coupler.swing", "B", (-77.0, 9.1)),
        ("buffer.height", "A", (75.0, 10.2)), ("pin.height", "B", (-77.0, 9.1)),
        ("wheel.width", "1", (57.5, 5.2)), ("wheel.width", "2L", (42.5, 5.2)), ("wheel.width", "4R", (-57.5, 5.2)),
        ("wheel.width", "9", (0.0, 5.2)), ("wheel.width", "", (0.0, 0.0)), ("roll.start", "A", (0.0, 0.0)),
        ("look.part", "A", (61.6, None)), ("look.part", "B", (-61.6, None)), ("weight.truck", "B", (-61.6, None)),
        ("coupler.height", "", (8.4, None)), ("weight.total", "", (8.4, None)),
    ],
)  # fmt: skip
def test_a_pin_points_where_its_finding_is(what: str, at: str, spot: tuple[float, float | None]) -> None:
    [pin] = pins_of([(1, found(what, at))], SIZES)
    middle = (SIZES.floor + SIZES.top) / 2
    assert (pin.x, pin.z) == pytest.approx((spot[0], middle if spot[1] is None else spot[1]))
    assert pin.number == 1
    assert pin.words.startswith("t")
    assert pin.words.endswith(": fails")


def test_pins_of_the_whole_car_are_spread_over_its_side() -> None:
    pins = pins_of([(number, found("weight.total")) for number in range(1, 6)], SIZES)
    assert sorted(round(pin.x / 70, 2) for pin in pins) == [-0.24, -0.12, 0.0, 0.12, 0.24]


@pytest.mark.parametrize(
    ("outcome", "tag", "fill"),
    [
        ("fails", "rect", "var(--ink)"), ("undecided", "path", "var(--paper)"), ("conforms", "circle", "var(--ink)"),
        ("not measured", "circle", "var(--paper)"),
    ],
)  # fmt: skip
def test_an_outcome_is_told_by_its_shape(outcome: str, tag: str, fill: str) -> None:
    shape: Shape = mark(outcome, 3.0, 4.0, 2.0, 0.5)
    [seen] = shapes_of(Scene(0.0, 0.0, 9.0, 9.0, (shape,), "x", "x"))
    assert (seen.tag, seen.element.get("fill"), seen.element.get("stroke-width")) == (tag, fill, "0.14")
    half = 2.7 if outcome == "undecided" else 2.0
    assert seen.extent == pytest.approx((3 - half, 4 - half, 3 + half, 4 + half))
    if outcome == "undecided":
        assert seen.points[0] == pytest.approx((3.0, 4 - half))


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_a_pin_says_what_was_found_and_leads_to_its_row(outcome: str) -> None:
    [pin] = pins_of([(7, found("coupler.height", "A", outcome))], SIZES)
    leader, spot, group = pin_shapes([pin], SIZES, 1.0, 90.0)
    [root] = [parsed(Scene(0.0, 0.0, 9.0, 9.0, (group,), "x", "x", links=True))]
    [anchor] = root.iter("a")
    assert anchor.get("href") == "#f7"
    assert anchor.get("class") == ("pin fails" if outcome == "fails" else "pin open")
    [title] = root.iter("title")
    assert title.text == f"t at A: {outcome} {MARKS[outcome]}"
    [number] = root.iter("text")
    assert number.text == "7"
    assert number.get("fill") == ("var(--paper)" if outcome == "fails" else "var(--ink)")
    lines, dots = (shapes_of(Scene(0.0, 0.0, 9.0, 9.0, (each,), "x", "x"))[0] for each in (leader, spot))
    assert lines.lines[0][0] == (75.0, -10.2)
    assert (dots.extent[0] + dots.extent[2]) / 2 == pytest.approx(75.0)
    assert dots.extent[1] == pytest.approx(-10.2 - 0.7)
    assert lines.lines[0][1] == pytest.approx((75.0, -(SIZES.top + 7.5)), abs=0.001)


def rows_of(shapes: list[Drawn]) -> dict[float, list[float]]:
    """Middles of the marks by level."""
    rows: dict[float, list[float]] = {}
    for each in shapes:
        if each.what == "mark":
            x0, y0, x1, y1 = each.extent
            rows.setdefault(round((y0 + y1) / 2, 2), []).append((x0 + x1) / 2)
    return rows


kinds_of_finding = st.sampled_from(
    [("coupler.height", "A"), ("coupler.height", "B"), ("wheel.width", "1"), ("wheel.width", "4"), ("weight.total", ""),
     ("look.part", "A"), ("roll.start", "")]
)  # fmt: skip


@given(st.lists(st.tuples(kinds_of_finding, st.sampled_from(OUTCOMES)), max_size=60))
def test_pins_stand_in_two_rows_in_order_and_within_the_drawing(
    drawn_: list[tuple[tuple[str, str], str]],
) -> None:
    findings = [found(what, at, outcome) for (what, at), outcome in drawn_]
    history = sized("boxcar")
    scene = elevation(history, findings, list(enumerate(findings, 1)))
    assert outside_frame(scene) == []
    mm = paper_mm(sizes_of(history, findings))
    shapes = shapes_of(scene)
    rows = rows_of(shapes)
    high = sizes_of(history, findings).top + 7.5 * mm
    assert all(min(abs(each + high), abs(each - 6.2 * mm)) < 0.01 for each in rows)
    low = [each for each in findings if each.characteristic.startswith(("wheel.", "roll."))]
    assert sum(len(row) for level_, row in rows.items() if level_ > 0) == len(low)
    assert sum(len(row) for row in rows.values()) == len(findings)
    limit = scene.width / 2 - 0.2 * mm
    for row in rows.values():
        gap = min(APART * mm, 2 * (limit - APART * mm / 2) / max(1, len(row) - 1))
        assert all(b - a >= gap - 0.01 for a, b in pairwise(row))
        assert max(abs(x) for x in row) <= limit - APART * mm / 2 + 0.01
    leaders = [each.lines[0] for each in shapes if each.what == "leader"]
    for level_ in rows:
        own = [(start, end) for start, end in leaders if abs(end[1] - level_) < 0.02]
        assert [start[0] for start, _ in own] == sorted(start[0] for start, _ in own)
        assert [end[0] for _, end in own] == pytest.approx(sorted(rows[level_]), abs=0.01)


def test_a_lone_pin_stands_over_its_spot() -> None:
    scene = elevation(sized("boxcar"), (), [(1, found("look.part", "B"))])
    [[x]] = rows_of(shapes_of(scene)).values()
    assert x == pytest.approx(-61.6, abs=0.01)


def test_pins_under_the_rail_of_a_car_without_sizes_are_within_the_frame() -> None:
    history = cw.read_sheet_text('format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n').history
    narrow = found("wheel.back_to_back", "1")
    assert outside_frame(elevation(history, (narrow,), [(1, narrow)])) == []
