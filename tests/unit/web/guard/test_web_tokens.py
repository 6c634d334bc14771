"""Sessions and the tokens of their forms: signed, their own, and kept from scripts."""

from __future__ import annotations

import base64
import json

import itsdangerous
import pytest
from webapp import KEYS, token, visited, with_hopper

from carwright.shop import Shop
from carwright.web.door import Door
from carwright.web.guard.pairing import Keys

COOKIE = "carwright-8300"


def _signed(secret: str, session: dict[str, str]) -> str:
    data = base64.b64encode(json.dumps(session).encode())
    return itsdangerous.TimestampSigner(secret).sign(data).decode()


def test_a_token_is_of_its_session_and_of_its_secret() -> None:
    other = Keys("another-secret-0123456789")
    assert KEYS.is_token("a", KEYS.token("a"))
    assert not KEYS.is_token("b", KEYS.token("a"))
    assert not other.is_token("a", KEYS.token("a"))
    assert KEYS.token("a") != KEYS.mark


@pytest.mark.parametrize("text", ["", "x", "é" * 40, "\N{FULLWIDTH DIGIT ONE}" * 40, "\x00", "0" * 4000])
def test_no_other_text_is_a_token(text: str) -> None:
    assert not KEYS.is_token("a", text)


def test_a_token_cut_short_or_lengthened_is_none() -> None:
    own = KEYS.token("a")
    assert len(own) == 40
    assert not KEYS.is_token("a", own[:-1])
    assert not KEYS.is_token("a", f"{own} ")
    assert not KEYS.is_token("a", own.upper())


def test_a_token_is_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[str, str]] = []

    def compared(left: str, right: str) -> bool:
        asked.append((left, right))
        return False

    monkeypatch.setattr("carwright.web.guard.pairing.hmac.compare_digest", compared)
    assert not KEYS.is_token("a", "x" * 40)
    assert asked == [(KEYS.token("a"), "x" * 40)]


def test_each_session_has_a_token_of_its_own_and_keeps_it(shop: Shop) -> None:
    with visited(shop) as client:
        first = token(client)
        assert token(client) == first
        client.cookies.clear()
        assert token(client) != first


def test_a_token_of_another_session_is_refused_and_changes_nothing(shop: Shop) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        other = token(client)
        client.cookies.clear()
        own = token(client)
        form = {"do": "note", "spot": "body", "note": "words"}
        refused = client.post(f"/car/{car}/entries", data={**form, "token": other})
        assert refused.status_code == 403
        assert "load it again" in refused.text
        assert shop.state(car).digest == before
        assert client.post(f"/car/{car}/entries", data={**form, "token": own}).status_code == 303
    assert shop.state(car).digest != before


def test_the_header_counts_before_the_field(shop: Shop) -> None:
    with visited(shop) as client:
        own = token(client)
        wrong = client.post("/settings/you", data={"token": own}, headers={"x-carwright-token": "0" * 40})
        right = client.post("/settings/you", data={"token": "0" * 40}, headers={"x-carwright-token": own})
    assert (wrong.status_code, right.status_code) == (403, 303)


def test_a_token_sent_as_plain_text_is_none(shop: Shop) -> None:
    with visited(shop) as client:
        own = token(client)
        as_text = client.post("/settings/you", content=f"token={own}", headers={"content-type": "text/plain"})
        as_nothing = client.post("/settings/you", content=f"token={own}")
    assert (as_text.status_code, as_nothing.status_code) == (403, 403)


@pytest.mark.parametrize("secure", [False, True])
def test_the_cookie_is_kept_from_scripts_and_from_other_sites(shop: Shop, secure: bool) -> None:  # noqa: FBT001 - both
    with visited(shop, door=Door(KEYS, secure=secure)) as client:
        told = client.get("/api/token").headers["set-cookie"].lower()
    assert told.startswith(f"{COOKIE}=")
    flags = {each.strip() for each in told.split(";")[1:]}
    assert {"httponly", "samesite=lax", "path=/"} <= flags
    assert ("secure" in flags) is secure
    assert not any(each.startswith("domain") for each in flags)


@pytest.mark.parametrize("made", ["", "garbage", "a.b.c", "e30=.x.y", '"', "%00", "a" * 3000])
def test_a_cookie_that_is_no_session_is_as_none(shop: Shop, made: str) -> None:
    with visited(shop, peer="192.0.2.9", door=Door(KEYS, addresses=("192.0.2.7",))) as client:
        assert client.get("/api/cars", headers={"cookie": f"{COOKIE}={made}"}).status_code == 401
        assert client.get("/pair", headers={"cookie": f"{COOKIE}={made}"}).status_code == 200


def test_a_cookie_of_strange_bytes_is_as_none(shop: Shop) -> None:
    with visited(shop) as client:
        answer = client.get("/cars", headers={b"cookie": b"carwright-8300=\xff\xfe"})
    assert answer.status_code == 200


def test_a_session_signed_with_another_key_is_none(shop: Shop) -> None:
    door = Door(KEYS, addresses=("192.0.2.7",))
    claim = {"paired": KEYS.mark, "id": "x"}
    with visited(shop, peer="192.0.2.9", door=door) as client:
        forged = {"cookie": f"{COOKIE}={_signed('another-secret-0123456789', claim)}"}
        own = {"cookie": f"{COOKIE}={_signed(KEYS.secret, claim)}"}
        unsigned = {"cookie": f"{COOKIE}={base64.b64encode(json.dumps(claim).encode()).decode()}"}
        assert client.get("/api/cars", headers=forged).status_code == 401
        assert client.get("/api/cars", headers=unsigned).status_code == 401
        assert client.get("/api/cars", headers=own).status_code == 200


@pytest.mark.parametrize("mark", ["", "x", "0" * 16, "True"])
def test_a_session_with_another_mark_is_not_paired(shop: Shop, mark: str) -> None:
    with visited(shop, peer="192.0.2.9", door=Door(KEYS, addresses=("192.0.2.7",))) as client:
        own = {"cookie": f"{COOKIE}={_signed(KEYS.secret, {'paired': mark})}"}
        assert client.get("/api/cars", headers=own).status_code == 401


def test_a_session_of_one_port_is_none_at_another(shop: Shop) -> None:
    with visited(shop, door=Door(KEYS, port=8301)) as client:
        assert client.get("/api/token").headers["set-cookie"].startswith("carwright-8301=")


def test_no_answer_sets_a_cookie_larger_than_browsers_keep(shop: Shop) -> None:
    from webapp import HOPPER, sent  # noqa: PLC0415 - for this alone

    lost = "\n".join(
        f'[[entry]]\nkind = "photo"\nwhen = "2026-01-01"\nfile = "picture-of-the-underside-{number}.jpg"\nshows = "s"\n'
        for number in range(150)
    )
    with visited(shop) as client:
        answer = sent(client, "/add/sheet", text=f"{HOPPER.read_text('utf-8')}\n{lost}")
    assert getattr(answer, "status_code", 0) == 303
    headers = getattr(answer, "headers", {})
    assert len(headers["set-cookie"].partition(";")[0]) <= 4096
