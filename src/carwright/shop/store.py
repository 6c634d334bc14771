"""Records and writings in and out of the database."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, groupby
from typing import Any, TypeVar

from sqlalchemy import Connection, func, insert, select

from carwright.shop.faults import ShopError
from carwright.shop.records import Line, Record, Writing
from carwright.shop.schema import line, record, writing
from carwright.shop.state import State, state_of
from carwright.shop.trust import altered_record, altered_writing

T = TypeVar("T")
AT_ONCE = 500
"""Values of one query: below every database's limit."""


class AlteredError(ShopError):
    """What is held of a subject is not what was written."""

    http_status = 500

    def __init__(self, subject: str, why: str) -> None:
        super().__init__(
            f"car {subject[:36]}: {why}. `carwright shop check` says what else is; restore a backup, or save the rest "
            "with `carwright shop check --rescue FILE.zip`"
        )


@dataclass(frozen=True, slots=True)
class Held:
    """All that is held of one subject, and what of it is not what was written."""

    subject: str
    records: tuple[Record, ...]
    writings: tuple[Writing, ...]
    altered: str = ""

    @property
    def state(self) -> State:
        """What it comes to.

        Raises
        ------
        AlteredError
            "car ...: reading ... does not come to its digest: damaged or changed. ..."
        """
        if self.altered:
            raise AlteredError(self.subject, self.altered)
        return state_of(self.subject, self.records, self.writings)


_RECORD = (record.c.id, record.c.subject, record.c.kind, record.c.key, record.c.body, record.c.digest)
_WRITING = (writing.c.subject, writing.c.of, writing.c.clock, writing.c.who, writing.c.program, writing.c.digest)
_LINES = (
    select(line.c.after, line.c.before, *_RECORD, *_WRITING, writing.c.seq)
    .select_from(line.join(writing, line.c.writing == writing.c.seq).join(record, line.c.record == record.c.seq))
    .order_by(writing.c.seq, line.c.ordinal)
)


def latest_clock(connection: Connection) -> int:
    """When the latest writing was recorded [µs], 0 for an empty shop."""
    return int(connection.execute(select(func.max(writing.c.clock))).scalar() or 0)


def held(connection: Connection, subject: str) -> Held:
    """All that is held of a subject; nothing where it is unknown."""
    return next(held_of(connection, [subject]))


def held_of(connection: Connection, subjects: Sequence[str]) -> Iterator[Held]:
    """All that is held of some subjects, in the order asked for, some at a time."""
    for chunk in chunks(subjects, AT_ONCE // 10):
        query = _LINES.where(writing.c.subject.in_(chunk))
        found: dict[str, list[Any]] = {each: [] for each in chunk}
        for row in connection.execute(query):
            found[row[8]].append(row)
        for each in chunk:
            yield _held(each, found[each])


def _held(subject: str, rows: Iterable[Any]) -> Held:
    records: dict[str, Record] = {}
    lines: dict[int, list[Line]] = {}
    heads: dict[int, tuple[Any, ...]] = {}
    for row in rows:
        found = records.setdefault(row[7], Record(*row[2:8]))
        lines.setdefault(row[14], []).append(Line(found.digest, row[0], row[1]))
        heads[row[14]] = tuple(row[8:14])
    writings = [
        Writing(subject, of, clock, who, program, tuple(lines[seq]), digest)
        for seq, (_, of, clock, who, program, digest) in heads.items()
    ]
    altered = (f"{each.kind} {each.id or each.key} {why}" for each in records.values() if (why := altered_record(each)))
    rewritten = (f"writing {str(each.digest)[:12]} {why}" for each in writings if (why := altered_writing(each)))
    return Held(subject, tuple(records.values()), tuple(writings), next(chain(altered, rewritten), ""))


def subjects_of(connection: Connection) -> list[str]:
    """Every subject, in order."""
    found = {str(each) for each in connection.execute(select(writing.c.subject).distinct()).scalars()}
    return sorted(found)


def known_records(connection: Connection, digests: Iterable[str]) -> dict[str, int]:
    """Row numbers of the records that are held already."""
    found: dict[str, int] = {}
    for chunk in chunks(list(digests), AT_ONCE):
        query = select(record.c.digest, record.c.seq).where(record.c.digest.in_(chunk))
        found.update((row[0], row[1]) for row in connection.execute(query))
    return found


def known_subjects(connection: Connection, digests: Iterable[str]) -> dict[str, str]:
    """Subjects of the records that are held already, by their digests."""
    found: dict[str, str] = {}
    for chunk in chunks(list(digests), AT_ONCE):
        query = select(record.c.digest, record.c.subject).where(record.c.digest.in_(chunk))
        found.update((row[0], row[1]) for row in connection.execute(query))
    return found


def known_writings(connection: Connection, digests: Iterable[str]) -> set[str]:
    """Which writings are held already."""
    found: set[str] = set()
    for chunk in chunks(list(digests), AT_ONCE):
        found.update(connection.execute(select(writing.c.digest).where(writing.c.digest.in_(chunk))).scalars())
    return found


def put(connection: Connection, records: Sequence[Record], writings: Sequence[Writing]) -> int:
    """Add writings that are not held yet, and the records they name.

    Parameters
    ----------
    connection : Connection
        Of a writer.
    records : sequence of Record
        All that the writings name, or that are held already.
    writings : sequence of Writing
        What to add.

    Returns
    -------
    int
        How many writings were new.
    """
    have = known_writings(connection, [each.digest for each in writings])
    new = list({each.digest: each for each in writings if each.digest not in have}.values())
    if not new:
        return 0
    wanted = {each.record for every in new for each in every.lines}
    put_records(connection, [each for each in records if each.digest in wanted])
    _put_writings(connection, new)
    return len(new)


def put_records(connection: Connection, records: Sequence[Record]) -> int:
    """Add records that are not held yet; how many were new. Writings that name them must follow."""
    have = known_records(connection, [each.digest for each in records])
    fresh = list({each.digest: each for each in records if each.digest not in have}.values())
    start = int(connection.execute(select(func.max(record.c.seq))).scalar() or 0)
    if fresh:
        connection.execute(
            insert(record),
            [
                {"seq": number, "digest": each.digest, "id": each.id, "subject": each.subject,
                 "kind": each.kind, "key": each.key, "body": each.body, "said": each.said}
                for number, each in enumerate(fresh, start + 1)
            ],
        )  # fmt: skip
    return len(fresh)


def _put_writings(connection: Connection, new: Sequence[Writing]) -> None:
    rows = known_records(connection, {each.record for every in new for each in every.lines})
    start = int(connection.execute(select(func.max(writing.c.seq))).scalar() or 0)
    connection.execute(
        insert(writing),
        [
            {"seq": number, "digest": each.digest, "subject": each.subject, "of": each.of, "clock": each.clock,
             "who": each.who, "program": each.program}
            for number, each in enumerate(new, start + 1)
        ],
    )  # fmt: skip
    connection.execute(
        insert(line),
        [
            {"writing": number, "ordinal": ordinal, "record": rows[each.record],
             "after": each.after, "before": each.before}
            for number, every in enumerate(new, start + 1)
            for ordinal, each in enumerate(every.lines)
        ],
    )  # fmt: skip


def all_records(connection: Connection, subjects: Sequence[str] | None = None) -> Iterator[Record]:
    """Every record, or those of some subjects, in the order of their digests."""
    query = select(*_RECORD).order_by(record.c.digest)
    if subjects is None:
        for row in connection.execute(query.execution_options(yield_per=AT_ONCE)):
            yield Record(*row)
        return
    found = [Record(*row) for chunk in chunks(subjects, AT_ONCE)
             for row in connection.execute(query.where(record.c.subject.in_(chunk)))]  # fmt: skip
    yield from sorted(found, key=lambda each: each.digest)


def all_writings(connection: Connection, subjects: Sequence[str] | None = None) -> Iterator[Writing]:
    """Every writing, or those of some subjects, in the order of their digests."""
    query = (
        select(*_WRITING, record.c.digest, line.c.after, line.c.before)
        .select_from(writing.join(line, line.c.writing == writing.c.seq).join(record, line.c.record == record.c.seq))
        .order_by(writing.c.digest, line.c.ordinal)
        .execution_options(yield_per=AT_ONCE)
    )
    if subjects is None:
        yield from _grouped(connection.execute(query))
        return
    found = [each for chunk in chunks(subjects, AT_ONCE)
             for each in _grouped(connection.execute(query.where(writing.c.subject.in_(chunk))))]  # fmt: skip
    yield from sorted(found, key=lambda each: each.digest)


def _grouped(rows: Iterable[Any]) -> Iterator[Writing]:
    """Writings from rows in which the lines of one stand together."""
    for head, group in groupby(rows, key=lambda row: tuple(row[:6])):
        subject, of, clock, who, program, digest = head
        yield Writing(subject, of, clock, who, program, tuple(Line(*row[6:9]) for row in group), digest)


def chunks(values: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    """A sequence in pieces of a size."""
    for start in range(0, len(values), size):
        yield values[start : start + size]
