"""The verdict: its status and points as the inspection has them, and what is due."""

from __future__ import annotations

from pathlib import Path

from webapp import HOPPER, visited, with_hopper

import carwright as cw
from carwright.shop import Shop
from carwright.shop.shared import keep_file


def test_it_says_what_the_inspection_says(shop: Shop) -> None:
    car = with_hopper(shop)
    verdict = cw.inspect(cw.read_sheet(HOPPER)).verdict
    with visited(shop) as client:
        page = client.get(f"/car/{car}/verdict").text
    assert f"</span> {verdict.status}</strong>" in page
    assert f"<strong>{verdict.points:g}</strong> of {verdict.out_of:g} points: {verdict.band}" in page
    for reason in verdict.status_reasons:
        assert f"<dd>{reason}</dd>" in page
    for category in verdict.categories:
        assert category.title in page
    assert "Look again" in page


def test_a_ruling_and_a_route_are_shown(shop: Shop) -> None:
    car = with_hopper(shop)
    shop.append(car, [{"kind": "ruling", "reason": "an invented reason", "route": "branch line, 10 cars at most"}])
    with visited(shop) as client:
        page = client.get(f"/car/{car}/verdict").text
    seen = cw.inspect(shop.sheet(car))
    assert ("may run: branch line, 10 cars at most" in page) == seen.is_restricted


def test_a_rubric_kept_anew_is_gone_by_at_once(shop: Shop) -> None:
    """What a car goes by is part of what its judgement is remembered by."""
    own = Path("src/carwright/verdict/rubrics/bench.toml").read_text("utf-8")
    keep_file(shop, "own.toml", "carwright-rubric/1", own)
    car = with_hopper(shop)
    shop.revise(car, "car", {**shop.state(car).stated["car"], "rubric": "own.toml"})
    with visited(shop) as client:
        before = client.get(f"/car/{car}/verdict").text
        keep_file(shop, "own.toml", "carwright-rubric/1", own.replace("points = 30", "points = 42"))
        after = client.get(f"/car/{car}/verdict").text
    assert "of 120 points" in before
    assert "of 132 points" in after
