"""Chapters of a recording as WebVTT, from the times noted in the history.

W3C, "WebVTT: The Web Video Text Tracks Format", chapter cues.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from carwright.errors import CarwrightError, NothingToPublishError
from carwright.history import History
from carwright.history.log import Happening
from carwright.words import Vocabulary

_LAST = 30.0
"""How long the last chapter is made to run where the length of the recording is not known [s]."""
_TICK = 0.001
"""The least a time stamp tells apart [s]."""
_KINDS = {
    "acquisition": "Where it came from",
    "photo": "A closer look",
    "evidence": "What it portrays",
    "ruling": "A ruling",
    "placement": "Where it stands",
    "trouble": "Running",
    "exposure": "Running",
    "note": "Note",
}
_LONGEST = 80
"""Characters of a chapter's title."""


class ChapterError(CarwrightError):
    """No chapters can be made."""

    def __init__(self, title: str, why: str) -> None:
        self.title = title
        super().__init__(f"chapters of {title[:60]!r}: {why}")


class NoChaptersError(ChapterError, NothingToPublishError):
    """No time is noted, so that there are none to make."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """A stretch of a recording [s]."""

    start: float
    end: float
    title: str


def chapters_of(history: History, words: Vocabulary) -> list[Chapter]:
    """Chapters in order; entries of one kind that follow one another are one.

    Raises
    ------
    ChapterError
        "chapters of '...': no entry has offset_s, the time at which it is done in the recording",
        "chapters of '...': entry 4 is at 12:40, after the end of the recording at 12:30"
    """
    noted = sorted(
        (each for each in history.log if each.offset is not None), key=lambda each: (each.offset, each.entry)
    )
    if not noted:
        raise NoChaptersError(history.title, "no entry has offset_s, the time at which it is done in the recording")
    length = history.reported.video_length
    for each in noted:
        if length is not None and each.offset is not None and each.offset >= length:
            shown = clock if int(each.offset) != int(length) or each.offset == length else stamp
            end = f"after the end of the recording at {shown(length)}"
            raise ChapterError(history.title, f"entry {each.entry} is at {shown(each.offset)}, {end}")
    starts = _starts(noted, history, words)
    last = length if length is not None else (noted[-1].offset or 0.0) + _LAST
    last = max(last, starts[-1][0] + _TICK)
    edges = [start for start, _ in starts] + [last]
    return [Chapter(start, edges[index + 1], title) for index, (start, title) in enumerate(starts)]


def _starts(noted: Sequence[Happening], history: History, words: Vocabulary) -> list[tuple[float, str]]:
    starts: list[tuple[float, str]] = []
    if noted[0].offset:
        starts.append((0.0, _short(history.reported.short or history.title)))
    for each in noted:
        title = _short(chapter_title(each, words))
        at = round(each.offset or 0.0, 3)
        if starts and starts[-1][1] == title:
            continue
        if starts and at - starts[-1][0] < _TICK:
            starts[-1] = (starts[-1][0], _short(f"{starts[-1][1]}; {title}"))
        else:
            starts.append((at, title))
    return starts


def chapter_title(each: Happening, words: Vocabulary) -> str:
    """What an entry is about, as a heading."""
    if each.kind in {"reading", "gauge"}:
        if each.name:
            return _upper(each.name)
        known = words.characteristics.get(each.what)
        return _upper(known.title if known is not None else each.what)
    if each.kind == "profile":
        return _upper(f"{each.what} profile")
    if each.kind == "look":
        return _upper(each.name or words.looks.get(each.what, each.what))
    if each.kind == "work":
        return _upper(f"{each.what}{f' at {each.at}' if each.at else ''}")
    if each.kind == "note" and each.note:
        return _upper(each.note)
    return _KINDS.get(each.kind, _upper(each.kind))


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _short(text: str) -> str:
    plain = " ".join(text.split()) or "Untitled"
    return plain if len(plain) <= _LONGEST else f"{plain[: _LONGEST - 1].rstrip()}…"


def clock(seconds: float) -> str:
    """``12:34`` or ``1:02:03``, as players show it; parts of a second fall away."""
    whole = int(seconds)
    hours, minutes = whole // 3600, whole % 3600 // 60
    return f"{hours}:{minutes:02d}:{whole % 60:02d}" if hours else f"{minutes}:{whole % 60:02d}"


def stamp(seconds: float) -> str:
    """``00:12:34.500``, a WebVTT time stamp."""
    thousandths = round(seconds * 1000)
    hours, rest = divmod(thousandths, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"


def webvtt(history: History, words: Vocabulary, *, version: str) -> str:
    """The chapters as a WebVTT file; see :func:`chapters_of`."""
    chapters = chapters_of(history, words)
    notes = [f"Chapters by carwright {version} from the times noted in the sheet."]
    if history.reported.video_length is None:
        notes.append(f"The length of the recording is not known: the last chapter is made to run {_LAST:g} s.")
    blocks = [f"WEBVTT - {_cue(_short(history.title))}", *(f"NOTE {note}" for note in notes)]
    blocks += [
        f"{number}\n{stamp(each.start)} --> {stamp(each.end)}\n{_cue(each.title)}"
        for number, each in enumerate(chapters, 1)
    ]
    return "\n\n".join(blocks) + "\n"


def _cue(text: str) -> str:
    """A text a cue may hold: its signs escaped, no arrow that would read as a time."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
