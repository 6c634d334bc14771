"""What can still be read of a damaged file: every row that comes to its digest, written down as an export."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from carwright.shop.address import Address
from carwright.shop.blobs import in_folder, place_of
from carwright.shop.canonical import digest_of
from carwright.shop.clock import LATEST
from carwright.shop.exchange import write_export
from carwright.shop.faults import DamagedError, ShopError
from carwright.shop.pages import leaf_rows
from carwright.shop.records import CAR, COLLECTION, ENTRY, KEPT, SORTS, Line, Record, Writing, writing_of
from carwright.shop.trust import UUID, is_name, record_fault, writing_fault

_RESCUED = "rescued from a damaged shop"
_TEXT, _NUMBER, _NOTHING = frozenset({str}), frozenset({int}), frozenset({type(None)})
_SHAPES: dict[str, tuple[frozenset[type], ...]] = {
    "record": (_NOTHING, *[_TEXT] * 7),
    "writing": (_NOTHING, *[_TEXT] * 3, _NUMBER, *[_TEXT] * 2),
    "line": (*[_NUMBER] * 3, *[_TEXT] * 2),
    "file": (_TEXT, _NUMBER, _NOTHING),
}
"""What stands in the columns of each table; a number that is the row's own stands there as nothing."""
_WANTED = {"record": 7, "writing": 7, "line": 5, "file": 1}
"""How many of the columns are asked for."""


@dataclass
class Rescued:
    """What was saved, and what was not.

    Attributes
    ----------
    records, writings, files : int
        Saved.
    lost : list[str]
        What is known to be gone or unreadable, one sentence each.
    """

    records: int = 0
    writings: int = 0
    files: int = 0
    lost: list[str] = field(default_factory=list)


def rescue(address: Address, target: Path) -> Rescued:
    """Save what a damaged SQLite shop still holds; the file itself is only read.

    Parameters
    ----------
    address : Address
        Of the shop.
    target : Path
        An export to write, which is not there yet.

    Raises
    ------
    DamagedError
        When nothing can be read.
    """
    if address.path is None:
        raise ShopError(f"{address}: only a shop in a file can be rescued; restore a database from its own backups")
    report = Rescued()
    rows = _Rows(address, report)
    try:
        records = dict(rows.records())
        source = _Saved(records, rows.writings(records), address, report, rows.files())
    finally:
        rows.close()
    if not records:
        raise DamagedError(address, "no entry in it can be read")
    counts = write_export(target, source)
    report.records, report.writings, report.files = counts["records"], counts["writings"], counts["files"]
    return report


class _Rows:
    """Rows of a file, each asked for by its number, so that one that cannot be read hides no other."""

    def __init__(self, address: Address, report: Rescued) -> None:
        path = address.path
        if path is None:
            raise TypeError(address)
        self._report, self._path = report, path
        self._connection = sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=ro", uri=True)
        self._connection.text_factory = lambda data: data.decode("utf-8", "replace")
        self._numbers: dict[int, str] = {}

    def close(self) -> None:
        self._connection.close()

    def _table(self, name: str, columns: str) -> Iterator[tuple[Any, ...]]:
        """Rows, asked for one by one; where that does not reach all, those on pages no tree leads to any more."""
        query = f"SELECT rowid, {columns} FROM {name} NOT INDEXED WHERE rowid = ?"  # noqa: S608 - our own names
        seen: set[int] = set()
        unread = 0
        last = self._last(name)
        for number in range(1, (last or 0) + 1):
            try:
                row = self._connection.execute(query, (number,)).fetchone()
            except sqlite3.DatabaseError:
                unread += 1
                continue
            if row is not None:
                seen.add(row[0])
                yield row[1:]
        if last is None or unread:
            found = 0
            for row in self._stray(name, seen):
                found += 1
                yield row
            lost = f"{unread - found} rows" if last is not None else "some rows, perhaps"
            if last is None or unread > found:
                self._report.lost.append(f"table {name}: {lost} cannot be read")

    def _last(self, name: str) -> int | None:
        """The greatest number a row has, None where the table cannot be reached."""
        query = f"SELECT max(rowid) FROM {name} NOT INDEXED"  # noqa: S608 - our own names
        try:
            return int(self._connection.execute(query).fetchone()[0] or 0)
        except sqlite3.DatabaseError:
            return None

    def _stray(self, name: str, seen: set[int]) -> Iterator[tuple[Any, ...]]:
        """Rows that look like those of a table, from every page of the file, but for those seen already."""
        fits = _SHAPES[name]
        for number, values in leaf_rows(self._path):
            if number in seen or len(values) != len(fits):
                continue
            if all(type(value) in kinds for value, kinds in zip(values, fits, strict=True)):
                seen.add(number)
                whole = values if name in {"line", "file"} else (number, *values[1:])
                yield whole[: _WANTED[name]]

    def records(self) -> Iterator[tuple[str, Record]]:
        """Those that are what was written."""
        columns = "seq, digest, id, subject, kind, key, body"
        for seq, digest, identity, subject, kind, key, body in self._table("record", columns):
            made = Record(identity, subject, kind, key, body, digest)
            fault = record_fault(made)
            if fault:
                self._report.lost.append(f"{kind} {identity or key} of car {subject}: {fault}")
            else:
                self._numbers[seq] = digest
                yield digest, made

    def writings(self, records: dict[str, Record]) -> list[Writing]:
        """Whole ones as they were; what is left of others, and of none, as new ones that say so."""
        lines = self._lines()
        found: list[Writing] = []
        sorts: dict[str, str] = {}
        for seq, digest, *head in self._table("writing", "seq, digest, subject, of, clock, who, program"):
            subject, of, clock, who, program = head
            mine = tuple(each for _, each in sorted(lines.get(seq, {}).items()))
            made = Writing(subject, of, clock, who, program, mine, digest)
            if not writing_fault(made):
                found.append(made)
                sorts[subject] = of
            else:
                self._report.lost.append(f"writing {str(digest)[:12]}: is not whole; what is there of it is kept")
                found += _rewrapped(made, records)
        named = {each.record for every in found for each in every.lines}
        return [*found, *_without_writing(records, named, sorts)]

    def _lines(self) -> dict[int, dict[int, Line]]:
        """Lines that name a record that was saved, by writing and place."""
        lines: dict[int, dict[int, Line]] = {}
        for number, ordinal, record, after, before in self._table("line", "writing, ordinal, record, after, before"):
            digest = self._numbers.get(record)
            if digest is not None and type(number) is int and type(ordinal) is int:
                lines.setdefault(number, {})[ordinal] = Line(digest, str(after), str(before))
        return lines

    def files(self) -> list[str]:
        """Digests of the files that were kept."""
        return [str(row[0]) for row in self._table("file", "digest")]


def _rewrapped(broken: Writing, records: dict[str, Record]) -> Iterator[Writing]:
    """What is left of a writing, as one for each subject its records are about; its moment where that can be."""
    by: dict[str, list[Line]] = {}
    for each in broken.lines:
        sides = [side if UUID.fullmatch(side) else "" for side in (each.after, each.before)]
        by.setdefault(records[each.record].subject, []).append(Line(each.record, *sides))
    good_clock = type(broken.clock) is int and 0 <= broken.clock <= LATEST
    who = broken.who if isinstance(broken.who, str) and is_name(broken.who) else ""
    for subject, lines in by.items():
        of = _sort_of([records[each.record] for each in lines], str(broken.of))
        yield writing_of(subject, of, broken.clock if good_clock else 0, who, _RESCUED, lines)


def _without_writing(records: dict[str, Record], named: set[str], sorts: dict[str, str]) -> Iterator[Writing]:
    """Records whose writings are gone, in new ones: when, by whom and where among others is not known any more."""
    loose: dict[str, list[Record]] = {}
    for digest, record in records.items():
        if digest not in named:
            loose.setdefault(record.subject, []).append(record)
    for subject, found in loose.items():
        of = sorts.get(subject) or _sort_of(found, "")
        yield writing_of(subject, of, 0, "", _RESCUED, [Line(each.digest) for each in found])


def _sort_of(records: list[Record], said: str) -> str:
    """What a subject is: as its writing says, else by what is stated of it."""
    if said in SORTS:
        return said
    keys = {each.key for each in records if each.kind != ENTRY}
    return KEPT if "kept" in keys else COLLECTION if "name" in keys else CAR


class _Saved:
    """What was saved, as a source."""

    def __init__(
        self,
        records: dict[str, Record],
        writings: list[Writing],
        address: Address,
        report: Rescued,
        kept: list[str],
    ) -> None:
        named = {each.record for writing in writings for each in writing.lines}
        self._records = sorted(
            (each for each in records.values() if each.digest in named), key=lambda each: each.digest
        )
        self._writings = sorted({each.digest: each for each in writings}.values(), key=lambda each: each.digest)
        self._address, self._report, self._kept = address, report, kept

    def size(self) -> int:
        return len(self._records) + len(self._writings)

    def records(self) -> Iterator[Record]:
        return iter(self._records)

    def writings(self) -> Iterator[Writing]:
        return iter(self._writings)

    def files(self) -> Iterator[tuple[str, bytes]]:
        folder = self._address.folder
        if folder is None:
            return
        there = list(in_folder(folder))
        self._report.lost += [f"file {digest[:12]}: is gone" for digest in self._kept if digest not in set(there)]
        for digest in there:
            content = place_of(folder, digest).read_bytes()
            if digest_of(content) == digest:
                yield digest, content
            else:
                self._report.lost.append(f"file {digest[:12]}: is not what it was")
