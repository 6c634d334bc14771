"""Letters: as wide as the font files say, wrapped, fitted and cut without a loss, and what no font shows is named."""

from __future__ import annotations

import dataclasses
import gc
import math
import re
import shutil
import unicodedata
import warnings
from functools import lru_cache
from itertools import accumulate, pairwise
from pathlib import Path
from typing import Any

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont, features

from carwright.publish.lettering import (
    FontError,
    Lettering,
    TextFitError,
    font_folders,
    lacking,
    lettering_of,
)
from carwright.publish.signs import LONG_WORD, REPLACEMENT, breakable
from carwright.publish.theme import Theme, load_theme

THEME = load_theme()
LETTERS = lettering_of(THEME)
FONTS = Path(font_folders(THEME)[0])
CHAINS = {
    False: ("SourceSans3-Regular.ttf", "DejaVuSans.ttf", "NotoEmoji-Regular.ttf"),
    True: ("SourceSans3-Semibold.ttf", "DejaVuSans-Bold.ttf", "NotoEmoji-Regular.ttf"),
}
"""Files of the shipped theme, in the order in which a sign is looked for."""
NONE_HAS = "\ue123"
"""A sign of the private use area that no shipped font has."""
SAMPLES = (
    "Side elevation, A end on the right",
    "0.391 ± 0.012 in",
    "body 5.350 in",
    "Gedeckter Güterwagen, zweiachsig",
    "AVATAR Wolf To. Yv",
    "− – — … ′ ″ ½ × ² µ",
)


@lru_cache(maxsize=8)
def advances(name: str) -> tuple[dict[int, str], dict[str, int], int]:
    """Glyph by sign, advance by glyph, and units in an em, of a font file."""
    with TTFont(FONTS / name) as font:
        widths = {glyph: advance for glyph, (advance, _) in font["hmtx"].metrics.items()}
        return dict(font.getBestCmap()), widths, font["head"].unitsPerEm


def summed(text: str, *, bold: bool = False) -> float:
    """Width of a text by the advances of the font files [em]."""
    total = 0.0
    for sign in text:
        for name in CHAINS[bold]:
            glyphs, widths, units = advances(name)
            if ord(sign) in glyphs:
                total += widths[glyphs[ord(sign)]] / units
                break
        else:
            pytest.fail(f"no shipped font has {sign!r}")
    return total


# --- widths ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", [*SAMPLES, "✕ ◇ ○ ●", "🚂🚃", "mixed ✕ 🚂 end"])
def test_a_text_is_as_wide_as_its_fonts_say(text: str, *, bold: bool) -> None:
    assert LETTERS.width(text, 10.0, bold=bold) == pytest.approx(10 * summed(text, bold=bold), rel=1e-9)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", SAMPLES)
def test_a_text_is_as_wide_as_it_is_drawn(text: str, *, bold: bool) -> None:
    """Against FreeType, through Pillow, without kerning."""
    size = 400
    plain = "".join(sign for sign in text if ord(sign) in advances(CHAINS[bold][0])[0])
    font = ImageFont.truetype(FONTS / CHAINS[bold][0], size)
    off = ["-kern", "-liga"] if features.check("raqm") else None
    drawn = font.getlength(plain, features=off)
    assert len(plain) > 5
    assert LETTERS.width(plain, size, bold=bold) == pytest.approx(drawn, rel=0.01)


def test_semibold_is_wider_than_regular() -> None:
    assert LETTERS.width("Side elevation", 1.0, bold=True) > 1.01 * LETTERS.width("Side elevation", 1.0)


@given(st.text(st.sampled_from("abc WM019.,µ✕"), max_size=20), st.floats(0.1, 100))
def test_width_goes_with_the_size_and_adds_up(text: str, size: float) -> None:
    assert LETTERS.width(text, size) == pytest.approx(size * LETTERS.width(text, 1.0))
    assert LETTERS.width(text + text, size) == pytest.approx(2 * LETTERS.width(text, size))


def test_joiners_and_accents_take_no_room() -> None:
    plain = LETTERS.width("noel", 10)
    for sign in ("\u0301", "\u0308", "\u200b", "\u200c", "\u200d", "\u2060", "\ufeff", "\ufe0f", "\ufe00"):
        assert LETTERS.width(f"no{sign}el", 10) == plain


def test_a_sign_no_font_has_is_an_em_wide() -> None:
    assert LETTERS.width(NONE_HAS, 7.0) == 7.0


def test_another_family_has_its_own_widths() -> None:
    other = Lettering(dataclasses.replace(THEME, family="DejaVu Sans", fallback=()))
    glyphs, widths, units = advances("DejaVuSans.ttf")
    assert other.width("M", units) == pytest.approx(widths[glyphs[ord("M")]])
    assert other.width("M", 1.0) != pytest.approx(LETTERS.width("M", 1.0), rel=0.001)


def test_fonts_of_ones_own_stand_before_the_shipped(tmp_path: Path) -> None:
    shutil.copy(FONTS / "DejaVuSans.ttf", tmp_path / "own.TTF")
    with TTFont(tmp_path / "own.TTF") as font:
        for record in font["name"].names:
            if record.nameID in {1, 16}:
                record.string = "Own Face"
        font.save(tmp_path / "own.TTF")
    own = Lettering(dataclasses.replace(THEME, family="Own Face", folder=str(tmp_path)))
    assert own.width("M", 1.0) == pytest.approx(Lettering(_of("DejaVu Sans")).width("M", 1.0))


def _of(family: str) -> Theme:
    return dataclasses.replace(THEME, family=family)


def test_a_family_without_a_file_is_named_with_those_there_are() -> None:
    sentence = (
        "No Such Face: no font this program can read (no file of that family; there are DejaVu Sans, Noto Emoji, "
    )
    with pytest.raises(FontError, match=re.escape(sentence)) as error:
        Lettering(_of("No Such Face"))
    assert error.value.place == "No Such Face"


def _refused(folder: Path) -> tuple[str, list[str]]:
    """The sentence for a file that is no font, and what was left open behind it."""
    (folder / "broken.ttf").write_bytes(b"no font at all")
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("always")
        with pytest.raises(FontError) as error:
            Lettering(dataclasses.replace(THEME, folder=str(folder)))
        sentence = str(error.value)
        del error
        gc.collect()
    return sentence, [str(each.message) for each in seen if "broken.ttf" in str(each.message)]


def test_a_file_that_is_no_font_is_named(tmp_path: Path) -> None:
    sentence, _ = _refused(tmp_path)
    assert re.search(r"broken\.ttf: no font this program can read \(.+\)$", sentence)


def test_a_file_that_is_no_font_is_closed(tmp_path: Path) -> None:
    _, left = _refused(tmp_path)
    assert left == []


# --- what can be shown --------------------------------------------------------------------------------------------


def test_what_no_font_has_is_shown_as_a_box_and_named() -> None:
    assert LETTERS.shown(f"a{NONE_HAS}b") == f"a{REPLACEMENT}b"
    assert LETTERS.lacks(f"a{NONE_HAS}b{NONE_HAS}\ue124") == {NONE_HAS, "\ue124"}
    assert LETTERS.lacks(REPLACEMENT) == set()
    assert LETTERS.shown("Güter ½ ✕ 🚂\u200d") == "Güter ½ ✕ 🚂\u200d"
    assert lacking([f"b{NONE_HAS}", "plain", f"\ue001{NONE_HAS}"], THEME) == ["\ue001", NONE_HAS]


def test_a_tab_is_shown_as_a_blank_and_a_line_break_stays() -> None:
    assert LETTERS.shown("a\tb\nc") == "a b\nc"


@pytest.mark.parametrize("sign", ["\x07", "\x1b", "\x80", "\r", "\x00"])
def test_a_control_character_is_shown_as_a_blank(sign: str) -> None:
    assert LETTERS.shown(f"a{sign}b") == "a b"


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
def test_what_is_shown_can_be_shown(text: str) -> None:
    shown = LETTERS.shown(text)
    assert len(shown) == len(text)
    assert LETTERS.lacks(shown) == set()
    assert all(one in {other, REPLACEMENT, " "} for one, other in zip(shown, text, strict=True))
    assert LETTERS.shown(shown) == shown


@pytest.mark.parametrize(
    ("text", "runs"),
    [
        ("plain words", [("Source Sans 3", "plain words")]),
        ("a ✕ b", [("Source Sans 3", "a "), ("DejaVu Sans", "✕"), ("Source Sans 3", " b")]),
        ("🚂\ufe0f 1", [("Noto Emoji", "🚂\ufe0f"), ("Source Sans 3", " 1")]),
        ("\u0301a", [("Source Sans 3", "\u0301a")]),
        ("", []),
    ],
)
def test_a_text_comes_in_pieces_of_one_family_each(text: str, runs: list[tuple[str, str]]) -> None:
    assert LETTERS.runs(text) == runs


# --- wrapping ---------------------------------------------------------------------------------------------------------

words = st.lists(st.text(st.sampled_from("aijmW01.-é"), min_size=1, max_size=14), max_size=12)
widths = st.floats(12, 120)


@given(words, widths, st.booleans())
def test_no_line_is_wider_than_its_room_and_no_letter_is_lost(said: list[str], width: float, bold: bool) -> None:  # noqa: FBT001
    text = "  ".join(said)
    lines = LETTERS.wrap(text, width, 10, bold=bold)
    assert all(LETTERS.width(line, 10, bold=bold) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == "".join(said)
    assert all(line == " ".join(line.split()) != "" for line in lines)


@given(words, widths)
def test_a_line_is_as_full_as_may_be_and_breaks_no_word_that_fits(said: list[str], width: float) -> None:
    lines = LETTERS.wrap(" ".join(said), width, 10)
    starts = dict(zip(accumulate((len(word) for word in said), initial=0), said, strict=False))
    taken = 0
    for line, after in pairwise(lines):
        taken += len(line.replace(" ", ""))
        if taken in starts:  # the next line begins with a word
            assert LETTERS.width(f"{line} {starts[taken]}", 10) > width
        else:  # it goes on with one that no line has room for
            begun = max(start for start in starts if start < taken)
            assert LETTERS.width(starts[begun], 10) > width
            assert LETTERS.width(line + after[0], 10) > width
            assert " " not in line


def test_nothing_is_wrapped_into_nothing() -> None:
    assert LETTERS.wrap("", 10, 10) == []
    assert LETTERS.wrap(" \n ", 10, 10) == []
    assert LETTERS.wrap("WW", 1, 10) == ["W", "W"]
    assert LETTERS.wrap("e\u0301x", 1, 10) == ["e\u0301", "x"]


def test_bold_words_need_more_room() -> None:
    text = "Side elevation end"
    width = LETTERS.width(text, 10) + 0.01
    assert LETTERS.wrap(text, width, 10) == [text]
    assert LETTERS.wrap(text, width, 10, bold=True) == ["Side elevation", "end"]


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f"])
def test_no_line_ends_at_a_no_break_space(blank: str) -> None:
    text = f"about 12{blank}mm"
    assert LETTERS.wrap(text, LETTERS.width("about 12", 10) + 1, 10) == ["about", f"12{blank}mm"]


# --- fitting ----------------------------------------------------------------------------------------------------------


@given(
    st.lists(st.text(st.sampled_from("aijmW01"), min_size=1, max_size=9), min_size=1, max_size=8),
    st.floats(60, 300),
    st.integers(1, 3),
)
def test_a_text_is_fitted_in_the_largest_size_that_has_room(said: list[str], width: float, count: int) -> None:
    text = " ".join(said)
    sizes = [*(size for step in range(60) if (size := 20 * 0.96**step) > 8), 8.0]

    def stands(size: float) -> bool:
        whole = all(LETTERS.width(word, size) <= width for word in said)
        return whole and len(LETTERS.wrap(text, width, size)) <= count

    fitting = [size for size in sizes if stands(size)]
    if not fitting:
        with pytest.raises(TextFitError):
            LETTERS.fit(text, width=width, lines=count, largest=20, smallest=8, place="card")
        return
    found = LETTERS.fit(text, width=width, lines=count, largest=20, smallest=8, place="card")
    assert found.size == pytest.approx(fitting[0])
    assert " ".join(found.lines) == text
    assert len(found.lines) <= count
    assert all(LETTERS.width(line, found.size) <= width for line in found.lines)


def test_bold_text_is_fitted_by_its_own_width() -> None:
    width = LETTERS.width("Side elevation", 20) + 0.01
    plain, bold = (
        LETTERS.fit("Side elevation", width=width, lines=1, largest=20, smallest=8, place="x", bold=each)
        for each in (False, True)
    )
    assert plain.size == 20.0
    assert bold.size < 20.0


def test_what_no_font_has_is_fitted_as_a_box() -> None:
    found = LETTERS.fit(f"a{NONE_HAS}", width=100, lines=1, largest=10, smallest=8, place="x")
    assert found.lines == (f"a{REPLACEMENT}",)


@pytest.mark.parametrize(
    ("text", "lines", "sentence"),
    [
        ("much too long", 1, "title card: 'much too long' does not fit 1 line of 20 at size 9; write it shorter"),
        ("W" * 60, 2, f"title card: '{'W' * 60}' does not fit 2 lines of 20 at size 9; write it shorter"),
        ("W" * 61, 3, f"title card: '{'W' * 57}...' does not fit 3 lines of 20 at size 9; write it shorter"),
    ],
)
def test_a_text_that_does_not_fit_is_named_with_its_place(text: str, lines: int, sentence: str) -> None:
    with pytest.raises(TextFitError, match=f"^{re.escape(sentence)}$") as error:
        LETTERS.fit(text, width=20.2, lines=lines, largest=12, smallest=9, place="title card")
    assert (error.value.place, error.value.text) == ("title card", text)


def test_the_smallest_size_is_tried_before_a_text_is_said_not_to_fit() -> None:
    width = LETTERS.width("wide words", 9.7) + 0.001
    found = LETTERS.fit("wide words", width=width, lines=1, largest=10, smallest=9.7, place="card")
    assert found.size == pytest.approx(9.7)


# --- cutting ----------------------------------------------------------------------------------------------------------


@given(st.text(st.sampled_from("aijmW01 "), max_size=40), st.floats(15, 200), st.booleans())
def test_a_text_is_cut_where_its_room_ends_and_not_before(text: str, width: float, bold: bool) -> None:  # noqa: FBT001
    plain = " ".join(text.split())
    cut = LETTERS.cut(text, width, 10, bold=bold)
    assert LETTERS.width(cut, 10, bold=bold) <= width
    if LETTERS.width(plain, 10, bold=bold) <= width:
        assert cut == plain
        return
    assert cut.endswith("…")
    kept = cut.removesuffix("…")
    assert plain.startswith(kept)
    assert kept == kept.rstrip()
    more = plain[: len(kept) + 1].rstrip()
    if more != kept:
        assert LETTERS.width(f"{more}…", 10, bold=bold) > width


def test_what_no_font_has_is_cut_as_a_box() -> None:
    assert LETTERS.cut(f"a {NONE_HAS}\n b", 100, 10) == f"a {REPLACEMENT} b"


# --- breaking long words -----------------------------------------------------------------------------------------

SIGNS = st.one_of(
    st.sampled_from("abcW019üж"),
    st.sampled_from(
        ["e\u0301", "a\u0308\u0302", "🚂\ufe0f", "👩\u200d🔧", "k\u200d\u0301", "x\u2060", "1\ufe0f\u20e3"]
    ),
)
CLUSTERS = st.one_of(SIGNS, st.sampled_from("/.-_"), st.just("/\u0338"))


@given(st.lists(st.one_of(CLUSTERS, st.just(" ")), max_size=120).map("".join))
def test_a_long_word_may_be_broken_and_nothing_else_changes(text: str) -> None:
    broken = breakable(text)
    assert broken.replace("\u200b", "") == text
    for one, other in zip(text.split(" "), broken.split(" "), strict=True):
        assert other == one or len(one) > LONG_WORD
        if len(one) > LONG_WORD:
            assert all(len(piece) <= LONG_WORD for piece in other.split("\u200b"))


@given(st.lists(CLUSTERS, min_size=LONG_WORD + 1, max_size=80) | st.lists(SIGNS, min_size=LONG_WORD + 1, max_size=60))
def test_nothing_is_parted_from_its_accents_or_joiners(signs: list[str]) -> None:
    pieces = breakable("".join(signs)).split("\u200b")
    for before, after in pairwise(pieces):
        assert before
        assert after
        assert unicodedata.category(after[0])[0] != "M"
        assert after[0] not in "\u200c\u200d\u2060\ufe0f"
        assert before[-1] != "\u200d"
    if not set("".join(signs)) & set("/.-_"):
        assert pieces == signs


@pytest.mark.parametrize(
    ("word", "pieces"),
    [
        ("a" * 28, ["a" * 28]),
        ("a" * 29, ["a"] * 29),
        (
            "wagons/of-the_road.and/photos-of-them",
            ["wagons/", "of-", "the_", "road.", "and/", "photos-", "of-", "them"],
        ),
        ("--" + "a" * 27, ["--", "a" * 27]),
        ("a" * 20 + "//" + "b" * 29, ["a" * 20 + "//", *"b" * 29]),
    ],
)
def test_a_word_is_broken_after_a_stroke_dot_or_hyphen_first(word: str, pieces: list[str]) -> None:
    assert breakable(word).split("\u200b") == pieces
    assert breakable(f"x {word} y") == f"x {breakable(word)} y"


def test_a_stroke_is_not_parted_from_its_accent() -> None:
    assert "/\u200b\u0338" not in breakable("a" * 20 + "/\u0338" + "b" * 20)


def test_a_key_cap_is_one_sign() -> None:
    assert "\u200b\u20e3" not in breakable("1\ufe0f\u20e3" * 15)


def test_every_shipped_font_counts_in_whole_units() -> None:
    """Guards the reading of the files here, by a figure that is known: a blank of Source Sans 3 is a fifth of an em."""
    glyphs, found, units = advances(CHAINS[False][0])
    assert units == 1000
    assert found[glyphs[ord(" ")]] == 200
    assert math.isclose(summed("  "), 0.4)


def test_letters_are_read_once() -> None:
    first: Any = lettering_of(THEME)
    assert lettering_of(load_theme()) is first
