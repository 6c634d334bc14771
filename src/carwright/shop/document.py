"""A sheet taken apart into statements and entries, and put together again, every digit kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from carwright.history import Sheet
from carwright.history.entries import FORMAT
from carwright.history.sheet import sheet_document
from carwright.shop.state import State

FILE = "file:"
"""Statements about a file of the car: its name on the sheet, then ``{"digest", "size"}``."""
INSTRUMENT = "instrument:"
_OF_CAR = ("geometry", "prototype")
_LISTS = ("prior", "part", "pocket")
TABLES = (*(f"car.{each}" for each in _OF_CAR), "report", *_LISTS)
"""What a sheet may state of a car and leave out again; its instruments stay, for entries name them."""
Entries = Sequence[tuple[str, Mapping[str, Any]]]
"""Ids, "" where an entry has none, and bodies without them."""


def apart(sheet: Sheet) -> tuple[dict[str, Any], list[tuple[str, dict[str, Any]]]]:
    """Statements by key, and entries with their ids.

    Parameters
    ----------
    sheet : Sheet
        As read.

    Returns
    -------
    tuple
        Values by statement key; ``(id, body)`` of every entry in the order of the sheet, id "" where it has none.
    """
    document = sheet_document(sheet)
    car = {key: value for key, value in document["car"].items() if key != "id"}
    stated: dict[str, Any] = {}
    for key in _OF_CAR:
        if key in car:
            stated[f"car.{key}"] = car.pop(key)
    stated = {"car": car, **stated}
    if "report" in document:
        stated["report"] = document["report"]
    for row in document.get("instrument", []):
        stated[INSTRUMENT + row["name"]] = row
    for name in _LISTS:
        if name in document:
            stated[name] = document[name]
    entries = []
    for row in document.get("entry", []):
        body = dict(row)
        entries.append((body.pop("id", ""), body))
    return stated, entries


def together(state: State) -> dict[str, Any]:
    """The document of a sheet; :func:`carwright.history.sheet.read_document` reads it.

    Parameters
    ----------
    state : State
        Of a car.
    """
    stated = state.stated
    car = {**stated.get("car", {}), "id": state.subject}
    for key in _OF_CAR:
        if f"car.{key}" in stated:
            car[key] = stated[f"car.{key}"]
    document: dict[str, Any] = {"format": FORMAT, "car": car}
    if "report" in stated:
        document["report"] = stated["report"]
    instruments = [value for key, value in stated.items() if key.startswith(INSTRUMENT)]
    if instruments:
        document["instrument"] = instruments
    for name in _LISTS:
        if name in stated:
            document[name] = stated[name]
    if state.entries:
        document["entry"] = [{"id": each.id, **each.content()} for each in state.entries]
    return document


def files_of(state: State) -> dict[str, str]:
    """Digests of the files a car has, by their names on its sheet."""
    return {key.removeprefix(FILE): value["digest"] for key, value in state.stated.items() if key.startswith(FILE)}


def is_on_sheet(key: str) -> bool:
    """Whether a statement stands on a sheet, and is not about a file."""
    return key in {"car", "report", *_LISTS, *(f"car.{each}" for each in _OF_CAR)} or key.startswith(INSTRUMENT)
