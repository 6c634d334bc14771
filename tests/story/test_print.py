"""Pages of a print as they come out: margins blank, the same bytes everywhere, and no word less than the page has."""

from __future__ import annotations

import hashlib
import io
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import html5lib
import numpy as np
import numpy.typing as npt
import pypdf
import pytest
import tomli_w

import carwright as cw
from carwright.publish.report import report_of, report_pdf, summary
from carwright.publish.report.content import Report, all_texts, texts_of
from carwright.publish.report.page import page_html
from carwright.publish.report.printed import PAPERS, Paper, pages_pdf
from carwright.publish.theme import Theme, load_theme

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
IDS = [path.stem for path in EXAMPLES]
DPI = 50
INCH = 25.4
"""Millimetres of an inch [mm]."""
BLANK = 250
"""Grey from which a point counts as blank; letters smoothed at their edge stay below."""
HOSTILE = {
    "long": "W" * 200,
    "dots": "." * 200,
    "paths": "C:\\bench\\cars/hopper_40418.final-2/" * 6,
    "Hebrew": "קרון סגור דו צירי צבע אדום מספר 17402 " * 5,
    "Arabic": "عربة مغطاة ذات محورين " * 8,
    "Arabic in one word": "عربةمغطاة" * 22,
    "emoji": "👨\u200d👩\u200d👧\u200d👦🇩🇪🚃👍🏽" * 25,
    "accents": "a\u0301\u0323" * 66,
    "CJK": "有蓋車ワム유개차" * 25,
    "typesetting": '#set page(fill: red) $x^2$ *b* _i_ @ref <lab> [c] \\n \\u{41} // c /* d */ `raw` = H #panic() ~ "',
    "markup": '<script>alert(1)</script> &lt;b&gt; --> ]]> </style></svg></title> onload="x"',
    "zero width": "a\u200bb\u200cc\u200dd\u2060e\ufe0ff\u00adg" * 15,
    "signs of direction": "a\u200eb\u200fc\u202ed\u202ce\u2066f\u2069g" * 15,
    "lines": "two\nlines\tand a tab\n" * 9,
}


@lru_cache
def inspected(path: Path) -> cw.Inspection:
    return cw.inspect(cw.read_sheet(path))


@lru_cache
def reported(path: Path) -> Report:
    return report_of(inspected(path), version="test")


@lru_cache
def printed(path: Path, paper: Paper) -> bytes:
    return pages_pdf(reported(path), paper=paper)


def bare(text: str) -> str:
    """A text without white space, and without the places where a line may be broken."""
    return "".join(re.sub("[\u200b\u00ad]", "", text).split())


def page_texts(data: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages]


@pytest.fixture(scope="module")
def pdftoppm() -> str:
    found = shutil.which("pdftoppm")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no pdftoppm: the system package poppler-utils was not installed")
        pytest.skip("no pdftoppm: the system package poppler-utils was not installed")
    return found


Grey = npt.NDArray[np.uint8]


def drawn(pdftoppm: str, data: bytes, *more: str) -> list[Grey]:
    """Pages as they are drawn, grey, 0 black to 255 white."""
    command = [pdftoppm, "-r", str(DPI), "-gray", *more, "-"]
    out = io.BytesIO(subprocess.run(command, input=data, capture_output=True, check=True).stdout)
    found = []
    while out.readline() == b"P5\n":
        width, height = map(int, out.readline().split())
        assert out.readline() == b"255\n"
        found.append(np.frombuffer(out.read(width * height), np.uint8).reshape(height, width))
    return found


def in_margins(pages: list[Grey], theme: Theme) -> list[tuple[int, str]]:
    """Pages with something left, right or above of where it may stand, and on which side."""
    wide = int((theme.margin_mm - 1.0) / INCH * DPI)
    sides = {"left": np.s_[:, :wide], "right": np.s_[:, -wide:], "top": np.s_[:wide, :]}
    return [
        (number, side)
        for number, page in enumerate(pages, 1)
        for side, where in sides.items()
        if (page[where] < BLANK).any()
    ]


# --- margins -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_margins_are_blank(pdftoppm: str, path: Path, paper: Paper) -> None:
    pages = drawn(pdftoppm, printed(path, paper))
    width, height = PAPERS[paper]
    assert len(pages) == len(pypdf.PdfReader(io.BytesIO(printed(path, paper))).pages)
    for page in pages:
        assert page.shape == pytest.approx((height / INCH * DPI, width / INCH * DPI), abs=1.0)
        assert (page < BLANK).any()
    assert in_margins(pages, load_theme()) == []


def sheet_of(text: str) -> str:
    """A sheet with one text wherever a person may write freely."""
    entries: list[dict[str, Any]] = [
        {"kind": "acquisition", "currency": text, "paid": 12.5, "from": text, "condition": text},
        {"kind": "photo", "file": "gone.jpg", "shows": text},
        {"kind": "look", "what": "part", "name": text, "grade": "marked"},
        {"kind": "look", "what": "paint", "name": f"{text} 2", "grade": "slight"},
        {"kind": "reading", "what": "wheel.back_to_back", "at": "1", "values": ["14.2 mm"], "with": text},
        {"kind": "reading", "what": "weight.total", "values": ["100 g"], "with": "letter scale"},
        {"kind": "evidence", "source": text, "claim": "1957", "seen": [{"feature": "running-board.wood"}]},
        {"kind": "evidence", "of": "model", "source": text, "seen": [{"feature": "running-board.metal"}]},
        {"kind": "trouble", "defect": text, "place": text},
        {"kind": "work", "remedy": "regauge", "at": "1"},
        {"kind": "ruling", "category": "portrayal", "points": 1.0, "reason": text},
    ]
    claimed = {"owner": text, "class": text, "builder": text, "number": text, "wanted": "1957"}
    sheet = {
        "format": "carwright-sheet/1",
        "car": {
            "title": text,
            "scale": "HO",
            "type": text,
            "geometry": {"body_length": "5 in", "axles_per_truck": 2},
            "prototype": claimed,
        },
        "report": dict.fromkeys(("by", "place", "for", "number"), text),
        "instrument": [{"name": text, "preset": "calliper", "resolution": "0.01 mm"}],
        "prior": [{"what": "frame.bow", "u": "0.1 mm", "source": text}],
        "entry": [each | {"note": text, "who": text} for each in entries],
    }
    return tomli_w.dumps(sheet)


@lru_cache
def print_of(text: str) -> bytes:
    return report_pdf(cw.inspect(cw.read_sheet_text(sheet_of(text))), version="test")


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_margins_are_blank_whatever_is_written(pdftoppm: str, text: str) -> None:
    pages = drawn(pdftoppm, print_of(text))
    assert len(pages) > 3
    assert in_margins(pages, load_theme()) == []


def test_commas_do_not_hang_into_a_margin(pdftoppm: str) -> None:
    title = "קרון סגור דו צירי, צבע אדום, מספר 17402 " * 5
    assert in_margins(drawn(pdftoppm, print_of(title)), load_theme()) == []


SIZES: dict[str, tuple[dict[str, float], dict[str, float]]] = {
    "small": ({"print_pt": 6.0, "head_pt": 10.0}, {"margin_mm": 8.0, "gap_mm": 0.5, "line": 1.1}),
    "wide margins": ({}, {"margin_mm": 40.0}),
    "large letters": ({"print_pt": 14.0, "head_pt": 40.0}, {"margin_mm": 8.0, "gap_mm": 12.0, "line": 2.0}),
    "large letters, wide margins": ({"print_pt": 14.0, "head_pt": 40.0}, {"margin_mm": 40.0}),
}
"""Themes at the edges of what a theme may say."""


@pytest.mark.parametrize(("letters", "spacing"), SIZES.values(), ids=SIZES.keys())
def test_margins_are_blank_in_any_theme(
    pdftoppm: str, tmp_path: Path, letters: dict[str, float], spacing: dict[str, float]
) -> None:
    own = {"format": "carwright-theme/1", "type": letters, "spacing": spacing}
    (tmp_path / "theme.toml").write_text(tomli_w.dumps(own), "utf-8")
    theme = load_theme(str(tmp_path / "theme.toml"))
    data = report_pdf(inspected(Path("examples/h0-four-wheel-van.toml")), version="test", theme=theme)
    assert in_margins(drawn(pdftoppm, data), theme) == []


# --- the first page ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_the_first_page_shows_the_car_under_its_verdict(pdftoppm: str, path: Path, paper: Paper) -> None:
    """The drawing is where the summary has ended and its caption has not begun, and takes most of the width."""
    heights = {}
    first = pypdf.PdfReader(io.BytesIO(printed(path, paper))).pages[0]
    marks = {"summary": summary(inspected(path))[-1][:20], "caption": "Side elevation to scale"}

    def look(text: str, user: list[float], matrix: list[float], _font: object, _size: float) -> None:
        for name, start in marks.items():
            if bare(text).startswith(bare(start)):
                heights[name] = user[3] * matrix[5] + user[5]

    first.extract_text(visitor_text=look)
    [page] = drawn(pdftoppm, printed(path, paper), "-l", "1")
    total = float(first.mediabox.height)
    line = load_theme().print_pt * 2.4  # the last sentence may take two lines, and letters reach below theirs
    top, bottom = (int((total - points) / 72 * DPI) for points in (heights["summary"] - line, heights["caption"] + 12))
    assert bottom - top > 40 / INCH * DPI
    inked = (page[top:bottom] < 128).any(axis=0)
    assert np.flatnonzero(inked)[[0, -1]].tolist() == pytest.approx(
        [load_theme().margin_mm / INCH * DPI, page.shape[1] - load_theme().margin_mm / INCH * DPI],
        abs=page.shape[1] / 20,
    )
    assert inked.mean() > 0.5


# --- the same everywhere -------------------------------------------------------------------------------------------

PROGRAM = """
import hashlib, sys
import carwright as cw
from carwright.publish.report import report_pdf
print(hashlib.sha256(report_pdf(cw.inspect(cw.read_sheet(sys.argv[1])), version="test")).hexdigest())
"""


@pytest.mark.parametrize("name", ["ho-covered-hopper", "o-tank-car"])
def test_the_same_history_gives_the_same_bytes_elsewhere(tmp_path: Path, name: str) -> None:
    path = Path("examples") / f"{name}.toml"
    here = {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "LANG": "C", "PYTHONHASHSEED": "4711", "PYTHONUTF8": "0"}
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(path.resolve())],
        cwd=tmp_path, env=os.environ | here, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert ran.stdout.split() == [hashlib.sha256(printed(path, "a4")).hexdigest()]


# --- one content ---------------------------------------------------------------------------------------------------


def told(report: Report) -> Counter[str]:
    """Every text of a report, and how often it is told."""
    front = all_texts(replace(report, sections=()))
    texts = [*front, *(text for each in report.sections for block in each.blocks for text in texts_of(block))]
    return Counter(words for text in [*texts, *(each.title for each in report.sections)] if (words := bare(text)))


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_the_page_says_all_of_the_report(path: Path) -> None:
    root = html5lib.parse(page_html(reported(path)), namespaceHTMLElements=False)
    words = bare(" ".join(root.itertext()))
    assert {bare(text) for text in all_texts(reported(path))} - {""} == set(told(reported(path)))
    assert [text for text, times in told(reported(path)).items() if words.count(text) < times] == []


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_the_print_says_all_of_the_report(path: Path) -> None:
    """A text that runs over a page is joined across the foot, which names the report and counts the pages."""
    report, texts = reported(path), page_texts(printed(path, "a4"))
    whole = []
    for number, text in enumerate(texts, 1):
        foot = bare(f"{report.mark} page {number} of {len(texts)}")
        assert bare(text).endswith(foot)
        whole.append(bare(text).removesuffix(foot))
    words = "".join(whole)
    assert [text for text, times in told(report).items() if words.count(text) < times] == []


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_an_ordinary_word_is_found_whole(pdftoppm: str, path: Path, paper: Paper) -> None:
    """Places where a line may be broken stand in words too wide for it, or at strokes and dots, and hide no word."""
    command = [str(Path(pdftoppm).with_name("pdftotext")), "-enc", "UTF-8", "-", "-"]
    found = subprocess.run(command, input=printed(path, paper), capture_output=True, check=True).stdout.decode()
    assert "P conforms" in found
    assert re.findall(r"[\w\u200b]*[^\W\d_]\u200b[^\W\d_][\w\u200b]*", found) == []


@pytest.mark.parametrize("name", ["long", "dots", "paths", "typesetting", "markup", "zero width", "lines"])
def test_a_print_shows_what_a_person_writes_as_written(name: str) -> None:
    unseen = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufe0f\u00ad\u25af]")
    text = unseen.sub("", bare(HOSTILE[name]))
    words = unseen.sub("", bare("".join(page_texts(print_of(HOSTILE[name])))))
    assert words.count(text) > 10
    assert f"✕{text}:marked" in words


def test_a_source_is_told_as_it_is_written() -> None:
    source = 'a brother\'s slide of 👨\u200d👧, "north yard" \\ no. 2'
    report = report_of(cw.inspect(cw.read_sheet_text(sheet_of(source))), version="test")
    [nearest] = [text for text in all_texts(report) if "stands nearest to" in text]
    assert source in nearest
