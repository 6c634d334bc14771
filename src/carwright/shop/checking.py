"""Looking through a whole shop: every digest, every history, every photo, and the database itself."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, inspect, select, text

from carwright.errors import SheetError
from carwright.shop import clock as clocks
from carwright.shop.blobs import fetch, in_folder, place_of
from carwright.shop.canonical import digest_of
from carwright.shop.document import files_of
from carwright.shop.migrations.triggers import GUARDED, SAYS, triggers
from carwright.shop.records import CAR, ENTRY, Record
from carwright.shop.schema import RECORDED, file, line, record, standing, writing
from carwright.shop.shop import Shop
from carwright.shop.source import Progress
from carwright.shop.standing import line_of
from carwright.shop.state import State
from carwright.shop.store import AT_ONCE, Held, all_writings, held_of, subjects_of
from carwright.shop.trust import CHANGED, record_fault, writing_fault

DAMAGED, FAULTY, DISPUTED, NOTED = "damaged", "faulty", "disputed", "noted"
"""What was found: content that is not what was written; a history that makes no good sheet; several people's
versions of one thing; something worth knowing."""
DAY = 86_400_000_000
"""Microseconds of a day."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing found: its kind, where, and what."""

    kind: str
    where: str
    what: str


@dataclass
class Checked:
    """What a check looked at, and found.

    Attributes
    ----------
    counts : dict
        How many ``cars``, ``entries``, ``writings`` and ``files``.
    problems : list[Problem]
        In the order found.
    """

    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(("cars", "entries", "writings", "files"), 0))
    problems: list[Problem] = field(default_factory=list)

    def add(self, kind: str, where: str, what: str) -> None:
        """Note one."""
        self.problems.append(Problem(kind, where, what))

    def of(self, kind: str) -> list[Problem]:
        """All of a kind."""
        return [each for each in self.problems if each.kind == kind]


def check(shop: Shop, progress: Progress | None = None) -> Checked:
    """Look through a shop; nothing is changed.

    Parameters
    ----------
    shop : Shop
        Which.
    progress : callable, optional
        Told how many subjects are done, of how many.
    """
    found = Checked()
    with shop.reading() as connection:
        if shop.address.is_file:
            _database(connection, found)
        _guards(connection, found)
        _records(connection, found)
        _writings(connection, found)
        _loose(connection, found)
        named = _subjects(shop, connection, found, progress)
        _files(shop, connection, found, named)
    return found


def _database(connection: Connection, found: Checked) -> None:
    for row in connection.execute(text("PRAGMA integrity_check(20)")):
        if row[0] != "ok":
            found.add(DAMAGED, "database", str(row[0]))
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        found.add(DAMAGED, f"table {row[0]}", f"row {row[1]} names a row of {row[2]} that is not there")


def _guards(connection: Connection, found: Checked) -> None:
    """The triggers that keep what was recorded from being changed, as they were made."""
    wanted: dict[str, set[str]] = {}
    dialect = connection.dialect.name
    for statement in triggers(dialect, GUARDED):
        made = _TRIGGER.match(statement)
        if made is not None:
            wanted.setdefault(made[2], set()).add(statement if dialect == "sqlite" else made[1])
    if dialect == "sqlite":
        query = "SELECT tbl_name, sql FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = (
            "SELECT c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT t.tgisinternal AND t.tgenabled <> 'D' AND p.prosrc LIKE :says"
        )
    there: dict[str, set[str]] = {}
    says = {} if dialect == "sqlite" else {"says": f"%RAISE EXCEPTION '{SAYS}'%"}
    for table, made_by in connection.execute(text(query), says):
        there.setdefault(str(table), set()).add(str(made_by))
    for table in RECORDED:
        if not wanted[table.name] <= there.get(table.name, set()):
            found.add(DAMAGED, f"table {table.name}", "is not guarded against changes any more")
    for name in inspect(connection).get_table_names():
        if name not in _TABLES:
            found.add(NOTED, f"table {name}", "is none of carwright's")


_TRIGGER = re.compile(r"CREATE TRIGGER (\w+) BEFORE .*? ON (\w+) ")
_TABLES = {"alembic_version", "record", "writing", "line", "file", "standing", "judged", "result"}


def _records(connection: Connection, found: Checked) -> None:
    for row in connection.execute(select(record).order_by(record.c.seq).execution_options(yield_per=AT_ONCE)):
        each = Record(row.id, row.subject, row.kind, row.key, row.body, row.digest)
        found.counts["entries"] += each.kind == ENTRY
        fault = record_fault(each)
        if not fault and each.said != row.said:
            fault = "is listed under another content"
        if fault:
            found.add(DAMAGED, f"car {each.subject}, {each.kind} {each.id or each.key}", fault)


def _writings(connection: Connection, found: Checked) -> None:
    now = clocks.now()
    for each in all_writings(connection):
        found.counts["writings"] += 1
        when = clocks.moment(each.clock) if type(each.clock) is int else "a time no clock shows"
        where = f"writing of {when}, {str(each.digest)[:12]}"
        fault = writing_fault(each)
        if fault:
            found.add(DAMAGED, where, f"{fault}, or some of its entries are gone" if fault == CHANGED else fault)
        elif each.clock > now + DAY:
            found.add(NOTED, where, "lies in the future: a clock was wrong, here or where it was written")


def _loose(connection: Connection, found: Checked) -> None:
    """Rows that lost what they belong to."""
    query = select(writing.c.digest).where(~writing.c.seq.in_(select(line.c.writing)))
    for digest in connection.execute(query).scalars():
        found.add(DAMAGED, f"writing {digest[:12]}", "has lost all its entries")
    query = select(record.c.digest, record.c.subject).where(~record.c.seq.in_(select(line.c.record)))
    for digest, subject in connection.execute(query):
        found.add(DAMAGED, f"car {subject}", f"record {digest[:12]} has lost the writing it came with")


def _subjects(shop: Shop, connection: Connection, found: Checked, progress: Progress | None) -> dict[str, list[str]]:
    """Every history; files named, with the cars that name them."""
    listed = {row.subject: dict(row._mapping) for row in connection.execute(select(standing))}  # noqa: SLF001 - public
    subjects = subjects_of(connection)
    named: dict[str, list[str]] = {}
    for subject in sorted(set(listed) - set(subjects)):
        title = listed[subject]["title"]
        found.add(DAMAGED, f"{title} ({subject[:8]})", "stands in lists, and nothing of it is recorded any more")
    for done, known in enumerate(held_of(connection, subjects), 1):
        _subject(shop, connection, known, listed.get(known.subject), found, named)
        if progress is not None:
            progress(done, len(subjects))
    return named


def _subject(
    shop: Shop,
    connection: Connection,
    known: Held,
    listed: dict[str, Any] | None,
    found: Checked,
    named: dict[str, list[str]],
) -> None:
    """One history; what is altered in it was named among records and writings."""
    if known.altered:
        return
    state = known.state
    where = f"{state.title} ({state.subject[:8]})" if state.of == CAR else f"{state.of} {state.subject[:8]}"
    if len({each.of for each in known.writings}) > 1:
        found.add(DAMAGED, where, "is said to be different kinds of thing")
    for fork in state.forks:
        others = "another version is" if len(fork.others) == 1 else f"{len(fork.others)} other versions are"
        found.add(DISPUTED, where, f"{_named(state, fork.key)}: one version is taken, {others} kept beside it")
    for identity, ids in state.twice:
        found.add(DISPUTED, where, f"entry {identity} is corrected by {', '.join(ids)}: all of them hold; undo one")
    if listed != line_of(connection, state):
        found.add(FAULTY, where, "stands in lists otherwise than it is; `carwright shop check --renew` lists it anew")
    if state.of == CAR:
        found.counts["cars"] += 1
        _history(shop, state, where, found)
    for name, digest in files_of(state).items():
        named.setdefault(digest, []).append(f"{where}, {name}")


def _named(state: State, key: str) -> str:
    entry = state.entry(key)
    return key if entry is None else f"entry {key} ({entry.key})"


def _history(shop: Shop, state: State, where: str, found: Checked) -> None:
    try:
        shop.read(state)
    except SheetError as error:
        for fault in error.faults:
            found.add(FAULTY, where, f"{fault.place}: {fault.message}")


def _files(shop: Shop, connection: Connection, found: Checked, named: dict[str, list[str]]) -> None:
    kept = {row[0]: row[1] for row in connection.execute(select(file.c.digest, file.c.size))}
    found.counts["files"] = len(kept)
    for digest in sorted({*kept, *named}):
        where = named.get(digest, [f"file {digest[:12]}"])[0]
        if digest not in kept:
            found.add(DAMAGED, where, "is named, and was never kept")
            continue
        content, size = _digest_in(shop, connection, digest)
        if content in {GONE, UNREADABLE}:
            found.add(DAMAGED, where, content)
        elif content != digest or size != kept[digest]:
            found.add(DAMAGED, where, "is not what it was: damaged or changed")
        if digest not in named and content == digest and shop.address.is_file:
            found.add(NOTED, where, "is kept and named by nothing that holds now")
    if shop.address.folder is not None:
        for digest in in_folder(shop.address.folder):
            if digest not in kept:
                found.add(NOTED, f"file {digest[:12]}", "lies in the photo folder and is named by nothing")


GONE, UNREADABLE = "is gone from the photo folder", "cannot be read"


def _digest_in(shop: Shop, connection: Connection, digest: str) -> tuple[str, int]:
    """What a file comes to now and its size, or why it comes to nothing."""
    if shop.address.folder is None:
        content = fetch(connection, shop.address, digest)
        return (GONE, 0) if content is None else (digest_of(content), len(content))
    path = place_of(shop.address.folder, digest)
    try:
        with path.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest(), path.stat().st_size
    except (FileNotFoundError, NotADirectoryError):
        return GONE, 0
    except OSError:
        return UNREADABLE, 0
