"""Instruments kept for all cars: a sheet may name one of them, and the car keeps what it was on that day."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from carwright.history import Sheet, read_sheet
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import LARGEST, read_document
from carwright.inspection import words_of
from carwright.shop.instrument_file import FORMAT, read_instruments
from carwright.shop.shared import kept_files, kept_text
from carwright.shop.shop import Shop
from carwright.tables import shipped
from carwright.textfile import read_text


def kept_instruments(shop: Shop) -> dict[str, dict[str, Any]]:
    """All instruments kept for all cars, by name; of two of one name the one in the later file."""
    found: dict[str, dict[str, Any]] = {}
    for name, form in kept_files(shop):
        if form == FORMAT:
            found |= read_instruments(kept_text(shop, name), name)
    return found


def read_for(shop: Shop | None, path: Path) -> tuple[Sheet, frozenset[str]]:
    """Read a sheet that may name instruments kept in a shop.

    Parameters
    ----------
    shop : Shop or None
        Where instruments are kept; None where there is none yet.
    path : Path
        The sheet.

    Returns
    -------
    tuple
        The sheet, and the names of the instruments it has from the shop.

    Raises
    ------
    SheetError
        With every fault.
    """
    kept = kept_instruments(shop) if shop is not None else {}
    words = words_of(shop.tables if shop is not None else shipped())
    if not kept:
        return read_sheet(path, words), frozenset()
    text = read_text(path, most=LARGEST, what="bench sheet")
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError):
        return read_sheet(path, words), frozenset()  # which says what is wrong
    own, entries = document.get("instrument", []), document.get("entry", [])
    borrowed: list[str] = []
    if isinstance(own, list) and isinstance(entries, list):
        named = {each.get("name") for each in own if isinstance(each, dict)}
        used = {str(each["with"]) for each in entries if isinstance(each, dict) and "with" in each}
        borrowed = [name for name in sorted(used & set(kept)) if name not in named]
        if borrowed:
            document["instrument"] = [*own, *(kept[name] for name in borrowed)]
    sheet = read_document(document, Faults(Lines(text)), words, str(path), str(path.parent))
    return sheet, frozenset(borrowed)
