"""Publishing through the commands: what is asked for is written, what cannot be made leaves nothing, and says why."""

from __future__ import annotations

import errno
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib
import pytest
from click.testing import CliRunner
from PIL import Image
from pypdf import PdfReader

import carwright as cw
from carwright.cli import main, verbs
from carwright.publish.formats import FORMATS, digest_of

HOPPER, BOXCAR, FLAT, GONDOLA, TANK, STOCK = (
    Path(f"examples/{name}.toml")
    for name in ("ho-covered-hopper", "ho-boxcar", "ho-flat-car", "n-gondola", "o-tank-car", "hon3-stock-car")
)
SVG = "{http://www.w3.org/2000/svg}"
BAD_THEME = 'format = "carwright-theme/1"\n[type]\nprint_pt = 3\n'

Refused = Callable[..., str]


def done(*arguments: str | Path) -> list[Path]:
    """Run a command in this process and give the paths it names, all of which are there."""
    result = CliRunner().invoke(verbs, [str(each) for each in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    paths = [Path(line) for line in result.output.splitlines()]
    assert paths
    assert len(set(paths)) == len(paths)
    for path in paths:
        assert path.is_file(), path
        assert path.stat().st_size > 0, path
    return paths


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "carwright", *map(str, arguments)], capture_output=True, text=True, check=False
    )


@pytest.fixture
def refused(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Refused:
    """What a command says on stderr when it ends with exit status 2 and nothing on stdout."""

    def call(*arguments: str | Path) -> str:
        monkeypatch.setattr(sys, "argv", ["carwright", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        assert stop.value.code == 2
        assert said.out == ""
        assert "Traceback" not in said.err
        return said.err

    return call


def written(folder: Path) -> list[str]:
    """Every file below a folder, what was begun and left there too."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def words_of(pdf: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(pdf).pages).split())


# --- carwright report --------------------------------------------------------------------------------------------


def test_all_formats_of_the_demo_car(tmp_path: Path) -> None:
    paths = done("report", HOPPER, "--out", tmp_path / "out", "--format", "all")
    names = [str(path.relative_to(tmp_path / "out")) for path in paths]
    assert written(tmp_path / "out") == sorted(names)
    plain = [name for name in names if "/" not in name]
    assert plain == [
        f"ho-covered-hopper{ending}"
        for ending in (".html", ".pdf", ".vtt", "-shots.html", "-shots.pdf", "-claim.html", "-claim.pdf")
    ]
    drawings = [name for name in names if name.startswith("ho-covered-hopper-drawings/")]
    assert [Path(name).name for name in drawings][:3] == ["side.svg", "views.svg", "deviations.svg"]
    overlays = [Path(name) for name in names if name.startswith("ho-covered-hopper-overlays/")]
    assert len(overlays) == 2 * len({path.stem for path in overlays} - {"cards"}) + 1 > 40
    assert len(drawings) + len(overlays) + len(plain) == len(names)
    for path in paths:
        if path.suffix == ".html":
            html5lib.HTMLParser(strict=True).parse(path.read_text("utf-8"))
        if path.suffix == ".pdf":
            assert path.read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "out" / "ho-covered-hopper.vtt").read_text("utf-8").startswith("WEBVTT - ")


@pytest.mark.parametrize(
    ("asked", "made"),
    [
        ("html", [".html"]), ("pdf", [".pdf"]), ("pdf,html", [".pdf", ".html"]), (" html , pdf,", [".html", ".pdf"]),
        ("html,html,pdf,html", [".html", ".pdf"]), ("claim", ["-claim.html", "-claim.pdf"]),
        ("shots", ["-shots.html", "-shots.pdf"]),
    ],
)  # fmt: skip
def test_what_is_asked_for_is_made_once_in_order(tmp_path: Path, asked: str, made: list[str]) -> None:
    paths = done("report", STOCK, "--out", tmp_path, "--format", asked)
    assert [path.name for path in paths] == [f"hon3-stock-car{ending}" for ending in made]
    assert written(tmp_path) == sorted(path.name for path in paths)


def test_a_page_is_made_where_no_format_is_named(tmp_path: Path) -> None:
    assert [path.name for path in done("report", STOCK, "--out", tmp_path)] == ["hon3-stock-car.html"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("nope", "'nope' is none of html, pdf, drawings, overlays, chapters, shots, claim, all"),
        ("html,PDF", "'PDF' is none of html, pdf, "),
        ("all,nope", "'nope' is none of html, pdf, "),
        ("", "expected one or more of html, pdf, drawings, overlays, chapters, shots, claim, all"),
        (" , ", "expected one or more of html, pdf, "),
    ],
)
def test_an_unknown_format_is_refused_with_the_known_ones(
    tmp_path: Path, refused: Refused, asked: str, said: str
) -> None:
    assert f"Invalid value for '--format': {said}" in refused("report", BOXCAR, "--out", tmp_path, "--format", asked)
    assert written(tmp_path) == []


@pytest.mark.parametrize("verb", ["compare", "changes"])
def test_a_report_of_another_kind_has_two_formats(tmp_path: Path, refused: Refused, verb: str) -> None:
    sheets = [FLAT, FLAT] if verb == "compare" else [FLAT]
    said = refused(verb, *sheets, "--out", tmp_path, "--format", "claim")
    assert "'claim' is none of html, pdf, all" in said
    assert written(tmp_path) == []
    paths = done(verb, *sheets, "--out", tmp_path, "--format", "all")
    assert [path.suffix for path in paths] == [".html", ".pdf"]


@pytest.mark.parametrize(
    ("sheet", "formats", "said"),
    [
        (BOXCAR, "html,drawings,claim", "as received nothing fails that a requirement forbids"),
        (BOXCAR, "html,shots,chapters", "no entry has offset_s, the time at which it is done in the recording"),
        (BOXCAR, "claim,html", "so there is no claim to make"),
    ],
)
def test_what_fails_last_leaves_nothing_of_what_came_before(
    tmp_path: Path, refused: Refused, sheet: Path, formats: str, said: str
) -> None:
    assert said in refused("report", sheet, "--out", tmp_path / "out", "--format", formats)
    assert written(tmp_path) == []


def long_titled(folder: Path, more: str = "") -> Path:
    path = folder / "long.toml"
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = "{"word " * 40}"\nscale = "HO"\n'
    path.write_text(f'{head}[report]\n{more}\n[[entry]]\nkind = "note"\nnote = "a"\noffset_s = 5\n', "utf-8")
    return path


def test_a_title_too_long_for_a_card_is_refused_and_nothing_is_written(tmp_path: Path, refused: Refused) -> None:
    sheet = long_titled(tmp_path)
    for formats in ("html,overlays", "html,shots"):
        said = refused("report", sheet, "--out", tmp_path / "out", "--format", formats)
        assert re.match(
            r"(cover|title card): 'word word .*\.\.\.' does not fit 2 lines of \d+ at size \d+; write it", said
        )
        assert written(tmp_path) == ["long.toml"]
    assert len(done("report", sheet, "--out", tmp_path / "out", "--format", "html,chapters")) == 2


def test_a_short_title_makes_the_cards_of_a_long_one(tmp_path: Path) -> None:
    sheet = long_titled(tmp_path, 'short = "Boxcar, in short"')
    paths = done("report", sheet, "--out", tmp_path / "out", "--format", "overlays,shots,chapters")
    assert "Boxcar, in short" in (tmp_path / "out" / "long-overlays" / "01-title.svg").read_text("utf-8")
    assert "Boxcar, in short" in (tmp_path / "out" / "long.vtt").read_text("utf-8")
    assert len(paths) == 10


@pytest.mark.parametrize(("size", "expected"), [("1080", (1920, 1080)), ("2160", (3840, 2160))])
def test_cards_have_the_lines_asked_for(tmp_path: Path, size: str, expected: tuple[int, int]) -> None:
    sheet = long_titled(tmp_path, 'short = "Boxcar"')
    paths = done("report", sheet, "--out", tmp_path, "--format", "overlays", "--size", size)
    pictures = [path for path in paths if path.suffix == ".png"]
    assert [path.name for path in pictures] == ["00-cover.png", "01-title.png", "02-verdict.png"]
    for path in pictures:
        with Image.open(path) as image:
            assert image.size == expected


def test_another_number_of_lines_is_refused(tmp_path: Path, refused: Refused) -> None:
    assert "Invalid value for '--size': '720' is not one of" in refused(
        "report", TANK, "--out", tmp_path, "--format", "overlays", "--size", "720"
    )


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_pages_have_the_size_of_the_paper(tmp_path: Path, paper: str, size: tuple[float, float]) -> None:
    paths = done("report", STOCK, "--out", tmp_path, "--format", "pdf,shots,claim", "--paper", paper)
    paths += done("compare", TANK, FLAT, "--out", tmp_path, "--format", "pdf", "--paper", paper)
    paths += done("changes", FLAT, "--out", tmp_path, "--format", "pdf", "--paper", paper)
    printed = [path for path in paths if path.suffix == ".pdf"]
    assert len(printed) == 5
    for path in printed:
        for page in PdfReader(path).pages:
            across, up = float(page.mediabox.width) / 72 * 25.4, float(page.mediabox.height) / 72 * 25.4
            assert (across, up) == pytest.approx(size, abs=0.02), path


@pytest.mark.parametrize("sheet", [HOPPER, TANK, GONDOLA], ids=lambda path: path.stem)
def test_a_drawing_is_as_wide_on_paper_as_its_model(tmp_path: Path, sheet: Path) -> None:
    paths = done("report", sheet, "--out", tmp_path, "--format", "drawings", "--exaggerate", "20")
    geometry = cw.read_sheet(sheet).history.geometry
    for path in paths:
        root = ET.parse(path).getroot()
        assert root.tag == f"{SVG}svg"
        frame = [float(each) for each in root.get("viewBox", "").split()]
        for length, found in zip(frame[2:], (root.get("width", ""), root.get("height", "")), strict=True):
            assert found.endswith("mm")
            assert float(found.removesuffix("mm")) == pytest.approx(length)
        assert frame[2] > geometry["body_length"]
        assert "".join(root[0].itertext())
    assert {path.name for path in paths} >= {"side.svg", "views.svg"}
    side = ET.parse(tmp_path / f"{sheet.stem}-drawings" / "side.svg")
    wheels = sorted(float(each.get("cx", "nan")) for each in side.iter(f"{SVG}circle") if each.get("class") == "wheel")
    assert wheels[1] - wheels[0] == pytest.approx(geometry["truck_wheelbase"], abs=0.001)


def test_a_stage_is_published_as_it_was(tmp_path: Path) -> None:
    done("report", HOPPER, "--out", tmp_path, "--format", "overlays,shots", "--stage", "received")
    cards = {path.stem.partition("-")[2]: path for path in (tmp_path / "ho-covered-hopper-overlays").glob("*.svg")}
    assert "✕ fails" in "".join(ET.parse(cards["coupler-height-a"]).getroot().itertext())
    page = (tmp_path / "ho-covered-hopper-shots.html").read_text("utf-8")
    assert "coupler height at A: 0.4115 ± 0.0021 in, limits 0.381 to 0.401 in, ✕ fails" in page


def test_a_sheet_is_known_by_its_digest(tmp_path: Path) -> None:
    [page, _] = done("report", TANK, "--out", tmp_path, "--format", "claim")
    digest = digest_of(cw.read_sheet(TANK))
    assert re.fullmatch(r"[0-9a-f]{12}", digest)
    assert f"sheet {digest}." in page.read_text("utf-8")
    assert digest != digest_of(cw.read_sheet(FLAT))


def test_the_same_sheet_gives_the_same_files(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        done("report", STOCK, "--out", tmp_path / folder, "--format", "html,pdf,drawings,shots,claim")
    names = written(tmp_path / "one")
    assert names == written(tmp_path / "two")
    assert all((tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes() for name in names)


# --- what is wrong is said, and nothing is written ---------------------------------------------------------------


COMMANDS = {
    "report": ("report", STOCK, "--format", "html,drawings,overlays"),
    "compare": ("compare", FLAT, TANK, "--format", "html,pdf"),
    "changes": ("changes", FLAT, "--format", "html,pdf"),
}


@pytest.mark.parametrize("verb", COMMANDS)
@pytest.mark.parametrize(
    ("theme", "said"),
    [
        (BAD_THEME, "print_pt must lie between 6 and 14, got 3"),
        ("format = 3\n", "format must be 'carwright-theme/1', got '3'"),
        ("format = [", "not TOML"),
        ('format = "carwright-theme/1"\n[colors]\n', "unknown key 'colors'; did you mean 'colours'?"),
        (None, "cannot be read: No such file or directory"),
    ],
)
def test_a_bad_theme_is_refused(tmp_path: Path, refused: Refused, verb: str, theme: str | None, said: str) -> None:
    path = tmp_path / "own.toml"
    if theme is not None:
        path.write_text(theme, "utf-8")
    error = refused(*COMMANDS[verb], "--out", tmp_path / "out", "--theme", path)
    assert error.startswith(f"{path}: ")
    assert said in error
    assert written(tmp_path) == (["own.toml"] if theme is not None else [])


@pytest.mark.parametrize("verb", COMMANDS)
def test_a_theme_of_ones_own_is_used(tmp_path: Path, verb: str) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        'format = "carwright-theme/1"\n[colours.light]\naccent = "#5a2d82"\n[colours.video]\npaper = "#201030"\n',
        "utf-8",
    )
    paths = done(*COMMANDS[verb], "--out", tmp_path / "out", "--theme", own)
    assert "#5a2d82" in paths[0].read_text("utf-8")
    if verb == "report":
        assert "#201030" in (tmp_path / "out" / "hon3-stock-car-overlays" / "01-title.svg").read_text("utf-8")


@pytest.mark.parametrize("verb", COMMANDS)
def test_a_folder_that_is_a_file_is_named(tmp_path: Path, refused: Refused, verb: str) -> None:
    place = tmp_path / "out"
    place.write_text("a file", "utf-8")
    assert re.match(rf"{re.escape(str(place))}\S*: cannot be written: ", refused(*COMMANDS[verb], "--out", place))
    assert place.read_text("utf-8") == "a file"
    assert written(tmp_path) == ["out"]


@pytest.mark.parametrize("verb", COMMANDS)
def test_a_folder_that_may_not_be_written_is_named(
    tmp_path: Path, refused: Refused, monkeypatch: pytest.MonkeyPatch, verb: str
) -> None:
    def refuse(self: Path, target: Path) -> Path:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self), None, str(target))

    monkeypatch.setattr(Path, "replace", refuse)
    said = refused(*COMMANDS[verb], "--out", tmp_path)
    assert said.startswith(f"{tmp_path}{os.sep}")
    assert "cannot be written: Permission denied" in said
    assert written(tmp_path) == []


def test_what_cannot_be_put_in_place_leaves_nothing(tmp_path: Path, refused: Refused) -> None:
    (tmp_path / "ho-flat-car.pdf").mkdir()
    assert "cannot be written" in refused("report", FLAT, "--out", tmp_path, "--format", "html,pdf")
    assert written(tmp_path) == []


def test_cards_of_an_earlier_run_do_not_stay(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    text = TANK.read_text("utf-8")
    sheet.write_text(text, "utf-8")
    done("report", sheet, "--out", tmp_path / "out", "--format", "overlays")
    sheet.write_text(text[: text.rindex("[[entry]]")], "utf-8")
    later = done("report", sheet, "--out", tmp_path / "out", "--format", "overlays")
    assert written(tmp_path / "out") == sorted(str(path.relative_to(tmp_path / "out")) for path in later)


@pytest.mark.parametrize("place", ["car-overlays", "."])
def test_pictures_of_ones_own_are_left_alone(tmp_path: Path, place: str) -> None:
    """In a folder that happens to be called as those of cards are, and beside the cards."""
    formats = "html" if place == "car-overlays" else "overlays"
    kept = tmp_path / ("car-overlays" if place == "car-overlays" else "hon3-stock-car-overlays") / "12-my-shot.png"
    kept.parent.mkdir()
    kept.write_bytes(b"mine")
    done("report", STOCK, "--out", tmp_path / place, "--format", formats)
    assert kept.is_file()
    assert kept.read_bytes() == b"mine"


def test_a_name_longer_than_the_system_takes_is_refused(tmp_path: Path, refused: Refused) -> None:
    said = refused("compare", BOXCAR, FLAT, "--out", tmp_path, "--name", "x" * 300)
    assert "cannot be written: File name too long" in said


def test_older_files_stay_where_new_ones_cannot_be_put_in_place(
    tmp_path: Path, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second of two files is refused at the last step: the first is as it was, and nothing is new."""
    page = tmp_path / "hon3-stock-car-shots.html"
    page.write_text("old", "utf-8")
    put = Path.replace

    def refuse(self: Path, target: Path) -> Path:
        if target.suffix == ".pdf":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self), None, str(target))
        return put(self, target)

    monkeypatch.setattr(Path, "replace", refuse)
    said = refused("report", STOCK, "--out", tmp_path, "--format", "shots")
    assert "hon3-stock-car-shots.pdf: cannot be written: Permission denied" in said
    assert written(tmp_path) == ["hon3-stock-car-shots.html"]
    assert page.read_text("utf-8") == "old"
    page.unlink()
    refused("report", STOCK, "--out", tmp_path, "--format", "shots")
    assert written(tmp_path) == []


@pytest.mark.parametrize(
    "arguments",
    [("report", "gone.toml"), ("compare", FLAT, "gone.toml"), ("changes", "gone.toml"),
     ("changes", FLAT, "--from", "gone.toml")],
)  # fmt: skip
def test_a_missing_sheet_is_named(tmp_path: Path, refused: Refused, arguments: tuple[str | Path, ...]) -> None:
    assert refused(*arguments, "--out", tmp_path / "out") == "gone.toml: cannot be read: No such file or directory\n"
    assert written(tmp_path) == []


def test_a_faulty_sheet_is_told_line_by_line(tmp_path: Path, refused: Refused) -> None:
    sheet = tmp_path / "car.toml"
    sheet.write_text(FLAT.read_text("utf-8").replace('what = "weight.total"', 'what = "wieght.total"', 1), "utf-8")
    said = refused("compare", TANK, sheet, "--out", tmp_path / "out")
    assert re.match(rf"{re.escape(str(sheet))}:\d+: entry \d+ .*'wieght\.total'; did you mean 'weight\.total'\?", said)
    assert written(tmp_path) == ["car.toml"]


def test_a_stage_that_does_not_exist_is_refused(tmp_path: Path, refused: Refused) -> None:
    assert refused("report", FLAT, "--out", tmp_path, "--stage", "9") == (
        "there is no stage '9'; known: received, last, 0, 1\n"
    )
    assert "there is no stage '9'" in refused("changes", FLAT, "--out", tmp_path, "--since", "9")
    assert "there is no stage 'x'" in refused("changes", FLAT, "--out", tmp_path, "--stage", "x")
    assert written(tmp_path) == []


# --- carwright compare -------------------------------------------------------------------------------------------


def test_two_cars_side_by_side(tmp_path: Path) -> None:
    page, printed = done("compare", HOPPER, TANK, "--out", tmp_path, "--format", "html,pdf", "--name", "pair")
    assert (page.name, printed.name) == ("pair.html", "pair.pdf")
    text = page.read_text("utf-8")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "Tansy River 40418" in text
    assert "2 cars side by side" in words_of(printed)
    assert [path.name for path in done("compare", HOPPER, TANK, "--out", tmp_path)] == ["comparison.html"]


@pytest.mark.parametrize("count", [1, 7])
def test_too_few_and_too_many_cars_are_refused(tmp_path: Path, refused: Refused, count: int) -> None:
    said = refused("compare", *[BOXCAR] * count, "--out", tmp_path / "out", "--format", "html,pdf")
    assert said == f"a comparison takes 2 to 6 cars, got {count}\n"
    assert written(tmp_path) == []
    assert "Missing argument 'SHEETS...'" in refused("compare", "--out", tmp_path / "out")


@pytest.mark.parametrize("name", ["../stray", ""])
def test_a_name_that_is_none_is_refused(tmp_path: Path, refused: Refused, name: str) -> None:
    assert "name" in refused("compare", BOXCAR, TANK, "--out", tmp_path / "out", "--name", name)
    assert written(tmp_path) == []


# --- carwright changes -------------------------------------------------------------------------------------------


def test_what_changed_since_a_stage(tmp_path: Path) -> None:
    page, printed = done("changes", HOPPER, "--out", tmp_path, "--format", "html,pdf")
    assert (page.name, printed.name) == ("ho-covered-hopper-changes.html", "ho-covered-hopper-changes.pdf")
    text = page.read_text("utf-8")
    html5lib.HTMLParser(strict=True).parse(text)
    assert "Came right: coupler height at A, back-to-back axle 3." in text
    assert "Came right: coupler height at A, back-to-back axle 3." in words_of(printed)
    [later] = done("changes", HOPPER, "--out", tmp_path, "--since", "1")
    assert "Came right: coupler height at A." in later.read_text("utf-8")
    [named] = done("changes", HOPPER, "--out", tmp_path, "--since", "received", "--stage", "1")
    assert "Came right: back-to-back axle 3." in named.read_text("utf-8")
    assert "before: as received; now: after regauge at 3" in named.read_text("utf-8")


def test_what_changed_since_an_older_sheet(tmp_path: Path) -> None:
    older = tmp_path / "older.toml"
    text = HOPPER.read_text("utf-8")
    older.write_text(text[: text.index('[[entry]]\nkind = "work"')], "utf-8")
    [page] = done("changes", HOPPER, "--from", older, "--out", tmp_path / "out")
    assert page.name == "ho-covered-hopper-changes.html"
    assert "Came right: coupler height at A, back-to-back axle 3." in page.read_text("utf-8")
    [back] = done("changes", older, "--from", HOPPER, "--out", tmp_path / "out")
    assert back.name == "older-changes.html"
    assert "Went wrong: coupler height at A, back-to-back axle 3." in back.read_text("utf-8")


def test_an_older_sheet_of_another_car_is_refused(tmp_path: Path, refused: Refused) -> None:
    said = refused("changes", FLAT, "--from", BOXCAR, "--out", tmp_path / "out")
    assert said == (
        "'Boxcar, 40 ft, Quillback & Western 11276' and 'Flat car, 53 ft 6 in, Bittern Lake 5320' are not one car: "
        "their titles differ, and no id under [car] says that they are one\n"
    )
    assert "are not one car: one is in N, the other in HO" in refused(
        "changes", FLAT, "--from", GONDOLA, "--out", tmp_path / "out"
    )
    ids = []
    for number in "12":
        ids.append(tmp_path / f"{number}.toml")
        marked = f'[car]\nid = "{"-".join(number * length for length in (8, 4, 4, 4, 12))}"\n'
        ids[-1].write_text(
            FLAT.read_text("utf-8").replace("[car]\n", marked).replace('stock = "', '# stock = "'), "utf-8"
        )
    assert "are not one car: their ids differ" in refused(
        "changes", ids[0], "--from", ids[1], "--out", tmp_path / "out"
    )
    assert written(tmp_path) == ["1.toml", "2.toml"]


def test_an_older_stage_and_an_older_sheet_are_one_too_many(tmp_path: Path, refused: Refused) -> None:
    said = refused("changes", FLAT, "--since", "received", "--from", FLAT, "--out", tmp_path / "out")
    assert "either --since a stage of this sheet, or --from another sheet" in said
    assert written(tmp_path) == []


def test_a_stage_since_which_nothing_can_have_changed_is_refused(tmp_path: Path, refused: Refused) -> None:
    assert "stage" in refused("changes", HOPPER, "--since", "2", "--stage", "1", "--out", tmp_path / "out")


# --- as a program ------------------------------------------------------------------------------------------------


OPTIONS = {
    "report": {"--out", "--format", "--stage", "--paper", "--size", "--theme", "--exaggerate", "--rubric", "--help"},
    "compare": {"--out", "--format", "--name", "--paper", "--theme", "--help"},
    "changes": {"--out", "--format", "--since", "--from", "--stage", "--paper", "--theme", "--help"},
}


@pytest.mark.parametrize("verb", OPTIONS)
def test_help_names_every_option(verb: str) -> None:
    result = CliRunner().invoke(verbs, [verb, "--help"], catch_exceptions=False)
    assert result.exit_code == 0
    named = set(re.findall(r"^  (?:-\w, )?(--[a-z]+)", result.output, re.MULTILINE))
    assert named == OPTIONS[verb]
    if verb == "report":
        for each in FORMATS:
            assert re.search(rf"\b{each}\b", result.output)
    command = verbs.get_command(None, verb)  # type: ignore[arg-type] # needs no context
    assert command is not None
    declared = {option for parameter in command.params for option in parameter.opts if option.startswith("--")}
    assert declared == OPTIONS[verb] - {"--help"}


def test_a_program_prints_the_paths_it_wrote(tmp_path: Path) -> None:
    result = run("report", STOCK, "--out", tmp_path / "out", "--format", "html,pdf,claim")
    assert (result.returncode, result.stderr) == (0, "")
    paths = result.stdout.splitlines()
    assert len(paths) == 4
    assert all(Path(path).is_file() for path in paths)
    assert written(tmp_path / "out") == sorted(Path(path).name for path in paths)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("report", BOXCAR, "--format", "html,claim"), "so there is no claim to make"),
        (("compare", BOXCAR), "a comparison takes 2 to 6 cars, got 1"),
        (("changes", FLAT, "--from", BOXCAR), "are not one car: their titles differ"),
        (("changes", FLAT, "--from", BOXCAR, "--since", "0"), "either --since a stage of this sheet, or --from"),
        (("report", BOXCAR, "--format", "x"), "'x' is none of html, pdf,"),
    ],
)
def test_a_program_ends_with_two_and_a_sentence(tmp_path: Path, arguments: tuple[str | Path, ...], said: str) -> None:
    result = run(*arguments, "--out", tmp_path / "out")
    assert (result.returncode, result.stdout) == (2, "")
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert written(tmp_path) == []


def test_a_claim_asked_for_by_name_is_never_left_out(tmp_path: Path, refused: Refused) -> None:
    assert "no claim to make" in refused("report", BOXCAR, "--out", tmp_path / "out", "--format", "claim")
    refused("report", BOXCAR, "--out", tmp_path / "out", "--format", ",".join(FORMATS))
    assert written(tmp_path) == []


def test_all_formats_leave_out_what_a_sheet_has_nothing_for(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    sheet.write_text('format = "carwright-sheet/1"\n[car]\ntitle = "Boxcar"\nscale = "HO"\n', "utf-8")
    command = [
        sys.executable,
        "-m",
        "carwright",
        "report",
        str(sheet),
        "--out",
        str(tmp_path / "out"),
        "--format",
        "all",
    ]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 0
    told = ran.stderr.splitlines()
    assert [line.partition(": ")[0] for line in told] == ["left out", "left out"]
    assert "no entry has offset_s" in told[0]
    assert "no claim to make" in told[1]
    made = {path.name for path in (tmp_path / "out").iterdir()}
    assert made == {"car.html", "car.pdf", "car-drawings", "car-overlays", "car-shots.html", "car-shots.pdf"}
