"""Shares as bars and lines, plans side by side: what is hatched, what it names, and no figure that is none."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.explain.records import Coupler, Group, Plan, Predicted, Share, Step, Tell
from carwright.publish.charts.shares import shares_scene
from carwright.publish.report import report_html
from carwright.publish.scene import inline_svg
from carwright.publish.why import (
    bench_lines,
    chance_words,
    coupler_heading,
    execution_lines,
    plan_heading,
    plan_table,
    predicted_words,
    share_lines,
    signed,
)

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
NONSENSE = re.compile(r"[-−]0\.?0*(?![.\d])|\bnan\b|\bNone\b|\binf\b")
"""A negative nothing, and what is no number."""
BOX = Tell("box.height", "A", "height gauge", 0.8, "the floor of the box mouth above the rail at A")


def share(cause: str, amount: float, u: float, basis: str, **more: object) -> Share:
    """A share of the coupler at A."""
    return Share(cause, "A", "coupler.height", "A", amount, u, 0.3, basis, **more)  # type: ignore[arg-type]


def coupler(shares: list[Share], groups: tuple[Group, ...] = ()) -> Coupler:
    """A coupler whose error is its shares."""
    off = sum(each.share for each in shares)
    return Coupler("A", 9.9314 + off, 9.9314, tuple(shares), (), groups)


MIXED = coupler(
    [
        share("frame.bow", 0.4, 0.02, "measured", rests_on="stand"),
        share("box.position", -0.2, 0.1, "assumed", tell=BOX),
        share("truck.ride", 0.15, 0.1, "group", group=("wheel.diameter",), tell=BOX),
        share("shank.offset", 0.12, 0.1, "assumed"),
        share("coupler.droop", 0.001, 0.001, "measured"),
        Share("unexplained", "", "coupler.height", "A", 0.002, 0.0, 0.0, "measured"),
    ]
)

amounts = st.lists(
    st.tuples(
        st.floats(-1, 1).map(lambda value: round(value, 6)),
        st.floats(0, 0.3).map(lambda u: round(u, 6)),
        st.sampled_from(["measured", "assumed", "group"]),
        st.booleans(),
    ),
    min_size=1,
    max_size=8,
)


def made(rows: list[tuple[float, float, str, bool]]) -> Coupler:
    """A coupler of any shares."""
    return coupler(
        [
            share(
                f"cause{number}", amount, u, basis, tell=BOX if told and basis in {"assumed", "group"} else None,
                group=(f"cause{number + 1}@A",) if basis == "group" else (),
            )
            for number, (amount, u, basis, told) in enumerate(rows)
        ]
    )  # fmt: skip


# --- lines -------------------------------------------------------------------------------------------------------


@given(amounts)
def test_lines_add_up_and_what_is_not_measured_is_hatched_and_names_its_reading(
    rows: list[tuple[float, float, str, bool]],
) -> None:
    found = made(rows)
    lines = share_lines(found, "us")
    assert sum(line.value for line in lines) == pytest.approx(found.value - found.nominal, abs=1e-9)
    for line in lines:
        assert line.hatched == (line.basis in {"assumed", "not told apart"})
        if line.hatched:
            assert line.reading == "box.height at A" or not line.reading
            assert line.note
        if line.basis == "assumed" and not line.reading:
            assert line.note == "no single reading tells"
        assert not NONSENSE.search(f"{line.name} {line.amount} {line.note}")


def test_a_hatched_group_that_nothing_tells_says_so() -> None:
    own = coupler([share("truck.ride", 0.3, 0.1, "group", group=("wheel.diameter",))])
    [line] = share_lines(own, "us")
    assert "no single reading tells" in line.note


def test_a_group_whose_sum_is_measured_is_one_solid_line() -> None:
    shares = [share("frame.bow", 0.3, 0.1, "group", group=("frame.kink@A",)), share("frame.kink", 0.1, 0.1, "group")]
    group = Group(("frame.bow@A", "frame.kink@A"), "frame.bow@A", "A", 0.4, 0.01, measured=True, tell=BOX)
    [line] = share_lines(coupler(shares, (group,)), "metric")
    assert (line.name, line.hatched, line.basis) == ("frame.bow at A", False, "measured")
    assert line.amount.startswith("+0.400 ± 0.020 mm")
    assert line.note == "together with frame.kink@A"


@pytest.mark.parametrize("system", ["us", "metric"])
@given(value=st.floats(-0.01, 0.01), u=st.none() | st.floats(1e-6, 0.5))
def test_no_amount_is_a_negative_nothing(system: str, value: float, u: float | None) -> None:
    assert not NONSENSE.search(signed(value, system, u))  # type: ignore[arg-type]


# --- bars --------------------------------------------------------------------------------------------------------


def drawn(own: Coupler) -> ET.Element:
    """The bars as parsed."""
    return ET.fromstring(inline_svg(shares_scene(own, share_lines(own, "us"), "us")))


def classed(root: ET.Element, tag: str, kind: str) -> list[ET.Element]:
    """Elements of a class."""
    return [each for each in root.iter(tag) if each.get("class") == kind]


def numbers(path: str) -> list[tuple[float, float]]:
    """Points of a path of M and L."""
    return [(float(x), float(y)) for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path)]


@given(amounts)
def test_bars_are_solid_or_hatched_and_hatching_stays_within_its_bar(
    rows: list[tuple[float, float, str, bool]],
) -> None:
    own = made(rows)
    lines, root = share_lines(own, "us"), drawn(own)
    assert len(classed(root, "rect", "measured")) == sum(not line.hatched for line in lines)
    bars, hatches = classed(root, "rect", "assumed"), classed(root, "path", "hatch")
    assert len(bars) == len(hatches) == sum(line.hatched for line in lines)
    for bar, hatch in zip(bars, hatches, strict=True):
        x, y, width, height = (float(bar.get(key, "nan")) for key in ("x", "y", "width", "height"))
        for px, py in numbers(hatch.get("d", "")):
            assert x - 0.11 <= px <= x + width + 0.11
            assert y - 0.11 <= py <= y + height + 0.11


@given(amounts)
def test_a_bar_is_as_long_as_its_share_and_stays_within_the_drawing(rows: list[tuple[float, float, str, bool]]) -> None:
    own = made(rows)
    lines, root = share_lines(own, "us"), drawn(own)
    _, _, wide, high = (float(each) for each in (root.get("viewBox") or "").split())
    [zero] = [float(x) for each in classed(root, "path", "zero") for x in re.findall(r"M([\d.]+)", each.get("d", ""))]
    bars = [each for each in root.iter("rect") if each.get("class") in {"measured", "assumed"}]
    assert len(bars) == len(lines)
    reach = max((abs(line.value) + 1.96 * line.u for line in lines), default=1.0)
    largest = max(float(bar.get("width", "0")) for bar in bars)
    most = max(abs(line.value) for line in lines)
    for line, bar in zip(lines, bars, strict=True):
        x, width = float(bar.get("x", "nan")), float(bar.get("width", "nan"))
        assert 0 <= x <= x + width <= wide + 0.1
        assert 0 <= float(bar.get("y", "nan")) <= high
        if most > 1e-3 * reach:
            assert width == pytest.approx(largest * abs(line.value) / most, abs=0.2)
        edge = x + width if line.value < 0 else x
        assert edge == pytest.approx(zero, abs=0.15)


def test_hostile_names_are_escaped_in_bars() -> None:
    own = coupler([share('<b>"&', 0.3, 0.1, "assumed")])
    text = inline_svg(shares_scene(own, share_lines(own, "us"), "us"))
    assert "<b>" not in text
    assert '<b>"& at A' in "".join(ET.fromstring(text).itertext())


# --- plans side by side --------------------------------------------------------------------------------------------


def plan(effort: float, works: tuple[str, ...], height: float | None = 9.95, **more: object) -> Plan:
    """A plan with a coupler's height and a look predicted."""
    predicted = (
        Predicted("coupler.height", "A", height, 0.03 if height is not None else None, 0.98, "model"),
        Predicted("look.fit", "", None, None, 0.98, "refit a part, then measured"),
    )
    steps = (*(Step(work, "A", None, "", work) for work in works), Step("", "", None, "", "Measure again"))
    values = {"cost": 0.1, "risk": 0.02, "reversible": "yes", "p_open": 0.9, "p_closed": 0.96} | more
    return Plan(steps=steps, effort=effort, predicted=predicted, **values)  # type: ignore[arg-type]


def test_plans_stand_side_by_side_with_a_row_for_every_figure() -> None:
    offered = [plan(12, ("washer",)), plan(40, ("straighten", "box-shim"), None, reversible="no", p_closed=0.999)]
    rows = plan_table(offered, "metric")
    assert {len(row) for row in rows} == {3}
    table = {row[0]: row[1:] for row in rows if row[0]}
    assert rows[0] == ["", "plan 1", "plan 2"]
    assert table["bench time"] == ["12 min", "40 min"]
    assert table["parts, about"] == ["0.10 dollars", "0.10 dollars"]
    assert table["can be undone"] == ["yes", "no"]
    assert table["risk to spoil"] == ["2%", "2%"]
    assert table["all conform"] == ["0.96", "> 0.99"]
    assert table["coupler.height at A"][0].startswith("9.95 ± 0.06 mm")
    assert table["coupler.height at A"][1] == ""
    assert table["works"] == ["washer A", "straighten A"]
    assert rows[-1] == ["", "", "box-shim A"]


def test_a_plan_is_headed_by_its_price() -> None:
    assert plan_heading(2, plan(12, ("washer",))) == (
        "Plan 2: 12 min, parts about 0.10 dollars, can be undone, risk 2%; "
        "chance that all conforms 0.96 (0.90 without measuring between)"
    )
    assert "more than 0.99" in plan_heading(1, plan(12, ("washer",), p_closed=1.0, p_open=1.0))


@pytest.mark.parametrize(
    ("p", "words"), [(0.0, "0.00"), (0.9, "0.90"), (0.99, "0.99"), (0.991, "> 0.99"), (1.0, "> 0.99")]
)
def test_nobody_promises_certainty(p: float, words: str) -> None:
    assert chance_words(p) == words


def test_a_prediction_without_a_model_says_how() -> None:
    look = Predicted("look.fit", "", None, None, 0.98, "refit a part, then measured")
    assert predicted_words(look, "us") == "look.fit: refit a part, then measured, conforms with probability 0.98"


# --- all of it on the examples -------------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", ["received", "last"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_word_of_an_example_is_a_negative_nothing_or_no_number(path: Path, stage: str) -> None:
    inspection = cw.inspect(cw.read_sheet(path), stage=stage)
    system = inspection.history.system
    told = inspection.explanation
    lines = [*execution_lines(told, system), *bench_lines(inspection.bench, system), *told.disagreements, *told.notes]
    for each in told.couplers:
        lines.append(coupler_heading(each, system))
        lines += [f"{line.name} {line.amount} {line.note}" for line in share_lines(each, system)]
    lines += [" ".join(row) for row in plan_table(inspection.plans.offered, system)] if inspection.plans.offered else []
    page = html5lib.parse(report_html(inspection, version="0"), namespaceHTMLElements=False)
    for style in list(page.iter("style")):
        style.text = ""
    lines.append(" ".join(page.itertext()))
    for line in lines:
        assert not NONSENSE.search(line), NONSENSE.findall(line)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_works_are_named_without_stray_spaces(path: Path) -> None:
    inspection = cw.inspect(cw.read_sheet(path))
    for line in execution_lines(inspection.explanation, inspection.history.system):
        assert " :" not in line
        assert "  " not in line
