"""What is typed at the bench becomes the entry a sheet would hold, and comes back as it was typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

import carwright as cw
from carwright.history.entries import FORMAT, MODELS
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import read_document
from carwright.inspection import words_of
from carwright.shop.demo import example_sheets
from carwright.tables import shipped
from carwright.web.entering import BY_ID, DOINGS, FIRST, KEYS, STEPS, UNITS, body_of, fields_of, typed_of, with_unit
from carwright.web.places import spots_of

WORDS = words_of(shipped())
TYPED: Mapping[str, Mapping[str, str]] = {
    "measure": {"what": "coupler.height", "at": "A", "value": "0.391 in; 25/64 in", "state": "free", "note": "cold"},
    "gauge": {"what": "coupler.height", "at": "B", "result": "low", "note": "twice"},
    "look": {"what": "part", "at": "A", "name": "stirrup step", "grade": "slight"},
    "repair": {"remedy": "washer", "at": "A", "amount": "0.015 in"},
    "photo": {"shows": "the left side", "note": "by a window"},
    "line": {"of": "frame", "side": "centre", "datum": "rail", "stations": "-30 mm; 0 mm; 30 mm",
             "heights": "9.0 mm; 9.1 mm; 9.0 mm"},
    "trouble": {"defect": "uncoupled", "facing": "A", "move": "pulled", "neighbours": "the tank car; no. 7"},
    "runs": {"runs": "12", "place": "the long curve", "finder": "me"},
    "ruling": {"reason": "my own", "category": "paint", "points": "2.5"},
    "place": {"where": "shelf 3", "how": "shelf", "from": "2026-01-02", "to": "2026-02-02"},
    "bought": {"paid": "12.5", "list_price": "20.25", "currency": "USD", "return_by": "2026-02-01"},
    "note": {"note": "words"},
}  # fmt: skip


def read(body: Mapping[str, Any]) -> None:
    document = {"format": FORMAT, "car": {"title": "Odd car", "scale": "HO"}, "entry": [dict(body)]}
    read_document(document, Faults(Lines("")), WORDS, "typed", "")


def test_every_form_is_tried_here() -> None:
    assert set(TYPED) == set(KEYS) == set(BY_ID) == {each.id for each in DOINGS}
    assert set(FIRST) <= set(BY_ID)


@pytest.mark.parametrize("do", TYPED)
def test_what_is_typed_makes_the_entry_and_comes_back(do: str) -> None:
    body = body_of(BY_ID[do], TYPED[do])
    assert body["kind"] == BY_ID[do].kind
    assert typed_of(body) == dict(TYPED[do])
    assert body_of(BY_ID[do], typed_of(body)) == body
    read({**body, "file": "left.png"} if do == "photo" else body)


@pytest.mark.parametrize("do", TYPED)
def test_fields_of_a_form_are_those_it_sends(do: str) -> None:
    history = cw.read_sheet(example_sheets()[0]).history
    for spot in spots_of(history):
        names = {field.name for field in fields_of(BY_ID[do], spot, WORDS, history)}
        assert names <= set(KEYS[do])
        if do not in {"measure", "look"}:
            assert names == set(KEYS[do])
        assert len(names) == len(fields_of(BY_ID[do], spot, WORDS, history))


@pytest.mark.parametrize("do", TYPED)
def test_empty_fields_say_nothing(do: str) -> None:
    typed = dict.fromkeys(KEYS[do], " ")
    wanted = {"kind": BY_ID[do].kind, **({"values": [""], "turned": True} if do == "measure" else {})}
    if do == "measure":
        typed["turned"] = ""
        del wanted["turned"]
    assert body_of(BY_ID[do], typed) == wanted


def test_gaps_under_a_straight_edge_are_no_heights() -> None:
    typed = {**TYPED["line"], "datum": "straightedge", "heights": "0.1 mm\n< 0.05 mm\r\n0.0 mm"}
    body = body_of(BY_ID["line"], typed)
    assert body["gaps"] == ["0.1 mm", "< 0.05 mm", "0.0 mm"]
    assert "heights" not in body
    assert typed_of(body)["heights"] == "0.1 mm; < 0.05 mm; 0.0 mm"
    assert body_of(BY_ID["line"], typed_of(body)) == body
    read(body)


def test_the_unit_chosen_is_that_of_every_reading_without_one() -> None:
    body = body_of(BY_ID["measure"], {"what": "a", "value": "0,391; 9.93 mm;; 25/64", "unit": "in"})
    assert body == {"kind": "reading", "what": "a", "values": ["0.391 in", "9.93 mm", "25/64 in"]}


def test_a_correction_says_what_it_corrects() -> None:
    assert body_of(BY_ID["note"], {"note": "x", "supersedes": "7"})["supersedes"] == "7"
    assert typed_of({"kind": "note", "note": "x", "supersedes": "7", "id": "8", "when": "w", "who": "me"}) == {
        "note": "x"
    }


@pytest.mark.parametrize(("key", "text"), [("points", "two"), ("points", "1.5.2"), ("paid", "much")])
def test_a_number_that_cannot_be_read_stays_as_typed_and_is_refused(key: str, text: str) -> None:
    do = "ruling" if key == "points" else "bought"
    body = body_of(BY_ID[do], {**TYPED[do], key: text})
    assert body[key] == text
    with pytest.raises(cw.SheetError):
        read(body)


@pytest.mark.parametrize("text", ["1.5", "many", "0", "-2"])
def test_runs_are_counted_in_whole_numbers(text: str) -> None:
    with pytest.raises(cw.SheetError):
        read(body_of(BY_ID["runs"], {"runs": text}))


@pytest.mark.parametrize(
    ("text", "unit", "wanted"),
    [
        ("0.391", "in", "0.391 in"),
        (" 0,391 ", "in", "0.391 in"),
        ("9.93 mm", "in", "9.93 mm"),
        ("9.93mm", "in", "9.93mm"),
        ("25/64", "in", "25/64 in"),
        ("6-1/2", "in", "6-1/2 in"),
        ('25/64"', "mm", '25/64"'),
        ("6′", "mm", "6′"),
        ("6½", "in", "6½ in"),
        ("2 %", "deg", "2 %"),
        ("1°", "%", "1°"),
        ("< 0.05", "mm", "< 0.05 mm"),
        ("40' HO", "mm", "40' HO"),
        ("1 µm", "mm", "1 µm"),
        ("", "in", ""),
        ("  ", "in", ""),
        ("0.5", "", "0.5"),
        ("0.5", "furlong", "0.5"),
        ("25/64”", "in", "25/64”"),
        ("40 ft at 1:87.1", "in", "40 ft at 1:87.1"),
        ("1:40", "%", "1:40"),
        ("1 in 40", "%", "1 in 40"),
        ("5 ‰", "%", "5 ‰"),
    ],
)  # fmt: skip
def test_a_unit_is_added_where_none_is_named(text: str, unit: str, wanted: str) -> None:
    assert with_unit(text, unit) == wanted


def test_every_unit_offered_has_its_step() -> None:
    assert {unit for ways in UNITS.values() for units in ways.values() for unit in units} == set(STEPS)
    for ways in UNITS.values():
        assert set(ways["us"]) == set(ways["metric"])


@pytest.mark.parametrize(("do", "key"), [("note", "note"), ("ruling", "reason")])
def test_words_of_several_lines_can_be_sent_by_a_browser(do: str, key: str) -> None:
    body = body_of(BY_ID[do], {**TYPED[do], key: "one\r\ntwo"})
    assert MODELS[BY_ID[do].kind].validate_python(body)


def test_a_car_not_turned_stays_so() -> None:
    body = {"kind": "reading", "what": "coupler.height", "at": "A", "values": ["1 in"], "turned": False}
    assert not body_of(BY_ID["measure"], typed_of(body)).get("turned")


def test_a_car_turned_stays_so() -> None:
    body = {"kind": "reading", "what": "coupler.height", "at": "A", "values": ["1 in"], "turned": True}
    assert body_of(BY_ID["measure"], typed_of(body)) == body


@pytest.mark.parametrize(
    ("do", "more"),
    [
        ("gauge", {"turn": "90 deg"}),
        ("gauge", {"grade": "2 %"}),
        ("repair", {"feature": "roof walk"}),
        ("repair", {"date": "1931"}),
        ("note", {"offset_s": 754.5}),
    ],
)
def test_nothing_of_an_entry_is_lost_by_correcting_it(do: str, more: Mapping[str, Any]) -> None:
    body = {**body_of(BY_ID[do], TYPED[do]), **more}
    assert body_of(BY_ID[do], typed_of(body), body) == body


def test_readings_at_several_places_can_be_corrected() -> None:
    body = {"kind": "reading", "what": "wheel.width", "at": "1", "places": [["0.1 in", "0.2 in"], ["0.3 in"]]}
    assert body_of(BY_ID["measure"], typed_of(body), body) == body
