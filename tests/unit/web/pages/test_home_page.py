"""Every page as markup: it parses, its ids are unique, its labels have fields, and all it leads to answers."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import html5lib
import pytest
from starlette.testclient import TestClient
from webapp import token, visited, with_hopper

import carwright as cw
from carwright.shop import Given, Shop

_PAGES = (
    "",
    "/verdict",
    "/dates",
    "/papers",
    "/facts",
    "/why",
    "?do=look",
    "?do=line&spot=body",
    "?do=repair&spot=truck-A",
)
_OF_SHOP = ("/cars", "/add", "/quick", "/settings", "/pair")
_EXAMPLES = sorted(each for each in Path("examples").glob("*.toml") if not each.name.startswith(("club-", "stock-")))


def _checked(client: TestClient, path: str) -> list[str]:
    """A page that parses, with unique ids and labels that have fields; returns where it leads."""
    answer = client.get(path)
    assert answer.status_code == 200
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    page = parser.parse(answer.text)
    assert not [each for each in parser.errors if "xlink" not in str(each)]
    ids = Counter(str(each.get("id")) for each in page.iter() if each.get("id") is not None)
    assert not [name for name, count in ids.items() if count > 1]
    assert not [each.get("for") for each in page.iter("label") if each.get("for") and each.get("for") not in ids]
    for name in ("aria-labelledby", "aria-describedby"):
        named = [part for each in page.iter() for part in str(each.get(name) or "").split()]
        assert path == "/pair" or not [each for each in named if each not in ids]
    hrefs = [str(each.get("href")) for each in page.iter("a") if each.get("href")]
    assert not [each for each in hrefs if each.startswith("#") and each[1:] not in ids]
    return [each for each in hrefs if each.startswith("/")]


@pytest.mark.parametrize("path", _PAGES)
def test_a_page_of_a_car_is_whole(shop: Shop, path: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert _checked(client, f"/car/{car}{path}")


@pytest.mark.parametrize("path", _OF_SHOP)
def test_a_page_of_the_shop_is_whole_with_and_without_a_car(shop: Shop, path: str) -> None:
    with visited(shop) as client:
        assert _checked(client, path)
        car = with_hopper(shop)
        client.get(f"/car/{car}/facts")
        assert _checked(client, path)


def test_all_the_bench_leads_to_answers(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        hrefs = _checked(client, f"/car/{car}") + _checked(client, "/settings") + _checked(client, "/cars")
        followed = [
            each for each in dict.fromkeys(hrefs) if each != "/" and "entry=" not in each and "/why" not in each
        ]
        for href in followed[:30]:
            assert client.get(href).status_code in {200, 303}


@pytest.mark.parametrize("sheet", _EXAMPLES, ids=lambda each: str(each.stem))
def test_the_bench_of_every_example_is_whole(shop: Shop, sheet: Path) -> None:
    car = shop.add([Given(cw.read_sheet(sheet), sheet.parent)])[0].addition.car
    with visited(shop) as client:
        for path in ("", "/facts", "/papers", "/dates"):
            assert _checked(client, f"/car/{car}{path}")
        assert client.get("/").headers["location"] == f"/car/{car}"


def test_a_car_without_a_size_opens_everywhere(shop: Shop) -> None:
    with visited(shop) as client:
        made = client.post("/add/new", data={"token": token(client), "title": "Bare", "scale": "HO"})
        for path in _PAGES:
            assert _checked(client, f"{made.headers['location']}{path}")


def test_a_car_of_another_shop_that_was_looked_at_last_is_forgotten(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        client.get(f"/car/{car}")
        assert client.get("/").headers["location"] == f"/car/{car}"
