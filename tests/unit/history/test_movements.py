"""Stays and runs: the days people write, what is refused, and the order in which they count."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping

import pytest

import carwright as cw
from carwright.history import History
from carwright.history.movements import Placement, Running, day_of

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n'
FIRST, SECOND = "00000000-0000-4000-8000-000000000001", "00000000-0000-4000-8000-000000000002"
Written = Mapping[str, object]


def read(*entries: Written) -> History:
    body = "".join(
        "[[entry]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in entry.items()) for entry in entries
    )
    return cw.read_sheet_text(HEAD + body, file="car.toml").history


def faults(*entries: Written) -> list[str]:
    with pytest.raises(cw.SheetError) as error:
        read(*entries)
    return str(error.value).splitlines()


def stay(how: str = "storage", **keys: str) -> Written:
    return {"kind": "placement", "where": "a box", "how": how, **keys}


def span(**keys: str) -> tuple[dt.date | None, dt.date | None]:
    (found,) = read(stay(**keys)).placements
    return found.start, found.end


def day(text: str) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026-02-14", "2026-02-14", "2026-02-14"),
        ("20260214", "2026-02-14", "2026-02-14"),
        ("2028-02-29", "2028-02-29", "2028-02-29"),
        ("2026-02", "2026-02-01", "2026-02-28"),
        ("2028-02", "2028-02-01", "2028-02-29"),
        ("2100-02", "2100-02-01", "2100-02-28"),
        ("2000-2", "2000-02-01", "2000-02-29"),
        ("2026-12", "2026-12-01", "2026-12-31"),
        ("December 2026", "2026-12-01", "2026-12-31"),
        ("sept. 2026", "2026-09-01", "2026-09-30"),
        ("2026", "2026-01-01", "2026-12-31"),
        ("summer 2026", "2026-06-01", "2026-08-31"),
        ("Winter  2025", "2024-12-01", "2026-02-28"),
        ("about 2026", "2024-01-01", "2028-12-31"),
        ("1950s", "1950-01-01", "1959-12-31"),
        ("2026..2027", "2026-01-01", "2027-12-31"),
        ("since 2026", "2026-01-01", ""),
        ("after 2026-12", "2027-01-01", ""),
        ("before 2026", "", "2025-12-31"),
        ("until 2026-02", "", "2026-02-28"),
    ],
)
def test_a_stay_begins_with_the_first_day_of_its_words_and_ends_with_the_last(text: str, first: str, last: str) -> None:
    assert span(**{"from": text})[0] == day(first)
    assert span(to=text)[1] == day(last)


@pytest.mark.parametrize("text", ["20 June 2026", "20. June 2026", "2026-6-20", " 2026-06-20"])
def test_a_day_in_words_is_that_day(text: str) -> None:
    assert span(**{"from": text, "to": text}) == (dt.date(2026, 6, 20), dt.date(2026, 6, 20))


def test_days_in_words_are_refused_in_the_wrong_order() -> None:
    assert faults(stay(**{"from": "20 June 2026", "to": "10 June 2026"}))


@pytest.mark.parametrize(
    "text", ["soon", "2026-02-30", "2025-02-29", "2026-13", "1.2.2026", "2101", "2026-02-14T10:00"]
)
@pytest.mark.parametrize("key", ["from", "to"])
def test_a_word_that_is_no_date_is_refused_by_its_key(key: str, text: str) -> None:
    (found,) = faults(stay(**{key: text}))
    assert f"entry 1 (placement), {key}: where how is given, from and to are dates: " in found
    assert repr(text) in found


def test_without_how_the_words_are_free_and_it_only_ends_what_was_before() -> None:
    found = read({"kind": "placement", "where": "a box", "from": "a swap", "to": "who knows"})
    assert [(each.how, each.start, each.end) for each in found.placements] == [("", None, None)]
    assert found.kept["placement"] == 1


def test_an_unknown_how_is_refused() -> None:
    assert "how" in faults(stay("garage"))[0]


@pytest.mark.parametrize(
    ("start", "end"),
    [("2026-03-02", "2026-03-01"), ("2026-03", "2026-02"), ("2026-03", "February 2026"), ("2026", "before 2026"),
     ("summer 2026", "spring 2026")],
)  # fmt: skip
def test_a_stay_that_ends_before_it_begins_is_refused(start: str, end: str) -> None:
    (found,) = faults(stay(**{"from": start, "to": end}))
    assert found.endswith(f"entry 1 (placement), to: {end!r} lies before {start!r}")


def test_a_stay_may_end_on_its_day_in_its_month_and_in_its_year() -> None:
    assert span(**{"from": "2026-03-02", "to": "2026-03-02"}) == (dt.date(2026, 3, 2), dt.date(2026, 3, 2))
    assert span(**{"from": "2026-03-20", "to": "2026-03"}) == (dt.date(2026, 3, 20), dt.date(2026, 3, 31))
    assert span(**{"from": "2026-03-20", "to": "2026"})[1] == dt.date(2026, 12, 31)


def test_every_stay_that_is_wrong_is_named() -> None:
    found = faults(stay(**{"from": "soon"}), stay(), stay(to="later"))
    assert [each.partition(": ")[2].partition(": ")[0] for each in found] == [
        "entry 1 (placement), from",
        "entry 3 (placement), to",
    ]


def test_a_stay_without_from_began_when_its_entry_says() -> None:
    assert span(when="2026-03-02T23:30:00-05:00") == (dt.date(2026, 3, 2), None)
    assert span(when="2026-03-02", **{"from": "2026-01"}) == (dt.date(2026, 1, 1), None)
    assert span() == (None, None)


def test_a_stay_since_before_a_year_did_not_begin_on_the_day_it_was_written_down() -> None:
    start, _ = span(when="2026-11-26", **{"from": "before 2020"})
    assert start is None or start < dt.date(2020, 1, 1)


def test_a_stay_that_was_over_when_written_down_did_not_begin_on_that_day() -> None:
    start, end = span(when="2026-06-01", to="2026-01-01")
    assert end == dt.date(2026, 1, 1)
    assert start is None or start <= end


def test_stays_and_runs_come_in_the_order_of_the_history_with_their_stages() -> None:
    found = read(
        stay("shelf", when="2026-05-01"),
        {"kind": "exposure", "runs": 12, "when": "2026-03-03"},
        {"kind": "work", "remedy": "truck-screws", "at": "all", "when": "2026-03-02"},
        {"kind": "trouble", "defect": "came off", "when": "2026-03-01"},
        stay("transport", when="2026-02-01", to="2026-02-03"),
    )
    assert found.placements == (
        Placement(5, 0, "a box", "transport", dt.date(2026, 2, 1), dt.date(2026, 2, 3)),
        Placement(1, 1, "a box", "shelf", dt.date(2026, 5, 1), None),
    )
    assert found.running == (
        Running(4, 0, 1, "came off", dt.date(2026, 3, 1)),
        Running(2, 1, 12, "", dt.date(2026, 3, 3)),
    )


def test_a_correction_takes_the_place_and_the_first_is_gone() -> None:
    found = read(
        {**stay("storage", when="2026-01-01"), "id": FIRST},
        {"kind": "exposure", "runs": 3, "id": SECOND, "when": "2026-01-02"},
        {"kind": "exposure", "runs": 30, "supersedes": SECOND},
        stay("layout", when="2026-02-01"),
        {**stay("shelf", when="2026-03-01"), "supersedes": FIRST},
    )
    assert [(each.entry, each.how) for each in found.placements] == [(5, "shelf"), (4, "layout")]
    assert [(each.entry, each.runs, each.when) for each in found.running] == [(3, 30, None)]


def test_a_stay_nobody_holds_to_any_more_may_have_been_wrong() -> None:
    note = {"kind": "note", "note": "Undone: placement", "supersedes": FIRST}
    assert read({**stay(**{"from": "soon"}), "id": FIRST}, note).placements == ()


def test_runs_are_whole_and_at_least_one() -> None:
    for runs in (0, -1, 1.5, True, "3", 1_000_001):
        assert "runs" in faults({"kind": "exposure", "runs": runs})[0]


def test_the_day_of_a_moment_is_the_one_written() -> None:
    assert day_of("2026-03-01") == day_of("2026-03-01T00:00:00+14:00") == day_of("2026-03-01T23:59-11:00")
    assert day_of("2026-03-01") == dt.date(2026, 3, 1)
    assert day_of("") is None
    assert day_of(None) is None
