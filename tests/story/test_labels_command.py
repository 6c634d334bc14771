"""Labels through the command: from sheets to a PDF, and every slip in one go."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from uuid import UUID

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from carwright.cli.labels_command import MOST_SHEETS, SheetsError, command
from carwright.errors import CarwrightError, SheetError, UnknownNameError
from carwright.publish.labels import LabelError, label_sheets
from carwright.publish.lettering import TextFitError

ID = "123e4567-e89b-12d3-a456-426614174000"
HOPPER, BOXCAR = Path("examples/ho-covered-hopper.toml"), Path("examples/ho-boxcar.toml")
GONDOLA = Path("examples/n-gondola.toml")
TITLE = "Covered hopper, two-bay, Tansy River 40418"


def labels(*arguments: str | Path | int) -> Result:
    return CliRunner().invoke(command, [str(each) for each in arguments])


def written(result: Result, out: Path) -> PdfReader:
    assert result.exception is None, result.exception
    assert result.stdout == f"{out}\n"
    return PdfReader(out)


def example(path: Path, folder: Path, identity: str = "") -> Path:
    """An example as shipped, with this id or with none."""
    text = re.sub(r'\nid = "[0-9a-f-]{36}"', "", path.read_text("utf-8"))
    if identity:
        text = text.replace("[car]\n", f'[car]\nid = "{identity}"\n', 1)
    made = folder / path.name
    made.write_text(text, "utf-8")
    return made


def size_mm(reader: PdfReader) -> tuple[float, float]:
    box = reader.pages[0].mediabox
    return float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72


def test_labels_through_the_program(tmp_path: Path) -> None:
    out = tmp_path / "new" / "labels.pdf"
    named, nameless = example(HOPPER, tmp_path, ID), example(BOXCAR, tmp_path)
    result = subprocess.run(
        [sys.executable, "-m", "carwright", "labels", str(named), str(nameless), "--out", str(out)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (result.returncode, result.stdout) == (0, f"{out}\n")
    [line] = result.stderr.splitlines()
    assert line.startswith("Boxcar, 40 ft, Quillback & Western 11276: no id, so no QR code; put id = ")
    text = PdfReader(out).pages[0].extract_text()
    assert "97 of 120 points" in text
    assert "116 of 116 points" in text
    assert [path.name for path in out.parent.iterdir()] == ["labels.pdf"]


def test_slips_of_all_sheets_are_told_at_once_and_nothing_is_written(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HQ"\ncolour = "red"\n', "utf-8")
    rules = tmp_path / "rules.toml"
    rules.write_text('format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\nrules = ["club.toml"]\n', "utf-8")
    out = tmp_path / "labels.pdf"
    result = subprocess.run(
        [sys.executable, "-m", "carwright", "labels", str(wrong), str(HOPPER), str(rules), str(tmp_path / "none.toml"),
         "--out", str(out)],
        capture_output=True,
        text=True,
        check=False,
    )  # fmt: skip
    assert (result.returncode, result.stdout) == (2, "")
    lines = result.stderr.splitlines()
    assert len(lines) == 4
    assert lines[0].startswith(f"{wrong}:4: ")
    assert "unknown scale 'HQ'" in lines[0]
    assert "colour" in lines[1]
    assert lines[2].startswith(f"{rules}:")
    assert "club.toml" in lines[2]
    assert lines[3] == f"{tmp_path / 'none.toml'}: cannot be read: No such file or directory"
    assert not out.exists()


def test_an_older_file_stays_as_it_is_when_labels_fail(tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    out.write_bytes(b"mine")
    assert isinstance(labels(BOXCAR, "--kind", "tag", "--out", out).exception, LabelError)
    assert isinstance(labels("missing.toml", "--out", out).exception, SheetsError)
    assert out.read_bytes() == b"mine"
    written(labels(BOXCAR, "--out", out), out)


@pytest.mark.parametrize(("kind", "paper"), [("box", (210, 297)), ("shelf", (210, 297)), ("tag", (210, 297))])
def test_each_kind_has_its_own_sheet(tmp_path: Path, kind: str, paper: tuple[float, float]) -> None:
    out = tmp_path / f"{kind}.pdf"
    reader = written(labels(HOPPER, "--kind", kind, "--out", out), out)
    assert size_mm(reader) == pytest.approx(paper, abs=0.1)
    text = reader.pages[0].extract_text()
    assert "40418" in text
    assert ("Why" in text) == (kind == "tag")
    assert ("97 of 120" in text) == (kind == "box")


def test_another_size_may_be_asked_for(tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    reader = written(labels(HOPPER, "--size", "letter-66x25", "--out", out), out)
    assert size_mm(reader) == pytest.approx((215.9, 279.4), abs=0.1)
    refused = labels(HOPPER, "--size", "a4-shelf", "--out", tmp_path / "no.pdf")
    assert str(refused.exception) == "--size: a4-shelf suits shelf labels, not box labels"
    unknown = labels(HOPPER, "--size", "a4-63x39", "--out", tmp_path / "no.pdf")
    assert isinstance(unknown.exception, UnknownNameError)
    assert "did you mean 'a4-63x38'?" in str(unknown.exception)


def test_a_started_sheet_is_finished(tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    assert len(written(labels(HOPPER, BOXCAR, "--start", 21, "--out", out), out).pages) == 2
    refused = labels(HOPPER, "--start", 22, "--out", tmp_path / "no.pdf")
    assert str(refused.exception) == "--start: 22 is no label of a4-63x38: expected 1 to 21"


def test_a_car_without_an_id_is_told_one(tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    told = [labels(example(HOPPER, tmp_path), "--out", out).stderr for _ in range(2)]
    pattern = rf'{TITLE}: no id, so no QR code; put id = "([0-9a-f-]{{36}})" under \[car\]\n'
    fresh = []
    for each in told:
        match = re.fullmatch(pattern, each)
        assert match is not None
        fresh.append(UUID(match[1]))
    assert [each.version for each in fresh] == [4, 4]
    assert fresh[0] != fresh[1]
    quiet = labels(example(HOPPER, tmp_path, ID), "--out", out)
    assert quiet.stderr == ""


def test_a_shop_changes_the_code_and_must_be_an_address(tmp_path: Path) -> None:
    sheet, files = example(HOPPER, tmp_path, ID), []
    for shop in ("", "http://192.168.1.20:8000", "http://192.168.1.20:8000/"):
        out = tmp_path / "labels.pdf"
        written(labels(sheet, "--shop", shop, "--out", out), out)
        files.append(out.read_bytes())
    assert files[0] != files[1]
    assert files[1] == files[2]
    refused = labels(HOPPER, "--shop", "ftp://x", "--out", tmp_path / "no.pdf")
    expected = "--shop: 'ftp://x' is no address of a shop: expected one such as http://192.168.1.20:8000"
    assert str(refused.exception) == expected
    assert not (tmp_path / "no.pdf").exists()


def test_a_theme_of_ones_own(tmp_path: Path) -> None:
    theme, plain, own = tmp_path / "theme.toml", tmp_path / "plain.pdf", tmp_path / "own.pdf"
    theme.write_text('format = "carwright-theme/1"\n[colours.print]\nink = "#333333"\n', "utf-8")
    written(labels(HOPPER, "--out", plain), plain)
    written(labels(HOPPER, "--theme", theme, "--out", own), own)
    assert plain.read_bytes() != own.read_bytes()
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('format = "carwright-theme/1"\n[colors]\n', "utf-8")
    refused = labels(HOPPER, "--theme", wrong, "--out", own)
    assert isinstance(refused.exception, CarwrightError)
    assert "did you mean 'colours'?" in str(refused.exception)
    assert isinstance(labels(HOPPER, "--theme", tmp_path / "none.toml", "--out", own).exception, SheetError)


def test_a_title_that_does_not_fit_is_named(tmp_path: Path) -> None:
    sheet = tmp_path / "long.toml"
    sheet.write_text(f'format = "carwright-sheet/1"\n[car]\ntitle = "{"Long car " * 30}"\nscale = "HO"\n', "utf-8")
    refused = labels(sheet, "--out", tmp_path / "no.pdf")
    assert isinstance(refused.exception, TextFitError)
    assert str(refused.exception).startswith("box label of Long car Long car")
    sheet.write_text(sheet.read_text("utf-8") + '[report]\nshort = "Long car"\n', "utf-8")
    written(labels(sheet, "--out", tmp_path / "yes.pdf"), tmp_path / "yes.pdf")


def test_sizes_are_listed_without_sheets() -> None:
    result = labels("--sizes")
    assert (result.exit_code, result.stderr) == (0, "")
    head, *rows = result.stdout.splitlines()
    assert head.split() == ["id", "paper", "labels", "size", "kinds"]
    assert [row.split()[0] for row in rows] == list(label_sheets())
    assert rows[0].split("  ")[0] == "a4-63x38"
    assert "3 x 7" in rows[0]
    assert "63.5 x 38.1 mm" in rows[0]
    assert [row.split("mm")[1].strip() for row in rows[:2]] == ["box", "box, shelf"]


NEEDED = "at least one SHEET and --out FILE.pdf are needed, or --sizes"


@pytest.mark.parametrize(
    ("sheets", "out", "more", "message"),
    [
        (0, "", (), NEEDED),
        (1, "", (), NEEDED),
        (0, "x.pdf", (), NEEDED),
        (1, "car.toml", (), "--out must name a PDF such as labels.pdf, got"),
        (MOST_SHEETS + 1, "x.pdf", (), "at most 500 sheets at a time, got 501"),
        (1, "x.pdf", ("--kind", "lid"), "'lid' is not one of 'box', 'shelf', 'tag'"),
        (1, "x.pdf", ("--start", "two"), "'two' is not a valid integer"),
    ],
)
def test_a_call_that_lacks_something_is_explained(
    tmp_path: Path, sheets: int, out: str, more: tuple[str, ...], message: str
) -> None:
    car = tmp_path / "car.toml"
    car.write_bytes(BOXCAR.read_bytes())
    result = labels(*[car] * sheets, *(("--out", tmp_path / out) if out else ()), *more)
    assert result.exit_code == 2
    assert message in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["car.toml"]
    assert car.read_bytes() == BOXCAR.read_bytes()


def test_a_tag_is_for_a_car_that_is_held(tmp_path: Path) -> None:
    out = tmp_path / "tags.pdf"
    refused = labels(GONDOLA, BOXCAR, "--kind", "tag", "--out", out)
    assert str(refused.exception) == "Boxcar, 40 ft, Quillback & Western 11276: is in service and needs no tag"
    text = written(labels(GONDOLA, "--kind", "tag", "--out", out), out).pages[0].extract_text()
    assert "Bad order" in text
