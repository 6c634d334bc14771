"""Settings: who writes, instruments and kept files, each with its undo."""

from __future__ import annotations

from pathlib import Path

import pytest
from webapp import visited, with_hopper
from webpages import form_of, names_its_sentence, sent_form, undo_of

from carwright.shop import Shop
from carwright.shop.instruments import kept_instruments
from carwright.shop.shared import kept_files

_STOCK = Path("examples/stock-bench.toml").read_text("utf-8")
_RULES = Path("examples/club-sedge.toml").read_text("utf-8")
_OURS = {"name": "my calliper", "resolution": "0.01 mm", "calibration": "0.01 mm"}


def test_who_writes_stands_beside_an_entry_and_a_notice_is_shown_once(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        assert (
            sent_form(client, "/settings/you", {"who": "  E.   Quill ", "system": "zz", "scheme": "light"}).status_code
            == 303
        )
        page = client.get("/settings").text
        assert "Saved on this device." in page
        assert form_of(page, "/settings/you")["who"] == "E. Quill"
        assert 'data-scheme="light"' in page
        assert "Saved on this device." not in client.get("/settings").text
        sent_form(client, f"/car/{car}/entries", {"do": "note", "spot": "body", "note": "words"})
    assert shop.state(car).entries[-1].content()["who"] == "E. Quill"


@pytest.mark.parametrize("who", ["x" * 81, "a\x07b"])
def test_what_is_no_name_is_said_and_kept(shop: Shop, who: str) -> None:
    with visited(shop) as client:
        answer = sent_form(client, "/settings/you", {"who": who, "system": "metric"})
    assert answer.status_code == 422
    assert 'id="who-wrong-1"' in answer.text
    assert form_of(answer.text, "/settings/you")["system"] == "metric"


def test_an_instrument_is_kept_offered_and_undone(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        client.get(f"/car/{car}")
        assert sent_form(client, "/settings/instrument", _OURS).status_code == 303
        assert set(kept_instruments(shop)) == {"my calliper"}
        page = client.get("/settings").text
        assert "What my calliper can decide" in page
        back = undo_of(page)
        assert 'value="my calliper"' in client.get(f"/car/{car}?spot=truck-B&what=wheel.back_to_back").text
        sent_form(client, back, {})
        assert not kept_instruments(shop)
        sent_form(client, undo_of(client.get("/settings").text), {})
        assert set(kept_instruments(shop)) == {"my calliper"}


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("name", ""), ("resolution", ""), ("resolution", "zz"), ("calibration", "zz"), ("repeatability", "zz"),
        ("repeatability_n", "many"), ("repeatability_n", "-1"), ("repeatability_n", "2.5"),
        ("repeatability_n", "²"),
        ("repeatability_n", "9" * 5000),
        ("repeatability_n", "0"),
    ],
)  # fmt: skip
def test_a_wrong_figure_has_its_sentence_beside_it(shop: Shop, field: str, text: str) -> None:
    good = {**_OURS, "repeatability": "0.01 mm", "repeatability_n": "5"}
    with visited(shop) as client:
        answer = sent_form(client, "/settings/instrument", {**good, field: text})
    assert answer.status_code == 422
    assert f'id="i-{field}-wrong-1"' in answer.text
    assert names_its_sentence(answer.text, field)
    assert form_of(answer.text, "/settings/instrument")[field] == text
    assert not kept_instruments(shop)


@pytest.mark.parametrize("text", [_STOCK, _RULES])
@pytest.mark.parametrize(
    "name",
    [
        "plain.toml",
        "two words.toml",
        *(each for each in ("a&b.toml", "a+b.toml", "a#b.toml", "a%41.toml")),
    ],
)
def test_a_file_is_kept_opened_and_undone(shop: Shop, name: str, text: str) -> None:
    with visited(shop) as client:
        assert sent_form(client, "/settings/file", {"name": name, "text": text}).status_code == 303
        assert [each for each, _ in kept_files(shop)] == [name]
        back = undo_of(client.get("/settings").text)
        opened = client.get("/settings", params={"file": name}).text
        assert form_of(opened, "/settings/file")["text"].strip() == text.strip()
        assert sent_form(client, back, {}).status_code == 303
        assert name not in dict(kept_files(shop))
        sent_form(client, undo_of(client.get("/settings").text), {})
        assert [each for each, _ in kept_files(shop)] == [name]


@pytest.mark.parametrize(
    ("name", "text", "field"),
    [("", _STOCK, "name"), ("../x.toml", _STOCK, "name"), ("x.toml", "", "text"), ("x.toml", "[[[", "text"),
     ("x.toml", 'format = "zz"', "text"), ("x.toml", 'format = "carwright-stock/1"', "text")],
)  # fmt: skip
def test_a_file_that_cannot_be_kept_is_said_and_stays_typed(shop: Shop, name: str, text: str, field: str) -> None:
    with visited(shop) as client:
        answer = sent_form(client, "/settings/file", {"name": name, "text": text})
    assert answer.status_code == 422
    assert f'id="k-{field}-wrong-1"' in answer.text
    kept = form_of(answer.text, "/settings/file")
    assert (kept["name"], kept["text"].strip()) == (name, text.strip())
    assert not kept_files(shop)


@pytest.mark.parametrize(("path", "field", "fields"), [
    ("/settings/you", "who", {"who": "x" * 81}),
    ("/settings/file", "name", {"name": "", "text": _STOCK}),
    ("/settings/file", "text", {"name": "x.toml", "text": "[[["}),
])  # fmt: skip
def test_a_field_names_its_sentence(shop: Shop, path: str, field: str, fields: dict[str, str]) -> None:
    with visited(shop) as client:
        answer = sent_form(client, path, fields)
    assert answer.status_code == 422
    assert names_its_sentence(answer.text, field)


def test_what_was_never_kept_is_not_there(shop: Shop) -> None:
    with visited(shop) as client:
        assert client.get("/settings?file=zz").status_code == 404
        assert sent_form(client, "/settings/undo?name=zz", {}).status_code == 404
        assert sent_form(client, "/settings/undo", {}).status_code == 422


def test_only_this_computer_shows_the_code_and_lets_devices_go(shop: Shop) -> None:
    with visited(shop) as client:
        assert sent_form(client, "/settings/let-go", {}).status_code == 303
    with visited(shop, peer="192.0.2.7") as client:
        assert client.get("/settings").status_code != 200


def test_a_file_taken_back_is_not_listed(shop: Shop) -> None:
    with visited(shop) as client:
        sent_form(client, "/settings/file", {"name": "plain.toml", "text": _STOCK})
        sent_form(client, undo_of(client.get("/settings").text), {})
        assert not kept_files(shop)
        assert 'href="/settings?file=#files"' not in client.get("/settings").text
