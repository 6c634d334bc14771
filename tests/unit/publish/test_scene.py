"""A scene drawn as SVG: how numbers and names are written, in which inks, how large, and where moved shapes stand.

The reader of drawings here, :func:`shapes_in`, serves the tests of drawings and charts beside it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carwright.publish.lettering import lettering_of
from carwright.publish.scene import (
    Anchor,
    Circle,
    Group,
    Path,
    Point,
    Raster,
    Rect,
    Scene,
    Shape,
    Text,
    box,
    inline_svg,
    line,
    number,
    standalone_svg,
)
from carwright.publish.theme import INKS, MEDIA, Medium, load_theme

THEME = load_theme()
ASCENT, DESCENT = 0.75, 0.22
"""How far letters reach above and below their base line, in their size [-]: a capital with its accent, a g."""

# --- a reader of drawings ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Drawn:
    """One shape where it stands in its frame: the lines it is made of, for a text the corners of its box."""

    element: ET.Element
    lines: tuple[tuple[Point, ...], ...]
    scale: float = 1.0

    @property
    def tag(self) -> str:
        """``path``, ``rect``, ``circle`` or ``text``."""
        return self.element.tag.rpartition("}")[2]

    @property
    def what(self) -> str:
        """What it shows."""
        return self.element.get("class", "")

    @property
    def text(self) -> str:
        """Words of a text."""
        return "".join(self.element.itertext())

    @property
    def points(self) -> list[Point]:
        """All of its corners."""
        return [point for each in self.lines for point in each]

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom."""
        xs, ys = zip(*self.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


_MOVED = re.compile(r"translate\((\S+) (\S+)\) scale\((\S+)\)")
_TURNED = re.compile(r"rotate\((\S+) (\S+) (\S+)\)")
_TOKEN = re.compile(r"[A-Za-z]|-?\d+(?:\.\d+)?")


def _value(element: ET.Element, key: str) -> float:
    return float(element.get(key, "nan"))


def path_lines(d: str) -> list[list[Point]]:
    """The lines of a path of straight pieces, one list for each stroke of the pen."""
    tokens = _TOKEN.findall(d)
    found: list[list[Point]] = []
    x = y = 0.0
    at, verb = 0, ""

    def take() -> float:
        nonlocal at
        at += 1
        return float(tokens[at - 1])

    while at < len(tokens):
        if tokens[at].isalpha():
            verb = tokens[at]
            at += 1
        if verb in "Zz":
            found[-1].append(found[-1][0])
            x, y = found[-1][0]
            continue
        dx, dy = (x, y) if verb.islower() else (0.0, 0.0)
        match verb.upper():
            case "M" | "L":
                x, y = dx + take(), dy + take()
            case "H":
                x = dx + take()
            case "V":
                y = dy + take()
            case other:
                msg = f"a path here has straight pieces alone, got {other!r}"
                raise ValueError(msg)
        if verb in "Mm":
            found.append([])
        found[-1].append((x, y))
    return found


def _text_box(element: ET.Element) -> list[Point]:
    x, y, size = _value(element, "x"), _value(element, "y"), _value(element, "font-size")
    words = "".join(element.itertext())
    wide = lettering_of(THEME).width(words, size, bold=element.get("font-weight") == "600")
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[element.get("text-anchor", "start")]
    top, low = y - ASCENT * size, y + DESCENT * size
    corners = [(left, top), (left + wide, top), (left + wide, low), (left, low)]
    turned = _TURNED.fullmatch(element.get("transform", ""))
    if turned is None:
        return corners
    angle, cx, cy = math.radians(float(turned[1])), float(turned[2]), float(turned[3])
    cos, sin = math.cos(angle), math.sin(angle)
    return [(cx + cos * (px - cx) - sin * (py - cy), cy + sin * (px - cx) + cos * (py - cy)) for px, py in corners]


def _lines_of(element: ET.Element, tag: str) -> list[list[Point]]:
    if tag == "path":
        return path_lines(element.get("d", ""))
    if tag == "text":
        return [_text_box(element)]
    if tag == "circle":
        x, y, r = (_value(element, key) for key in ("cx", "cy", "r"))
        return [[(x + dx * r, y + dy * r) for dx, dy in ((-1, 0), (0, -1), (1, 0), (0, 1))]]
    x, y, width, height = (_value(element, key) for key in ("x", "y", "width", "height"))
    return [[(x, y), (x + width, y), (x + width, y + height), (x, y + height)]]


def shapes_in(element: ET.Element, move: Point = (0.0, 0.0), scale: float = 1.0) -> Iterator[Drawn]:
    """Every shape of a drawing where it stands, groups moved and scaled."""
    for each in element:
        tag = each.tag.rpartition("}")[2]
        if tag in {"g", "a"}:
            moved = _MOVED.fullmatch(each.get("transform", "translate(0 0) scale(1)"))
            assert moved is not None, each.get("transform")
            dx, dy, larger = (float(part) for part in moved.groups())
            yield from shapes_in(each, (move[0] + scale * dx, move[1] + scale * dy), scale * larger)
        elif tag in {"path", "rect", "circle", "text", "image"}:
            lines = tuple(
                tuple((move[0] + scale * x, move[1] + scale * y) for x, y in one) for one in _lines_of(each, tag)
            )
            yield Drawn(each, lines, scale)


def parsed(scene: Scene) -> ET.Element:
    """A scene as a page has it, parsed."""
    return ET.fromstring(inline_svg(scene))


def shapes_of(scene: Scene) -> list[Drawn]:
    """Every shape of a scene as a page has it."""
    return list(shapes_in(parsed(scene)))


def called(scene: Scene, what: str) -> list[Drawn]:
    """Shapes of a scene that show one thing."""
    return [each for each in shapes_of(scene) if each.what == what]


def outside_frame(scene: Scene, slack: float = 0.01) -> list[str]:
    """Shapes that leave their frame, in words; ``slack`` is for the last written place."""
    right, bottom = scene.x + scene.width, scene.y + scene.height
    found = []
    for each in shapes_of(scene):
        if not each.points:
            continue
        x0, y0, x1, y1 = each.extent
        beyond = max(scene.x - x0, scene.y - y0, x1 - right, y1 - bottom)
        if not beyond <= slack:
            found.append(f"{each.tag} {each.what} {each.text!r} by {beyond:.3f}: {each.extent}")
    return found


def overlapping(scene: Scene) -> list[tuple[str, str]]:
    """Texts whose boxes meet."""
    shown = [each for each in shapes_of(scene) if each.tag == "text"]
    found = []
    for one, other in combinations(shown, 2):
        a, b = one.extent, other.extent
        if min(a[2], b[2]) - max(a[0], b[0]) > 0.01 and min(a[3], b[3]) - max(a[1], b[1]) > 0.01:
            found.append((one.text, other.text))
    return found


# --- numbers and paths ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0.0, "0"), (-0.0, "0"), (-0.0004, "0"), (0.0004, "0"), (0.0006, "0.001"), (-0.0006, "-0.001"), (1.0, "1"),
        (100.0, "100"), (-20.0, "-20"), (2.5, "2.5"), (1.23456, "1.235"), (0.1 + 0.2, "0.3"), (10.05, "10.05"),
        (1_000_000.0, "1000000"), (99.9996, "100"),
    ],
)  # fmt: skip
def test_a_number_is_short_and_never_less_than_nothing(value: float, written: str) -> None:
    assert number(value) == written


@given(st.floats(-1e6, 1e6))
def test_a_number_keeps_three_decimals(value: float) -> None:
    written = number(value)
    assert re.fullmatch(r"-?(0|[1-9]\d*)(\.\d{0,2}[1-9])?", written)
    assert written != "-0"
    assert abs(float(written) - value) <= 0.0005 + 1e-9


def test_lines_and_boxes_are_written_as_paths() -> None:
    corners = [(0.0, 1.0), (-2.5, 3.0), (1 / 3, -0.0)]
    assert line(corners) == "M0 1L-2.5 3L0.333 0"
    assert line(corners, closed=True) == "M0 1L-2.5 3L0.333 0Z"
    assert box(1, 2, 3.5, 4) == "M1 2H3.5V4H1Z"
    assert path_lines(box(1, 2, 3.5, 4)) == [[(1, 2), (3.5, 2), (3.5, 4), (1, 4), (1, 2)]]


# --- inks ------------------------------------------------------------------------------------------------------------

EVERY_INK: tuple[Shape, ...] = tuple(
    shape
    for ink in INKS
    for shape in (
        Path("M0 0L1 1", ink, 1.0, ink),
        Rect(1, 2, 3, 4, ink, 1.0, ink),
        Circle(1, 2, 3, ink, 1.0, ink),
        Text(1, 2, ink, 3, ink=ink),
        Group((Path("M0 0", "none", 1.0, ink),)),
        Circle(0, 0, 1, fill="none"),
    )
)


def scene(*items: Shape, words: str = "words", kind: str = "kind", unit_mm: float = 0.0, links: bool = False) -> Scene:
    """Some shapes in a frame of 300 by 200 about the origin."""
    return Scene(-150.0, -100.0, 300.0, 200.0, items, words, kind, unit_mm, links)


def inks_in(svg: str) -> list[str]:
    """Every value of a fill or stroke."""
    return [
        value
        for each in ET.fromstring(svg).iter()
        for key in ("fill", "stroke")
        if (value := each.get(key)) is not None
    ]


def test_a_page_names_inks_and_no_colour() -> None:
    text = inline_svg(scene(*EVERY_INK))
    found = inks_in(text)
    assert set(found) == {*(f"var(--{ink})" for ink in INKS), "none"}
    assert not re.search(r"#[0-9a-fA-F]{3}|rgb|hsl|style=|black|white|grey|gray|red|green|blue", text)


@pytest.mark.parametrize("medium", MEDIA)
def test_a_file_has_the_colours_of_its_theme_and_medium(medium: Medium) -> None:
    text = standalone_svg(scene(*EVERY_INK), THEME, medium)
    assert set(inks_in(text)) == {*THEME.colours[medium].values(), "none"}
    assert all(re.fullmatch(r"#[0-9a-f]{6}|none", each) for each in inks_in(text))
    assert "var(" not in text
    for shape in ET.fromstring(text).iter("{http://www.w3.org/2000/svg}text"):
        assert shape.get("fill") == THEME.ink(shape.text or "", medium)


def test_print_is_taken_where_no_medium_is_named() -> None:
    assert standalone_svg(scene(*EVERY_INK), THEME) == standalone_svg(scene(*EVERY_INK), THEME, "print")


def test_a_stroke_without_width_or_ink_is_left_out() -> None:
    drawn = shapes_of(scene(Path("M0 0L1 1", "ink", 0.0), Path("M0 0L1 1", "none", 2.0), Circle(0, 0, 1, "ink", -1.0)))
    assert [each.element.get("stroke") for each in drawn] == [None, None, None]
    [stroked] = shapes_of(scene(Path("M0 0L1 1", "soft", 0.25, dash=(2.0, 1 / 3))))
    assert stroked.element.get("stroke") == "var(--soft)"
    assert stroked.element.get("stroke-width") == "0.25"
    assert stroked.element.get("stroke-dasharray") == "2 0.333"
    assert stroked.element.get("fill") == "none"
    [solid] = shapes_of(scene(Path("M0 0L1 1")))
    assert solid.element.get("stroke-dasharray") is None


@pytest.mark.parametrize(
    ("shape", "attributes"),
    [
        (
            Rect(1.5, -2, 3, 4.25, "ink", 0.5, "wash", "a"),
            {"x": "1.5", "y": "-2", "width": "3", "height": "4.25", "fill": "var(--wash)", "stroke": "var(--ink)",
             "stroke-width": "0.5", "class": "a"},
        ),
        (
            Circle(1, 2, 3.125, "accent", 0.75, "none", "b"),
            {"cx": "1", "cy": "2", "r": "3.125", "fill": "none", "stroke": "var(--accent)", "stroke-width": "0.75",
             "class": "b"},
        ),
        (
            Text(4, 5, "t", 6, "middle", "soft", bold=True, what="c", turn=-90),
            {"x": "4", "y": "5", "font-size": "6", "fill": "var(--soft)", "text-anchor": "middle", "font-weight": "600",
             "transform": "rotate(-90 4 5)", "class": "c"},
        ),
        (Text(4, 5, "t", 6), {"x": "4", "y": "5", "font-size": "6", "fill": "var(--ink)"}),
        (
            Raster(1, 2, 3, 4, "data:image/png;base64,AA=="),
            {"x": "1", "y": "2", "width": "3", "height": "4", "href": "data:image/png;base64,AA=="},
        ),
    ],
)  # fmt: skip
def test_a_shape_is_written_as_it_is(shape: Shape, attributes: dict[str, str]) -> None:
    [drawn] = shapes_of(scene(shape))
    assert {key: value for key, value in drawn.element.attrib.items() if key != "stroke-linejoin"} == attributes


# --- words and frames ----------------------------------------------------------------------------------------------

XML_TEXT = st.text(st.characters(exclude_categories=["Cc", "Cn", "Cs"], exclude_characters="\ufeff"), max_size=40)
"""Texts of signs that XML and HTML may hold."""
HOSTILE = """</svg><script>alert("1")</script>&amp;'&#x3c;]]>"""


def _read_back(drawn: ET.Element) -> tuple[str, str]:
    """What the text and the title of the group say."""
    space = "{http://www.w3.org/2000/svg}" if drawn.tag.startswith("{") else ""
    [text] = drawn.iter(f"{space}text")
    titles = ["".join(each.itertext()) for each in drawn.iter(f"{space}title")]
    return "".join(text.itertext()), titles[-1] if titles else ""


@given(XML_TEXT, XML_TEXT, XML_TEXT)
def test_whatever_is_written_is_shown_as_written(text: str, title: str, words: str) -> None:
    made = scene(Group((Text(0, 0, text, 3),), title, f"#{title}", "pin"), words=words, links=True)
    page = ET.fromstring(inline_svg(made))
    assert page.get("aria-label") == words
    assert _read_back(page) == (text, title)
    assert [each.get("href") for each in page.iter("a")] == ([f"#{title}"])
    file = ET.fromstring(standalone_svg(made, THEME))
    assert "".join(file[0].itertext()) == words
    letters = lettering_of(THEME)
    assert _read_back(file)[0] == "".join(piece for _, piece in letters.runs(letters.shown(text)))
    if title:
        assert _read_back(file)[1] == title


def test_hostile_words_bring_no_element() -> None:
    made = scene(Group((Text(0, 0, HOSTILE, 3),), HOSTILE, HOSTILE), words=HOSTILE)
    for text in (inline_svg(made), standalone_svg(made, THEME)):
        assert {each.tag.rpartition("}")[2] for each in ET.fromstring(text).iter()} <= {
            "svg",
            "g",
            "a",
            "text",
            "title",
        }
        assert "<script" not in text


@pytest.mark.parametrize("sign", ["\ufffe", "\uffff"])
def test_a_sign_that_no_xml_may_hold_is_kept_out(sign: str) -> None:
    made = scene(Text(0, 0, f"a{sign}b", 3), words=f"a{sign}b")
    ET.fromstring(inline_svg(made))
    ET.fromstring(standalone_svg(made, THEME))


def test_a_page_reads_a_drawing_as_one_picture_unless_it_has_links() -> None:
    link = Group((Text(0, 0, "1", 3),), "first", "#f1", "pin")
    assert ET.fromstring(inline_svg(scene(link))).get("role") == "img"
    page = ET.fromstring(inline_svg(scene(link, links=True)))
    assert (page.get("role"), page.get("class"), page.get("viewBox")) == ("group", "kind", "-150 -100 300 200")
    [anchor] = page.iter("a")
    assert (anchor.get("href"), anchor.get("class")) == ("#f1", "pin")


def test_a_file_has_no_links() -> None:
    file = standalone_svg(scene(Group((Text(0, 0, "1", 3),), "first", "#f1", "pin"), links=True), THEME)
    assert "href" not in file
    assert [each.get("class") for each in ET.fromstring(file).iter("{http://www.w3.org/2000/svg}g")] == ["pin"]


@pytest.mark.parametrize(
    ("unit_mm", "width", "height"), [(0.0, "300", "200"), (1.0, "300mm", "200mm"), (0.125, "37.5mm", "25mm")]
)
def test_a_file_stands_in_its_own_size(unit_mm: float, width: str, height: str) -> None:
    file = ET.fromstring(standalone_svg(scene(unit_mm=unit_mm), THEME))
    assert (file.get("width"), file.get("height"), file.get("viewBox")) == (width, height, "-150 -100 300 200")


def test_a_page_gives_a_drawing_no_size_of_its_own() -> None:
    page = ET.fromstring(inline_svg(scene(unit_mm=1.0)))
    assert page.get("width") is None
    assert page.get("height") is None


def test_a_file_names_the_families_of_its_theme_in_order() -> None:
    named = ET.fromstring(standalone_svg(scene(), THEME)).get("font-family") or ""
    assert [each.strip(' "') for each in named.split(",")] == [THEME.family, *THEME.fallback]


def test_paper_is_drawn_behind_all_where_it_is_asked_for() -> None:
    bare, laid = (
        list(shapes_in(ET.fromstring(standalone_svg(scene(Circle(0, 0, 1)), THEME, "dark", ground=ground))))
        for ground in (False, True)
    )
    assert [each.tag for each in bare] == ["circle"]
    assert [each.tag for each in laid] == ["rect", "circle"]
    assert laid[0].extent == (-150, -100, 150, 100)
    assert laid[0].element.get("fill") == THEME.ink("paper", "dark")


# --- groups -----------------------------------------------------------------------------------------------------------

INNER = (Circle(1, 2, 3), Rect(4, 5, 6, 7), Text(8, 9, "t", 10), Path("M0 0L1 1"), Raster(1, 1, 2, 2, "data:,"))
NESTED = Group((Group(INNER, move=(10.0, 20.0), scale=2.0), Circle(1, 1, 1)), move=(-5.0, 7.0), scale=3.0)


def test_every_shape_is_walked_groups_opened() -> None:
    inner = NESTED.items[0]
    assert isinstance(inner, Group)
    assert list(scene(NESTED, INNER[0]).walk()) == [NESTED, inner, *INNER, NESTED.items[1], INNER[0]]


def test_groups_within_groups_are_moved_and_scaled() -> None:
    circle, rect, text, raster, outer = scene(NESTED).placed()
    # -5 + 3 (10 + 2 x), 7 + 3 (20 + 2 y)
    assert circle == Circle(31, 79, 18)
    assert rect == Rect(49, 97, 36, 42)
    assert text == Text(73, 121, "t", 60)
    assert raster == Raster(31, 73, 12, 12, "data:,")
    assert outer == Circle(-2, 10, 3)


small = st.integers(-20, 20).map(float)
scales = st.sampled_from([0.25, 0.5, 1.0, 1.5, 3.0])
leaves: st.SearchStrategy[Shape] = st.one_of(
    st.builds(Circle, small, small, st.integers(1, 9).map(float)),
    st.builds(Rect, small, small, st.integers(1, 9).map(float), st.integers(1, 9).map(float)),
    st.builds(Text, small, small, st.just("Mi"), st.integers(2, 9).map(float)),
)
trees = st.recursive(
    leaves,
    lambda inner: st.builds(
        lambda items, move, scale: Group(tuple(items), move=move, scale=scale),
        st.lists(inner, min_size=1, max_size=3), st.tuples(small, small), scales,
    ),
    max_leaves=6,
)  # fmt: skip


@given(trees)
def test_shapes_are_drawn_where_they_are_said_to_stand(tree: Shape) -> None:
    made = scene(tree)
    drawn, placed = shapes_of(made), list(made.placed())
    flat = shapes_of(scene(*placed))
    assert [each.tag for each in drawn] == [each.tag for each in flat]
    for one, other in zip(drawn, flat, strict=True):
        assert one.extent == pytest.approx(other.extent, abs=0.01)


def test_a_group_is_scaled_by_what_is_said() -> None:
    made = scene(Group((Circle(3000, 0, 10),), scale=1 / 30))
    [drawn], [placed] = shapes_of(made), list(made.placed())
    assert isinstance(placed, Circle)
    assert (drawn.extent[0] + drawn.extent[2]) / 2 == pytest.approx(placed.x, abs=0.01)


def test_a_group_that_stands_where_it_is_has_no_transform() -> None:
    assert "transform" not in inline_svg(scene(Group((Circle(0, 0, 1),))))
    assert 'transform="translate(0 0) scale(2)"' in inline_svg(scene(Group((Circle(0, 0, 1),), scale=2.0)))
    assert 'transform="translate(1 -2) scale(1)"' in inline_svg(scene(Group((Circle(0, 0, 1),), move=(1.0, -2.0))))


def test_a_turned_text_is_turned_about_its_base_point() -> None:
    [level] = shapes_of(scene(Text(10, 20, "Mi", 8)))
    [turned] = shapes_of(scene(Text(10, 20, "Mi", 8, turn=-90.0)))
    wide = lettering_of(THEME).width("Mi", 8)
    assert level.extent == pytest.approx((10, 20 - 6, 10 + wide, 20 + 1.76))
    assert turned.extent == pytest.approx((10 - 6, 20 - wide, 10 + 1.76, 20))
    [middle] = shapes_of(scene(Text(10, 20, "Mi", 8, "middle")))
    [end] = shapes_of(scene(Text(10, 20, "Mi", 8, "end")))
    assert middle.extent[0] == pytest.approx(10 - wide / 2)
    assert end.extent[2] == pytest.approx(10)


@pytest.mark.parametrize(("anchor", "share"), [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
@pytest.mark.parametrize("bold", [False, True])
def test_a_line_of_several_families_is_set_piece_by_piece(anchor: Anchor, share: float, *, bold: bool) -> None:
    letters = lettering_of(THEME)
    made = scene(Text(40, 20, "to ✕ 🚂 at A", 8, anchor, bold=bold))
    [text] = ET.fromstring(standalone_svg(made, THEME)).iter("{http://www.w3.org/2000/svg}text")
    pieces = [(each.text or "", float(each.get("x", "nan")), each.get("font-family")) for each in text]
    assert [(piece, family) for piece, _, family in pieces] == [
        ("to ", '"Source Sans 3"'), ("✕", '"DejaVu Sans"'), (" ", '"Source Sans 3"'), ("🚂", '"Noto Emoji"'),
        (" at A", '"Source Sans 3"'),
    ]  # fmt: skip
    x = 40 - share * letters.width("to ✕ 🚂 at A", 8, bold=bold)
    for piece, at, _ in pieces:
        assert at == pytest.approx(x, abs=0.001)
        x += letters.width(piece, 8, bold=bold)
    assert text.get("text-anchor") is None
    [plain] = ET.fromstring(inline_svg(made)).iter("text")
    assert (plain.text, len(plain)) == ("to ✕ 🚂 at A", 0)


def test_what_leaves_its_frame_is_found() -> None:
    assert outside_frame(scene(Circle(0, 0, 10), Text(149, 0, "", 3))) == []
    assert (
        len(outside_frame(scene(Circle(145, 0, 10), Rect(0, 95, 1, 6), Path("M-151 0L0 0"), Text(149, 0, "M", 9)))) == 4
    )
