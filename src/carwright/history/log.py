"""What happened, entry by entry, and who publishes it: read by report, shot list and chapters, never by a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from carwright.history.entries import Entry, Report, WorkEntry
from carwright.history.order import in_order


@dataclass(frozen=True, slots=True)
class Happening:
    """One entry as it stands in the history.

    Attributes
    ----------
    entry, stage : int
        Entry of the sheet, counted from 1, and the stage it belongs to; a work belongs to the stage it starts.
    kind, what, at, name : str
        What it is of; ``what`` is the remedy of a work, the grade's look of a look, the source of evidence.
    when, who, note : str
        As written, "" where not.
    offset : float or None
        When it is done in the recording [s].
    """

    entry: int
    stage: int
    kind: str
    what: str = ""
    at: str = ""
    name: str = ""
    when: str = ""
    who: str = ""
    note: str = ""
    offset: float | None = None


@dataclass(frozen=True, slots=True)
class Reported:
    """Who publishes.

    Attributes
    ----------
    by, place, customer, number, issued : str
        As written, "" where not: the author, the bench, whom it is for, the report's own number, its date.
    short : str
        A title for cards and labels, "" where the car's is to be used.
    video_length : float or None
        How long the recording runs [s].
    """

    by: str = ""
    place: str = ""
    customer: str = ""
    number: str = ""
    issued: str = ""
    short: str = ""
    video_length: float | None = None


def read_log(entries: Sequence[tuple[int, Entry]]) -> tuple[Happening, ...]:
    """Every entry that holds, in the order of the history."""
    found, stage = [], 0
    for number, entry in in_order(entries):
        stage += isinstance(entry, WorkEntry)
        found.append(
            Happening(
                number + 1,
                stage,
                entry.kind,
                _said(entry, "what", "remedy", "source", "of", "file", "defect", "where", "reason"),
                _said(entry, "at"),
                _said(entry, "name", "shows"),
                entry.when or "",
                entry.who or "",
                entry.note or "",
                entry.offset_s,
            )
        )
    return tuple(found)


def _said(entry: Entry, *keys: str) -> str:
    return next((str(value) for key in keys if (value := getattr(entry, key, None))), "")


def read_reported(report: Report) -> Reported:
    """What the sheet says of its publishing."""
    return Reported(
        by=report.by or "",
        place=report.place or "",
        customer=report.for_ or "",
        number=report.number or "",
        issued=report.issued or "",
        short=report.short or "",
        video_length=report.video_length,
    )
