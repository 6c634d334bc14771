"""What a statement or an entry must look like, whoever wrote it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import TypeAdapter, ValidationError

from carwright.history.entries import (
    ENTRY_MODELS,
    MODELS,
    Car,
    Geometry,
    InstrumentRow,
    Part,
    Pocket,
    PriorRow,
    Prototype,
    Report,
)
from carwright.shop.naming import stays_inside

_OF_SHEET: dict[str, TypeAdapter[Any]] = {
    "car": TypeAdapter(Car),
    "car.geometry": TypeAdapter(Geometry),
    "car.prototype": TypeAdapter(Prototype),
    "report": TypeAdapter(Report),
    "prior": TypeAdapter(list[PriorRow]),
    "part": TypeAdapter(list[Part]),
    "pocket": TypeAdapter(list[Pocket]),
}
_INSTRUMENT = TypeAdapter(InstrumentRow)
_ONLY_DIGITS = frozenset("0123456789abcdef")


def entry_fault(key: str, body: dict[str, Any]) -> str:
    """What is wrong with an entry, "" for nothing."""
    if key not in ENTRY_MODELS or body.get("kind") != key or "id" in body:
        return f"is of a kind this carwright does not know: {key[:40]!r}"
    return _fault(MODELS[key], body, key)


def statement_fault(key: str, value: Any) -> str:  # noqa: ANN401 - whatever JSON holds
    """What is wrong with a statement, "" for nothing."""
    if value is None:
        return "takes back what every car must have" if key == "car" else ""
    adapter = _OF_SHEET.get(key) or (_INSTRUMENT if key.startswith("instrument:") else None)
    if adapter is not None:
        if (
            key.startswith("instrument:")
            and key != f"instrument:{value.get('name') if isinstance(value, dict) else ''}"
        ):
            return "is about an instrument of another name"
        if key == "car" and isinstance(value, dict) and {"id", "geometry", "prototype"} & set(value):
            return "states what is stated apart"
        return _fault(adapter, value, key)
    for beginning, good in _OTHERS.items():
        if key.startswith(beginning):
            return "" if good(key.removeprefix(beginning), value) else f"is no statement about {beginning.rstrip(':')}"
    return f"is about something this carwright does not know: {key[:40]!r}"


def _is_file(name: str, value: object) -> bool:
    return (
        isinstance(value, dict)
        and set(value) == {"digest", "size"}
        and isinstance(value["digest"], str)
        and len(value["digest"]) == 2 * 32
        and set(value["digest"]) <= _ONLY_DIGITS
        and type(value["size"]) is int
        and stays_inside(name)
    )


def _is_kept(rest: str, value: object) -> bool:
    if rest or not isinstance(value, dict) or set(value) != {"name", "format", "text"}:
        return False
    return all(isinstance(each, str) for each in value.values()) and stays_inside(value["name"])


_OTHERS: dict[str, Callable[[str, Any], bool]] = {
    "file:": _is_file,
    "kept": _is_kept,
    "name": lambda rest, value: rest == "" and isinstance(value, str) and bool(value),
    "member:": lambda rest, value: bool(rest) and value is True,
}


def _fault(adapter: TypeAdapter[Any], value: object, what: str) -> str:
    try:
        adapter.validate_python(value)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        return f"is no {what} as sheets have it: {where}: {first['msg']}".replace("\n", " ")
    return ""
