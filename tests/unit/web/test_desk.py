"""The desk: results are worked out beside, a few cars at a time, and pages are never kept waiting for them."""

from __future__ import annotations

import threading

import pytest
from webapp import with_hopper

import carwright as cw
from carwright.shop import Given, Shop
from carwright.shop.judging import stale_cars
from carwright.web import desk as module
from carwright.web.desk import Desk


@pytest.mark.parametrize("many", [1, 100])
def test_results_are_worked_out_beside_however_many_there_are(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, many: int
) -> None:
    for name, value in (("_MANY", many), ("_REST", 0.01), ("_PAUSE", 0.0)):
        monkeypatch.setattr(module, name, value)
    with_hopper(shop)
    shop.add([Given(cw.read_sheet(f"examples/{name}.toml")) for name in ("n-gondola", "o-tank-car")])
    found = Desk(shop)
    over = threading.Event()
    assert found.judge_beside(done=over.set) == 3
    assert found.judge_beside() == 0  # they are on their way already
    assert over.wait(30)
    assert stale_cars(shop) == []
    found.close()


def test_a_desk_that_ends_does_not_wait_for_results(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_PAUSE", 60.0)
    with_hopper(shop)
    found = Desk(shop)
    assert found.judge_beside() == 1
    found.close()
    assert stale_cars(shop) != []


def test_what_was_made_together_is_remembered_for_a_while(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST", 2)
    found = Desk(shop)
    keys = [found.remember({"a car": [str(number)]}) for number in range(3)]
    assert found.remembered(keys[2]) == {"a car": ["2"]}
    with pytest.raises(cw.CarwrightError, match="there is no table to undo under"):
        found.remembered(keys[0])
    found.close()
