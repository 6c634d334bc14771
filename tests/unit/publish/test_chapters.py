"""Chapters of a recording: from the times noted, in order, one for what is alike, refused where there can be none."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.history import History
from carwright.history.log import Happening
from carwright.publish.video.chapters import Chapter, ChapterError, chapter_title, chapters_of, clock, stamp, webvtt
from carwright.words import Vocabulary

HOPPER = Path("examples/ho-covered-hopper.toml")


@lru_cache
def words() -> Vocabulary:
    return cw.words_of(cw.tables.shipped())


@lru_cache
def demo() -> History:
    return cw.read_sheet(HOPPER).history


def happened(offset: float | None, note: str = "", *, kind: str = "note", what: str = "", at: str = "") -> Happening:
    return Happening(0, 0, kind, what=what, at=at, note=note, offset=offset)


def history(*log: Happening, short: str = "", length: float | None = None) -> History:
    """A boxcar to which some things happened, counted from 1."""
    counted = tuple(replace(each, entry=number) for number, each in enumerate(log, 1))
    reported = replace(demo().reported, short=short, video_length=length)
    return replace(demo(), title="Boxcar", log=counted, reported=reported)


def chapters(*log: Happening, short: str = "", length: float | None = None) -> list[Chapter]:
    return chapters_of(history(*log, short=short, length=length), words())


# --- times -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0, "0:00"), (0.999, "0:00"), (1, "0:01"), (59.99, "0:59"), (60, "1:00"), (754, "12:34"), (754.9, "12:34"),
        (3599, "59:59"), (3600, "1:00:00"), (3723, "1:02:03"), (86_400, "24:00:00"),
    ],
)  # fmt: skip
def test_a_time_is_shown_as_players_show_it(seconds: float, shown: str) -> None:
    assert clock(seconds) == shown


@pytest.mark.parametrize(
    ("seconds", "written"),
    [
        (0, "00:00:00.000"), (0.0004, "00:00:00.000"), (0.0006, "00:00:00.001"), (1.5, "00:00:01.500"),
        (59.9996, "00:01:00.000"), (754.5, "00:12:34.500"), (3599.9999, "01:00:00.000"), (3723.004, "01:02:03.004"),
        (86_400, "24:00:00.000"), (360_000, "100:00:00.000"),
    ],
)  # fmt: skip
def test_a_time_is_stamped_with_hours_and_thousandths(seconds: float, written: str) -> None:
    assert stamp(seconds) == written


@given(st.integers(0, 100_000_000))
def test_a_stamp_is_its_time(thousandths: int) -> None:
    hours, minutes, rest = stamp(thousandths / 1000).split(":")
    seconds, parts = rest.split(".")
    assert (len(hours), len(minutes), len(seconds), len(parts)) == (2, 2, 2, 3)
    assert int(minutes) < 60
    assert int(seconds) < 60
    assert ((int(hours) * 60 + int(minutes)) * 60 + int(seconds)) * 1000 + int(parts) == thousandths
    shown = [int(part) for part in clock(thousandths / 1000).split(":")]
    assert sum(part * 60**power for power, part in enumerate(reversed(shown))) == thousandths // 1000


# --- where chapters begin and end ------------------------------------------------------------------------------------


def test_the_first_chapter_begins_with_the_recording() -> None:
    assert chapters(happened(12.5, "a")) == [Chapter(0.0, 12.5, "Boxcar"), Chapter(12.5, 42.5, "A")]
    assert chapters(happened(12.5, "a"), short="Box")[0] == Chapter(0.0, 12.5, "Box")
    assert chapters(happened(0, "a"), happened(8, "b")) == [Chapter(0.0, 8.0, "A"), Chapter(8.0, 38.0, "B")]


def test_the_last_chapter_ends_with_the_recording() -> None:
    assert chapters(happened(0, "a"), happened(8, "b"), length=100.25)[-1] == Chapter(8.0, 100.25, "B")
    assert chapters(happened(0, "a"), length=0.5) == [Chapter(0.0, 0.5, "A")]


def test_chapters_are_in_the_order_of_the_recording_and_only_of_what_is_noted() -> None:
    found = chapters(happened(30, "c"), happened(None, "never"), happened(10, "a"), happened(20, "b"))
    assert [(each.start, each.end, each.title) for each in found] == [
        (0, 10, "Boxcar"), (10, 20, "A"), (20, 30, "B"), (30, 60, "C"),
    ]  # fmt: skip


def test_what_follows_of_one_kind_is_one_chapter() -> None:
    same = [happened(at, kind="reading", what="coupler.height", at=end) for at, end in ((5, "A"), (9, "B"), (14, "A"))]
    action = happened(20, kind="gauge", what="coupler.action", at="A")
    again = happened(30, kind="reading", what="coupler.height", at="A")
    assert chapters(*same, action, again) == [
        Chapter(0.0, 5.0, "Boxcar"), Chapter(5.0, 20.0, "Coupler height"), Chapter(20.0, 30.0, "Coupler action"),
        Chapter(30.0, 60.0, "Coupler height"),
    ]  # fmt: skip
    between = chapters(same[0], happened(None, kind="gauge", what="coupler.action"), same[1])
    assert [each.title for each in between] == ["Boxcar", "Coupler height"]


def test_what_begins_at_one_time_shares_a_chapter() -> None:
    assert chapters(happened(7, "a"), happened(7, "b"), happened(9, "c")) == [
        Chapter(0.0, 7.0, "Boxcar"), Chapter(7.0, 9.0, "A; B"), Chapter(9.0, 39.0, "C"),
    ]  # fmt: skip
    assert chapters(happened(0, "a"), happened(0, "a")) == [Chapter(0.0, 30.0, "A")]


@given(st.sets(st.integers(0, 5000), min_size=1, max_size=12), st.lists(st.integers(0, 2), min_size=12, max_size=12))
def test_chapters_fill_the_recording_without_gaps(times: set[int], kinds: list[int]) -> None:
    log = [happened(float(at), f"note {kind}") for at, kind in zip(times, kinds, strict=False)]
    found = chapters(*log, length=5001.0)
    assert found[0].start == 0.0
    assert all(each.start < each.end for each in found)
    assert all((one.end, one.title != other.title) == (other.start, True) for one, other in pairwise(found))
    assert found[-1].end == 5001.0
    assert {each.start for each in found} <= {0.0, *map(float, times)}
    for each in log:
        [inside] = [chapter for chapter in found if chapter.start <= (each.offset or 0.0) < chapter.end]
        assert inside.title == chapter_title(each, words())
    unknown = chapters(*log)
    assert unknown[:-1] == found[:-1]
    assert unknown[-1] == replace(found[-1], end=float(max(times)) + 30.0)


def test_what_is_noted_last_lies_within_the_last_chapter() -> None:
    axles = [happened(at, kind="reading", what="wheel.back_to_back", at=axle) for at, axle in ((0, "1"), (60, "2"))]
    assert chapters(*axles)[-1].end > 60


# --- what is refused -------------------------------------------------------------------------------------------------


def test_a_time_beyond_the_end_is_refused() -> None:
    with pytest.raises(ChapterError) as fault:
        chapters(happened(5, "a"), happened(760, "b"), length=750)
    assert str(fault.value) == (
        "chapters of 'Boxcar': entry 2 is at 12:40, after the end of the recording at 12:30"
    )  # fmt: skip
    assert fault.value.title == "Boxcar"
    with pytest.raises(ChapterError, match="entry 1 is at 0:10, after the end of the recording at 0:10"):
        chapters(happened(10, "a"), length=10)
    assert chapters(happened(9.999, "a"), length=10)[-1].end == 10


def test_a_history_without_times_is_refused() -> None:
    sentence = "chapters of 'Boxcar': no entry has offset_s, the time at which it is done in the recording"
    for log in ((), (happened(None, "a"), happened(None, "b"))):
        with pytest.raises(ChapterError) as fault:
            webvtt(history(*log), words(), version="0")
        assert str(fault.value) == sentence
    long = replace(history(), title="word " * 40)
    with pytest.raises(ChapterError) as fault:
        chapters_of(long, words())
    assert str(fault.value).startswith(f"chapters of {long.title[:60]!r}: no entry")


def test_the_refusal_tells_two_times_apart() -> None:
    with pytest.raises(ChapterError) as fault:
        chapters(happened(10.75, "a"), length=10.5)
    assert "is at 0:10, after the end of the recording at 0:10" not in str(fault.value)


# --- titles ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("each", "title"),
    [
        (Happening(1, 0, "reading", "coupler.height", "A"), "Coupler height"),
        (Happening(1, 0, "gauge", "wheel.back_to_back", "3"), "Back-to-back"),
        (Happening(1, 0, "reading", "no.such"), "No.such"),
        (Happening(1, 0, "profile", "sill"), "Sill profile"),
        (Happening(1, 0, "look", "part", "B", name="stirrup step"), "Stirrup step"),
        (Happening(1, 0, "look", "paint"), "Paint"),
        (Happening(1, 1, "work", "regauge", "3"), "Regauge at 3"),
        (Happening(1, 1, "work", "straighten"), "Straighten"),
        (Happening(1, 0, "note", note="the far end"), "The far end"),
        (Happening(1, 0, "acquisition", note="a bargain"), "Where it came from"),
        (Happening(1, 0, "photo", "a.png"), "A closer look"),
        (Happening(1, 0, "evidence", "a photo"), "What it portrays"),
        (Happening(1, 0, "ruling"), "A ruling"),
        (Happening(1, 0, "placement", "shelf"), "Where it stands"),
        (Happening(1, 0, "trouble", "derailed"), "Running"),
        (Happening(1, 0, "exposure"), "Running"),
    ],
)
def test_an_entry_has_a_title(each: Happening, title: str) -> None:
    assert chapter_title(each, words()) == title


def test_every_look_has_words_of_its_own() -> None:
    for what, title in words().looks.items():
        shown = chapter_title(Happening(1, 0, "look", what), words())
        assert shown.lower() == title.lower()
        assert "." not in shown


def test_a_dimension_is_called_by_its_name() -> None:
    titles = [each.title for each in chapters_of(demo(), words())]
    assert "Grab iron" in titles


def test_a_long_title_is_cut_and_its_blanks_are_closed_up() -> None:
    [_, chapter] = chapters(happened(3, "a  b\n\tc" + " word" * 40))
    assert chapter.title == ("A b c" + " word" * 40)[:79] + "…"
    [_, exact] = chapters(happened(3, "x" * 80))
    assert exact.title == "X" + "x" * 79
    [_, over] = chapters(happened(3, "x" * 81))
    assert over.title == "X" + "x" * 78 + "…"
    [_, shared] = chapters(happened(3, "x" * 50), happened(3, "y" * 50))
    assert len(shared.title) == 80


# --- from a sheet ------------------------------------------------------------------------------------------------


def test_the_demo_car_has_its_chapters() -> None:
    found = chapters_of(demo(), words())
    assert found[:3] == [
        Chapter(0.0, 25.0, "Covered hopper, Tansy River 40418"), Chapter(25.0, 65.0, "Where it came from"),
        Chapter(65.0, 80.0, "A closer look"),
    ]  # fmt: skip
    assert found[-1] == Chapter(905.0, 980.0, "Coupler height")
    offsets = {each.offset for each in demo().log if each.offset is not None}
    assert {each.start for each in found} <= offsets | {0.0}
    assert 255.0 in offsets
    assert 255.0 not in {each.start for each in found}


def test_a_corrected_entry_has_no_chapter_of_its_own() -> None:
    head = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n'
    one, two = "11111111-1111-1111-1111-111111111111", "22222222-2222-2222-2222-222222222222"
    body = f'[[entry]]\nkind = "note"\nnote = "slip"\noffset_s = 5\nid = "{one}"\n'
    body += f'[[entry]]\nkind = "note"\nnote = "right"\noffset_s = "0:07"\nid = "{two}"\nsupersedes = "{one}"\n'
    found = chapters_of(cw.read_sheet_text(head + body).history, words())
    assert [(each.start, each.title) for each in found] == [(0.0, "x"), (7.0, "Right")]
