"""A person keeps their cars in a shop, through the command: adding, changing, undoing, carrying, and slipping."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from contextlib import chdir
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from carwright.cli import verbs
from carwright.errors import CarwrightError

EXAMPLES = Path("examples").resolve()
CARS = ("ho-boxcar", "ho-flat-car", "n-gondola")
TITLES = (
    "Boxcar, 40 ft, Quillback & Western 11276",
    "Flat car, 53 ft 6 in, Bittern Lake 5320",
    "Gondola, drop-bottom, Great Umber 6207",
)
SHEET = """format = "carwright-sheet/1"

[car]
title = "Reefer, Tansy River 88"   # from the fair
scale = "HO"

[[entry]]
kind = "reading"
what = "coupler.height"
at = "A"
values = ["9.9 mm"]

[[entry]]
kind = "look"
what = "part"
name = "stirrup step"
at = "B"
grade = "slight"
"""


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    returncode: int
    stdout: str
    stderr: str


@dataclass(frozen=True)
class Bench:
    """A folder with a shop in it, and the command: as a program of its own, or within this one, which is quicker."""

    folder: Path
    as_program: bool = False

    @property
    def shop(self) -> Path:
        return self.folder / "shop.db"

    def run(self, *arguments: str | Path, encoding: str = "utf-8") -> Done:
        """Run the command with this shop named by the environment."""
        place = {"CARWRIGHT_SHOP": str(self.shop), "CARWRIGHT_WHO": ""}
        words = [str(each) for each in arguments]
        if not self.as_program:
            return self._within(words, place)
        done = subprocess.run(
            [sys.executable, "-m", "carwright", *words], capture_output=True, text=True, check=False, cwd=self.folder,
            env={**os.environ, **place, "PYTHONIOENCODING": encoding},
        )  # fmt: skip
        return Done(done.returncode, done.stdout, done.stderr)

    def _within(self, words: list[str], place: dict[str, str]) -> Done:
        """The same, with what ``main`` makes of an error."""
        with chdir(self.folder):
            result = CliRunner(env=place).invoke(verbs, words)
        if isinstance(result.exception, CarwrightError):
            return Done(2, result.stdout, f"{result.stderr}{result.exception}\n")
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Done(result.exit_code, result.stdout, result.stderr)

    def says(self, *arguments: str | Path) -> str:
        """What a command says that is to be done without a word on stderr."""
        done = self.run("shop", *arguments)
        assert (done.returncode, done.stderr) == (0, ""), done.stderr
        return done.stdout

    def refuses(self, *arguments: str | Path) -> str:
        """What a command says that is to be refused, in whole sentences and no traceback."""
        done = self.run("shop", *arguments)
        assert (done.returncode, done.stdout) == (2, ""), done.stdout
        assert done.stderr.strip()
        assert "Traceback" not in done.stderr
        return done.stderr

    def write(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.write_text(text, "utf-8")
        return path


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def history(bench: Bench, car: str) -> list[tuple[str, str]]:
    lines = bench.says("show", car, "--history").splitlines()
    return [(line[:8], line[10:]) for line in lines]


def test_a_first_shop_as_the_guide_tells_it(tmp_path: Path) -> None:
    bench = Bench(tmp_path, as_program=True)
    for name in (*CARS, "stock-bench"):
        shutil.copy(EXAMPLES / f"{name}.toml", bench.folder)
    sheets = [f"{name}.toml" for name in CARS]
    first = bench.says("add", *sheets).splitlines()
    assert [line.partition(" (")[0] for line in first] == list(TITLES)
    assert [line.partition("): ")[2] for line in first] == ["new, 21 entries", "new, 40 entries", "new, 9 entries"]
    assert bench.says("add", *sheets).count("nothing new\n") == 3
    listed = [line for line in bench.says("list", "--on", "2026-12-01").splitlines() if not line.startswith(" ")]
    assert [line[0] for line in listed] == ["●", "◇", "✕", "3"]
    assert listed[-1] == "3 cars: 1 in service, 1 restricted, 1 bad order"
    assert bench.refuses("show", "zebra") == "there is no car 'zebra'\n"
    bench = Bench(tmp_path)
    assert bench.says("list", "--status", "bad order").splitlines()[-1] == "1 car: 1 bad order"
    assert bench.says("list", "GONDOLA umber").splitlines()[-1] == "1 car: 1 bad order"
    assert bench.says("list", "%") == bench.says("list", "_") == "no car\n"
    document = json.loads(bench.says("list", "--json"))
    assert document["format"] == "carwright-cars/1"
    assert [each["title"] for each in document["cars"]] == list(TITLES)
    assert [each["status"] for each in document["cars"]] == ["in service", "restricted", "bad order"]
    assert bench.says("inspect") == (
        "0 inspected, 3 known already\n  1 in service\n  1 restricted\n  1 bad order\n"
    )  # fmt: skip


def test_a_result_is_not_worked_out_as_is(bench: Bench) -> None:
    path = bench.write("car.toml", SHEET)
    bench.says("add", path)
    assert "not inspected yet" in bench.says("list", "--as-is")
    row = json.loads(bench.says("list", "--as-is", "--json"))["cars"][0]
    assert (row["inspected"], row["status"], row["points"]) == (False, None, None)
    assert bench.says("inspect").startswith("1 inspected, 0 known already\n")
    assert "held for work" in bench.says("list", "--as-is")


def test_a_sheet_is_given_ids_changed_added_and_corrected(bench: Bench) -> None:
    path = bench.write("reefer.toml", SHEET)
    told = bench.says("add", path, "--write-ids")
    car = re.search(r"\(([0-9a-f]{8})\): new, 2 entries\n  ids are in ", told)
    assert car is not None
    own = path.read_text("utf-8")
    assert [line for line in own.splitlines() if not line.startswith("id = ")] == SHEET.splitlines()
    assert own.count("\nid = ") == 3
    assert "# from the fair" in own
    added = own + '\n[[entry]]\nkind = "note"\nnote = "bought with a spare truck"\n'
    path.write_text(added, "utf-8")
    assert bench.says("add", path, "--write-ids").endswith(f": 1 new entry\n  ids are in {path}\n")
    changed = path.read_text("utf-8").replace("9.9 mm", "9.7 mm")
    path.write_text(changed, "utf-8")
    refused = bench.refuses("add", path)
    assert "entry 1 (reading coupler.height at A): says something else than the shop has under" in refused
    assert "--correct" in refused
    assert bench.run("shop", "add", path, "--correct").stdout.endswith(": 1 correction\n")
    assert bench.says("add", path).endswith(": nothing new\n")
    found = history(bench, car[1])
    assert [what.partition("  [")[0] for _, what in found] == [
        "reading coupler.height at A: 9.9 mm",
        "reading coupler.height at A: 9.7 mm",
        "look part at B: slight",
        "note: bought with a spare truck",
    ]
    assert found[0][1].endswith(f"[superseded by {found[1][0]}]")


def test_a_sheet_without_ids_that_was_changed_is_refused_or_another_car(bench: Bench) -> None:
    path = bench.write("reefer.toml", SHEET)
    bench.says("add", path)
    path.write_text(SHEET.replace("9.9 mm", "9.7 mm"), "utf-8")
    refused = bench.refuses("add", path)
    assert "has no ids, and looks like a changed sheet of 'Reefer, Tansy River 88'" in refused
    assert "--write-ids" in refused
    assert "--another" in refused
    assert bench.says("add", path, "--another").endswith("new, 2 entries\n")
    assert bench.says("list", "--as-is").endswith("2 cars\n")
    many = bench.refuses("show", "reefer")
    assert many.startswith("there is no one car 'reefer': 2 have that, such as Reefer, Tansy River 88 (")
    assert many.endswith("; name it by its id\n")


def test_undoing_and_undoing_that(bench: Bench) -> None:
    bench.says("add", bench.write("reefer.toml", SHEET))
    (height, _), (step, _) = history(bench, "reefer")
    undone = bench.run("shop", "undo", "reefer", "--who", "Ann")
    assert (undone.returncode, undone.stderr) == (0, "")
    note = undone.stdout.split()[-1]
    assert undone.stdout.endswith(f": {step} is superseded by {note}\n")
    assert " by Ann\n" in bench.says("show", "reefer")
    assert history(bench, "reefer")[2][1] == "note: Undone: look part B"
    again = bench.says("undo", "reefer").split()[-1]
    assert dict(history(bench, "reefer"))[again] == "look part at B: slight"
    assert f"{height} is superseded by" in bench.says("undo", "reefer", height)
    assert bench.refuses("undo", "reefer", height).startswith(f"entry {height}")
    assert bench.refuses("undo", "reefer", "ffff") == "there is no entry ffff on this car\n"
    assert len(history(bench, "reefer")) == 5


def test_undoing_on_a_car_without_entries_says_that_nothing_is_there(bench: Bench) -> None:
    bench.says("add", bench.write("bare.toml", SHEET.partition("[[entry]]")[0]))
    assert "no entry  on" not in bench.refuses("undo", "reefer")


def test_nothing_is_added_where_one_of_several_sheets_is_bad(bench: Bench) -> None:
    good = bench.write("good.toml", SHEET)
    bad = bench.write("bad.toml", SHEET.replace('"HO"', '"QQ"').replace("coupler.height", "coupler.hight"))
    told = bench.refuses("add", good, bad, "none.toml", "--write-ids").splitlines()
    assert [line.partition(" ")[0] for line in told] == [f"{bad}:5:", f"{bad}:9:", "none.toml:"]
    assert good.read_text("utf-8") == SHEET
    assert "there is no shop yet" in bench.refuses("list")
    outside = bench.write(
        "outside.toml", SHEET.replace("Reefer", "Boxcar") + '[[entry]]\nkind = "photo"\nfile = "con.png"\n'
    )
    assert "entry 3 (photo), file: 'con.png' must lie beside the sheet" in bench.refuses("add", good, outside)
    assert bench.says("list") == "no car\n"


def test_what_is_not_there_is_said_in_a_line(bench: Bench) -> None:
    assert bench.refuses("list") == f"{bench.shop}: there is no shop yet; `carwright shop add SHEET` starts one\n"
    assert not bench.shop.exists()
    bench.says("add", bench.write("reefer.toml", SHEET))
    for arguments, told in {
        ("show", "zebra"): "there is no car 'zebra'\n",
        ("show", ""): "there is no car ''\n",
        ("kept", "zebra"): "there is no kept file 'zebra'\n",
        ("list", "--collection", "zebra"): "there is no collection 'zebra'\n",
        ("export", "out.zip", "zebra"): "there is no car 'zebra'\n",
        ("import", "none.zip"): "none.zip: there is no such file\n",
        ("import", "reefer.toml"): "reefer.toml: is no zip file, or was cut off; nothing was imported\n",
        ("add", "none.toml"): "none.toml: cannot be read: No such file or directory\n",
        ("keep", "reefer.toml"): "",
        ("list", "--on", "someday"): "",
        ("list", "--status", "lovely"): "",
    }.items():
        assert told in bench.refuses(*arguments), arguments
    assert not (bench.folder / "out.zip").exists()


def test_the_sheet_written_is_the_sheet_that_was_added(bench: Bench) -> None:
    for name in ("ho-covered-hopper.toml", "ho-flat-car.toml", "stock-bench.toml"):
        shutil.copy(EXAMPLES / name, bench.folder)
    photo = bench.folder / "photos" / "ho-covered-hopper-step.png"
    photo.parent.mkdir()
    shutil.copy(EXAMPLES / "photos" / photo.name, photo)
    for name in ("ho-covered-hopper", "ho-flat-car"):
        path = bench.folder / f"{name}.toml"
        bench.says("add", path)
        title = tomllib.loads(path.read_text("utf-8"))["car"]["title"]
        written = Path(bench.says("sheet", title, "--out", "out").splitlines()[0])
        own, back = (bench.run("inspect", each, "--json").stdout for each in (path, written))
        assert json.loads(own) == json.loads(back)
        assert bench.says("show", title, "--json") == back
        assert bench.says("add", written).endswith(": nothing new\n")
    assert (bench.folder / "out" / "photos" / photo.name).read_bytes() == photo.read_bytes()
    assert (bench.folder / "out" / "stock-bench.toml").exists()


def test_two_shops_become_one_whichever_way(bench: Bench) -> None:
    path = bench.write("reefer.toml", SHEET)
    bench.says("add", path, "--write-ids")
    bench.says("export", "mine.zip")
    other = Bench(bench.folder / "other")
    other.folder.mkdir()
    assert other.says("import", "../mine.zip") == "1 writing new here, about 1 car\n"
    other.says("undo", "reefer")
    bench.says("undo", "reefer", history(bench, "reefer")[0][0])
    other.says("export", "theirs.zip")
    assert bench.says("import", "other/theirs.zip").startswith("1 writing new here")
    assert other.says("import", "../shop.db").startswith("1 writing new here")
    bench.says("export", "one.zip")
    other.says("export", "two.zip")
    assert (bench.folder / "one.zip").read_bytes() == (other.folder / "two.zip").read_bytes()
    assert bench.says("show", "reefer", "--history") == other.says("show", "reefer", "--history")
    assert "all is well" in other.says("check", "--strict")


DUE = """format = "carwright-due/1"
id = "club"
title = "when the club looks again"

[[rule]]
id = "show"
after = "transport"
why = "it came to a show"
read = ["coupler.height"]
"""
PLACED = '[[entry]]\nkind = "placement"\nwhere = "hall 3"\nhow = "transport"\nfrom = "2026-03-01"\nto = "2026-03-02"\n'


def test_what_is_kept_and_collected_and_tagged(bench: Bench) -> None:
    bench.says("add", bench.write("reefer.toml", SHEET + PLACED))
    assert bench.says("kept") == "nothing is kept\n"
    assert bench.says("keep", bench.write("my-due.toml", DUE)) == "my-due.toml: carwright-due/1\n"
    assert bench.says("keep", "my-due.toml") == "my-due.toml: carwright-due/1, kept already\n"
    assert bench.says("kept") == "my-due.toml: carwright-due/1\n"
    assert bench.says("kept", "my-due.toml") == DUE
    wrong = bench.write("wrong.toml", DUE.replace("coupler.height", "coupler.hight"))
    assert "unknown name 'coupler.hight'; did you mean 'coupler.height'?" in bench.refuses("keep", "my-due.toml", wrong)
    assert bench.says("collect") == "no collection\n"
    assert bench.says("collect", "Summer  show", "reefer") == "Summer  show: 1 put in\n"
    assert bench.says("collect") == "Summer show: 1 car\n"
    assert "Reefer, Tansy River 88" in bench.says("collect", "SUMMER SHOW")
    assert bench.says("list", "--due", "--on", "2026-02-27") == "no car\n"
    listed = bench.says("list", "--collection", "summer show", "--due", "--on", "2026-03-05", "hall")
    assert re.search(r"due( since 2026-03-0[12])?: it came to a show; read coupler height", listed)
    out = bench.folder / "tags.pdf"
    assert bench.says("tags", "--out", out, "--on", "2026-03-05").startswith(f"{out}\n○  held for work  Reefer")
    assert out.read_bytes().startswith(b"%PDF-")
    assert "in Summer show" in bench.says("show", "reefer")
    assert bench.says("collect", "summer show", "reefer", "--remove").endswith(": 1 taken out\n")
    assert bench.says("list", "--collection", "summer show") == "no car\n"


def test_a_sheet_written_out_and_added_again_still_goes_by_what_is_kept(bench: Bench) -> None:
    (bench.folder / "cars").mkdir()
    rules = bench.folder / "club-sedge.toml"
    shutil.copy(EXAMPLES / rules.name, rules)
    bench.says("keep", rules)
    path = bench.write("cars/reefer.toml", SHEET.replace("[car]", '[car]\nrules = ["nmra", "club-sedge.toml"]'))
    bench.says("add", path)
    written = Path(bench.says("sheet", "reefer", "--out", "out").splitlines()[0])
    assert bench.says("add", written).endswith(": nothing new\n")


def test_tags_tell_of_a_car_that_cannot_be_inspected(bench: Bench) -> None:
    path = bench.write("reefer.toml", SHEET.replace("[car]", '[car]\nrules = ["nmra", "club.toml"]'))
    bench.run("shop", "add", path)
    told = bench.run("shop", "tags", "--out", "tags.pdf")
    assert "Reefer" in told.stdout + told.stderr


def test_ids_are_written_into_every_sheet_they_can_be_written_into(bench: Bench) -> None:
    inline = bench.write("inline.toml", 'format = "carwright-sheet/1"\ncar = {title = "Inline", scale = "HO"}\n')
    path = bench.write("reefer.toml", SHEET)
    done = bench.run("shop", "add", "--write-ids", inline, path)
    assert "inline.toml: ids can be put in only where" in done.stderr
    assert "Reefer, Tansy River 88" in done.stdout
    assert "\nid = " in path.read_text("utf-8")


def test_ids_are_written_through_a_link(bench: Bench) -> None:
    real = bench.write("real.toml", SHEET)
    link = bench.folder / "link.toml"
    link.symlink_to(real)
    bench.says("add", link, "--write-ids")
    assert link.is_symlink()
    assert real.read_text("utf-8").count("\nid = ") == 3


def test_writing_ids_leaves_who_may_read_the_sheet(bench: Bench) -> None:
    path = bench.write("reefer.toml", SHEET)
    path.chmod(0o600)
    bench.says("add", path, "--write-ids")
    assert path.stat().st_mode & 0o777 == 0o600


def test_writing_ids_leaves_a_mark_of_byte_order(bench: Bench) -> None:
    path = bench.folder / "reefer.toml"
    path.write_text(SHEET, "utf-8-sig")
    bench.says("add", path, "--write-ids")
    assert path.read_bytes().startswith(b"\xef\xbb\xbfformat")


def test_the_list_as_json_is_whole_in_any_encoding(tmp_path: Path) -> None:
    bench = Bench(tmp_path, as_program=True)
    title = "Вагон 蓋"
    bench.says("add", bench.write("car.toml", SHEET.replace("Reefer, Tansy River 88", title)))
    for arguments in (("list", "--as-is", "--json"), ("show", "вагон", "--json")):
        done = bench.run("shop", *arguments, encoding="cp1252")
        document = json.loads(done.stdout)
        car = document["cars"][0] if "cars" in document else document["car"]
        assert car["title"] == title


def test_one_is_counted_as_one(bench: Bench) -> None:
    bench.says("add", bench.write("car.toml", SHEET.rpartition("[[entry]]")[0]))
    told = bench.says("show", "reefer") + bench.says("export", "out.zip") + bench.says("check")
    told += bench.says("backup", "copy.db")
    assert re.findall(r"\b1 (?:entries|cars|records|writings|photos)\b", told) == []


def test_writing_a_sheet_replaces_no_file_that_says_something_else(bench: Bench) -> None:
    photo = bench.folder / "x.png"
    photo.write_bytes(b"as it was")
    bench.says("add", bench.write("reefer.toml", SHEET + '[[entry]]\nkind = "photo"\nfile = "x.png"\n'))
    photo.write_bytes(b"retouched since")
    bench.run("shop", "sheet", "reefer", "--out", ".")
    assert photo.read_bytes() == b"retouched since"


def test_a_file_named_as_the_written_sheet_does_not_take_its_place(bench: Bench) -> None:
    name = "reefer-tansy-river-88-11111111.toml"
    own = SHEET.replace("[car]", '[car]\nid = "11111111-2222-4333-8444-555555555555"')
    (bench.folder / name).write_bytes(b"a photo")
    bench.says("add", bench.write("reefer.toml", own + f'[[entry]]\nkind = "photo"\nfile = "{name}"\n'))
    done = bench.run("shop", "sheet", "reefer", "--out", "out")
    assert done.returncode == 2 or "[car]" in (bench.folder / "out" / name).read_text("utf-8")


def test_who_writes_is_one_line_without_control_characters(bench: Bench) -> None:
    bench.says("add", bench.write("reefer.toml", SHEET))
    bench.run("shop", "undo", "reefer", "--who", "Ann\n\x1b[31mOtter")
    assert "by Ann\n" not in bench.says("show", "reefer")


def test_no_file_is_kept_where_one_of_several_is_refused(bench: Bench) -> None:
    bench.says("add", bench.write("reefer.toml", SHEET))
    good, bad = bench.write("due.toml", DUE), bench.write('du"e.toml', DUE)
    assert bench.run("shop", "keep", good, bad).returncode == 2
    assert bench.says("kept") == "nothing is kept\n"


def test_two_files_of_one_name_are_not_kept_together(bench: Bench) -> None:
    for folder in ("a", "b"):
        (bench.folder / folder).mkdir()
        bench.write(f"{folder}/due.toml", DUE.replace("club", folder))
    bench.refuses("keep", "a/due.toml", "b/due.toml")


def test_a_search_finds_no_words_that_were_undone(bench: Bench) -> None:
    bench.says("add", bench.write("reefer.toml", SHEET + '[[entry]]\nkind = "note"\nnote = "smells of fish"\n'))
    assert bench.says("list", "--as-is", "fish").endswith("1 car\n")
    bench.says("undo", "reefer")
    assert bench.says("list", "--as-is", "fish") == "no car\n"


def test_a_file_for_all_cars_is_told_from_a_sheet(bench: Bench) -> None:
    told = bench.refuses(
        "add", EXAMPLES / "ho-boxcar.toml", EXAMPLES / "club-sedge.toml", EXAMPLES / "stock-bench.toml"
    )
    assert told.count("`carwright shop keep` keeps it for all cars") == 2
    assert "there is no shop yet" in bench.refuses("list")
