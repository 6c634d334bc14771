"""Names the app answers to: its own, and no other however it is written."""

from __future__ import annotations

import pytest
from webapp import KEYS, token, visited

from carwright.shop import Shop
from carwright.web.door import Door
from carwright.web.guard.hosts import host_of, is_loopback

LAN = ("192.0.2.7", "den", "den.local")


@pytest.mark.parametrize(
    "host",
    [
        "127.0.0.1", "127.0.0.1:8300", "localhost", "LOCALHOST:8300", "localhost.", "localhost.:8300", "[::1]",
        "[::1]:8300", "127.0.0.1:80",
    ],
)  # fmt: skip
def test_this_machine_is_reached_by_each_of_its_names(shop: Shop, host: str) -> None:
    with visited(shop) as client:
        assert client.get("/cars", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", ["192.0.2.7", "192.0.2.7:8300", "den", "DEN.local:8300", "den.local.:8300"])
def test_names_on_the_house_network_are_answered_only_where_the_door_is_open(shop: Shop, host: str) -> None:
    with visited(shop) as client:
        assert client.get("/pair", headers={"host": host}).status_code == 421
    with visited(shop, door=Door(KEYS, addresses=LAN)) as client:
        assert client.get("/pair", headers={"host": host}).status_code == 200


STRANGE = (
    "", "evil.example", "evil.example:8300", "localhost.evil.example", "127.0.0.1.evil.example", "evillocalhost",
    "127.0.0.1@evil.example", "localhost:8300@evil.example", "0.0.0.0:8300", "127.0.0.2", "2130706433",
    "0x7f000001", "127.1", "::1", "[::1", "[::ffff:127.0.0.1]", "[::1%25lo]", "localhost,evil.example",
    "evil.example,localhost", "localhost evil.example", "localhost\\.evil.example", "evil.example/localhost",
    "evil.example//localhost", ".localhost", "den.local.evil.example", "evil.example#localhost",
)  # fmt: skip


@pytest.mark.parametrize("path", ["/cars", "/api/cars", "/static/app.css", "/pair", "/nowhere"])
def test_another_name_is_turned_away_whatever_is_asked(shop: Shop, path: str) -> None:
    with visited(shop, door=Door(KEYS, addresses=LAN)) as client:
        for host in STRANGE:
            answer = client.get(path, headers={"host": host})
            assert (host, answer.status_code) == (host, 421)
            assert "set-cookie" not in answer.headers


@pytest.mark.parametrize(
    "host",
    [
        "x@127.0.0.1:8300", "localhost/x", "localhost?x", "localhost#x", "x://localhost", "localhost:abc",
        "localhost:99999", "localhost/@evil.example",
    ],
)  # fmt: skip
def test_what_is_no_host_and_port_is_turned_away(shop: Shop, host: str) -> None:
    with visited(shop) as client:
        assert client.get("/cars", headers={"host": host}).status_code in {400, 421}


@pytest.mark.parametrize(
    "hosts", [("127.0.0.1:8300", "evil.example"), ("evil.example", "127.0.0.1:8300"), ("127.0.0.1", "127.0.0.1")]
)
def test_two_hosts_are_turned_away(shop: Shop, hosts: tuple[str, str]) -> None:
    with visited(shop) as client:
        answer = client.get("/cars", headers=[("host", each) for each in hosts])
    assert answer.status_code == 421


def test_a_name_in_other_headers_counts_for_nothing(shop: Shop) -> None:
    told = {"x-forwarded-host": "127.0.0.1:8300", "forwarded": "host=127.0.0.1:8300", "x-original-host": "localhost"}
    with visited(shop) as client:
        assert client.get("/cars", headers={"host": "evil.example", **told}).status_code == 421


def test_who_forwards_is_not_believed_to_be_this_machine(shop: Shop) -> None:
    told = {"x-forwarded-for": "127.0.0.1", "x-real-ip": "127.0.0.1", "forwarded": "for=127.0.0.1"}
    with visited(shop, peer="192.0.2.9", door=Door(KEYS, addresses=LAN)) as client:
        assert client.get("/api/cars", headers=told).status_code == 401


@pytest.mark.parametrize("site", ["same-origin", "none"])
def test_our_own_pages_may_send(shop: Shop, site: str) -> None:
    with visited(shop) as client:
        answer = client.post(
            "/settings/you",
            data={"token": token(client), "who": "Wren"},
            headers={"origin": "http://127.0.0.1:8300", "sec-fetch-site": site},
        )
    assert answer.status_code == 303


def test_our_own_pages_may_send_over_an_encrypted_line(shop: Shop) -> None:
    with visited(shop, door=Door(KEYS, secure=True)) as client:
        form = {"token": token(client), "who": "Wren"}
        plain = client.post("/settings/you", data=form, headers={"origin": "http://127.0.0.1:8300"})
        own = client.post("/settings/you", data=form, headers={"origin": "https://127.0.0.1:8300"})
    assert (plain.status_code, own.status_code) == (403, 303)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("den:80", "den"), ("[::1]:80", "::1"), ("DEN", "den"), ("den.", "den"), ("", ""),
        ("[", ""), ("null", "null"),
    ],
)  # fmt: skip
def test_a_name_is_taken_from_a_host_or_an_origin(text: str, name: str) -> None:
    assert host_of(text) == name


@pytest.mark.parametrize(
    ("peer", "here"),
    [
        ("127.0.0.1", True), ("127.9.9.9", True), ("::1", True), ("::ffff:127.0.0.1", True), ("128.0.0.1", False),
        ("::ffff:192.0.2.1", False), ("1270.0.0.1", False), ("", False), ("::", False), ("0.0.0.1", False),
        ("10.127.0.1", False),
    ],
)  # fmt: skip
def test_a_peer_is_this_machine_only_by_a_loopback_address(peer: str, here: bool) -> None:  # noqa: FBT001 - a table
    assert is_loopback(peer) is here
