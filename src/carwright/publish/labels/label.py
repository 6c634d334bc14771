"""One label of each kind, in millimetres: for a car's box, for its shelf, and the tag of a car held back."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from carwright.history import History
from carwright.inspection import Inspection, words_of
from carwright.publish.labels.link import LabelError, link_of, qr_path
from carwright.publish.lettering import Fitted, Lettering
from carwright.publish.scene import Circle, Group, Path, Scene, Shape, Text, line
from carwright.publish.signs import words_of_line
from carwright.publish.wording import next_words, upper_first, value_words
from carwright.verdict import Verdict
from carwright.verdict.score import ROUTE
from carwright.verdict.status import STATUS_MARKS

MARGIN = 2.0
"""Left free along every edge, for a sheet that is fed or cut askew [mm]. Common practice."""
LEAST = 2.0
"""Smallest letters of a label, 5.7 pt [mm]. Common practice."""
LARGEST_CODE: Mapping[str, float] = {"box": 28.0, "shelf": 24.0, "tag": 24.0}
"""A code is no larger: what it takes beyond that, the words lack [mm]."""
LEAST_MODULE = 0.33
"""A code with smaller modules is read by some cameras only [mm]. Common practice."""
HOLE_DOWN, HOLE_ACROSS = 6.0, 4.0
"""Of a punched hole: its middle below the upper edge, and its diameter [mm]."""
_GAP = 0.8
"""Between words and a code, whose own quiet zone is wider [mm]."""
_ASCENT, _DESCENT, _LEADING = 0.8, 0.25, 1.3
"""Of a line above and below its base line, and from line to line [em]."""
_INDENT = 1.5
"""Of what stands behind a number or a dot [em]."""
_LARGEST_BODY = 3.0
"""Letters under the title of a box label are no larger [mm]."""
_MOST_LINES = 3
"""Lines a reason or a step may take on a tag [-]."""
_HEAD_AND_LINE = 2
"""Lines of the shortest list: a head stands over something [-]."""
_LONG_LINES = 9
"""Lines that where it may run, and what to read again, may take [-]."""
_LONGEST_NAME = 60
"""Characters of a title in a message [-]."""
_UNSEEN = frozenset({"Cf", "Mn", "Me"})
"""Signs without a place of their own: joiners, directions, variation selectors, and marks no letter is written with."""


def named(history: History) -> str:
    """A car's title on one line, short enough for a message."""
    title = " ".join(history.title.split())
    return title if len(title) <= _LONGEST_NAME else f"{title[: _LONGEST_NAME - 3]}..."


def plain(text: str) -> str:
    """A text as a label shows it: letters with their own accents; marks and joiners beyond those are left out.

    Accents beyond one letter's own would reach into the line above, and what joins signs is in few fonts.
    """
    return "".join(sign for sign in unicodedata.normalize("NFC", text) if unicodedata.category(sign) not in _UNSEEN)


@dataclass(frozen=True, slots=True)
class _Line:
    """One line, its letters' size [mm], what it is, and how far the next one stands below it [em]."""

    text: str
    size: float
    what: str
    bold: bool = False
    ink: str = "ink"
    leading: float = _LEADING


def _height(lines: Sequence[_Line]) -> float:
    """From the top of the first line to the foot of the last [mm]."""
    if not lines:
        return 0.0
    return sum(each.leading * each.size for each in lines[:-1]) + (_ASCENT + _DESCENT) * lines[-1].size


def _balanced(fitted: Fitted, letters: Lettering, room: float) -> tuple[str, ...]:
    """The lines of a title made as even as they can be, so that no number stands alone on the second."""
    text, best = " ".join(fitted.lines), fitted.lines
    for hundredths in range(98, 49, -2):
        width = room * hundredths / 100
        if any(letters.width(word, fitted.size, bold=True) > width for word in words_of_line(text)):
            break
        lines = letters.wrap(text, width, fitted.size, bold=True)
        if len(lines) != len(fitted.lines):
            break
        best = tuple(lines)
    return best


@dataclass
class _Column:
    """Lines one below the other: none begins below ``bottom``, none is wider than ``width`` [mm]."""

    letters: Lettering
    x: float
    y: float
    width: float
    bottom: float
    items: list[Shape] = field(default_factory=list)

    def rows(self, size: float) -> int:
        """Lines of a size there is still room for."""
        return max(0, math.floor((self.bottom - self.y - (_ASCENT + _DESCENT) * size) / (_LEADING * size) + 1 + 1e-9))

    def put(
        self,
        text: str,
        size: float,
        *,
        bold: bool = False,
        ink: str = "ink",
        what: str = "",
        indent: float = 0.0,
        leading: float = _LEADING,
    ) -> bool:
        """One line, cut to the width; whether there was room for it."""
        shown = self.letters.cut(plain(text), self.width - indent, size, bold=bold)
        if not shown:
            return True
        if self.rows(size) < 1:
            return False
        self.items.append(Text(self.x + indent, self.y + _ASCENT * size, shown, size, ink=ink, bold=bold, what=what))
        self.y += leading * size
        return True

    def wrapped(self, text: str, size: float, most: int) -> list[str]:
        """An item of a list in lines behind its number; what takes too many is cut at the end."""
        room = self.width - _INDENT * size
        lines = self.letters.wrap(self.letters.shown(plain(text)), room, size)
        if len(lines) <= most:
            return lines
        kept = lines[: most - 1]
        return [*kept, self.letters.cut(f"{lines[most - 1]} {lines[most]}…", room, size)]

    def listed(
        self, head: str, entries: Sequence[str], size: float, *, numbered: bool, what: str, most: int = _MOST_LINES
    ) -> None:
        """A list under its head: as many whole entries as there is room for, then how many more there are."""
        if not entries or self.rows(size) < _HEAD_AND_LINE:
            return
        self.put(head, size, ink="soft", what="head")
        blocks = [self.wrapped(each, size, most) for each in entries]
        shown, room = len(blocks), self.rows(size)
        while shown and sum(map(len, blocks[:shown])) + (shown < len(blocks)) > room:
            shown -= 1
        for number, block in enumerate(blocks[:shown], 1):
            baseline = self.y + _ASCENT * size
            self.items.append(Text(self.x, baseline, f"{number}." if numbered else "•", size, what="bullet"))
            for each in block:
                self.put(each, size, what=what, indent=_INDENT * size)
        if shown < len(blocks):
            self.put(f"and {len(blocks) - shown} more", size, ink="soft", what="more", indent=_INDENT * size)


def box_label(inspection: Inspection, *, width: float, height: float, letters: Lettering, shop: str = "") -> Scene:
    """For a car's box: title, scale and type, status and points, whose it is, weight, and its code.

    Parameters
    ----------
    inspection : Inspection
        The car.
    width, height : float
        Of the label [mm].
    letters : Lettering
        Of the theme.
    shop : str
        Address the code leads to, "" for none.

    Raises
    ------
    TextFitError
        "box label of Covered hopper, ...: '...' does not fit 2 lines of 31 at size 2; write it shorter"
    LabelError
        Where the code cannot be printed.
    """
    history, verdict = inspection.history, inspection.verdict
    link = link_of(history, shop)
    code = min(height - 2 * MARGIN, LARGEST_CODE["box"]) if link else 0.0
    room = width - 2 * MARGIN - (code + _GAP if link else 0.0)
    lines = _box_lines(inspection, letters, room, height - 2 * MARGIN)
    tall = _height(lines)
    column = _Column(letters, MARGIN, max(MARGIN, (height - tall) / 2), room, height - MARGIN)
    for each in lines:
        if not column.put(each.text, each.size, bold=each.bold, what=each.what, leading=each.leading):
            break
    said = [_title(history), _facts(history), _status(inspection), _points(verdict), _owned(history.prototype)]
    items = [*column.items, *_code(link, code, width - MARGIN - code, (height - code) / 2, history)]
    return _scene("box", width, height, items, [*said, _weight(inspection), _code_words(link)], letters)


def _box_lines(inspection: Inspection, letters: Lettering, room: float, tall: float) -> list[_Line]:
    """Lines of a box label, most wanted first, in the largest letters in which all stand, or in the smallest."""
    history, size = inspection.history, max(min(tall / 10.0, _LARGEST_BODY), LEAST)
    place = f"box label of {named(history)}"
    while True:
        largest = min(1.5 * size, tall / (2 * _LEADING))
        fitted = letters.fit(
            _title(history), width=room, lines=2, largest=largest, smallest=LEAST, place=place, bold=True
        )
        body = max(LEAST, min(size, 0.92 * fitted.size))
        lines = [_Line(each, fitted.size, "title", bold=True) for each in _balanced(fitted, letters, room)]
        lines[-1:] = [replace(each, leading=_LEADING + 0.2) for each in lines[-1:]]
        lines += [
            _Line(text, body, what, bold=what == "status") for text, what in _told(inspection, letters, room, body)
        ]
        if size <= LEAST or _height(lines) <= tall:
            return lines
        size = max(0.96 * size, LEAST)


def _told(inspection: Inspection, letters: Lettering, room: float, size: float) -> list[tuple[str, str]]:
    """What a box label says under its title, most wanted first; status and points on one line where they fit it."""
    history = inspection.history
    status, points = _status(inspection), _points(inspection.verdict)
    both = f"{status}, {points}"
    one = letters.width(both, size, bold=True) <= room
    judged = [(both, "status")] if one else [(status, "status"), (points, "points")]
    owner, weight = _owned(history.prototype, letters, room, size), _weight(inspection)
    told = [(_facts(history), "facts"), *judged, (owner, "owner"), (weight, "weight")]
    return [(text, what) for text, what in told if text]


def shelf_label(inspection: Inspection, *, width: float, height: float, letters: Lettering, shop: str = "") -> Scene:
    """For a car's place on a shelf: its number large, or its title where it has none, and its code.

    Parameters and errors are those of :func:`box_label`.
    """
    history = inspection.history
    link = link_of(history, shop)
    code = min(height - 2 * MARGIN, LARGEST_CODE["shelf"]) if link else 0.0
    room = width - 2 * MARGIN - (code + _GAP if link else 0.0)
    title, number = _title(history), plain(history.prototype.get("number", "")).strip()
    place = f"shelf label of {named(history)}"
    big = letters.fit(number or title, width=room, lines=1, largest=height / 3, smallest=LEAST, place=place, bold=True)
    small = max(LEAST, min(height / 9, 4.0))
    least = max(LEAST, min(height / 10.5, 3.4))
    lines = [_Line(each, big.size, "number", bold=True, leading=_LEADING - 0.15) for each in big.lines]
    lines += [_Line(title, small, "title")] if number else []
    lines.append(_Line(_facts(history), least, "facts", ink="soft"))
    top = max(MARGIN, (height - _height(lines)) / 2)
    column = _Column(letters, MARGIN, top, room, height - MARGIN)
    for each in lines:
        if not column.put(each.text, each.size, bold=each.bold, ink=each.ink, what=each.what, leading=each.leading):
            break
    said = [number, title, _facts(history)]
    items = [*column.items, *_code(link, code, width - MARGIN - code, (height - code) / 2, history)]
    return _scene("shelf", width, height, items, [*said, _code_words(link)], letters)


def bench_tag(
    inspection: Inspection,
    *,
    width: float,
    height: float,
    letters: Lettering,
    shop: str = "",
    due: Sequence[str] = (),
) -> Scene:
    """For a car that is held, restricted or due again: why, and what is next, under a hole to punch.

    Parameters and errors are those of :func:`box_label`; ``due`` says what it is to be looked at again for.
    """
    history, verdict = inspection.history, inspection.verdict
    link = link_of(history, shop)
    title, room = _title(history), width - 2 * MARGIN
    status = _status(inspection, first=True)
    top = HOLE_DOWN + HOLE_ACROSS / 2 + 1.0
    code = LARGEST_CODE["tag"] if link else 0.0
    code_top = height - MARGIN - LARGEST_CODE["tag"]
    body = 2.7
    column = _Column(letters, MARGIN, top, room, code_top)
    column.put(status, 5.6, bold=True, what="status")
    place = f"bench tag of {named(history)}"
    fitted = letters.fit(title, width=room, lines=2, largest=4.0, smallest=body, place=place)
    for each in fitted.lines:
        column.put(each, fitted.size, what="title")
    column.y += 0.5 * body
    when = _date(history)
    beside, foot = room - (code + _GAP if link else 0.0), height - MARGIN - (_LEADING * body if when else 0.0)
    for head, told, what in (
        ("May run", [inspection.route] if inspection.is_restricted else [], "route"),
        ("Look again", due, "due"),
        ("Why", [each for each in verdict.status_reasons if not each.startswith(ROUTE)], "why"),
    ):
        if told and column.rows(body) < _HEAD_AND_LINE:
            column.width, column.bottom = beside, foot
        column.listed(head, told, body, numbered=False, what=what, most=_MOST_LINES if what == "why" else _LONG_LINES)
        column.y += 0.5 * body if told else 0.0
    column.width, column.bottom = beside, foot
    steps, numbered = _next(inspection)
    column.listed("Next", steps, body, numbered=numbered, what="next")
    items = [*_hole(width / 2), *column.items]
    if when:
        items.append(Text(MARGIN, height - MARGIN - _DESCENT * body, when, body, ink="soft", what="date"))
    items += _code(link, code, width - MARGIN - code, code_top, history)
    said = [
        status,
        title,
        *verdict.status_reasons,
        *(f"Look again: {each}" for each in due),
        *(f"Next: {each}" for each in steps),
        when,
        _code_words(link),
    ]
    return _scene("tag", width, height, items, said, letters)


def _scene(
    kind: str, width: float, height: float, items: Sequence[Shape], said: Sequence[str], letters: Lettering
) -> Scene:
    name = {"box": "Box label", "shelf": "Shelf label", "tag": "Bench tag"}[kind]
    words = f"{name}: {'. '.join(' '.join(each.split()) for each in said if each)}."
    return Scene(0.0, 0.0, width, height, tuple(items), letters.shown(words), f"label-{kind}", 1.0)


def _title(history: History) -> str:
    return plain(history.reported.short or history.title)


def _status(inspection: Inspection, *, first: bool = False) -> str:
    """Shape and word; the word begins large where it stands first."""
    word = inspection.verdict.status
    return f"{STATUS_MARKS[word]} {upper_first(word) if first else word}"


def _points(verdict: Verdict) -> str:
    return f"{verdict.points:g} of {verdict.out_of:g} points" if verdict.out_of else "no points yet"


def _facts(history: History) -> str:
    return ", ".join(filter(None, (history.scale.name, history.type)))


def _owned(prototype: Mapping[str, str], letters: Lettering | None = None, room: float = 0.0, size: float = 0.0) -> str:
    """Owner and number; where they do not fit, the owner is cut and the number stays whole."""
    owner, number = (plain(prototype.get(key, "")) for key in ("owner", "number"))
    if letters is not None and owner and number:
        number = letters.cut(number, 0.6 * room, size)
        owner = letters.cut(owner, room - letters.width(f" {number}", size), size)
    return " ".join(filter(None, (owner, number)))


def _weight(inspection: Inspection) -> str:
    """The car's weight as it stands, "" where nobody weighed it."""
    read = (each for each in inspection.last if each.characteristic == "weight.total" and each.value is not None)
    return next((value_words(each, inspection.history.system) for each in read), "")


def _next(inspection: Inspection) -> tuple[list[str], bool]:
    """Steps of the first plan, in their order; else what to measure next."""
    offered = inspection.plans.offered
    if offered:
        return [upper_first(step.words) for step in offered[0].steps], True
    return [upper_first(each) for each in next_words(inspection.next_readings, words_of(inspection.tables))], False


def _date(history: History) -> str:
    """The last date of the history, else that of the report."""
    dated = [each.when for each in history.log if each.when]
    return (dated[-1] if dated else history.reported.issued)[:10]


def _hole(x: float) -> list[Shape]:
    """Where to punch: a circle with a cross."""
    r, y = HOLE_ACROSS / 2, HOLE_DOWN
    cross = line([(x - r, y), (x + r, y)]) + line([(x, y - r), (x, y + r)])
    return [Circle(x, y, r, "soft", 0.15, "none", "hole"), Path(cross, "soft", 0.1, "none", (), "hole-cross")]


def _code(link: str, side: float, x: float, y: float, history: History) -> list[Shape]:
    """A code with its quiet zone in a square, nothing where there is no link."""
    if not link:
        return []
    path, modules = qr_path(link)
    module = math.floor(1000 * side / modules) / 1000  # as a drawing writes it, so that no module grows past its place
    if module < LEAST_MODULE:
        small = f"a link of {len(link)} characters makes squares of {module:.2f} mm"
        raise LabelError(
            f"{named(history)}: {small}, {LEAST_MODULE} mm are needed: give a shorter --shop or larger labels"
        )
    spare = (side - module * modules) / 2
    dark = Path(path, "none", 0.0, "ink", (), "qr-modules")
    return [Group((dark,), link, "", "qr", (x + spare, y + spare), module)]


def _code_words(link: str) -> str:
    return f"Code: {link}" if link else ""
