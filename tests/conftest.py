"""Shared set-up: tests are reproducible and never timed."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import settings

from carwright.prototype.subject import Shown
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
