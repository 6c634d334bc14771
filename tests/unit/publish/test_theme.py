"""A theme: contrast as WCAG works it out, what a file of one's own may say, and the sentence for everything else."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carwright.errors import SheetError, TableError
from carwright.publish.lettering import font_folders
from carwright.publish.theme import INKS, MEDIA, Theme, contrast, load_theme

FORMAT = 'format = "carwright-theme/1"\n'
SHIPPED = load_theme()
PAIRS = (("ink", "paper"), ("soft", "paper"), ("accent", "paper"), ("ink", "wash"), ("ink", "allowed"))
"""What is written on what."""
colours = st.from_regex(r"#[0-9a-f]{6}", fullmatch=True)


def themed(folder: Path, body: str) -> Theme:
    """The theme of a file with a body."""
    path = folder / "own.toml"
    path.write_text(FORMAT + body, "utf-8")
    return load_theme(str(path))


# --- contrast --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2, definition of contrast ratio: black on white is 21:1, equal colours 1:1.
        ("#000000", "#ffffff", 21.0),
        ("#123456", "#123456", 1.0),
        # Published values for criteria 1.4.3 and 1.4.11: the lightest greys that pass, and the next ones (memory).
        ("#767676", "#ffffff", 4.54),
        ("#777777", "#ffffff", 4.48),
        ("#949494", "#ffffff", 3.03),
        ("#959595", "#ffffff", 3.00),
        ("#ff0000", "#ffffff", 4.00),
        ("#0000ff", "#ffffff", 8.59),
        ("#00ff00", "#ffffff", 1.37),
    ],
)
def test_contrast_is_that_of_wcag(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


def test_dark_channels_are_taken_as_linear() -> None:
    # WCAG 2.2: a channel of at most 0.04045 is divided by 12.92; 10/255 is below, 11/255 above.
    for channel, linear in ((10, 10 / 255 / 12.92), (11, ((11 / 255 + 0.055) / 1.055) ** 2.4)):
        shade = "#" + f"{channel:02x}" * 3
        assert contrast("#000000", shade) == pytest.approx((linear + 0.05) / 0.05, rel=1e-12)


@given(colours, colours)
def test_contrast_lies_between_one_and_twenty_one(one: str, other: str) -> None:
    assert 1.0 <= contrast(one, other) <= 21.0 + 1e-9
    assert contrast(one.upper(), other) == contrast(one, other)


@pytest.mark.parametrize("medium", MEDIA)
def test_the_shipped_theme_can_be_read(medium: str) -> None:
    shades = SHIPPED.colours[medium]
    assert set(shades) == set(INKS)
    for front, back in PAIRS:
        assert contrast(shades[front], shades[back]) >= 4.5


# --- a file of one's own --------------------------------------------------------------------------------------------


def test_the_shipped_theme_is_its_file() -> None:
    raw = tomllib.loads(files("carwright.publish").joinpath("themes/bench.toml").read_text("utf-8"))
    assert (SHIPPED.id, SHIPPED.title, SHIPPED.family) == (raw["id"], raw["title"], raw["type"]["family"])
    assert list(SHIPPED.fallback) == raw["type"]["fallback"]
    assert (SHIPPED.print_pt, SHIPPED.head_pt) == (raw["type"]["print_pt"], raw["type"]["head_pt"])
    assert (SHIPPED.margin_mm, SHIPPED.gap_mm, SHIPPED.line) == tuple(
        raw["spacing"][key] for key in ("margin_mm", "gap_mm", "line")
    )
    assert SHIPPED.colours == raw["colours"]
    assert SHIPPED.folder == ""
    assert font_folders(SHIPPED) == [str(files("carwright.publish").joinpath("fonts"))]


def test_what_is_left_out_is_taken_from_the_shipped_theme(tmp_path: Path) -> None:
    bare = themed(tmp_path, "")
    assert bare == SHIPPED
    own = themed(
        tmp_path,
        'id = "own"\n[type]\nprint_pt = 10\n[spacing]\ngap_mm = 5\n[colours.dark]\nink = "#FFFFFF"\n',
    )
    assert (own.id, own.title, own.family, own.fallback) == ("own", SHIPPED.title, SHIPPED.family, SHIPPED.fallback)
    assert (own.print_pt, own.head_pt) == (10.0, SHIPPED.head_pt)
    assert (own.margin_mm, own.gap_mm, own.line) == (SHIPPED.margin_mm, 5.0, SHIPPED.line)
    assert own.colours["dark"] == {**SHIPPED.colours["dark"], "ink": "#FFFFFF"}
    assert {medium: own.colours[medium] for medium in MEDIA if medium != "dark"} == {
        medium: SHIPPED.colours[medium] for medium in MEDIA if medium != "dark"
    }


@pytest.mark.parametrize("medium", MEDIA)
def test_an_ink_is_looked_up_in_its_medium(medium: str) -> None:
    for name in INKS:
        assert SHIPPED.ink(name, medium) == SHIPPED.colours[medium][name]  # type: ignore[arg-type]
    assert SHIPPED.ink("none", medium) == "none"  # type: ignore[arg-type]


def test_a_folder_of_fonts_lies_beside_the_theme(tmp_path: Path) -> None:
    (tmp_path / "fonts").mkdir()
    own = themed(tmp_path, '[type]\nfolder = "fonts"\n')
    assert own.folder == str(tmp_path / "fonts")
    assert font_folders(own) == [str(tmp_path / "fonts"), *font_folders(SHIPPED)]


@pytest.mark.parametrize("folder", ["gone", "own.toml"])
def test_a_folder_that_is_none_is_named(tmp_path: Path, folder: str) -> None:
    with pytest.raises(TableError, match=r"own\.toml: type\.folder: there is no folder '.*" + re.escape(folder) + "'$"):
        themed(tmp_path, f'[type]\nfolder = "{folder}"\n')


LIMITS = {
    "print_pt": ("type", 6, 14),
    "head_pt": ("type", 10, 40),
    "margin_mm": ("spacing", 8, 40),
    "gap_mm": ("spacing", 0.5, 12),
    "line": ("spacing", 1.1, 2.0),
}


@pytest.mark.parametrize("name", LIMITS)
def test_sizes_at_their_limits_are_taken(tmp_path: Path, name: str) -> None:
    table, least, most = LIMITS[name]
    for size in (least, most):
        assert getattr(themed(tmp_path, f"[{table}]\n{name} = {size}\n"), name) == size


@pytest.mark.parametrize("name", LIMITS)
def test_sizes_beyond_their_limits_are_refused(tmp_path: Path, name: str) -> None:
    table, least, most = LIMITS[name]
    for size in (least - 0.01, most + 0.01):
        expected = re.escape(f"own.toml: {name} must lie between {least:g} and {most:g}, got {size:g}")
        with pytest.raises(TableError, match=f"{expected}$"):
            themed(tmp_path, f"[{table}]\n{name} = {size}\n")


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ("[colors]\n", "own.toml: unknown key 'colors'; did you mean 'colours'?"),
        ("[type]\nprint = 9\n", "own.toml: type: unknown key 'print'; did you mean 'print_pt'?"),
        ("[spacing]\nmargin = 9\n", "own.toml: spacing: unknown key 'margin'; did you mean 'margin_mm'?"),
        ("[spacing]\nprint_pt = 9\n", "own.toml: spacing: unknown key 'print_pt'"),
        ("[colours.day]\n", "own.toml: colours: unknown key 'day'"),
        ('[colours.print]\npapre = "#ffffff"\n', "own.toml: colours.print: unknown key 'papre'; did you mean 'paper'?"),
        ("id = 3\n", "own.toml: id must be a text, got '3'"),
        ("type = 3\n", "own.toml: type must be a table, got '3'"),
        ("colours = 3\n", "own.toml: colours must be a table, got '3'"),
        ("[type]\nfamily = 1\n", "own.toml: type: family must be a text, got '1'"),
        ('[type]\nfallback = "DejaVu Sans"\n', "own.toml: type: fallback must be a list of texts, got 'DejaVu Sans'"),
        ('[type]\nprint_pt = "9"\n', "own.toml: type: print_pt must be a number of zero or more, got '9'"),
        ("[type]\nprint_pt = true\n", "own.toml: type: print_pt must be a number of zero or more, got 'True'"),
        ("[type]\nhead_pt = nan\n", "own.toml: type: head_pt must be a number of zero or more, got 'nan'"),
        ("[spacing]\nline = -1\n", "own.toml: spacing: line must be a number of zero or more, got '-1'"),
        ('[colours]\nlight = "#ffffff"\n', "own.toml: colours: light must be a table of texts, got '#ffffff'"),
        ("[colours.light]\nink = 0\n", "own.toml: colours: light must be a table of texts, got \"{'ink': 0}\""),
        (
            '[colours.light]\nink = "black"\n',
            "own.toml: colours.light: ink must be a colour such as #1d1f21, got 'black'",
        ),
        (
            '[colours.dark]\nline = "#12345"\n',
            "own.toml: colours.dark: line must be a colour such as #1d1f21, got '#12345'",
        ),
        (
            '[colours.video]\nsoft = "#1234567"\n',
            "colours.video: soft must be a colour such as #1d1f21, got '#1234567'",
        ),
        ('[colours.print]\nwash = "#gggggg"\n', "colours.print: wash must be a colour such as #1d1f21, got '#gggggg'"),
        ('[colours.print]\nwash = "#ffffff\\n"\n', "wash must be a colour such as #1d1f21, got '#ffffff\\n'"),
    ],
)
def test_what_a_theme_cannot_say_is_refused_in_a_sentence(tmp_path: Path, body: str, sentence: str) -> None:
    with pytest.raises(TableError, match=re.escape(sentence)):
        themed(tmp_path, body)


@pytest.mark.parametrize("medium", MEDIA)
@pytest.mark.parametrize(("front", "back"), PAIRS)
def test_what_cannot_be_read_is_refused(tmp_path: Path, medium: str, front: str, back: str) -> None:
    shades = SHIPPED.colours[medium]
    # Changing the ground of ink alone leaves every other pair as it is; of what stands on paper the front is changed.
    changed, like = (front, back) if back == "paper" and front != "ink" else (back, front)
    if (front, back) == ("ink", "paper"):
        changed, like = "ink", "paper"
    sentence = f"own.toml: colours.{medium}: {front} on {back} has contrast 1.0; at least 4.5 is needed to be read"
    with pytest.raises(TableError, match=re.escape(sentence)):
        themed(tmp_path, f'[colours.{medium}]\n{changed} = "{shades[like]}"\n')


def test_the_edge_of_what_can_be_read_is_at_four_and_a_half(tmp_path: Path) -> None:
    assert themed(tmp_path, '[colours.print]\nsoft = "#767676"\n').colours["print"]["soft"] == "#767676"
    with pytest.raises(TableError, match="soft on paper has contrast"):
        themed(tmp_path, '[colours.print]\nsoft = "#777777"\n')


def test_a_contrast_just_too_low_is_not_told_as_enough(tmp_path: Path) -> None:
    with pytest.raises(TableError) as error:
        themed(tmp_path, '[colours.print]\nsoft = "#777777"\n')
    found = re.search(r"has contrast ([\d.]+); at least ([\d.]+)", str(error.value))
    assert found is not None
    assert float(found[1]) < float(found[2])


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "own.toml: format must be 'carwright-theme/1', got 'None'"),
        ('format = "carwright-theme/2"\n', "own.toml: format must be 'carwright-theme/1', got 'carwright-theme/2'"),
        (f'format = "{"x" * 99}"\n', f"format must be 'carwright-theme/1', got '{'x' * 40}'"),
        ("format = \n", "own.toml: not TOML: "),
    ],
)
def test_a_file_that_is_no_theme_is_refused(tmp_path: Path, text: str, sentence: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(TableError, match=re.escape(sentence)):
        load_theme(str(path))


def test_a_file_that_was_changed_is_read_anew(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(FORMAT + 'title = "before"\n', "utf-8")
    assert load_theme(str(path)).title == "before"
    path.write_text(FORMAT + 'title = "after"\n', "utf-8")
    assert load_theme(str(path)).title == "after"


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match=r"gone\.toml: cannot be read: No such file"):
        load_theme(str(tmp_path / "gone.toml"))
    huge = tmp_path / "huge.toml"
    huge.write_text(FORMAT + "#" * 100_000, "utf-8")
    with pytest.raises(SheetError, match="larger than 100000 bytes, which no theme is"):
        load_theme(str(huge))
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SheetError, match=r"bytes\.toml:1: not UTF-8 text"):
        load_theme(str(tmp_path / "bytes.toml"))
