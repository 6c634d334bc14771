"""Evidence and dates: asking without writing, saving, and correcting without loss."""

from __future__ import annotations

from typing import Any

import html5lib
import pytest
from webapp import token, visited, with_hopper
from webpages import form_of, names_its_sentence, undo_of

from carwright.shop import Shop

_PIECE = {"of": "photo", "source": "north yard", "claim": "1961", "group:underframe": "underframe.steel"}


def test_what_is_ticked_is_answered_without_writing_and_saved_and_undone(shop: Shop) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        fields = {"token": token(client), **_PIECE}
        assert client.post(f"/car/{car}/dates/would", data=fields).status_code == 200
        assert shop.state(car).digest == before
        answer = client.post(f"/car/{car}/dates", data=fields)
        assert answer.status_code == 303
        page = client.get(answer.headers["location"]).text
        kept = form_of(page, f"/car/{car}/dates")
        assert {name: kept[name] for name in _PIECE} == _PIECE
        made = shop.state(car).entries[-1]
        back = client.post(undo_of(page), data={"token": token(client)})
        assert f"piece={made.id}" not in client.get(f"/car/{car}/dates").text
        again = client.post(f"/car/{car}/undo/{shop.state(car).entries[-1].id}", data={"token": token(client)})
        assert {back.status_code, again.status_code} == {303}
        assert "north yard" in client.get(f"/car/{car}/dates").text


@pytest.mark.parametrize(
    ("field", "text"),
    [("source", ""), ("claim", "zz"), ("number", "\x01"),
     ("stencil:stencil.built", "zz")],
)  # fmt: skip
def test_what_is_wrong_is_said_beside_it_and_all_is_kept(shop: Shop, field: str, text: str) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        for path in (f"/car/{car}/dates", f"/car/{car}/dates/would"):
            answer = client.post(path, data={"token": token(client), **_PIECE, field: text})
            assert answer.status_code == 422
            kept = form_of(answer.text, f"/car/{car}/dates")
            assert kept["group:underframe"] == "underframe.steel"
            page = html5lib.parse(answer.text, namespaceHTMLElements=False)
            typed = next(each for each in page.iter("input") if each.get("name") == field)
            assert typed.get("aria-invalid") == "true"
    assert shop.state(car).digest == before


def test_a_field_names_its_sentence(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.post(f"/car/{car}/dates", data={"token": token(client), **_PIECE, "claim": "zz"})
    assert names_its_sentence(answer.text, "claim")


@pytest.mark.parametrize(
    "seen",
    [
        [{"feature": "underframe.steel"}],
        [{"feature": "underframe", "state": "absent"}],
        [{"feature": "stencil.built", "date": "1958-04"}],
        [{"feature": "underframe.wood", "state": "absent"}],
        [{"feature": "stencil.built", "state": "not visible"}],
        [{"feature": "underframe.steel", "trust": 0.4}],
    ],
)  # fmt: skip
def test_evidence_saved_again_unchanged_says_the_same(shop: Shop, seen: list[dict[str, Any]]) -> None:
    car = with_hopper(shop)
    body = {"kind": "evidence", "of": "photo", "source": "a yard", "claim": "1961", "trust": 0.5, "seen": seen}
    made = shop.append(car, [body])[0]
    with visited(shop) as client:
        fields = form_of(client.get(f"/car/{car}/dates?piece={made}").text, f"/car/{car}/dates")
        assert fields["supersedes"] == made
        assert client.post(f"/car/{car}/dates", data=fields).status_code == 303
    new = next(each.content() for each in shop.state(car).entries if each.content().get("supersedes") == made)
    assert (new["seen"], new["trust"]) == (seen, 0.5)
