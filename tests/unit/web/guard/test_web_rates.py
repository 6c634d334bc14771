"""How often a device may ask, by a clock that is turned by hand."""

from __future__ import annotations

import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from carwright.web.guard.rates import MOST_DEVICES, Buckets, Rates


class Clock:
    """Says what it is told."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_a_full_bucket_allows_what_it_holds_and_no_more(clock: Clock) -> None:
    found = Buckets(3, 0.5, clock)
    assert [found.wait("a") for _ in range(3)] == [0.0, 0.0, 0.0]
    assert found.wait("a") == pytest.approx(2.0)


def test_a_bucket_fills_steadily_and_never_over(clock: Clock) -> None:
    found = Buckets(3, 0.5, clock)
    for _ in range(3):
        found.wait("a")
    clock.now += 1.9
    assert found.wait("a") == pytest.approx(0.2 / 2 / 0.5 / 1, abs=0.11)
    clock.now += 0.1001
    assert found.wait("a") == 0.0
    clock.now += 10_000
    assert [found.wait("a") for _ in range(4)][:3] == [0.0, 0.0, 0.0]
    assert found.wait("a") > 0


def test_asking_while_there_is_none_left_does_not_lengthen_the_wait(clock: Clock) -> None:
    found = Buckets(1, 1.0, clock)
    assert found.wait("a") == 0.0
    for _ in range(50):
        assert found.wait("a") == pytest.approx(1.0)
    clock.now += 1.0
    assert found.wait("a") == 0.0


def test_after_the_time_told_there_is_one_left(clock: Clock) -> None:
    found = Buckets(5, 1 / 6, clock)
    for _ in range(5):
        found.wait("a")
    clock.now += found.wait("a") + 1e-9
    assert found.wait("a") == 0.0
    assert found.wait("a") > 0


def test_each_device_has_a_bucket_of_its_own(clock: Clock) -> None:
    found = Buckets(1, 1.0, clock)
    assert found.wait("a") == 0.0
    assert found.wait("b") == 0.0
    assert found.wait("a") > 0


def test_guesses_come_to_ten_a_minute(clock: Clock) -> None:
    found = Buckets(5, 1 / 6, clock)
    allowed = 0
    for _ in range(6000):
        allowed += found.wait("a") == 0.0
        clock.now += 0.01
    assert 14 <= allowed <= 15


def test_only_so_many_devices_are_remembered_and_those_asking_stay(clock: Clock) -> None:
    found = Buckets(1, 0.001, clock)
    assert found.wait("busy") == 0.0
    for number in range(3 * MOST_DEVICES):
        found.wait(str(number))
        if number % 100 == 0:
            assert found.wait("busy") > 0
    assert len(found._found) == MOST_DEVICES


def _client(usual: Buckets, guesses: Buckets, peer: str = "192.0.2.9") -> TestClient:
    return TestClient(Rates(PlainTextResponse("in"), usual, guesses), client=(peer, 1))


def test_who_asks_too_often_is_told_when_to_come_again(clock: Clock) -> None:
    client = _client(Buckets(2, 0.1, clock), Buckets(9, 1, clock))
    assert [client.get("/cars").status_code for _ in range(3)] == [200, 200, 429]
    page, answer = client.get("/cars"), client.get("/api/cars")
    assert page.headers["retry-after"] == "10"
    assert page.headers["content-type"].startswith("text/html")
    assert answer.json()["error"]["status"] == 429
    clock.now += 10
    assert client.get("/cars").status_code == 200


def test_only_giving_a_code_counts_as_a_guess(clock: Clock) -> None:
    client = _client(Buckets(1000, 1, clock), Buckets(2, 0.1, clock))
    assert {client.get("/pair").status_code for _ in range(9)} == {200}
    assert {client.post("/car/x/entries").status_code for _ in range(9)} == {200}
    assert [client.post("/pair").status_code for _ in range(3)] == [200, 200, 429]
    assert client.get("/pair").status_code == 200


def test_one_device_does_not_use_up_what_another_may_ask(clock: Clock) -> None:
    usual, guesses = Buckets(1, 0.1, clock), Buckets(1, 0.1, clock)
    assert [_client(usual, guesses).get("/").status_code for _ in range(2)] == [200, 429]
    assert _client(usual, guesses, "192.0.2.10").get("/").status_code == 200


def test_a_wait_of_part_of_a_second_is_told_as_one(clock: Clock) -> None:
    client = _client(Buckets(1, 60, clock), Buckets(1, 1, clock))
    client.get("/")
    assert client.get("/").headers["retry-after"] == "1"
