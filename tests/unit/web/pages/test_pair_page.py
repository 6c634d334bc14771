"""Pairing: a wrong code is said beside its field."""

from __future__ import annotations

import re

from webapp import token, visited

from carwright.shop import Shop


def test_a_wrong_code_is_said_and_kept(shop: Shop) -> None:
    with visited(shop) as client:
        answer = client.post("/pair", data={"token": token(client), "code": "<b>zz"})
    assert answer.status_code == 422
    assert 'id="code-wrong-1"' in answer.text
    assert 'value="&lt;b&gt;zz"' in answer.text


def test_a_field_names_only_what_is_there(shop: Shop) -> None:
    with visited(shop) as client:
        text = client.get("/pair").text
    for name in re.findall(r'aria-describedby="([^"]*)"', text):
        assert f'id="{name}"' in text
