"""The order of entries: by time, a correction in the place of what it corrects."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence

from carwright.history.entries import Entry

Numbered = tuple[int, Entry]
"""Place in the file, from 0, and the entry."""


def identity_faults(entries: Sequence[Numbered]) -> Iterator[tuple[Numbered, str, str]]:
    """Entry, key and message for every id that stands twice, supersedes nothing, or supersedes in a circle."""
    counts = Counter(entry.id for _, entry in entries if entry.id)
    corrects = {entry.id: entry.supersedes for _, entry in entries if entry.id and entry.supersedes}
    for number, entry in entries:
        if entry.id and counts[entry.id] > 1:
            yield (number, entry), "id", f"{entry.id} stands on more than one entry"
        if entry.supersedes and (entry.supersedes not in counts or entry.supersedes == entry.id):
            yield (number, entry), "supersedes", f"{entry.supersedes} is the id of no other entry here"
        elif entry.id and _in_circle(entry.id, corrects):
            yield (number, entry), "supersedes", f"{entry.id} and {entry.supersedes} correct each other"


def _in_circle(start: str, corrects: dict[str, str]) -> bool:
    seen: set[str] = set()
    here: str | None = corrects.get(start)
    while here is not None and here not in seen:
        if here == start:
            return True
        seen.add(here)
        here = corrects.get(here)
    return False


def in_order(entries: Sequence[Numbered]) -> list[Numbered]:
    """Entries that hold, by time; a correction stands where the entry it corrects stood.

    An entry without a time stands with the one before it in the file; one with a date only, at its day's start or with
    an entry of that day before it in the file. A time without zone is UTC.
    """
    last = dt.datetime.min.replace(tzinfo=dt.UTC)
    keys: dict[int, tuple[dt.datetime, int]] = {}
    place: dict[str, int] = {}
    for number, entry in entries:
        if entry.when is not None:
            moment = dt.datetime.fromisoformat(entry.when)
            moment = moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
            same_day = "T" not in entry.when and " " not in entry.when and last.date() == moment.date()
            moment = max(moment, last) if same_day else moment
            keys[number] = (moment, number)
            if entry.supersedes is None:  # a correction stands elsewhere, and says nothing of what follows it here
                last = moment
        else:
            keys[number] = (last, number)
        if entry.id:
            place[entry.id] = number
    gone = {entry.supersedes for _, entry in entries if entry.supersedes}
    corrected = {number: place[entry.supersedes] for number, entry in entries if entry.supersedes in place}

    def where(number: int) -> tuple[dt.datetime, int]:
        seen = {number}
        while number in corrected and corrected[number] not in seen:
            number = corrected[number]
            seen.add(number)
        return keys[number]

    held = [(number, entry) for number, entry in entries if not (entry.id and entry.id in gone)]
    return sorted(held, key=lambda pair: where(pair[0]))
