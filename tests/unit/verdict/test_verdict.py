"""The verdict: each fault once, received and now never mixed, every point with its chain."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.errors import TableError
from carwright.judge import Finding
from carwright.verdict import charges_of, load_rubric, read_rubric, verdict_of
from carwright.verdict.score import TOO_LITTLE
from carwright.words import Scale

RUBRIC_TEXT = Path("src/carwright/verdict/rubrics/bench.toml").read_text("utf-8")
HO = Scale("HO", 87.1, 16.4846, 16.5)
HEAD = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
[car.geometry]
axles_per_truck = 2
body_length = "5.35 in"
[[instrument]]
name = "fine"
resolution = "0.001 mm"
calibration = "0.004 mm"
repeatability = "0.003 mm"
repeatability_n = 500
"""


def inspect(body: str) -> cw.Inspection:
    return cw.inspect(cw.read_sheet_text(HEAD + body))


def reading(what: str, at: str, value: str) -> str:
    place = f'at = "{at}"\n' if at else ""
    return f'[[entry]]\nkind = "reading"\nwhat = "{what}"\n{place}values = ["{value}"]\nwith = "fine"\n'


def work(remedy: str, at: str) -> str:
    return f'[[entry]]\nkind = "work"\nremedy = "{remedy}"\nat = "{at}"\n'


def look(what: str, grade: str, name: str = "thing") -> str:
    return f'[[entry]]\nkind = "look"\nwhat = "{what}"\nname = "{name}"\ngrade = "{grade}"\n'


def ruling(text: str) -> str:
    return f'[[entry]]\nkind = "ruling"\n{text}\n'


def test_points_add_up_and_every_point_has_its_chain() -> None:
    body = (
        reading("coupler.height", "A", "10.5 mm")
        + reading("wheel.back_to_back", "1", "14.2 mm")
        + look("part", "marked")
        + look("paint", "slight")
    )
    verdict = inspect(body).verdict
    lost = sum(each.points for each in verdict.deductions)
    assert verdict.points == pytest.approx(verdict.out_of - lost)
    assert sum(each.lost for each in verdict.categories) == pytest.approx(lost)
    for each in verdict.deductions:
        assert each.chain[0].startswith(("reading:", "look:"))
        assert "entry " in each.chain[0]
        assert any(step.startswith("finding:") for step in each.chain)
        assert any(step.startswith("cause:") for step in each.chain)
        assert each.chain[-1].startswith("deduction:")


def test_one_wheelset_that_fails_two_clauses_is_charged_once() -> None:
    body = reading("wheel.back_to_back", "1", "14.2 mm") + reading("wheel.check_gauge", "1", "15.6 mm")
    verdict = inspect(body).verdict
    [charged] = [each for each in verdict.deductions if each.category == "track"]
    assert len(charged.clauses) == 2
    assert charged.cause == "wheelset.gauge"


def test_the_same_cause_at_a_further_place_costs_a_share() -> None:
    body = "".join(reading("wheel.back_to_back", axle, "14.0 mm") for axle in "12")
    first, second = (each.points for each in inspect(body).verdict.deductions)
    assert (first, second) == (10.2, 5.1)


def test_a_charge_grows_from_the_limit_to_far_outside() -> None:
    def cost(height: str) -> float:
        return inspect(reading("coupler.height", "A", height)).verdict.deductions[0].points

    assert 4.0 <= cost("10.22 mm") < cost("10.5 mm") < cost("10.95 mm") == cost("11.5 mm") == 10.0


def test_an_undecided_finding_costs_its_probability_provisionally() -> None:
    inspection = inspect(reading("coupler.height", "A", "10.187 mm"))
    [charged] = inspection.verdict.deductions
    p = next(each.p_conform for each in inspection.findings if each.outcome == "undecided")
    assert p is not None
    assert charged.provisional
    assert charged.points == pytest.approx(4.0 * (1 - p), abs=0.06)
    assert inspection.verdict.points_if_provisional_lifted == inspection.verdict.out_of


def test_work_never_earns_points_back_but_changes_the_status() -> None:
    bad = reading("coupler.height", "A", "10.5 mm") + reading("coupler.height", "B", "9.93 mm")
    mended = (
        bad
        + work("washer", "A")
        + reading("coupler.height", "A", "9.93 mm")
        + reading("coupler.height", "B", "9.94 mm")
    )
    before, after = inspect(bad).verdict, inspect(mended).verdict
    assert after.points == before.points
    assert (before.scored_stage, after.scored_stage) == (0, 0)
    assert any("coupler height at A" in reason for reason in before.status_reasons)
    assert not any("coupler height at A" in reason for reason in after.status_reasons)
    assert after.status_stage == 1


def test_a_later_reading_settles_what_was_open_as_received() -> None:
    body = work("washer", "A") + reading("weight.total", "", "60 g").replace("fine", "pocket scale")
    [charged] = inspect(body).verdict.deductions
    assert charged.settled_by == "entry 2"


def test_a_clause_that_only_informs_costs_nothing() -> None:
    body = reading("coupler.height", "A", "10.10 mm")
    inspection = inspect(body)
    informs = [each for each in inspection.findings if each.outcome == "fails"]
    assert [each.force for each in informs] == ["regulation-derived"]
    assert inspection.verdict.deductions == ()


def test_nothing_read_is_not_nothing_wrong() -> None:
    verdict = inspect("").verdict
    assert (verdict.points, verdict.out_of, verdict.unexamined, verdict.band) == (0, 0, 120, TOO_LITTLE)
    assert verdict.status == "held for work"
    partly = inspect(reading("coupler.height", "A", "9.93 mm")).verdict
    assert (partly.points, partly.out_of, partly.band) == (26, 26, TOO_LITTLE)
    assert partly.unmeasured > 0


def test_not_seen_costs_nothing_and_missing_does() -> None:
    assert inspect(look("part", "not seen")).verdict.deductions == ()
    assert inspect(look("part", "missing")).verdict.deductions[0].points == 6


def test_a_category_cannot_lose_more_than_it_has() -> None:
    verdict = inspect("".join(look("fit", "spoilt", f"joint {number}") for number in range(9))).verdict
    build = next(each for each in verdict.categories if each.id == "build")
    assert build.lost == build.points == 26
    assert any("no more to lose" in step for each in verdict.deductions for step in each.chain)


def test_a_ruling_deducts_with_its_reason_and_waives_by_name() -> None:
    body = look("part", "missing") + ruling(
        'category = "portrayal"\npoints = 2.5\nreason = "wrong roof"\nwho = "E. Q."'
    )
    [part, ruled] = inspect(body).verdict.deductions
    assert (ruled.points, ruled.cause, ruled.title) == (2.5, "ruling", "wrong roof")
    assert "entry 2: ruling by E. Q.: wrong roof" in ruled.chain
    waived = inspect(look("part", "missing") + ruling('waives = "look.part"\nreason = "sold without it"')).verdict
    assert waived.deductions == ()
    assert waived.waived == ("thing: missing: waived by a ruling: sold without it",)
    assert part.points == 6
    nothing = inspect(ruling('waives = "weight@A"\nreason = "x"')).verdict
    assert nothing.notes == ("entry 1: waives 'weight@A', which is charged nowhere",)


def test_a_ruling_in_an_unknown_category_is_refused() -> None:
    with pytest.raises(TableError, match=r"entry 1 \(ruling\): unknown category 'bild'; did you mean 'build'"):
        inspect(ruling('category = "bild"\npoints = 2\nreason = "x"'))


def test_price_never_changes_points() -> None:
    body = look("part", "missing")
    paid = '[[entry]]\nkind = "acquisition"\npaid = 400.0\nlist_price = 10.0\ncurrency = "crowns"\n'
    assert inspect(body + paid).verdict == inspect(paid + body).verdict.__class__(
        **{
            **{key: getattr(inspect(body).verdict, key) for key in inspect(body).verdict.__slots__},
            "deductions": inspect(body + paid).verdict.deductions,
        }
    )


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (reading("coupler.height", "A", "11.2 mm"), "bad order"),
        (reading("coupler.height", "A", "10.25 mm"), "held for work"),
        ('[[entry]]\nkind = "gauge"\nwhat = "coupler.action"\nat = "A"\nresult = "fail"\n', "bad order"),
        (look("motion", "spoilt"), "held for work"),
    ],
)
def test_a_fault_brings_its_status(body: str, status: str) -> None:
    verdict = inspect(body).verdict
    assert verdict.status == status
    assert any(reason.startswith(f"{status}: ") for reason in verdict.status_reasons)


def test_a_car_without_open_needs_is_in_service_or_restricted() -> None:
    sheet = cw.read_sheet("examples/ho-boxcar.toml")
    assert cw.inspect(sheet).verdict.status == "in service"


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["wheel.back_to_back", "wheel.width", "coupler.height", "weight.total", "body.width"]),
            st.sampled_from("1234"),
            st.sampled_from(["fails", "undecided", "conforms", "not measured"]),
            st.floats(0, 5),
            st.floats(0.05, 0.95),
        ),
        max_size=25,
    )
)
def test_points_are_kept_within_the_rubric_whatever_fails(rows: list[tuple[str, str, str, float, float]]) -> None:
    rubric = load_rubric()
    findings = [
        Finding(
            f"x/{what}", what, what, at, 0, outcome, "standard", "standard", "x", "measured",  # type: ignore[arg-type]
            p_conform=p, value=1.0, u=0.1, half_width=0.2, kind="length", lower=10.0, upper=12.0, excess=excess,
        )
        for what, at, outcome, excess, p in rows
    ]  # fmt: skip
    charges = charges_of(findings, rubric, HO)
    assert len({(each.cause, each.at, each.findings[0].characteristic) for each in charges}) == len(charges)
    verdict = verdict_of(charges, charges, findings, findings, [], rubric, last_stage=0, stage_of_entry={})
    assert 0 <= verdict.points <= verdict.out_of <= rubric.out_of == 120
    assert verdict.points <= verdict.points_if_provisional_lifted <= verdict.out_of
    for category in verdict.categories:
        assert 0 <= category.lost <= category.points


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("carwright-rubric/1", "carwright-rubric/9", "format must be"),
        ('id = "track"', "", "category 1: needs id"),
        ("points = 30", "points = -30", "points must be a number of zero or more"),
        ('category = "track"', 'category = "trakc"', "unknown category 'trakc'; did you mean 'track'"),
        ("most = 11", "most = 1", "most must be at least least"),
        ("far = { share = 0.03 }", "far = { miles = 3 }", "far: unknown key 'miles'; known: percent, scale_in, share"),
        ('status = "held for work"', 'status = "green"', "status must be one of in service"),
        ('charges = ["standard"', 'charges = ["standad"', "unknown force 'standad'; did you mean 'standard'"),
        ("fail = 0.05", "fail = 0.6", "thresholds must be fail < 0.5 < conform"),
        ("from = 0.0", "from = 0.1", "needs bands, the last from 0"),
        ('status_from = "spoilt"', 'status_from = "awful"', "status_from must be one of"),
        ("slight = 0.5", 'slight = "little"', "slight must be a number"),
        ("[[band]]", "[[bands]]", "unknown key 'bands'; did you mean 'band'"),
        ('about = ["coupler.height"]', "about = []", "needs about"),
        ("[[category]]", "[[category", "not TOML"),
    ],
)
def test_a_rubric_with_a_fault_is_named(old: str, new: str, why: str) -> None:
    assert old in RUBRIC_TEXT
    text = RUBRIC_TEXT.replace(old, new) if old == "[[band]]" else RUBRIC_TEXT.replace(old, new, 1)
    with pytest.raises(TableError, match=why):
        read_rubric(text, "mine.toml")


def test_a_rubric_of_ones_own_is_found_beside_the_sheet(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(RUBRIC_TEXT.replace("missing = 6", "missing = 20"), "utf-8")
    text = HEAD.replace('scale = "HO"', 'scale = "HO"\nrubric = "mine.toml"') + look("part", "missing")
    (tmp_path / "car.toml").write_text(text, "utf-8")
    assert cw.inspect(cw.read_sheet(tmp_path / "car.toml")).verdict.deductions[0].points == 20
    (tmp_path / "mine.toml").unlink()
    with pytest.raises(TableError, match="cannot read the rubric"):
        cw.inspect(cw.read_sheet(tmp_path / "car.toml"))
