"""Taking cars in: a new one, one like another, a twin, a sheet, a table."""

from __future__ import annotations

import re

import pytest
from webapp import HOPPER, visited, with_hopper
from webpages import sent_form

from carwright.shop import Shop
from carwright.shop.listing import list_cars

_ROW = "what,at,value [in],with\nwheel.back_to_back,4,0.570,{}\n"


@pytest.mark.parametrize(
    ("field", "text"),
    [("title", ""), ("scale", "zz"), ("rules", "zz"), ("system", "zz"), ("coupler", "zz"), ("body_length", "zz"),
     ("truck_centers", "-"), ("paid", "much"), ("paid", "nan"), ("paid", "-5"), ("currency", "x" * 3000),
     ("rules", "nowhere.toml")],
)  # fmt: skip
def test_a_wrong_field_has_its_sentence_beside_it(shop: Shop, field: str, text: str) -> None:
    good = {"title": "Flat car", "scale": "HO", "paid": "5", "currency": "USD", "type": "flat car"}
    with visited(shop) as client:
        answer = sent_form(client, "/add/new", {**good, field: text})
    assert answer.status_code == 422
    assert f'id="new-{field}-wrong-1"' in answer.text
    assert 'value="flat car"' in answer.text
    assert not list_cars(shop)


@pytest.mark.parametrize(
    "title",
    [
        "Flat car",
        "車" * 500,
    ],
)
def test_a_new_car_is_taken_in_and_its_cookie_can_be_kept(shop: Shop, title: str) -> None:
    with visited(shop) as client:
        answer = sent_form(client, "/add/new", {"title": title, "scale": "HO"})
        assert answer.status_code == 303
        assert len(answer.headers["set-cookie"]) <= 4096
        assert client.get(answer.headers["location"]).status_code == 200


def test_a_car_like_another_takes_over_sizes_and_rules(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        fields = {"title": "Like it", "scale": "HO", "like": car, "rules": "", "body_length": "5.40 in"}
        made = sent_form(client, "/add/new", fields).headers["location"].removeprefix("/car/")
        assert sent_form(client, "/add/new", {"title": "Q", "scale": "HO", "like": "zz"}).status_code == 422
    old, new = shop.state(car).stated, shop.state(made).stated
    assert new["car"]["rules"] == old["car"]["rules"]
    assert new["car.geometry"] == {**old["car.geometry"], "body_length": "5.40 in"}
    assert "id" not in new["car"]


def test_a_twin_is_refused_with_a_way_on(shop: Shop) -> None:
    with_hopper(shop)
    twin = HOPPER.read_text("utf-8").replace('id = "8e89f9ee-9410-4b2d-93c7-e6498682fa7d"\n', "")
    with visited(shop) as client:
        answer = sent_form(client, "/add/sheet", {"text": twin})
        assert answer.status_code == 422
        assert 'name="another"' in answer.text
        assert sent_form(client, "/add/sheet", {"text": twin, "another": "1"}).status_code == 303
        assert len(list_cars(shop)) == 2


def test_a_twin_is_refused_in_words_of_the_page(shop: Shop) -> None:
    with_hopper(shop)
    twin = HOPPER.read_text("utf-8").replace('id = "8e89f9ee-9410-4b2d-93c7-e6498682fa7d"\n', "")
    with visited(shop) as client:
        assert "--another" not in sent_form(client, "/add/sheet", {"text": twin}).text


def test_faults_of_a_sheet_are_told_by_line_and_the_text_is_kept(shop: Shop) -> None:
    text = HOPPER.read_text("utf-8").replace('at = "B"', 'at = "Q"')
    with visited(shop) as client:
        answer = sent_form(client, "/add/sheet", {"text": text})
        assert sent_form(client, "/add/sheet", {"text": ""}).status_code == 422
    assert answer.status_code == 422
    lines = [int(each) for each in re.findall(r"line (\d+): entry", answer.text)]
    assert lines
    assert all('at = "Q"' in "".join(text.splitlines()[each - 2 : each + 8]) for each in lines)
    assert "Tansy River" in answer.text
    assert not list_cars(shop)


def test_a_table_is_shown_first_and_saved_once_confirmed(shop: Shop) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    rows = _ROW.format("digital calliper")
    with visited(shop) as client:
        shown = sent_form(client, "/add/table", {"rows": rows, "car": car})
        assert "Every row can be read." in shown.text
        assert shop.state(car).digest == before
        assert sent_form(client, "/add/table", {"rows": rows, "car": car, "sure": "1"}).status_code == 303
        assert "1 rows saved." in client.get(f"/car/{car}").text
    assert shop.state(car).entries[-1].content()["values"] == ["0.570 in"]


@pytest.mark.parametrize(
    "rows", ["", "what\n", "zz,yy\n1,2\n", "car,what,at,value [in]\nzz,wheel.back_to_back,4,0.57\n", _ROW.format("zz")]
)
def test_a_table_with_faults_saves_nothing(shop: Shop, rows: str) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        answer = sent_form(client, "/add/table", {"rows": rows, "car": car, "sure": "1"})
    assert answer.status_code == 422
    assert "Nothing was saved; put it right here" in answer.text
    assert shop.state(car).digest == before


def test_a_table_may_name_an_instrument_kept_for_all_cars(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        sent_form(client, "/settings/instrument", {"name": "my calliper", "resolution": "0.01 mm"})
        assert sent_form(client, "/add/table", {"rows": _ROW.format("my calliper"), "car": car}).status_code == 200


def test_a_saved_table_can_be_undone(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        sent_form(client, "/add/table", {"rows": _ROW.format("digital calliper"), "car": car, "sure": "1"})
        assert "<button>Undo</button>" in client.get(f"/car/{car}").text.partition('id="notice"')[2]


@pytest.mark.parametrize("field", ["text", "rows"])
def test_a_text_with_faults_names_its_sentences(shop: Shop, field: str) -> None:
    with visited(shop) as client:
        answer = sent_form(client, "/add/sheet" if field == "text" else "/add/table", {field: "zz"})
    assert "aria-describedby" in answer.text.partition(f'name="{field}"')[2].partition(">")[0]
