"""A table of entries in CSV: one row each, its columns named as on a sheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from carwright.errors import Fault
from carwright.history.entries import ENTRY_KINDS, ENTRY_MODELS
from carwright.history.faults import known_keys
from carwright.units import is_bare
from carwright.words import nearest

CAR, VALUE = "car", "value"
"""Columns that are no key of an entry: the car a row is of, and one reading."""
MOST_ROWS = 5000
_LISTS = ("values", "stations", "heights", "gaps", "nominal", "neighbours")
"""Keys whose parts stand in one cell, with ; between them."""
_NUMBERS: Mapping[str, type] = {
    "points": float, "paid": float, "list_price": float, "trust": float, "runs": int, "offset_s": float,
}  # fmt: skip
_TABLES = ("places", "seen", "turned")
"""Keys no cell can hold."""
_NAMES = sorted({key for model in ENTRY_MODELS.values() for key in known_keys(model)} - set(_TABLES) | {CAR, VALUE})
_HEAD = re.compile(r"([^\[\]]*?)\s*(?:\[([^\[\]]+)\])?")
_QUANTITIES = (VALUE, "values", "stations", "heights", "gaps", "nominal", "amount", "turn", "grade")
"""Columns whose cells may have a unit."""


@dataclass(frozen=True, slots=True)
class EntryRow:
    """A row that could be read.

    Attributes
    ----------
    line : int
        Where it stands in the file.
    car : str
        The car it is of as written, "" where no column says.
    body : mapping
        The entry, as on a sheet.
    """

    line: int
    car: str
    body: Mapping[str, Any]


def read_entry_rows(text: str) -> tuple[list[EntryRow], list[Fault]]:
    """Read a table of entries; a bad row never hides the good ones.

    The first row names the columns, each a key of an entry as on a sheet, ``value`` for one reading, or ``car``; a unit
    may stand behind a name, ``value [in]``, and is then that of every cell without one. Parts of a list have ; between
    them. A row without ``kind`` is a reading. Columns are separated by commas, semicolons or tabs.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    tuple
        Rows, and what is wrong with the others, each with its line and column.
    """
    plain = text.removeprefix("\ufeff")
    first = plain.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    rows: list[EntryRow] = []
    faults: list[Fault] = []
    columns: list[tuple[str, str]] | None = None
    for line, cells in _lines(plain, mark, faults):
        if columns is None:
            columns = list(_columns(cells, faults))
            if faults:
                break
        elif not cells:
            continue
        elif len(rows) + len(faults) >= MOST_ROWS:
            faults.append(Fault(line, "", f"more than {MOST_ROWS} rows; give the rest in another file"))
            break
        else:
            found = _cells(line, cells, columns, mark, faults)
            if found is not None:
                rows.append(found)
    if columns is None and not faults:  # not even a first row
        list(_columns([], faults))
    return rows, faults


def _lines(text: str, mark: str, faults: list[Fault]) -> Iterator[tuple[int, list[str]]]:
    """First line and cells of every row, blank ones behind left out; one badly quoted is passed over, and said."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            faults.append(Fault(line, "", f"not CSV: {error}; a quote within a cell is written twice, in quotes"))
            continue
        while cells and not cells[-1].strip():
            cells.pop()
        yield line, cells


def _columns(head: Sequence[str], faults: list[Fault]) -> Iterator[tuple[str, str]]:
    """Name and unit of every column."""
    if not any(cell.strip() for cell in head):
        faults.append(Fault(1, "", "expected a first row of column names, such as: car, what, at, value [in], with"))
        return
    seen: set[str] = set()
    for number, cell in enumerate(head, 1):
        match = _HEAD.fullmatch(cell.strip())
        name, unit = (match[1].strip().casefold(), (match[2] or "").strip()) if match else (cell.strip(), "")
        if name not in _NAMES:
            faults.append(Fault(1, f"column {number}", f"unknown column {name[:40]!r}{nearest(name, _NAMES)}"))
        elif name in seen:
            faults.append(Fault(1, f"column {number}", f"{name!r} stands twice"))
        elif unit and name not in _QUANTITIES:
            faults.append(Fault(1, f"column {number}", f"{name!r} has no unit, got [{unit[:20]}]"))
        seen.add(name)
        yield name, unit


def _cells(
    line: int, cells: Sequence[str], columns: Sequence[tuple[str, str]], mark: str, faults: list[Fault]
) -> EntryRow | None:
    """A row by its columns, None where something is wrong with it."""
    if len(cells) > len(columns):
        hint = "; a cell that holds the separator needs double quotes" if mark != "\t" else ""
        faults.append(Fault(line, "", f"has {len(cells)} cells, and there are {len(columns)} columns{hint}"))
        return None
    return _row(line, dict(zip(columns, cells, strict=False)), faults)


def _row(line: int, cells: Mapping[tuple[str, str], str], faults: list[Fault]) -> EntryRow | None:
    before = len(faults)
    body: dict[str, Any] = {"kind": "reading"}
    car = ""
    for (name, unit), raw in cells.items():
        text = raw.strip()
        if not text:
            continue
        if name == CAR:
            car = text
        elif name == VALUE and any(other == "values" and cell.strip() for (other, _), cell in cells.items()):
            faults.append(Fault(line, "column value", "stands beside values: give one of them"))
        elif name == VALUE:
            body["values"] = [_with_unit(text, unit)]
        elif name in _LISTS:
            body[name] = [_with_unit(part.strip(), unit) for part in text.split(";") if part.strip()]
        elif name in _NUMBERS and not (name == "offset_s" and ":" in text):
            try:
                body[name] = _NUMBERS[name](text.replace(",", "."))
            except ValueError:
                faults.append(Fault(line, f"column {name}", f"cannot read {text[:40]!r}: expected a number"))
        else:
            body[name] = _with_unit(text, unit) if unit else text
    if body["kind"] not in ENTRY_KINDS:
        kind = str(body["kind"])
        faults.append(Fault(line, "column kind", f"unknown kind of entry {kind[:40]!r}{nearest(kind, ENTRY_KINDS)}"))
    return EntryRow(line, car, body) if len(faults) == before else None


def _with_unit(text: str, unit: str) -> str:
    """A cell with its column's unit where it has none of its own."""
    return f"{text} {unit}" if unit and is_bare(text) else text
