"""What a statement or an entry must look like, whoever wrote it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import TypeAdapter, ValidationError

from carwright.errors import CarwrightError
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
from carwright.shop.instrument_file import FORMAT as INSTRUMENTS
from carwright.shop.instrument_file import read_instruments
from carwright.shop.naming import kept_id, stays_inside
from carwright.verdict.due_rules import FORMAT as DUE
from carwright.verdict.due_rules import read_due_rules

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
    if _has_null(body):
        return "holds null, which no sheet can"
    if key not in ENTRY_MODELS or body.get("kind") != key or "id" in body:
        return f"is of a kind this carwright does not know: {key[:40]!r}"
    return _fault(MODELS[key], body, key)


def statement_fault(key: str, value: Any, subject: str) -> str:  # noqa: ANN401 - whatever JSON holds
    """What is wrong with a statement about a subject, "" for nothing."""
    if value is None:
        return "takes back what every car must have" if key == "car" else ""
    if _has_null(value):
        return "holds null, which no sheet can"
    if key == "kept" and isinstance(value, dict) and isinstance(value.get("name"), str):
        fault = _kept_fault(value, subject)
        if fault:
            return fault
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


_LONGEST_FAULT = 300
"""Characters of what a row is told to lack."""


def _has_null(value: Any) -> bool:  # noqa: ANN401 - whatever JSON holds
    waiting = [value]
    while waiting:
        each = waiting.pop()
        if each is None:
            return True
        waiting += each.values() if isinstance(each, dict) else each if isinstance(each, list) else ()
    return False


def _kept_fault(value: dict[str, Any], subject: str) -> str:
    """A file kept for all cars has the id of its name; due rules and instruments, which concern all, can be read."""
    if kept_id(value["name"]) != subject:
        return "is kept under the id of another name"
    try:
        if value.get("format") == DUE:
            read_due_rules(str(value.get("text")), value["name"])
        elif value.get("format") == INSTRUMENTS:
            read_instruments(str(value.get("text")), value["name"])
    except CarwrightError as error:
        return f"cannot be read: {error}"
    return ""


def _fault(adapter: TypeAdapter[Any], value: object, what: str) -> str:
    try:
        adapter.validate_python(value)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        said = f"is no {what} as sheets have it: {where}: {first['msg']}"
        return "".join(sign if sign.isprintable() else " " for sign in said)[:_LONGEST_FAULT]
    return ""
