"""The bench in depth: every form with good and bad input, correcting, undoing, and what a value would come to."""

from __future__ import annotations

import re
import uuid
from typing import Any

import html5lib
import pytest
from starlette.testclient import TestClient
from webapp import visited, with_hopper
from webpages import form_of, names_its_sentence, sent_form, undo_of

from carwright.shop import Shop

_READ = {"do": "measure", "spot": "truck-B", "what": "wheel.back_to_back", "at": "4", "value": "0.570", "unit": "in"}
_GOOD: dict[str, dict[str, str]] = {
    "measure": _READ,
    "gauge": {"what": "wheel.check_gauge", "at": "4", "result": "pass"},
    "look": {"what": "paint", "grade": "sound"},
    "repair": {"remedy": "washer", "at": "A", "amount": "0.015 in"},
    "line": {
        "of": "frame", "side": "centre", "datum": "rail", "stations": "-60 mm; 0 mm; 60 mm",
        "heights": "8 mm\n8.1 mm\n8 mm",
    },
    "trouble": {"defect": "uncoupled on the grade", "facing": "A", "neighbours": "one; two"},
    "runs": {"runs": "12"},
    "ruling": {"reason": "a show car", "route": "branch line"},
    "place": {"where": "shelf three", "how": "shelf"},
    "bought": {"paid": "24,50", "currency": "USD"},
    "note": {"note": "words"},
}  # fmt: skip


@pytest.mark.parametrize("do", _GOOD)
def test_every_form_is_saved_undone_and_brought_back(shop: Shop, do: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        known = {each.id for each in shop.state(car).entries}
        answer = sent_form(client, f"/car/{car}/entries", {"do": do, "spot": "body", **_GOOD[do]})
        assert answer.status_code == 303
        made = next(each for each in shop.state(car).entries if each.id not in known)
        back = undo_of(client.get(answer.headers["location"]).text)
        assert back == f"/car/{car}/undo/{made.id}"
        again = undo_of(client.get(sent_form(client, back, {}).headers["location"]).text)
        assert again not in {"", back}
        sent_form(client, again, {})
        page = client.get(f"/car/{car}").text
        assert undo_of(client.get(f"/car/{car}").text) == ""
        newest = shop.state(car).entries[-1]
        kept = {key: value for key, value in newest.content().items() if key not in {"id", "supersedes"}}
        was = {key: value for key, value in made.content().items() if key not in {"id", "supersedes"}}
        assert kept == was
        assert f"/car/{car}/undo/{newest.id}" in page


_BAD = [
    ("gauge", "what", "zz²"), ("gauge", "at", "77"), ("gauge", "result", "zz"),
    ("look", "what", "zz"), ("look", "grade", "zz"), ("look", "name", "\x01"), ("look", "note", "\x01"),
    ("repair", "remedy", "zz"), ("repair", "amount", "much"), ("repair", "face", "zz"), ("repair", "at", "99"),
    ("line", "of", "zz"), ("line", "side", "zz"), ("line", "datum", "zz"), ("line", "stations", "a; b; c"),
    ("line", "heights", "8 mm; q; 8 mm"), ("line", "nominal", "q; q; q"), ("line", "with", "zz"),
    ("trouble", "defect", ""), ("trouble", "facing", "zz"), ("trouble", "move", "zz"), ("trouble", "place", "\x01"),
    ("runs", "runs", "0"), ("runs", "runs", "many"), ("runs", "runs", "9" * 5000), ("runs", "finder", "\x01"),
    ("ruling", "reason", ""), ("ruling", "points", "nan"), ("ruling", "points", "-1"),
    ("place", "where", ""), ("place", "how", "zz"), ("place", "from", "zz"), ("place", "to", "zz"),
    ("bought", "paid", "much"), ("bought", "list_price", "inf"), ("bought", "return_by", "zz"),
    ("note", "note", ""), ("note", "note", "\x00"),
]  # fmt: skip


@pytest.mark.parametrize(("do", "field", "text"), _BAD)
def test_each_wrong_field_has_its_sentence_beside_it_and_nothing_is_written(
    shop: Shop, do: str, field: str, text: str
) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        good = {**_GOOD[do], "points": "1", "category": "finish"} if field == "points" else _GOOD[do]
        answer = sent_form(
            client,
            f"/car/{car}/entries",
            {"do": do, "spot": "truck-B" if do == "gauge" else "body", **good, field: text},
        )
        assert answer.status_code == 422
        assert f'id="f-{field}-wrong-1"' in answer.text
        kept = form_of(answer.text, f"/car/{car}/entries")
    assert shop.state(car).digest == before
    for name, value in good.items():
        if name not in {field, "category"}:
            assert kept[name].split() == value.split()


@pytest.mark.parametrize(("do", "field", "text"), [("look", "grade", "zz"), ("line", "datum", "zz")])
def test_a_group_of_radios_names_its_sentence(shop: Shop, do: str, field: str, text: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = sent_form(client, f"/car/{car}/entries", {"do": do, "spot": "body", **_GOOD[do], field: text})
        page = html5lib.parse(answer.text, namespaceHTMLElements=False)
    group = next(each for each in page.iter("fieldset") if any(one.get("name") == field for one in each.iter("input")))
    named = [group, *group.iter("input")]
    assert any(str(each.get("aria-describedby", "")).startswith(f"f-{field}-wrong") for each in named)


@pytest.mark.parametrize("field", ["what", "result", "with"])
def test_a_field_of_a_gauge_names_its_sentence(shop: Shop, field: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        fields = {"do": "gauge", "spot": "body", **_GOOD["gauge"], field: "\x01"}
        assert names_its_sentence(sent_form(client, f"/car/{car}/entries", fields).text, field)


@pytest.mark.parametrize("field", ["value", "with"])
def test_a_field_of_the_pad_names_its_sentence(shop: Shop, field: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert names_its_sentence(sent_form(client, f"/car/{car}/entries", {**_READ, field: "zz²"}).text, field)


@pytest.mark.parametrize(("field", "text"), [("state", "zz"), ("name", "zz"), ("turn", "zz"), ("note", "\x01")])
def test_whatever_is_wrong_with_a_reading_is_said(shop: Shop, field: str, text: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = sent_form(client, f"/car/{car}/entries", {**_READ, field: text})
    assert answer.status_code == 422
    assert 'class="wrong"' in answer.text or "see what is marked below" not in answer.text


@pytest.mark.parametrize("field", ["heights", "nominal"])
def test_a_count_of_heights_that_does_not_fit_is_said_beside_them(shop: Shop, field: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        fields = {"do": "line", "spot": "body", **_GOOD["line"], field: "8 mm; 8 mm"}
        answer = sent_form(client, f"/car/{car}/entries", fields)
    assert answer.status_code == 422
    assert f'id="f-{field}-wrong-1"' in answer.text


def test_a_picture_is_asked_for_and_what_it_shows_is_kept(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = sent_form(client, f"/car/{car}/photos", {"do": "photo", "spot": "body", "shows": "a step"})
        assert answer.status_code == 422
        assert names_its_sentence(answer.text, "file")
        assert form_of(answer.text, f"/car/{car}/photos")["shows"] == "a step"


def _corrected(shop: Shop, car: str, entry: str, spot: str = "body") -> dict[str, Any]:
    """An entry after it was opened to be corrected and saved as it stood."""
    kind = shop.state(car).entries[[each.id for each in shop.state(car).entries].index(entry)].content()["kind"]
    do = {"reading": "measure", "work": "repair", "exposure": "runs"}.get(kind, kind)
    with visited(shop) as client:
        fields = form_of(client.get(f"/car/{car}?spot={spot}&do={do}&entry={entry}").text, f"/car/{car}/entries")
        assert fields["supersedes"] == entry
        answer = client.post(f"/car/{car}/entries", data=fields)
        assert answer.status_code == 303
        made = next(each for each in shop.state(car).entries if each.content().get("supersedes") == entry)
        assert made.id in undo_of(client.get(answer.headers["location"]).text)
    return {key: value for key, value in made.content().items() if key not in {"id", "supersedes", "when", "who"}}


@pytest.mark.parametrize(
    "body",
    [
        {
            "kind": "reading",
            "what": "wheel.back_to_back",
            "at": "4",
            "values": ["0.570 in", "0.571 in"],
            "with": "digital calliper",
        },
        {
            "kind": "reading",
            "what": "wheel.back_to_back",
            "at": "4",
            "values": ["0.570 in"],
            "turn": "90 deg",
            "with": "digital calliper",
        },
        {"kind": "reading", "what": "wheel.back_to_back", "at": "4", "values": ["0.570 in"]},
        {"kind": "look", "what": "part", "at": "A", "name": "stirrup step", "grade": "marked", "note": "bent"},
        {"kind": "work", "remedy": "washer", "at": "A", "amount": "0.015 in"},
        {"kind": "exposure", "runs": 7, "place": "the loop", "neighbours": ["one", "two"]},
        {
            "kind": "reading",
            "what": "wheel.back_to_back",
            "at": "4",
            "values": ["0.570 in"],
            "note": "by lamp",
            "with": "digital calliper",
        },
        {"kind": "look", "what": "paint", "grade": "slight", "offset_s": 12.5},
        {"kind": "gauge", "what": "wheel.check_gauge", "at": "4", "result": "pass", "turn": "90 deg"},
    ],
)
def test_an_entry_saved_again_unchanged_says_the_same(shop: Shop, body: dict[str, Any]) -> None:
    car = with_hopper(shop)
    made = shop.append(car, [body])[0]
    assert _corrected(shop, car, made, "truck-B" if str(body.get("what", "")).startswith("wheel") else "body") == body


def test_correcting_a_reading_of_the_whole_car_leaves_it_of_the_whole_car(shop: Shop) -> None:
    car = with_hopper(shop)
    body = {"kind": "reading", "what": "roll.start", "values": ["2 %"]}
    assert "at" not in _corrected(shop, car, shop.append(car, [body])[0])


def test_the_whole_car_can_be_chosen_again(shop: Shop) -> None:
    car = with_hopper(shop)
    shop.append(car, [{"kind": "reading", "what": "roll.start", "values": ["2 %"]}])
    with visited(shop) as client:
        text = client.get(f"/car/{car}?spot=body&what=roll.start").text
        href = re.findall(r'href="([^"]*)"[^>]*>(?:<span[^>]*>[^<]*</span> )?whole car', text)[0]
        assert form_of(client.get(href.replace("&amp;", "&")).text, "/entries")["at"] == ""


def test_a_refused_reading_keeps_its_place(shop: Shop) -> None:
    car = with_hopper(shop)
    shop.append(car, [{"kind": "reading", "what": "roll.start", "values": ["2 %"]}])
    fields = {"do": "measure", "spot": "body", "what": "roll.start", "at": "", "value": "zz", "unit": "%"}
    with visited(shop) as client:
        assert form_of(sent_form(client, f"/car/{car}/entries", fields).text, "/entries")["at"] == ""


@pytest.mark.parametrize("at", ["²", "1X"])
def test_a_look_at_an_odd_place_does_not_close_the_bench(shop: Shop, at: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        sent_form(
            client, f"/car/{car}/entries", {"do": "look", "spot": "body", "what": "paint", "at": at, "grade": "sound"}
        )
        assert client.get(f"/car/{car}").status_code == 200


def _would(client: TestClient, car: str, **asked: str) -> str:
    answer = client.get(f"/car/{car}/would", params=asked)
    assert "<html" not in answer.text
    return answer.text


def test_twelve_readings_say_what_they_would_come_to(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        told = _would(client, car, what="wheel.back_to_back", at="4", value="; ".join(["0.5705"] * 12), unit="in")
    assert "conforms" in told or "undecided" in told


def test_a_dimension_says_what_it_would_come_to(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        told = _would(client, car, what="dimension", name="body.length", value="136", unit="mm")
    assert 'class="wrong"' not in told


def test_an_instrument_kept_for_all_cars_can_be_previewed(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        sent_form(client, "/settings/instrument", {"name": "my calliper", "resolution": "0.01 mm"})
        asked = {"what": "wheel.back_to_back", "at": "4", "value": "0.570", "unit": "in", "with": "my calliper"}
        assert 'class="wrong"' not in _would(client, car, **asked)


def test_a_refused_reading_with_a_kept_instrument_writes_nothing(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        sent_form(client, "/settings/instrument", {"name": "my calliper", "resolution": "0.01 mm"})
        before = shop.state(car).digest
        fields = {**_READ, "value": "zz", "with": "my calliper"}
        assert sent_form(client, f"/car/{car}/entries", fields).status_code == 422
    assert shop.state(car).digest == before


@pytest.mark.parametrize("asked", ["value=", "value=%20", "what=zz&value=1", "value=-1&unit=zz", "at=%C2%B2&value=1"])
def test_an_odd_preview_is_a_part_of_a_page(shop: Shop, asked: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.get(f"/car/{car}/would?{asked}")
    assert answer.status_code == 200
    assert "<html" not in answer.text


@pytest.mark.parametrize(
    "asked",
    ["spot=zz", "do=zz", "what=zz", "at=%C2%B2", "entry=zz", "spot=body&spot=truck-A", "do=&spot=&what=&at=", "zz[]=1"],
)
def test_odd_wishes_open_the_bench(shop: Shop, asked: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert client.get(f"/car/{car}?{asked}").status_code == 200


def test_unknown_cars_and_entries_are_not_there(shop: Shop) -> None:
    car, other = with_hopper(shop), str(uuid.uuid4())
    with visited(shop) as client:
        for path in ("", "/why", "/verdict", "/dates", "/papers", "/facts", "/papers/sheet.toml", "/photos/a.jpg"):
            assert client.get(f"/car/{other}{path}").status_code == 404
            assert client.get(f"/car/zz{path}").status_code == 404
        assert sent_form(client, f"/car/{other}/entries", _READ).status_code == 404
        assert sent_form(client, f"/car/{car}/undo/{other}", {}).status_code in {400, 404, 409}


def test_a_device_shows_its_own_units(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        path = f"/car/{car}?spot=truck-B&what=wheel.back_to_back&at=4"
        assert form_of(client.get(path).text, "/entries")["unit"] == "in"
        sent_form(client, "/settings/you", {"who": "E. Quill", "system": "metric", "scheme": "dark"})
        page = client.get(path).text
        assert form_of(page, "/entries")["unit"] == "mm"
        assert '<html lang="en" data-scheme="dark">' in page
        sent_form(client, f"/car/{car}/entries", {**_READ, "value": "14.48", "unit": "mm"})
        assert shop.state(car).entries[-1].content()["values"] == ["14.48 mm"]
    with visited(shop) as another:
        assert form_of(another.get(path).text, "/entries")["unit"] == "in"


@pytest.mark.parametrize(
    ("what", "spot"),
    [
        ("wheel.back_to_back", "truck-A"),
        ("weight.total", "body"),
        ("roll.coast", "body"),
    ],
)
def test_what_is_measured_has_a_unit_to_choose(shop: Shop, what: str, spot: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert form_of(client.get(f"/car/{car}?spot={spot}&what={what}").text, "/entries").get("unit", "")
