"""Facts of a car: every field changed and taken back, what no field shows, and cars that cannot be judged."""

from __future__ import annotations

import pytest
from webapp import visited, with_hopper
from webpages import form_of, sent_form, undo_of

from carwright.shop import Shop
from carwright.web.carfacts import GEOMETRY

_GOOD = {
    "title": "Another name", "type": "gondola", "rules": "nmra", "system": "metric", "coupler": "hook",
    "trip_pin": "none", "wheels": "metal", "body_length": "136.1 mm", "truck_centers": "96.2 mm",
    "axles_per_truck": "3", "coupler_mount": "truck", "owner": "Sorrel Valley", "number": "77", "class": "H-13",
    "builder": "Marsh Works", "wanted": "1964", "country": "XA",
}  # fmt: skip


def test_all_fields_saved_as_they_stand_change_nothing(shop: Shop) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        fields = form_of(client.get(f"/car/{car}/facts").text, f"/car/{car}/facts")
        answer = client.post(f"/car/{car}/facts", data=fields)
        assert answer.status_code == 303
        assert "Nothing was changed." in client.get(f"/car/{car}/facts").text
    assert shop.state(car).digest == before


@pytest.mark.parametrize("field", ["title", "rules", "coupler", "body_length", "axles_per_truck", "owner", "wheels"])
def test_a_fact_is_changed_undone_and_changed_again(shop: Shop, field: str) -> None:
    car = with_hopper(shop)
    was = shop.state(car).stated
    with visited(shop) as client:
        answer = sent_form(client, f"/car/{car}/facts", {field: _GOOD[field]})
        assert answer.status_code == 303
        made = shop.state(car).stated
        assert made != was
        assert form_of(client.get(f"/car/{car}/facts").text, f"/car/{car}/facts")[field] == _GOOD[field]
        sent_form(client, f"/car/{car}/facts", {field: form_of(client.get(f"/car/{car}/facts").text, "/facts")[field]})
        client.get(f"/car/{car}/facts")
        sent_form(client, f"/car/{car}/facts", {"country": "XB"})
        back = undo_of(client.get(f"/car/{car}/facts").text)
        again = undo_of(client.get(sent_form(client, back, {}).headers["location"]).text)
        assert shop.state(car).stated == made
        sent_form(client, again, {})
        assert shop.state(car).stated["car.prototype"]["country"] == "XB"


def test_all_good_changes_at_once_leave_rival_claims_and_undo_as_one(shop: Shop) -> None:
    car = with_hopper(shop)
    was = shop.state(car).stated
    with visited(shop) as client:
        assert sent_form(client, f"/car/{car}/facts", _GOOD).status_code == 303
        made = shop.state(car).stated
        assert made["car.prototype"]["quantity"] == was["car.prototype"]["quantity"]
        assert made["car.prototype"]["built"] == was["car.prototype"]["built"]
        assert made["car.geometry"]["axles_per_truck"] == 3
        sent_form(client, undo_of(client.get(f"/car/{car}/facts").text), {})
        assert shop.state(car).stated == was


_ELSE = ("axles", "axles_per_truck", "coupler_mount")
_BESIDE = [("title", ""), ("scale", "zz"), ("rules", "zz"), ("system", "zz"), ("coupler", "zz"), ("wanted", "zz"),
           *((name, "zz²") for name in GEOMETRY if name not in _ELSE)]  # fmt: skip


@pytest.mark.parametrize(
    ("field", "text"),
    [
        *_BESIDE,
        *((name, "zz") for name in ("axles", "axles_per_truck", "coupler_mount")),
    ],
)
def test_a_wrong_fact_has_its_sentence_beside_it(shop: Shop, field: str, text: str) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        answer = sent_form(client, f"/car/{car}/facts", {field: text, "country": "XA"})
    assert answer.status_code == 422
    assert shop.state(car).digest == before
    assert form_of(answer.text, f"/car/{car}/facts")["country"] == "XA"
    assert f'id="f-{field}-wrong-1"' in answer.text


def test_what_is_typed_over_rival_claims_is_not_dropped_silently(shop: Shop) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        answer = sent_form(client, f"/car/{car}/facts", {"built": "1959"})
    assert answer.status_code == 422 or shop.state(car).digest != before


def test_a_rule_file_nobody_has_is_refused(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert sent_form(client, f"/car/{car}/facts", {"rules": "nmra, nowhere.toml"}).status_code == 422
        assert client.get(f"/car/{car}").status_code == 200


def _unjudged(shop: Shop) -> str:
    car = with_hopper(shop)
    shop.revise(car, "car", {**shop.state(car).stated["car"], "rules": ["nowhere.toml"]})
    return car


def test_a_car_that_cannot_be_judged_is_listed_and_put_right_among_its_facts(shop: Shop) -> None:
    car = _unjudged(shop)
    with visited(shop) as client:
        for path in ("", "/why", "/verdict", "/dates", "/papers"):
            answer = client.get(f"/car/{car}{path}")
            assert answer.status_code == 409
            assert "nowhere.toml" in answer.text
        for path in ("/cars", "/add", "/settings", f"/car/{car}/facts"):
            assert client.get(path).status_code == 200
        assert sent_form(client, f"/car/{car}/facts", {"rules": "nmra, bench"}).status_code == 303
        assert client.get(f"/car/{car}").status_code == 200


def test_the_error_of_a_car_leads_to_where_it_is_put_right(shop: Shop) -> None:
    car = _unjudged(shop)
    with visited(shop) as client:
        assert f'href="/car/{car}/facts"' in client.get(f"/car/{car}").text


def test_the_sheet_of_a_car_that_cannot_be_judged_can_still_be_had(shop: Shop) -> None:
    car = _unjudged(shop)
    with visited(shop) as client:
        assert client.get(f"/car/{car}/papers/sheet.toml").status_code == 200


@pytest.mark.parametrize("was", ["car:zz", "car.geometry:" + "0" * 64])
def test_an_undo_of_what_never_was_changes_nothing(shop: Shop, was: str) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        assert sent_form(client, f"/car/{car}/facts/undo?was={was}", {}).status_code == 404
        assert sent_form(client, f"/car/{car}/facts/undo", {}).status_code == 422
    assert shop.state(car).digest == before
