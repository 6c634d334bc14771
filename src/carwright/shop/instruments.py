"""Instruments kept for all cars: a sheet may name one of them, and the car keeps what it was on that day."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from carwright.errors import TableError
from carwright.history import Sheet, read_sheet
from carwright.history.entries import MODELS
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import LARGEST, read_document
from carwright.inspection import words_of
from carwright.shop.shared import kept_files, kept_text
from carwright.shop.shop import Shop
from carwright.tables.load import read_toml
from carwright.textfile import read_text

FORMAT = "carwright-instruments/1"


def read_instruments(text: str, file: str) -> dict[str, dict[str, Any]]:
    """Rows by the name of the instrument.

    Raises
    ------
    TableError
        "bench.toml, instrument 2: ...", "bench.toml: needs at least one [[instrument]]"
    """
    raw = read_toml(text, file)
    if raw.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {raw.get('format')!r}")
    unknown = set(raw) - {"format", "instrument"}
    if unknown:
        raise TableError(file, f"unknown key {min(unknown)!r}")
    rows = raw.get("instrument", [])
    found: dict[str, dict[str, Any]] = {}
    for number, row in enumerate(rows if isinstance(rows, list) else [], 1):
        try:
            MODELS["instrument"].validate_python(row)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            where = ".".join(str(step) for step in first["loc"])
            raise TableError(f"{file}, instrument {number}", f"{where}: {first['msg']}") from error
        if row["name"] in found:
            raise TableError(f"{file}, instrument {number}", f"{row['name']!r} stands twice")
        found[row["name"]] = row
    if not found:
        raise TableError(file, "needs at least one [[instrument]]")
    return found


def kept_instruments(shop: Shop) -> dict[str, dict[str, Any]]:
    """All instruments kept for all cars, by name; of two of one name the one in the later file."""
    found: dict[str, dict[str, Any]] = {}
    for name, form in kept_files(shop):
        if form == FORMAT:
            found |= read_instruments(kept_text(shop, name), name)
    return found


def read_for(shop: Shop, path: Path) -> Sheet:
    """Read a sheet that may name instruments kept in a shop.

    Raises
    ------
    SheetError
        With every fault.
    """
    kept = kept_instruments(shop)
    words = words_of(shop.tables)
    if not kept:
        return read_sheet(path, words)
    text = read_text(path, most=LARGEST, what="bench sheet")
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError):
        return read_sheet(path, words)  # which says what is wrong
    own, entries = document.get("instrument", []), document.get("entry", [])
    if isinstance(own, list) and isinstance(entries, list):
        named = {each.get("name") for each in own if isinstance(each, dict)}
        used = {str(each["with"]) for each in entries if isinstance(each, dict) and "with" in each}
        added = [kept[name] for name in sorted(used & set(kept)) if name not in named]
        if added:
            document["instrument"] = [*own, *added]
    return read_document(document, Faults(Lines(text)), words, str(path), str(path.parent))
