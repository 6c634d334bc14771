"""Facts of a car come back from a form as they are stated; what no field shows stays."""

from __future__ import annotations

from pathlib import Path

import pytest

import carwright as cw
from carwright.inspection import words_of
from carwright.shop import Shop
from carwright.shop.demo import example_sheets
from carwright.shop.document import apart
from carwright.tables import shipped
from carwright.web.carfacts import (
    CAR,
    GEOMETRY,
    PROTOTYPE,
    car_fields,
    facts_of,
    prototype_fields,
    size_fields,
    typed_facts,
)

TABLES = ("car", "car.geometry", "car.prototype")


@pytest.mark.parametrize("path", example_sheets(), ids=lambda path: path.stem)
def test_sending_a_form_unchanged_changes_nothing(path: Path) -> None:
    stated = apart(cw.read_sheet(path))[0]
    assert facts_of(typed_facts(stated), stated) == {key: stated.get(key, {}) for key in TABLES}
    assert facts_of({}, stated) == {key: stated.get(key, {}) for key in TABLES}


@pytest.mark.parametrize("name", ["number", "built"])
def test_a_fact_that_is_a_number_stays_one(name: str) -> None:
    stated = {"car.prototype": {name: 1931}}
    assert facts_of(typed_facts(stated), stated)["car.prototype"] == {name: 1931}


def test_fields_are_those_the_facts_have(shop: Shop) -> None:
    fields = [*car_fields(shop, words_of(shipped())), *size_fields(), *prototype_fields()]
    names = [field.name for field in fields]
    assert names == [*CAR, *GEOMETRY, *PROTOTYPE]
    assert len(set(names)) == len(names)
    assert all(field.label for field in fields)
    assert len({field.label for field in fields}) == len(fields)
    assert "deck" not in GEOMETRY


def test_an_empty_field_takes_its_fact_back() -> None:
    stated = {"car": {"title": "x", "type": "boxcar"}, "car.geometry": {"axles": 4, "body_length": "5 in"}}
    found = facts_of({"type": " ", "axles": "", "body_length": "6 in"}, stated)
    assert found == {"car": {"title": "x"}, "car.geometry": {"body_length": "6 in"}, "car.prototype": {}}
    assert stated["car"] == {"title": "x", "type": "boxcar"}


def test_rule_sets_stand_between_commas() -> None:
    found = facts_of({"rules": " nmra, ,bench,"}, {"car": {"title": "x"}})
    assert found["car"]["rules"] == ["nmra", "bench"]
    assert typed_facts({"car": found["car"]})["rules"] == "nmra, bench"


def test_commas_alone_are_no_rule_sets() -> None:
    assert "rules" not in facts_of({"rules": " , "}, {"car": {"title": "x"}})["car"]


@pytest.mark.parametrize(
    ("text", "wanted"), [("4", 4), (" 6 ", 6), ("four", "four"), ("4.0", "4.0"), ("-4", "-4"), ("٤", "٤")]
)
def test_a_count_is_read_or_left_to_be_refused(text: str, wanted: object) -> None:
    assert facts_of({"axles": text}, {})["car.geometry"] == {"axles": wanted}


@pytest.mark.parametrize("claims", [[{"value": "1931"}, {"value": "1932"}], {"value": "1931", "source": "a book"}])
def test_rival_claims_are_not_shown_and_stay(claims: object) -> None:
    stated = {"car.prototype": {"built": claims, "owner": "Tansy River"}, "car.geometry": {"deck": [{"from": "1 in"}]}}
    typed = typed_facts(stated)
    assert typed == {"owner": "Tansy River"}
    found = facts_of({**typed, "built": "", "owner": "Another"}, stated)
    assert found["car.prototype"] == {"built": claims, "owner": "Another"}
    assert found["car.geometry"] == stated["car.geometry"]


def test_fields_nobody_knows_change_nothing() -> None:
    assert facts_of({"id": "x", "layout": "y", "deck": "z"}, {"car": {"title": "x"}})["car"] == {"title": "x"}
