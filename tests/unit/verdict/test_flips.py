"""Causes charged, what the verdict would be without one, and what would flip it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.explain.records import Coupler, Explanation, Group, Share
from carwright.judge import Finding
from carwright.units import outside, shown_unit
from carwright.verdict import charges_of, load_rubric
from carwright.verdict.causes import Faults, by_cause, faults_of
from carwright.verdict.charges import further_places
from carwright.verdict.flips import FACTORS, limit_flips
from carwright.words import Scale

HO = Scale("HO", 87.1, 16.4846, 16.5)
RUBRIC = load_rubric("", "")
NOMINAL, TOLERANCE = 9.9314, 0.254
NEAR, FAR = 4.0, 10.0
"""Points of a coupler height just outside, and far outside: the shipped rubric's."""
SPAN = 2.5 * 25.4 / 87.1
"""How far is far [mm]."""


def finding(at: str, off: float, characteristic: str = "coupler.height") -> Finding:
    """A finding of a height so far off its nominal [mm]."""
    excess = max(0.0, abs(off) - TOLERANCE)
    return Finding(
        f"bench/practice/HO/{characteristic}", characteristic, characteristic, at, 0, "fails" if excess else "conforms",
        "adopted", "common practice", "bench", "measured", p_conform=0.0 if excess else 1.0, value=NOMINAL + off,
        u=0.01, half_width=0.02, kind="length", nominal=NOMINAL, lower=NOMINAL - TOLERANCE, upper=NOMINAL + TOLERANCE,
        entries=(1,), excess=excess,
    )  # fmt: skip


def share(name: str, at: str, amount: float, basis: str = "measured", before: float = 0.3) -> Share:
    """A share by the name of its cause and place."""
    cause, _, place = name.partition("@")
    return Share(cause, place, "coupler.height", at, amount, 0.01, before, basis)


def coupler(at: str, shares: Sequence[Share], groups: Sequence[Group] = ()) -> Coupler:
    """A coupler whose error is its shares."""
    off = sum(each.share for each in shares)
    size = len(shares)
    matrix = tuple(tuple(float(i == j) for j in range(size)) for i in range(size))
    return Coupler(at, NOMINAL + off, NOMINAL, tuple(shares), matrix, tuple(groups))


def group(at: str, names: tuple[str, ...], amount: float, *, measured: bool) -> Group:
    """Causes not told apart, the first the likeliest."""
    return Group(names, names[0], at, amount, 0.01, measured, None)


def charged(findings: Sequence[Finding], explanation: Explanation) -> list[tuple[str, str, object, bool]]:
    """Charges by cause, as plain rows."""
    made = by_cause(charges_of(findings, RUBRIC, HO), explanation, RUBRIC, HO)
    return [(each.cause, each.at, each.points, each.provisional) for each in made]


def points(excess: float) -> float:
    """What a height costs so far outside [points]."""
    return NEAR + (FAR - NEAR) * min(1.0, excess / SPAN)


# --- the fewest causes -----------------------------------------------------------------------------------------


def test_one_cause_covers_two_ends() -> None:
    explained = Explanation(
        0, (coupler("A", [share("frame.bow", "A", 0.5)]), coupler("B", [share("frame.bow", "B", 0.4)]))
    )
    findings = [finding("A", 0.5), finding("B", 0.4)]
    assert faults_of(findings, explained) == Faults((("frame.bow", ""),), settled=True)
    [(cause, at, cost, provisional)] = charged(findings, explained)
    assert (cause, at, provisional) == ("frame.bow", "", False)
    assert cost == pytest.approx(points(0.5 - TOLERANCE))


def test_two_causes_at_one_end_are_charged_one_after_the_other() -> None:
    shares = [share("frame.bow", "A", 0.5), share("box.position@A", "A", 0.4)]
    explained = Explanation(0, (coupler("A", shares),))
    findings = [finding("A", 0.9)]
    assert set(faults_of(findings, explained).names) == {("frame.bow", ""), ("box.position", "A")}
    first, second = charged(findings, explained)
    assert first == ("frame.bow", "", pytest.approx(points(0.9 - TOLERANCE)), False)
    assert second == ("box.position", "A", pytest.approx(points(0.4 - TOLERANCE)), False)


def test_a_further_cause_answers_only_for_what_the_larger_left() -> None:
    ends = (
        coupler("A", [share("frame.bow", "A", 0.5), share("truck.ride@A", "A", 0.3)]),
        coupler("B", [share("frame.bow", "B", 0.5), share("truck.ride@A", "B", -0.06, before=0.05)]),
    )
    findings = [finding("A", 0.8), finding("B", 0.44)]
    first, second = by_cause(charges_of(findings, RUBRIC, HO), Explanation(0, ends), RUBRIC, HO)
    assert [(each.cause, [own.at for own in each.findings]) for each in (first, second)] == [
        ("frame.bow", ["A", "B"]),
        ("truck.ride", ["A"]),  # with the bow gone B is right
    ]
    assert second.points == pytest.approx(points(0.3 - TOLERANCE))


def test_of_several_single_causes_the_one_that_leaves_least_is_charged() -> None:
    shares = [share("truck.ride@A", "A", 0.1), share("box.position@A", "A", 0.25)]
    explained = Explanation(0, (coupler("A", shares),))
    assert faults_of([finding("A", 0.35)], explained).names == (("box.position", "A"),)


def test_a_cause_that_cures_one_end_and_spoils_the_other_is_no_cause() -> None:
    ends = (coupler("A", [share("truck.ride@A", "A", 0.4)]), coupler("B", [share("truck.ride@A", "B", 0.5)]))
    explained = Explanation(0, ends)
    # B reads high for another reason: without the truck it would lie far below
    findings = [finding("A", 0.4), finding("B", -0.3)]
    assert faults_of(findings, explained) == Faults((), settled=False)


def test_where_nothing_cures_the_dearest_stands_and_the_rest_is_provisional() -> None:
    shares = [Share("unexplained", "", "coupler.height", "A", 0.6, 0.0, 0.0, "measured")]
    other = [Share("unexplained", "", "coupler.height", "B", 0.4, 0.0, 0.0, "measured")]
    explained = Explanation(0, (coupler("A", shares), coupler("B", other)))
    findings = [finding("A", 0.6), finding("B", 0.4)]
    assert faults_of(findings, explained) == Faults((), settled=False)
    assert charged(findings, explained) == [
        ("unexplained", "A", pytest.approx(points(0.6 - TOLERANCE)), False),
        ("unexplained", "B", pytest.approx(points(0.4 - TOLERANCE)), True),
    ]
    made = by_cause(charges_of(findings, RUBRIC, HO), explained, RUBRIC, HO)
    assert any("no three causes together" in line for line in made[0].because)


@pytest.mark.parametrize("basis", ["assumed", "group"])
def test_no_points_hang_on_a_split_that_is_assumed(basis: str) -> None:
    explained = Explanation(
        0, (coupler("A", [share("frame.bow", "A", 0.5, basis)]), coupler("B", [share("frame.bow", "B", 0.5, basis)]))
    )
    findings = [finding("A", 0.5), finding("B", 0.5)]
    assert not faults_of(findings, explained).settled
    assert [each[0] for each in charged(findings, explained)] == ["unexplained", "unexplained"]
    assert [each[3] for each in charged(findings, explained)] == [False, True]


@pytest.mark.parametrize("measured", [True, False])
def test_a_group_whose_sum_is_measured_is_one_cause_under_the_likeliest(measured: bool) -> None:  # noqa: FBT001 - a case
    names = ("frame.bow", "frame.kink")
    shares = [share(name, "A", 0.25, "group") for name in names]
    explained = Explanation(0, (coupler("A", shares, [group("A", names, 0.5, measured=measured)]),))
    faults = faults_of([finding("A", 0.5)], explained)
    assert faults == Faults((("frame.bow", ""),), settled=measured)
    [(cause, _, _, _)] = charged([finding("A", 0.5)], explained)
    assert cause == ("frame.bow" if measured else "unexplained")


def test_two_bases_of_one_cause_settle_only_where_it_reaches() -> None:
    ends = (
        coupler("A", [share("truck.ride@A", "A", 0.5, before=0.3)]),
        coupler("B", [share("truck.ride@A", "B", -0.1, "assumed", before=0.05), share("box.position@B", "B", 0.6)]),
    )
    faults = faults_of([finding("A", 0.5), finding("B", 0.5)], Explanation(0, ends))
    assert faults.settled  # at B the truck of A is felt by less than a third of what it does at A
    assert set(faults.names) == {("truck.ride", "A"), ("box.position", "B")}


def test_a_height_that_is_undecided_is_left_as_it_is() -> None:
    open_one = replace(finding("A", 0.26), outcome="undecided", p_conform=0.3)
    explained = Explanation(0, (coupler("A", [share("frame.bow", "A", 0.26)]),))
    [(cause, at, _, provisional)] = charged([open_one], explained)
    assert (cause, at, provisional) == ("unexplained", "A", True)


@given(st.lists(st.sampled_from([0.1, 0.2, 0.3, 0.4, -0.3]), min_size=1, max_size=5))
def test_no_smaller_set_would_do_and_the_chosen_one_does(amounts: list[float]) -> None:
    names = [f"cause{number}@A" for number in range(len(amounts))]
    explained = Explanation(0, (coupler("A", [share(*pair) for pair in zip(names, ["A"] * 9, amounts, strict=False)]),))
    off = sum(amounts)
    if abs(off) <= TOLERANCE:
        return
    faults = faults_of([finding("A", off)], explained)
    by_name = dict(zip(names, amounts, strict=True))

    def left(chosen: Sequence[str]) -> float:
        return abs(off - sum(by_name[name] for name in chosen))

    if not faults.names:
        return
    chosen = [f"{cause}@{place}" for cause, place in faults.names]
    assert left(chosen) <= TOLERANCE + 1e-12
    if len(chosen) > 1:
        from itertools import combinations  # noqa: PLC0415 - only here

        assert all(left(fewer) > TOLERANCE - 1e-12 for fewer in combinations(names, len(chosen) - 1))


def test_charges_of_other_things_are_left_in_their_order() -> None:
    weight = replace(finding("", 0.0, "weight.total"), outcome="fails", excess=0.3, kind="mass", p_conform=0.0)
    explained = Explanation(0, (coupler("A", [share("frame.bow", "A", 0.5)]),))
    assert [each[0] for each in charged([finding("A", 0.5), weight], explained)] == ["frame.bow", "weight"]
    assert [each[0] for each in charged([finding("A", 0.5), weight], Explanation(0, reason="nothing"))] == [
        "unexplained",
        "weight",
    ]


# --- only this had been right ------------------------------------------------------------------------------------

CAR = Path("examples/ho-flat-car.toml")
HEAD = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
[car.geometry]
axles_per_truck = 2
coupler_mount = "body"
body_length = "142 mm"
truck_centers = "108 mm"
truck_wheelbase = "19.25 mm"
coupler_face = "76 mm"
coupler_pivot = "68 mm"
[[instrument]]
name = "fine"
resolution = "0.001 mm"
calibration = "0.004 mm"
repeatability = "0.01 mm"
repeatability_n = 500
"""


def read(what: str, at: str, value: float, unit: str = "mm", more: str = "") -> str:
    """One reading."""
    place = f'at = "{at}"' if at else ""
    tool = 'with = "fine"' if unit == "mm" else ""
    return "\n".join(
        ["[[entry]]", 'kind = "reading"', f'what = "{what}"', place, f'values = ["{value} {unit}"]', tool, more, ""]
    )


def off(a: float, b: float) -> str:
    """Both couplers so far off [mm]."""
    return read("coupler.height", "A", round(NOMINAL + a, 4)) + read("coupler.height", "B", round(NOMINAL + b, 4))


def bad_wheels(*values: float) -> str:
    """Back-to-back of axles."""
    return "".join(read("wheel.back_to_back", str(axle), value) for axle, value in enumerate(values, 1))


@pytest.mark.parametrize(
    "text",
    [
        CAR.read_text(encoding="utf-8").replace("stock = ", "# stock = "),
        HEAD + off(0.5, 0.5) + bad_wheels(14.1, 14.1, 14.2),
        HEAD + off(0.9, -0.6) + bad_wheels(13.9, 13.9, 13.9, 13.9) + read("weight.total", "", 60, "g"),
    ],
)
def test_what_if_only_one_had_been_right_is_the_verdict_without_it(text: str) -> None:
    inspection = cw.inspect(cw.read_sheet_text(text), stage="received")
    verdict, rubric, scale = inspection.verdict, inspection.rubric, inspection.history.scale
    plain = charges_of(inspection.received, rubric, scale)
    charges = by_cause(plain, inspection.explanations[0], rubric, scale)
    limits = {category.id: category.points for category in rubric.categories}
    assert verdict.if_only
    for case in verdict.if_only:
        kept = [each for each in charges if (each.cause, each.at) != (case.cause, case.at)]
        assert len(kept) == len(charges) - 1
        lost = 0.0
        for category, most in limits.items():
            own = [round(each.points, 1) for each in further_places(kept, rubric) if each.category == category]
            lost += min(most, sum(own))
        assert case.points == pytest.approx(verdict.out_of - lost, abs=1e-6)
        assert case.points >= verdict.points - 1e-9


@given(st.floats(-1.2, 1.2), st.floats(-1.2, 1.2), st.lists(st.sampled_from([13.9, 14.2, 14.45]), max_size=4))
def test_deductions_add_up_and_none_is_negative(a: float, b: float, wheels: list[float]) -> None:
    verdict = cw.inspect(cw.read_sheet_text(HEAD + off(a, b) + bad_wheels(*wheels))).verdict
    assert sum(each.points for each in verdict.deductions) == pytest.approx(verdict.out_of - verdict.points)
    assert all(each.points >= 0 for each in verdict.deductions)
    assert verdict.points <= verdict.points_if_provisional_lifted <= verdict.out_of


# --- limits that would flip it -----------------------------------------------------------------------------------


def moved(each: Finding, name: str, shift: float) -> Finding:
    """A finding with its nearer limit moved and judged anew, as a normal far from its other limit [inside unit]."""
    assert each.value is not None
    assert each.half_width is not None
    sides = {side: limit for side in ("upper", "lower") if (limit := getattr(each, side)) is not None}
    side = min(sides, key=lambda key: (abs(sides[key] - (each.value or 0.0)), key == "upper"))
    assert name == f"{each.clause} {each.at}".strip()
    limit = sides[side] + shift
    inside = (limit - each.value) if side == "upper" else (each.value - limit)
    p = 0.5 * math.erfc(-inside / (each.half_width / 1.959964) / math.sqrt(2))
    outcome = "conforms" if p >= 0.95 else "fails" if p <= 0.05 else "undecided"
    return replace(each, outcome=outcome, p_conform=p)  # type: ignore[arg-type]


def judged_height(text: str) -> Finding:
    """The height at A by the clause in force."""
    found = cw.inspect(cw.read_sheet_text(text)).received
    [each] = [
        each for each in found if (each.characteristic, each.at, each.force) == ("coupler.height", "A", "adopted")
    ]
    return each


@given(st.floats(-0.9, 0.9))
def test_a_limit_moved_by_the_stated_shift_changes_the_outcome_and_by_half_of_it_does_not(a: float) -> None:
    each = judged_height(HEAD + read("coupler.height", "A", round(NOMINAL + a, 4)))
    [flip] = limit_flips([each], RUBRIC, "us")
    beyond = moved(each, flip.name, flip.shift * 1.02)
    assert beyond.outcome != each.outcome
    assert flip.effect == f"{each.subject} {beyond.outcome}"
    assert moved(each, flip.name, flip.shift * 0.5).outcome == each.outcome
    unit = shown_unit("length", "us")
    assert f"{outside(abs(flip.shift), 'length', unit):.2g} {unit}" in flip.words


def test_no_single_limit_makes_a_value_conform_that_its_other_limit_keeps_open() -> None:
    each = judged_height(HEAD.replace('"0.004 mm"', '"0.2 mm"') + read("coupler.height", "A", NOMINAL))
    assert each.upper is not None
    assert each.lower is not None
    assert each.value is not None
    assert each.u is not None
    assert (each.outcome, each.capable) == ("undecided", False)
    for flip in limit_flips([each], RUBRIC, "us"):
        wider = abs(flip.shift)
        p = 0.5 * math.erf((each.upper + wider - each.value) / each.u / math.sqrt(2)) + 0.5 * math.erf(
            (each.value - each.lower) / each.u / math.sqrt(2)
        )
        assert flip.effect.endswith("conforms") == (p >= 0.95)


def test_with_few_readings_a_tighter_limit_makes_nothing_conform() -> None:
    few = HEAD.replace('repeatability = "0.01 mm"', 'repeatability = "0.1 mm"').replace("n = 500", "n = 3")
    reading = read("coupler.height", "A", 0).replace('"0 mm"', '"10.03 mm", "9.83 mm"')
    each = judged_height(few + reading)
    assert each.outcome == "undecided"
    [flip] = limit_flips([each], RUBRIC, "us")
    assert "tighter" not in flip.words


CLUB = """\
format = "carwright-rules/1"
id = "own"
title = "House rules (invented)"
[[source]]
key = "own"
title = "House rules (invented)"
body = "Lower Sedge"
kind = "club rules"
[defaults]
source = "own"
edition = "1"
locator = "1"
status = "common practice"
confidence = "text"
force = "adopted"
[[clause]]
characteristic = "coupler.height"
scales = ["HO"]
nominal = "9.9314 mm"
plus_minus = "{tolerance} mm"
replaces = ["bench/practice/HO/coupler.height"]
"""


@pytest.mark.parametrize("a", [0.0, 0.2, 0.25, 0.2700, 0.3, 0.6, -0.5])
def test_a_clubs_own_limit_shifted_so_far_judges_otherwise(a: float, tmp_path: Path) -> None:
    text = HEAD.replace('scale = "HO"', 'scale = "HO"\nrules = ["nmra", "bench", "club.toml"]')

    def judged(tolerance: float) -> tuple[cw.Inspection, str]:
        (tmp_path / "club.toml").write_text(CLUB.format(tolerance=f"{tolerance:.9f}"), encoding="utf-8")
        sheet = text + read("coupler.height", "A", round(NOMINAL + a, 4))
        inspection = cw.inspect(cw.read_sheet_text(sheet, folder=str(tmp_path)))
        [outcome] = {each.outcome for each in inspection.received if each.clause.startswith("own/") and each.at == "A"}
        return inspection, outcome

    inspection, now = judged(TOLERANCE)
    [flip] = [
        each
        for each in inspection.flips
        if each.kind == "limit" and each.name.startswith("own/") and each.name[-1] == "A"
    ]
    wider = abs(flip.shift) if "wider" in flip.words else -abs(flip.shift)
    assert judged(TOLERANCE + wider * 0.5)[1] == now
    then = judged(TOLERANCE + wider * 1.001 + math.copysign(2e-5, wider))[1]
    assert then != now
    assert flip.effect.endswith(then)


# --- priors that would flip it -----------------------------------------------------------------------------------


def sheets() -> dict[str, str]:
    """Cars whose causes hang on a prior more or less."""
    both = HEAD + off(0.6, 0.55)
    boxes = HEAD.replace("[[instrument]]", 'box_height = "8 mm"\n[[instrument]]', 1)
    return {
        "heights alone": both,
        "droop told": both + read("coupler.height", "A", NOMINAL + 0.61, more='state = "lifted"'),
        "box read": boxes + off(0.5, 0.0) + read("box.height", "A", 8.48) + read("box.height", "B", 8.0),
        "low, lifted": HEAD
        + off(-0.5, 0.0)
        + read("coupler.height", "A", round(NOMINAL - 0.02, 4), more='state = "lifted"'),
        "flat car": CAR.read_text(encoding="utf-8").replace("stock = ", "# stock = "),
    }


@pytest.mark.parametrize("name", sheets())
def test_a_prior_stretched_as_stated_changes_the_causes_and_less_does_not(name: str) -> None:
    text = sheets()[name]
    inspection = cw.inspect(cw.read_sheet_text(text))
    found = [flip for flip in inspection.flips if flip.kind == "prior"]
    from carwright.explain.model import model_of  # noqa: PLC0415 - as inspection does
    from carwright.explain.shares import designed_height, explanation_of, heights_of  # noqa: PLC0415
    from carwright.inspection import words_of  # noqa: PLC0415

    heights = heights_of(inspection.received)
    failing = [each for each in heights.values() if each.outcome == "fails"]
    designed = designed_height(inspection.history, heights)

    def faults(factors: dict[str, float]) -> Faults:
        model = model_of(inspection.history, words_of(inspection.tables), designed=designed, factors=factors)
        assert not isinstance(model, str)
        return faults_of(failing, explanation_of(model, heights, 0))

    now = faults({})
    for flip in found:
        then = faults({flip.name: flip.factor})
        assert then != now
        assert flip.effect.startswith("charged: ")
        assert ("not settled" in flip.effect) != then.settled
        for cause, at in then.names:
            assert cause + (f" at {at}" if at else "") in flip.effect
        size = max(flip.factor, 1 / flip.factor)
        for nearer in FACTORS:
            if nearer < size - 1e-9:
                assert faults({flip.name: nearer}) == now
                assert faults({flip.name: 1 / nearer}) == now


def test_a_prior_flip_written_into_the_sheet_does_what_it_says() -> None:
    text = sheets()["heights alone"]
    inspection = cw.inspect(cw.read_sheet_text(text))
    from carwright.inspection import words_of  # noqa: PLC0415 - only here

    rows = words_of(inspection.tables).contributions
    flips = [each for each in inspection.flips if each.kind == "prior" and rows[each.name].mean == 0]
    assert flips
    failing = [each for each in inspection.received if each.outcome == "fails" and each.force == "adopted"]
    now = faults_of(failing, inspection.explanations[0])
    for flip in flips[:4]:
        row = rows[flip.name]
        u = math.hypot(row.common, row.own) * 25.4 / 87.1 * flip.factor
        own = f'[[prior]]\nwhat = "{flip.name}"\nu = "{u:.9f} mm"\nsource = "own"\n'
        then = faults_of(failing, cw.inspect(cw.read_sheet_text(text + own)).explanations[0])
        assert then != now


def test_a_car_with_no_failing_height_has_no_prior_that_flips_it() -> None:
    inspection = cw.inspect(cw.read_sheet_text(HEAD + off(0.0, 0.0)))
    assert not [each for each in inspection.flips if each.kind == "prior"]
    assert all(
        first.nearness <= second.nearness for first, second in zip(inspection.flips, inspection.flips[1:], strict=False)
    )
