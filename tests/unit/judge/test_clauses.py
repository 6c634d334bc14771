"""Clauses on values: four outcomes, their reasons, and the boundary."""

from __future__ import annotations

import math
import textwrap
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.history import GaugeCheck, GaugeLimits
from carwright.judge.clauses import gauge_outcome

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
rules = {rules}
[car.geometry]
axles_per_truck = 2
{geometry}
[[instrument]]
name = "fine"
resolution = "0.001 mm"
calibration = "0.004 mm"
repeatability = "0.003 mm"
repeatability_n = 500
[[instrument]]
name = "coarse"
resolution = "0.1 mm"
calibration = "0.4 mm"
repeatability = "0.3 mm"
repeatability_n = 500
[[instrument]]
name = "gauge"
kind = "gauge"
accepts = ["14.38 mm", "14.60 mm"]
u = "0.02 mm"
[[instrument]]
name = "wide gauge"
kind = "gauge"
accepts = ["14.20 mm", "14.90 mm"]
u = "0.02 mm"
"""


def inspect(body: str, rules: str = '["nmra", "bench"]', geometry: str = "", **keys: str) -> cw.Inspection:
    sheet = cw.read_sheet_text(HEAD.format(rules=rules, geometry=geometry) + textwrap.dedent(body))
    return cw.inspect(sheet, **keys)  # type: ignore[arg-type]


def reading(what: str, at: str, *values: str, **keys: str) -> str:
    lines = [f'what = "{what}"', f"values = {list(values)!r}".replace("'", '"')]
    lines += [f'at = "{at}"'] if at else []
    lines += [f'{key.rstrip("_")} = "{value}"' for key, value in ({"with_": "fine"} | keys).items() if value]
    return '[[entry]]\nkind = "reading"\n' + "\n".join(lines) + "\n"


def gauge(result: str, what: str = "wheel.back_to_back", at: str = "1", **keys: str) -> str:
    lines = [f'what = "{what}"', f'result = "{result}"'] + ([f'at = "{at}"'] if at else [])
    lines += [f'{key.rstrip("_")} = "{value}"' for key, value in keys.items() if value]
    return '[[entry]]\nkind = "gauge"\n' + "\n".join(lines) + "\n"


def finding(inspection: cw.Inspection, clause: str, at: str) -> cw.Finding:
    return next(each for each in inspection.findings if each.clause == clause and each.at == at)


HEIGHT = "bench/practice/HO/coupler.height"
BACK = "nmra/s-4.2/HO/wheel.back_to_back"


@pytest.mark.parametrize(
    ("height", "outcome"),
    [
        ("9.93 mm", "conforms"),
        ("10.17 mm", "conforms"),
        ("10.185 mm", "undecided"),
        ("10.19 mm", "undecided"),
        ("10.20 mm", "fails"),
        ("9.65 mm", "fails"),
    ],
)
def test_an_outcome_follows_the_probability(height: str, outcome: str) -> None:
    found = finding(inspect(reading("coupler.height", "A", height)), HEIGHT, "A")
    assert found.outcome == outcome
    p = found.p_conform
    assert p is not None
    assert {"conforms": p >= 0.95, "fails": p <= 0.05, "undecided": 0.05 < p < 0.95}[outcome]


def test_the_record_holds_every_number_put_in() -> None:
    found = finding(inspect(reading("coupler.height", "A", "10.30 mm", "10.31 mm")), HEIGHT, "A")
    assert found.value == pytest.approx(10.305)
    assert found.u is not None
    assert found.p_conform is not None
    assert found.lower == pytest.approx(0.381 * 25.4)
    assert found.upper == pytest.approx(0.401 * 25.4)
    assert found.nominal == pytest.approx(0.391 * 25.4)
    assert found.excess == pytest.approx(10.305 - 0.401 * 25.4)
    assert found.instruments == ("fine",)
    assert found.entries == (1,)
    assert math.fsum(share for _, _, share in found.budget) == pytest.approx(1.0)
    assert {side: source.key for side, source in found.sources} == {
        "nominal": "nmra-s-2",
        "plus": "bench-practice",
        "minus": "bench-practice",
    }


def test_an_instrument_that_can_decide_nothing_is_named() -> None:
    found = finding(inspect(reading("coupler.height", "A", "9.9 mm", with_="coarse")), HEIGHT, "A")
    assert found.outcome == "undecided"
    assert not found.capable
    assert found.u_needed == pytest.approx(0.254 / 1.96, rel=0.02)
    assert "coarse is not capable here: no reading could conform" in found.reason


@given(st.floats(9.0, 11.0))
def test_an_instrument_called_incapable_never_conforms(height: float) -> None:
    found = finding(inspect(reading("coupler.height", "A", f"{height:.3f} mm", with_="coarse")), HEIGHT, "A")
    assert found.outcome != "conforms"


def test_nothing_read_is_not_measured_and_never_zero() -> None:
    found = finding(inspect(""), HEIGHT, "A")
    assert (found.outcome, found.value, found.p_conform) == ("not measured", None, None)


def test_a_nominal_without_tolerance_is_no_limit() -> None:
    found = finding(inspect(reading("coupler.height", "A", "10.43 mm"), '["nmra"]'), "nmra/s-2/HO/coupler.height", "A")
    assert (found.outcome, found.basis, found.p_conform) == ("undecided", "no limit", None)
    assert "0.020 in from the nominal, and the sheet prints no tolerance" in found.reason


def test_every_turn_must_conform() -> None:
    body = reading("wheel.back_to_back", "1", "14.45 mm", turn="0 deg") + reading(
        "wheel.back_to_back", "1", "14.30 mm", turn="180 deg"
    )
    found = finding(inspect(body), BACK, "1")
    assert found.outcome == "fails"
    assert found.value == pytest.approx(14.30)
    assert any(note.startswith("run-out 0.006 in") for note in found.notes)


@pytest.mark.parametrize(
    ("result", "with_", "outcome", "basis"),
    [
        ("pass", "gauge", "conforms", "gauge only"),
        ("pass", "wide gauge", "undecided", "gauge only"),
        ("low", "wide gauge", "fails", "gauge only"),
        ("low", "gauge", "undecided", "gauge only"),
        ("high", "gauge", "fails", "gauge only"),
        ("pass", "", "conforms", "by eye"),
        ("low", "", "fails", "by eye"),
    ],
)
def test_a_gauge_alone_gives_no_number(result: str, with_: str, outcome: str, basis: str) -> None:
    found = finding(inspect(gauge(result, with_=with_)), BACK, "1")
    expected = "undecided" if (result, with_) == ("high", "gauge") else outcome
    assert (found.outcome, found.basis, found.p_conform) == (expected, basis, None)


def test_a_gauge_with_a_reading_moves_the_probability() -> None:
    alone = finding(inspect(reading("wheel.back_to_back", "1", "14.37 mm", with_="calliper")), BACK, "1")
    told = finding(
        inspect(reading("wheel.back_to_back", "1", "14.37 mm", with_="calliper") + gauge("pass", with_="gauge")),
        BACK,
        "1",
    )
    assert alone.p_conform is not None
    assert told.p_conform is not None
    assert told.p_conform > alone.p_conform + 0.1


def test_a_gauge_that_contradicts_a_reading_leaves_it_open() -> None:
    body = reading("wheel.back_to_back", "1", "14.90 mm") + gauge("low", with_="gauge")
    found = finding(inspect(body), BACK, "1")
    assert (found.outcome, found.basis) == ("undecided", "contradiction")
    assert "contradict each other" in found.reason


def test_a_gauge_at_an_unread_turn_is_not_ignored() -> None:
    body = reading("wheel.back_to_back", "1", "14.50 mm", turn="0 deg") + gauge(
        "low", turn="180 deg", with_="wide gauge"
    )
    assert finding(inspect(body), BACK, "1").outcome == "fails"


@pytest.mark.parametrize(
    ("result", "limits", "outcome"),
    [
        ("pass", (1.0, 2.0), "conforms"),
        ("pass", (0.9, 2.0), "undecided"),
        ("low", (1.0, 2.0), "fails"),
        ("low", (1.1, 2.0), "undecided"),
        ("high", (1.0, 2.0), "fails"),
        ("high", (1.0, 1.9), "undecided"),
    ],
)
def test_what_a_gauge_settles(result: str, limits: tuple[float, float], outcome: str) -> None:
    check = GaugeCheck(1, "x", "", "", result, GaugeLimits("g", *limits, 0.01), 0)
    assert gauge_outcome(check, 1.0, 2.0) == outcome


def test_rolling_on_a_grade_is_a_gauge() -> None:
    clause = "bench/practice/HO/roll.start"
    assert finding(inspect(gauge("pass", "roll.free", "", grade="2 %")), clause, "").outcome == "conforms"
    assert finding(inspect(gauge("pass", "roll.free", "", grade="2.5 %")), clause, "").outcome == "undecided"
    assert finding(inspect(gauge("fail", "roll.free", "", grade="2.5 %")), clause, "").outcome == "fails"
    assert finding(inspect(gauge("fail", "roll.free", "", grade="1 %")), clause, "").outcome == "undecided"


def test_something_tried_by_hand() -> None:
    clause = "bench/practice/HO/coupler.action"
    assert finding(inspect(gauge("pass", "coupler.action", "A")), clause, "A").outcome == "conforms"
    assert finding(inspect(gauge("fail", "coupler.action", "A")), clause, "A").outcome == "fails"


def test_weight_asks_for_the_body_only_when_it_needs_it() -> None:
    clause = "bench/practice/HO/weight.total"
    weighed = reading("weight.total", "", "100 g", with_="pocket scale")
    found = finding(inspect(weighed), clause, "")
    assert (found.outcome, found.basis) == ("not measured", "needs geometry")
    assert found.reason == "weight of the complete car needs body_length in [car.geometry]"
    assert finding(inspect(weighed, geometry='body_length = "5.35 in"'), clause, "").outcome == "conforms"
    measured = weighed + reading("body.length", "", "135.9 mm", with_="calliper")
    found = finding(inspect(measured), clause, "")
    assert found.outcome == "conforms"
    assert found.u_limit > 0


def test_a_measured_length_widens_the_limits() -> None:
    clause = "bench/practice/HO/weight.total"
    weighed = reading("weight.total", "", "118.0 g", with_="pocket scale")
    stated = finding(inspect(weighed, geometry='body_length = "135.9 mm"'), clause, "")
    measured = finding(inspect(weighed + reading("body.length", "", "135.9 mm", with_="coarse")), clause, "")
    assert stated.p_conform is not None
    assert measured.p_conform is not None
    assert stated.upper == pytest.approx(measured.upper)
    assert abs(measured.p_conform - 0.5) < abs(stated.p_conform - 0.5)


def test_a_clause_applies_only_where_it_says() -> None:
    def clauses(extra: str) -> set[str]:
        text = HEAD.format(rules='["bench"]', geometry="").replace('scale = "HO"', f'scale = "HO"\n{extra}')
        return {each.clause for each in cw.inspect(cw.read_sheet_text(text)).findings}

    assert "bench/practice/HO/pin.height" in clauses('trip_pin = "fitted"')
    assert "bench/practice/HO/pin.height" not in clauses('trip_pin = "none"')
    assert "bench/practice/HO/pin.height" not in clauses("")


def test_thresholds_are_the_rubrics(tmp_path: Path) -> None:
    rubric = Path("src/carwright/verdict/rubrics/bench.toml").read_text("utf-8")
    (tmp_path / "strict.toml").write_text(rubric.replace("conform = 0.95", "conform = 0.999"), "utf-8")
    body = reading("coupler.height", "A", "10.172 mm")
    assert finding(inspect(body), HEIGHT, "A").outcome == "conforms"
    strict = inspect(body, rubric=str(tmp_path / "strict.toml"))
    assert finding(strict, HEIGHT, "A").outcome == "undecided"


def test_looks_are_by_eye_and_not_seen_is_never_missing() -> None:
    look = '[[entry]]\nkind = "look"\nwhat = "part"\nname = "{}"\ngrade = "{}"\n'
    found = inspect("".join(look.format(grade, grade) for grade in ("sound", "slight", "missing", "not seen")))
    outcomes = {each.title: (each.outcome, each.p_conform, each.basis) for each in found.findings if each.grade}
    assert outcomes == {
        "sound": ("conforms", None, "by eye"),
        "slight": ("fails", None, "by eye"),
        "missing": ("fails", None, "by eye"),
        "not seen": ("not measured", None, "by eye"),
    }
