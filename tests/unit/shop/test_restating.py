"""Stating again what was stated before undoes a change, and takes nothing out of the history."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from shops import given

from carwright.errors import UnknownNameError
from carwright.shop import Shop
from carwright.shop.checking import check
from carwright.shop.faults import ChangedError
from carwright.shop.restating import restate, stated_now
from carwright.shop.watching import latest_writing

Fresh = Callable[[], Shop]
GEOMETRY = "car.geometry"


def with_car(shop: Shop) -> str:
    return shop.add([given()])[0].addition.car


def test_a_change_is_undone_and_the_undoing_too(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    before, first = shop.state(car).stated[GEOMETRY], stated_now(shop, car, GEOMETRY)
    shop.revise(car, GEOMETRY, {"body_length": "5.40 in"})
    second = stated_now(shop, car, GEOMETRY)
    assert first != second
    assert restate(shop, car, GEOMETRY, first, who="me") == before
    assert shop.state(car).stated[GEOMETRY] == before
    assert restate(shop, car, GEOMETRY, second) == {"body_length": "5.40 in"}
    assert shop.state(car).stated[GEOMETRY] == {"body_length": "5.40 in"}
    assert len({each.digest for each in shop.held(car).records if each.key == GEOMETRY}) == 4
    assert check(shop).problems == []


def test_nothing_stated_before_is_taken_back_again(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    assert stated_now(shop, car, "report") == ""
    shop.revise(car, "report", {"by": "me"})
    assert restate(shop, car, "report", "") is None
    assert "report" not in shop.state(car).stated


def test_taking_back_is_undone_by_what_was_stated(shop: Shop) -> None:
    car = with_car(shop)
    first = stated_now(shop, car, GEOMETRY)
    restate(shop, car, GEOMETRY, "")
    assert GEOMETRY not in shop.state(car).stated
    restate(shop, car, GEOMETRY, first)
    assert shop.state(car).stated[GEOMETRY] == {"body_length": "5.35 in"}


def test_stating_what_holds_already_writes_nothing(shop: Shop) -> None:
    car = with_car(shop)
    before = latest_writing(shop)
    restate(shop, car, GEOMETRY, stated_now(shop, car, GEOMETRY))
    assert latest_writing(shop) == before


@pytest.mark.parametrize("digest", ["0" * 64, "x"])
def test_what_was_never_stated_is_refused(shop: Shop, digest: str) -> None:
    car = with_car(shop)
    before = latest_writing(shop)
    with pytest.raises(UnknownNameError, match=f"there is no earlier statement '{digest[:12]}'"):
        restate(shop, car, GEOMETRY, digest)
    assert latest_writing(shop) == before


def test_a_statement_of_another_key_or_car_is_refused(shop: Shop) -> None:
    car = with_car(shop)
    other = shop.add([given("Another")])[0].addition.car
    for subject, key, digest in (
        (car, GEOMETRY, stated_now(shop, car, "car")),
        (other, "car", stated_now(shop, car, "car")),
    ):
        with pytest.raises(UnknownNameError):
            restate(shop, subject, key, digest)


def test_a_car_is_never_left_without_what_its_sheet_needs(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    before = latest_writing(shop)
    with pytest.raises(ChangedError, match="needs scale"):
        restate(shop, car, "car", "")
    assert latest_writing(shop) == before
    assert shop.sheet(car).car.scale == "HO"


def test_of_an_unknown_subject_nothing_is_stated(shop: Shop) -> None:
    unknown = str(uuid.uuid4())
    assert stated_now(shop, unknown, "car") == ""
    assert restate(shop, unknown, "car", "") is None
    assert latest_writing(shop) == 0
