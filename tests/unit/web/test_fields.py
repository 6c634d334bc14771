"""What is wrong with a form stands beside the field it is wrong with, for every kind of entry."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from carwright.errors import CarwrightError, Fault, SheetError
from carwright.history.entries import FORMAT
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import read_document
from carwright.inspection import words_of
from carwright.tables import shipped
from carwright.web.entering import BY_ID, KEYS, body_of
from carwright.web.fields import Typed, faults_by_field

WORDS = words_of(shipped())


def told(do: str, typed: Mapping[str, str]) -> dict[str, list[str]]:
    """Faults of what was typed as the second entry of a car."""
    first = {"kind": "note", "note": "before"}
    document = {"format": FORMAT, "car": {"title": "Odd, car", "scale": "HO"},
                "entry": [first, body_of(BY_ID[do], typed)]}  # fmt: skip
    with pytest.raises(SheetError) as caught:
        read_document(document, Faults(Lines("")), WORDS, "car Odd, car", "")
    return faults_by_field(caught.value, KEYS[do], entry=2)


GOOD_LINE = {"of": "frame", "side": "left", "datum": "rail", "stations": "-30 mm; 30 mm", "heights": "9 mm; 9 mm"}


@pytest.mark.parametrize(
    ("do", "typed", "field"),
    [
        ("measure", {"what": "coupler.height", "at": "A", "value": "0.3x9 in"}, "value"),
        ("measure", {"what": "coupler.height", "at": "A", "value": ""}, "value"),
        ("measure", {"what": "coupler.height", "at": "Z", "value": "0.39 in"}, "at"),
        ("measure", {"what": "coupler.hieght", "at": "A", "value": "0.39 in"}, "what"),
        ("measure", {"at": "A", "value": "0.39 in"}, "what"),
        ("measure", {"what": "coupler.height", "at": "A", "value": "0.39 in", "state": "odd"}, "state"),
        ("measure", {"what": "coupler.height", "at": "A", "value": "0.39 in", "with": "no such tool"}, "with"),
        ("gauge", {"what": "coupler.height", "at": "A", "result": "maybe"}, "result"),
        ("gauge", {"what": "coupler.height", "at": "A"}, "result"),
        ("gauge", {"what": "coupler.height", "at": "3", "result": "pass"}, "at"),
        ("gauge", {"what": "nothing", "result": "pass"}, "what"),
        ("look", {"what": "paint", "grade": "nice"}, "grade"),
        ("look", {"what": "paint"}, "grade"),
        ("look", {"what": "pain", "grade": "sound"}, "what"),
        ("repair", {"remedy": "wahser", "at": "A"}, "remedy"),
        ("repair", {"at": "A"}, "remedy"),
        ("repair", {"remedy": "washer", "at": "Q", "amount": "0.015 in"}, "at"),
        ("repair", {"remedy": "washer", "at": "A", "amount": "a bit"}, "amount"),
        ("repair", {"remedy": "washer", "at": "A", "amount": "0.015 in", "face": "side"}, "face"),
        ("photo", {"shows": "left"}, "file"),
        ("line", {**GOOD_LINE, "of": "floor"}, "of"),
        ("line", {**GOOD_LINE, "side": "up"}, "side"),
        ("line", {**GOOD_LINE, "stations": "-30 mm; x"}, "stations"),
        ("line", {**GOOD_LINE, "heights": "9 mm; y"}, "heights"),
        ("line", {**GOOD_LINE, "datum": "straightedge", "heights": "0.1 mm; y"}, "heights"),
        ("line", {**GOOD_LINE, "stations": "1 mm"}, "stations"),
        ("trouble", {"facing": "A"}, "defect"),
        ("trouble", {"defect": "x", "facing": "C"}, "facing"),
        ("trouble", {"defect": "x", "move": "thrown"}, "move"),
        ("runs", {"runs": "some"}, "runs"),
        ("runs", {"runs": "0"}, "runs"),
        ("runs", {}, "runs"),
        ("ruling", {"category": "paint", "points": "1"}, "reason"),
        ("ruling", {"reason": "x", "category": "paint", "points": "many"}, "points"),
        ("ruling", {"reason": "x"}, "category"),
        ("place", {}, "where"),
        ("place", {"where": "x", "how": "hung"}, "how"),
        ("bought", {"paid": "much"}, "paid"),
        ("bought", {"list_price": "-1"}, "list_price"),
        ("bought", {"return_by": "soon"}, "return_by"),
        ("note", {}, "note"),
    ],
)  # fmt: skip
def test_a_fault_lands_beside_its_field(do: str, typed: Mapping[str, str], field: str) -> None:
    found = told(do, typed)
    assert field in found
    assert all(found[field])
    assert "" not in found


@pytest.mark.parametrize("typed", [{**GOOD_LINE, "heights": "9 mm"}, {**GOOD_LINE, "heights": ""}])
def test_a_line_whose_heights_do_not_go_with_its_stations_is_told(typed: Mapping[str, str]) -> None:
    found = told("line", typed)
    assert any("heights" in each for each in [*found.get("", []), *found.get("heights", [])])


def test_every_fault_of_a_form_is_told_at_once() -> None:
    found = told("trouble", {"facing": "C", "move": "thrown"})
    assert set(found) == {"facing", "move", "defect"}


def test_a_fault_elsewhere_says_where() -> None:
    error = SheetError("car x", [Fault(0, "entry 1 (note), odd", "no"), Fault(0, "entry 20 (note), odd", "so")])
    assert faults_by_field(error, ["note"], entry=2) == {"": ["entry 1 (note), odd: no", "entry 20 (note), odd: so"]}


def test_a_fault_of_another_entry_is_not_put_beside_a_field() -> None:
    error = SheetError("car x", [Fault(0, "entry 1 (reading coupler.height at A), at", "is odd")])
    assert faults_by_field(error, ["at"], entry=2) == {"": ["entry 1 (reading coupler.height at A), at: is odd"]}


def test_the_same_fault_is_told_once() -> None:
    error = SheetError("car x", [Fault(0, "entry 2 (reading a), values.1", "no")] * 2)
    assert faults_by_field(error, ["value"], entry=2) == {"value": ["no"]}


def test_any_other_error_belongs_to_no_field() -> None:
    assert faults_by_field(CarwrightError("odd"), ["note"], entry=2) == {"": ["odd"]}


def test_what_was_typed_is_kept_beside_its_faults() -> None:
    typed = Typed({"note": ""}, {"note": ["needs note"]})
    assert (typed.value("note", "usual"), typed.value("at", "usual")) == ("", "usual")
    assert (typed.wrong("note"), typed.wrong("at")) == (["needs note"], ())
