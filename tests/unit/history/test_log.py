"""The log of a sheet and who publishes it: order, stages, times in the recording, and what is said of faults."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.errors import SheetError
from carwright.history import ENTRY_KINDS
from carwright.history.log import Happening, Reported

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Test car"
scale = "HO"
[car.geometry]
axles_per_truck = 2
"""
KINDS = {
    "reading": 'what = "coupler.height"\nat = "A"\nvalues = ["0.4 in"]',
    "gauge": 'what = "wheel.back_to_back"\nat = "1"\nresult = "pass"',
    "profile": 'of = "deck"\ndatum = "plate"\nside = "left"\nstations = ["0 in", "1 in"]\nheights = ["1 mm", "1 mm"]',
    "look": 'what = "part"\nat = "B"\nname = "step"\ngrade = "marked"',
    "work": 'remedy = "washer"\nat = "B"\namount = "0.015 in"',
    "photo": 'file = "a/b.jpg"\nshows = "step"',
    "evidence": 'source = "a photograph"\nclaim = "1950"',
    "trouble": 'defect = "derails"\nplace = "yard"',
    "exposure": "runs = 40",
    "ruling": 'category = "build"\npoints = 1.5\nreason = "seen"',
    "placement": 'where = "yard"',
    "acquisition": 'paid = 10.0\ncurrency = "crowns"',
    "note": 'note = "hello"',
}
"""An entry of each kind."""


def entry(kind: str, more: str = "") -> str:
    """An entry with what is said of it besides."""
    own = KINDS[kind]
    if kind == "note" and "note =" in more:
        own = ""
    return f'[[entry]]\nkind = "{kind}"\n{own}\n{more}\n'


def sheet(*bodies: str) -> cw.Sheet:
    """A sheet with some tables and entries."""
    return cw.read_sheet_text(HEAD + "\n".join(bodies), file="car.toml")


def log(*bodies: str) -> tuple[Happening, ...]:
    """Its log."""
    return sheet(*bodies).history.log


def faults(*bodies: str) -> list[str]:
    """What is wrong with it."""
    with pytest.raises(SheetError) as error:
        sheet(*bodies)
    return str(error.value).splitlines()


# --- what an entry is of -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "what", "at", "name"),
    [
        ("reading", "coupler.height", "A", ""), ("gauge", "wheel.back_to_back", "1", ""), ("profile", "deck", "", ""),
        ("look", "part", "B", "step"), ("work", "washer", "B", ""), ("photo", "a/b.jpg", "", "step"),
        ("evidence", "a photograph", "", ""), ("trouble", "derails", "", ""), ("exposure", "", "", ""),
        ("ruling", "seen", "", ""), ("placement", "yard", "", ""), ("acquisition", "", "", ""), ("note", "", "", ""),
    ],
)  # fmt: skip
def test_an_entry_is_told_by_what_it_is_of(kind: str, what: str, at: str, name: str) -> None:
    [found] = log(entry(kind))
    note = "hello" if kind == "note" else ""
    assert found == Happening(1, int(kind == "work"), kind, what, at, name, "", "", note, None)


def test_every_kind_of_entry_happens() -> None:
    assert set(KINDS) == set(ENTRY_KINDS)
    found = log(*(entry(kind) for kind in KINDS))
    assert [each.kind for each in found] == list(KINDS)
    assert [each.entry for each in found] == list(range(1, len(KINDS) + 1))


def test_when_who_and_a_note_stay_as_they_were_written() -> None:
    [found] = log(entry("reading", 'when = "2026-03-01T10:00"\nwho = "Ida"\nnote = "cold"\noffset_s = 12.5'))
    assert (found.when, found.who, found.note, found.offset) == ("2026-03-01T10:00", "Ida", "cold", 12.5)
    [found] = log(entry("reading", "when = 2026-03-01"))
    assert found.when == "2026-03-01"


def test_a_sheet_without_entries_has_no_log() -> None:
    assert log() == ()


# --- order and stages --------------------------------------------------------------------------------------------


def test_a_work_starts_its_stage() -> None:
    found = log(*(entry(kind) for kind in ("reading", "work", "reading", "look", "work", "note")))
    assert [each.stage for each in found] == [0, 1, 1, 1, 2, 2]


def test_entries_stand_by_time_and_what_has_none_with_the_one_before() -> None:
    found = log(
        entry("note", 'when = "2026-03-03"\nnote = "late"'),
        entry("note", 'note = "beside late"'),
        entry("work", 'when = "2026-03-02T12:00"'),
        entry("note", 'when = "2026-03-01"\nnote = "early"'),
        entry("note", 'when = "2026-03-02T11:00:00+00:00"\nnote = "before the work"'),
    )
    assert [each.note or each.kind for each in found] == ["early", "before the work", "work", "late", "beside late"]
    assert [each.entry for each in found] == [4, 5, 3, 1, 2]
    assert [each.stage for each in found] == [0, 0, 1, 1, 1]


def test_a_correction_stands_in_the_place_of_what_it_corrects() -> None:
    old = "00000000-0000-0000-0000-000000000001"
    found = log(
        entry("note", f'when = "2026-03-01"\nnote = "wrong"\nid = "{old}"\noffset_s = 10'),
        entry("work", 'when = "2026-03-02"'),
        entry("note", f'when = "2026-03-03"\nnote = "right"\nsupersedes = "{old}"\noffset_s = 20'),
    )
    assert [(each.note or each.kind, each.entry, each.stage) for each in found] == [("right", 3, 0), ("work", 2, 1)]
    assert found[0].offset == 20.0


@given(st.lists(st.integers(0, 50), min_size=1, max_size=12, unique=True), st.integers(0, 1000))
def test_shuffled_entries_with_times_give_the_same_log(minutes: list[int], seed: int) -> None:
    bodies = [
        entry("work" if minute % 7 == 0 else "note", f'when = "2026-03-01T10:{minute:02d}"\nnote = "{minute}"')
        for minute in sorted(minutes)
    ]
    straight = log(*bodies)
    random.Random(seed).shuffle(bodies)
    assert [(each.note, each.stage) for each in log(*bodies)] == [(each.note, each.stage) for each in straight]
    assert [int(each.note) for each in straight] == sorted(minutes)


# --- times in the recording --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ('"12:34"', 754.0), ("754", 754.0), ("754.5", 754.5), ('"1:02:03"', 3723.0), ('"12:34.5"', 754.5),
        ('" 0:05 "', 5.0), ('"0:00"', 0.0), ("0", 0.0), ('"59:59"', 3599.0), ('"1:2:03"', 3723.0),
        ('"24:00:00"', 86400.0), ("86400", 86400.0),
    ],
)  # fmt: skip
def test_a_time_is_read_as_players_show_it(written: str, seconds: float) -> None:
    [found] = log(entry("reading", f"offset_s = {written}"))
    assert found.offset == seconds
    assert sheet(f"[report]\nvideo_length = {written}\n").history.reported.video_length == seconds


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ('"soon"', "'soon'"), ('"754"', "'754'"), ('"12:60"', "'12:60'"), ('"60:00"', "'60:00'"),
        ('"1:60:00"', "'1:60:00'"), ('"12:3"', "'12:3'"), ('""', "''"), ('"-1:00"', "'-1:00'"),
        ('"100:00:00"', "'100:00:00'"), ("-1", "-1"), ("true", "True"), ("86400.5", "86400.5"),
        ('"24:00:01"', "'24:00:01'"), ("nan", "nan"), ("inf", "inf"), ("[1]", "[1]"),
    ],
)  # fmt: skip
def test_a_time_that_is_none_is_refused_in_a_sentence(written: str, shown: str) -> None:
    sentence = f"expected a time in the recording such as 754, 754.5 or '12:34', got {shown}"
    [line] = faults(entry("note", f"offset_s = {written}"))
    assert line == f"car.toml:10: entry 1 (note), offset_s: {sentence}"
    [line] = faults(f"[report]\nvideo_length = {written}\n")
    assert line == f"car.toml:8: report, video_length: {sentence}"


@given(st.integers(0, 86399))
def test_any_time_of_a_day_is_read_back(seconds: int) -> None:
    hours, minutes = divmod(seconds // 60, 60)
    clock = f"{hours}:{minutes:02d}:{seconds % 60:02d}" if hours else f"{minutes}:{seconds % 60:02d}"
    [found] = log(entry("note", f'offset_s = "{clock}"'))
    assert found.offset == seconds


# --- who publishes -----------------------------------------------------------------------------------------------

REPORT = """\
[report]
by = "Ida Sedge"
place = "Bench at Lower Sedge"
for = "Quillback Club"
number = "R-7"
issued = 2026-04-01
short = "Hopper 40418"
video_length = "24:30"
"""


def test_who_publishes_is_read() -> None:
    assert sheet(REPORT).history.reported == Reported(
        by="Ida Sedge", place="Bench at Lower Sedge", customer="Quillback Club", number="R-7", issued="2026-04-01",
        short="Hopper 40418", video_length=1470.0,
    )  # fmt: skip
    assert sheet().history.reported == Reported() == Reported("", "", "", "", "", "", None)
    assert sheet("[report]\n").history.reported == Reported()


@pytest.mark.parametrize(
    ("body", "line", "fault"),
    [
        ('[report]\nby = "x"\nplcae = "y"\n', 9, "report, plcae: unknown key 'plcae'; did you mean 'place'?"),
        ('[report]\nby = ""\n', 8, "report, by: "),
        ("[report]\nby = 3\n", 8, "report, by: "),
        (f'[report]\n\nshort = "{"x" * 61}"\n', 9, "report, short: "),
        (f'[report]\nplace = "{"x" * 2001}"\n', 8, "report, place: "),
        ('[report]\nnumber = "a\\u0007"\n', 8, "control characters cannot stand in a text"),
        ('[report]\nissued = "soon"\n', 8, "'soon' is not a date or time such as 2026-03-01 or 2026-03-01T19:30"),
        ("[report]\nissued = 7\n", 8, "expected a date or time such as 2026-03-01 or 2026-03-01T19:30"),
        ('[[report]]\nby = "x"\n', 7, "report: write it as [report], with one bracket"),
    ],
)
def test_a_fault_in_who_publishes_names_its_line(body: str, line: int, fault: str) -> None:
    [found] = faults(body)
    assert found.startswith(f"car.toml:{line}: report")
    assert fault in found


def test_a_report_that_is_no_table_is_refused() -> None:
    text = HEAD.replace("[car]", 'report = "Ida"\n[car]', 1)
    with pytest.raises(SheetError, match=r"^car\.toml:2: report: 'Ida' is not a table$") as error:
        cw.read_sheet_text(text, file="car.toml")
    assert len(error.value.faults) == 1


def test_faults_of_the_report_come_with_all_others() -> None:
    found = faults('[report]\nby = 3\nissued = "soon"\n', entry("note", "offset_s = -1"), entry("look", 'valeus = "x"'))
    assert len(found) == 4
    assert [int(each.split(":")[1]) for each in found] == sorted(int(each.split(":")[1]) for each in found)


def test_sixty_characters_are_short() -> None:
    assert sheet(f'[report]\nshort = "{"x" * 60}"\n').history.reported.short == "x" * 60


# --- there and back ----------------------------------------------------------------------------------------------


def test_who_publishes_is_written_back() -> None:
    first = sheet(REPORT, *(entry(kind, 'offset_s = "1:02:03"') for kind in KINDS))
    text = cw.write_sheet(first)
    again = cw.read_sheet_text(text)
    assert again == first
    assert again.report == first.report
    assert again.history.reported == first.history.reported
    assert again.history.log == first.history.log
    assert {each.offset for each in again.history.log} == {3723.0}
    assert 'for = "Quillback Club"' in text
    assert "for_" not in text
    assert "[report]" not in cw.write_sheet(sheet(entry("note")))
    assert "offset_s" not in cw.write_sheet(sheet(entry("note")))


PLAIN = st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=60)


@given(
    st.fixed_dictionaries({}, optional=dict.fromkeys(("by", "place", "for", "number", "short"), PLAIN)),
    st.none() | st.floats(0, 86400),
    st.lists(st.none() | st.floats(0, 86400), max_size=5),
)
def test_any_report_and_any_times_round_trip(
    said: dict[str, str], length: float | None, offsets: list[float | None]
) -> None:
    def quoted(text: str) -> str:
        return '"' + "".join(f"\\U{ord(sign):08X}" for sign in text) + '"'

    lines = [f"{key} = {quoted(text)}" for key, text in said.items()]
    lines += [f"video_length = {length!r}"] if length is not None else []
    times = ["" if offset is None else f"offset_s = {offset!r}" for offset in offsets]
    first = sheet("\n".join(["[report]", *lines]), *(entry("note", each) for each in times))
    again = cw.read_sheet_text(cw.write_sheet(first))
    assert again == first
    assert again.report == first.report
    assert again.history.reported == first.history.reported
    assert [each.offset for each in again.history.log] == offsets
    shown = first.history.reported
    assert (shown.by, shown.place, shown.customer, shown.number, shown.short, shown.video_length) == (
        *(said.get(key, "") for key in ("by", "place", "for", "number", "short")), length,
    )  # fmt: skip
