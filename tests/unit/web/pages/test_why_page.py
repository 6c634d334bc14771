"""Why, and what cures it: closing what cannot be done, and logging a work."""

from __future__ import annotations

import re

import pytest
from webapp import visited, with_hopper

from carwright.shop import Shop


@pytest.mark.parametrize("close", ["", "zz", "zz@A", "washer@Q" * 7])
def test_what_nobody_can_do_is_refused_in_words(shop: Shop, close: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.get(f"/car/{car}/why", params={"close": close})
    assert answer.status_code in {400, 404}
    assert "<h1>This was not done</h1>" in answer.text


def test_a_closed_work_stays_ticked_and_leaves_the_plans(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        first = re.findall(r'name="close" value="([^"]*)"', client.get(f"/car/{car}/why").text)[0]
        page = client.get(f"/car/{car}/why", params={"close": first}).text
    assert f'name="close" value="{first}" checked' in page
    assert f"remedy={first.partition('@')[0]}&amp;at={first.partition('@')[2]}" not in page


def test_a_work_to_log_stands_in_the_form_it_leads_to(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        links = re.findall(r'href="([^"]*do=repair[^"]*)"', client.get(f"/car/{car}/why").text)
        for link in links:
            page = client.get(link.replace("&amp;", "&")).text
            remedy = re.findall(r"remedy=([\w-]+)", link)[0]
            at = re.findall(r"[&;]at=(\w+)", link)[0]
            assert f'<option value="{remedy}" selected' in page
            assert f'<option value="{at}" selected' in page
