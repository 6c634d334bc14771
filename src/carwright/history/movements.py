"""Where a car stood and how much it ran: what a re-inspection is due by."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from carwright.dates import read_date
from carwright.errors import DateError
from carwright.history.entries import Entry, ExposureEntry, PlacementEntry, TroubleEntry, WorkEntry
from carwright.history.order import in_order


@dataclass(frozen=True, slots=True)
class Placement:
    """A stay in one place.

    Attributes
    ----------
    entry, stage : int
        Entry of the sheet, counted from 1, and its stage.
    where, how : str
        The place in words, and one of layout, shelf, storage, transport, lent, show; "" where not said.
    start, end : date or None
        The days it came and went, where they are known; of a stay without ``how`` only that of the entry.
    """

    entry: int
    stage: int
    where: str
    how: str
    start: dt.date | None
    end: dt.date | None


@dataclass(frozen=True, slots=True)
class Running:
    """Runs without trouble, or one that met with it.

    Attributes
    ----------
    entry, stage : int
        Entry of the sheet, counted from 1, and its stage.
    runs : int
        How many.
    defect : str
        What went wrong, "" for nothing.
    when : date or None
        The day.
    """

    entry: int
    stage: int
    runs: int
    defect: str
    when: dt.date | None


def day_of(when: str | None) -> dt.date | None:
    """The day of a moment as written on a sheet, None where there is none."""
    return dt.datetime.fromisoformat(when).date() if when else None


def movements_of(
    entries: Sequence[tuple[int, Entry]],
) -> tuple[tuple[Placement, ...], tuple[Running, ...], list[tuple[int, Entry, str, str]]]:
    """Stays and runs in the order of the history, and what is wrong with them.

    Returns
    -------
    tuple
        Placements, runs, and for each fault its place in the file, the entry, the key and what was expected.
    """
    placements: list[Placement] = []
    runs: list[Running] = []
    faults: list[tuple[int, Entry, str, str]] = []
    stage = 0
    for number, entry in in_order(entries):
        stage += isinstance(entry, WorkEntry)
        if isinstance(entry, PlacementEntry):
            faults += [(number, entry, key, message) for key, message in _faults(entry)]
            if entry.how is None:
                placements.append(Placement(number + 1, stage, entry.where, "", day_of(entry.when), None))
            elif not faults:
                placements.append(Placement(number + 1, stage, entry.where, entry.how, *_stay(entry)))
        elif isinstance(entry, ExposureEntry):
            runs.append(Running(number + 1, stage, entry.runs, "", day_of(entry.when)))
        elif isinstance(entry, TroubleEntry):
            runs.append(Running(number + 1, stage, 1, entry.defect, day_of(entry.when)))
    return tuple(placements), tuple(runs), faults


def _faults(entry: PlacementEntry) -> Iterator[tuple[str, str]]:
    if entry.how is None:
        return
    for key, text in (("from", entry.from_), ("to", entry.to)):
        try:
            _edge(text, last=False)
        except DateError as error:
            yield key, f"where how is given, from and to are dates: {error}"
            return
    start, end = _edge(entry.from_, last=False), _edge(entry.to, last=True)
    if start is not None and end is not None and end < start:
        yield "to", f"{entry.to!r} lies before {entry.from_!r}"


def _stay(entry: PlacementEntry) -> tuple[dt.date | None, dt.date | None]:
    """First and last day; where no first is said, it began on the day of the entry, unless it was over by then."""
    end = _edge(entry.to, last=True)
    if entry.from_ is not None:
        return _edge(entry.from_, last=False), end
    day = day_of(entry.when)
    return (None if day is not None and end is not None and day > end else day), end


_DAY_LAST = re.compile(r"\d{4}-\d{1,2}-(\d{1,2})")
_DAY_FIRST = re.compile(r"(\d{1,2})\.?\s+[^\W\d]+\s+\d{4}")


def _edge(text: str | None, *, last: bool) -> dt.date | None:
    """First or last day of a date as people write it, where it has one."""
    if text is None:
        return None
    plain = text.strip()
    try:
        return dt.date.fromisoformat(plain)
    except ValueError:
        span = read_date(plain)
    month = span.last if last else span.first
    if month is None:
        return None
    year, index = divmod(month, 12)
    day = _DAY_LAST.fullmatch(plain) or _DAY_FIRST.fullmatch(plain)
    if day is not None:
        return dt.date(year, index + 1, int(day[1]))
    return dt.date(year, index + 1, calendar.monthrange(year, index + 1)[1] if last else 1)
