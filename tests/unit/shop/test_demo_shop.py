"""The demo shop holds every example car, lies beside a person's own, and stays as people left it."""

from __future__ import annotations

from pathlib import Path

import pytest

from carwright.shop import demo
from carwright.shop.address import Address, own_place
from carwright.shop.checking import check
from carwright.shop.demo import (
    DEMO,
    DEMO_TITLE,
    ExamplesMissingError,
    demo_place,
    example_sheets,
    examples_folder,
    open_demo,
)


def test_every_example_sheet_is_in_it_and_in_order() -> None:
    every = sorted(path.name for path in Path("examples").glob("*.toml"))
    names = [path.name for path in example_sheets()]
    assert names == [name for name in every if not name.startswith(("club-", "stock-"))]
    assert f"{DEMO}.toml" in names
    assert len(names) >= 8


def test_the_demo_is_made_once_and_stays_as_it_was_left(tmp_path: Path) -> None:
    place = Address(path=tmp_path / "demo.db")
    with open_demo(place) as shop:
        cars = set(shop.subjects())
        car = shop.find(DEMO_TITLE)
        assert shop.known(car).title == DEMO_TITLE
        shop.append(car, [{"kind": "note", "note": "mine"}])
        count = len(shop.state(car).entries)
        assert check(shop).problems == []
        # Nothing an example names is missing.
        titles = {shop.known(each).title for each in cars if shop.state(each).of == "car"}
        assert len(titles) == len(example_sheets())
        assert all(not shop.bench(each).missing for each in cars if shop.state(each).of == "car")
    with open_demo(place) as again:
        assert set(again.subjects()) == cars
        assert len(again.state(car).entries) == count


def test_the_demo_lies_beside_a_persons_own_shop() -> None:
    assert demo_place().path != own_place()
    assert demo_place().path == own_place().with_name("demo.db")


def test_missing_examples_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo, "DEMO", "no such sheet")
    with pytest.raises(ExamplesMissingError, match="install carwright again"):
        examples_folder()


def test_a_demo_that_cannot_be_filled_is_let_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = Address(path=tmp_path / "demo.db")
    monkeypatch.setattr(demo, "DEMO", "no such sheet")
    with pytest.raises(ExamplesMissingError):
        open_demo(place)
    monkeypatch.undo()
    with open_demo(place) as shop:
        assert shop.find(DEMO_TITLE)
