"""What was written since one last looked is told once, whoever wrote it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from shops import given

from carwright.errors import SheetError
from carwright.shop import Shop, open_shop
from carwright.shop.merging import merge_shop
from carwright.shop.watching import latest_writing, written_since

Fresh = Callable[[], Shop]
NOTE = {"kind": "note", "note": "seen"}


def test_an_empty_shop_has_nothing_to_tell(fresh: Fresh) -> None:
    shop = fresh()
    assert latest_writing(shop) == 0
    assert written_since(shop, 0) == (0, frozenset())


def test_each_writing_is_told_once(fresh: Fresh) -> None:
    shop = fresh()
    one = shop.add([given("One")])[0].addition.car
    number, subjects = written_since(shop, 0)
    assert (number, subjects) == (latest_writing(shop), frozenset({one}))
    two = shop.add([given("Two")])[0].addition.car
    later, subjects = written_since(shop, number)
    assert later > number
    assert subjects == {two}
    shop.append(one, [NOTE])
    shop.append(one, [NOTE])
    last, subjects = written_since(shop, later)
    assert (last, subjects) == (latest_writing(shop), frozenset({one}))
    assert written_since(shop, last) == (last, frozenset())


def test_what_is_written_through_another_handle_is_told(fresh: Fresh) -> None:
    shop = fresh()
    car = shop.add([given()])[0].addition.car
    number = latest_writing(shop)
    with open_shop(shop.address) as other:
        other.append(car, [NOTE])
    assert written_since(shop, number) == (number + 1, frozenset({car}))


def test_what_a_merge_brings_is_told(fresh: Fresh) -> None:
    mine, theirs = fresh(), fresh()
    own = mine.add([given("Mine")])[0].addition.car
    new = theirs.add([given("Theirs")])[0].addition.car
    number = latest_writing(mine)
    merge_shop(mine, theirs)
    found, subjects = written_since(mine, number)
    assert found > number
    assert subjects == {new}
    assert own not in subjects


def test_what_is_refused_is_not_told(shop: Shop) -> None:
    car = shop.add([given()])[0].addition.car
    number = latest_writing(shop)
    with pytest.raises(SheetError, match="needs note"):
        shop.append(car, [NOTE, {"kind": "note"}])
    assert written_since(shop, number) == (number, frozenset())


def test_a_number_of_later_than_now_stays(shop: Shop) -> None:
    shop.add([given()])
    assert written_since(shop, 99) == (99, frozenset())
