"""Rule sets: tables and clauses of their own, stacked so that a later one overrides an earlier.

A rule set is a TOML file with ``format = "carwright-rules/1"``; the shipped ones and a club's are read alike.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from carwright.errors import TableError, UnitError, UnknownNameError
from carwright.tables.formula import Formula, parse_formula
from carwright.tables.load import Tables, read_source, read_toml
from carwright.tables.model import FORCES, Clause, Limit, Row, RuleSet, Source, Table
from carwright.tables.shape import check_shape
from carwright.units import Kind, inside, parse
from carwright.words import Scale, Vocabulary, nearest

FORMAT = "carwright-rules/1"
_SIDES = ("nominal", "lower", "upper", "plus", "minus")
_FILE_KEYS = {
    "format": "a text",
    "id": "a text",
    "title": "a text",
    "tables": "a list of texts",
    "older": "a list of texts",
    "off": "a list of texts",
    "same_scale": "a table of texts",
    "defaults": "a table of texts",
    "source": "a list of tables",
    "clause": "a list of tables",
}
_CLAUSE_KEYS = {
    "sheet": "a text",
    "characteristic": "a text",
    "scales": "a list of texts",
    "replaces": "a list of texts",
    "applies": "a table of texts",
    "note": "a text",
    **dict.fromkeys((*_SIDES, "plus_minus"), "anything"),
    **dict.fromkeys(("force", "source", "edition", "locator", "status", "confidence"), "a text"),
}
_LIMIT_KEYS = {
    **dict.fromkeys(("value", "expression", "unit", "from"), "a text"),
    **dict.fromkeys(("source", "edition", "locator", "status", "confidence"), "a text"),
    "given": "a table of texts",
}


def load_rules(
    names: Sequence[str], *, scale: Scale, tables: Tables, words: Vocabulary, folder: Path | None = None
) -> RuleSet:
    """Stack rule sets for one scale.

    Parameters
    ----------
    names : sequence of str
        Shipped names, or paths of a club's own files ending in ``.toml``, earliest first.
    scale : Scale
        The car's.
    tables : Tables
        Facts.
    words : Vocabulary
        Known characteristics.
    folder : Path, optional
        What a club's path is relative to.

    Returns
    -------
    RuleSet
        All clauses in force, and the superseded editions beside them.

    Raises
    ------
    UnknownNameError
        "there is no rule set 'nrma'; did you mean 'nmra'?"
    TableError
        When a file is not as it must be.
    """
    kept: list[Clause] = []
    older: list[Clause] = []
    for name in names:
        text, file = _find(name, tables, folder)
        rules = read_rules(text, file, scale=scale, tables=tables, words=words)
        kept = [clause for clause in kept if not _matches(clause.id, rules.replaces)]
        new = {clause.id for clause in rules.clauses}
        kept = [clause for clause in kept if clause.id not in new] + list(rules.clauses)
        older += rules.older
    title = " + ".join(names)
    return RuleSet(title, title, tuple(kept), tuple(older), ())


def _matches(clause_id: str, patterns: Sequence[str]) -> bool:
    return any(fnmatchcase(clause_id, pattern) for pattern in patterns)


def _find(name: str, tables: Tables, folder: Path | None) -> tuple[str, str]:
    if name.endswith(".toml"):
        path = (folder or Path()) / name
        try:
            return path.read_text("utf-8"), str(path)
        except (OSError, ValueError) as error:
            raise TableError(repr(str(path)), f"cannot read the rule set: {error}") from error
    text = tables.rules_text(name)
    if text is None:
        raise UnknownNameError("rule set", name, nearest(name, tables.rule_sets()))
    return text, f"rules/{name}.toml"


def read_rules(text: str, file: str, *, scale: Scale, tables: Tables, words: Vocabulary) -> RuleSet:
    """Read one rule set for one scale.

    Raises
    ------
    TableError
        Names the file, the clause and what was expected.
    """
    document = read_toml(text, file)
    if document.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {document.get('format')!r}")
    check_shape(document, _FILE_KEYS, file)
    for key in ("id", "title"):
        if not isinstance(document.get(key), str):
            raise TableError(file, f"needs {key}")
    names = {scale.name, document.get("same_scale", {}).get(scale.name, scale.name)}
    known = dict(tables.bibliography) | {row["key"]: row for row in document.get("source", []) if "key" in row}
    clauses: list[Clause] = []
    for table_id in document.get("tables", []):
        clauses += table_clauses(tables.table(table_id), names, scale, words, document["id"])
    older = [clause for clause in clauses if clause.superseded_by]
    clauses = [clause for clause in clauses if not clause.superseded_by]
    for table_id in document.get("older", []):
        older += table_clauses(tables.table(table_id), names, scale, words, document["id"])
    replaces = list(document.get("off", []))
    reader = _ClauseReader(file, document, scale, tables, known, words)
    for number, raw in enumerate(document.get("clause", []), 1):
        clause = reader.read(raw, number)
        if clause is not None:
            clauses.append(clause)
            replaces += [pattern.replace("{scale}", scale.name) for pattern in raw.get("replaces", [])]
    kept = [clause for clause in clauses if not _matches(clause.id, replaces)]
    return RuleSet(document["id"], document["title"], tuple(kept), tuple(older), tuple(replaces))


def table_clauses(table: Table, names: set[str], scale: Scale, words: Vocabulary, rule_set: str) -> Iterator[Clause]:
    """Clauses a table yields for one scale, one per characteristic.

    Parameters
    ----------
    table : Table
        With columns or formulas that limit a characteristic.
    names : set of str
        Names the scale goes by in this body's sheets.
    scale : Scale
        The scale itself; tables keyed by gauge go by its nominal track.
    words : Vocabulary
        Known characteristics.
    rule_set : str
        Which rule set asks.
    """
    for row in table.rows.values():
        if table.key == "gauge":
            if scale.track is None or float(row.key) != scale.track:
                continue
        elif row.key not in names:
            continue
        for what, sides in _sides(table, row, words).items():
            yield Clause(
                id=f"{table.id}/{row.key}/{what}",
                characteristic=what,
                kind=words.characteristics[what].kind,
                **{side: sides.get(side) for side in _SIDES},
                force=table.force,
                source=row.source,
                rule_set=rule_set,
                superseded_by=row.superseded_by,
                applies=table.applies,
                note=row.note,
            )


def _sides(table: Table, row: Row, words: Vocabulary) -> dict[str, dict[str, Limit]]:
    found: dict[str, dict[str, Limit]] = {}
    for column in table.columns.values():
        cell = row.cells[column.name]
        if column.characteristic and cell.value is not None:
            kind = _kind(words, column.characteristic, table.id)
            limit = Limit(inside(cell.value, kind, column.unit), None, {}, cell.source)
            found.setdefault(column.characteristic, {})[column.limit] = limit
    constants = {name: cell.value for name, cell in row.cells.items() if cell.value is not None}
    for entry in table.formulas:
        if entry.formula.names & set(row.cells) <= set(constants):
            limit = Limit(None, entry.formula, constants, row.source)
            found.setdefault(entry.characteristic, {})[entry.limit] = limit
    return {what: sides for what, sides in found.items() if set(sides) - {"plus", "minus"}}


def _kind(words: Vocabulary, what: str, place: str) -> Kind:
    characteristic = words.characteristics.get(what)
    if characteristic is None or characteristic.kind is None:
        raise TableError(place, f"unknown characteristic {what!r}{nearest(what, words.characteristics)}")
    return characteristic.kind


class _ClauseReader:
    """Reads the ``[[clause]]`` rows of one file for one scale."""

    def __init__(
        self,
        file: str,
        document: Mapping[str, Any],
        scale: Scale,
        tables: Tables,
        known: Mapping[str, Any],
        words: Vocabulary,
    ) -> None:
        self._file, self._set, self._defaults = file, document["id"], document.get("defaults", {})
        self._scale, self._tables, self._words, self._known = scale, tables, words, known
        self._names = {scale.name, document.get("same_scale", {}).get(scale.name, scale.name)}

    def read(self, raw: Mapping[str, Any], number: int) -> Clause | None:
        """One clause, or None where it is for other scales."""
        what = str(raw.get("characteristic", ""))
        place = f"{self._file}, clause {number} ({what or 'no characteristic'})"
        check_shape(raw, _CLAUSE_KEYS, place)
        characteristic = self._words.characteristics.get(what)
        if characteristic is None:
            raise TableError(place, f"unknown characteristic {what!r}{nearest(what, self._words.characteristics)}")
        scales = raw.get("scales", ["*"])
        for name in scales:
            if name != "*" and name not in self._words.scales:
                raise TableError(place, f"unknown scale {name!r}{nearest(name, self._words.scales)}")
        if "*" not in scales and not self._names & set(scales):
            return None
        source = read_source(raw, self._defaults, place, self._known)
        force = raw.get("force", self._defaults.get("force"))
        if force not in FORCES:
            raise TableError(place, f"force must be one of {', '.join(FORCES)}, got {force!r}")
        sides = self._sides(raw, characteristic.kind, source, place)
        if characteristic.kind is not None and not (sides["nominal"] or sides["lower"] or sides["upper"]):
            raise TableError(place, "needs a nominal, a lower or an upper limit")
        if (sides["plus"] or sides["minus"]) and not sides["nominal"]:
            raise TableError(place, "a tolerance needs its nominal")
        fixed = {side: limit.value for side, limit in sides.items() if limit is not None and limit.value is not None}
        if min(fixed.get("plus", 0.0), fixed.get("minus", 0.0)) < 0:
            raise TableError(place, "a tolerance must be zero or more")
        if fixed.get("lower", -math.inf) >= fixed.get("upper", math.inf):
            raise TableError(place, "the lower limit must be below the upper")
        return Clause(
            id=f"{self._set}/{raw.get('sheet', 'practice')}/{self._scale.name}/{what}",
            characteristic=what,
            kind=characteristic.kind,
            nominal=sides["nominal"],
            lower=sides["lower"],
            upper=sides["upper"],
            plus=sides["plus"],
            minus=sides["minus"],
            force=force,
            source=source,
            rule_set=self._set,
            applies=raw.get("applies", {}),
            note=raw.get("note", ""),
        )

    def _sides(self, raw: Mapping[str, Any], kind: Kind | None, source: Source, place: str) -> dict[str, Limit | None]:
        sides: dict[str, Limit | None] = dict.fromkeys(_SIDES)
        for side in (*_SIDES, "plus_minus"):
            if side in raw:
                limit = self._limit(raw[side], kind, source, f"{place}, {side}", side)
                for target in ("plus", "minus") if side == "plus_minus" else (side,):
                    sides[target] = limit
        return sides

    def _limit(self, raw: Any, kind: Kind | None, source: Source, place: str, side: str) -> Limit:
        if kind is None:
            raise TableError(place, "this characteristic is only passed or failed and takes no limit")
        spec: dict[str, Any] = raw if isinstance(raw, dict) else {"value": str(raw)}
        check_shape(spec, _LIMIT_KEYS, place)
        if "from" in spec:
            return self._borrowed(str(spec["from"]), place, side)
        own = read_source(spec, vars_of(source), place, self._known)
        if "expression" in spec:
            formula = parse_formula(
                spec["expression"], given=dict(spec.get("given") or {}), unit=spec.get("unit", ""), place=place
            )
            unknown = formula.names - set(formula.given) - {"ratio"}
            if unknown:
                raise TableError(place, f"unknown name {min(unknown)!r}; geometry is named in `given`")
            self._check_units(formula, kind, place)
            return Limit(None, formula, {}, own)
        try:
            value = parse(str(spec.get("value", "")), kind, ratio=self._scale.ratio, scales=self._words.ratios).value
        except UnitError as error:
            raise TableError(place, str(error)) from error
        return Limit(value, None, {}, own)

    @staticmethod
    def _check_units(formula: Formula, kind: Kind, place: str) -> None:
        try:
            inside(1.0, kind, formula.unit)
            for unit in formula.given.values():
                inside(1.0, "length", unit)
        except UnitError as error:
            raise TableError(place, str(error)) from error

    def _borrowed(self, pattern: str, place: str, side: str) -> Limit:
        wanted = pattern.replace("{scale}", self._scale.name)
        table_id = "/".join(wanted.split("/")[:2])
        names = {self._scale.name, wanted.split("/")[2] if wanted.count("/") > 2 else ""}  # noqa: PLR2004 - body/sheet/row
        for clause in table_clauses(self._tables.table(table_id), names, self._scale, self._words, self._set):
            limit: Limit | None = getattr(clause, side)
            if clause.id == wanted and limit is not None:
                return limit
        raise TableError(place, f"takes its figure from {wanted!r}, which is in no table")


def vars_of(source: Source) -> dict[str, str]:
    """A source as the keys a row may inherit."""
    return {
        "source": source.key,
        "edition": source.edition,
        "locator": source.locator,
        "status": source.status,
        "confidence": source.confidence,
    }
