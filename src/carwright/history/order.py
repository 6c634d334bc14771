"""The order of entries: by time, and without those that a later entry corrects."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from carwright.history.entries import Entry

Numbered = tuple[int, Entry]
"""Place in the file, from 0, and the entry."""


def identity_faults(entries: Sequence[Numbered]) -> Iterator[tuple[int, str, str]]:
    """Entry number, key and message for every id that stands twice or supersedes nothing."""
    ids = [entry.id for _, entry in entries if entry.id]
    for number, entry in entries:
        if entry.id and ids.count(entry.id) > 1:
            yield number, "id", f"{entry.id} stands on more than one entry"
        if entry.supersedes and (entry.supersedes not in ids or entry.supersedes == entry.id):
            yield number, "supersedes", f"{entry.supersedes} is the id of no other entry here"


def not_superseded(entries: Sequence[Numbered]) -> list[Numbered]:
    """Entries that no other entry corrects."""
    gone = {entry.supersedes for _, entry in entries if entry.supersedes}
    return [(number, entry) for number, entry in entries if not (entry.id and entry.id in gone)]


def in_order(entries: Sequence[Numbered]) -> list[Numbered]:
    """By time; an entry without one stands with the entry before it in the file. A time without zone is UTC."""
    last = dt.datetime.min.replace(tzinfo=dt.UTC)
    keyed = []
    for number, entry in entries:
        if entry.when is not None:
            moment = dt.datetime.fromisoformat(entry.when)
            last = moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
        keyed.append((last, number, entry))
    return [(number, entry) for _, number, entry in sorted(keyed, key=lambda row: row[:2])]
