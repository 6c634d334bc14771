"""What a car portrays, as findings the verdict charges by cause."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

import carwright as cw
from carwright.errors import UnknownNameError
from carwright.inspection import Inspection

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "Test"\nscale = "HO"\ntype = "boxcar"\n[car.prototype]\n'
MODEL = '[[entry]]\nkind = "evidence"\nof = "model"\nsource = "the model"\nseen = [{}]\n'


def inspected(prototype: str, seen: str = "", rest: str = "") -> Inspection:
    return cw.inspect(cw.read_sheet_text(HEAD + prototype + "\n" + (MODEL.format(seen) if seen else "") + rest))


def era(inspection: Inspection) -> dict[str, tuple[str, str]]:
    return {
        finding.characteristic: (finding.outcome, finding.force)
        for finding in inspection.findings
        if finding.characteristic.startswith("era.")
    }


def lost(inspection: Inspection) -> dict[str, float]:
    return {each.cause: each.points for each in inspection.verdict.deductions}


def test_each_thing_shown_is_judged_for_the_wanted_year() -> None:
    found = inspected(
        'wanted = "1957"', '{feature = "brake.AB"}, {feature = "aci-label"}, {feature = "bearing.roller"}'
    )
    assert era(found) == {
        "era.aci-label": ("fails", "adopted"),  # a first sighting
        "era.bearing.roller": ("undecided", "practice"),
        "era.brake.AB": ("conforms", "practice"),
    }
    assert lost(found) == {"era.aci-label": 2.0}  # practice informs only


def test_what_was_changed_together_is_charged_once() -> None:
    seen = (
        '{feature = "running-board.none"}, {feature = "ladders.full"}, {feature = "hand-brake-height.high"},'
        '{feature = "keep-off-roof-sign", state = "absent"}, {feature = "end-handhold", state = "absent"}'
    )
    found = inspected('wanted = "1978"\nbuilt = "1948-05"', seen)
    wrong = [each for each in era(found) if era(found)[each][0] == "fails"]
    assert wrong == ["era.end-handhold", "era.keep-off-roof-sign", "era.ladders.cut-A-end"]
    assert lost(found) == {"era.running-board": 2.0}
    [deduction] = found.verdict.deductions
    assert any("keep-off-roof-sign" in line for line in deduction.chain)
    assert any("end-handhold" in line for line in deduction.chain)


def test_what_the_cargo_asks_for_is_forgotten_one_by_one() -> None:
    seen = (
        '{feature = "hazardous-service"},'
        '{feature = "head-shield", state = "absent"}, {feature = "bottom-protection", state = "absent"}'
    )
    text = HEAD.replace("boxcar", "tank car") + 'wanted = "2010"\nbuilt = "1975-05"\n' + MODEL.format(seen)
    found = cw.inspect(cw.read_sheet_text(text))
    assert lost(found) == {"era.head-shield": 2.0, "era.bottom-protection": 2.0}


def test_a_built_date_too_late_for_several_things_is_charged_once() -> None:
    seen = '{feature = "brake.K"}, {feature = "hand-brake.staff"}, {feature = "stencil.built", date = "1948-05"}'
    found = inspected('wanted = "1950"', seen)
    assert lost(found) == {"era.stencil.built": 2.0}


def test_without_a_wanted_year_it_must_go_with_itself() -> None:
    right = inspected("", '{feature = "brake.AB"}, {feature = "bearing.plain"}')
    assert era(right) == {"era.window": ("conforms", "practice")}
    clash = inspected("", '{feature = "bearing.plain"}, {feature = "reflectors.sheeting"}, {feature = "aei-tag"}')
    assert era(clash) == {"era.bearing.plain": ("fails", "standard")}
    [finding] = [each for each in clash.findings if each.characteristic == "era.bearing.plain"]
    assert "against" in finding.reason
    assert finding.notes[0].startswith("or else: ")
    assert lost(clash) == {"era.bearing.plain": 2.0}


def test_a_work_mends_the_status_and_never_the_score() -> None:
    rest = '[[entry]]\nkind = "work"\nremedy = "remove-feature"\nfeature = "aci-label"\n'
    found = inspected('wanted = "1957"', '{feature = "aci-label"}', rest)
    assert era(found) == {"era.aci-label": ("conforms", "standard")}  # it may be missing in 1957
    assert lost(found) == {"era.aci-label": 2.0}
    assert all(each.outcome != "fails" for each in found.findings)


def test_a_sheet_that_wants_a_year_but_shows_nothing_has_no_finding() -> None:
    assert era(inspected('wanted = "1957"')) == {}


DIMENSIONS = """
[[car.prototype.dimension]]
name = "body.length"
value = "40' 6\\""
u = "0.5 in"
[[car.prototype.dimension]]
name = "roof height"
value = "14 ft"
u = "0.5 in"
[[car.prototype.dimension]]
name = "grab iron"
value = "0.75 in"
of = "drawing"
over_scale = "a scale wire would not stand handling"
"""
READ = '[[entry]]\nkind = "reading"\nwhat = "{}"\n{}values = ["{}"]\nwith = "calliper"\n'


def measured(length: str, height: str) -> Inspection:
    rest = READ.format("body.length", "", length) + READ.format("dimension", 'name = "roof height"\n', height)
    rest += READ.format("dimension", 'name = "grab iron"\n', "0.50 mm")
    return inspected("", rest=DIMENSIONS + rest)


def test_dimensions_are_judged_by_the_rubrics_class() -> None:
    found = measured("141.90 mm", "51.00 mm")
    outcome = {each.characteristic: each.outcome for each in found.findings if each.rule_set == "fidelity"}
    assert outcome == {
        "dimension.body.length": "conforms",
        "dimension.roof height": "fails",
        "dimension.grab iron": "conforms",
    }
    assert list(lost(found)) == ["dimension.roof height"]
    [grab] = [each for each in found.findings if each.characteristic == "dimension.grab iron"]
    assert grab.force == "practice"
    assert grab.notes == ("over scale on purpose: a scale wire would not stand handling",)
    assert found.fidelity is not None
    assert found.fidelity.tolerance.id == "close"
    assert not found.unjudged


def test_a_model_off_scale_is_charged_once() -> None:
    found = measured("144.60 mm", "49.97 mm")  # both 2 % over
    fails = [each.characteristic for each in found.findings if each.outcome == "fails" and each.rule_set == "fidelity"]
    assert fails == ["dimension.body.length", "dimension.roof height"]
    assert list(lost(found)) == ["dimension.scale"]


def test_a_class_nobody_knows_says_so(tmp_path: Path) -> None:
    text = (files("carwright.verdict") / "rubrics" / "bench.toml").read_text("utf-8")
    (tmp_path / "own.toml").write_text(text.replace('class = "close"', 'class = "closer"'), "utf-8")
    sheet = cw.read_sheet_text(HEAD + DIMENSIONS)
    with pytest.raises(UnknownNameError, match="there is no tolerance class 'closer'; did you mean 'close'"):
        cw.inspect(sheet, rubric=str(tmp_path / "own.toml"))


@pytest.mark.parametrize(
    ("seen", "count"), [('{feature = "brake.AB"}', 1), ('{feature = "stencil.weighed", date = "1955-03"}', 1)]
)
def test_findings_name_the_entries_they_rest_on(seen: str, count: int) -> None:
    found = inspected('wanted = "1957"', seen)
    assert [each.entries for each in found.findings if each.rule_set == "dated"] == [(1,)] * count
