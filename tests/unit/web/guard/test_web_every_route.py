"""Every route there is, also one added tomorrow: closed to strange devices, strange pages and forms without a token."""

from __future__ import annotations

import re
import uuid

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute, Mount, Route
from starlette.testclient import TestClient
from webapp import KEYS, token, visited, with_hopper

from carwright.shop import Shop
from carwright.web.app import make_app
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.guard.hosts import SAFE
from carwright.web.pages import routers

OPEN = {
    "/pair",
    "/worker.js",
    "/manifest.webmanifest",
    "/favicon.ico",
    "/static/theme.css",
    "/static/blocks.css",
}
"""Paths meant to be open to a device that is not paired."""


def _all() -> list[tuple[str, str]]:
    """Methods and paths of every route of the pages and of the app itself."""
    found: list[BaseRoute] = [route for router in routers() for route in router.routes]
    pairs = []
    for route in found:
        assert isinstance(route, APIRoute), "a route of another sort needs a check of its own here"
        pairs += [(method, route.path) for method in sorted(route.methods or ())]
    return pairs


def _path(path: str) -> str:
    return re.sub(r"\{[^}]+\}", lambda _: str(uuid.uuid4()), path)


UNSAFE = [(method, path) for method, path in _all() if method not in SAFE]
READING = [(method, path) for method, path in _all() if method in SAFE]


def test_nothing_is_mounted_beside_the_pages_but_our_own_files(shop: Shop) -> None:
    app: FastAPI = make_app(Desk(shop), Door(KEYS))
    own = [each for each in app.routes if isinstance(each, (Route, Mount))]
    assert {each.path for each in own} - {path for _, path in _all()} == {
        *(OPEN - {"/pair"}),
        "/static/fonts",
        "/static",
        "/api/openapi.json",
    }
    for each in own:
        if isinstance(each, Route):
            assert set(each.methods or ()) <= SAFE


def test_there_are_routes_to_check() -> None:
    assert len(UNSAFE) >= 10
    assert ("POST", "/car/{car}/entries") in UNSAFE
    assert ("POST", "/car/{car}/undo/{entry}") in UNSAFE


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1:8300"},
        {"origin": "http://127.0.0.1:8300.evil.example"},
        {"origin": "http://localhost:8300"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://127.0.0.1:8300", "sec-fetch-site": "cross-site"},
    ],
)
def test_no_route_takes_what_a_page_of_another_origin_sends(shop: Shop, headers: dict[str, str]) -> None:
    with visited(shop) as client:
        own = {"x-carwright-token": token(client)}
        for method, path in UNSAFE:
            answer = client.request(method, _path(path), headers={**own, **headers})
            assert (path, answer.status_code) == (path, 403)
            assert "page of another address" in answer.text


@pytest.mark.parametrize("given", ["", "0" * 40, "é", "other"])
def test_no_route_takes_a_request_without_the_token_of_its_session(shop: Shop, given: str) -> None:
    with visited(shop) as client:
        token(client)
        sent = KEYS.token("another session") if given == "other" else given
        for method, path in UNSAFE:
            by_field = client.request(method, _path(path), data={"token": sent})
            by_head = client.request(
                method, _path(path), headers={b"x-carwright-token": sent.encode("latin-1")}, json=[]
            )
            assert (path, by_field.status_code, by_head.status_code) == (path, 403, 403)


def test_no_route_takes_a_token_from_its_address(shop: Shop) -> None:
    with visited(shop) as client:
        own = token(client)
        for method, path in UNSAFE:
            answer = client.request(method, f"{_path(path)}?token={own}&x-carwright-token={own}")
            assert (path, answer.status_code) == (path, 403)


def test_no_route_takes_a_token_without_its_session(shop: Shop) -> None:
    with visited(shop) as client:
        own = token(client)
        client.cookies.clear()
        for method, path in UNSAFE:
            answer = client.request(method, _path(path), headers={"x-carwright-token": own})
            assert (path, answer.status_code) == (path, 403)


def _strange(shop: Shop, peer: str, host: str) -> TestClient:
    door = Door(KEYS, addresses=("192.0.2.7",))
    return TestClient(
        make_app(Desk(shop), door), base_url=f"http://{host}:8300", client=(peer, 50000), follow_redirects=False
    )


@pytest.mark.parametrize(
    ("peer", "host"),
    [("192.0.2.9", "192.0.2.7"), ("192.0.2.9", "127.0.0.1"), ("127.0.0.1", "192.0.2.7"), ("192.0.2.9", "localhost")],
)
def test_a_device_that_is_not_paired_reaches_the_pairing_page_and_nothing_else(
    shop: Shop, peer: str, host: str
) -> None:
    car = with_hopper(shop)
    beside = [("GET", "/api/openapi.json"), ("HEAD", "/api/openapi.json"), ("GET", "/docs")]
    with _strange(shop, peer, host) as client:
        for method, path in [*READING, *UNSAFE, *beside]:
            if path in OPEN:
                continue
            answer = client.request(method, path.replace("{car}", car))
            if path.startswith("/api/") or method != "GET":
                assert (path, answer.status_code) == (path, 401)
            else:
                assert (path, answer.status_code, answer.headers["location"]) == (path, 303, "/pair")
            assert car not in answer.text


@pytest.mark.parametrize("path", ["/pair", *sorted(OPEN - {"/pair"}), "/static/app.css"])
def test_what_the_pairing_page_needs_is_open(shop: Shop, path: str) -> None:
    assert _strange(shop, "192.0.2.9", "192.0.2.7").get(path).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/pair/", "/pairs", "/Pair", "//pair", "/pair/../cars", "/static/../cars", "/static/%2e%2e/cars", "/static",
        "/static/..%2fcars", "/static/%2e%2e%2f%2e%2e%2fapp.py", "/static//cars", "/worker.js/../cars", "/worker.js/",
        "/favicon.ico%00", "/pair%2f..%2fcars", "/pair;/cars", "/static/",
    ],
)  # fmt: skip
def test_no_spelling_of_an_open_path_leads_to_a_closed_page(shop: Shop, path: str) -> None:
    car = with_hopper(shop)
    answer = _strange(shop, "192.0.2.9", "192.0.2.7").get(path)
    assert answer.status_code in {303, 404}
    assert car not in answer.text
    assert "Tansy River" not in answer.text


def test_nothing_is_answered_on_a_socket_of_another_protocol(shop: Shop) -> None:
    from starlette.websockets import WebSocketDisconnect  # noqa: PLC0415 - for this alone

    with visited(shop) as client:
        for path in ("/api/changes", "/cars", "/static/app.css"):
            with pytest.raises((WebSocketDisconnect, AssertionError)), client.websocket_connect(path):
                pass
