"""The shipped dated rules, and short ways to say what a car shows."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from carwright.prototype.subject import Shown
from carwright.tables import shipped
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import Dated


@pytest.fixture(scope="session")
def dated() -> Dated:
    return dated_of(shipped())


@pytest.fixture(scope="session")
def shows() -> Callable[..., tuple[Shown, ...]]:
    def made(*names: str) -> tuple[Shown, ...]:
        return tuple(Shown(name.lstrip("-"), "absent" if name.startswith("-") else "present") for name in names)

    return made
