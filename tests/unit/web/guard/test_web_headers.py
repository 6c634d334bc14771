"""What every answer tells the browser to refuse, of every kind of answer there is."""

from __future__ import annotations

import re

import pytest
from starlette.responses import Response
from starlette.testclient import TestClient
from webapp import KEYS, visited, with_hopper

from carwright.shop import Shop
from carwright.web.app import make_app
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.guard.headers import FIXED, PAPER_POLICY, POLICY, Headers


def _is_guarded(answer: Response | object, policy: str = POLICY) -> None:
    headers = getattr(answer, "headers", {})
    assert headers["content-security-policy"] == policy
    for name, value in FIXED.items():
        assert headers[name] == value
    assert "public" not in headers["cache-control"]
    assert "server" not in headers
    assert "x-powered-by" not in headers
    assert "access-control-allow-origin" not in headers


KINDS = [
    ("GET", "/car/{car}", 200), ("GET", "/", 303), ("GET", "/cars", 200), ("GET", "/cars/", 307), ("GET", "/add", 200),
    ("GET", "/settings", 200), ("GET", "/quick", 200), ("GET", "/pair", 200), ("GET", "/nowhere", 404),
    ("GET", "/api/nowhere", 404), ("GET", "/car/not-a-car", 404), ("GET", "/api/cars", 200), ("GET", "/api/token", 200),
    ("GET", "/api/openapi.json", 200), ("GET", "/cars?first=x", 422), ("GET", "/api/cars?most=0", 422),
    ("DELETE", "/cars", 405), ("HEAD", "/cars", 405), ("OPTIONS", "/cars", 405), ("TRACE", "/cars", 405),
    ("POST", "/settings/you", 403), ("POST", "/api/cars/{car}/entries", 403), ("GET", "/static/app.css", 200),
    ("GET", "/static/nothing.css", 404), ("GET", "/static/theme.css", 200), ("GET", "/static/blocks.css", 200),
    ("POST", "/static/app.css", 405), ("GET", "/worker.js", 200), ("GET", "/manifest.webmanifest", 200),
    ("GET", "/favicon.ico", 200), ("GET", "/static/%00", 404), ("GET", "/car/{car}/papers/nothing.pdf", 404),
]  # fmt: skip


@pytest.mark.parametrize(("method", "path", "status"), KINDS)
def test_every_kind_of_answer_is_guarded(shop: Shop, method: str, path: str, status: int) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.request(method, path.replace("{car}", car))
    assert answer.status_code == status
    _is_guarded(answer)
    assert "private" in answer.headers["cache-control"]


def test_answers_of_the_layers_are_guarded(shop: Shop) -> None:
    with visited(shop, door=Door(KEYS, addresses=("192.0.2.7",))) as client:
        at_home = {"host": "192.0.2.7:8300"}
        for answer, status in (
            (client.get("/cars", headers={"host": "evil.example"}), 421),
            (client.post("/cars", headers={"origin": "http://evil.example"}), 403),
            (client.post("/cars", headers={"content-length": "9" * 20}), 413),
            (client.get("/cars", headers=at_home), 303),
            (client.get("/api/cars", headers=at_home), 401),
        ):
            assert answer.status_code == status
            _is_guarded(answer)


def test_an_answer_to_who_asks_too_often_is_guarded(shop: Shop) -> None:
    with visited(shop) as client:
        for _ in range(6):
            answer = client.post("/pair")
    assert answer.status_code == 429
    _is_guarded(answer)


@pytest.mark.parametrize("name", ["sheet.toml", "chapters.vtt"])
@pytest.mark.parametrize("look", ["", "?look=1"])
def test_papers_run_nothing(shop: Shop, name: str, look: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.get(f"/car/{car}/papers/{name}{look}")
    assert answer.status_code == 200
    _is_guarded(answer, PAPER_POLICY)
    assert answer.headers.get("content-disposition", "").startswith("" if look else "attachment")
    assert ("content-disposition" in answer.headers) is not look.startswith("?")


def _directives(policy: str) -> dict[str, list[str]]:
    return {name: words for name, *words in (each.split() for each in policy.split(";") if each.strip())}


def test_the_policy_of_our_pages_has_no_unsafe_word() -> None:
    found = _directives(POLICY)
    assert found["default-src"] == ["'none'"]
    assert found["script-src"] == found["style-src"] == found["connect-src"] == found["form-action"] == ["'self'"]
    assert found["base-uri"] == ["'none'"]
    assert found["frame-ancestors"] == ["'self'"]
    words = [word for each in found.values() for word in each]
    assert not any("unsafe" in word or "*" in word or "http" in word for word in words)


def test_a_published_paper_runs_no_script_and_asks_for_nothing() -> None:
    found = _directives(PAPER_POLICY)
    assert found["default-src"] == ["'none'"]
    assert found["sandbox"] == []
    assert not {"script-src", "connect-src", "form-action", "object-src", "frame-src"} & set(found)
    assert {name for name, words in found.items() if "'unsafe-inline'" in words} == {"style-src"}


@pytest.mark.parametrize(
    "path", ["/car/{car}", "/cars", "/add", "/settings", "/quick", "/pair", "/nowhere", "/car/{car}/facts"]
)
def test_our_pages_hold_nothing_their_policy_refuses(shop: Shop, path: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        page = client.get(path.replace("{car}", car)).text
    assert not re.search(r"<script(?![^>]*\ssrc=)", page)
    assert not re.search(r"<style\b", page)
    assert not re.search(r"<[a-z][^>]*\sstyle=", page)
    assert not re.search(r"<[a-z][^>]*\son[a-z]+=", page)
    assert not re.search(r"(?:src|action)=\"(?:https?:)?//", page)
    assert "javascript:" not in page


def test_headers_an_answer_brings_itself_are_kept() -> None:
    inside = Response("x", headers={"content-security-policy": "sandbox", "cache-control": "no-store"})
    answer = TestClient(Headers(inside)).get("/")
    assert answer.headers.get_list("content-security-policy") == ["sandbox"]
    assert answer.headers.get_list("cache-control") == ["no-store"]
    assert answer.headers["x-content-type-options"] == "nosniff"


def _broken(shop: Shop) -> TestClient:
    app = make_app(Desk(shop), Door(KEYS))

    def fails() -> None:
        raise RuntimeError("inner words")

    app.get("/broken")(fails)
    app.get("/api/broken")(fails)
    return TestClient(app, base_url="http://127.0.0.1:8300", client=("127.0.0.1", 1), raise_server_exceptions=False)


@pytest.mark.parametrize("path", ["/broken", "/api/broken"])
def test_an_error_nobody_foresaw_tells_nothing_of_the_inside(shop: Shop, path: str) -> None:
    answer = _broken(shop).get(path)
    assert answer.status_code == 500
    assert "inner words" not in answer.text
    assert "Traceback" not in answer.text


def test_an_error_nobody_foresaw_is_guarded(shop: Shop) -> None:
    _is_guarded(_broken(shop).get("/broken"))


def test_an_error_nobody_foresaw_has_the_one_form_of_errors(shop: Shop) -> None:
    answer = _broken(shop).get("/api/broken")
    assert answer.headers["content-type"] == "application/json"
    assert answer.json()["error"]["status"] == 500


def test_no_answer_depends_on_an_origin_that_asks(shop: Shop) -> None:
    with visited(shop) as client:
        answer = client.get("/api/token", headers={"origin": "http://evil.example", "sec-fetch-site": "cross-site"})
        asked = client.options(
            "/settings/you",
            headers={"origin": "http://evil.example", "access-control-request-method": "POST"},
        )
    for each in (answer, asked):
        assert not [name for name in each.headers if name.startswith("access-control-")]
