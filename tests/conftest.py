"""Shared set-up: tests are reproducible and never timed."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browsers import launched
from hypothesis import settings
from playwright.sync_api import Browser
from shops import Cluster

from carwright.prototype.subject import Shown
from carwright.shop import Shop, open_shop
from carwright.tables import shipped
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import Dated

settings.register_profile("carwright", deadline=None, derandomize=True, max_examples=100)
settings.load_profile("carwright")


@pytest.fixture(scope="session")
def dated() -> Dated:
    """The shipped dated rules."""
    return dated_of(shipped())


@pytest.fixture(scope="session")
def shows() -> Callable[..., tuple[Shown, ...]]:
    """A short way to say what a car shows: names, with a minus before what is missing."""

    def made(*names: str) -> tuple[Shown, ...]:
        return tuple(Shown(name.lstrip("-"), "absent" if name.startswith("-") else "present") for name in names)

    return made


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """An empty shop in a file."""
    with open_shop(tmp_path / "shop.db", create=True) as opened:
        yield opened


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL that lasts for the session."""
    made = Cluster()
    try:
        yield made
    finally:
        made.remove()


@pytest.fixture(params=["sqlite", "postgresql"])
def fresh(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Shop]]:
    """Makes empty shops, once in files and once on PostgreSQL."""
    numbers = itertools.count(1)
    opened: list[Shop] = []

    def make() -> Shop:
        place: str | Path = tmp_path / f"shop{next(numbers)}.db"
        if request.param == "postgresql":
            place = request.getfixturevalue("cluster").fresh()
        opened.append(open_shop(place, create=True))
        return opened[-1]

    yield make
    for each in opened:
        each.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Chromium, for the tests of one module."""
    with launched() as found:
        yield found
