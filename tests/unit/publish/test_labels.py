"""Labels stand where the sheet has them, say what they must, and their codes can be read from the printed page."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import segno
from numpy.typing import NDArray
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, PdfObject

import carwright as cw
from carwright.errors import TableError, UnknownNameError
from carwright.inspection import Inspection
from carwright.publish.labels import (
    DEFAULTS,
    KINDS,
    LabelError,
    LabelSheet,
    label_sheet,
    label_sheets,
    labels_pdf,
    link_of,
)
from carwright.publish.labels.label import bench_tag, box_label, shelf_label
from carwright.publish.labels.link import qr_path
from carwright.publish.labels.sheet import pages_of
from carwright.publish.labels.sizes import read_label_sheets
from carwright.publish.lettering import TextFitError, lettering_of
from carwright.publish.scene import Circle, Group, Scene, Text
from carwright.publish.theme import load_theme
from carwright.verdict import STATUSES
from carwright.verdict.status import STATUS_MARKS

HOPPER = "Covered hopper, Tansy River 40418"
"""What the example is to be called on labels."""
ID = "123e4567-e89b-12d3-a456-426614174000"
SHOP = "http://192.168.1.20:8000"
MARGIN = 2.0
DRAW: Mapping[str, Callable[..., Scene]] = {"box": box_label, "shelf": shelf_label, "tag": bench_tag}
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
DPI = 600
LETTERS = lettering_of(load_theme())


@cache
def example(name: str, *, identity: str = ID) -> Inspection:
    """An example as shipped, with this id or with none."""
    text = re.sub(r'\nid = "[0-9a-f-]{36}"', "", Path(f"examples/{name}.toml").read_text("utf-8"))
    if identity:
        text = text.replace("[car]\n", f'[car]\nid = "{identity}"\n', 1)
    return cw.inspect(cw.read_sheet_text(text, file=name, folder="examples"))


@cache
def car(title: str = "Boxcar 1", *, car: str = f'id = "{ID}"\n', rest: str = "") -> Inspection:
    """A car nobody has measured: held for work, without points."""
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = {quoted(title)}\nscale = "HO"\n'
    return cw.inspect(cw.read_sheet_text(f"{head}{car}{rest}"))


def quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\u007f", "\\u007f")


def drawn(inspection: Inspection, kind: str, sheet: LabelSheet | None = None, shop: str = "") -> Scene:
    on = sheet or label_sheet(DEFAULTS[kind])
    return DRAW[kind](inspection, width=on.width, height=on.height, letters=LETTERS, shop=shop)


def texts(scene: Scene, what: str = "") -> list[Text]:
    return [each for each in scene.placed() if isinstance(each, Text) and what in {"", each.what}]


def said(scene: Scene, what: str) -> str:
    return " ".join(each.text for each in texts(scene, what))


def code(scene: Scene) -> Group | None:
    return next((each for each in scene.items if isinstance(each, Group) and each.what == "qr"), None)


def printed(kind: str, *cars: Inspection, size: str = "", shop: str = "", start: int = 1) -> bytes:
    return labels_pdf(cars, sheet=label_sheet(size or DEFAULTS[kind]), kind=kind, shop=shop, start=start)


def raster(pdf: bytes, folder: Path) -> NDArray[np.uint8]:
    """The first page in grey, as a printer gets it."""
    program = shutil.which("pdftoppm")
    if program is None:
        pytest.skip("no pdftoppm: the system package poppler-utils was not installed")
    (folder / "labels.pdf").write_bytes(pdf)
    asked = [program, "-r", str(DPI), "-gray", "-singlefile", str(folder / "labels.pdf"), str(folder / "page")]
    subprocess.run(asked, check=True)
    with Image.open(folder / "page.pgm") as image:
        return np.asarray(image)


def pixels(mm: float) -> int:
    return round(mm * DPI / 25.4)


def lines_mm(dark: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Middle and width of each run of dark places [mm]."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], dark, [False])).astype(int)))
    return [((a + b) / 2 * 25.4 / DPI, (b - a) * 25.4 / DPI) for a, b in zip(edges[::2], edges[1::2], strict=True)]


# --- sheets -------------------------------------------------------------------------------------------------------


GRIDS = {
    "a4-63x38": ("a4", 3, 7, 63.5, 38.1, 7.2, 15.15, 66.04, 38.1),
    "a4-99x38": ("a4", 2, 7, 99.1, 38.1, 4.65, 15.15, 101.6, 38.1),
    "a4-70x37": ("a4", 3, 8, 70.0, 37.0, 0.0, 0.5, 70.0, 37.0),
    "letter-66x25": ("letter", 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4),
    "letter-101x50": ("letter", 2, 5, 101.6, 50.8, 3.96875, 12.7, 106.3625, 50.8),
    "a4-shelf": ("a4", 2, 9, 90.0, 28.0, 15.0, 22.5, 90.0, 28.0),
    "letter-shelf": ("letter", 2, 8, 90.0, 28.0, 17.95, 27.7, 90.0, 28.0),
    "a4-tag": ("a4", 2, 3, 90.0, 75.0, 15.0, 36.0, 90.0, 75.0),
    "letter-tag": ("letter", 2, 3, 90.0, 75.0, 17.95, 27.2, 90.0, 75.0),
}


def test_every_sheet_is_as_it_is_sold_or_cut() -> None:
    found = {
        each.id: (
            each.paper, each.columns, each.rows, each.width, each.height, each.left, each.top, each.pitch_x,
            each.pitch_y,
        )
        for each in label_sheets().values()
    }  # fmt: skip
    assert list(found) == list(GRIDS)
    for name, grid in GRIDS.items():
        assert found[name][0] == grid[0]
        assert found[name][1:] == pytest.approx(grid[1:]), name


def test_a_sheet_is_named_by_paper_and_size_alone() -> None:
    for sheet in label_sheets().values():
        paper, _, size = sheet.id.partition("-")
        assert paper == sheet.paper
        if sheet.status == "memory":
            assert size == f"{int(sheet.width)}x{int(sheet.height)}"
        else:
            assert (size,) == sheet.kinds
        assert sheet.cut == (sheet.status == "own")


def test_what_the_user_cuts_stands_in_the_middle_of_the_paper() -> None:
    for sheet in label_sheets().values():
        if sheet.cut:
            width, height = PAPERS[sheet.paper]
            assert 2 * sheet.left + sheet.columns * sheet.width == pytest.approx(width)
            assert 2 * sheet.top + sheet.rows * sheet.height == pytest.approx(height)


def test_every_kind_has_a_sheet_that_suits_it() -> None:
    assert set(DEFAULTS) == set(KINDS) == set(DRAW)
    for kind, name in DEFAULTS.items():
        assert kind in label_sheet(name).kinds


def test_an_unknown_size_offers_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="there is no label size 'a4-63x83'; did you mean 'a4-63x38'"):
        label_sheet("a4-63x83")


ROW = """\
[[sheet]]
id = "a4-63x38"
paper = "a4"
columns = 3
rows = 7
width = 63.5
height = 38.1
left = 7.2
top = 15.15
pitch_x = 66.04
pitch_y = 38.1
kinds = ["box"]
status = "memory"
"""


def test_a_row_as_it_should_be_is_taken() -> None:
    [sheet] = read_label_sheets(ROW).values()
    assert (sheet.per_page, sheet.page, sheet.cut) == (21, (210.0, 297.0), False)
    [again] = read_label_sheets(ROW.replace("63.5", '"2-1/2 in"')).values()
    assert again.width == pytest.approx(63.5)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("pitch_x = 66.04", "pitch_x = 63", "columns overlap: labels of 63.5 mm stand 63 mm apart"),
        ("pitch_y = 38.1", "pitch_y = 38", "rows overlap: labels of 38.1 mm stand 38 mm apart"),
        ("left = 7.2", "left = 15", r"3 columns end at 210.58 mm, the paper at 210 mm"),
        ("rows = 7", "rows = 8", r"8 rows end at 319.95 mm, the paper at 297 mm"),
        ('paper = "a4"', 'paper = "a5"', "paper must be a4 or letter, got 'a5'"),
        ('status = "memory"', 'status = "sure"', "status must be memory or own, got 'sure'"),
        ('kinds = ["box"]', "kinds = []", "kinds must be some of box, shelf, tag, got ''"),
        ('kinds = ["box"]', 'kinds = ["lid"]', "kinds must be some of box, shelf, tag, got 'lid'"),
        ("columns = 3", "columns = 0", "columns must be a whole number of one or more, got 0"),
        ("rows = 7", "rows = 1.5", "rows must be a whole number of one or more, got 1.5"),
        ("width = 63.5", "width = 0", "width must be above zero, got 0 mm"),
        ("width = 63.5", "width = true", "width must be millimetres or a text such as '1 in', got 'True'"),
        ("width = 63.5", "width = nan", "width must be millimetres or a text such as '1 in', got 'nan'"),
        ("width = 63.5", 'width = "2.5"', r"width: cannot read '2.5' \(no unit\)"),
        ("left = 7.2", 'left = "-1 mm"', "left must be zero or more, got -1 mm"),
        ("top = 15.15\n", "", "needs top"),
        ("top = 15.15", 'top = 15.15\ncut = "yes"', "cut must be true or false, got 'yes'"),
        ("pitch_x", "pich_x", "unknown key 'pich_x'; did you mean 'pitch_x'"),
    ],
)
def test_a_row_that_cannot_be_printed_is_refused_by_name(old: str, new: str, message: str) -> None:
    good = ROW.replace("a4-63x38", "another")
    with pytest.raises(TableError, match=rf"own\.toml, sheet 2 \(a4-63x38\): {message}"):
        read_label_sheets(good + ROW.replace(old, new), "own.toml")


def test_two_rows_of_one_id_are_refused() -> None:
    with pytest.raises(TableError, match=r"sheet 2 \(a4-63x38\): a sheet of that id is there already"):
        read_label_sheets(ROW + ROW)


# --- links and codes ----------------------------------------------------------------------------------------------


def test_a_code_says_where_the_car_is_kept_or_who_it_is() -> None:
    history = car().history
    assert link_of(history, "") == f"urn:uuid:{ID}"
    assert link_of(history, SHOP) == link_of(history, f"{SHOP}/") == f"{SHOP}/car/{ID}"
    assert link_of(history, "https://bench.example/shop/") == f"https://bench.example/shop/car/{ID}"
    assert link_of(car(car="").history, SHOP) == ""


@pytest.mark.parametrize(
    "shop",
    ["ftp://x", "x", "192.168.1.20:8000", "http://", "http://a b", "http://a\tb", " http://a", "http://[1", "http://a:0",
     "http://a:99999", "http://a?b=1", "http://a#b", "javascript:alert(1)"],
)  # fmt: skip
def test_what_is_no_address_is_refused(shop: str) -> None:
    expected = f"--shop: {shop!r} is no address of a shop: expected one such as http://192.168.1.20:8000"
    for history in (car().history, car(car="").history):
        with pytest.raises(LabelError, match=f"^{re.escape(expected)}$"):
            link_of(history, shop)


@pytest.mark.parametrize("text", [f"urn:uuid:{ID}", f"{SHOP}/car/{ID}", "x" * 400])
def test_the_path_of_a_code_is_its_modules(text: str) -> None:
    path, size = qr_path(text)
    matrix = segno.make(text, error="m", micro=False).matrix
    assert size == len(matrix) + 8
    assert [list(row) for row in matrix] == dark_modules(path, size)


def dark_modules(path: str, size: int) -> list[list[int]]:
    """The modules within the quiet zone, by the runs of the path; nothing else may be in it."""
    found = np.zeros((size, size), int)
    runs = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", path)
    assert "".join(f"M{x} {y}h{n}v1h-{back}z" for x, y, n, back in runs) == path
    for x, y, n, back in runs:
        assert n == back
        found[int(y), int(x) : int(x) + int(n)] += 1
    assert found.max() == 1
    inner = found[4:-4, 4:-4]
    assert inner.sum() == found.sum()
    return [[int(each) for each in row] for row in inner]


def test_a_link_too_long_for_a_code_is_refused() -> None:
    with pytest.raises(LabelError, match=r"^--shop: a link of 3045 characters is too long for a QR code$"):
        drawn(car(), "box", shop="http://" + "x" * (3000 - 3))
    with pytest.raises(
        LabelError,
        match=r"^Boxcar 1: a link of 445 characters makes squares of 0\.\d\d mm, 0\.33 mm are needed",
    ):
        drawn(car(), "box", shop="http://" + "x" * 397)


@pytest.mark.parametrize(
    ("kind", "size", "side", "below"),
    [("box", "a4-63x38", 28.0, 5.05), ("box", "letter-66x25", 21.4, 2.0), ("shelf", "a4-shelf", 24.0, 2.0),
     ("tag", "letter-tag", 24.0, 49.0)],
)  # fmt: skip
@pytest.mark.parametrize("shop", ["", SHOP])
def test_codes_can_be_read_from_the_printed_page(
    tmp_path: Path, kind: str, size: str, side: float, below: float, shop: str
) -> None:
    """Every module is read at its place from what a printer gets, and nothing stands in the quiet zone."""
    sheet = label_sheet(size)
    page = raster(printed(kind, example("ho-covered-hopper"), size=size, shop=shop, start=5), tmp_path)
    row, column = divmod(4, sheet.columns)
    left = sheet.left + column * sheet.pitch_x + sheet.width - MARGIN - side
    top = sheet.top + row * sheet.pitch_y + below
    link = f"{shop}/car/{ID}" if shop else f"urn:uuid:{ID}"
    wanted = [list(each) for each in segno.make(link, error="m", micro=False).matrix]
    module = side / (len(wanted) + 8)
    read = [
        [
            int(page[pixels(top + (y + 4.5) * module), pixels(left + (x + 4.5) * module)] < 128)
            for x in range(len(wanted))
        ]
        for y in range(len(wanted))
    ]
    assert read == wanted
    frame = page[
        pixels(top + 0.05) : pixels(top + side - 0.05), pixels(left + 0.05) : pixels(left + side - 0.05)
    ].copy()
    quiet = pixels(4 * module - 0.1)
    frame[quiet:-quiet, quiet:-quiet] = 255
    assert frame.min() == 255


def test_a_car_without_an_id_has_no_code() -> None:
    for kind in KINDS:
        assert code(drawn(car(car=""), kind)) is None
        assert code(drawn(car(), kind)) is not None


# --- what they say ------------------------------------------------------------------------------------------------


def test_a_box_label_says_what_is_in_the_box() -> None:
    scene = drawn(example("ho-covered-hopper"), "box")
    assert said(scene, "title") == HOPPER
    assert said(scene, "facts") == "HO, covered hopper"
    assert said(scene, "status") == "○ held for work"
    assert said(scene, "points") == "97 of 120 points"
    assert said(scene, "owner") == "Tansy River 40418"
    assert said(scene, "weight") == "3.522 ± 0.014 oz"
    assert all(each.bold for each in texts(scene, "title"))
    for words in ("Covered hopper", "held for work", "97 of 120", "3.522 ± 0.014 oz", f"urn:uuid:{ID}"):
        assert words in scene.words
    wide = drawn(example("ho-covered-hopper"), "box", label_sheet("a4-99x38"))
    assert said(wide, "status") == "○ held for work, 97 of 120 points"
    assert not texts(wide, "points")


def test_a_box_label_leaves_out_what_is_not_known() -> None:
    scene = drawn(car(), "box")
    assert said(scene, "facts") == "HO"
    assert said(scene, "points") == "no points yet"
    assert not texts(scene, "owner")
    assert not texts(scene, "weight")
    unweighed = drawn(example("ho-boxcar"), "box")
    assert said(unweighed, "status") == "● in service"
    assert not texts(unweighed, "owner")


def test_a_box_label_gives_the_weight_of_today() -> None:
    geometry = '[car.geometry]\nbody_length = "5.35 in"\n'
    weighed = '[[entry]]\nkind = "reading"\nwhat = "weight.total"\nvalues = ["{} g"]\n'
    work = '[[entry]]\nkind = "work"\nremedy = "ballast"\namount = "20 g"\n'
    before, after = weighed.format("80.0"), weighed.format("100.0")
    metric = f'id = "{ID}"\nsystem = "metric"\n'
    assert said(drawn(car(car=metric, rest=geometry + before), "box"), "weight").startswith("80.0")
    assert said(drawn(car(car=metric, rest=geometry + before + work + after), "box"), "weight").startswith("100.0")


def test_every_status_has_a_shape_of_its_own_beside_its_word() -> None:
    assert list(STATUS_MARKS) == list(STATUSES)
    assert len(set(STATUS_MARKS.values())) == len(STATUSES)
    for name in ("ho-boxcar", "ho-flat-car", "o-tank-car", "n-gondola"):
        inspection = example(name, identity="")
        status = inspection.verdict.status
        assert said(drawn(inspection, "box"), "status").startswith(f"{STATUS_MARKS[status]} {status}")
        assert said(drawn(inspection, "tag"), "status") == f"{STATUS_MARKS[status]} {status[0].upper()}{status[1:]}"


def test_a_low_label_leaves_out_the_last_lines_before_its_letters_shrink_too_far() -> None:
    order = ["title", "title", "facts", "status", "owner", "weight"]
    counts = []
    for height in (30.0, 25.4, 18.0, 14.0, 11.0):
        sheet = replace(label_sheet("letter-66x25"), height=height)
        scene = drawn(example("ho-covered-hopper", identity=""), "box", sheet)
        lines = texts(scene)
        assert min(each.size for each in lines) >= 2.0
        whats = [each.what for each in lines]
        full = order if whats[:2] == ["title", "title"] else order[1:]
        assert whats == full[: len(whats)]
        counts.append(len(set(whats)))
    assert counts[0] == counts[1] == 5
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] < 4


def test_an_owner_gives_way_before_the_number_does() -> None:
    rest = f'[car.prototype]\nowner = "{"Quillback and Western " * 10}"\nnumber = "40418"\n'
    line = said(drawn(car(rest=rest), "box"), "owner")
    assert re.fullmatch(r"Quillback.*… 40418", line)


def test_a_title_is_broken_evenly() -> None:
    """A number never stands alone on the second line while the first is full."""
    scene = drawn(example("ho-boxcar"), "box", label_sheet("letter-101x50"))
    assert [each.text for each in texts(scene, "title")] == ["Boxcar, 40 ft, Quillback", "& Western 11276"]


def test_a_shelf_label_shows_the_number_large() -> None:
    scene = drawn(example("ho-covered-hopper"), "shelf")
    [number] = texts(scene, "number")
    [title] = texts(scene, "title")
    assert (number.text, number.bold) == ("40418", True)
    assert number.size > 2 * title.size
    assert title.text == HOPPER
    assert said(scene, "facts") == "HO, covered hopper"


def test_a_shelf_label_without_a_number_shows_the_short_title() -> None:
    scene = drawn(car("A title that is rather long for a shelf", rest='[report]\nshort = "Long one"\n'), "shelf")
    assert said(scene, "number") == "Long one"
    assert not texts(scene, "title")


def test_a_shelf_label_cuts_the_title_under_its_number() -> None:
    scene = drawn(car("word " * 40, rest='[car.prototype]\nnumber = "88"\n'), "shelf")
    assert said(scene, "number") == "88"
    assert said(scene, "title").endswith("…")


def test_a_tag_says_why_and_what_next() -> None:
    inspection = example("ho-covered-hopper")
    scene = drawn(inspection, "tag")
    assert said(scene, "status") == "○ Held for work"
    assert said(scene, "title") == HOPPER
    assert [each.text for each in texts(scene, "head")] == ["Why", "Next"]
    assert said(scene, "why") == " ".join(inspection.verdict.status_reasons)
    steps = [step.words for step in inspection.plans.offered[0].steps]
    assert said(scene, "next") == " ".join(steps)
    assert [each.text for each in texts(scene, "bullet")] == ["•", "•", "1.", "2."]
    assert said(scene, "date") == "2026-03-05"


def test_a_tag_keeps_a_long_reason_to_three_lines() -> None:
    look = f'[[entry]]\nkind = "look"\nwhat = "motion"\nname = "{"drop door " * 60}"\ngrade = "spoilt"\n'
    inspection = car(rest=look)
    assert any(len(each) > 500 for each in inspection.verdict.status_reasons)
    lines = texts(drawn(inspection, "tag"), "why")
    [end] = [number for number, each in enumerate(lines) if each.text.endswith("…")]
    assert lines[end - 2].text.startswith("held for work: drop door")
    assert all("drop door" in each.text for each in lines[end - 2 : end + 1])
    assert not any("drop door" in each.text for each in lines[end + 1 :])


def test_a_tag_counts_what_it_has_no_room_for() -> None:
    inspection = example("o-tank-car")
    scene = drawn(inspection, "tag")
    reasons = inspection.verdict.status_reasons
    why = [each for each in texts(scene, "bullet") if each.y < texts(scene, "head")[1].y]
    assert len(why) < len(reasons)
    assert texts(scene, "more")[0].text == f"and {len(reasons) - len(why)} more"
    assert said(scene, "why") == " ".join(reasons[: len(why)])
    assert not inspection.plans.offered
    assert said(scene, "next").startswith("Coupler action (A, B) by hand")


def test_a_tag_without_a_history_bears_the_date_of_its_report() -> None:
    assert said(drawn(car(rest='[report]\nissued = "2026-05-01T10:00"\n'), "tag"), "date") == "2026-05-01"
    assert not texts(drawn(car(), "tag"), "date")
    dated = '[report]\nissued = "2026-05-01"\n' + "".join(
        f'[[entry]]\nkind = "note"\nnote = "x"\nwhen = "{when}"\n' for when in ("2026-02-01", "2026-03-01T19:30")
    )
    assert said(drawn(car(rest=dated), "tag"), "date") == "2026-03-01"


def test_a_tag_is_punched_above_its_words() -> None:
    scene = drawn(example("n-gondola"), "tag")
    [hole] = [each for each in scene.items if isinstance(each, Circle)]
    assert (hole.x, hole.y, hole.r) == (45.0, 6.0, 2.0)
    assert min(each.y - 0.8 * each.size for each in texts(scene)) >= hole.y + hole.r


# --- room ---------------------------------------------------------------------------------------------------------


HOSTILE = {
    "right to left": "עגלת משא שטוחה 17 عربة شحن مغلقة",
    "emoji": "👨‍👩‍👧 🚃🚃 boxcar 🏳️‍🌈",
    "markup": '<b>Boxcar</b> & "Co" #eval(1) *x* $y$ \\ &amp; ]]>',
    "marks": "Z̴̛̹a̷͎l̸̰g̶o̵ 42 Å̂̃",
    "no letters": "\u0378\ufdd0\uffff \U000f0000 7",
    "blanks": "a\u00a0b\u2003c\nd\te \u200b\u2060 f",
    "wide": "WWWW WWWW WWWW WWWW",
}
LONG = {
    "type": "car " * 150,
    "owner": "Q" * 500,
    "number": "8" * 6,
}


@cache
def hostile(title: str) -> Inspection:
    rest = f'[car.prototype]\nowner = "{LONG["owner"]}"\nnumber = "{LONG["number"]}"\n' + "".join(
        f'[[entry]]\nkind = "look"\nwhat = "motion"\nname = "{name}"\ngrade = "spoilt"\nwhen = "2026-01-0{n}"\n'
        for n, name in enumerate(("step " * 80, "x" * 300, "roof", "ladder", "brake wheel", "door"), 1)
    )
    return car(title, car=f'id = "{ID}"\ntype = "{LONG["type"]}"\n', rest=rest)


def check_room(scene: Scene) -> None:
    held = code(scene)
    lines = texts(scene)
    assert lines
    for each in lines:
        assert each.anchor == "start"
        right = each.x + LETTERS.width(each.text, each.size, bold=each.bold)
        assert each.x >= MARGIN - 1e-6
        assert right <= scene.width - MARGIN + 1e-6, each
        assert each.y - 0.8 * each.size >= MARGIN - 1e-6, each
        assert each.y + 0.25 * each.size <= scene.height - MARGIN + 1e-6, each
        assert each.size >= 2.0
        if held is not None and each.y + 0.25 * each.size > held.move[1]:
            assert right <= held.move[0], each
        assert not LETTERS.lacks(each.text)
    for upper, lower in pairwise(sorted(lines, key=lambda each: each.y)):
        assert lower.y == upper.y or lower.y - upper.y >= 0.8 * lower.size + 0.25 * upper.size


SUITED = [(kind, sheet.id) for sheet in label_sheets().values() for kind in sheet.kinds]


@pytest.mark.parametrize("title", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize(("kind", "size"), SUITED)
def test_no_word_leaves_its_label(kind: str, size: str, title: str) -> None:
    inspection = hostile(title)
    for shop in ("", SHOP):
        check_room(drawn(inspection, kind, label_sheet(size), shop))
    bare = replace(inspection, history=replace(inspection.history, id="", prototype={}))
    check_room(drawn(bare, kind, label_sheet(size)))


@pytest.mark.parametrize("name", ["ho-covered-hopper", "ho-flat-car", "n-gondola", "o-tank-car", "s-flat-car"])
@pytest.mark.parametrize(("kind", "size"), SUITED)
def test_the_examples_stand_on_every_label(kind: str, size: str, name: str) -> None:
    inspection = example(name)
    check_room(drawn(inspection, kind, label_sheet(size)))


def test_hostile_words_are_drawn_within_their_labels(tmp_path: Path) -> None:
    """What a printer gets is white everywhere outside the labels."""
    sheet = label_sheet("a4-63x38")
    page = raster(printed("box", *map(hostile, HOSTILE.values()), start=3), tmp_path).copy()
    for place in range(2, 2 + len(HOSTILE)):
        row, column = divmod(place, sheet.columns)
        x, y = sheet.left + column * sheet.pitch_x, sheet.top + row * sheet.pitch_y
        label = page[pixels(y) : pixels(y + sheet.height), pixels(x) : pixels(x + sheet.width)]
        words = label[:, : pixels(sheet.width - MARGIN - 28)]
        assert (words < 128).sum() > 1000
        label[:] = 255
    assert page.min() == 255


@pytest.mark.parametrize("kind", KINDS)
def test_a_title_too_long_is_refused_and_a_short_one_helps(kind: str) -> None:
    title = "Covered hopper of forty feet " * 7
    assert len(title) > 200
    with pytest.raises(
        TextFitError, match=rf"{kind}.* of Covered hopper of forty feet Covered.*\.\.\.: .*write it shorter"
    ):
        drawn(car(title), kind)
    assert "Hopper 40" in said(drawn(car(title, rest='[report]\nshort = "Hopper 40"\n'), kind), "title") + said(
        drawn(car(title, rest='[report]\nshort = "Hopper 40"\n'), kind), "number"
    )


# --- pages --------------------------------------------------------------------------------------------------------


def moves(page: Scene) -> list[tuple[float, float]]:
    return [each.move for each in page.items if isinstance(each, Group) and each.what == "label"]


def test_labels_run_row_by_row_from_the_first_free_one() -> None:
    cars, sheet = [car(f"Car {n}") for n in range(4)], label_sheet("a4-63x38")
    for start, places in ((1, [(7.2, 15.15), (73.24, 15.15), (139.28, 15.15), (7.2, 53.25)]),
                          (6, [(139.28, 53.25), (7.2, 91.35), (73.24, 91.35), (139.28, 91.35)])):  # fmt: skip
        [page] = pages_of(cars, sheet=sheet, kind="box", shop="", start=start, theme=load_theme())
        assert np.array(moves(page)) == pytest.approx(np.array(places))
        titles = [each.text for each in page.placed() if isinstance(each, Text) and each.what == "title"]
        assert titles == ["Car 0", "Car 1", "Car 2", "Car 3"]


@pytest.mark.parametrize(
    ("count", "start", "pages"), [(1, 1, 1), (21, 1, 1), (22, 1, 2), (1, 21, 1), (2, 21, 2), (43, 20, 3), (43, 1, 3)]
)
def test_as_many_pages_as_are_needed(count: int, start: int, pages: int) -> None:
    cars = [car()] * count
    reader = PdfReader(io.BytesIO(printed("box", *cars, start=start)))
    assert len(reader.pages) == pages
    drawn_pages = pages_of(cars, sheet=label_sheet("a4-63x38"), kind="box", shop="", start=start, theme=load_theme())
    assert sum(len(moves(page)) for page in drawn_pages) == count
    assert len(moves(drawn_pages[0])) == min(count, 22 - start)


@pytest.mark.parametrize(("kind", "size"), SUITED)
def test_a_page_is_exactly_the_paper(kind: str, size: str) -> None:
    reader = PdfReader(io.BytesIO(printed(kind, example("o-tank-car"), size=size, start=2)))
    width, height = PAPERS[size.partition("-")[0]]
    for page in reader.pages:
        assert [float(each) for each in page.mediabox] == pytest.approx(
            [0, 0, width * 72 / 25.4, height * 72 / 25.4], abs=0.1
        )


def test_the_file_is_titled_tagged_and_searchable() -> None:
    reader = PdfReader(io.BytesIO(printed("box", example("ho-covered-hopper"), example("o-tank-car"))))
    assert reader.metadata is not None
    assert reader.metadata.title == "Labels"
    root = reader.trailer["/Root"].get_object()
    assert isinstance(root, DictionaryObject)
    assert str(root["/Lang"]) == "en"
    [words] = alternatives(root["/StructTreeRoot"].get_object())
    for each in (
        HOPPER,
        "held for work",
        "97 of 120",
        "Tank car",
        f"urn:uuid:{ID}",
    ):
        assert each in words
    assert "97 of 120 points" in reader.pages[0].extract_text()


def alternatives(node: object) -> list[str]:
    """Alternative words of everything in the tree of tags."""
    found = node.get_object() if isinstance(node, PdfObject) else node
    if isinstance(found, ArrayObject):
        return [words for each in found for words in alternatives(each)]
    if not isinstance(found, DictionaryObject):
        return []
    own = [str(found["/Alt"])] if "/Alt" in found else []
    return own + (alternatives(found["/K"]) if "/K" in found else [])


CUTS: Mapping[str, tuple[list[float], list[float]]] = {
    "a4-shelf": ([15, 105, 195], [22.5 + 28 * n for n in range(10)]),
    "letter-shelf": ([17.95, 107.95, 197.95], [27.7 + 28 * n for n in range(9)]),
    "a4-tag": ([15, 105, 195], [36, 111, 186, 261]),
    "letter-tag": ([17.95, 107.95, 197.95], [27.2, 102.2, 177.2, 252.2]),
}


@pytest.mark.parametrize("size", CUTS)
def test_cut_lines_are_true_and_run_right_across(tmp_path: Path, size: str) -> None:
    kind = size.partition("-")[2]
    page = raster(printed(kind, example("o-tank-car"), size=size), tmp_path)
    across, down = CUTS[size]
    near, far = pixels(1), pixels(8)
    for strip, wanted in (
        (page[near:far].mean(axis=0), across),
        (page[-far:-near].mean(axis=0), across),
        (page[:, near:far].mean(axis=1), down),
        (page[:, -far:-near].mean(axis=1), down),
    ):
        found = lines_mm(strip < 170)
        assert [middle for middle, _ in found] == pytest.approx(wanted, abs=0.2)
        assert all(0.04 <= width <= 0.2 for _, width in found)
    for x in across:  # from edge to edge, through the rows where labels stand
        assert page[:, pixels(x) - 2 : pixels(x) + 3].min(axis=1).max() < 170
    for y in down:
        assert page[pixels(y) - 2 : pixels(y) + 3].min(axis=0).max() < 170


def test_a_sheet_cut_already_has_no_lines(tmp_path: Path) -> None:
    sheet = label_sheet("a4-99x38")
    page = raster(printed("shelf", car(), size="a4-99x38"), tmp_path).copy()
    label = page[pixels(15.15) : pixels(15.15 + sheet.height), pixels(4.65) : pixels(4.65 + sheet.width)]
    assert label.min() < 60
    label[:] = 255
    assert page.min() == 255


def test_the_same_cars_give_the_same_bytes() -> None:
    for kind in KINDS:
        cars = [example("ho-covered-hopper"), hostile(HOSTILE["emoji"])]
        example.cache_clear()
        hostile.cache_clear()
        again = [example("ho-covered-hopper"), hostile(HOSTILE["emoji"])]
        assert printed(kind, *cars, shop=SHOP) == printed(kind, *again, shop=SHOP)


def test_a_theme_inks_the_labels(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('format = "carwright-theme/1"\n[colours.print]\nink = "#444444"\n', "utf-8")
    sheet = label_sheet("a4-63x38")
    for theme, darkest in ((load_theme(), 0x13), (load_theme(str(own)), 0x44)):
        page = raster(labels_pdf([car()], sheet=sheet, kind="box", theme=theme), tmp_path)
        assert int(page.min()) == pytest.approx(darkest, abs=2)


# --- what is refused ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "size", "message"),
    [
        ("tag", "a4-63x38", "--size: a4-63x38 suits box labels, not tags"),
        ("tag", "a4-99x38", "--size: a4-99x38 suits box labels and shelf labels, not tags"),
        ("box", "a4-tag", "--size: a4-tag suits tags, not box labels"),
        ("lid", "a4-shelf", "--size: a4-shelf suits shelf labels, not 'lid'"),
    ],
)
def test_a_sheet_that_does_not_suit_is_refused(kind: str, size: str, message: str) -> None:
    with pytest.raises(LabelError, match=f"^{message}$"):
        printed(kind, car(), size=size)


@pytest.mark.parametrize("start", [0, -1, 22])
def test_a_start_off_the_sheet_is_refused(start: int) -> None:
    with pytest.raises(LabelError, match=f"^--start: {start} is no label of a4-63x38: expected 1 to 21$"):
        printed("box", car(), start=start)


def test_no_car_is_refused() -> None:
    with pytest.raises(LabelError, match=r"^labels: no car was given; at least one is needed$"):
        printed("box")


def test_a_car_in_service_gets_no_tag() -> None:
    """All of them are named at once."""
    sound = example("ho-boxcar")
    other = replace(sound, history=replace(sound.history, title="Another"))
    with pytest.raises(
        LabelError,
        match=r"^Boxcar, 40 ft, Quillback & Western 11276: is in service and needs no tag\n"
        r"Another: is in service and needs no tag$",
    ):
        printed("tag", sound, example("n-gondola"), other)


def test_blanks_between_emoji_keep_clear_of_the_code(tmp_path: Path) -> None:
    page = raster(printed("box", car("🚃 " * 10), size="a4-99x38"), tmp_path)
    label = page[pixels(15.15) : pixels(15.15 + 38.1), pixels(4.65) : pixels(4.65 + 99.1)]
    x = pixels(99.1 - 2 - 28)
    assert label[:, x : x + pixels(2)].min() == 255
