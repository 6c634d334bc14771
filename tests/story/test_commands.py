"""A person's whole task, through the command: from an empty sheet to a report, and what happens when they slip."""

from __future__ import annotations

import errno
import json
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from carwright.cli import COMMANDS, main, verbs
from carwright.errors import CarwrightError
from carwright.tables import shipped


def run(*arguments: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "carwright", *map(str, arguments)], capture_output=True, text=True, check=False, cwd=cwd
    )


def quick(*arguments: str | Path) -> str:
    """Run inside this process, for what is only read."""
    result = CliRunner().invoke(verbs, [str(each) for each in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def test_from_an_empty_sheet_to_a_report(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    made = run("new", sheet, "--scale", "HO", "--type", "gondola", "--title", "My gondola")
    assert (made.returncode, made.stderr) == (0, "")
    first = run("inspect", sheet)
    assert first.returncode == 0
    assert "no points yet: nothing was examined" in first.stdout
    text = sheet.read_text("utf-8")
    for key in ("[[entry]]", "kind", "what", "at", "values", "with", "result", "body_length"):
        text = text.replace(f"# {key}", key)
    sheet.write_text(text, "utf-8")
    second = run("inspect", sheet)
    assert second.returncode == 0, second.stderr
    assert "coupler height" in second.stdout
    assert "conform (--all shows them)" in second.stdout
    report = run("report", sheet, "--out", tmp_path / "out")
    assert report.stdout.strip() == str(tmp_path / "out" / "car.html")
    assert "My gondola" in (tmp_path / "out" / "car.html").read_text("utf-8")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["car.html"]


@pytest.mark.parametrize("scale", ["HO", "N", "O", "S", "HOn3", "H0", "0", "TT", "Proto48", "Z"])
@pytest.mark.parametrize("car_type", ["boxcar", "four-wheel wagon"])
def test_a_new_sheet_inspects_in_every_scale(tmp_path: Path, scale: str, car_type: str) -> None:
    sheet = tmp_path / "new.toml"
    quick("new", sheet, "--scale", scale, "--type", car_type)
    bare = quick("inspect", sheet)
    assert "not measured" in bare
    text = sheet.read_text("utf-8")
    for key in ("[[entry]]", "kind", "what", "at", "values", "with", "result", "body_length", "length_over_buffers"):
        text = text.replace(f"# {key}", key)
    sheet.write_text(text, "utf-8")
    shown = quick("inspect", sheet, "--all")
    assert "Conforms: " in shown
    assert "weight of the complete car" not in shown.partition("Points lost")[2]


def test_a_file_that_is_there_is_never_replaced(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    sheet.write_text("mine", "utf-8")
    made = run("new", sheet, "--scale", "HO")
    assert (made.returncode, made.stdout) == (2, "")
    assert "is there already; nothing was changed" in made.stderr
    assert sheet.read_text("utf-8") == "mine"


def test_slips_are_named_one_a_line_and_nothing_is_written(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    sheet.write_text(
        'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n[[entry]]\nkind = "reading"\n'
        'what = "coupler.hight"\nat = "A"\nvalues = ["0.4 in"]\n[[entry]]\nkind = "look"\n'
        'what = "part"\ngrade = "ok"\n',
        "utf-8",
    )
    for command in (("inspect", sheet, "--json"), ("report", sheet, "--out", tmp_path / "out")):
        result = run(*command)
        assert (result.returncode, result.stdout) == (2, "")
        assert len(result.stderr.splitlines()) == 2
        assert "did you mean 'coupler.height'?" in result.stderr
    assert not (tmp_path / "out").exists()


def test_json_is_one_document_on_stdout() -> None:
    result = run("inspect", "examples/n-gondola.toml", "--json")
    assert (result.returncode, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert document["format"] == "carwright-inspection/1"


def test_strict_makes_a_fault_an_exit_status() -> None:
    assert run("inspect", "examples/o-tank-car.toml").returncode == 0
    assert run("inspect", "examples/o-tank-car.toml", "--strict").returncode == 1


def test_stages_may_be_asked_for() -> None:
    received = quick("inspect", "examples/ho-covered-hopper.toml", "--stage", "received")
    last = quick("inspect", "examples/ho-covered-hopper.toml")
    assert "coupler height at A" in received
    assert "back-to-back axle 3" in received.partition("Undecided")[0]
    assert "back-to-back axle 3" not in last.partition("Points lost")[0]
    failed = run("inspect", "examples/ho-boxcar.toml", "--stage", "7")
    assert failed.returncode == 2
    assert failed.stderr == "there is no stage '7'; known: received, last, 0\n"


def test_superseded_editions_are_shown_on_request() -> None:
    shown = quick("inspect", "examples/h0-four-wheel-van.toml", "--editions")
    assert "back-to-back axle 1: conforms nem/310-1977 (at least 14.30 mm); fails nem/310-2009" in shown
    assert "By superseded editions" not in quick("inspect", "examples/h0-four-wheel-van.toml")
    assert "No superseded edition" in quick("inspect", "examples/ho-boxcar.toml", "--editions")


def test_faults_come_first_then_undecided_then_one_line_for_the_rest() -> None:
    shown = quick("inspect", "examples/n-gondola.toml")
    order = [shown.index(head) for head in ("Fails: ", "Undecided: ", "not measured: ", "Measure next", "Points lost")]
    assert order == sorted(order)
    assert len([line for line in shown.splitlines() if " not measured: " in line and line.startswith("○")]) == 1


def test_what_no_room_judges_is_kept_and_said(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    text = Path("examples/ho-boxcar.toml").read_text("utf-8")
    sheet.write_text(text + '\n[[entry]]\nkind = "trouble"\ndefect = "uncoupled"\nplace = "east ladder"\n', "utf-8")
    assert "Kept, not judged: 1 trouble" in quick("inspect", str(sheet))


def test_the_demo_leaves_an_edited_sheet_alone(tmp_path: Path) -> None:
    folder = tmp_path / "a demo"
    first = run("demo", "--dir", folder)
    assert first.returncode == 0, first.stderr
    report = folder / "reports" / "ho-covered-hopper.html"
    assert str(report.resolve()) in first.stdout
    assert report.is_file()
    sheet = folder / "ho-covered-hopper.toml"
    sheet.write_text(sheet.read_text("utf-8").replace("Tansy River 40418", "Tansy River 40419"), "utf-8")
    assert run("demo", "--dir", folder).returncode == 0
    assert "40419" in report.read_text("utf-8")


def test_every_table_rule_set_and_source_can_be_shown() -> None:
    listed = quick("tables")
    for table in shipped().ids():
        assert table in listed
        assert table in quick("tables", table)
    for rule_set in shipped().rule_sets():
        assert "clauses" in quick("tables", rule_set, "--scale", "H0" if rule_set == "nem" else "HO")
    for key in shipped().bibliography:
        assert key in quick("tables", key)


def test_a_fact_is_shown_with_its_source() -> None:
    shown = quick("tables", "nmra/s-4.2/HO/wheel.back_to_back")
    assert "B_min = 0.566 in" in shown
    assert "nmra-s-4.2, limits edition, undated" in shown
    assert "K_max" not in shown.splitlines()[1]
    result = run("tables", "nmra/s-4.2/Ho")
    assert result.returncode == 2
    assert "did you mean 'HO'?" in result.stderr
    with pytest.raises(CarwrightError, match="there is no table, rule set or source"):
        quick("tables", "nmra/s-5")
    with pytest.raises(CarwrightError, match="there is no clause of"):
        quick("tables", "nmra/s-4.2/HO/wheel.size")
    assert "plus 0.010 in" in quick("tables", "bench/practice/HO/coupler.height")
    assert "out of line" in quick("tables", "carwright/looks")


def test_words_lists_characteristics_places_and_units() -> None:
    shown = quick("words")
    for word in (
        "coupler.height",
        "A or B",
        "axle 1, 2",
        "0.391 in",
        "packing",
        "not seen",
        "calliper",
        "washer",
        "HOn3",
    ):
        assert word in shown
    assert "weight.total" in quick("words", "weight")
    assert "0.02 mm" in quick("words", "calliper")
    assert quick("words", "zzz") == "nothing here holds 'zzz'\n"


def test_help_names_every_command() -> None:
    shown = run("--help").stdout
    for name, line in COMMANDS.items():
        assert name in shown
        assert line.split(":")[0][:30] in shown
        assert quick(name, "--help")
    assert run("nonsense").returncode == 2


def test_a_report_that_cannot_be_put_in_place_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Refused at the last step, for root too: exit 2, the reason, the old page whole and nothing beside it."""

    def refuse(self: Path, target: Path) -> Path:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self), None, str(target))

    old = tmp_path / "ho-boxcar.html"
    old.write_text("old", "utf-8")
    monkeypatch.setattr(Path, "replace", refuse)
    monkeypatch.setattr(sys, "argv", ["carwright", "report", "examples/ho-boxcar.toml", "--out", str(tmp_path)])
    with pytest.raises(SystemExit) as stop:
        main()
    assert stop.value.code == 2
    assert "cannot be written: Permission denied" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [old]
    assert old.read_text("utf-8") == "old"


def test_a_place_that_is_no_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file", "utf-8")
    result = run("report", "examples/ho-boxcar.toml", "--out", tmp_path / "out")
    assert result.returncode == 2
    assert "cannot be written" in result.stderr
    assert (tmp_path / "out").read_text("utf-8") == "a file"
    assert run("demo", "--dir", tmp_path / "out").returncode == 2


def test_a_terminal_gets_a_table_that_fits(tmp_path: Path) -> None:
    """Through a pseudo-terminal of 100 columns."""
    log = tmp_path / "log"
    pid, descriptor = pty.fork()
    if pid == 0:
        os.environ.update(COLUMNS="100", TERM="xterm")
        os.execv(sys.executable, [sys.executable, "-m", "carwright", "inspect", "examples/n-gondola.toml"])  # noqa: S606
    chunks = []
    while True:
        try:
            chunk = os.read(descriptor, 65536)
        except OSError:
            break
        if not chunk:
            break
        chunks.append(chunk)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    log.write_bytes(b"".join(chunks))
    shown = log.read_text("utf-8")
    assert "Undecided: 5" in shown
    assert "p conforms" in shown


def test_a_reader_that_goes_away_is_no_error() -> None:
    command = f"'{sys.executable}' -m carwright tables nmra/s-4.2 | head -n 1; exit ${{PIPESTATUS[0]}}"
    result = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)  # noqa: S607
    assert result.returncode in {0, 128 + signal.SIGPIPE}
    assert result.stderr == ""


def test_the_installed_package_has_everything(tmp_path: Path) -> None:
    """A wheel built without isolation and unpacked elsewhere runs the demo from its own files."""
    build = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(tmp_path), "."]
    subprocess.run(build, check=True, capture_output=True)
    [wheel] = tmp_path.glob("carwright-*.whl")
    site = tmp_path / "site"
    subprocess.run([sys.executable, "-m", "zipfile", "-e", str(wheel), str(site)], check=True)
    environment = {**os.environ, "PYTHONPATH": str(site)}
    result = subprocess.run(
        [sys.executable, "-m", "carwright", "demo", "--dir", str(tmp_path / "d")],
        check=False, capture_output=True, text=True, cwd=tmp_path, env=environment,
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    assert (tmp_path / "d" / "reports" / "ho-covered-hopper.html").is_file()
