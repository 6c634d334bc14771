"""Cars nobody measured, corrections, odd rule files, damaged photos: refused or said, never wrong in silence."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import carwright as cw
from carwright.errors import CarwrightError, TableError
from carwright.history import Photo
from carwright.inspection import words_of
from carwright.publish.photos import picture_of
from carwright.tables import load_rules, shipped
from carwright.verdict import read_rubric

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "{}"\n[car.geometry]\n{}\n'
RUBRIC = Path("src/carwright/verdict/rubrics/bench.toml").read_text("utf-8")


def inspect(body: str, scale: str = "HO", geometry: str = "axles_per_truck = 2") -> cw.Inspection:
    return cw.inspect(cw.read_sheet_text(HEAD.format(scale, geometry) + body))


def reading(what: str, at: str, value: str, with_: str = "calliper", **keys: str) -> str:
    more = "".join(f'{key} = "{text}"\n' for key, text in keys.items())
    return f'[[entry]]\nkind = "reading"\nwhat = "{what}"\nat = "{at}"\nvalues = ["{value}"]\nwith = "{with_}"\n{more}'


def height(at: str, value: str, **keys: str) -> str:
    return reading("coupler.height", at, value, "height gauge", **keys)


def entry(text: str) -> str:
    return f"[[entry]]\n{text}\n"


@pytest.mark.parametrize("scale", sorted(words_of(shipped()).scales))
def test_a_car_nobody_measured_is_never_in_service(scale: str) -> None:
    verdict = inspect("", scale).verdict
    assert verdict.status == "held for work"
    assert verdict.status_reasons


def test_a_scale_only_the_norms_know_is_judged_by_them() -> None:
    assert cw.read_sheet_text(HEAD.format("H0", "")).history.rules == ("nem", "bench")
    assert cw.read_sheet_text(HEAD.format("HO", "")).history.rules == ("nmra", "bench")


def test_axles_nobody_counted_hold_the_car() -> None:
    good = height("A", "9.93 mm") + height("B", "9.93 mm") + reading("wheel.back_to_back", "1", "14.48 mm")
    inspection = inspect(good + reading("wheel.flange_thickness", "1", "0.75 mm"), geometry="")
    assert inspection.verdict.status == "held for work"
    assert any("how many axles the car has is not said" in each.reason for each in inspection.findings)
    mended = good + entry('kind = "work"\nremedy = "regauge"\nat = "1"')
    stale = [each for each in inspect(mended, geometry="").findings if each.basis == "stale"]
    assert {each.characteristic for each in stale} == {"wheel.back_to_back"}


def test_a_correction_stands_where_the_slip_stood() -> None:
    first, second = "11111111-1111-1111-1111-111111111111", "22222222-2222-2222-2222-222222222222"
    body = height("A", "10.93 mm", id=first) + entry('kind = "work"\nremedy = "washer"\nat = "A"')
    body += height("A", "9.93 mm") + height("A", "10.39 mm", id=second, supersedes=first)
    history = cw.read_sheet_text(HEAD.format("HO", "") + body).history
    assert [(each.values[0].text, each.stage) for each in history.readings] == [("10.39 mm", 0), ("9.93 mm", 1)]
    circle = height("A", "9.9 mm", id=first, supersedes=second) + height("A", "9.8 mm", id=second, supersedes=first)
    with pytest.raises(cw.SheetError, match="correct each other"):
        inspect(circle)


def test_a_date_alone_stands_with_the_day_before_it_in_the_file() -> None:
    body = height("A", "10.5 mm", when="2026-03-01T10:00") + entry(
        'kind = "work"\nremedy = "washer"\nat = "A"\nwhen = "2026-03-01"'
    )
    assert cw.read_sheet_text(HEAD.format("HO", "") + body).history.readings[0].stage == 0


@pytest.mark.parametrize(
    ("remedy", "at", "fault"),
    [
        ("regauge", "A", "regauge is done at an axle"),
        ("replace-coupler", "3", "replace-coupler is done at an end"),
        ("regauge", "9", "axle 9 is beyond"),
        ("washer", "roof", "is done at an end"),
    ],
)
def test_a_work_is_done_where_its_remedy_can_be(remedy: str, at: str, fault: str) -> None:
    with pytest.raises(cw.SheetError, match=fault):
        inspect(entry(f'kind = "work"\nremedy = "{remedy}"\nat = "{at}"'))


def test_a_reading_too_coarse_to_decide_is_no_certain_fault() -> None:
    inspection = inspect(reading("coupler.height", "A", "1 cm", "steel rule").replace('with = "steel rule"\n', ""))
    [found] = [
        each for each in inspection.findings if each.clause.startswith("bench/") and each.at == "A" and each.value
    ]
    assert found.outcome == "undecided"
    assert "is not capable here" in found.reason
    far = inspect(reading("coupler.height", "A", "14 mm", "steel rule"))
    assert {each.outcome for each in far.findings if each.value} == {"fails"}


def test_by_eye_low_fails_no_upper_limit() -> None:
    low = entry('kind = "gauge"\nwhat = "coupler.droop"\nat = "A"\nresult = "low"')
    inspection = inspect(low, geometry='knuckle_height = "0.145 in"')
    assert {each.outcome for each in inspection.findings if each.entries} == {"conforms"}


def test_of_two_gauges_the_sharp_one_speaks() -> None:
    gauges = "".join(
        f'[[instrument]]\nname = "{name}"\nkind = "gauge"\naccepts = ["{low} mm", "{high} mm"]\nu = "{u} mm"\n'
        for name, low, high, u in (
            ("sharp", 14.4, 14.6, 0.01), ("loose", 14.2, 14.9, 0.01), ("vague", 14.45, 14.55, 5),
            ("off", 13.0, 13.5, 0.01),
        )
    )  # fmt: skip

    def outcome(*names: str) -> str:
        checks = "".join(
            entry(f'kind = "gauge"\nwhat = "wheel.back_to_back"\nat = "1"\nresult = "pass"\nwith = "{name}"')
            for name in names
        )
        found = inspect(gauges + checks).findings
        return next(
            each.outcome for each in found if each.clause == "nmra/s-4.2/HO/wheel.back_to_back" and each.at == "1"
        )

    assert outcome("sharp") == outcome("sharp", "loose") == "conforms"
    assert outcome("loose") == outcome("vague") == "undecided"
    assert outcome("off") == "fails"


def test_an_undescribed_gauge_that_says_otherwise_leaves_it_open() -> None:
    body = reading("wheel.back_to_back", "1", "14.50 mm") + entry(
        'kind = "gauge"\nwhat = "wheel.back_to_back"\nat = "1"\nresult = "low"'
    )
    found = [each for each in inspect(body).findings if each.value and each.force == "standard"]
    assert [(each.outcome, each.reason) for each in found] == [("undecided", "a gauge that is not described says low")]


def test_what_is_certain_is_charged_in_full_before_what_is_provisional() -> None:
    vague = (
        '[[instrument]]\nname = "vague"\nresolution = "0.01 mm"\ncalibration = "0.35 mm"\nrepeatability = "0.02 mm"\n'
    )
    certain = height("A", "10.28 mm")
    both = inspect(vague + certain + reading("coupler.height", "B", "10.75 mm", "vague")).verdict
    alone = inspect(certain).verdict
    assert both.points_if_provisional_lifted == alone.points


def test_looks_without_a_name_are_looks_of_their_own() -> None:
    look = entry('kind = "look"\nwhat = "part"\ngrade = "{}"')
    verdict = inspect(look.replace("{}", "spoilt") + look.replace("{}", "sound")).verdict
    assert [each.points for each in verdict.deductions] == [5.0]


def test_a_wheel_can_be_waived_by_its_name() -> None:
    narrow = reading("wheel.width", "1L", "2.0 mm")
    waiver = entry('kind = "ruling"\nwaives = "wheel.width@1L"\nreason = "fine scale, wanted so"')
    verdict = inspect(narrow + waiver).verdict
    assert (verdict.deductions, verdict.notes) == ((), ())


def test_weighing_is_advised_though_its_limits_wait_for_a_length() -> None:
    advised = {each.what: each for each in inspect("").next_readings}
    assert advised["weight.total"].p_decided is None
    assert "wait for geometry" in advised["weight.total"].why


RULES = """
format = "carwright-rules/1"
id = "club"
title = "club"
[[source]]
key = "c"
title = "t"
body = "b"
kind = "k"
[defaults]
source = "c"
edition = "1"
locator = "1"
status = "judgement"
confidence = "own"
force = "adopted"
[[clause]]
characteristic = "coupler.height"
lower = "0.3 in"
"""
ODD_RULES = [
    ('title = "club"', 'title = "club"\noff = "*"', "off must be a list of texts"),
    ('title = "club"', 'title = "club"\ntables = 3', "tables must be a list of texts"),
    ('title = "club"', 'title = "club"\nsame_scale = "HO"', "same_scale must be a table of texts"),
    ("[[source]]", "[source]", "source must be a list of tables"),
    ("[[clause]]", "[clause]", "clause must be a list of tables"),
    ('lower = "0.3 in"', 'lower = "0.3 in"\nreplaces = "bench/*"', "replaces must be a list of texts"),
    ('lower = "0.3 in"', 'lower = "0.3 in"\nnote = 3', "note must be a text"),
    ('lower = "0.3 in"', 'lower = "0.3 in"\napplies = { coupler = 3 }', "applies must be a table of texts"),
    ('lower = "0.3 in"', 'lower = { expression = 3, unit = "mm" }', "expression must be a text"),
    ('lower = "0.3 in"', 'lower = { expression = "body_length", given = { body_length = "furlong" }, unit = "mm" }',
     "expected a length"),
    ('lower = "0.3 in"', 'lower = { expression = "1", unit = "oz" }', "expected a length"),
    ('lower = "0.3 in"', 'lower = { expression = "1/0", unit = "mm" }', "cannot be computed for this car"),
    ('lower = "0.3 in"', 'lower = "0.4 in"\nupper = "0.3 in"', "the lower limit must be below the upper"),
    ('lower = "0.3 in"', 'nominal = "0.4 in"\nplus_minus = "-0.1 in"', "a tolerance must be zero or more"),
    ('lower = "0.3 in"', 'lower = { from = "{foo}" }', "there is no table"),
    ("format", "format = [" + "[" * 3000, "not TOML"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "fault"), ODD_RULES)
def test_an_odd_rule_file_is_refused_in_our_own_words(tmp_path: Path, old: str, new: str, fault: str) -> None:
    (tmp_path / "club.toml").write_text(RULES.replace(old, new, 1), "utf-8")
    sheet = HEAD.format("HO", "").replace('scale = "HO"', 'scale = "HO"\nrules = ["club.toml"]')
    (tmp_path / "car.toml").write_text(sheet + height("A", "9.9 mm"), "utf-8")
    with pytest.raises(CarwrightError, match=fault):
        cw.inspect(cw.read_sheet(tmp_path / "car.toml"))


def test_a_rule_file_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    (tmp_path / "club.toml").write_bytes(b"\xef\xbb\xbf" + RULES.encode())
    words = words_of(shipped())
    found = load_rules(["club.toml"], scale=words.scales["HO"], tables=shipped(), words=words, folder=tmp_path)
    assert len(found.clauses) == 1


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("far = { share = 0.03 }", 'far = { share = "x" }', "share must be a number"),
        ("far = { share = 0.03 }", "far = { share = nan }", "share must be a number"),
        ("far = { share = 0.03 }", "far = 3", "far must be a table"),
        (
            "[thresholds]\nconform = 0.95",
            "[thresholds]\nconforms = 0.95",
            "unknown key 'conforms'; did you mean 'conform'",
        ),
        ("conform = 0.95", 'conform = "x"', "conform must be a number"),
        ("points = 30", "points = inf", "points must be a number"),
        ("further_places = 0.5", "further_places = -1", "further_places must be a number of zero or more"),
        ("needs = [", "need = [", "unknown key 'need'; did you mean 'needs'"),
        ('charges = ["standard"', 'charges = [3, "standard"', "charges must be a list of texts"),
        ("points = 30", "points = 30\npiont = 1", "unknown key 'piont'"),
    ],
)
def test_an_odd_rubric_is_refused_in_our_own_words(old: str, new: str, fault: str) -> None:
    assert old in RUBRIC
    with pytest.raises(TableError, match=fault):
        read_rubric(RUBRIC.replace(old, new, 1), "mine.toml")


@pytest.mark.parametrize(
    "body",
    [
        entry('kind = "ruling"\nwaives = "x"\npoints = 3.0\nreason = "r"'),
        '[[instrument]]\nname = "x"\n' + height("A", "9.9 mm").replace("height gauge", "x"),
        '[[instrument]]\nname = "x"\npreset = "calipper"\n' + height("A", "9.9 mm").replace("height gauge", "x"),
        "big = " + "9" * 5000,
        entry('kind = "look"\nwhat = "part"\nname = "a\\u001bb"\ngrade = "sound"'),
    ],
)
def test_what_once_crashed_is_a_fault(body: str) -> None:
    with pytest.raises(cw.SheetError):
        inspect(body)


def test_a_damaged_photo_never_stops_the_page(tmp_path: Path) -> None:
    jpeg = bytes.fromhex("ffd8ffe000104a46494600010100000100010000ffdb0043ff")
    for name in ("a.jpg", "b.avif", "c.blp", "d.png"):
        (tmp_path / name).write_bytes({"b.avif": b"\0\0\0 ftypavif" + jpeg, "c.blp": b"BLP2" + jpeg}.get(name, jpeg))
        assert picture_of(Photo(1, name, "", "", "", 0), str(tmp_path)).problem


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_a_terminal_of_any_encoding_gets_the_words(encoding: str) -> None:
    environment = {**os.environ, "PYTHONIOENCODING": encoding}
    for more in ([], ["--json"]):
        command = [sys.executable, "-m", "carwright", "inspect", "examples/h0-four-wheel-van.toml", *more]
        result = subprocess.run(command, capture_output=True, check=False, env=environment)
        assert (result.returncode, result.stderr) == (0, b"")
        assert b"back-to-back" in result.stdout


def test_other_files_in_the_demos_folder_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "pyproject.toml").write_text("[project]\n", "utf-8")
    command = [sys.executable, "-m", "carwright", "demo", "--dir", str(tmp_path)]
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (result.returncode, result.stderr) == (0, "")
