"""Charts: bars as long as what they show, within their frames, told in words, and read without their colours."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from PIL import Image
from test_scene import Drawn, called, outside_frame, overlapping, parsed, path_lines, shapes_of

import carwright as cw
from carwright.dates import ALWAYS, Span, month_of
from carwright.explain.records import Coupler, Share
from carwright.history.evidence_file import read_evidence_file
from carwright.inspection import words_of
from carwright.judge import Finding
from carwright.prototype.portrayal import Portrayal, portrayal_of
from carwright.prototype.posterior import Posterior
from carwright.prototype.window import Stretch, Window
from carwright.publish.charts.along import Along, along_scene
from carwright.publish.charts.composition import composition_scene
from carwright.publish.charts.hatch import STEP, hatch
from carwright.publish.charts.limits import HEIGHT, WIDTH, bar_shapes, limits_scene
from carwright.publish.charts.shares import shares_scene
from carwright.publish.charts.timeline import evidence_scene, timeline_scene
from carwright.publish.charts.waterfall import waterfall_scene
from carwright.publish.lettering import lettering_of
from carwright.publish.scene import Scene, standalone_svg
from carwright.publish.theme import MEDIA, Medium, load_theme
from carwright.publish.typeset import pictures
from carwright.publish.why import share_lines
from carwright.tables import shipped
from carwright.tables.dated_model import Dated
from carwright.verdict import Deduction, Verdict

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
THEME = load_theme()
LETTERS = lettering_of(THEME)
LONG = "a title that goes on and on, longer than any phone is wide, until nobody listens any more"


def texts(scene: Scene, what: str) -> list[str]:
    """Words of one kind."""
    return [each.text for each in called(scene, what)]


# --- a value against its limits ----------------------------------------------------------------------------------


def finding(
    value: float | None, half: float | None, lower: float | None, upper: float | None, outcome: str = "fails"
) -> Finding:
    """A finding of a length [mm]."""
    return Finding(
        "a/b/c", "coupler height", "coupler.height", "A", 0, outcome, "standard", "standard", "x", "measured",  # type: ignore[arg-type]
        value=value, half_width=half, lower=lower, upper=upper, kind="length",
    )  # fmt: skip


def bar(made: Finding) -> Scene:
    """The bar of a finding."""
    scene = limits_scene(made, "metric")
    assert scene is not None
    return scene


def middle(shape: Drawn) -> float:
    """X of the middle of a shape."""
    return (shape.extent[0] + shape.extent[2]) / 2


lengths = st.floats(-50, 50).map(lambda value: round(value, 3))
widths_ = st.floats(0.001, 20).map(lambda value: round(value, 3))


@given(lengths, widths_, lengths, widths_, st.sampled_from(["both", "lower", "upper"]))
def test_a_bar_is_to_scale(value: float, half: float, lower: float, room: float, sides: str) -> None:
    low = lower if sides != "upper" else None
    high = lower + room if sides != "lower" else None
    assume(max(abs(value), half, abs(lower), room) < 1e4 * half)
    scene = bar(finding(value, half, low, high))
    [band], [ticks], [reach], [mark] = (called(scene, what) for what in ("allowed", "limit", "interval", "estimate"))
    start, end = (each for each in (reach.lines[0][0][0], reach.lines[0][1][0]))
    assert end > start
    per_mm = (end - start) / (2 * half)
    assert middle(mark) == pytest.approx((start + end) / 2, abs=0.002)
    limits = [each for each in (low, high) if each is not None]
    places = [line[0][0] for line in ticks.lines]
    assert len(places) == len(limits)
    for place, limit in zip(places, limits, strict=True):
        assert place - middle(mark) == pytest.approx(
            per_mm * (limit - value), abs=0.01 + 0.001 * abs(limit - value) / half
        )
    left, right = band.extent[0], band.extent[2]
    assert left == pytest.approx(places[0] if low is not None else 0.0, abs=0.002)
    assert right == pytest.approx(places[-1] if high is not None else WIDTH, abs=0.002)
    assert outside_frame(scene) == []


def test_a_bar_leaves_room_about_what_it_shows() -> None:
    both = bar(finding(10.0, 0.5, 9.0, 11.0))  # from 8.5 to 11.5 within 4 px at either side
    [reach], [ticks] = called(both, "interval"), called(both, "limit")
    assert [line[0][0] for line in ticks.lines] == pytest.approx([4 + 152 * 0.5 / 3, 4 + 152 * 2.5 / 3], abs=0.001)
    assert (reach.lines[0][0][0], reach.lines[0][1][0]) == pytest.approx((4 + 152 / 3, 4 + 152 * 2 / 3), abs=0.001)
    one = bar(finding(10.0, 0.5, 9.0, None))  # from 8.5 to 11.0: half a unit, a quarter of four half-widths
    [ticks] = called(one, "limit")
    assert [line[0][0] for line in ticks.lines] == pytest.approx([4 + 152 * 0.5 / 2.5], abs=0.001)
    assert (both.width, both.height) == (WIDTH, HEIGHT) == (160.0, 22.0)
    [band] = called(both, "allowed")
    assert (band.extent[1], band.extent[3]) == (5.0, 17.0)


@pytest.mark.parametrize(
    ("outcome", "tag", "fill"),
    [("fails", "rect", "ink"), ("undecided", "path", "paper"), ("conforms", "circle", "ink")],
)
def test_an_outcome_is_told_by_shape_and_in_words(outcome: str, tag: str, fill: str) -> None:
    scene = bar(finding(10.0, 0.5, 9.0, 11.0, outcome))
    [mark] = [each for each in shapes_of(scene) if each.what.startswith("estimate")]
    assert (mark.tag, mark.element.get("fill")) == (tag, f"var(--{fill})")
    assert (mark.extent[1] + mark.extent[3]) / 2 == pytest.approx(11.0)
    assert scene.words == f"coupler height at A: 10.0 ± 0.5 mm against 9.00 to 11.00 mm, {outcome}"
    assert scene.kind == "bar"


def test_a_bar_stands_in_any_frame_with_lines_of_any_weight() -> None:
    made = finding(10.0, 0.5, 9.0, 11.0)
    plain = shapes_of(Scene(0.0, 0.0, 160.0, 22.0, tuple(bar_shapes(made, 0.0, 0.0, 160.0, 22.0, 1.0)), "x", "x"))
    large = shapes_of(Scene(0.0, 0.0, 999.0, 999.0, tuple(bar_shapes(made, 50.0, 70.0, 480.0, 66.0, 3.0)), "x", "x"))
    for one, other in zip(plain, large, strict=True):
        x0, y0, x1, y1 = one.extent
        assert other.extent == pytest.approx((50 + 3 * x0, 70 + 3 * y0, 50 + 3 * x1, 70 + 3 * y1), abs=0.01)
        width = one.element.get("stroke-width")
        assert (width is None) == (other.element.get("stroke-width") is None)
        if width is not None:
            assert float(other.element.get("stroke-width", "nan")) == pytest.approx(3 * float(width))


@pytest.mark.parametrize(
    "made",
    [
        finding(None, 0.5, 9.0, 11.0), finding(10.0, None, 9.0, 11.0), finding(10.0, 0.5, None, None),
        finding(math.nan, 0.5, 9.0, 11.0), finding(10.0, math.inf, 9.0, 11.0), finding(9.0, 0.0, 9.0, None),
        finding(9.0, 0.0, 9.0, 9.0),
    ],
)  # fmt: skip
def test_there_is_no_bar_where_there_is_nothing_to_show(made: Finding) -> None:
    assert limits_scene(made) is None
    assert bar_shapes(made, 0.0, 0.0, 10.0, 10.0, 1.0) == []


# --- hatching ----------------------------------------------------------------------------------------------------


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(1, 200), st.floats(1, 40), st.booleans())
def test_hatching_fills_its_box_with_lines_of_one_slant(
    x: float,
    y: float,
    width: float,
    height: float,
    back: bool,  # noqa: FBT001
) -> None:
    lines = path_lines(hatch(x, y, width, height, back=back).d)
    assert len(lines) == math.ceil((width + height) / STEP) - 1
    offsets = []
    for (x1, y1), (x2, y2) in lines:
        assert x - 0.001 <= min(x1, x2) <= max(x1, x2) <= x + width + 0.001
        assert y - 0.001 <= min(y1, y2) <= max(y1, y2) <= y + height + 0.001
        assert x2 - x1 == pytest.approx((y2 - y1) * (1 if back else -1), abs=0.003)
        offsets.append((x1 - x if not back else x + width - x1) + (y1 - y))
    assert offsets == pytest.approx([STEP * (index + 1) for index in range(len(lines))], abs=0.003)


def test_hatching_is_as_close_as_is_asked() -> None:
    assert len(path_lines(hatch(0, 0, 20, 10, step=2.0).d)) == 14


# --- shares ------------------------------------------------------------------------------------------------------


def coupler(*shares: tuple[float, float, str]) -> Coupler:
    """A coupler at A with shares: size, u, basis."""
    made = tuple(
        Share(f"cause{number}", "A", "coupler.height", "A", size, u, 0.3, basis)
        for number, (size, u, basis) in enumerate(shares)
    )
    return Coupler("A", 9.93 + sum(size for size, _, _ in shares), 9.93, made, (), ())


def test_an_interval_of_a_share_reaches_as_far_as_it_is_uncertain() -> None:
    own = coupler((0.4, 0.05, "measured"), (-0.2, 0.1, "assumed"), (0.1, 0.0, "measured"))
    lines = share_lines(own, "metric")
    scene = shares_scene(own, lines, "metric")
    most = max(abs(line.value) + 1.96 * line.u for line in lines)
    per_mm = (170 - 4) / most
    reaches = called(scene, "reach")
    assert len(reaches) == sum(line.u > 0 for line in lines) == 2
    for reach, line in zip(reaches, [line for line in lines if line.u > 0], strict=True):
        ends = [170 + (line.value + sign * 1.96 * line.u) * per_mm for sign in (-1, 1)]
        assert [x for x, _ in reach.lines[0]] == pytest.approx(ends, abs=0.001)
        assert [each[0][0] for each in reach.lines[1:]] == pytest.approx(ends, abs=0.001)
    assert max(each.extent[2] for each in reaches) == pytest.approx(336.0, abs=0.001)
    bars = [each for each in shapes_of(scene) if each.what in {"measured", "assumed"}]
    assert [(each.extent[0], each.extent[2]) for each in bars] == [
        pytest.approx((170 + min(0.0, line.value) * per_mm, 170 + max(0.0, line.value) * per_mm), abs=0.001)
        for line in lines
    ]
    assert [each.what for each in bars] == ["measured", "assumed", "measured"]
    assert scene.height == 3 * 37 + 6


def test_shares_are_told_in_words_with_what_they_rest_on() -> None:
    own = coupler((0.4, 0.05, "measured"), (-0.2, 0.1, "assumed"))
    lines = share_lines(own, "metric")
    scene = shares_scene(own, lines, "metric")
    assert scene.words.startswith(
        "Shares of the coupler at A: 10.13 mm, 0.20 mm above 9.93 mm: cause0 at A +0.40 ± 0.10 mm"
    )
    assert "measured; cause1 at A −0.20 ± 0.20 mm, assumed" in scene.words
    assert texts(scene, "name") == ["cause0 at A", "cause1 at A"]
    assert texts(scene, "amount") == [line.amount for line in lines]
    assert scene.kind == "shares"


def test_no_shares_and_shares_of_nothing_are_drawn() -> None:
    empty = coupler()
    assert outside_frame(shares_scene(empty, [], "us")) == []
    nothing = coupler((0.0, 0.0, "measured"))
    scene = shares_scene(nothing, share_lines(nothing, "us"), "us")
    [measured] = called(scene, "measured")
    assert measured.extent[2] - measured.extent[0] == 0.0


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_shares_of_the_examples_are_within_their_frames(path: Path) -> None:
    inspection = cw.inspect(cw.read_sheet(path), stage="received")
    system = inspection.history.system
    for each in inspection.explanation.couplers:
        scene = shares_scene(each, share_lines(each, system), system)
        assert outside_frame(scene) == []
        assert overlapping(scene) == []


# --- points ------------------------------------------------------------------------------------------------------


def verdict(out_of: float, *lost: float, title: str = "fault", provisional: tuple[int, ...] = ()) -> Verdict:
    """A verdict with deductions."""
    deductions = tuple(
        Deduction(points, number in provisional, "", "build", "cause", "A", f"{title} {number}", ())
        for number, points in enumerate(lost)
    )
    left = out_of - sum(lost)
    return Verdict(left, out_of, 0.0, 0, left, "band", 0, "in service", 0, (), deductions, (), (), "bench")


def waterfall(made: Verdict, first: int | None = None) -> Scene:
    """Its points."""
    scene = waterfall_scene(made, LETTERS, first=first)
    assert scene is not None
    return scene


def bars_of(scene: Scene) -> list[Drawn]:
    """Bars of a waterfall, from above."""
    return [each for each in shapes_of(scene) if each.what in {"whole", "lost", "provisional"}]


points = st.lists(st.floats(0.3, 9).map(lambda lost: round(lost, 1)), max_size=9)


@given(points, st.sampled_from([60.0, 100.0, 120.0]))
def test_steps_lead_from_all_points_to_those_kept(lost: list[float], out_of: float) -> None:
    scene = waterfall(verdict(out_of, *lost))
    kept = out_of - sum(lost)
    low = float(int((out_of - 2.2 * (out_of - kept) - 1) / 10) * 10) if out_of * 2 / 3 <= kept < out_of else 0.0
    per_point = 340.0 / (out_of - low)
    first, *steps, last = bars_of(scene)
    assert (first.extent[0], first.extent[2]) == pytest.approx((0.0, 340.0), abs=0.001)
    assert (last.extent[0], last.extent[2]) == pytest.approx((0.0, (kept - low) * per_point), abs=0.002)
    standing = out_of
    for step, each in zip(steps, lost, strict=True):
        assert step.extent[0] == pytest.approx((standing - each - low) * per_point, abs=0.002)
        assert step.extent[2] - step.extent[0] == pytest.approx(max(each * per_point, 1.0), abs=0.002)
        standing -= each
    carried = called(scene, "carried")
    assert len(carried) == len(steps) + 1
    edges = [340.0, *(step.extent[0] for step in steps)]
    assert [each.extent[0] for each in carried] == pytest.approx(edges, abs=0.001)
    for bar, line in zip(bars_of(scene)[:-1], carried, strict=True):  # clear of the words of the next step
        assert (line.extent[1], line.extent[3]) == pytest.approx((bar.extent[3], bar.extent[3] + 7), abs=0.001)
    assert texts(scene, "amount") == [f"{out_of:g}", *(f"−{each:.1f}" for each in lost), f"{kept:.1f}"]
    assert outside_frame(scene, 0.6) == []
    assert overlapping(scene) == []


@pytest.mark.parametrize(
    ("out_of", "lost", "low"),
    [
        (120, 0, 0),
        (120, 5, 100),
        (120, 10, 90),
        (120, 20, 70),
        (120, 40, 30),
        (120, 40.1, 0),
        (100, 3, 90),
        (3, 0.5, 0),
    ],
)
def test_bars_begin_higher_up_where_all_steps_lie_in_the_top_third(out_of: float, lost: float, low: float) -> None:
    scene = waterfall(verdict(out_of, *([lost] if lost else [])))
    assert texts(scene, "note") == ([f"bars begin at {low:g} points"] if low else [])
    last = bars_of(scene)[-1]
    assert last.extent[2] == pytest.approx((out_of - lost - low) / (out_of - low) * 340, abs=0.001)


def test_points_so_far_are_those_of_the_first_deductions() -> None:
    made = verdict(120.0, 4.0, 8.0, 2.5)
    for count, amounts in enumerate((["120", "120.0"], ["120", "−4.0", "116.0"], ["120", "−4.0", "−8.0", "108.0"])):
        scene = waterfall(made, count)
        assert texts(scene, "amount") == amounts
        assert texts(scene, "name")[-1] == "so far"
        assert scene.words.endswith(f"so far {amounts[-1]}")
    assert texts(waterfall(made), "name") == ["starts with", "fault 0", "fault 1", "fault 2", "keeps"]
    assert waterfall(made).words == "Points: starts with 120; fault 0 −4.0; fault 1 −8.0; fault 2 −2.5; keeps 105.5"


def test_what_is_provisional_is_hatched_and_said() -> None:
    scene = waterfall(verdict(120.0, 4.0, 8.0, provisional=(1,)))
    assert [each.what for each in bars_of(scene)] == ["whole", "lost", "provisional", "whole"]
    looks = {each.what: each.element.get("fill") for each in bars_of(scene)}
    assert looks == {"whole": "var(--wash)", "lost": "var(--ink)", "provisional": "none"}
    [hatching], [provisional] = called(scene, "hatch"), called(scene, "provisional")
    assert provisional.extent[0] - 0.001 <= hatching.extent[0] < hatching.extent[2] <= provisional.extent[2] + 0.001
    assert texts(scene, "name")[2] == "fault 1, provisional"
    assert "fault 1, provisional −8.0" in scene.words


def test_long_titles_are_cut_in_the_chart_and_whole_in_words() -> None:
    scene = waterfall(verdict(120.0, 4.0, title=LONG))
    assert texts(scene, "name")[1].endswith("…")
    assert f"{LONG} 0 −4.0" in scene.words
    assert outside_frame(scene, 0.6) == []
    assert overlapping(scene) == []


def test_there_are_no_points_where_nothing_was_examined() -> None:
    assert waterfall_scene(verdict(0.0), LETTERS) is None


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_points_of_the_examples_add_up(path: Path) -> None:
    found = cw.inspect(cw.read_sheet(path)).verdict
    scene = waterfall(found)
    amounts = [float(each.replace("−", "-")) for each in texts(scene, "amount")]
    assert sum(amounts[:-1]) == pytest.approx(amounts[-1], abs=0.05 * len(amounts))
    assert amounts[-1] == pytest.approx(found.points, abs=0.06)
    assert outside_frame(scene, 0.6) == []


# --- along a line ------------------------------------------------------------------------------------------------


def along(
    x: tuple[float, ...] = (0.0, 10.0, 20.0, 40.0),
    value: tuple[float, ...] = (0.0, 1.0, -2.0, 0.5),
    half_width: tuple[float, ...] = (),
    limits: tuple[float | None, float | None] = (None, None),
    *,
    joined: bool = True,
    title: str = "Deck",
    ends: tuple[str, str] = ("", ""),
) -> Along:
    """Heights along a car."""
    return Along(
        title, x, value, lambda place: f"{place:g} mm", lambda height: f"{height:g} um", half_width, *limits,
        ends=ends, joined=joined,
    )  # fmt: skip


def scale_of(a: Along) -> tuple[Callable[[float], float], Callable[[float], float]]:
    """Where a place and a value stand, worked out anew: an eighth of the span free above and below, less a little."""
    half = a.half_width or (0.0,) * len(a.x)
    seen = [value + sign * h for value, h in zip(a.value, half, strict=True) for sign in (-1, 1)]
    seen += [limit for limit in (a.lower, a.upper) if limit is not None]
    span = max(seen) - min(seen) or 1.0
    top, bottom = max(seen) + 0.12 * span, min(seen) - 0.12 * span
    return (
        lambda place: 8 + 324 * (place - a.x[0]) / (a.x[-1] - a.x[0]),
        lambda value: 22 + 112 * (top - value) / (top - bottom),
    )


heights = st.lists(st.floats(-5, 5).map(lambda value: round(value, 2)), min_size=2, max_size=12)
limit_pairs = st.tuples(st.none() | st.floats(-4, 0), st.none() | st.floats(0.1, 4))


@given(heights, limit_pairs, st.booleans(), st.booleans())
def test_a_line_goes_through_its_values_and_marks_what_fails(
    values: list[float],
    limits: tuple[float | None, float | None],
    joined: bool,  # noqa: FBT001
    wide: bool,  # noqa: FBT001
) -> None:
    places = tuple(float(7 * index) for index in range(len(values)))
    half = tuple(0.1 * (index + 1) for index in range(len(values))) if wide else ()
    a = along(places, tuple(values), half, limits, joined=joined)
    scene, (x, y) = along_scene(a), scale_of(a)
    points_ = [(x(place), y(value)) for place, value in zip(places, values, strict=True)]
    low, high = (limit if limit is not None else sign * math.inf for limit, sign in zip(limits, (-1, 1), strict=True))
    failing = [index for index, value in enumerate(values) if not low <= value <= high]
    assert a.fails() == failing
    marks = called(scene, "outside")
    assert len(marks) == len(failing)
    for mark, index in zip(marks, failing, strict=True):
        px, py = points_[index]
        assert mark.extent == pytest.approx((px - 3.5, py - 3.5, px + 3.5, py + 3.5), abs=0.002)
        assert mark.element.get("fill") == "var(--ink)"
    if joined:
        [series] = called(scene, "series")
        assert [each for point in series.lines[0] for each in point] == pytest.approx(
            [each for point in points_ for each in point], abs=0.001
        )
        assert not called(scene, "point")
    else:
        assert not called(scene, "series")
        assert len(called(scene, "point")) == len(values) - len(failing)
    bands = called(scene, "interval")
    assert len(bands) == (0 if not wide else 1 if joined else len(values))
    if wide and joined:
        upper = [y(value + h) for value, h in zip(values, half, strict=True)]
        lower = [y(value - h) for value, h in zip(values, half, strict=True)][::-1]
        assert [py for _, py in bands[0].lines[0][:-1]] == pytest.approx([*upper, *lower], abs=0.001)
    elif wide:
        for band, value, h in zip(bands, values, half, strict=True):
            assert (band.extent[1], band.extent[3]) == pytest.approx((y(value + h), y(value - h)), abs=0.001)
    assert outside_frame(scene) == []
    assert overlapping(scene) == []


@given(limit_pairs)
def test_limits_are_lines_with_what_is_allowed_between(limits: tuple[float | None, float | None]) -> None:
    a = along(limits=limits)
    scene, (_, y) = along_scene(a), scale_of(a)
    lower, upper = limits
    lines = called(scene, "limit")
    sides = [limit for limit in limits if limit is not None]
    assert [each.extent[1] for each in lines] == pytest.approx([y(limit) for limit in sides], abs=0.001)
    assert all(each.element.get("stroke-dasharray") for each in lines)
    said = [f"at least {lower:g} um"] if lower is not None else []
    said += [f"at most {upper:g} um"] if upper is not None else []
    assert texts(scene, "limit-words") == said
    bands = called(scene, "allowed")
    assert len(bands) == bool(sides)
    for band in bands:
        top, bottom = y(upper) if upper is not None else 22.0, y(lower) if lower is not None else 134.0
        assert band.extent == pytest.approx((8, top, 332, bottom), abs=0.002)


@pytest.mark.parametrize(("value", "fails"), [(2.0, []), (2.0001, [1]), (-1.0, []), (-1.0001, [1])])
def test_a_value_on_its_limit_does_not_fail(value: float, fails: list[int]) -> None:
    assert along((0.0, 1.0), (0.0, value), limits=(-1.0, 2.0)).fails() == fails


def test_the_largest_value_of_either_sign_is_told() -> None:
    scene = along_scene(along(limits=(-1.5, None)))
    assert texts(scene, "worst") == ["largest -2 um at 20 mm"]
    assert scene.words == "Deck: largest -2 um at 20 mm; outside its limits at 20 mm"
    assert texts(scene, "end") == ["0 mm", "40 mm"]
    assert texts(along_scene(along(ends=("B end", "A end"))), "end") == ["B end", "A end"]
    assert along_scene(along()).words == "Deck: largest -2 um at 20 mm"
    many = along(tuple(map(float, range(8))), (9.0,) * 8, limits=(None, 1.0))
    assert along_scene(many).words.endswith("outside its limits at 0 mm, 1 mm, 2 mm, 3 mm, 4 mm")


@pytest.mark.parametrize(
    ("x", "value"), [((0.0, 1.0, 2.0), (1.0,)), ((0.0,), (1.0,)), ((), ()), ((0.0, 1.0), (1.0, 2.0, 3.0))]
)
def test_as_many_values_as_places_are_needed(x: tuple[float, ...], value: tuple[float, ...]) -> None:
    sentence = f"needs as many values as places, 2 or more: got {len(x)} places and {len(value)} values"
    with pytest.raises(ValueError, match=f"^{sentence}$"):
        along(x, value)


def test_as_many_half_widths_as_places_are_needed() -> None:
    with pytest.raises(ValueError, match="half"):
        along(half_width=(0.1, 0.2))


@pytest.mark.parametrize(
    ("x", "limits"), [((0.0, 20.0, 10.0, 30.0), (None, None)), ((0.0, 10.0, 20.0, 30.0), (1.0, -1.0))]
)
def test_what_cannot_be_drawn_is_refused(x: tuple[float, ...], limits: tuple[float | None, float | None]) -> None:
    with pytest.raises(ValueError, match=r"ris|limit|lower"):
        along(x, limits=limits)


def test_a_long_title_along_a_line_is_within_the_frame() -> None:
    assert outside_frame(along_scene(along(title=LONG))) == []


# --- what a whole is made of -------------------------------------------------------------------------------------


def composed(*sizes: float, title: str = "Variance", name: str = "part") -> Scene:
    """Parts of some sizes."""
    scene = composition_scene(
        title, [(f"{name} {index}", size, f"{size:g} g") for index, size in enumerate(sizes)], LETTERS
    )
    assert scene is not None
    return scene


def strip(scene: Scene) -> list[Drawn]:
    """Outlines of the parts of the bar, from the left."""
    return [each for each in shapes_of(scene) if each.what in {"part", "edge"} and each.extent[1] == 20.0]


@given(st.lists(st.floats(0, 50).map(lambda size: round(size, 2)), min_size=1, max_size=14))
def test_parts_add_up_to_the_whole(sizes: list[float]) -> None:
    assume(sum(sizes) > 0)
    scene = composed(*sizes)
    parts = strip(scene)
    told = sorted((size for size in sizes if size > 0), reverse=True)
    shown = told if len(told) <= 8 else [*told[:7], sum(told[7:])]
    assert [each.extent[2] - each.extent[0] for each in parts] == pytest.approx(
        [340 * size / sum(sizes) for size in shown], abs=0.002
    )
    assert parts[0].extent[0] == 0.0
    assert parts[-1].extent[2] == pytest.approx(340.0, abs=0.005)
    for one, other in pairwise(parts):
        assert one.extent[2] == pytest.approx(other.extent[0], abs=0.002)
    assert {(each.extent[1], each.extent[3]) for each in parts} == {(20.0, 42.0)}
    assert len(texts(scene, "part-name")) == len(texts(scene, "amount")) == len(shown)
    if len(told) > 8:
        assert texts(scene, "part-name")[-1] == f"{len(told) - 7} more"
        assert texts(scene, "amount")[-1] == f"{sum(told[7:]) / sum(told):.0%}"
    assert outside_frame(scene) == []


def pattern_of(scene: Scene, index: int) -> frozenset[tuple[str, str | None, str]]:
    """How the swatch of a part is filled: kinds of shape, fills, and which way lines slant."""
    top = 50.0 + 19 * index
    found = set()
    for each in shapes_of(scene):
        _, y0, x1, y1 = each.extent
        if each.tag != "text" and x1 <= 16.01 and top - 0.01 <= y0 and y1 <= top + 12.01:
            slants = {
                "level" if a[1] == b[1] else "rising" if (b[0] - a[0]) * (b[1] - a[1]) < 0 else "falling"
                for a, b in (each.lines if each.tag == "path" else ())
            }
            found.add((each.what, each.element.get("fill"), " ".join(sorted(slants))))
    return frozenset(found)


def test_eight_parts_have_eight_patterns() -> None:
    scene = composed(9, 8, 7, 6, 5, 4, 3, 2)
    patterns = [pattern_of(scene, index) for index in range(8)]
    assert all(patterns)
    assert len(set(patterns)) == 8
    assert len({each.element.get("fill") for each in strip(scene)}) == 4


def test_a_narrow_part_keeps_its_dots() -> None:
    scene = composed(100, 90, 80, 70, 4)
    dotted = strip(scene)[4]
    assert any(dotted.extent[0] <= each.extent[0] for each in called(scene, "dot") if each.extent[1] < 42)


def test_parts_stand_with_the_largest_first_and_equal_ones_by_name() -> None:
    scene = composed(1, 5, 0, 5, 2)
    assert texts(scene, "part-name") == ["part 1", "part 3", "part 4", "part 0"]
    assert texts(scene, "amount") == ["5 g", "5 g", "2 g", "1 g"]
    assert scene.words == "Variance: part 1 5 g; part 3 5 g; part 4 2 g; part 0 1 g"
    assert scene.height == 50 + 19 * 4


def test_long_names_of_parts_are_cut() -> None:
    scene = composed(5, 3, title=LONG, name=LONG)
    assert outside_frame(scene) == []
    assert overlapping(scene) == []
    assert all(each.endswith("…") for each in [*texts(scene, "name"), *texts(scene, "part-name")])
    assert scene.words.startswith(f"{LONG}: {LONG} 0 5 g")


def test_a_part_is_never_negative_and_nothing_has_no_parts() -> None:
    with pytest.raises(ValueError, match=r"^a part cannot be negative: -1\.5$"):
        composed(3, -1.5)
    assert composition_scene("x", [], LETTERS) is None
    assert composition_scene("x", [("a", 0.0, "0 g")], LETTERS) is None


# --- time lines --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def portrayal() -> Portrayal:
    """The car of the evidence among the examples."""
    sheet, _ = read_evidence_file("examples/dates/boxcar-evidence.toml", words_of(shipped()))
    found = portrayal_of(sheet.history, shipped(), european=False)
    assert found is not None
    return found


def month(text: str) -> int:
    """A month by its name, 1957-06."""
    year, number = text.split("-")
    return month_of(int(year), int(number))


def stretch(name: str, soft: Span, hard: Span) -> Stretch:
    """What one thing allows."""
    return Stretch(name, "shown", (soft,), (hard,))


SOFT, HARD = Span(month("1950-01"), month("1959-12")), Span(month("1945-01"), None)
ONE = Window((SOFT,), (HARD,), (stretch("age", SOFT, HARD), stretch("any", ALWAYS, ALWAYS)), ())


def axis(first: str, last: str) -> Callable[[int], float]:
    """Where a month begins on a line from three years before the first to three years after the last."""
    start, end = month(first) - 36, month(last) + 36
    return lambda at: 340 * (at - start) / (end + 1 - start)


def timeline(window: Window, wanted: Span | None, dated: Dated) -> Scene:
    """The time line of a window."""
    scene = timeline_scene(window, wanted, dated, LETTERS)
    assert scene is not None
    return scene


def test_a_bar_lasts_from_the_first_month_to_the_end_of_the_last(dated: Dated) -> None:
    scene, x = timeline(ONE, None, dated), axis("1945-01", "1959-12")
    [soft], [hard] = called(scene, "soft"), called(scene, "hard")
    assert (soft.extent[0], soft.extent[2]) == pytest.approx((x(month("1950-01")), x(month("1960-01"))), abs=0.002)
    assert (hard.extent[0], hard.extent[2]) == pytest.approx((x(month("1945-01")), 340.0), abs=0.002)
    ends = [line for line in hard.lines if line[0][0] == line[1][0]]
    assert [line[0][0] for line in ends] == pytest.approx([x(month("1945-01"))], abs=0.002)
    [together], [sure] = called(scene, "soft together"), called(scene, "hard together")
    assert (together.extent[0], together.extent[2]) == (soft.extent[0], soft.extent[2])
    assert (together.element.get("fill"), soft.element.get("fill")) == ("var(--accent)", "var(--ink)")
    assert together.extent[1] == soft.extent[1] + 34
    assert len(sure.lines) == 3
    assert texts(scene, "name") == ["age shown"]
    assert scene.words == (
        "Time line. age shown: 1950 to 1959, from 1945-01 by sure sources. "
        "Together: 1950 to 1959; from 1945-01 by sure sources alone."
    )
    assert outside_frame(scene) == []


def test_years_are_marked_where_they_begin(dated: Dated) -> None:
    scene, x = timeline(ONE, None, dated), axis("1945-01", "1959-12")
    years = called(scene, "year")
    assert [int(each.text) for each in years] == [1945, 1950, 1955, 1960]
    lines = called(scene, "grid")
    for year, line in zip(years, lines, strict=True):
        assert line.extent[0] == pytest.approx(x(month_of(int(year.text), 1)), abs=0.001)
        assert middle(year) == pytest.approx(line.extent[0], abs=0.01)


@given(st.integers(1800, 2090), st.integers(0, 3000))
def test_there_are_at_most_seven_years_and_they_are_round(year: int, months: int) -> None:
    first = month_of(year, 1)
    span = Span(first, min(first + months, month_of(2100, 12)))
    window = Window((span,), (span,), (stretch("age", span, span),), ())
    scene = timeline_scene(window, None, _dated(), LETTERS)
    assert scene is not None
    years = [int(each.text) for each in called(scene, "year")]
    assert 1 <= len(years) <= 7
    steps_ = {b - a for a, b in pairwise(years)}
    assert len(steps_) <= 1
    assert steps_ <= {1, 2, 5, 10, 20, 50, 100}
    assert not steps_ or all(each % min(steps_) == 0 for each in years)
    assert outside_frame(scene) == []
    assert overlapping(scene) == []


def _dated() -> Dated:
    from carwright.tables.dated import dated_of  # noqa: PLC0415 - fixtures cannot be given to examples drawn

    return dated_of(shipped())


def test_what_is_wanted_is_a_band_through_all_rows(dated: Dated) -> None:
    wanted = Span(month("1957-01"), month("1957-12"))
    scene, x = timeline(ONE, wanted, dated), axis("1945-01", "1959-12")
    [band] = called(scene, "wanted")
    assert band.extent == pytest.approx((x(month("1957-01")), 0.0, x(month("1958-01")), scene.height - 22), abs=0.002)
    assert [each.text for each in parsed(scene).iter("title")] == ["wanted 1957-01 to 1957-12"]
    assert not called(timeline(ONE, None, dated), "wanted")
    early = timeline(ONE, Span(month("1930-01"), month("1930-12")), dated)
    [soft] = called(early, "soft")
    assert soft.extent[0] == pytest.approx(axis("1930-01", "1959-12")(month("1950-01")), abs=0.002)


def test_what_is_wanted_is_told_in_words(dated: Dated) -> None:
    assert "1957" in timeline(ONE, Span(month("1957-01"), month("1957-12")), dated).words


def test_a_window_that_is_empty_says_so(dated: Dated) -> None:
    scene = timeline(replace(ONE, soft=(), hard=()), None, dated)
    assert texts(scene, "amount") == ["✕ no month"]
    assert not called(scene, "soft together")
    assert "Together: no month" in scene.words


def test_a_short_stretch_can_still_be_seen(dated: Dated) -> None:
    short, long = Span(month("1950-01"), month("1950-01")), Span(month("1860-01"), month("1990-01"))
    window = Window((short,), (short,), (stretch("age", short, long),), ())
    [soft] = called(timeline(window, None, dated), "soft")
    assert soft.extent[2] - soft.extent[0] == pytest.approx(1.5)


def test_there_is_no_time_line_without_a_date(dated: Dated) -> None:
    open_window = Window((ALWAYS,), (ALWAYS,), (stretch("any", ALWAYS, ALWAYS),), ())
    assert timeline_scene(open_window, None, dated, LETTERS) is None
    assert timeline_scene(open_window, SOFT, dated, LETTERS) is not None


def test_the_time_line_of_the_example_names_everything_with_a_date(portrayal: Portrayal) -> None:
    window = portrayal.window(0)
    assert window is not None
    scene = timeline(window, portrayal.aim(0), portrayal.dated)
    bounded = [each for each in window.stretches if each.soft != (ALWAYS,) or each.hard != (ALWAYS,) or each.broken]
    assert len(texts(scene, "name")) == len(bounded)
    for each in bounded:
        assert portrayal.dated.title(each.name) in scene.words
    memory = [each for each in texts(scene, "name") if each.endswith(" [a date from memory]")]
    assert len(memory) == sum(
        any(limit.rule.confidence == "memory" for limit in each.bar.limits) for each in bounded if each.bar is not None
    )
    assert outside_frame(scene) == []
    assert overlapping(scene) == []


def test_what_was_built_too_late_is_said_beside_its_name(dated: Dated) -> None:
    broken = replace(ONE.stretches[0], name=LONG, broken=(None,))  # type: ignore[arg-type]
    scene = timeline(replace(ONE, stretches=(broken,)), None, dated)
    assert texts(scene, "amount") == ["✕ built too late"]
    assert texts(scene, "name")[0].endswith("…")
    assert overlapping(scene) == []


def test_evidence_is_drawn_by_its_quantiles(portrayal: Portrayal) -> None:
    months = np.arange(month("1950-01"), month("1960-01"), dtype=np.int64)
    posterior = Posterior(months, np.full(months.size, 1 / months.size))
    piece = replace(portrayal.datings[0], posterior=posterior)
    nothing = replace(piece, posterior=Posterior(months, np.zeros(months.size), "no month is left"))
    scene = evidence_scene([piece, nothing], LETTERS)
    assert scene is not None
    outer, inner = (posterior.interval(p)[0] for p in (0.95, 0.8))
    assert outer.first is not None
    assert outer.last is not None
    start, end = outer.first - 36, outer.last + 36

    def x(at: int | None, more: int = 0) -> float:
        assert at is not None
        return 340 * (at + more - start) / (end + 1 - start)

    [soft], [reach], [half] = called(scene, "soft"), called(scene, "reach"), called(scene, "half")
    assert (soft.extent[0], soft.extent[2]) == pytest.approx((x(inner.first), x(inner.last, 1)), abs=0.002)
    assert (reach.extent[0], reach.extent[2]) == pytest.approx((x(outer.first), x(outer.last, 1)), abs=0.002)
    assert half.extent[0] == pytest.approx(x(posterior.quantile(0.5)), abs=0.002)
    assert half.extent[1] < soft.extent[1] < soft.extent[3] < half.extent[3]
    assert outer.first < (inner.first or 0)
    assert scene.height == 6 + 34 + 22
    assert evidence_scene([nothing], LETTERS) is None
    assert evidence_scene([], LETTERS) is None


def test_evidence_of_the_example_is_named_and_told(portrayal: Portrayal) -> None:
    scene = evidence_scene(portrayal.datings, LETTERS)
    assert scene is not None
    assert texts(scene, "name") == [f"{each.piece.of}: {each.piece.name}" for each in portrayal.datings]
    for each in portrayal.datings:
        span, chance = each.posterior.interval(0.95)
        assert f"{span.words()} with probability {chance:.2f}" in scene.words
    assert outside_frame(scene) == []
    assert overlapping(scene) == []


# --- in grey -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("medium", MEDIA)
def test_band_paper_and_estimate_differ_in_lightness(medium: Medium) -> None:
    scene = bar(finding(10.8, 0.3, 9.0, 11.0))
    drawn = standalone_svg(scene, THEME, medium, ground=True)
    [png] = pictures([drawn], THEME, width=scene.width, height=scene.height, scale=4.0, what="a bar")
    image = Image.open(io.BytesIO(png)).convert("RGB").convert("L")

    def light(x: float, y: float) -> float:
        return image.getpixel((int(4 * x), int(4 * y))) / 255  # type: ignore[operator]

    [band], [mark] = called(scene, "allowed"), called(scene, "estimate")
    shades = light(1.0, 1.0), light(band.extent[0] + 5, 7.0), light(middle(mark), 11.0)
    for index, one in enumerate(shades):
        for other in shades[index + 1 :]:
            assert abs(one - other) >= 0.1


def test_no_chart_names_a_colour(portrayal: Portrayal) -> None:
    window = portrayal.window(0)
    assert window is not None
    own = coupler((0.4, 0.05, "measured"), (-0.2, 0.1, "assumed"))
    scenes = [
        bar(finding(10.0, 0.5, 9.0, 11.0)), shares_scene(own, share_lines(own, "us"), "us"),
        waterfall(verdict(120.0, 4.0, 8.0, provisional=(1,))), along_scene(along(limits=(-1.0, 1.0))),
        composed(9, 8, 7, 6, 5, 4, 3, 2), timeline(window, portrayal.aim(0), portrayal.dated),
    ]  # fmt: skip
    for scene in scenes:
        found = {each.get(key) for each in parsed(scene).iter() for key in ("fill", "stroke")} - {None}
        assert all(
            re.fullmatch(r"none|var\(--(paper|ink|soft|line|wash|accent|allowed)\)", str(each)) for each in found
        )
        assert len(scene.words) > 20
