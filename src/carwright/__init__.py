"""carwright: measure, judge and write about scale-model railroad cars, with uncertainty.

>>> import carwright as cw
>>> sheet = cw.read_sheet("hopper.toml")  # doctest: +SKIP
>>> cw.inspect(sheet).verdict.status  # doctest: +SKIP
'in service'
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from carwright.errors import CarwrightError, SheetError
from carwright.history import History, Sheet, write_sheet
from carwright.history import read_sheet as _read_sheet
from carwright.history import read_sheet_text as _read_sheet_text
from carwright.inspection import Inspection, inspect, words_of
from carwright.judge import Finding, NextReading
from carwright.tables import Tables, shipped
from carwright.verdict import Deduction, Verdict

if TYPE_CHECKING:
    from carwright.shop import Shop

__version__ = "0.1.0"
__all__ = [
    "CarwrightError",
    "Deduction",
    "Finding",
    "History",
    "Inspection",
    "NextReading",
    "Sheet",
    "SheetError",
    "Tables",
    "Verdict",
    "inspect",
    "open_shop",
    "read_sheet",
    "read_sheet_text",
    "words_of",
    "write_sheet",
]


def read_sheet(path: str | Path, tables: Tables | None = None) -> Sheet:
    """Read a bench sheet.

    Parameters
    ----------
    path : path
        A TOML file with ``format = "carwright-sheet/1"``.
    tables : Tables, optional
        Where its words are defined; the shipped ones where omitted.

    Raises
    ------
    SheetError
        With every fault, each naming the line, the entry and what was expected.
    """
    return _read_sheet(path, words_of(tables or shipped()))


def read_sheet_text(text: str, *, file: str = "sheet", folder: str = "", tables: Tables | None = None) -> Sheet:
    """Read a bench sheet from its text; see :func:`read_sheet`."""
    return _read_sheet_text(text, words_of(tables or shipped()), file=file, folder=folder)


def open_shop(place: str | Path = "", *, create: bool = False) -> Shop:
    """Open a shop, the kept histories of many cars; see :func:`carwright.shop.open_shop`."""
    from carwright.shop import open_shop as opened  # noqa: PLC0415 - the database is loaded only where there is one

    return opened(place, create=create)
