"""Rosters as CSV, in and out."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from carwright.errors import SheetError
from carwright.prototype.roster import (
    COLUMNS,
    RESULTS,
    judge_roster,
    read_roster,
    read_roster_text,
    roster_text,
    safe_cell,
    want,
)
from carwright.tables.dated_model import Dated

TEXT = """owner,number,type,built,weighed,shows,lacks,wanted,trust,note
Tansy River,4012,boxcar,1942-05,1955-03,brake.AB; running board.wood,ACI,1957,0.8,"a note, with a comma"
Quillback,77,boxcar,1948-03,,brake.K,,1950,,
Sedge,1,tank car,,,reflectors.sheeting,,2007,,=SUM(A1)
"""


def test_each_line_is_a_car_with_its_window(dated: Dated) -> None:
    judged = list(judge_roster(read_roster_text(TEXT, dated), dated))
    assert [each.as_wanted for each in judged] == ["right", "wrong", "right"]
    assert judged[1].window.hard == ()  # K brakes on a car built in 1948
    assert judged[0].line.claims[0].trust == 0.8
    assert judged[1].line.claims[0].trust == dated.weights.claim_trust


def test_it_comes_out_as_it_went_in_with_results_behind(dated: Dated) -> None:
    text = roster_text(judge_roster(read_roster_text(TEXT, dated), dated))
    rows = list(csv.DictReader(io.StringIO(text)))
    assert list(rows[0])[-len(RESULTS) :] == list(RESULTS)
    assert rows[0]["note"] == "a note, with a comma"
    assert (rows[0]["earliest"], rows[0]["latest_soft"], rows[0]["as_wanted"]) == ("1955-03", "1959-03", "right")
    assert rows[1]["earliest"] == "no month"
    assert rows[2]["note"] == "'=SUM(A1)"  # no spreadsheet takes it for a formula
    again = roster_text(judge_roster(read_roster_text(text, dated), dated))
    assert next(iter(csv.DictReader(io.StringIO(again)))) == rows[0]


def test_no_month_without_doubt_is_not_called_open(dated: Dated) -> None:
    # Sighted first in 1934, and gone in practice by then: only doubtful months are left.
    text = "type,shows\nboxcar,brake.K; bearing.roller\n"
    row = next(csv.DictReader(io.StringIO(roster_text(judge_roster(read_roster_text(text, dated), dated)))))
    [judged] = judge_roster(read_roster_text(text, dated), dated)
    assert judged.window.hard
    assert not judged.window.soft
    assert (row["earliest_soft"], row["latest_soft"]) == ("no month", "no month")
    assert row["latest_hard"] != "no month"


def test_a_rule_from_memory_says_so(dated: Dated) -> None:
    text = "type,shows\nboxcar,brake-valve.ABDW\n"
    row = next(csv.DictReader(io.StringIO(roster_text(judge_roster(read_roster_text(text, dated), dated)))))
    assert "brake-valve.ABDW/first-seen/1974 [from memory]" in row["bounded_by"]


@pytest.mark.parametrize("cell", ["=1", "+1", "-1+2", "@x", "\tx"])
def test_no_spreadsheet_takes_a_cell_for_a_formula(cell: str) -> None:
    assert safe_cell(cell) == f"'{cell}"


def test_one_date_may_be_wanted_for_all(dated: Dated) -> None:
    lines = want(read_roster_text(TEXT, dated), "1951", dated)
    assert [each.as_wanted for each in judge_roster(lines, dated)] == ["wrong", "wrong", "wrong"]
    assert want(lines, "", dated) == lines


def test_semicolons_part_cells_too(dated: Dated) -> None:
    [line] = read_roster_text("number;type;shows\n12;boxcar;brake.AB\n", dated)
    assert line.cells["number"] == "12"
    assert [each.feature for each in line.subject.shown] == ["brake.AB"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "needs a head of columns"),
        ("numbr\n1\n", "1: numbr: unknown column 'numbr'; did you mean 'number'"),
        ("number,number\n1,2\n", "stands twice"),
        ("number,built\n1,1942-13\n", "2: built: cannot read '1942-13' as a date: there is no month 13"),
        ("number,weighed\n1,1942\n", "2: weighed: a stencil bears a month"),
        ("number,shows\n1,brake.KB\n", "2: shows: nobody defined the feature 'brake.KB'; did you mean 'brake.K'"),
        ("number,lacks\n1,stencil.built\n", "2: lacks: nobody defined the feature 'stencil.built'"),
        ("number,trust\n1,high\n", "2: trust: expected a number from 0 to 1, got 'high'"),
        ("number,use\n1,museum\n", "2: use: 'museum' must be one of interchange, home road, company service"),
        ("number,wanted\n1,after 1950\n", "2: wanted: a wanted date has a first and a last month"),
        ("number,type\n1,refer\n", "2: type: 'refer' is no kind of car dated rules know"),
        ("number,built,last_seen\n1,1955,1950\n", "2: last_seen: '1950' lies before built '1955'"),
        ("number,built\n1\n", "2: has 1 cells, the head has 2"),
        ('number\n"1\n', "not CSV"),
    ],
)
def test_a_roster_that_is_not_as_it_must_be_names_line_and_column(dated: Dated, text: str, says: str) -> None:
    with pytest.raises(SheetError, match=says):
        read_roster_text(text, dated)


def test_one_bad_line_hides_no_other(dated: Dated) -> None:
    with pytest.raises(SheetError) as caught:
        read_roster_text("number,built,shows\n1,x,brake.K\n2,1950,brake.KK\n3,1950,brake.K\n", dated)
    assert [fault.line for fault in caught.value.faults] == [2, 3]


def test_files_that_cannot_be_read_say_so(dated: Dated, tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="cannot be read: No such file"):
        read_roster(tmp_path / "none.csv", dated)
    path = tmp_path / "latin.csv"
    path.write_bytes(b"number\n\xff\n")
    with pytest.raises(SheetError, match="not UTF-8"):
        read_roster(path, dated)
    path.write_text(TEXT, "utf-8-sig")
    assert len(read_roster(path, dated)) == 3


def test_columns_and_results_do_not_mix() -> None:
    assert not set(COLUMNS) & set(RESULTS)
