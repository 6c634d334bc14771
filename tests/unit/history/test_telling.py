"""Every kind of entry is told in one line that says what it was, where, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

import carwright as cw
from carwright.history.entries import ENTRY_KINDS
from carwright.history.sheet import sheet_document
from carwright.history.telling import told
from carwright.shop.demo import example_sheets

SAID: Mapping[str, tuple[Mapping[str, object], str]] = {
    "reading": (
        {"what": "coupler.height", "at": "A", "values": ["0.412 in", "0.411 in"], "note": "cold"},
        "reading coupler.height at A: 0.412 in, 0.411 in",
    ),
    "gauge": ({"what": "wheel.back_to_back", "at": "4", "result": "low"}, "gauge wheel.back_to_back at 4: low"),
    "profile": (
        {"of": "frame", "datum": "rail", "side": "left", "stations": ["0 mm", "9 mm"], "heights": ["3 mm", "4 mm"]},
        "profile frame: 3 mm, 4 mm",
    ),
    "look": ({"what": "paint", "grade": "slight"}, "look paint: slight"),
    "work": ({"remedy": "washer", "at": "B", "amount": "0.015 in"}, "work washer at B: 0.015 in"),
    "photo": ({"file": "left.png", "shows": "left side"}, "photo left.png"),
    "evidence": ({"source": "an album", "note": "page 3"}, "evidence an album: page 3"),
    "trouble": ({"defect": "uncoupled", "note": "on the curve"}, "trouble uncoupled: on the curve"),
    "exposure": ({"runs": 12}, "exposure: 12"),
    "ruling": (
        {"reason": "my own", "category": "paint", "points": 2.5},
        "ruling my own: 2.5",
    ),
    "placement": ({"where": "shelf 3", "note": "till spring"}, "placement shelf 3: till spring"),
    "acquisition": ({"paid": 12.5}, "acquisition"),
    "note": ({"note": "two\n  lines"}, "note: two lines"),
}


@pytest.mark.parametrize("kind", ENTRY_KINDS)
def test_every_kind_of_entry_has_its_line(kind: str) -> None:
    body, line = SAID[kind]
    assert told({"kind": kind, **body}) == line


def test_readings_at_several_places_are_all_told() -> None:
    body = {"kind": "reading", "what": "wheel.width", "places": [["0.1 in", "0.2 in"], ["0.3 in"]]}
    assert told(body) == "reading wheel.width: 0.1 in, 0.2 in, 0.3 in"


def test_gaps_are_told_like_heights() -> None:
    assert told({"kind": "profile", "of": "sill", "gaps": ["< 0.05 mm", "0.1 mm"]}) == "profile sill: < 0.05 mm, 0.1 mm"


@pytest.mark.parametrize("text", ["a\nb", "a\r\nb", "a\tb", " a  b ", "a\u2028b"])
def test_a_line_never_breaks(text: str) -> None:
    assert told({"kind": "note", "note": text}) == "note: a b"


def test_what_says_nothing_is_told_by_its_kind() -> None:
    assert told({"kind": "acquisition"}) == "acquisition"
    assert told({}) == ""


def test_evidence_is_told_by_its_source_where_it_says_of_what_sort_it_is() -> None:
    assert "an album" in told({"kind": "evidence", "of": "photo", "source": "an album"})


def test_a_ruling_is_told_by_what_it_waives() -> None:
    assert "look.packing" in told({"kind": "ruling", "reason": "mine", "waives": "look.packing"})


@pytest.mark.parametrize("path", example_sheets(), ids=lambda path: path.stem)
def test_every_entry_of_the_examples_is_told_in_one_line(path: object) -> None:
    for body in sheet_document(cw.read_sheet(str(path)))["entry"]:
        line = told(body)
        assert line.startswith(body["kind"])
        assert line == " ".join(line.split())
        assert "[" not in line.replace("[", "", str(body.get("note", "")).count("["))
        assert not line.endswith(":")
