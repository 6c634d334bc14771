"""Turning what pydantic found into one plain sentence per fault."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from carwright.errors import Fault
from carwright.history.lines import Lines
from carwright.units import EXPECTED, Kind
from carwright.words import nearest


class Faults:
    """All that is wrong with one file.

    Parameters
    ----------
    lines : Lines
        Where its tables and keys stand.
    """

    def __init__(self, lines: Lines) -> None:
        self._lines = lines
        self.found: list[Fault] = []

    def line(self, key: str) -> int:
        """Line of a top-level key."""
        return self._lines.of("", 0, key)

    def add(self, place: str, message: str, table: str = "", number: int = 0, key: str = "") -> None:
        """Note one fault at a table's key."""
        where = f"{place}, {key}" if place and key else place or key
        self.found.append(Fault(self._lines.of(table, number, key), where, message))

    def add_validation(
        self,
        error: ValidationError,
        model: type[BaseModel],
        place: str,
        table: str,
        number: int = 0,
        kind: Kind | None = None,
    ) -> None:
        """Note every fault pydantic found in one table."""
        for problem in error.errors(include_url=False):
            path = [str(step + 1) if isinstance(step, int) else str(step) for step in problem["loc"]]
            key = path[0] if path else ""
            inner, owner = self._descend(table, path, model)
            message = sentence(problem, owner, kind)
            named = path[:-1] if problem["type"] == "missing" else path
            where = f"{place}, {'.'.join(named)}" if named else place
            line = self._lines.of(inner, number, path[-1]) if inner != table else self._lines.of(table, number, key)
            self.found.append(Fault(line or self._lines.of(table, number), where, message))

    @staticmethod
    def _descend(table: str, path: list[str], model: type[BaseModel]) -> tuple[str, type[BaseModel]]:
        """Sub-table and sub-model a path leads to, for ``[car.geometry]`` and the like."""
        inner, owner = table, model
        for step in path[:-1]:
            info = owner.model_fields.get(step)
            annotation = info.annotation if info is not None else None
            candidates = [annotation, *getattr(annotation, "__args__", ())]
            models = [found for found in candidates if isinstance(found, type) and issubclass(found, BaseModel)]
            if not models:
                break
            inner, owner = f"{inner}.{step}", models[0]
        return inner, owner


def sentence(problem: Mapping[str, Any], model: type[BaseModel], kind: Kind | None) -> str:
    """What is wrong and what was expected, in one line."""
    loc, given, context = problem["loc"], problem.get("input"), problem.get("ctx", {})
    last = str(loc[-1]) if loc else ""
    match problem["type"]:
        case "extra_forbidden":
            return f"unknown key {last!r}{nearest(last, known_keys(model))}"
        case "missing":
            return f"needs {last}"
        case "literal_error":
            return f"{given!r} is not known: expected {context['expected']}"
        case "string_type" if isinstance(given, int | float) and not isinstance(given, bool):
            wanted = EXPECTED[kind] if kind else 'text, with its unit where it has one, such as "0.391 in"'
            wanted = f'it in quotes, "{given}"' if loc and loc[0] in _WORDS else wanted
            return f"a bare number {given}: expected {wanted}"
        case "list_type":
            return f'expected a list in brackets, such as ["{given}"], got {given!r}'
        case "too_short" if last == "accepts":
            return "needs a lower and an upper limit in one list"
        case "value_error":
            return str(context["error"])
        case "model_type":
            return f"{given!r} is not a table"
    return _measured(problem) or f"{problem['msg'][0].lower()}{problem['msg'][1:]}"


def _measured(problem: Mapping[str, Any]) -> str:
    """What is too short, too little or no number, "" for anything else."""
    given, context = problem.get("input"), problem.get("ctx", {})
    match problem["type"]:
        case "string_too_short":
            return "is empty"
        case "too_short":
            return f"needs at least {context['min_length']}, got {context['actual_length']}"
        case "greater_than_equal":
            return f"{given} is too little: expected {context['ge']:g} or more"
        case "float_type":
            return f"{given!r} is no number"
        case "int_type":
            return f"expected a whole number, got {given!r}"
    return ""


_WORDS = ("at", "name", "what", "with", "title", "scale", "type", "who", "note", "when", "number")
"""Keys that hold words, not quantities."""


def known_keys(model: type[BaseModel]) -> list[str]:
    """Keys a table may have, as written."""
    return [info.alias or name for name, info in model.model_fields.items()]
