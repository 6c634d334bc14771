"""The report: valid HTML, self-contained, escaped, and saying what the inspection says."""

from __future__ import annotations

import base64
import io
import re
import shutil
from pathlib import Path

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

import carwright as cw
from carwright.history import Photo
from carwright.measure.frame import height_u
from carwright.publish.charts.along import Along, along_scene
from carwright.publish.document import as_document, as_json_text
from carwright.publish.photos import LONGEST_SIDE, picture_of
from carwright.publish.report import reasons, report_html, summary
from carwright.publish.scene import Scene

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = {title}\nscale = "HO"\n'


def report(path: Path) -> str:
    return report_html(cw.inspect(cw.read_sheet(path)), version="0")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_examples_report_is_valid_html_and_asks_for_nothing_outside(path: Path) -> None:
    text = report(path)
    html5lib.HTMLParser(strict=True).parse(text)
    assert not re.search(r"(src|href)\s*=\s*[\"'](?!data:|#)", text)
    assert "url(" not in text.replace("url(data:font/woff2;base64,", "")
    assert "<script" not in text


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_charged_finding_and_every_point_is_on_the_page(path: Path) -> None:
    inspection = cw.inspect(cw.read_sheet(path))
    page = html5lib.parse(report_html(inspection, version="0"), namespaceHTMLElements=False)
    words = " ".join("".join(page.itertext()).split())
    for finding in inspection.findings:
        if finding.outcome in {"fails", "undecided"}:
            assert finding.subject in words
    for deduction in inspection.verdict.deductions:
        assert deduction.title in words
        for step in deduction.chain:
            assert " ".join(step.split()) in words
    for sentence in summary(inspection):
        assert sentence in words
    assert inspection.verdict.status in words


def test_the_same_sheet_gives_the_same_page() -> None:
    assert report(Path("examples/o-tank-car.toml")) == report(Path("examples/o-tank-car.toml"))


def test_old_and_new_editions_stand_side_by_side() -> None:
    text = report(Path("examples/h0-four-wheel-van.toml"))
    assert "nem/310-1977" in text
    assert "Old sheets beside new" in text
    assert "Old sheets beside new" not in report(Path("examples/ho-boxcar.toml"))


def test_price_stands_beside_the_faults() -> None:
    text = report(Path("examples/ho-covered-hopper.toml"))
    assert "31.50 crowns" in text
    assert "44.95 crowns" in text
    assert "A price never changes points" in text


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=200))
def test_hostile_titles_are_escaped(title: str) -> None:
    quoted = '"' + "".join(f"\\U{ord(sign):08X}" for sign in title if not 0xD800 <= ord(sign) <= 0xDFFF) + '"'
    if quoted == '""':
        return
    sheet = cw.read_sheet_text(HEAD.format(title=quoted))
    text = report_html(cw.inspect(sheet), version="0")
    assert "<script" not in text
    if "<" in title:
        assert f"<h1>{title}</h1>" not in text


def test_markup_in_what_a_person_writes_is_shown_as_written() -> None:
    look = '[[entry]]\nkind = "look"\nwhat = "part"\nname = "<img src=x onerror=alert(1)>"\ngrade = "marked"\n'
    text = report_html(
        cw.inspect(cw.read_sheet_text(HEAD.format(title='"<script>alert(1)</script>"') + look)), version="0"
    )
    assert "<script>alert" not in text
    assert "<img src=x" not in text
    html5lib.HTMLParser(strict=True).parse(text)


def test_a_photo_is_made_smaller_and_loses_what_the_camera_wrote(tmp_path: Path) -> None:
    image = Image.new("RGB", (3000, 1500), (120, 90, 60))
    exif = Image.Exif()
    exif[0x0112] = 6  # turned a quarter
    exif[0x8825] = {1: "N", 2: (51.0, 30.0, 0.0)}  # where it was taken
    image.save(tmp_path / "a.jpg", exif=exif)
    picture = picture_of(Photo(1, "a.jpg", "step", "", "", 0), str(tmp_path))
    assert (picture.width, picture.height) == (LONGEST_SIDE // 2, LONGEST_SIDE)
    raw = Image.open(io.BytesIO(base64.b64decode(picture.data.partition(",")[2])))
    assert not raw.getexif()


def test_a_photo_that_cannot_be_shown_says_why(tmp_path: Path) -> None:
    (tmp_path / "text.jpg").write_text("no picture", "utf-8")
    assert picture_of(Photo(1, "text.jpg", "", "", "", 0), str(tmp_path)).problem.endswith(
        "it is no picture this program can read"
    )
    assert picture_of(Photo(1, "gone.jpg", "", "", "", 0), str(tmp_path)).problem.endswith("there is no such file")
    sheet = tmp_path / "car.toml"
    shutil.copy("examples/ho-covered-hopper.toml", sheet)
    assert "there is no such file" in report(sheet)


def test_the_document_has_what_it_promises() -> None:
    inspection = cw.inspect(cw.read_sheet("examples/ho-covered-hopper.toml"))
    document = as_document(inspection)
    assert next(iter(document)) == "format"
    assert document["format"] == "carwright-inspection/1"
    assert {"car", "stages", "findings", "causes", "plans", "next_readings", "verdict"} <= set(document)
    keys = {
        "clause", "characteristic", "at", "stage", "outcome", "p_conform", "value", "u", "unit", "limits", "force",
        "source", "status",
    }  # fmt: skip
    assert all(keys <= set(row) for row in document["findings"])
    verdict = {
        "points", "out_of", "points_if_provisional_lifted", "band", "scored_stage", "status", "status_stage",
        "deductions",
    }  # fmt: skip
    assert verdict <= set(document["verdict"])
    deduction = {"points", "provisional", "settled_by", "category", "cause", "chain"}
    assert all(deduction <= set(row) for row in document["verdict"]["deductions"])
    looks = [row for row in document["findings"] if row["grade"]]
    assert all(row["p_conform"] is None and row["basis"] == "by eye" for row in looks)
    assert "NaN" not in as_json_text(inspection)
    assert "Infinity" not in as_json_text(inspection)


def test_bars_of_a_profile_are_as_long_as_the_frame_counts_them(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[Along] = []

    def noted(along: Along) -> Scene:
        drawn.append(along)
        return along_scene(along)

    monkeypatch.setattr(reasons, "along_scene", noted)
    inspection = cw.inspect(cw.read_sheet("examples/ho-covered-hopper.toml"))
    report_html(inspection, version="0")
    [profile], [along] = inspection.history.profiles, drawn
    figures, band = profile.figures, profile.upper[0] - profile.lower[0]
    u = (figures.repeatability**2 + figures.resolution**2 / 12 + band**2 / 12) ** 0.5
    assert height_u(profile, 0) == pytest.approx(u)
    assert along.half_width[0] == pytest.approx(1.96 * u)
