"""What a file kept for all cars is, checked before it is kept."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from carwright.errors import TableError
from carwright.explain.stock import FORMAT as STOCK
from carwright.explain.stock import read_stock_text
from carwright.inspection import words_of
from carwright.shop.instrument_file import FORMAT as INSTRUMENTS
from carwright.shop.instrument_file import read_instruments
from carwright.tables import Tables
from carwright.tables.dated import FORMAT as DATED
from carwright.tables.dated import dated_of, with_own
from carwright.tables.load import read_toml
from carwright.tables.rules import FORMAT as RULES
from carwright.tables.rules import read_rules
from carwright.verdict.due_rules import FORMAT as DUE
from carwright.verdict.due_rules import read_due_rules
from carwright.verdict.rubric import FORMAT as RUBRIC
from carwright.verdict.rubric import read_rubric

LAYOUT, ROSTER = "track table (CSV)", "roster (CSV)"
FORMS = (RULES, RUBRIC, STOCK, INSTRUMENTS, DATED, DUE, LAYOUT, ROSTER)
"""What may be kept."""
_TRACK = {"kind", "length"}


def form_of(text: str, file: str, tables: Tables) -> str:
    """What a file is, once it has been read as that.

    Parameters
    ----------
    text : str
        Its content.
    file : str
        Its path, for errors.
    tables : Tables
        What its names are checked against.

    Raises
    ------
    TableError, SheetError
        When it is none of :data:`FORMS`, or not as that must be.
    """
    if Path(file).suffix.casefold() == ".csv":
        return _csv(text, file, tables)
    form = read_toml(text, file).get("format")
    words = words_of(tables)
    if form == RUBRIC:
        read_rubric(text, file)
    elif form == STOCK:
        read_stock_text(text, file)
    elif form == INSTRUMENTS:
        read_instruments(text, file)
    elif form == DUE:
        read_due_rules(text, file, words)
    elif form == RULES:
        read_rules(text, file, scale=words.scales["HO"], tables=tables, words=words)
    elif form == DATED:
        with_own(dated_of(tables), Path(file), tables)
    else:
        known = ", ".join(each for each in FORMS if "/" in each)
        raise TableError(file, f"expected a format that can be kept for all cars, one of {known}, got {form!r}")
    return str(form)


def _csv(text: str, file: str, tables: Tables) -> str:
    """A track table by its columns, else a roster."""
    head = next(csv.reader(io.StringIO(text.partition("\n")[0])), [])
    names = {name.partition("[")[0].strip().casefold() for name in head}
    if names >= _TRACK:
        return LAYOUT
    from carwright.prototype.roster import read_roster_text  # noqa: PLC0415 - NumPy is loaded only where it is needed

    read_roster_text(text, dated_of(tables), file)
    return ROSTER
