"""The report in print: tagged from the content it shares with the page, searchable, whole in itself, never refused."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf.generic import BooleanObject, ContentStream, PdfObject, StreamObject

import carwright as cw
from carwright.publish.lettering import lettering_of
from carwright.publish.report import report_of, report_pdf, summary
from carwright.publish.report.content import (
    Abreast,
    Block,
    Column,
    Facts,
    Figure,
    Front,
    Item,
    Items,
    Paragraph,
    Photograph,
    Piece,
    Report,
    Section,
    Table,
)
from carwright.publish.report.content import Cell as Field
from carwright.publish.report.printed import PAPERS, Paper, pages_pdf
from carwright.publish.theme import load_theme

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
IDS = [path.stem for path in EXAMPLES]
POINTS: dict[Paper, tuple[float, float]] = {"a4": (595.276, 841.89), "letter": (612.0, 792.0)}
"""Width and height of the papers [pt]. ISO 216 and ANSI/ASME Y14.1, 72 points to an inch."""
PAINTS = {
    b"Tj", b"TJ", b"'", b'"', b"f", b"F", b"f*", b"S", b"s", b"B", b"B*", b"b", b"b*", b"sh", b"Do", b"INLINE IMAGE",
}  # fmt: skip
"""Operators that put ink on a page. ISO 32000-1, tables 51, 60, 77, 87, 92 and 109."""
REPLACEMENT = "▯"
HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = {title}\nscale = "HO"\n'


@lru_cache
def inspected(path: Path) -> cw.Inspection:
    return cw.inspect(cw.read_sheet(path))


@lru_cache
def reported(path: Path) -> Report:
    return report_of(inspected(path), version="test")


@lru_cache
def printed(path: Path, paper: Paper) -> bytes:
    return report_pdf(inspected(path), version="test", paper=paper)


@lru_cache
def opened(path: Path, paper: Paper) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(printed(path, paper)))


@lru_cache
def page_texts(path: Path, paper: Paper) -> tuple[str, ...]:
    return tuple(page.extract_text() for page in opened(path, paper).pages)


def quoted(text: str) -> str:
    """A text as a TOML string, whatever signs are in it."""
    return '"' + "".join(f"\\U{ord(sign):08X}" for sign in text) + '"'


def of_title(title: str, more: str = "") -> cw.Inspection:
    return cw.inspect(cw.read_sheet_text(HEAD.format(title=quoted(title)) + more))


def bare(text: str) -> str:
    """A text without its white space, and without the places where a line may be broken."""
    return "".join(re.sub("[\u200b\u00ad]", "", text).split())


def words_of(data: bytes) -> str:
    return bare("".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages))


# --- the structure a screen reader follows -------------------------------------------------------------------------


@dataclass(frozen=True)
class Tag:
    """An element of the structure tree, with what it holds."""

    kind: str
    keys: Any
    inside: tuple[Tag, ...]

    def walk(self) -> Iterator[Tag]:
        yield self
        for each in self.inside:
            yield from each.walk()

    def all(self, *kinds: str) -> list[Tag]:
        return [each for each in self.walk() if each.kind in kinds]

    def attribute(self, name: str, default: int) -> int:
        """A number among its attributes."""
        own = self.keys.get("/A", [])
        for each in own if isinstance(own, list) else [own]:
            if name in each.get_object():
                return int(each.get_object()[name])
        return default


def tree_of(reader: pypdf.PdfReader) -> Tag:
    catalog: Any = reader.trailer["/Root"]
    [root] = _tags(catalog["/StructTreeRoot"]["/K"])
    return root


def _tags(node: PdfObject) -> Iterator[Tag]:
    held: Any = node.get_object()
    if isinstance(held, list):
        for each in held:
            yield from _tags(each)
    elif isinstance(held, dict) and "/S" in held:
        yield Tag(str(held["/S"]).removeprefix("/"), held, tuple(_tags(held["/K"])) if "/K" in held else ())


@lru_cache
def tree(path: Path) -> Tag:
    return tree_of(opened(path, "a4"))


def parts(report: Report) -> Iterator[Block]:
    """Every block of a report in the order of reading, those within a piece after it."""
    if report.front.figure is not None:
        yield report.front.figure
    for section in report.sections:
        yield from _within(section.blocks)


def _within(blocks: Sequence[Block]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Piece):
            yield from _within(block.blocks)
        elif isinstance(block, Abreast):
            yield from _within(block.pieces)


def drawn_words(report: Report) -> list[str]:
    """What stands for each drawing, chart and photograph for a reader who cannot see it."""
    found = []
    for block in parts(report):
        if isinstance(block, Figure):
            found += [scene.words for scene in block.scenes]
        elif isinstance(block, Photograph) and block.picture.data:
            found.append(block.picture.photo.shows or block.picture.photo.file)
        elif isinstance(block, Table):
            found += [cell.scene.words for row in block.rows for cell in row if cell.scene is not None]
    return found


def headings(report: Report) -> list[tuple[int, str]]:
    """Level and words of every heading."""

    def below(blocks: Sequence[Block], level: int) -> Iterator[tuple[int, str]]:
        for block in blocks:
            if isinstance(block, Piece):
                yield level, f"{block.amount}{block.title}{''.join(block.tags)}"
                yield from below(block.blocks, level + 1)
            elif isinstance(block, Abreast):
                yield from below(block.pieces, level)

    found = [(1, report.front.title)]
    for section in report.sections:
        found += [(2, section.title), *below(section.blocks, 3)]
    return [(level, bare(words)) for level, words in found]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_every_page_has_the_size_of_its_paper(path: Path, paper: Paper) -> None:
    for page in opened(path, paper).pages:
        assert [float(side) for side in page.mediabox] == pytest.approx([0, 0, *POINTS[paper]], abs=0.01)
        assert page.rotation == 0


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_a_print_says_what_it_is(path: Path, paper: Paper) -> None:
    """ISO 14289-1, 5 and 7.1: marked, its language and title known, the title shown, the standard named."""
    reader, title = opened(path, paper), inspected(path).history.title
    catalog: Any = reader.trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"] == BooleanObject(value=True)
    assert "/StructTreeRoot" in catalog
    assert catalog["/Lang"] == "en"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"] == BooleanObject(value=True)
    assert reader.metadata is not None
    assert reader.metadata.title == title
    packet = catalog["/Metadata"].get_object().get_data().decode()
    assert "<pdfuaid:part>1</pdfuaid:part>" in packet
    assert reader.xmp_metadata is not None
    assert reader.xmp_metadata.dc_title == {"x-default": title}


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_headings_stand_as_the_content_has_them(path: Path) -> None:
    report = reported(path)
    tags = tree(path).all("H1", "H2", "H3", "H4", "H5", "H6")
    found = [(int(tag.kind[1:]), bare(str(tag.keys["/T"]))) for tag in tags]
    assert found == headings(report)
    assert [level for level, _ in found].count(1) == 1
    assert [words for level, words in found if level == 2] == [bare(section.title) for section in report.sections]
    assert all(later <= before + 1 for (before, _), (later, _) in pairwise(found))


def test_points_and_title_of_a_chain_are_two_words() -> None:
    path = Path("examples/ho-covered-hopper.toml")
    chains = [block for block in parts(reported(path)) if isinstance(block, Piece) and block.style == "chain"]
    heard = [" ".join(str(tag.keys["/T"]).split()) for tag in tree(path).all("H4")]
    assert heard == [" ".join([chain.amount, chain.title, *chain.tags]) for chain in chains]


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_every_section_is_among_the_bookmarks(path: Path) -> None:
    def titles(entries: Sequence[Any]) -> Iterator[str]:
        for each in entries:
            if isinstance(each, list):
                yield from titles(each)
            else:
                yield bare(str(each.title))

    report, found = reported(path), list(titles(opened(path, "a4").outline))
    wanted = [bare(report.front.title), *(bare(section.title) for section in report.sections)]
    assert [title for title in found if title in wanted] == wanted


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_what_is_drawn_is_said_in_words(path: Path) -> None:
    letters, figures = lettering_of(load_theme()), tree(path).all("Figure")
    said = [str(tag.keys["/Alt"]) for tag in figures]
    assert all(words.strip() for words in said)
    assert said == [letters.shown(words) for words in drawn_words(reported(path))]


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_tables_are_tables_with_their_headings(path: Path) -> None:
    wanted = [block for block in parts(reported(path)) if isinstance(block, Table | Facts)]
    found = tree(path).all("Table")
    assert len(found) == len(wanted)
    for tag, block in zip(found, wanted, strict=True):
        rows = tag.all("TR")
        widths = [sum(cell.attribute("/ColSpan", 1) for cell in row.all("TH", "TD")) for row in rows]
        if isinstance(block, Facts):
            assert widths == [2] * len(block.pairs)
            continue
        assert widths == [len(block.columns)] * (1 + len(block.rows))
        assert [len(row.all("TH")) for row in rows] == [len(block.columns), *[0] * len(block.rows)]
        assert len(tag.all("THead")) == 1
    captions = [block for block in wanted if isinstance(block, Table)]
    assert len(tree(path).all("Caption")) == len(captions)


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_lists_are_lists(path: Path) -> None:
    wanted = [block for block in parts(reported(path)) if isinstance(block, Items)]
    found = tree(path).all("L")
    assert [len(tag.all("LI")) for tag in found] == [len(block.items) for block in wanted]
    assert all(len(item.all("LBody")) == 1 for tag in found for item in tag.all("LI"))
    numbered = [str(tag.keys["/A"]).count("/Decimal") for tag in found]
    assert numbered == [int(block.style == "numbered") for block in wanted]


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_nothing_on_a_page_is_unmarked(path: Path) -> None:
    """ISO 14289-1, 7.1: all content is tagged or an artifact, and what is tagged leads into the tree."""
    reader = opened(path, "a4")
    catalog: Any = reader.trailer["/Root"]
    parents = dict(_numbered(catalog["/StructTreeRoot"]["/ParentTree"]))
    for page in reader.pages:
        own = parents[page["/StructParents"]]
        held: list[Any] = []
        tagged = 0
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            if operator in {b"BDC", b"BMC"}:
                if operator == b"BDC" and "/MCID" in operands[1]:
                    assert own[int(operands[1]["/MCID"])].get_object()["/S"]
                    tagged += 1
                elif not held:
                    assert operands[0] == "/Artifact"
                held.append(operands)
            elif operator == b"EMC":
                held.pop()
            assert operator not in PAINTS or held
            if operator in {b"Tj", b"TJ"} and held[0][0] == "/Artifact":
                assert held[0][1]["/Type"] == "/Pagination", "only the foot and heads said again are no content"
        assert held == []
        assert tagged > 0


def _numbered(node: PdfObject) -> Iterator[tuple[Any, Any]]:
    """Entries of a number tree."""
    held: Any = node.get_object()
    for kid in held.get("/Kids", []):
        yield from _numbered(kid)
    flat = held.get("/Nums", [])
    yield from ((key, value.get_object()) for key, value in zip(flat[::2], flat[1::2], strict=True))


# --- fonts and words -----------------------------------------------------------------------------------------------


def fonts(reader: pypdf.PdfReader) -> dict[str, Any]:
    """Every font of a print by its name, those of its drawings too."""
    found: dict[str, Any] = {}

    def look(resources: PdfObject) -> None:
        held: Any = resources.get_object()
        for font in held.get("/Font", {}).values():
            found[str(font.get_object()["/BaseFont"])] = font.get_object()
        for each in held.get("/XObject", {}).values():
            if "/Resources" in each.get_object():
                look(each.get_object()["/Resources"])

    for page in reader.pages:
        look(page["/Resources"])
    return found


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_every_font_is_within_the_file_and_can_be_searched(path: Path) -> None:
    found = fonts(opened(path, "a4"))
    assert {re.sub(r"^/[A-Z]{6}\+", "", name) for name in found} >= {"SourceSans3-Regular", "SourceSans3-Semibold"}
    for font in found.values():
        assert "/ToUnicode" in font
        for own in font.get("/DescendantFonts", [font]):
            descriptor = own.get_object()["/FontDescriptor"].get_object()
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_a_theme_of_another_family_prints_in_it(tmp_path: Path) -> None:
    own = 'format = "carwright-theme/1"\n[type]\nfamily = "DejaVu Sans"\nfallback = ["Noto Emoji"]\n'
    (tmp_path / "theme.toml").write_text(own, "utf-8")
    theme = load_theme(str(tmp_path / "theme.toml"))
    data = report_pdf(of_title("Boxcar"), version="test", theme=theme)
    found = {re.sub(r"^/[A-Z]{6}\+", "", name) for name in fonts(pypdf.PdfReader(io.BytesIO(data)))}
    assert found == {"DejaVuSans", "DejaVuSans-Bold"}


@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_a_print_can_be_searched_for_what_it_says(path: Path) -> None:
    inspection, words = inspected(path), bare("".join(page_texts(path, "a4")))
    assert bare(inspection.history.title) in words
    for sentence in summary(inspection):
        assert bare(sentence) in words
    for deduction in inspection.verdict.deductions:
        assert bare(f"{deduction.points:.1f}{deduction.title}") in words
    for section in reported(path).sections:
        assert bare(section.title) in words


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_the_first_page_says_the_verdict(path: Path, paper: Paper) -> None:
    verdict = inspected(path).verdict
    first = bare(page_texts(path, paper)[0])
    assert bare(f"Status {verdict.status}") in first
    assert bare(f"As received {verdict.points:g} of {verdict.out_of:g} points") in first
    said = summary(inspected(path))
    assert len(said) == 3
    assert "".join(bare(sentence) for sentence in said) in first


def test_the_same_history_gives_the_same_bytes() -> None:
    path = Path("examples/ho-covered-hopper.toml")
    again = report_pdf(cw.inspect(cw.read_sheet(path)), version="test")
    assert again == printed(path, "a4")
    assert report_pdf(cw.inspect(cw.read_sheet(path)), version="other") != again


# --- what people write ---------------------------------------------------------------------------------------------


def test_signs_no_font_has_are_shown_as_such_and_numbered() -> None:
    title = "有蓋車 ワム 90000"
    inspection = of_title(title)
    report = report_of(inspection, version="test")
    assert report.sections[-1].title == "Signs not shown"
    words = words_of(report_pdf(inspection, version="test"))
    assert bare(f"{REPLACEMENT * 3} {REPLACEMENT * 2} 90000") in words
    told = words.rpartition(bare("Signs not shown"))[2]
    for sign in "有蓋車ワム":
        assert f"U+{ord(sign):04X}" in told
        assert sign not in words
    assert re.findall(r"U\+[0-9A-F]{4,6}", told) == [f"U+{ord(sign):04X}" for sign in sorted(set("有蓋車ワム"))]


def test_signs_the_fonts_have_need_no_such_section() -> None:
    for title in ("Gedeckter Güterwagen", "Крытый вагон", "קרון סגור", "عربة مغطاة", "🚃 👨\u200d👩\u200d👧 🇩🇪"):
        report = report_of(of_title(title), version="test")
        assert "Signs not shown" not in [section.title for section in report.sections], title


@settings(max_examples=25, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cc", "Cs"], exclude_characters="\ufeff\ufffe\uffff"), min_size=1))
def test_any_title_is_printed(title: str) -> None:
    data = report_pdf(of_title(title), version="test")
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert reader.metadata is not None
    letters = lettering_of(load_theme())
    assert bare(str(reader.metadata.title)) == bare(letters.shown(title))


@settings(max_examples=10, deadline=None)
@given(st.text(st.characters(codec="ascii", exclude_categories=["Cc"]), min_size=1, max_size=80))
def test_a_title_in_plain_letters_is_printed_as_written(title: str) -> None:
    assert bare(title) in words_of(report_pdf(of_title(title), version="test"))


@pytest.mark.parametrize("sign", "\ufffe\uffff\U0001fffe\ufdd0", ids=lambda sign: f"U+{ord(sign):04X}")
def test_a_sign_that_may_not_stand_in_a_print_is_shown_as_such_and_numbered(sign: str) -> None:
    data = report_pdf(of_title(f"Box{sign}car"), version="test")
    words = words_of(data)
    assert f"Box{REPLACEMENT}car" in words
    assert f"U+{ord(sign):04X}" in words.rpartition(bare("Signs not shown"))[2]


def test_a_byte_order_mark_within_a_title_is_passed_over() -> None:
    inspection = of_title("\ufeffBox\ufeffcar")
    data = report_pdf(inspection, version="test")
    metadata = pypdf.PdfReader(io.BytesIO(data)).metadata
    assert metadata is not None
    assert metadata.title == "Boxcar"
    assert "Boxcar" in words_of(data)
    titles = [section.title for section in report_of(inspection, version="test").sections]
    assert "Signs not shown" not in titles


MARKED = {
    "heart": "step ❤\ufe0f",
    "warning": "step ⚠\ufe0f",
    "keycap": "1\ufe0f\u20e3 step",
    "family": "👨\u200d👩\u200d👧\u200d👦 step",
    "flag": "🇩🇪 step",
    "pointed Hebrew": "שָׁלוֹם",
    "voweled Arabic": "عَرَبِيَّة",
    "m with diaeresis": "m\u0308",
    "stacked": "a" + "\u0300\u0323" * 20,
    "struck through": "s\u0336t\u0336",
    "burning heart": "❤\ufe0f\u200d🔥",
    "flag of a country's part": "🏴\U000e0067\U000e007f",
    "accent on an emoji": "🚃\u0301",
    "old letter with a stroke": "\ua753\u0338",
}


@pytest.mark.parametrize("name", MARKED.values(), ids=MARKED.keys())
def test_signs_of_several_parts_are_printed_in_words(name: str) -> None:
    assert report_pdf(of_title(name), version="test").startswith(b"%PDF")


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, id=key) for key, name in MARKED.items()],
)
def test_signs_of_several_parts_are_printed_in_charts(name: str) -> None:
    look = f'[[entry]]\nkind = "look"\nwhat = "part"\nname = {quoted(name)}\ngrade = "marked"\n'
    assert report_pdf(of_title("Boxcar", look), version="test").startswith(b"%PDF")


# --- pages ---------------------------------------------------------------------------------------------------------


def paper_of(blocks: Sequence[Block]) -> Report:
    front = Front("A paper", "Pages", "of blocks", (), ())
    return Report(front, (Section("All", tuple(blocks)),), ("End.",), "1, Pages")


def test_a_caption_stays_with_its_table() -> None:
    columns = (Column("What"), Column("Found"))
    blocks: list[Block] = []
    for number in range(60):
        table = Table(f"Caption {number}", columns, ((Field("one"), Field("two")), (Field("three"), Field("four"))))
        blocks += [table, *[Paragraph("A line between.")] * (number % 5)]
    reader = pypdf.PdfReader(io.BytesIO(pages_pdf(paper_of(blocks))))
    assert len(reader.pages) > 5
    for page in reader.pages:
        lines = [line.strip() for line in page.extract_text().splitlines() if line.strip()]
        assert not re.fullmatch(r"Caption \d+", lines[-2]), lines[-2:]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", EXAMPLES, ids=IDS)
def test_no_page_ends_with_a_heading(path: Path, paper: Paper) -> None:
    report = reported(path)
    heads = {words for _, words in headings(report)}
    heads |= {bare(block.caption) for block in parts(report) if isinstance(block, Table)}
    for text in page_texts(path, paper):
        lines = [bare(line) for line in text.splitlines() if line.strip()]
        assert lines[-2] not in heads


def test_a_piece_is_kept_together_where_it_fits() -> None:
    """As :class:`Piece` promises, and as a page prints its chains."""
    blocks = []
    for number in range(40):
        steps = Items(tuple(Item(f"step {step} of chain {number}") for step in range(2 + number % 5)), "numbered")
        blocks.append(Piece(f"Chain {number}", (steps,), "chain", "1.0"))
    reader = pypdf.PdfReader(io.BytesIO(pages_pdf(paper_of(blocks))))
    assert len(reader.pages) > 2
    texts = [page.extract_text() for page in reader.pages]
    for number in range(40):
        assert sum(bool(re.search(rf"of chain {number}\b", text)) for text in texts) == 1, number


def test_a_piece_stands_off_from_the_one_before() -> None:
    steps = Items((Item("first step"), Item("second step")), "numbered")
    blocks = [Piece(f"Chain {number}", (steps,), "chain", "1.0") for number in range(3)]
    page = pypdf.PdfReader(io.BytesIO(pages_pdf(paper_of(blocks)))).pages[0]
    first, second = (list(_heights(page, re.compile(words))) for words in ("first step", "second step"))
    heads = list(_heights(page, re.compile(r"Chain \d")))
    assert len(heads) == len(first) == len(second) == 3
    between_steps = first[0] - second[0]
    for before, head in zip(second, heads[1:], strict=False):
        assert before - head > between_steps + 0.5 * load_theme().gap_mm / 25.4 * 72


def test_a_row_higher_than_a_page_goes_on_on_the_next() -> None:
    columns = (Column("What"), *[Column(name) for name in "abcde"])
    told = " ".join(f"word{number}" for number in range(330))
    row = (Field(told, (told,)), *[Field("x")] * 5)
    reader = pypdf.PdfReader(io.BytesIO(pages_pdf(paper_of([Table("Long", columns, (row,))]))))
    low = min(height for page in reader.pages for height in _heights(page, re.compile(r"word\d")))
    assert low > load_theme().margin_mm / 25.4 * 72


def _heights(page: pypdf.PageObject, wanted: re.Pattern[str]) -> Iterator[float]:
    """How high above the foot of a page some words stand [pt]."""
    found: list[float] = []

    def look(text: str, user: list[float], matrix: list[float], _font: object, _size: float) -> None:
        if wanted.search(text):
            found.append(user[3] * matrix[5] + user[5])

    page.extract_text(visitor_text=look)
    yield from found


# --- photographs ---------------------------------------------------------------------------------------------------

SHEET = HEAD.format(title='"Boxcar"') + (
    '[[entry]]\nkind = "photo"\nfile = "step.jpg"\nshows = "stirrup step at B"\nnote = "in daylight"\n'
    '[[entry]]\nkind = "look"\nwhat = "part"\nat = "B"\nname = "stirrup step"\ngrade = "marked"\n'
)
PLACE = "LOWER SEDGE YARD"
"""What the camera wrote about where it was."""


def photographed(folder: Path, **written: object) -> bytes:
    image = Image.effect_noise((640, 480), 60).convert("RGB")
    image.save(folder / "step.jpg", "JPEG", **written)
    return report_pdf(cw.inspect(cw.read_sheet_text(SHEET, folder=str(folder))), version="test")


def streams(data: bytes) -> bytes:
    """A print, and after it each of its streams as it is read."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    found = [data]
    for number in range(1, len(reader.xref[0]) + 1):
        each = reader.get_object(number)
        if isinstance(each, StreamObject) and each.get("/Filter") != "/DCTDecode":
            found.append(each.get_data())
    return b"\n".join(found)


def test_a_photo_stands_in_the_print_once(tmp_path: Path) -> None:
    data = photographed(tmp_path)
    reader = pypdf.PdfReader(io.BytesIO(data))
    shown = [image for page in reader.pages for image in page.images]
    assert len(shown) == 1
    assert shown[0].image is not None
    assert shown[0].image.size == (640, 480)
    assert data.count(b"/DCTDecode") == 1
    assert [str(tag.keys["/Alt"]) for tag in tree_of(reader).all("Figure")].count("stirrup step at B") == 1
    words = words_of(data)
    assert words.count(bare("stirrup step at B: in daylight")) == 1


def test_a_print_does_not_tell_where_a_photo_was_taken(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010E] = f"{PLACE} description"
    exif[0x8825] = {1: "N", 2: (51.0, 30.0, 0.0), 0x12: f"{PLACE} datum"}
    xmp = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><!-- {PLACE} --></x:xmpmeta>'.encode()
    data = photographed(tmp_path, exif=exif, xmp=xmp, icc_profile=PLACE.encode() * 20)
    assert PLACE.encode() in (tmp_path / "step.jpg").read_bytes()
    whole = streams(data)
    assert b"stirrup step" in whole or bare("stirrup step at B") in words_of(data)
    for written in (PLACE.encode(), b"Exif\x00\x00", b"GPS", b"http://ns.adobe.com/xap/1.0/\x00"):
        assert written not in whole


def test_a_print_does_not_tell_what_is_noted_in_a_photo(tmp_path: Path) -> None:
    assert PLACE.encode() not in streams(photographed(tmp_path, comment=PLACE.encode()))


def test_a_long_note_in_a_picture_does_not_stop_the_report(tmp_path: Path) -> None:
    Image.new("RGB", (40, 30), (120, 90, 60)).save(tmp_path / "step.gif", comment=b"x" * 70_000)
    sheet = SHEET.replace("step.jpg", "step.gif")
    assert report_pdf(cw.inspect(cw.read_sheet_text(sheet, folder=str(tmp_path))), version="test").startswith(b"%PDF")
