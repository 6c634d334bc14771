"""A table of entries in CSV says what a sheet would say, and a bad row never hides a good one."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

import pytest

from carwright.errors import SheetError
from carwright.history.entries import ENTRY_KINDS, FORMAT
from carwright.history.entry_rows import MOST_ROWS, read_entry_rows
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import Sheet, read_document
from carwright.inspection import words_of
from carwright.tables import shipped

WORDS = words_of(shipped())
BODIES: Mapping[str, Mapping[str, Any]] = {
    "reading": {"what": "coupler.height", "at": "A", "state": "free", "values": ["0.391 in", "25/64 in"], "who": "me"},
    "gauge": {"what": "coupler.height", "at": "B", "result": "low", "note": "with, a comma"},
    "profile": {"of": "frame", "datum": "straightedge", "side": "centre",
                "stations": ["-30 mm", "0 mm", "30 mm"], "gaps": ["0.0 mm", "< 0.05 mm", "0.1 mm"]},
    "look": {"what": "paint", "grade": "slight", "note": 'a "spot", small'},
    "work": {"remedy": "washer", "at": "A", "amount": "0.015 in"},
    "photo": {"file": "left.png", "shows": "the left side"},
    "evidence": {"of": "photo", "source": "album; page 4", "trust": 0.8, "built": "1931"},
    "trouble": {"defect": "uncoupled", "facing": "A", "move": "pulled", "neighbours": ["the tank car", "no. 7"]},
    "exposure": {"runs": 12, "place": "the long curve"},
    "ruling": {"category": "lettering", "points": 2.5, "reason": "two\nlines"},
    "placement": {"where": "shelf 3", "how": "shelf", "from": "2026-01-02"},
    "acquisition": {"paid": 12.5, "list_price": 20.0, "currency": "USD", "from": "a friend", "return_by": "2026-02-01"},
    "note": {"note": "naïve – “words”", "when": "2026-03-01T19:30", "offset_s": 754.5},
}  # fmt: skip


def sheet_of(*bodies: Mapping[str, Any]) -> Sheet:
    document = {"format": FORMAT, "car": {"title": "Odd car", "scale": "HO"}, "entry": [dict(body) for body in bodies]}
    return read_document(document, Faults(Lines("")), WORDS, "table", "")


def table_of(*bodies: Mapping[str, Any], mark: str = ",", end: str = "\n") -> str:
    keys = list(dict.fromkeys(key for body in bodies for key in body))
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark, lineterminator=end)
    writer.writerow(keys)
    for body in bodies:
        cells = [body.get(key, "") for key in keys]
        writer.writerow(["; ".join(cell) if isinstance(cell, list) else cell for cell in cells])
    return out.getvalue()


def bodies_of(text: str) -> list[dict[str, Any]]:
    rows, faults = read_entry_rows(text)
    assert faults == []
    return [dict(row.body) for row in rows]


def one(text: str) -> dict[str, Any]:
    (body,) = bodies_of(text)
    return body


def test_every_kind_of_entry_is_tried_here() -> None:
    assert set(BODIES) == set(ENTRY_KINDS)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("kind", ENTRY_KINDS)
def test_a_row_says_what_a_sheet_would_say(kind: str, mark: str) -> None:
    body = {"kind": kind, **BODIES[kind]}
    assert sheet_of(one(table_of(body, mark=mark))).entries == sheet_of(body).entries


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("start", ["", "\ufeff"])
def test_one_table_holds_entries_of_every_kind(mark: str, end: str, start: str) -> None:
    bodies = [{"kind": kind, **body} for kind, body in BODIES.items()]
    found = bodies_of(start + table_of(*bodies, mark=mark, end=end))
    assert sheet_of(*found).entries == sheet_of(*bodies).entries


def test_a_row_without_kind_is_a_reading_and_value_is_one_reading() -> None:
    assert one("what,at,value\ncoupler.height,A,0.391 in\n") == {
        "kind": "reading", "what": "coupler.height", "at": "A", "values": ["0.391 in"],
    }  # fmt: skip


def test_the_car_of_a_row_is_no_part_of_its_entry() -> None:
    rows, faults = read_entry_rows("car,note,kind\n Hopper 7 ,hi,note\n,there,note\n")
    assert not faults
    assert [row.car for row in rows] == ["Hopper 7", ""]
    assert [dict(row.body) for row in rows] == [{"kind": "note", "note": "hi"}, {"kind": "note", "note": "there"}]


@pytest.mark.parametrize("head", ["value [in]", "VALUE [in]", " value[in] ", '"value [ in ]"', "Value  [in]"])
def test_a_unit_in_the_head_is_that_of_every_cell_without_one(head: str) -> None:
    found = bodies_of(f"what,{head}\na,0.391\na,9.93 mm\na,25/64\na,6-1/2\na,< 0.05\na,-1\na,40'\n")
    assert [each["values"][0] for each in found] == [
        "0.391 in", "9.93 mm", "25/64 in", "6-1/2 in", "< 0.05 in", "-1 in", "40'",
    ]  # fmt: skip


def test_an_inch_mark_may_be_quoted_or_bare() -> None:
    found = bodies_of('what,value [mm]\na,25/64"\na,"6 1/2"""\n')
    assert [each["values"] for each in found] == [['25/64"'], ['6 1/2"']]


@pytest.mark.parametrize(
    ("what", "unit", "cell"),
    [
        ("coupler.height", "in", "25/64"),
        ("coupler.height", "in", "3/8 in"),
        ("body.length", "in", "6-1/2"),
        ("body.length", "in", "6 ½"),
        ("body.length", "mm", "40' HO"),
        ("body.length", "mm", "0' 6\""),
        ("coupler.height", "in", "25/64”"),
        ("body.length", "in", "40 ft at 1:87.1"),
        ("roll.start", "%", "1:40"),
        ("roll.coast", "mm/s2", "30 mm/s2"),
        ("roll.coast", "mm/s²", "30 mm/s²"),
    ],
)  # fmt: skip
def test_a_cell_with_its_columns_unit_reads_as_on_a_sheet(what: str, unit: str, cell: str) -> None:
    at = {"coupler.height": "A"}.get(what, "")
    rows, faults = read_entry_rows(f'what\tat\tvalue [{unit}]\n{what}\t{at}\t"{cell.replace(chr(34), chr(34) * 2)}"\n')
    assert not faults
    assert len(sheet_of(rows[0].body).entries) == 1


@pytest.mark.parametrize(
    ("what", "at", "cell"),
    [
        ("coupler.height", "A", "25/64”"),
        ("body.length", None, "40 ft at 1:87.1"),
        ("roll.start", None, "1:40"),
        ("roll.coast", None, "30 mm/s2"),
        ("roll.coast", None, "30 mm/s²"),
    ],
)
def test_a_sheet_and_a_column_without_unit_take_cells_that_say_it_all(what: str, at: str | None, cell: str) -> None:
    body = {"kind": "reading", "what": what, **({"at": at} if at else {}), "values": [cell]}
    assert sheet_of(one(f"what,at,value\n{what},{at or ''},{cell}\n")).entries == sheet_of(body).entries


def test_parts_of_a_list_stand_between_semicolons_in_one_cell() -> None:
    assert one("what,values [in]\na,0.1; 0.2 mm ;;0.3\n")["values"] == ["0.1 in", "0.2 mm", "0.3 in"]
    assert one('what;values [in]\na;"0.1; 0.2"\n')["values"] == ["0.1 in", "0.2 in"]


def test_decimal_commas_are_read_in_numbers() -> None:
    found = one("kind;paid;list_price\nacquisition;12,5;20,25\n")
    assert (found["paid"], found["list_price"]) == (12.5, 20.25)


def test_a_decimal_comma_in_a_quantity_is_never_taken_for_something_else() -> None:
    """It is refused as on a sheet, with the reason; silence or another size would be worse."""
    body = one("what;at;value [mm]\ncoupler.height;A;9,93\n")
    with pytest.raises(SheetError, match="write a decimal point, not a comma"):
        sheet_of(body)


def test_empty_rows_and_cells_say_nothing() -> None:
    rows, faults = read_entry_rows("what,at,value\n\n , ,\na,,1 in\n\nb\n")
    assert not faults
    assert [(row.line, dict(row.body)) for row in rows] == [
        (4, {"kind": "reading", "what": "a", "values": ["1 in"]}),
        (6, {"kind": "reading", "what": "b"}),
    ]


@pytest.mark.parametrize("text", ["", "\n", "\ufeff", ",,\na,b,c\n", "  \n"])
def test_a_table_without_names_of_columns_is_refused(text: str) -> None:
    rows, faults = read_entry_rows(text)
    assert rows == []
    assert [(fault.line, fault.message[:44]) for fault in faults] == [
        (1, "expected a first row of column names, such a")
    ]


def test_names_alone_make_no_rows() -> None:
    assert read_entry_rows("what,at,value\n") == ([], [])


def test_unknown_and_doubled_columns_are_all_told() -> None:
    rows, faults = read_entry_rows("what,wath,at,What,value [in],value [mm],seen\na,b,c,d,e,f,g\n")
    assert rows == []
    assert [(fault.line, fault.place) for fault in faults] == [
        (1, "column 2"), (1, "column 4"), (1, "column 6"), (1, "column 7"),
    ]  # fmt: skip
    assert "unknown column 'wath'; did you mean 'what'?" in faults[0].message
    assert "stands twice" in faults[1].message
    assert "stands twice" in faults[2].message


def test_a_bad_row_never_hides_good_ones() -> None:
    text = (
        "kind,what,at,value,paid,runs,points,trust\n"
        ",coupler.height,A,0.39 in,,,,\n"
        "redaing,coupler.height,A,0.39 in,,,,\n"
        "acquisition,,,,much,,,\n"
        "exposure,,,,,1.5,,\n"
        "ruling,,,,,,two,high\n"
        "note,,,,,,,,too,many\n"
        ",coupler.height,B,0.39 in,,,,\n"
    )
    rows, faults = read_entry_rows(text)
    assert [(row.line, row.body["at"]) for row in rows] == [(2, "A"), (8, "B")]
    assert [(fault.line, fault.place) for fault in faults] == [
        (3, "column kind"), (4, "column paid"), (5, "column runs"), (6, "column points"), (6, "column trust"), (7, ""),
    ]  # fmt: skip
    assert "did you mean 'reading'?" in faults[0].message
    assert "has 10 cells, and there are 8 columns; a cell that holds the separator needs double quotes" in str(
        faults[-1].message
    )


def test_a_row_with_bad_quotes_does_not_hide_those_after_it() -> None:
    rows, faults = read_entry_rows('what,at,value\na,A,0.39 in\nb,A,"0.391" in\nc,B,0.40 in\n')
    assert [fault.line for fault in faults] == [3]
    assert [row.body["what"] for row in rows] == ["a", "c"]


def test_bad_quotes_keep_the_rows_before_them() -> None:
    rows, faults = read_entry_rows('what,at,value\na,A,0.39 in\nb,A,"0.391" in\n')
    assert [row.body["what"] for row in rows] == ["a"]
    assert [fault.line for fault in faults] == [3]
    assert faults[0].message.startswith("not CSV: ")


def test_a_quote_never_closed_is_a_fault() -> None:
    rows, faults = read_entry_rows('what,at\na,A\nb,"x\nc,d\n')
    assert [row.body["what"] for row in rows] == ["a"]
    assert len(faults) == 1


def test_the_line_of_a_row_is_where_it_begins() -> None:
    rows, _ = read_entry_rows('kind,note\nnote,"one\ntwo\nthree"\nnote,four\n')
    assert [row.line for row in rows] == [2, 5]


def test_rows_after_cells_of_several_lines_have_their_own_lines() -> None:
    rows, faults = read_entry_rows('kind,note\r\nnote,"one\r\ntwo"\r\nnote,four\r\n\r\nbad,x\r\n')
    assert rows[-1].line == 4
    assert [fault.line for fault in faults] == [6]


@pytest.mark.parametrize("head", ["value,values", "values,value"])
def test_no_reading_is_lost_where_value_and_values_are_both_given(head: str) -> None:
    rows, faults = read_entry_rows(f"what,{head}\na,0.1 in,0.2 in\n")
    assert faults or sorted(rows[0].body["values"]) == ["0.1 in", "0.2 in"]


def test_a_time_in_a_recording_may_be_written_as_players_show_it() -> None:
    rows, faults = read_entry_rows("kind,note,offset_s\nnote,hi,12:34\n")
    assert not faults
    assert sheet_of(rows[0].body).entries == sheet_of({"kind": "note", "note": "hi", "offset_s": "12:34"}).entries


@pytest.mark.parametrize("text", ["what,value\na,1 in,,\n", "what,value,,\na,1 in,,\n"])
def test_empty_cells_behind_the_last_column_say_nothing(text: str) -> None:
    rows, faults = read_entry_rows(text)
    assert not faults
    assert len(rows) == 1


@pytest.mark.parametrize("name", ["at", "name", "note"])
def test_a_unit_does_not_become_part_of_a_word(name: str) -> None:
    rows, faults = read_entry_rows(f"what,{name} [mm]\na,1\n")
    assert faults or rows[0].body[name] == "1"


@pytest.mark.parametrize("count", [MOST_ROWS, MOST_ROWS + 1])
def test_no_more_rows_than_these(count: int) -> None:
    rows, faults = read_entry_rows("kind,note\n" + "note,x\n" * count)
    assert len(rows) == MOST_ROWS
    assert [fault.line for fault in faults] == ([MOST_ROWS + 2] if count > MOST_ROWS else [])


def test_bad_rows_count_among_the_most() -> None:
    _, faults = read_entry_rows("kind,note\n" + "bad,x\n" * (MOST_ROWS + 50))
    assert len(faults) <= MOST_ROWS + 1
