"""The bench: what it shows of a car, and what becomes of what is typed."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient
from webapp import sent, token, visited, with_hopper

from carwright.shop import Shop


def test_a_reading_is_saved_and_judged_and_undone(shop: Shop) -> None:
    car = with_hopper(shop)
    before = len(shop.state(car).entries)
    with visited(shop) as client:
        answer = client.post(
            f"/car/{car}/entries",
            data={"token": token(client), "do": "measure", "spot": "truck-B", "what": "wheel.back_to_back", "at": "4",
                  "value": "0.569; 0.570", "unit": "in", "with": "digital calliper"},
        )  # fmt: skip
        assert answer.status_code == 303
        page = client.get(answer.headers["location"]).text
        assert "Saved: back-to-back, axle 4, 0.569 in, 0.570 in" in page
        made = shop.state(car).entries[-1]
        assert made.content()["values"] == ["0.569 in", "0.570 in"]
        assert f"/car/{car}/undo/{made.id}" in page
        assert client.post(f"/car/{car}/undo/{made.id}", data={"token": token(client)}).status_code == 303
    assert len(shop.state(car).entries) == before + 2
    assert shop.state(car).entries[-1].content()["supersedes"] == made.id


def test_what_cannot_be_read_is_said_beside_its_field_and_kept(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        before = len(shop.state(car).entries)
        answer = client.post(
            f"/car/{car}/entries",
            data={"token": token(client), "do": "measure", "spot": "coupler-A", "what": "coupler.height", "at": "A",
                  "value": "0.3x9", "unit": "in"},
        )  # fmt: skip
    assert answer.status_code == 422
    assert 'value="0.3x9"' in answer.text
    beside = answer.text.index('id="value-wrong-1"')
    assert "annot read" in answer.text[beside : beside + 200]
    assert 'aria-invalid="true"' in answer.text
    assert len(shop.state(car).entries) == before


@pytest.mark.parametrize(
    "do", ["gauge", "look", "repair", "photo", "line", "trouble", "runs", "ruling", "place", "bought", "note"]
)
def test_every_form_opens(shop: Shop, do: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        for spot in ("coupler-A", "truck-B", "body"):
            answer = client.get(f"/car/{car}?spot={spot}&do={do}")
            assert answer.status_code == 200
            assert f'name="do" value="{do}"' in answer.text


def test_a_value_says_what_it_would_come_to_before_it_is_saved(shop: Shop) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        near = client.get(f"/car/{car}/would?what=wheel.back_to_back&at=4&value=0.572&unit=in&with=digital+calliper")
        far = client.get(f"/car/{car}/would?what=wheel.back_to_back&at=4&value=0.540&unit=in&with=digital+calliper")
    assert "<strong>conforms</strong>" in near.text
    assert "<strong>fails</strong>" in far.text
    assert shop.state(car).digest == before


def _page(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return answer.text


def test_what_people_wrote_is_never_markup(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = sent(client, f"/car/{car}/entries", do="note", spot="body", note="<script>alert(1)</script>{{ 7*7 }}")
        assert getattr(answer, "status_code", 0) == 303
        page = _page(client, f"/car/{car}")
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;{{ 7*7 }}" in page
