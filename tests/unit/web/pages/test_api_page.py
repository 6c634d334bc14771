"""The interface for programs: cars, entries, what was typed offline, and one form of every error."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from starlette.testclient import TestClient
from webapp import token, visited, with_hopper

from carwright.publish.document import as_json_text
from carwright.shop import Shop
from carwright.shop.judging import opened

_READING = {"kind": "reading", "what": "wheel.back_to_back", "at": "4", "values": ["0.570 in"]}


def _send(client: TestClient, path: str, body: object) -> Any:  # noqa: ANN401 - an answer
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    headers = {"x-carwright-token": token(client), "content-type": "application/json"}
    return client.post(path, content=content, headers=headers)


def _is_error(answer: Any, status: int) -> None:  # noqa: ANN401 - an answer
    assert answer.status_code == status
    document = answer.json()
    assert set(document) == {"error"}
    assert set(document["error"]) == {"status", "sentence", "faults"}
    assert document["error"]["status"] == status
    assert document["error"]["sentence"]
    assert all(set(each) == {"place", "sentence"} for each in document["error"]["faults"])


def test_the_inspection_is_the_document_of_the_program(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.get(f"/api/cars/{car}")
        listed = client.get("/api/cars").json()["cars"]
    with opened(shop.bench(car), shop.tables) as sheet:
        import carwright as cw  # noqa: PLC0415 - for this alone

        assert answer.text == as_json_text(cw.inspect(sheet.history, shop.tables))
    assert [each["id"] for each in listed] == [car]


def test_an_entry_with_an_id_is_put_in_once(shop: Shop) -> None:
    car, entry = with_hopper(shop), str(uuid.uuid4())
    with visited(shop) as client:
        path, body = f"/api/cars/{car}/entries", [{**_READING, "id": entry}]
        assert _send(client, path, body).status_code == 201
        digest = shop.state(car).digest
        assert _send(client, path, body).json() == {"ids": [entry]}
        assert shop.state(car).digest == digest
        _is_error(_send(client, path, [{**body[0], "values": ["0.571 in"]}]), 409)
    assert shop.state(car).digest == digest


@pytest.mark.parametrize(
    "body",
    [
        b"", b"not", b"{}", b"[]", b"[1]", b"[{}]", b'[{"kind":5}]', b'[{"kind":"note","note":"a\\u0000"}]',
        b'[{"kind":"note","note":"\\ud800"}]', b'[{"kind":"ruling","reason":"x","category":"a","points":NaN}]',
        b'[{"kind":"note","note":"x","id":"zz"}]', b'[{"kind":"note","note":"x","zz":1}]',
        b'[{"kind":"note","note":"good"},{"kind":"note"}]',
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_whole_with_places(shop: Shop, body: bytes) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        answer = _send(client, f"/api/cars/{car}/entries", body)
    _is_error(answer, 422)
    assert answer.json()["error"]["faults"]
    assert shop.state(car).digest == before


def test_every_error_below_api_has_one_form(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        _is_error(client.get("/api/zz"), 404)
        _is_error(client.get(f"/api/cars/{uuid.uuid4()}"), 404)
        _is_error(_send(client, f"/api/cars/{uuid.uuid4()}/entries", [_READING]), 404)
        _is_error(client.delete("/api/cars"), 405)
        _is_error(client.get("/api/cars?most=0"), 422)
        _is_error(client.get("/api/cars?status=zz"), 422)
        _is_error(client.post(f"/api/cars/{car}/entries", json=[_READING]), 403)
        _is_error(_send(client, f"/api/cars/{car}/entries", b"[" * 100_000), 400)


def test_the_root_of_the_interface_has_the_same_form(shop: Shop) -> None:
    with visited(shop) as client:
        answer = client.get("/api")
        assert answer.headers["content-type"].startswith("application/json")
        _is_error(answer, 404)


def _typed(**other: object) -> dict[str, object]:
    typed = {"what": "wheel.back_to_back", "at": "4", "value": "0.570", "unit": "in", "with": "digital calliper"}
    made: dict[str, object] = {"id": str(uuid.uuid4()), "when": "2026-04-01T10:00:00+02:00", "doing": "measure"}
    return {**made, "typed": typed, **other}


def test_what_was_typed_offline_is_put_in_once(shop: Shop) -> None:
    car, entry = with_hopper(shop), _typed()
    with visited(shop) as client:
        path = f"/api/cars/{car}/typed"
        assert _send(client, path, entry).json() == {"ids": [entry["id"]]}
        digest = shop.state(car).digest
        assert _send(client, path, entry).status_code == 201
        assert shop.state(car).digest == digest
        other = {"what": "wheel.back_to_back", "at": "4", "value": "0.571", "unit": "in"}
        _is_error(_send(client, path, {**entry, "typed": other}), 409)
        _is_error(_send(client, f"/api/cars/{uuid.uuid4()}/typed", entry), 404)
    body = next(each.content() for each in shop.state(car).entries if each.id == entry["id"])
    assert (body["values"], body["when"]) == (["0.570 in"], "2026-04-01T10:00:00+02:00")


@pytest.mark.parametrize(
    "other",
    [{"when": "zz"}, {"id": "zz"}, {"more": 1}, {"doing": "photo", "typed": {"shows": "x"}}, {"typed": {"value": "zz"}},
     {"typed": {}}, {"doing": "note", "typed": {}}, {"typed": {"note": 5}},
     {"doing": "zz", "typed": {"note": "x"}}],
)  # fmt: skip
def test_what_was_typed_wrong_offline_is_refused(shop: Shop, other: dict[str, object]) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        _is_error(_send(client, f"/api/cars/{car}/typed", _typed(**other)), 422)
    assert shop.state(car).digest == before


def test_refused_entries_leave_nothing_behind(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        fields = {"token": token(client), "name": "my calliper", "resolution": "0.01 mm"}
        client.post("/settings/instrument", data=fields)
        before = shop.state(car).digest
        bad = [{**_READING, "values": ["zz"], "with": "my calliper"}]
        _is_error(_send(client, f"/api/cars/{car}/entries", bad), 422)
    assert shop.state(car).digest == before
