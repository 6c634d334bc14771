"""The typesetter: pictures of the size asked for, clear where nothing is drawn, the same twice, and what it refuses."""

from __future__ import annotations

import io
import math
from collections.abc import Callable

import pytest
from PIL import Image

from carwright.errors import CarwrightError
from carwright.publish import typeset
from carwright.publish.scene import Circle, Path, Rect, Scene, Text, box, standalone_svg
from carwright.publish.theme import load_theme
from carwright.publish.typeset import TypesetError, pdf, pictures

THEME = load_theme()
INK = tuple(int(THEME.ink("ink", "print")[at : at + 2], 16) for at in (1, 3, 5))
SQUARE = Scene(0.0, 0.0, 40.0, 20.0, (Rect(10, 5, 20, 10),), "a bar", "x")
Template = Callable[[str], None]


@pytest.fixture
def template(monkeypatch: pytest.MonkeyPatch) -> Template:
    """Sets what every template says."""

    def said(text: str) -> None:
        monkeypatch.setattr(typeset, "_template", lambda _: text.encode())

    return said


def image(scene: Scene, *, scale: float = 1.0, ground: bool = False) -> Image.Image:
    """A scene as a picture."""
    drawn = standalone_svg(scene, THEME, ground=ground)
    [png] = pictures([drawn], THEME, width=scene.width, height=scene.height, scale=scale, what="a picture")
    assert png.startswith(b"\x89PNG\r\n")
    return Image.open(io.BytesIO(png)).convert("RGBA")


# --- pictures ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scale", [1.0, 2.0, 0.5])
def test_a_picture_has_as_many_pixels_as_are_asked_for(scale: float) -> None:
    assert image(SQUARE, scale=scale).size == (40 * scale, 20 * scale)


@pytest.mark.parametrize(("width", "height"), [(1920, 1080), (340, 21), (101, 7)])
def test_a_drawing_fills_its_picture(width: int, height: int) -> None:
    scene = Scene(-5.0, 3.0, float(width), float(height), (Rect(-5.0, 3.0, float(width), float(height)),), "x", "x")
    picture = image(scene)
    assert picture.size == (width, height)
    assert {picture.getpixel(at) for at in ((1, 1), (width - 2, height - 2))} == {(*INK, 255)}


@pytest.mark.parametrize("scale", [1, 2])
def test_a_picture_is_clear_where_nothing_is_drawn(scale: int) -> None:
    clear = image(SQUARE, scale=scale)
    inside = (10 * scale, 5 * scale, 30 * scale, 15 * scale)
    for x in range(40 * scale):
        for y in range(20 * scale):
            within = inside[0] <= x < inside[2] and inside[1] <= y < inside[3]
            assert clear.getpixel((x, y)) == ((*INK, 255) if within else (0, 0, 0, 0))


def test_paper_behind_a_picture_leaves_nothing_clear() -> None:
    alpha = image(SQUARE, ground=True).getchannel("A")
    assert alpha.getextrema() == (255, 255)


def test_shapes_are_drawn_as_they_are_written() -> None:
    shapes = (Circle(10, 10, 6), Path(box(20, 4, 32, 16), "none", 0.0, "ink"), Text(34, 16, "█", 10))
    picture = image(Scene(0.0, 0.0, 50.0, 20.0, shapes, "x", "x"), scale=4.0)
    disc = picture.crop((0, 0, 72, 80)).getchannel("A")
    assert disc.getbbox() == (16, 16, 64, 64)
    assert sum(disc.tobytes()) / 255 == pytest.approx(math.pi * 24**2, rel=0.01)
    assert picture.crop((72, 0, 132, 80)).getchannel("A").getbbox() == (8, 16, 56, 64)
    assert picture.crop((132, 0, 200, 80)).getchannel("A").getbbox() is not None


def test_pictures_come_in_their_order() -> None:
    drawn = [
        standalone_svg(Scene(0.0, 0.0, 9.0, 9.0, (Rect(float(at), 0.0, 1.0, 1.0),), "x", "x"), THEME) for at in range(4)
    ]
    made = pictures(drawn, THEME, width=9, height=9, scale=1.0, what="x")
    boxes = [Image.open(io.BytesIO(each)).convert("RGBA").getchannel("A").getbbox() for each in made]
    assert boxes == [(at, 0, at + 1, 1) for at in range(4)]


def test_no_drawings_are_no_pictures() -> None:
    assert pictures([], THEME, width=9, height=9, scale=1.0, what="x") == []


def test_the_same_drawing_gives_the_same_bytes() -> None:
    drawn = [standalone_svg(Scene(0.0, 0.0, 90.0, 9.0, (Text(1, 8, "0.391 ± 0.002 in ✕", 8),), "x", "x"), THEME)]
    one, other = (pictures(drawn, THEME, width=90, height=9, scale=2.0, what="x") for _ in range(2))
    assert one == other


def test_letters_are_those_of_the_theme() -> None:
    """Bold is wider than regular by what the font files say, in the picture too."""
    wide = {}
    for bold in (False, True):
        scene = Scene(0.0, 0.0, 200.0, 20.0, (Text(2, 15, "Side elevation", 14, bold=bold),), "x", "x")
        found = image(scene, scale=4.0).getchannel("A").getbbox()
        assert found is not None
        wide[bold] = (found[2] - found[0]) / 4
    assert wide[True] > 1.01 * wide[False]
    assert wide[False] == pytest.approx(14 * 5.98, rel=0.05)


@pytest.mark.parametrize("drawn", ["", "<svg", "<html/>", "no drawing"])
def test_what_is_no_drawing_is_refused_with_its_name(drawn: str) -> None:
    with pytest.raises(TypesetError, match=r"^the title card could not be typeset: failed to parse SVG"):
        pictures([drawn], THEME, width=9, height=9, scale=1.0, what="the title card")


# --- documents ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("#let x = (\n", "unclosed delimiter"),
        ("#no-such-name", "unknown variable: no-such-name"),
        ('#panic("there is no room")', "panicked with: there is no room"),
        ('#json("other.json")', "other.json"),
    ],
)
def test_a_broken_template_is_refused_with_what_the_typesetter_said(template: Template, text: str, why: str) -> None:
    template(text)
    with pytest.raises(TypesetError, match=r"^the report 'x' could not be typeset: .*" + why) as error:
        pdf("report.typ", {}, THEME, what="the report 'x'")
    assert "\n" not in str(error.value)
    assert isinstance(error.value, CarwrightError)
    assert error.value.http_status == 500


def test_a_document_without_a_title_is_refused(template: Template) -> None:
    template("hello")
    with pytest.raises(TypesetError, match=r"^x could not be typeset: .*title"):
        pdf("report.typ", {}, THEME, what="x")


TITLED = '#let data = json("data.json")\n#set document(title: data.title, date: none)\n#data.title'


@pytest.mark.parametrize("title", ["plain", '#panic("no")', "$x^2$ *b* @c \\ // /* ü ±"])
def test_data_is_never_read_as_markup(template: Template, title: str) -> None:
    template(TITLED)
    made = pdf("report.typ", {"title": title}, THEME, what="x")
    assert made.startswith(b"%PDF-")


def test_the_same_data_give_the_same_document(template: Template) -> None:
    template(TITLED)
    one, other, third = (pdf("report.typ", {"title": title}, THEME, what="x") for title in ("a", "a", "b"))
    assert one == other != third
    assert b"StructTreeRoot" in one
