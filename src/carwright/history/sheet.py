"""The bench sheet: a car and its history as one TOML file a person can write."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from pydantic import BaseModel, ValidationError

from carwright.errors import Fault, SheetError
from carwright.history.check import Checker, entry_place
from carwright.history.entries import (
    ENTRY_KINDS,
    ENTRY_MODELS,
    FORMAT,
    MODELS,
    Car,
    Entry,
    InstrumentRow,
    Part,
    Pocket,
    PriorRow,
    Report,
)
from carwright.history.evidence import read_portrayed
from carwright.history.faults import Faults, known_keys
from carwright.history.geometry import read_geometry
from carwright.history.instruments import Instruments
from carwright.history.lines import Lines
from carwright.history.log import read_log, read_reported
from carwright.history.order import in_order
from carwright.history.records import CarPart, History, Portrayed
from carwright.textfile import read_text
from carwright.words import Scale, Vocabulary, nearest

LARGEST = 1_000_000
"""Bytes a sheet may have: some ten thousand entries."""
DEFAULT_RULES = ("nmra", "bench")
EUROPEAN_RULES = ("nem", "bench")
"""Taken where a sheet names none and only the European norms know its scale."""
_TABLES: dict[str, type[BaseModel]] = {
    "instrument": InstrumentRow,
    "prior": PriorRow,
    "part": Part,
    "pocket": Pocket,
}
_UNREAD = "?"
_TOP = ("format", "car", "report", *_TABLES, "entry")


@dataclass(frozen=True)
class Sheet:
    """A sheet as written, and the history read from it.

    Attributes
    ----------
    car, report, instruments, priors, parts, pockets, entries
        As written, every digit kept.
    history : History
        What the other rooms read.
    file : str
        Its name, for messages.
    """

    car: Car
    instruments: tuple[InstrumentRow, ...]
    priors: tuple[PriorRow, ...]
    parts: tuple[Part, ...]
    pockets: tuple[Pocket, ...]
    entries: tuple[Entry, ...]
    history: History = field(compare=False)
    file: str = field(default="", compare=False)
    report: Report = field(default_factory=Report)


def read_sheet(path: str | Path, words: Vocabulary) -> Sheet:
    """Read a sheet from a file.

    Parameters
    ----------
    path : path
        The file.
    words : Vocabulary
        Known names.

    Raises
    ------
    SheetError
        With every fault: file, line, entry, and what was expected.
    """
    text = read_text(path, most=LARGEST, what="bench sheet")
    return read_sheet_text(text, words, file=str(path), folder=str(Path(path).parent))


def read_sheet_text(text: str, words: Vocabulary, *, file: str = "sheet", folder: str = "") -> Sheet:
    """Read a sheet from its text; see :func:`read_sheet`."""
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = int(str(error).partition("(at line ")[2].partition(",")[0] or 0)
        message = str(error).partition(" (at ")[0]
        hint = _quote_hint(text, line) if line else "; a quote or a bracket is not closed"
        raise SheetError(file, [Fault(line, "", f"not TOML: {message[0].lower()}{message[1:]}{hint}")]) from error
    except ValueError as error:
        raise SheetError(file, [Fault(0, "", f"not TOML: {error}")]) from error
    except RecursionError as error:
        raise SheetError(file, [Fault(0, "", "nested too deeply to be a bench sheet")]) from error
    return read_document(document, Faults(Lines(text)), words, file, folder)


def read_document(document: Mapping[str, Any], faults: Faults, words: Vocabulary, file: str, folder: str) -> Sheet:
    """Read a sheet from its document; ``faults`` knows the lines, and what is wrong already."""
    return _Reader(document, faults, words, file, folder).read()


_INCHES = re.compile(r"""\d"\s*["\],}#]|\d"\s*\w""")
_CURLY = re.compile("=\\s*\\[?\\s*[\u201c\u201d\u2018\u2019]")


def _quote_hint(text: str, line: int) -> str:
    """What people most often mean when TOML cannot be read: an inch mark within quotes, or curly quotes."""
    lines = text.splitlines()
    shown = lines[line - 1] if 0 < line <= len(lines) else ""
    if _CURLY.search(shown):
        return "; curly quotes do not count: write straight ones"
    if _INCHES.search(shown):
        return "; an inch mark ends the quotes: write 'in', or put the text in single quotes, as in '25/64\"'"
    if shown.count('"') % 2:
        return "; a quote is missing"
    return ""


class _Reader:
    def __init__(self, document: Mapping[str, Any], faults: Faults, words: Vocabulary, file: str, folder: str) -> None:
        self._document, self._faults, self._words, self._file, self._folder = (
            document,
            faults,
            words,
            file,
            folder,
        )

    def read(self) -> Sheet:
        self._format()
        for key in self._document:
            if key not in _TOP:
                self._faults.add("", f"unknown table or key {key!r}{nearest(key, _TOP)}", key)
        car = self._car()
        report = self._report()
        rows = {name: self._rows(name, model) for name, model in _TABLES.items()}
        entries = self._entries()
        scale = self._words.scales.get(car.scale)
        if scale is None:
            # The rest is still checked, so that all faults come at once, but nothing by its size.
            if car.scale != _UNREAD:
                hint = nearest(car.scale, self._words.scales)
                self._faults.add("car", f"unknown scale {car.scale!r}{hint}", "car", 0, "scale")
            scale = Scale(_UNREAD, 1.0, 1.0, None)
        geometry = read_geometry(car, scale, self._words, self._faults)
        pockets = tuple(geometry.read_pocket(index, pocket) for index, pocket in rows["pocket"])
        listed = self._document.get("instrument", [])
        named = {str(raw.get("name")) for raw in listed if isinstance(raw, dict)} if isinstance(listed, list) else set()
        broken = named - {row.name for _, row in rows["instrument"]}
        instruments = Instruments(rows["instrument"], self._words, self._faults, broken)
        portrayed = self._portrayed(car)
        own = bool(portrayed.dated)
        checker = Checker(self._words, scale, geometry, instruments, self._faults, own_features=own)
        stages = checker.run(entries)
        priors = checker.priors(rows["prior"])
        self._rules(car)
        for name in instruments.declared():
            for kind in ("length", "mass", "angle", "slope", "force", "time"):
                instruments.figures(name, kind, ())
        if self._faults.found:
            raise SheetError(self._file, self._faults.found)
        european = car.scale in self._words.european
        rules = tuple(car.rules) if car.rules else EUROPEAN_RULES if european else DEFAULT_RULES
        history = History(
            title=car.title,
            type=car.type or "",
            scale=scale,
            system=car.system or ("metric" if "nem" in rules else "us"),
            rules=rules,
            rubric=car.rubric or "",
            properties={
                key: value
                for key in ("coupler", "trip_pin", "type", "wheels")
                if (value := getattr(car, key)) is not None
            },
            geometry=geometry.lengths,
            geometry_text=geometry.texts,
            coupler_mount=car.geometry.coupler_mount or "",
            axles=geometry.axles,
            prototype=_facts(car),
            stages=stages,
            instruments=instruments.used,
            readings=tuple(checker.readings),
            gauges=tuple(checker.gauges),
            priors=priors,
            looks=tuple(checker.looks),
            works=tuple(checker.works),
            rulings=tuple(checker.rulings),
            photos=tuple(checker.photos),
            acquisitions=tuple(checker.acquisitions),
            profiles=tuple(checker.profiles),
            spreads=tuple(checker.spreads),
            parts=tuple(
                CarPart(part.name, part.material or "", part.at or "", bool(part.fragile), bool(part.removable))
                for _, part in rows["part"]
            ),
            pockets=pockets,
            stock=car.stock or "",
            evidence=tuple(checker.evidence),
            portrayed=portrayed,
            kept=dict(sorted(checker.kept.items())),
            folder=self._folder,
            notes=tuple(entry.note or "" for _, entry in in_order(entries) if entry.kind == "note"),
            id=car.id or "",
            log=read_log(entries),
            reported=read_reported(report),
            placements=tuple(checker.placements),
            running=tuple(checker.running),
        )
        plain = {name: tuple(row for _, row in found) for name, found in rows.items()}
        return Sheet(
            car=car,
            instruments=plain["instrument"],
            priors=plain["prior"],
            parts=plain["part"],
            pockets=plain["pocket"],
            entries=tuple(entry for _, entry in entries),
            history=history,
            file=self._file,
            report=report,
        )

    def _format(self) -> None:
        found = self._document.get("format")
        if found == FORMAT:
            return
        if isinstance(found, str) and found.startswith("carwright-sheet/"):
            message = f"{found!r} was made by a later carwright; this one reads {FORMAT!r}"
        else:
            message = f"expected format = {FORMAT!r}, got {found!r}"
        raise SheetError(self._file, [Fault(self._faults.line("format"), "format", message)])

    def _car(self) -> Car:
        """The car; where it has faults, what is left of it, so that the rest of the sheet can still be checked."""
        raw = self._document.get("car")
        if not isinstance(raw, dict):
            self._faults.add("car", "needs a [car] table with title and scale", "car")
            raw = {"title": _UNREAD, "scale": _UNREAD}
        try:
            found: Car = MODELS["car"].validate_python(raw)
        except ValidationError as error:
            self._faults.add_validation(error, Car, "car", "car", 0, "length")
            rest = copy.deepcopy(raw)
            for problem in error.errors(include_url=False):
                _drop(rest, [str(step) for step in problem["loc"]])
            left = {"title": _UNREAD, "scale": _UNREAD} | rest
            try:
                found = MODELS["car"].validate_python(left)
            except ValidationError:
                found = Car(title=_UNREAD, scale=str(left["scale"]))
        return found

    def _report(self) -> Report:
        """Who publishes; as good as nothing where it has faults, which are noted."""
        raw = self._document.get("report", {})
        if isinstance(raw, list):
            self._faults.add("report", "write it as [report], with one bracket", "report")
            return Report()
        found = self._validated("report", raw, Report, "report", 0)
        return found if found is not None else Report()

    def _rows(self, name: str, model: type[BaseModel]) -> list[tuple[int, Any]]:
        found = []
        for number, raw in enumerate(self._listed(name)):
            label = raw.get("name") or raw.get("what") or "" if isinstance(raw, dict) else ""
            place = f"{name} {number + 1}" + (f" ({label})" if label else "")
            row = self._validated(name, raw, model, place, number)
            if row is not None:
                found.append((number, row))
        return found

    def _entries(self) -> list[tuple[int, Entry]]:
        found = []
        for number, raw in enumerate(self._listed("entry")):
            kind = raw.get("kind") if isinstance(raw, dict) else None
            model = ENTRY_MODELS.get(kind) if isinstance(kind, str) else None
            if model is None:
                problem = f"unknown kind {kind!r}{nearest(str(kind), ENTRY_KINDS)}"
                if kind is None:
                    problem = f"needs kind: one of {', '.join(ENTRY_KINDS)}"
                self._faults.add(f"entry {number + 1}", problem, "entry", number, "" if kind is None else "kind")
                continue
            entry = self._validated(str(kind), raw, model, entry_place(number, str(kind), raw), number, "entry")
            if entry is not None:
                found.append((number, entry))
        return found

    def _listed(self, name: str) -> list[Any]:
        raw = self._document.get(name, [])
        if isinstance(raw, list):
            return raw
        self._faults.add(name, f"write it as [[{name}]], with two brackets", name)
        return []

    def _validated(
        self, adapter: str, raw: Any, model: type[BaseModel], place: str, number: int, table: str = ""
    ) -> Any:
        try:
            return MODELS[adapter].validate_python(raw)
        except ValidationError as error:
            what = self._words.characteristics.get(str(raw.get("what"))) if isinstance(raw, dict) else None
            kind = what.kind if what is not None else "length" if adapter in {"car", "profile"} else None
            self._faults.add_validation(error, model, place, table or adapter, number, kind)
        return self._without_unknown_keys(adapter, raw, model)

    @staticmethod
    def _without_unknown_keys(adapter: str, raw: Any, model: type[BaseModel]) -> Any:
        """What is left without unknown keys, so that they hide no other slip; None where that is still faulty."""
        if not isinstance(raw, dict):
            return None
        try:
            return MODELS[adapter].validate_python({key: raw[key] for key in known_keys(model) if key in raw})
        except ValidationError:
            return None

    def _portrayed(self, car: Car) -> Portrayed:
        if car.prototype is None:
            return Portrayed()
        portrayed, faults = read_portrayed(car.prototype)
        for index, row in enumerate(car.prototype.dimension, 1):
            if "." in row.name and row.name not in self._words.characteristics:
                hint = nearest(row.name, self._words.characteristics)
                faults.append((f"dimension {index} ({row.name})", f"unknown characteristic {row.name!r}{hint}"))
        for key, message in faults:
            name, _, number = key.partition(" ")
            if name == "dimension" and number:
                self._faults.add(
                    f"car, prototype, {key}", message, "car.prototype.dimension", int(number.split()[0]) - 1
                )
            else:
                self._faults.add("car, prototype", message, "car.prototype", 0, key)
        for path in (*portrayed.dated, *filter(None, [portrayed.roster])):
            inside = PurePosixPath(path.replace("\\", "/"))
            if inside.is_absolute() or ".." in inside.parts or ":" in path:
                self._faults.add("car, prototype", f"{path!r} must lie beside the sheet or in a folder below it",
                                 "car.prototype", 0, "dated")  # fmt: skip
        return portrayed

    def _rules(self, car: Car) -> None:
        for name in car.rules or ():
            if not name.endswith(".toml") and name not in self._words.rule_sets:
                hint = nearest(name, self._words.rule_sets)
                self._faults.add("car", f"unknown rule set {name!r}{hint}", "car", 0, "rules")


def _drop(table: dict[str, Any], path: list[str]) -> None:
    """Take out what a path leads to, as far as it leads through tables."""
    for step in path[:-1]:
        inner = table.get(step)
        if not isinstance(inner, dict):
            break
        table = inner
        path = path[1:]
    table.pop(path[0], None)


def _facts(car: Car) -> dict[str, str]:
    if car.prototype is None:
        return {}
    raw = car.prototype.model_dump(by_alias=True, exclude_none=True)
    first = {key: fact[0] if isinstance(fact, list) else fact for key, fact in raw.items() if key in _FACTS and fact}
    return {key: str(fact["value"] if isinstance(fact, dict) else fact) for key, fact in first.items()}


_FACTS = ("owner", "class", "number", "series", "quantity", "builder", "built", "rebuilt", "capacity")


def write_sheet(sheet: Sheet) -> str:
    """A sheet as TOML; reading it back gives an equal sheet.

    Returns
    -------
    str
        The text, quantities with the digits they were written with.
    """
    import tomli_w  # noqa: PLC0415 - only writing needs it

    return tomli_w.dumps(sheet_document(sheet))


def sheet_document(sheet: Sheet) -> dict[str, Any]:
    """A sheet as plain values, what was not written left out; :func:`read_document` reads it."""
    document: dict[str, Any] = {"format": FORMAT, "car": _plain(sheet.car)}
    if sheet.report.model_fields_set:
        document["report"] = _plain(sheet.report)
    for name, rows in (
        ("instrument", sheet.instruments),
        ("prior", sheet.priors),
        ("part", sheet.parts),
        ("pocket", sheet.pockets),
        ("entry", sheet.entries),
    ):
        if rows:
            document[name] = [_plain(row) for row in rows]
    return document


def _plain(model: BaseModel) -> dict[str, Any]:
    return model.model_dump(by_alias=True, exclude_none=True, exclude_unset=True)


__all__ = ["Sheet", "known_keys", "read_document", "read_sheet", "read_sheet_text", "sheet_document", "write_sheet"]
