"""The pages: each a folder with its route, its template, and a test of the same name beside the other tests.

A folder ``pages/<name>`` holds ``route.py`` with a ``router``, and its templates. Where it belongs in a bar, its route
has ``BAR``: the title, its place, and whether it is of a car. Nothing else has to know of it.
"""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import dataclass
from functools import lru_cache
from types import ModuleType

from fastapi import APIRouter


@dataclass(frozen=True, slots=True)
class Bar:
    """A page's place in a bar.

    Attributes
    ----------
    title : str
        As shown.
    place : int
        Order among the others.
    path : str
        Its path; below ``/car/<id>`` where it is of a car.
    of_car : bool
        Whether it is of a car.
    """

    title: str
    place: int
    path: str
    of_car: bool = True

    def href(self, car: str) -> str:
        """Where it leads."""
        return f"/car/{car}{self.path}" if self.of_car else self.path


@lru_cache(maxsize=1)
def _modules() -> tuple[ModuleType, ...]:
    names = sorted(each.name for each in pkgutil.iter_modules(__path__) if each.ispkg)
    return tuple(importlib.import_module(f"{__name__}.{name}.route") for name in names)


def routers() -> list[APIRouter]:
    """Routes of every page."""
    return [module.router for module in _modules()]


def bar_of(car: str) -> dict[str, list[tuple[str, str]]]:
    """Titles and addresses of the pages of a car, and of those of the shop."""
    found = sorted((module.BAR for module in _modules() if hasattr(module, "BAR")), key=lambda each: each.place)
    return {
        "car": [(each.title, each.href(car)) for each in found if each.of_car and car],
        "shop": [(each.title, each.href(car)) for each in found if not each.of_car],
    }
