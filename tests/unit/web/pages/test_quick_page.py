"""The quick check: sums, sentences, and answers nobody offered."""

from __future__ import annotations

import pytest
from webapp import visited

from carwright.shop import Shop
from carwright.verdict.quick_check import usual_check


@pytest.mark.parametrize("field", ["worth", "asked", "hour"])
@pytest.mark.parametrize("text", ["-1", "nan", "inf", "much", "1e9"])
def test_a_sum_that_is_none_is_said_beside_it_and_kept(shop: Shop, field: str, text: str) -> None:
    with visited(shop) as client:
        answer = client.get("/quick", params={field: text})
    assert answer.status_code == 422
    assert f'id="m-{field}-wrong-1"' in answer.text
    assert f'name="{field}" value="{text}"' in answer.text


def test_a_sum_names_its_sentence(shop: Shop) -> None:
    with visited(shop) as client:
        text = client.get("/quick?worth=much").text
    assert "m-worth-wrong-1" in text.partition('<input id="m-worth"')[2].partition(">")[0]


def test_every_answer_is_taken_and_stays_ticked(shop: Shop) -> None:
    with visited(shop) as client:
        for check in usual_check().checks:
            for answer in check.answers:
                page = client.get("/quick", params={check.id: answer.id, "worth": "40,5", "hour": ""})
                assert page.status_code == 200
                assert f'name="{check.id}" value="{answer.id}" checked' in page.text


def test_an_answer_nobody_offered_is_passed_over(shop: Shop) -> None:
    with visited(shop) as client:
        page = client.get("/quick", params={usual_check().checks[0].id: "zz", "more": "x" * 3000})
    assert page.status_code == 200
    assert " checked" not in page.text
