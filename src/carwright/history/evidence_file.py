"""The evidence file: pictures, drawings and roster lines of one car without a bench sheet."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from carwright.errors import Fault, SheetError
from carwright.history.entries import FORMAT as SHEET
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import LARGEST, Sheet, read_document
from carwright.textfile import read_text
from carwright.words import Vocabulary, nearest

FORMAT = "carwright-evidence/1"
_CAR = ("title", "scale", "type", "system")
_PROTOTYPE = ("wanted", "country", "use")
KEYS = ("format", "rules", *_CAR, *_PROTOTYPE, "prototype", "evidence")
"""Top-level keys of an evidence file; ``rules`` names files of dated rules of the person's own."""
_RENAMED = {"evidence": "entry", "prototype": "car.prototype"}
ANY_SCALE = "HO"
"""Taken where the file names no scale; nothing is then said in model sizes."""


def read_evidence_file(path: str | Path, words: Vocabulary) -> tuple[Sheet, bool]:
    """An evidence file as a sheet that holds only evidence, and whether it names a scale.

    Raises
    ------
    SheetError
        With every fault: file, line, piece of evidence, and what was expected.
    """
    text = read_text(path, most=LARGEST, what="evidence file")
    return read_evidence_text(text, words, file=str(path), folder=str(Path(path).parent))


def read_evidence_text(text: str, words: Vocabulary, *, file: str = "evidence", folder: str = "") -> tuple[Sheet, bool]:
    """Read an evidence file from its text; see :func:`read_evidence_file`."""
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        line = int(str(error).partition("(at line ")[2].partition(",")[0] or 0)
        raise SheetError(file, [Fault(line, "", f"not TOML: {str(error).partition(' (at ')[0]}")]) from error
    found = raw.get("format")
    if found != FORMAT:
        raise SheetError(file, [Fault(0, "format", f"expected format = {FORMAT!r}, got {found!r}")])
    faults = Faults(Lines(text, _RENAMED))
    for key in raw:
        if key not in KEYS:
            faults.add("", f"unknown table or key {key!r}{nearest(key, KEYS)}", key)
    try:
        return read_document(_as_sheet(raw), faults, words, file, folder), "scale" in raw
    except SheetError as error:
        raise SheetError(file, [_as_written(fault) for fault in error.faults]) from error


def _as_written(fault: Fault) -> Fault:
    """A fault in the words of the evidence file, which knows no entries and no car."""
    place, message = fault.place, fault.message.replace("[[entry]]", "[[evidence]]")
    found = re.match(r"entry (\d+)(?: \(evidence ?(.*?)\))?(.*)", place)
    if found is not None:
        place = f"evidence {found[1]}{f' ({found[2]})' if found[2] else ''}{found[3]}"
    return Fault(fault.line, place.removeprefix("car, ").replace("entry", "evidence"), message)


def _as_sheet(raw: dict[str, Any]) -> dict[str, Any]:
    """The same as a sheet's document would have it."""
    car: dict[str, Any] = {key: raw[key] for key in _CAR if key in raw}
    prototype = raw.get("prototype", {})
    if isinstance(prototype, dict):
        prototype = {**prototype, **{key: raw[key] for key in _PROTOTYPE if key in raw}}
        if "rules" in raw:
            prototype["dated"] = raw["rules"]
    if prototype:
        car["prototype"] = prototype
    pieces = raw.get("evidence", [])
    if isinstance(pieces, list):
        pieces = [{"kind": "evidence", **each} if isinstance(each, dict) else each for each in pieces]
    return {"format": SHEET, "car": {"title": "evidence", "scale": ANY_SCALE, **car}, "entry": pieces}
