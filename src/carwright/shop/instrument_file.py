"""A file of instruments kept for all cars."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from carwright.errors import TableError
from carwright.history.entries import MODELS
from carwright.tables.load import read_toml

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
