"""Pairing on the house network: the code, guesses at it, and letting devices go."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from starlette.testclient import TestClient
from starlette.types import Message
from webapp import KEYS, token, visited, with_hopper

from carwright.shop import Shop
from carwright.web.app import make_app
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.guard.pairing import new_code, plain_code

CODE = "AB23CD45EF"
HERE, THERE = "127.0.0.1", "192.0.2.9"


def _door() -> Door:
    return Door(KEYS, addresses=("192.0.2.7", "den.local"), code=CODE)


@contextmanager
def _phone(shop: Shop, door: Door | None = None) -> Iterator[TestClient]:
    app = make_app(Desk(shop), door or _door())
    made = TestClient(app, base_url="http://192.0.2.7:8300", client=(THERE, 50000), follow_redirects=False)
    with made as client:
        yield client


def _form_token(client: TestClient, query: str = "") -> str:
    found = re.search(r'name="token" value="([0-9a-f]{40})"', client.get(f"/pair{query}").text)
    assert found is not None
    return found[1]


def _given(client: TestClient, code: str) -> int:
    return client.post("/pair", data={"token": _form_token(client), "code": code}).status_code


@pytest.mark.parametrize("code", [CODE, CODE.lower(), f" {CODE[:5]}-{CODE[5:]}\n", " ".join(CODE), f"{CODE}\t"])
def test_the_code_pairs_however_it_is_spaced(shop: Shop, code: str) -> None:
    with _phone(shop) as client:
        assert client.get("/api/cars").status_code == 401
        assert _given(client, code) == 303
        assert client.get("/api/cars").status_code == 200


@pytest.mark.parametrize(
    "code",
    [
        "", CODE[:-1], f"{CODE}A", CODE[::-1], "é" * 10, "".join(chr(ord(sign) + 0xFEE0) for sign in CODE),
        "\N{ARABIC-INDIC DIGIT ONE}" * 10, f"{CODE}\N{LATIN SMALL LETTER SHARP S}", "x" * 100_000, "--------", "\x00",
    ],
)  # fmt: skip
def test_another_code_does_not_pair(shop: Shop, code: str) -> None:
    with _phone(shop) as client:
        assert _given(client, code) == 422
        assert client.get("/api/cars").status_code == 401


def test_a_form_without_its_code_does_not_pair(shop: Shop) -> None:
    with _phone(shop) as client:
        own = _form_token(client)
        assert client.post("/pair", data={"token": own}).status_code == 422
        assert client.post("/pair", data={"token": own, "code": ["", ""]}).status_code == 422
        assert client.get("/api/cars").status_code == 401


def test_looking_at_the_linked_page_does_not_pair(shop: Shop) -> None:
    with _phone(shop) as client:
        page = client.get(f"/pair?code={CODE}")
        assert f'value="{CODE}"' in page.text
        assert client.get("/api/cars").status_code == 401


def test_a_code_in_the_address_is_no_markup(shop: Shop) -> None:
    with _phone(shop) as client:
        page = client.get("/pair", params={"code": '"><script>x</script>{{7*7}}'}).text
    assert "<script>x" not in page
    assert "&#34;&gt;&lt;script&gt;x&lt;/script&gt;{{7*7}}" in page


def test_a_pairing_page_of_another_session_does_not_pair(shop: Shop) -> None:
    with _phone(shop) as client:
        other = _form_token(client)
        client.cookies.clear()
        _form_token(client)
        assert client.post("/pair", data={"token": other, "code": CODE}).status_code == 403
        assert client.get("/api/cars").status_code == 401


def test_after_a_few_guesses_even_the_right_code_must_wait(shop: Shop) -> None:
    with _phone(shop) as client:
        own = _form_token(client)
        told = [client.post("/pair", data={"token": own, "code": f"WRONG{number}"}) for number in range(5)]
        assert [each.status_code for each in told] == [422] * 5
        refused = client.post("/pair", data={"token": own, "code": CODE})
        assert refused.status_code == 429
        assert 1 <= int(refused.headers["retry-after"]) <= 6
        assert client.get("/api/cars").status_code == 401
        client.cookies.clear()
        assert client.post("/pair", data={"code": CODE}).status_code == 429
        assert client.get("/pair").status_code == 200


@pytest.mark.parametrize("path", ["/pair/", "/pair?x=1", "//pair", "/%70air"])
def test_no_spelling_of_the_path_gives_more_guesses(shop: Shop, path: str) -> None:
    with _phone(shop) as client:
        own = _form_token(client)
        told = [client.post(path, data={"token": own, "code": f"WRONG{number}"}).status_code for number in range(8)]
    assert told.count(422) <= 5
    assert 200 not in told


@pytest.mark.parametrize("query", ["?next=//evil.example", "?to=https://evil.example", "?code=//evil.example"])
def test_pairing_leads_home_wherever_it_was_asked_to_lead(shop: Shop, query: str) -> None:
    with _phone(shop) as client:
        own = _form_token(client, query)
        answer = client.post(
            f"/pair{query}", data={"token": own, "code": CODE, "next": "//evil.example", "to": "//evil.example"}
        )
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"


@pytest.mark.parametrize("path", ["//evil.example", "//evil.example/cars/", "/\\evil.example", "/cars/", "//cars/"])
def test_no_redirect_leaves_the_app(shop: Shop, path: str) -> None:
    with visited(shop) as client:
        answer = client.get(path)
    where = answer.headers.get("location", "/")
    assert where.startswith("http://127.0.0.1:8300/") or re.match(r"/(?![/\\])|/$", where)


def test_the_code_is_shown_on_this_machine_alone(shop: Shop) -> None:
    with _phone(shop) as client:
        assert _given(client, CODE) == 303
        page = client.get("/settings")
        assert page.status_code == 200
        assert CODE not in page.text
    assert "shop.db" in page.text


def test_this_machine_shows_the_code(shop: Shop) -> None:
    with visited(shop, door=_door()) as client:
        assert CODE in client.get("/settings").text


def test_a_paired_device_cannot_let_the_others_go(shop: Shop) -> None:
    door = _door()
    with _phone(shop, door) as client:
        assert _given(client, CODE) == 303
        assert client.post("/settings/let-go", data={"token": token(client)}).status_code == 403
        assert client.get("/api/cars").status_code == 200
    assert (door.code, door.keys) == (CODE, KEYS)


def test_devices_that_are_let_go_stay_out_and_the_code_is_another(shop: Shop) -> None:
    door = _door()
    with _phone(shop, door) as phone:
        assert _given(phone, CODE) == 303
        here = TestClient(phone.app, base_url=door.url(), client=(HERE, 50001), follow_redirects=False)
        assert here.post("/settings/let-go", data={"token": token(here)}).status_code == 303
        assert phone.get("/api/cars").status_code == 401
        assert door.code != CODE
        assert _given(phone, CODE) == 422
        assert phone.get("/api/cars").status_code == 401
        assert here.get("/api/cars").status_code == 200
        assert _given(phone, door.code) == 303
        assert phone.get("/api/cars").status_code == 200


def test_a_device_that_is_let_go_hears_of_no_change_any_more(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("carwright.web.pages.api.route._EVERY", 0.005)
    car, door = with_hopper(shop), _door()
    with _phone(shop, door) as client:
        assert _given(client, CODE) == 303
        cookie = client.cookies["carwright-8300"]
        heard = asyncio.run(_heard(client, cookie, door, shop, car))
    assert b"event: changed" not in heard


async def _heard(client: TestClient, cookie: str, door: Door, shop: Shop, car: str) -> bytes:
    """What a stream says after its device is let go, until it ends or tells of a change."""
    heard: list[bytes] = []
    began, told = asyncio.Event(), asyncio.Event()

    async def receive() -> Message:
        await asyncio.Event().wait()
        return {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        if message.get("body"):
            if began.is_set():
                heard.append(message["body"])
                told.set()
            began.set()

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": "/api/changes", "raw_path": b"/api/changes", "query_string": b"", "root_path": "",
        "headers": [(b"host", b"192.0.2.7:8300"), (b"cookie", f"carwright-8300={cookie}".encode())],
        "client": (THERE, 50000), "server": ("192.0.2.7", 8300),
    }  # fmt: skip
    stream = asyncio.ensure_future(client.app(scope, receive, send))
    ends = asyncio.ensure_future(told.wait())
    try:
        await asyncio.wait_for(began.wait(), 1.5)
        door.let_all_go()
        shop.append(car, [{"kind": "note", "when": "2026-01-01", "note": "words"}])
        await asyncio.wait({stream, ends}, timeout=1.0, return_when=asyncio.FIRST_COMPLETED)
    finally:
        stream.cancel()
        ends.cancel()
        await asyncio.gather(stream, ends, return_exceptions=True)
    return b"".join(heard)


def test_codes_are_long_and_each_is_another() -> None:
    made = {new_code() for _ in range(200)}
    assert len(made) == 200
    for each in made:
        assert re.fullmatch(r"[2-9A-HJKMNP-TV-Z]{10}", each)
        assert plain_code(f" {each.lower()[:4]} - {each.lower()[4:]}") == each


def test_a_door_that_is_shut_has_no_link_and_lets_no_other_device_in(shop: Shop) -> None:
    shut = Door(KEYS)
    assert shut.link() == ""
    assert not shut.is_open
    with visited(shop, peer=THERE, door=shut) as client:
        assert client.get("/api/cars").status_code == 401
        assert client.get("/pair", headers={"host": "192.0.2.7:8300"}).status_code == 421


def test_an_address_of_the_door_is_written_as_browsers_read_it() -> None:
    assert Door(KEYS, port=81).url("fd00::1") == "http://[fd00::1]:81"
    assert Door(KEYS, secure=True).url("den.local") == "https://den.local:8300"
    assert _door().link() == f"http://192.0.2.7:8300/pair?code={CODE}"
