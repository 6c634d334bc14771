"""A page is a folder with a route, a template and a test; nothing else has to know of it."""

from __future__ import annotations

import importlib
from pathlib import Path

import carwright.web.pages
from carwright.web.pages import Bar, bar_of, routers

FOLDERS = sorted(path for path in Path(carwright.web.pages.__path__[0]).iterdir() if (path / "__init__.py").is_file())
NO_TEMPLATE = {"api", "home"}
"""What only sends elsewhere, and what only programs ask."""


def test_every_page_has_a_route_a_template_and_a_test() -> None:
    assert len(FOLDERS) == len(routers()) >= 12
    for folder in FOLDERS:
        assert (folder / "route.py").is_file(), folder
        assert list(folder.glob("*.html")) or folder.name in NO_TEMPLATE, folder
        assert Path(f"tests/unit/web/pages/test_{folder.name}_page.py").is_file(), folder


def test_no_page_asks_another_one_but_for_what_a_car_must_have() -> None:
    for folder in FOLDERS:
        for path in folder.glob("*.py"):
            text = path.read_text("utf-8")
            others = {
                other.name for other in FOLDERS
                if other != folder and f"carwright.web.pages.{other.name}" in text
            }  # fmt: skip
            assert others <= ({"sizes"} if folder.name == "add" else set()), path


def test_bars_follow_from_the_pages_in_their_order() -> None:
    bars = [
        module.BAR
        for folder in FOLDERS
        if hasattr(module := importlib.import_module(f"carwright.web.pages.{folder.name}.route"), "BAR")
    ]
    assert all(isinstance(each, Bar) for each in bars)
    assert len({(each.of_car, each.place) for each in bars}) == len(bars)
    shown = bar_of("8e89f9ee-9410-4b2d-93c7-e6498682fa7d")
    assert [title for title, _ in shown["car"]] == ["Bench", "Why", "Verdict", "Dates", "Papers", "Facts"]
    assert [title for title, _ in shown["shop"]] == ["Cars", "Add", "Quick check", "Settings"]
    assert bar_of("")["car"] == []


def test_every_page_is_told_of_in_the_docs() -> None:
    text = Path("docs/web.md").read_text("utf-8")
    for title, _ in (*bar_of("x")["car"], *bar_of("x")["shop"]):
        assert title.lower().split()[0] in text.lower()
    for picture in Path("docs/images").glob("web-*.png"):
        assert f"images/{picture.name}" in text
