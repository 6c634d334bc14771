"""How much may be sent, whatever the sender says of its length."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from PIL import Image
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient
from starlette.types import Receive, Scope, Send
from webapp import token, visited, with_hopper

from carwright.shop import Shop
from carwright.web.guard.bodies import LARGEST, LARGEST_PHOTO, Bodies

FORM = "application/x-www-form-urlencoded"


async def _reads(scope: Scope, receive: Receive, send: Send) -> None:
    body = await Request(scope, receive).body()
    await PlainTextResponse(str(len(body)))(scope, receive, send)


async def _fails(scope: Scope, receive: Receive, send: Send) -> None:
    del scope, receive, send
    raise LookupError("of its own")


def _length(told: str | bytes) -> dict[bytes, bytes]:
    return {b"content-length": told if isinstance(told, bytes) else told.encode()}


def _parts(total: int, size: int = 100_000) -> Iterator[bytes]:
    for start in range(0, total, size):
        yield b"x" * min(size, total - start)


@pytest.mark.parametrize(("size", "status"), [(0, 200), (LARGEST, 200), (LARGEST + 1, 413)])
def test_a_request_may_be_so_large_and_no_larger(size: int, status: int) -> None:
    client = TestClient(Bodies(_reads))
    assert client.post("/car/x/entries", content=b"x" * size).status_code == status
    assert client.post("/car/x/entries", content=_parts(size)).status_code == status


def test_a_request_that_tells_a_smaller_length_is_counted_all_the_same() -> None:
    client = TestClient(Bodies(_reads))
    answer = client.post("/x", content=_parts(LARGEST + 1), headers={"content-length": "10"})
    assert answer.status_code == 413


def test_a_request_that_tells_a_length_too_large_is_refused_unread() -> None:
    client = TestClient(Bodies(_fails))
    assert client.post("/x", content=b"", headers={"content-length": str(LARGEST + 1)}).status_code == 413
    assert client.get("/x", headers={"content-length": "9" * 30}).status_code == 413


@pytest.mark.parametrize("told", ["-1", "+1", "1_0", "0x10", "1e3", "1,1", "ten", " ", "1 1", b"\xb2", b"\xd9\xa1"])
def test_a_length_that_is_no_number_is_refused(told: str | bytes) -> None:
    answer = TestClient(Bodies(_fails)).get("/x", headers=_length(told))
    assert answer.status_code == 413


def test_a_length_of_thousands_of_digits_is_refused() -> None:
    assert TestClient(Bodies(_fails)).get("/x", headers={"content-length": "1" * 5000}).status_code == 413


def test_an_error_of_the_app_itself_is_not_hidden() -> None:
    with pytest.raises(LookupError, match="of its own"):
        TestClient(Bodies(_fails)).post("/x", content=b"small")


@pytest.mark.parametrize("path", ["/photos/x", "/photo/", "/photosx", "/x-photo.html", "/PHOTOS"])
def test_a_path_that_only_resembles_one_of_photos_takes_no_photo(path: str) -> None:
    client = TestClient(Bodies(_reads))
    assert client.post(path, content=b"x" * (LARGEST + 1)).status_code == 413
    assert client.post(f"{path}?to=/photos", content=b"x" * (LARGEST + 1)).status_code == 413


def test_no_path_takes_more_than_the_largest_photo() -> None:
    client = TestClient(Bodies(_fails))
    for path in ("/car/x/photos", "/car/x/photo", "/car/x/entries"):
        assert client.post(path, headers={"content-length": str(LARGEST_PHOTO + 1)}).status_code == 413


def test_what_is_too_large_is_said_to_people_and_to_programs(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        own = {"x-carwright-token": token(client)}
        page = client.post("/settings/you", content=_parts(LARGEST + 1), headers={**own, "content-type": FORM})
        answer = client.post(f"/api/cars/{car}/entries", content=_parts(LARGEST + 1), headers=own)
        small = client.post("/settings/you", content=b"who=Wren", headers={**own, "content-type": FORM})
    assert (page.status_code, answer.status_code, small.status_code) == (413, 413, 303)
    assert page.headers["content-type"].startswith("text/html")
    assert answer.json()["error"]["status"] == 413


def test_what_is_too_large_is_refused_before_its_token_is_asked_for(shop: Shop) -> None:
    with visited(shop) as client:
        answer = client.post("/settings/you", content=_parts(LARGEST + 1), headers={"content-type": FORM})
    assert answer.status_code == 413


def test_a_photo_as_phones_make_them_is_taken(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    car = with_hopper(shop)
    out = io.BytesIO()
    Image.effect_noise((1400, 1400), 90).convert("RGB").save(out, "JPEG", quality=95)
    assert LARGEST < len(out.getvalue()) < LARGEST_PHOTO
    kept: list[bytes] = []

    def taken(content: bytes) -> tuple[str, bytes]:
        kept.append(content)
        return "photos/x.jpg", content

    monkeypatch.setattr("carwright.web.pages.bench.route.photo_of", taken)
    with visited(shop) as client:
        fields = {"do": "photo", "spot": "body", "shows": "the side"}
        answer = client.post(
            f"/car/{car}/photos",
            data=fields,
            files={"file": ("a.jpg", out.getvalue())},
            headers={"x-carwright-token": token(client)},
        )
    assert answer.status_code == 303
    assert kept == [out.getvalue()]
