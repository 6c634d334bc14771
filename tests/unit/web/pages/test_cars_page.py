"""The list: words, status, collection, paging, and odd wishes."""

from __future__ import annotations

import pytest
from webapp import token, visited, with_hopper

from carwright.shop import Shop
from carwright.web.pages.cars.route import AT_ONCE


def test_words_find_a_car_and_others_do_not(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        for words in ("tansy", "TANSY 40418", "", "\x00"):
            assert f'href="/car/{car}"' in client.get("/cars", params={"words": words}).text
        for words in ("%", "zz", "<b>zz"):
            page = client.get("/cars", params={"words": words}).text
            assert f'href="/car/{car}"' not in page
            assert "No car has that." in page
            assert "<b>" not in page


@pytest.mark.parametrize("asked", ["first=-1", "first=zz", "words=" + "x" * 201, "first=99999999"])
def test_what_cannot_be_asked_is_refused(shop: Shop, asked: str) -> None:
    with visited(shop) as client:
        assert client.get(f"/cars?{asked}").status_code == 422


def test_a_collection_nobody_made_is_not_there(shop: Shop) -> None:
    with visited(shop) as client:
        assert client.get("/cars?group=zz").status_code == 404


def test_an_empty_shop_leads_to_adding(shop: Shop) -> None:
    with visited(shop) as client:
        assert "There is no car yet." in client.get("/cars").text
        assert client.get("/").headers["location"] == "/add"


def test_beyond_the_last_page_the_shop_is_not_called_empty(shop: Shop) -> None:
    with_hopper(shop)
    with visited(shop) as client:
        assert "There is no car yet." not in client.get("/cars?first=1000").text


def test_more_cars_than_a_page_has_are_paged(shop: Shop) -> None:
    with visited(shop) as client:
        rows = "\n".join(f"[[x]]\nn = {number}" for number in range(3))
        assert client.post("/add/sheet", data={"token": token(client), "text": rows}).status_code == 422
        for number in range(AT_ONCE + 1):
            fields = {"token": token(client), "title": f"Car {number:03}", "scale": "HO"}
            assert client.post("/add/new", data=fields).status_code == 303
        first, second = client.get("/cars").text, client.get(f"/cars?first={AT_ONCE}").text
    assert f'href="/cars?first={AT_ONCE}"' in first
    assert "Car 040" in second
    assert "Car 039" not in second
