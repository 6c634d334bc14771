"""Cards as files: pictures of the right size, transparent round their plate, in pairs, the same every time."""

from __future__ import annotations

import io
import json
from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image

import carwright as cw
from carwright.publish.lettering import TextFitError, lettering_of
from carwright.publish.scene import Rect, Text
from carwright.publish.theme import load_theme
from carwright.publish.video.cards import cards_of, cover_scene
from carwright.publish.video.overlays import COVER, overlay_files

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
SMALL = Path("examples/hon3-stock-car.toml")
THEME = load_theme()
LETTERS = lettering_of(THEME)
SVG = "{http://www.w3.org/2000/svg}"
ODD_TITLES = {
    "right to left": "\u0639\u0631\u0628\u0629 \u0628\u0636\u0627\u0626\u0639 40418",
    "emoji": "Boxcar \U0001f683 \U0001f469\U0001f3fd\u200d\U0001f527",
    "markup": "<script>alert('1')</script> &amp; \"x\" ]]>",
    "new lines": "Boxcar\nsecond\tline",
    "a sign no font has": "\ue000 Boxcar",
}

Pixels = npt.NDArray[np.uint8]


@lru_cache
def example(path: Path) -> cw.Inspection:
    return cw.inspect(cw.read_sheet(path))


@lru_cache
def files(path: Path) -> dict[str, bytes]:
    found = list(overlay_files(example(path)))
    assert len({name for name, _ in found}) == len(found)
    return dict(found)


def titled(title: str) -> cw.Inspection:
    head = 'format = "carwright-sheet/1"\n[car]\nscale = "HO"\ntitle = '
    return cw.inspect(cw.read_sheet_text(f"{head}{json.dumps(title, ensure_ascii=False)}\n"))


def unjoined(text: str) -> str:
    """A text without joiners, which are left out where no font joins what they stand between."""
    return text.replace("\u200d", "")


def pixels(png: bytes) -> Pixels:
    with Image.open(io.BytesIO(png)) as image:
        assert image.format == "PNG"
        assert image.mode == "RGBA"
        return np.asarray(image)


def colour(ink: str) -> tuple[int, ...]:
    name = THEME.ink(ink, "video")
    return tuple(int(name[at : at + 2], 16) for at in (1, 3, 5))


def count(of: Pixels, ink: str) -> int:
    """Pixels of an ink, as solid as ink gets."""
    wanted = np.array((*colour(ink), 255), np.uint8).view(np.uint32)
    return int(np.count_nonzero(np.ascontiguousarray(of).view(np.uint32) == wanted))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_card_is_a_pair_of_files_and_transparent_round_its_plate(path: Path) -> None:
    made = files(path)
    names = [card.name for card in cards_of(example(path), LETTERS)]
    expected = [f"{name}.{ending}" for name in ("00-cover", *names) for ending in ("svg", "png")]
    assert list(made) == expected
    for name, data in made.items():
        if not name.endswith(".png"):
            continue
        picture = pixels(data)
        assert picture.shape == (1080, 1920, 4), name
        alpha = picture[..., 3]
        if name == f"{COVER}.png":
            assert alpha.min() == 255
            assert count(picture, "paper") > 200_000
        else:
            assert [alpha[y, x] for y in (0, -1) for x in (0, -1)] == [0, 0, 0, 0], name
            assert alpha[:54].max() == alpha[1026:].max() == 0, name
            assert alpha[:, :96].max() == alpha[:, 1824:].max() == 0, name
        assert count(picture, "paper") > 20_000, name
        assert count(picture, "ink") > 200, name
        assert count(picture, "accent") > 1_000, name


def test_a_vector_file_holds_what_its_card_says() -> None:
    scenes = {card.name: card.scene for card in cards_of(example(SMALL), LETTERS)}
    scenes[COVER] = cover_scene(example(SMALL), LETTERS)
    for name, scene in scenes.items():
        root = ET.fromstring(files(SMALL)[f"{name}.svg"])
        assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("1920", "1080", "0 0 1920 1080")
        assert "".join(root[0].itertext()) == scene.words
        written = ["".join(each.itertext()) for each in root.iter(f"{SVG}text")]
        assert written == [each.text for each in scene.placed() if isinstance(each, Text)]
        colours = {value for each in root.iter() for key in ("fill", "stroke") if (value := each.get(key))}
        assert colours <= {*THEME.colours["video"].values(), "none"}


def test_what_stands_in_the_vector_file_is_where_the_picture_has_it() -> None:
    """The plate is paper from edge to edge, its accent on the left, and ink where the first words stand."""
    for card in cards_of(example(SMALL), LETTERS):
        picture = pixels(files(SMALL)[f"{card.name}.png"])
        shapes = list(card.scene.placed())
        edge = next(each for each in shapes if isinstance(each, Rect) and each.what == "edge")
        text = next(each for each in shapes if isinstance(each, Text))
        left, top, low = round(edge.x), round(edge.y), round(edge.y + edge.height)
        assert np.all(picture[top + 2 : low - 2, left + 3] == (*colour("accent"), 255)), card.name
        assert picture[(top + low) // 2, left - 3, 3] == 0
        assert picture[top - 3, left + 40, 3] == picture[low + 3, left + 40, 3] == 0
        assert np.all(picture[top + 2 : top + 8, left + 20 : left + 400] == (*colour("paper"), 255)), card.name
        x, y, size = round(text.x), round(text.y), round(text.size)
        wide = round(LETTERS.width(text.text, size, bold=text.bold))
        assert count(picture[y - size : y + 1, x : x + wide], "ink") > 100, card.name


def test_the_same_sheet_gives_the_same_bytes() -> None:
    again = dict(overlay_files(cw.inspect(cw.read_sheet(SMALL))))
    assert list(again) == list(files(SMALL))
    assert again == files(SMALL)


def test_2160_lines_are_twice_1080() -> None:
    once, twice = (dict(overlay_files(titled("Boxcar"), lines=lines)) for lines in ("1080", "2160"))
    assert list(once) == list(twice)
    for name, data in once.items():
        if name.endswith(".svg"):
            assert twice[name] == data
            continue
        small, large = pixels(data)[..., 3], pixels(twice[name])[..., 3]
        assert large.shape == (2160, 3840)
        halved = large.reshape(1080, 2, 1920, 2).mean(axis=(1, 3), dtype=np.float32)
        assert np.abs(halved - small).mean() < 0.2, name
        solid = np.count_nonzero(small == 255)
        assert np.count_nonzero(large == 255) == pytest.approx(4 * solid, rel=0.01), name
    with pytest.raises(KeyError):
        next(overlay_files(titled("Boxcar"), lines="720"))


@pytest.mark.parametrize("title", ODD_TITLES.values(), ids=ODD_TITLES)
def test_an_odd_title_is_drawn(title: str) -> None:
    found = dict(overlay_files(titled(title)))
    plain = dict(overlay_files(titled("i")))
    for name in ("01-title", "02-verdict", COVER):
        root = ET.fromstring(found[f"{name}.svg"])
        written = " ".join("".join(each.itertext()) for each in root.iter(f"{SVG}text"))
        assert unjoined(written).startswith(unjoined(" ".join(LETTERS.shown(title).split())))
        assert {each.tag.removeprefix(SVG) for each in root.iter()} <= {
            "svg", "title", "g", "path", "rect", "circle", "text", "tspan",
        }  # fmt: skip
        more = count(pixels(found[f"{name}.png"]), "ink") - count(pixels(plain[f"{name}.png"]), "ink")
        assert more > 300, name


def test_a_title_that_does_not_fit_is_refused_before_anything_is_drawn() -> None:
    with pytest.raises(TextFitError, match=r"^cover: "):
        next(overlay_files(titled("word " * 40)))


@pytest.mark.parametrize("sign", ["\ufffe", "\uffff"])
def test_a_sign_that_no_xml_may_hold_stops_no_card(sign: str) -> None:
    assert len(dict(overlay_files(titled(f"Box{sign}car")))) == 6


def test_a_theme_of_ones_own_is_used(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('format = "carwright-theme/1"\n[colours.video]\npaper = "#203040"\n', "utf-8")
    found = dict(overlay_files(titled("Boxcar"), load_theme(str(own))))
    assert b"#203040" in found["01-title.svg"]
    picture = pixels(found[f"{COVER}.png"])
    assert tuple(picture[0, 0]) == (0x20, 0x30, 0x40, 255)
