"""Chapters against the format they are written in, by a reader of its grammar that shares nothing with the writer.

W3C, WebVTT: The Web Video Text Tracks Format, sections 4.1 (file structure) and 4.3 (chapter title text); from memory.
"""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.history import History
from carwright.history.log import Happening
from carwright.publish.video.chapters import chapters_of, webvtt
from carwright.words import Vocabulary

HOPPER = Path("examples/ho-covered-hopper.toml")


class FormatError(ValueError):
    """A text is no WebVTT file of chapters."""


@dataclass(frozen=True)
class Cue:
    """One cue: its identifier, its times [ms], and its title with references read."""

    name: str
    start: int
    end: int
    title: str


@dataclass(frozen=True)
class Track:
    """A whole file: what stands behind its first word, its comments, its cues."""

    header: str
    notes: tuple[str, ...]
    cues: tuple[Cue, ...]


_STAMP = r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})"
_TIMES = re.compile(rf"{_STAMP}[ \t]+-->[ \t]+{_STAMP}", re.ASCII)
_REFERENCE = re.compile(r"&(amp|lt|gt|lrm|rlm|nbsp);")


def milliseconds(parts: Sequence[str]) -> int:
    hours, minutes, seconds, rest = (int(part) for part in parts)
    return ((hours * 60 + minutes) * 60 + seconds) * 1000 + rest


def chapter_text(line: str) -> str:
    """Chapter title text: one line of spans and references, and no bare < or &."""
    if "-->" in line:
        raise FormatError(f"an arrow within a title: {line!r}")
    rest = _REFERENCE.sub("", line)
    if re.search(r"[&<]", rest):
        raise FormatError(f"a bare sign in a title: {line!r}")
    return html.unescape(line)


def read_cue(lines: Sequence[str], known: Sequence[Cue]) -> Cue:
    """A cue block: identifier, times, a title of one line."""
    name, rest = ("", lines) if "-->" in lines[0] else (lines[0], lines[1:])
    times, payload = (rest[0], rest[1:]) if rest else ("", [])
    if any(name == cue.name for cue in known if name):
        raise FormatError(f"the identifier {name!r} stands twice")
    found = _TIMES.fullmatch(times)
    if found is None:
        raise FormatError(f"no times with hours: {times!r}")
    start, end = milliseconds(found.groups()[:4]), milliseconds(found.groups()[4:])
    if not start < end:
        raise FormatError(f"ends before it has begun: {times!r}")
    if known and start < known[-1].start:
        raise FormatError(f"begins before the cue in front of it: {times!r}")
    if known and start < known[-1].end:
        raise FormatError(f"begins within the cue in front of it: {times!r}")
    if len(payload) != 1 or not payload[0].strip():
        raise FormatError(f"a chapter has a title of one line, got {payload!r}")
    return Cue(name, start, end, chapter_text(payload[0]))


def read_track(text: str) -> Track:
    """Read a file of chapters strictly: what a browser would forgive is refused.

    Raises
    ------
    FormatError
        With what is wrong.
    """
    if "\0" in text:
        raise FormatError("a zero in the file")
    lines = re.sub(r"\r\n?", "\n", text.removeprefix("\ufeff")).split("\n")
    if not re.fullmatch(r"WEBVTT(?:[ \t].*)?", lines[0], re.DOTALL):
        raise FormatError(f"the first line is {lines[0]!r}")
    if lines[1:2] != [""]:
        raise FormatError("no empty line after the header")
    if not text.endswith("\n"):
        raise FormatError("the last line is not ended")
    notes: list[str] = []
    cues: list[Cue] = []
    for block in re.split(r"\n\n+", "\n".join(lines[1:]).strip("\n")):
        own = block.split("\n") if block else []
        if own and re.match(r"NOTE(?:[ \t]|$)", own[0]):
            if "-->" in block:
                raise FormatError(f"an arrow within a comment: {block!r}")
            notes.append(block[5:])
        elif own:
            cues.append(read_cue(own, cues))
    return Track(lines[0][7:], tuple(notes), tuple(cues))


# --- the reader itself refuses what it must --------------------------------------------------------------------------

GOOD = "WEBVTT\n\n1\n00:00:00.000 --> 00:00:05.500\nA &amp; B\n\nNOTE so\n\n00:00:05.500 --> 100:00:00.000\nC\n"


def test_the_reader_reads_what_is_right() -> None:
    expected = (Cue("1", 0, 5500, "A & B"), Cue("", 5500, 360_000_000, "C"))
    for text in (GOOD, "\ufeff" + GOOD, GOOD.replace("\n", "\r\n"), GOOD.replace("\n", "\r") + "\n"):
        assert read_track(text) == Track("", ("so",), expected)
    assert read_track("WEBVTT - a --> title\n\n").header == "- a --> title"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("WEBVTT", "WEBVTTX"), ("WEBVTT", "webvtt"), ("WEBVTT", " WEBVTT"), ("WEBVTT\n\n", "WEBVTT\n"),
        ("00:00:00.000", "00:00.000"), ("00:00:00.000", "0:00:00.000"), ("00:00:00.000", "00:00:00,000"),
        ("00:00:00.000", "00:00:00.00"), ("00:00:00.000", "00:60:00.000"), ("00:00:00.000", "00:00:05.500"),
        ("00:00:00.000", "00:00:06.000"), ("00:00:05.500 --> 1", "00:00:05.499 --> 1"), (" --> ", "-->"),
        ("A &amp; B", "A & B"), ("A &amp; B", "A < B"), ("A &amp; B", "<c>A"), ("A &amp; B", "A --> B"),
        ("A &amp; B", "A\nB"), ("A &amp; B", ""), ("A &amp; B", " "), ("A &amp; B", "A &copy; B"),
        ("NOTE so", "NOTE a --> b"), ("NOTE so", "NOTES so"), ("\n\n00:00:05", "\n\n1\n00:00:05"), ("C\n", "C"),
        ("A", "A\0"), ("C", "C\n\n00:00:03.000 --> 200:00:00.000\nD"),
    ],
)  # fmt: skip
def test_the_reader_refuses_what_is_wrong(old: str, new: str) -> None:
    assert old in GOOD
    with pytest.raises(FormatError):
        read_track(GOOD.replace(old, new, 1))


# --- what is written -------------------------------------------------------------------------------------------------


@lru_cache
def words() -> Vocabulary:
    return cw.words_of(cw.tables.shipped())


@lru_cache
def demo() -> History:
    return cw.read_sheet(HOPPER).history


def noted(*told: tuple[float, str], title: str = "Boxcar", short: str = "", length: float | None = None) -> History:
    """A history of notes at times in the recording."""
    log = tuple(Happening(number, 0, "note", note=note, offset=offset) for number, (offset, note) in enumerate(told, 1))
    reported = replace(demo().reported, short=short, video_length=length)
    return replace(demo(), title=title, log=log, reported=reported)


def plain(text: str) -> str:
    return " ".join(text.split())


def test_the_demo_cars_chapters_are_read_as_they_are_meant() -> None:
    track = read_track(webvtt(demo(), words(), version="1.2.3"))
    assert track.header == "- Covered hopper, two-bay, Tansy River 40418"
    assert track.notes == ("Chapters by carwright 1.2.3 from the times noted in the sheet.",)
    meant = chapters_of(demo(), words())
    assert [(cue.start / 1000, cue.end / 1000, cue.title) for cue in track.cues] == [
        (each.start, each.end, each.title) for each in meant
    ]
    assert [cue.name for cue in track.cues] == [str(number) for number in range(1, len(meant) + 1)]
    assert track.cues[0] == Cue("1", 0, 25_000, "Covered hopper, Tansy River 40418")
    assert track.cues[-1] == Cue(str(len(meant)), 905_000, 980_000, "Coupler height")
    assert [cue.end for cue in track.cues[:-1]] == [cue.start for cue in track.cues[1:]]


@pytest.mark.parametrize(
    "odd",
    [
        "A --> B", "-->", "<c>voice</c>", "<00:01.000>", "&", "&amp;", "&lt;c&gt;", "A & B < C > D", "NOTE a comment",
        "WEBVTT", "STYLE", "00:00:01.000 --> 00:00:02.000", "two\nlines", "two\n\nparagraphs", "a\n\n00:01 --> x",
        "\u2028line\u2029paragraph", "emoji \U0001f683\U0001f469\U0001f3fd\u200d\U0001f527",
        "\u0639\u0631\u0628\u0629 40418", "\ufeffmark", "&nbsp;", "a\ttab", "\u00a0", "1",
    ],
)  # fmt: skip
def test_odd_words_are_kept_and_break_nothing(odd: str) -> None:
    text = f"x {odd}"
    track = read_track(webvtt(noted((5, text), (9.25, odd + " end"), title=odd + " car"), words(), version="0"))
    assert [cue.title for cue in track.cues] == [
        plain(f"{odd} car"), plain(f"X {odd}"), plain(f"{odd[:1].upper()}{odd[1:]} end"),
    ]  # fmt: skip
    assert html.unescape(track.header) == f"- {plain(f'{odd} car')}"
    assert [(cue.start, cue.end) for cue in track.cues] == [(0, 5000), (5000, 9250), (9250, 39_250)]


_WRITTEN = st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=120).filter(str.strip)
_TIME = st.integers(0, 86_399_000).map(lambda thousandths: thousandths / 1000)


@given(told=st.lists(st.tuples(_TIME, _WRITTEN), min_size=1, max_size=8), title=_WRITTEN, ended=st.booleans())
def test_whatever_is_written_makes_a_file_that_can_be_read(
    *, told: list[tuple[float, str]], title: str, ended: bool
) -> None:
    length = 86_400.0 if ended else None
    history = noted(*told, title=title, length=length)
    track = read_track(webvtt(history, words(), version="0"))
    meant = chapters_of(history, words())
    assert [cue.title for cue in track.cues] == [each.title for each in meant]
    assert track.cues[0].start == 0
    assert all(len(cue.title) <= 80 for cue in track.cues)
    assert {cue.start for cue in track.cues} <= {0, *(round(1000 * at) for at, _ in told)}
    last = round(1000 * max(at for at, _ in told))
    assert track.cues[-1].end == (86_400_000 if ended else last + 30_000)
    assert len(track.notes) == (1 if ended else 2)


def test_a_recording_of_unknown_length_is_said_to_be_one() -> None:
    track = read_track(webvtt(noted((4, "a")), words(), version="0"))
    assert track.notes[1:] == (
        "The length of the recording is not known: the last chapter is made to run 30 s.",
    )  # fmt: skip
    assert read_track(webvtt(noted((4, "a"), length=6.5), words(), version="0")).cues[-1] == Cue("2", 4000, 6500, "A")


@pytest.mark.parametrize("history", [noted((1.0001, "a"), (1.0004, "b")), noted((10.0, "a"), length=10.0004)])
def test_times_a_hair_apart_make_no_cue_without_length(history: History) -> None:
    read_track(webvtt(history, words(), version="0"))


@pytest.mark.parametrize("history", [noted((1, "  ")), noted((1, "a"), title=" \u00a0")])
def test_blanks_make_no_chapter_without_a_title(history: History) -> None:
    read_track(webvtt(history, words(), version="0"))
