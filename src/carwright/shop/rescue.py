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
from carwright.shop.exchange import write_zip
from carwright.shop.faults import DamagedError, ShopError
from carwright.shop.records import CAR, COLLECTION, ENTRY, KEPT, SORTS, Line, Record, Writing, record_digest, writing_of

_RESCUED = "rescued from a damaged shop"


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
    if target.exists():
        raise ShopError(f"{target}: is there already; nothing was changed")
    report = Rescued()
    rows = _Rows(address, report)
    try:
        records = dict(rows.records())
        source = _Saved(records, rows.writings(records), address, report)
    finally:
        rows.close()
    if not records:
        raise DamagedError(address, "no entry in it can be read")
    with target.open("xb") as out:
        counts = write_zip(out, source)
    report.records, report.writings, report.files = counts["records"], counts["writings"], counts["files"]
    return report


class _Rows:
    """Rows of a file, one by one, past those that cannot be read."""

    def __init__(self, address: Address, report: Rescued) -> None:
        path = address.path
        if path is None:
            raise TypeError(address)
        self._address, self._report = address, report
        self._connection = sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=ro", uri=True)
        self._connection.text_factory = lambda data: data.decode("utf-8", "replace")

    def close(self) -> None:
        self._connection.close()

    def _table(self, name: str, columns: str) -> Iterator[tuple[Any, ...]]:
        """Rows in their order; where a page cannot be read, those behind it are looked for."""
        after, most = -1, self._most(name)
        while True:
            try:
                cursor = self._connection.execute(
                    f"SELECT rowid, {columns} FROM {name} NOT INDEXED WHERE rowid > ? ORDER BY rowid",  # noqa: S608 - our own names
                    (after,),
                )
                for row in cursor:
                    after = row[0]
                    yield row[1:]
            except sqlite3.DatabaseError as error:
                following = self._next(name, after, most)
                self._report.lost.append(f"table {name}, behind row {max(after, 0)}: cannot be read ({error})")
                if following is None:
                    return
                after = following - 1
            else:
                return

    def _most(self, name: str) -> int:
        for query in (f"SELECT max(rowid) FROM {name}", f"SELECT max(seq) FROM {name}"):  # noqa: S608 - our own names
            try:
                return int(self._connection.execute(query).fetchone()[0] or 0)
            except (sqlite3.DatabaseError, TypeError):
                continue
        return 1 << 40

    def _next(self, name: str, after: int, most: int) -> int | None:
        """The next row that can be read, by steps that grow, then by halving."""
        step, low = 1, after + 1
        while low + step <= most + 1:
            if self._readable(name, low + step):
                break
            step *= 2
        else:
            return None
        bad, good = low + step // 2, low + step
        while good - bad > 1:
            middle = (bad + good) // 2
            bad, good = (bad, middle) if self._readable(name, middle) else (middle, good)
        return good

    def _readable(self, name: str, row: int) -> bool:
        try:
            query = f"SELECT * FROM {name} NOT INDEXED WHERE rowid = ?"  # noqa: S608 - our own names
            return self._connection.execute(query, (row,)).fetchone() is not None
        except sqlite3.DatabaseError:
            return False

    def records(self) -> Iterator[tuple[str, Record]]:
        """Those that come to their digests."""
        self.numbers: dict[int, str] = {}
        for seq, digest, identity, subject, kind, key, body in self._table(
            "record", "seq, digest, id, subject, kind, key, body"
        ):
            if not all(isinstance(each, str) for each in (digest, identity, subject, kind, key, body)):
                self._report.lost.append(f"record {seq}: is not what it was")
            elif record_digest(identity, subject, kind, key, body) != digest:
                self._report.lost.append(f"{kind} {identity or key} of car {subject}: is not what it was")
            else:
                self.numbers[seq] = digest
                yield digest, Record(identity, subject, kind, key, body, digest)

    def writings(self, records: dict[str, Record]) -> list[Writing]:
        """Whole ones as they were; what is left of others, and of none, as new ones that say so."""
        lines: dict[int, dict[int, Line]] = {}
        for number, ordinal, record, after, before in self._table("line", "writing, ordinal, record, after, before"):
            digest = self.numbers.get(record)
            if digest is not None:
                lines.setdefault(number, {})[ordinal] = Line(digest, str(after), str(before))
        found: list[Writing] = []
        named: set[str] = set()
        sorts: dict[str, str] = {}
        for seq, digest, subject, of, clock, who, program in self._table(
            "writing", "seq, digest, subject, of, clock, who, program"
        ):
            mine = tuple(each for _, each in sorted(lines.get(seq, {}).items()))
            if not all(isinstance(each, str) for each in (subject, of, who, program)) or of not in SORTS:
                self._report.lost.append(f"writing {seq}: is not what it was")
                continue
            sorts[subject] = of
            if not mine:
                self._report.lost.append(f"writing {str(digest)[:12]} of car {subject}: all its entries")
                continue
            made = writing_of(subject, of, int(clock), who, program, mine)
            if made.digest != digest:
                self._report.lost.append(f"writing {str(digest)[:12]} of car {subject}: some of its entries")
                mine = tuple(each for each in mine if records[each.record].subject == subject)
                made = writing_of(subject, of, int(clock), who, f"{program}, {_RESCUED}", mine)
            found.append(made)
            named.update(each.record for each in mine)
        return [*found, *_without_writing(records, named, sorts)]


def _without_writing(records: dict[str, Record], named: set[str], sorts: dict[str, str]) -> Iterator[Writing]:
    """Records whose writings are gone, in new ones: when, by whom and where among others is not known any more."""
    loose: dict[str, list[Record]] = {}
    for digest, record in records.items():
        if digest not in named:
            loose.setdefault(record.subject, []).append(record)
    for subject, found in loose.items():
        of = sorts.get(subject) or _sort_of(found)
        yield writing_of(subject, of, 0, "", _RESCUED, [Line(each.digest) for each in found])


def _sort_of(records: list[Record]) -> str:
    keys = {each.key for each in records if each.kind != ENTRY}
    return KEPT if "kept" in keys else COLLECTION if "name" in keys else CAR


class _Saved:
    """What was saved, as a source."""

    def __init__(self, records: dict[str, Record], writings: list[Writing], address: Address, report: Rescued) -> None:
        named = {each.record for writing in writings for each in writing.lines}
        self._records = sorted(
            (each for each in records.values() if each.digest in named), key=lambda each: each.digest
        )
        self._writings = sorted({each.digest: each for each in writings}.values(), key=lambda each: each.digest)
        self._address, self._report = address, report

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
        for digest in in_folder(folder):
            content = place_of(folder, digest).read_bytes()
            if digest_of(content) == digest:
                yield digest, content
            else:
                self._report.lost.append(f"file {digest[:12]}: is not what it was")
