"""Reading table files: every figure has a source, an edition, a locator and a status, or is refused."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from carwright.errors import TableError, UnknownNameError
from carwright.tables.formula import parse_formula
from carwright.tables.model import (
    CONFIDENCES,
    FORCES,
    STATUSES,
    Cell,
    Column,
    Rival,
    Row,
    Source,
    Table,
    TableFormula,
)
from carwright.words import nearest

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

_SOURCE_KEYS = ("source", "edition", "locator", "status", "confidence")
_LIMITS = ("lower", "upper", "nominal", "plus", "minus")
_ROW_KEYS = {"note", "superseded_by", "empty", *_SOURCE_KEYS}


class Tables:
    """The tables of one folder, each read when first asked for.

    Parameters
    ----------
    folder : Traversable
        Holds ``bibliography.toml`` and one file per table, named by its id with ``/`` as ``_``.
    """

    def __init__(self, folder: Traversable) -> None:
        self._folder = folder
        self._read: dict[str, Table] = {}
        self._bibliography: Mapping[str, Mapping[str, str]] | None = None

    @property
    def bibliography(self) -> Mapping[str, Mapping[str, str]]:
        """Every source by key: title, body, kind, url, note."""
        if self._bibliography is None:
            self._bibliography = read_bibliography(self._text("bibliography"))
        return self._bibliography

    def ids(self) -> list[str]:
        """Ids of all tables, sorted."""
        names = [entry.name.removesuffix(".toml") for entry in self._folder.iterdir() if entry.name.endswith(".toml")]
        return sorted(name.replace("_", "/", 1) for name in names if name != "bibliography")

    def table(self, table_id: str) -> Table:
        """One table.

        Raises
        ------
        UnknownNameError
            "there is no table 'nmra/s-9'; did you mean 'nmra/s-2'?"
        TableError
            When a row lacks what it must have.
        """
        if table_id not in self._read:
            if table_id not in self.ids():
                raise UnknownNameError("table", table_id, nearest(table_id, self.ids()))
            name = table_id.replace("/", "_")
            table = read_table(self._text(name), f"{name}.toml", self.bibliography)
            if table.id != table_id:
                raise TableError(f"{name}.toml", f"id must be {table_id!r}, got {table.id!r}")
            self._read[table_id] = table
        return self._read[table_id]

    def all(self) -> Iterator[Table]:
        """Every table, in order of id."""
        for table_id in self.ids():
            yield self.table(table_id)

    def rules_text(self, name: str) -> str | None:
        """Text of a shipped rule set, None if there is none of that name."""
        entry = self._folder / "rules" / f"{name}.toml"
        return entry.read_text("utf-8") if entry.is_file() else None

    def dated_text(self, name: str) -> str:
        """Text of a file of what dates a car."""
        return (self._folder / "dated" / f"{name}.toml").read_text("utf-8")

    def rule_sets(self) -> tuple[str, ...]:
        """Names of the shipped rule sets."""
        return tuple(sorted(entry.name.removesuffix(".toml") for entry in (self._folder / "rules").iterdir()))

    def _text(self, name: str) -> str:
        return (self._folder / f"{name}.toml").read_text("utf-8")


@lru_cache(maxsize=1)
def shipped() -> Tables:
    """The tables that come with the package."""
    return Tables(files("carwright.tables") / "data")


def read_toml(text: str, file: str) -> dict[str, Any]:
    """Parse TOML.

    Raises
    ------
    TableError
        "<file>: not TOML: ..."
    """
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as error:
        raise TableError(file, f"not TOML: {error}") from error


def read_bibliography(text: str) -> Mapping[str, Mapping[str, str]]:
    """Sources by key.

    Raises
    ------
    TableError
        "bibliography.toml, source 3: needs key, title and body"
    """
    sources: dict[str, Mapping[str, str]] = {}
    for number, row in enumerate(read_toml(text, "bibliography.toml").get("source", []), 1):
        if not all(row.get(name) for name in ("key", "title", "body", "kind")):
            raise TableError(f"bibliography.toml, source {number}", "needs key, title, body and kind")
        if row["key"] in sources:
            raise TableError(f"bibliography.toml, source {number}", f"key {row['key']!r} stands twice")
        sources[row["key"]] = row
    return sources


def read_source(row: Mapping[str, Any], inherited: Mapping[str, Any], place: str, known: Mapping[str, Any]) -> Source:
    """The source of a row, its own keys before the table's.

    Raises
    ------
    TableError
        "<place>: needs a locator" and the like.
    """
    found = {key: row.get(key) or inherited.get(key) for key in _SOURCE_KEYS}
    for key, value in found.items():
        if not isinstance(value, str) or not value.strip():
            article = "an" if key == "edition" else "a"
            raise TableError(place, f"needs {article} {key}")
    for key, allowed in (("status", STATUSES), ("confidence", CONFIDENCES)):
        if found[key] not in allowed:
            raise TableError(place, f"{key} {found[key]!r} must be one of {', '.join(allowed)}")
    if found["source"] not in known:
        raise TableError(place, f"source {found['source']!r} is not in the bibliography")
    return Source(*(str(found[key]) for key in _SOURCE_KEYS))


def read_table(text: str, file: str, bibliography: Mapping[str, Any]) -> Table:
    """Read one table file.

    Parameters
    ----------
    text : str
        TOML with ``[table]``, its columns and ``[[row]]``.
    file : str
        Its name, for errors.
    bibliography : mapping
        Known sources by key.

    Raises
    ------
    TableError
        Names file, row and what is missing.
    """
    document = read_toml(text, file)
    head = document.get("table")
    if not isinstance(head, dict):
        raise TableError(file, "needs a [table] head")
    for key in ("id", "title", "key", "unit"):
        if not head.get(key):
            raise TableError(file, f"[table] needs {key}")
    columns = _columns(head, file)
    words = set(head.get("text", []))
    rows: dict[str, Row] = {}
    for number, raw in enumerate(document.get("row", []), 1):
        name = str(raw.get(head["key"], ""))
        place = f"{file}, row {name or number}"
        if not name or name in rows:
            raise TableError(place, f"needs its own {head['key']}")
        rows[name] = _row(raw, name, head, columns, words, place, bibliography)
    if not rows:
        raise TableError(file, "has no rows")
    clauses = head.get("clauses", {})
    if clauses and clauses.get("force") not in FORCES:
        raise TableError(file, f"force must be one of {', '.join(FORCES)}")
    return Table(
        id=head["id"],
        title=head["title"],
        key=head["key"],
        columns=columns,
        rows=rows,
        source=read_source({}, head, file, bibliography),
        note=head.get("note", ""),
        superseded_by=head.get("superseded_by", ""),
        force=clauses.get("force", ""),
        applies=clauses.get("applies", {}),
        formulas=tuple(_formula(raw, columns, file) for raw in head.get("formula", [])),
        rivals=tuple(_rival(raw, rows, head, file, bibliography) for raw in document.get("rival", [])),
    )


def _columns(head: Mapping[str, Any], file: str) -> dict[str, Column]:
    columns = {}
    for name, raw in head.get("columns", {}).items():
        if not raw.get("meaning"):
            raise TableError(f"{file}, column {name}", "needs a meaning")
        if bool(raw.get("characteristic")) != (raw.get("limit") in _LIMITS):
            raise TableError(f"{file}, column {name}", f"characteristic goes with a limit of {', '.join(_LIMITS)}")
        columns[name] = Column(
            name,
            raw.get("unit", head["unit"]),
            raw["meaning"],
            raw.get("characteristic", ""),
            raw.get("limit", ""),
        )
    return columns


def _row(
    raw: Mapping[str, Any],
    name: str,
    head: Mapping[str, Any],
    columns: Mapping[str, Column],
    words: set[str],
    place: str,
    bibliography: Mapping[str, Any],
) -> Row:
    source = read_source(raw, head, place, bibliography)
    unknown = set(raw) - set(columns) - words - _ROW_KEYS - {head["key"]}
    if unknown:
        raise TableError(place, f"undeclared column {min(unknown)!r}")
    empty = {**head.get("empty", {}), **raw.get("empty", {})}
    cells = {}
    for column in columns.values():
        value = raw.get(column.name)
        reason = empty.get(column.name, "")
        if value is None and not reason:
            raise TableError(place, f"{column.name} is empty and gives no reason")
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise TableError(place, f"{column.name} must be a number in {column.unit}, got {value!r}")
        locator = f"{source.locator}, row {name}, column {column.name}"
        cell_source = Source(source.key, source.edition, locator, source.status, source.confidence)
        cells[column.name] = Cell(
            None if value is None else float(value), column.unit, cell_source, "" if value is not None else reason
        )
    texts = {word: str(raw[word]) for word in words if word in raw}
    return Row(
        name,
        cells,
        texts,
        source,
        raw.get("note", ""),
        raw.get("superseded_by", head.get("superseded_by", "")),
    )


def _formula(raw: Mapping[str, Any], columns: Mapping[str, Column], file: str) -> TableFormula:
    place = f"{file}, formula for {raw.get('characteristic')}"
    if raw.get("limit") not in _LIMITS or not raw.get("characteristic"):
        raise TableError(place, f"needs a characteristic and a limit of {', '.join(_LIMITS)}")
    formula = parse_formula(raw["expression"], given=raw.get("given", {}), unit=raw["unit"], place=place)
    unknown = formula.names - set(columns) - set(formula.given) - {"ratio"}
    if unknown:
        raise TableError(place, f"unknown name {min(unknown)!r}")
    return TableFormula(raw["characteristic"], raw["limit"], formula)


def _rival(
    raw: Mapping[str, Any],
    rows: Mapping[str, Row],
    head: Mapping[str, Any],
    file: str,
    known: Mapping[str, Any],
) -> Rival:
    place = f"{file}, rival of {raw.get('row')}"
    if raw.get("row") not in rows or raw.get("column") not in rows[raw["row"]].cells:
        raise TableError(place, "must name a row and a column of this table")
    source = read_source(raw, head, place, known)
    return Rival(raw["row"], raw["column"], float(raw["value"]), source, raw.get("note", ""))
