"""A person with a model and a few photographs: the command, the sheet, the page, and their slips."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

import carwright as cw
from carwright.publish.charts.timeline import timeline_scene
from carwright.publish.lettering import lettering_of
from carwright.publish.report import report_html
from carwright.publish.scene import inline_svg
from carwright.publish.theme import load_theme

EVIDENCE = Path("examples/dates/boxcar-evidence.toml")
ROSTER = Path("examples/dates/roster.csv")
DEMO = Path("examples/ho-covered-hopper.toml")


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "carwright", *words], capture_output=True, text=True, check=False)


def test_a_file_of_evidence_is_dated_as_one_document() -> None:
    result = run("date", str(EVIDENCE), "--json")
    assert result.returncode == 0, result.stderr
    found = json.loads(result.stdout)
    assert found["format"] == "carwright-date/1"
    assert {"window", "posterior", "conflicts", "anachronisms", "work"} <= set(found)
    assert {"earliest", "latest_soft", "latest_hard", "bounded_by"} <= set(found["window"])
    assert [each["feature"] for each in found["anachronisms"]] == ["truck.arch-bar", "aci-label"]
    assert [each["feature"] for each in found["work"]] == ["aci-label", "truck.cast-u"]
    assert all({"claims", "why"} <= set(each) for each in found["conflicts"])
    slide = found["evidence"][1]
    assert any("red with the leaping fish" in each["claims"][0] for each in slide["conflicts"])
    assert next(each["doubt"] for each in slide["doubts"]) == ["claim 1952 (colour slide, invented)"]
    cars = found["prototype"]["quantity"]
    assert 480 < cars["cars"] < 500
    assert cars["u"] > 0
    assert found["life"]["model_stands_nearest_to"] == "colour slide, invented"


def test_one_picture_alone_has_its_posterior_on_top(tmp_path: Path) -> None:
    path = tmp_path / "one.toml"
    path.write_text(
        'format = "carwright-evidence/1"\ntype = "boxcar"\n[[evidence]]\nsource = "photo"\n'
        'seen = [{ feature = "brake.AB" }, { feature = "stencil.weighed", date = "1955-03" }]\n',
        "utf-8",
    )
    found = json.loads(run("date", str(path), "--json").stdout)
    assert found["posterior"]["p10"] >= "1955-03"
    assert found["posterior"]["p10"] < found["posterior"]["p50"] < found["posterior"]["p90"]
    assert found["window"]["earliest"] == "1955-03"
    for each in found["posterior"]["intervals"]:
        assert each["probability"] >= each["asked"]  # never narrower than said


def test_a_wanted_year_may_be_given_on_the_way() -> None:
    found = json.loads(run("date", str(EVIDENCE), "--wanted", "1940-03", "--json").stdout)
    assert found["wanted"] == {"first": "1940-03", "last": "1940-03"}
    assert "stencil.built" in [each["feature"] for each in found["anachronisms"]]


def test_what_no_work_cures_is_said() -> None:
    result = run("date", str(EVIDENCE), "--wanted", "1940-03")
    assert "No work makes it right for 1940-03" in result.stdout
    assert "no work cures: built date (1941-09): right from 1941-09" in result.stdout


def test_a_roster_comes_out_with_every_window(tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    result = run("date", str(ROSTER), "--csv", str(out))
    assert result.returncode == 0, result.stderr
    with out.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["as_wanted"] for row in rows] == ["right", "right", "right", "right", "wrong"]
    assert rows[4]["bounded_by"]
    found = json.loads(run("date", str(ROSTER), "--json").stdout)
    assert [car["latest_hard"] for car in found["cars"]] == [row["latest_hard"] for row in rows]


def test_evidence_comes_out_as_csv_too(tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    assert run("date", str(EVIDENCE), "--csv", str(out)).returncode == 0
    with out.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["of"] for row in rows] == ["photo", "photo", "photo", "roster"]
    assert rows[0]["p10"] < rows[0]["p50"] < rows[0]["p90"]
    assert rows[1]["clashes"]


def test_ones_own_rules_date_a_roster(tmp_path: Path) -> None:
    roster = tmp_path / "own.csv"
    roster.write_text("owner,number,type,shows\nQuillback & Western,1,boxcar,paint.red\n", "utf-8")
    assert "nobody defined the feature 'paint.red'" in run("date", str(roster)).stderr
    found = json.loads(run("date", str(roster), "--rules", "examples/dates/quillback-dated.toml", "--json").stdout)
    assert found["cars"][0]["earliest"] == "1953-04"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "[[evidence]]\nsource = 'x'\nclaim = '1957-13'\n",
            "evidence.toml:4: evidence 1 (x), claim: cannot read '1957-13'",
        ),
        ("[[evidence]]\nsource = 'x'\nseen = [{feature = 'brake wheels'}]\n", "did you mean"),
        ("wnted = '1957'\n", "unknown table or key 'wnted'; did you mean 'wanted'?"),
        ("wanted = '1957-13'\n[[evidence]]\nsource = 'x'\n", "wanted: cannot read '1957-13'"),
        ("rules = ['none.toml']\n[[evidence]]\nsource = 'x'\n", "none.toml: cannot be read"),
        ("[prototype]\nroster = 'none.csv'\n", "none.csv: cannot be read"),
        ("title = 'nothing'\n", "nothing to date"),
        ("[evidence]\n", "evidence: write it as [[evidence]], with two brackets"),
        ("title = \n", "not TOML"),
    ],
)
def test_slips_are_named_with_their_place(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "evidence.toml"
    path.write_text(f'format = "carwright-evidence/1"\n{text}', "utf-8")
    result = run("date", str(path))
    assert result.returncode == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert "Traceback" not in result.stderr


def test_files_that_are_none_say_so(tmp_path: Path) -> None:
    for name in ("none.toml", "none.csv"):
        result = run("date", str(tmp_path / name))
        assert result.returncode == 2
        assert "cannot be read: No such file" in result.stderr
    other = tmp_path / "other.toml"
    other.write_text('format = "carwright-evidence/2"\n', "utf-8")
    assert "expected format = 'carwright-evidence/1'" in run("date", str(other)).stderr


def test_a_sheet_may_be_dated_as_it_is() -> None:
    result = run("date", str(DEMO))
    assert "inspection stencil of one panel" in result.stdout
    assert "Life line" in result.stdout


def test_any_date_is_behind_a_name() -> None:
    assert (
        "brake.K/first-seen/1905: first seen 1905-01-01 to 1910-12-31; practice, from memory"
        in run("tables", "brake.K").stdout
    )
    everything = run("tables", "dated").stdout
    assert everything.count("from memory") == 7  # six rules, and the line that says what it means
    assert "NEM" not in everything or "nem-806-d" in everything
    assert "running-board.wood" in run("tables", "roof walk").stdout
    assert "did you mean 'brake.K'" in run("tables", "brake.KK").stderr


def test_inspecting_the_demo_finds_and_charges_its_anachronism_once() -> None:
    inspection = cw.inspect(cw.read_sheet(DEMO))
    fails = [
        each.characteristic for each in inspection.findings if each.rule_set == "dated" and each.outcome == "fails"
    ]
    assert fails == ["era.inspection-panel.one"]
    charged = [each for each in inspection.verdict.deductions if each.cause == "era.inspection-panel"]
    assert [each.points for each in charged] == [2.0]
    assert any("evidence: inspection stencil of one panel" in line for line in charged[0].chain)


@pytest.mark.parametrize("path", [DEMO])
def test_the_page_has_a_section_for_prototype_era_and_dimensions(path: Path) -> None:
    page = report_html(cw.inspect(cw.read_sheet(path)), version="test")
    for head in (
        "<h2>Prototype</h2>",
        "<h2>Era</h2>",
        "<h2>Evidence</h2>",
        "<h2>Dimensions against the full-size car</h2>",
    ):
        assert page.count(head) == 1, head
    drawings = [part for part in page.split("<svg ") if part.startswith('class="timeline"')]
    assert len(drawings) == 2
    for part in drawings:
        ET.fromstring("<svg " + part.partition("</svg>")[0] + "</svg>")
    assert "Over scale on purpose" in page
    assert "sources differ" in page


def test_the_time_line_draws_every_month_where_it_is() -> None:
    inspection = cw.inspect(cw.read_sheet(DEMO))
    portrayal = inspection.portrayal
    assert portrayal is not None
    window = portrayal.window(inspection.stage)
    assert window is not None
    scene = timeline_scene(window, portrayal.wanted, portrayal.dated, lettering_of(load_theme()))
    assert scene is not None
    svg = ET.fromstring(inline_svg(scene))
    years = {float(each.get("x") or 0): int(each.text or 0) for each in svg if each.get("class") == "year"}
    (x0, y0), (x1, y1) = min(years.items()), max(years.items())
    wanted = next(each for each in svg.iter("rect") if each.get("class") == "wanted")
    place = x0 + (x1 - x0) * (1962 - y0) / (y1 - y0)
    assert float(wanted.get("x") or 0) == pytest.approx(place, abs=0.15)
    assert float(wanted.get("width") or 0) == pytest.approx((x1 - x0) / (y1 - y0), abs=0.15)


def test_a_page_without_evidence_has_none_of_it() -> None:
    page = report_html(cw.inspect(cw.read_sheet("examples/ho-boxcar.toml")), version="test")
    assert "<h2>Era</h2>" not in page
    assert "timeline" not in page.partition("</style>")[2]
