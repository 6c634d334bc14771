"""The report as a page: valid and whole in itself whatever is written in it, with a name for all that is drawn."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import html5lib
import pytest
import tomli_w

import carwright as cw
from carwright.publish.report import report_html, report_of
from carwright.publish.report.content import Abreast, Block, Figure, Items, Photograph, Piece, Report, Table
from carwright.publish.report.page import page_html
from carwright.publish.theme import INKS, MEDIA, load_theme

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
HOSTILE = {
    "script": "<script>alert(1)</script>",
    "attributes": "\"' onload=alert(1) onclick='x' style=color:red",
    "ends": "--> ]]> </style></svg></title></h1></body></html>",
    "entities": "&lt; &amp;amp; &#60; &nbsp &copy;",
    "template": "{{ report }} {% raw %} {# x #} ${x}",
    "addresses": "https://example.invalid/a.png url(https://example.invalid/b) javascript:alert(1)",
    "typesetting": "#set page(fill: red) $x$ *b* _i_ @ref <lab> [c] \\u{41} // c /* d */ `raw`",
    "long": "W" * 200,
    "Hebrew": "קרון סגור, דו צירי",
    "Arabic": "عربة مغطاة ذات محورين",
    "emoji": "🚃 👨\u200d👩\u200d👧\u200d👦 🇩🇪 ❤\ufe0f\u200d🔥",
    "stacked": "Z" + "\u0301\u0323\u0336" * 20,
    "CJK": "有蓋車 ワム 90000 유개차",
    "zero width": "a\u200bb\u200cc\u200dd\u2060e\ufefff\u202eg\u2066h\u00adi",
    "lines": "two\nlines\tand a tab",
}
LOADING = {"src", "href", "srcset", "action", "data", "poster", "formaction", "background", "ping", "cite", "manifest"}
"""Attributes by which a page may ask for something. HTML Living Standard, "Attributes"."""
ACTIVE = {"script", "iframe", "object", "embed", "link", "base", "form", "audio", "video", "source", "template"}
LARGEST = 6
"""The lowest heading there is."""


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
def reported(name: str) -> Report:
    path = Path("examples") / f"{name}.toml"
    sheet = cw.read_sheet(path) if path.exists() else cw.read_sheet_text(sheet_of(HOSTILE[name]))
    return report_of(cw.inspect(sheet), version="test")


@lru_cache
def page(name: str) -> str:
    return page_html(reported(name))


@lru_cache
def parsed(name: str) -> ET.Element:
    root: ET.Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page(name))
    return root


ALL = [path.stem for path in EXAMPLES] + list(HOSTILE)


def tag(element: ET.Element) -> str:
    """Name of an element, whatever its namespace."""
    return element.tag.rpartition("}")[2]


def pieces(name: str) -> Iterator[Block]:
    """Every block of a report, those within a piece after it."""

    def within(blocks: Sequence[Block]) -> Iterator[Block]:
        for block in blocks:
            yield block
            if isinstance(block, Piece):
                yield from within(block.blocks)
            elif isinstance(block, Abreast):
                yield from within(block.pieces)

    report = reported(name)
    if report.front.figure is not None:
        yield report.front.figure
    for section in report.sections:
        yield from within(section.blocks)


@pytest.mark.parametrize("name", ALL)
def test_a_page_is_valid_and_asks_for_nothing(name: str) -> None:
    for element in parsed(name).iter():
        assert tag(element) not in ACTIVE
        for key, value in element.attrib.items():
            plain = key.rpartition("}")[2].lower()
            assert not plain.startswith("on")
            if plain in LOADING:
                assert value.startswith(("#", "data:image/jpeg;base64,")), value[:60]
            assert plain != "style" or re.fullmatch(r"width:[\d.]+%", value), value
        if tag(element) == "meta":
            assert "http-equiv" not in element.attrib
        if tag(element) == "style":
            rest = (element.text or "").replace("url(data:font/woff2;base64,", "")
            assert "url(" not in rest
            assert "@import" not in rest


@pytest.mark.parametrize("name", HOSTILE)
def test_what_a_person_writes_is_shown_as_written(name: str) -> None:
    text, root = HOSTILE[name], parsed(name)
    [title] = root.iter("h1")
    assert "".join(title.itertext()) == text
    shown = [" ".join("".join(each.itertext()).split()) for each in root.iter() if tag(each) in {"dd", "h3", "td", "p"}]
    wanted = " ".join(text.split())
    about = [words for words in shown if words == wanted]
    assert len(about) >= 3, "made by, where, for"
    assert any(words.startswith(f"✕ {wanted}: marked") for words in shown)
    assert str(next(root.iter("title")).text).startswith(text)


@pytest.mark.parametrize("name", ALL)
def test_every_name_within_a_page_is_one_place(name: str) -> None:
    places = Counter(element.attrib["id"] for element in parsed(name).iter() if "id" in element.attrib)
    assert [place for place, count in places.items() if count > 1] == []
    leads = [element.attrib["href"] for element in parsed(name).iter() if "href" in element.attrib]
    assert {lead.removeprefix("#") for lead in leads} <= set(places)
    rows = [element for element in parsed(name).iter("tr") if re.fullmatch(r"f\d+", element.attrib.get("id", ""))]
    for row in rows:
        [pin] = [cell for cell in row if cell.attrib.get("class") == "pin-cell"]
        assert f"f{''.join(pin.itertext())}" == row.attrib["id"]


@pytest.mark.parametrize("name", ["ho-covered-hopper", "o-tank-car", "h0-four-wheel-van", "script"])
def test_every_row_that_fails_has_its_pin(name: str) -> None:
    leads = {element.attrib["href"] for element in parsed(name).iter() if tag(element) == "a"}
    anchors = [anchor for block in pieces(name) if isinstance(block, Table) for anchor in block.anchors]
    assert len(anchors) > 0
    packed = [block for block in pieces(name) if isinstance(block, Table) and block.anchors]
    unpinned = {
        anchor
        for table in packed
        for anchor, row in zip(table.anchors, table.rows, strict=True)
        if row[1].text == "foam tray"  # what lies in the box is no place on the car
    }
    assert leads == {f"#{anchor}" for anchor in anchors if anchor not in unpinned}


@pytest.mark.parametrize("name", ALL)
def test_all_that_is_drawn_has_a_name(name: str) -> None:
    drawn = [element for element in parsed(name).iter() if tag(element) == "svg" and element.get("class") != "strip"]
    assert all(element.attrib["aria-label"].strip() for element in drawn)
    assert all(element.attrib["role"] in {"img", "group"} for element in drawn)
    scenes = [scene.words for block in pieces(name) if isinstance(block, Figure) for scene in block.scenes]
    tables = [block for block in pieces(name) if isinstance(block, Table)]
    scenes += [cell.scene.words for table in tables for row in table.rows for cell in row if cell.scene is not None]
    assert Counter(element.attrib["aria-label"] for element in drawn) == Counter(scenes)
    shown = [block for block in pieces(name) if isinstance(block, Photograph) and block.picture.data]
    photos = list(parsed(name).iter("img"))
    assert [photo.attrib["alt"] for photo in photos] == [each.picture.photo.shows for each in shown]
    assert all(photo.attrib["alt"].strip() for photo in photos)


@pytest.mark.parametrize("name", ALL)
def test_headings_never_skip_a_level(name: str) -> None:
    found = [int(tag(each)[1]) for each in parsed(name).iter() if re.fullmatch(r"h[1-6]", tag(each))]
    assert found[0] == 1
    assert found.count(1) == 1
    assert found.count(2) == len(reported(name).sections)
    assert all(later <= before + 1 for before, later in pairwise(found))
    assert max(found) < LARGEST
    below = [block for block in pieces(name) if isinstance(block, Piece)]
    assert len(found) == 1 + len(reported(name).sections) + len(below)


def told(cell: ET.Element) -> str:
    """What stands in a cell."""
    return "".join(cell.itertext()).strip()


@pytest.mark.parametrize("name", ALL)
def test_every_row_has_as_many_cells_as_there_are_headings(name: str) -> None:
    for table in parsed(name).iter("table"):
        [head] = [row for row in table.iter("tr") if any(cell.get("scope") == "col" for cell in row)]
        assert all(
            (cell.get("scope") == "col") == bool(told(cell)) for cell in head
        )  # what heads nothing is no heading
        for row in table.iter("tr"):
            if row is not head:
                assert sum(int(cell.attrib.get("colspan", 1)) for cell in row) == len(head)
                heads = [cell for cell in row if tag(cell) == "th"]
                assert [cell.attrib["scope"] for cell in heads] == (["row"] if heads else [])
                assert heads or not told(row[0])


@pytest.mark.parametrize("name", ["ho-covered-hopper", "o-tank-car", "emoji"])
def test_drawings_use_no_colour_that_is_not_defined(name: str) -> None:
    text = page(name)
    used = set(re.findall(r"var\(--([\w-]+)\)", text))
    assert {"ink", "accent", "wash"} <= used
    style = style_of(text)
    for rule in re.findall(r":root \{(.*?)\}", style):
        assert set(re.findall(r"--([\w-]+):", rule)) >= set(INKS)
    assert used <= set(re.findall(r"--([\w-]+):", style))
    for element in parsed(name).iter():
        inks = [element.attrib.get("fill", "none"), element.attrib.get("stroke", "none")]
        assert all(ink == "none" or re.fullmatch(r"var\(--\w+\)", ink) for ink in inks), inks


@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_a_strip_is_as_long_as_it_says(name: str) -> None:
    strips = [
        item.strip
        for block in pieces(name)
        if isinstance(block, Items)
        for item in block.items
        if item.strip is not None
    ]
    drawn = [each[0].attrib["width"] for each in parsed(name).iter() if each.attrib.get("class") == "strip"]
    assert drawn == [f"{100 * strip:.0f}" for strip in strips]
    assert all(0 <= strip <= 1 for strip in strips)


@pytest.mark.parametrize("name", ["ho-covered-hopper", "o-tank-car"])
def test_what_would_change_the_verdict_stands_nearest_first(name: str) -> None:
    [strips] = [block for block in pieces(name) if isinstance(block, Items) and block.style == "strips"]
    shown = [item.strip for item in strips.items if item.strip is not None]
    assert len(shown) > 5
    assert "Nearest first" in page(name)
    assert shown == sorted(shown)


# --- themes --------------------------------------------------------------------------------------------------------


def style_of(text: str) -> str:
    [style] = html5lib.parse(text, namespaceHTMLElements=False).iter("style")
    return str(style.text)


def test_the_shipped_theme_brings_its_letters_and_its_colours() -> None:
    style, theme = style_of(page("ho-boxcar")), load_theme()
    assert style.count("@font-face") == 2
    assert f'--families: "{theme.family}"' in style
    rules = re.findall(r":root \{(.*?)\}", style)
    assert len(rules) == 3
    for medium, rule in zip(("light", "dark", "print"), rules, strict=True):
        for ink in INKS:
            assert f"--{ink}: {theme.ink(ink, medium)};" in rule  # type: ignore[arg-type]


def test_the_colours_of_print_come_last() -> None:
    """A reader who prints by night gets black on white: of rules of one weight the last holds (CSS Cascade 4, 6.4)."""
    style = style_of(page("ho-boxcar"))
    before, _, last = style.partition("@media print { :root {")
    assert before.count(":root {") == 2
    assert before.count("prefers-color-scheme: dark") == 1
    theme = load_theme()
    inks = " ".join(f"--{name}: {theme.ink(name, 'print')};" for name in INKS)
    assert last.split() == f"{inks} }} }}".split()


def test_a_theme_of_another_family_and_colours(tmp_path: Path) -> None:
    colours = {medium: {"accent": accent} for medium, accent in zip(MEDIA, ACCENTS, strict=True)}
    own = {
        "format": "carwright-theme/1",
        "type": {"family": "DejaVu Sans", "fallback": ["Noto Emoji"]},
        "spacing": {"line": 1.75},
        "colours": colours,
    }
    (tmp_path / "theme.toml").write_text(tomli_w.dumps(own), "utf-8")
    theme = load_theme(str(tmp_path / "theme.toml"))
    inspection = cw.inspect(cw.read_sheet(Path("examples/ho-boxcar.toml")))
    text = report_html(inspection, version="test", theme=theme)
    html5lib.HTMLParser(strict=True).parse(text)
    style = style_of(text)
    assert "@font-face" not in style
    assert "base64" not in style
    assert re.search(r'--families: "DejaVu Sans", .*"Noto Emoji", sans-serif; --leading: 1\.75;', style)
    for accent in ACCENTS[:3]:
        assert style.count(f"--accent: {accent};") == 1
    assert ACCENTS[3] not in style
    assert load_theme().ink("accent", "light") not in style


ACCENTS = ("#7a1f5c", "#e59ad0", "#6b1450", "#f0b4de")
"""Of a page by day and by night, of print and of video."""


# --- signs no page may hold ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", "\ufffe\uffff\U0001fffe\ufdd0", ids=lambda sign: f"U+{ord(sign):04X}")
def test_a_sign_that_may_not_stand_in_a_page_is_shown_as_such_and_numbered(sign: str) -> None:
    head = 'format = "carwright-sheet/1"\n[car]\ntitle = {title}\nscale = "HO"\n'
    sheet = cw.read_sheet_text(head.format(title=f'"Box\\U{ord(sign):08X}car"'))
    text = report_html(cw.inspect(sheet), version="test")
    root = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    assert sign not in text
    assert [str(title.text) for title in root.iter("h1")] == ["Box▯car"]
    assert f"U+{ord(sign):04X}" in " ".join(root.itertext()).rpartition("Signs not shown")[2]
