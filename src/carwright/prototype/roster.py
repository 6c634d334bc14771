"""Rosters: one line a car, in and out as CSV; each car's window in one pass."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from carwright.dates import Span, iso, read_date
from carwright.errors import DateError, Fault, SheetError
from carwright.prototype.anachronism import best_year, judge, told_once
from carwright.prototype.evidence import Claim, Piece
from carwright.prototype.reading import Setting, wanted_of
from carwright.prototype.subject import USES, Shown, State, Subject, Use
from carwright.prototype.window import Window, window_of
from carwright.tables.dated_model import Dated
from carwright.textfile import read_text
from carwright.words import KINDS, kind_of, nearest, plain

COLUMNS = (
    "owner", "class", "series", "number", "type", "use", "quantity", "builder", "built", "rebuilt", "repainted",
    "weighed", "tested", "repacked", "renumbered", "last_seen", "capacity", "shows", "lacks", "wanted", "source",
    "trust", "note",
)  # fmt: skip
"""Columns a roster may have; features in ``shows`` and ``lacks`` are parted by semicolons."""
RESULTS = ("earliest", "earliest_soft", "latest_soft", "latest_hard", "as_wanted", "bounded_by")
"""Columns put behind them on the way out."""
LARGEST = 20_000_000
"""Bytes a roster may have: some hundred thousand cars."""
_STENCILS = ("built", "rebuilt", "repainted", "weighed", "tested", "repacked")


@dataclass(frozen=True, slots=True)
class Line:
    """One car of a roster.

    Attributes
    ----------
    number : int
        Line of the file.
    cells : dict
        As written, by column.
    subject : Subject
        What it shows, and the dates it bears.
    wanted : Span or None
        Months it is wanted for.
    claims : tuple[Claim, ...]
        Dates of its life.
    """

    number: int
    cells: dict[str, str]
    subject: Subject
    wanted: Span | None
    claims: tuple[Claim, ...]


def read_roster(path: Path, dated: Dated) -> list[Line]:
    """Read a roster.

    Parameters
    ----------
    path : Path
        UTF-8, a head of :data:`COLUMNS` in any order, commas or semicolons.
    dated : Dated
        For names of features.

    Raises
    ------
    SheetError
        With every fault: file, line, column, and what was expected.
    """
    text = read_text(path, most=LARGEST, what="roster")
    return read_roster_text(text, dated, str(path))


def read_roster_text(text: str, dated: Dated, file: str = "roster.csv") -> list[Line]:
    """Read a roster from its text; see :func:`read_roster`."""
    head = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",", strict=True)
    lines: list[Line] = []
    faults: list[Fault] = []
    try:
        names = [name.strip().casefold().replace(" ", "_") for name in next(reader, [])]
        faults += _head_faults(names)
        for cells in reader:
            if faults and not lines and any(fault.line == 1 for fault in faults):
                break
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(names):
                faults.append(Fault(reader.line_num, "", f"has {len(cells)} cells, the head has {len(names)}"))
                continue
            row = {name: cell.strip() for name, cell in zip(names, cells, strict=True)}
            line, wrong = _line(reader.line_num, row, dated)
            faults += wrong
            lines.append(line)
    except csv.Error as error:
        faults.append(Fault(reader.line_num, "", f"not CSV: {error}"))
    if faults:
        raise SheetError(file, faults)
    return lines


def _head_faults(names: Sequence[str]) -> Iterator[Fault]:
    if not names:
        yield Fault(1, "", f"needs a head of columns: {', '.join(COLUMNS)}")
    for name in names:
        if name not in COLUMNS and name not in RESULTS:
            yield Fault(1, name, f"unknown column {name!r}{nearest(name, COLUMNS)}")
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield Fault(1, name, "stands twice")


def _line(number: int, row: dict[str, str], dated: Dated) -> tuple[Line, list[Fault]]:
    faults: list[Fault] = []

    def date(column: str) -> Span | None:
        words = row.get(column, "")
        if not words:
            return None
        try:
            return read_date(words)
        except DateError as error:
            faults.append(Fault(number, column, str(error)))
            return None

    shown = [*_features(number, row, "shows", "present", dated, faults),
             *_features(number, row, "lacks", "absent", dated, faults)]  # fmt: skip
    trust = _trust(number, row, dated, faults)
    spans = {name: date(name) for name in (*_STENCILS, "renumbered", "last_seen")}
    stencils = {}
    for name in _STENCILS:
        span = spans[name]
        if span is not None and span.first is not None and span.first == span.last:
            stencils[f"stencil.{name}"] = span.first
        elif span is not None and name not in {"built", "rebuilt"}:
            faults.append(Fault(number, name, f"a stencil bears a month, such as 1953-04; {row[name]!r} is none"))
    use, wrong = _words(number, row)
    faults += wrong
    wanted = date("wanted")
    if wanted is not None and (wanted.first is None or wanted.last is None):
        faults.append(Fault(number, "wanted", "a wanted date has a first and a last month, such as 1957"))
    names = {"last_seen": "last seen"}
    claims = tuple(
        Claim(names.get(name, name), span, trust, row[name], row.get("source") or f"roster line {number}")
        for name in ("built", "rebuilt", "repainted", "renumbered", "last_seen")
        if (span := spans[name]) is not None
    )
    subject = Subject(
        kind=kind_of(row.get("type", "")),
        use=use,
        owner=row.get("owner", ""),
        car_class=row.get("class", ""),
        shown=tuple(shown),
        stencils=stencils,
        built=spans["built"],
        rebuilt=spans["rebuilt"],
        last_seen=spans["last_seen"],
    )
    faults += _out_of_order(number, row, spans)
    return Line(number, row, subject, wanted, claims), faults


def _out_of_order(number: int, row: dict[str, str], spans: Mapping[str, Span | None]) -> Iterator[Fault]:
    """Dates of a life that cannot follow each other."""
    for early, late in (("built", "rebuilt"), ("built", "last_seen"), ("rebuilt", "last_seen")):
        one, other = spans[early], spans[late]
        if one is None or other is None or one.first is None or other.last is None:
            continue
        if one.first > other.last:
            yield Fault(number, late, f"{row[late]!r} lies before {early} {row[early]!r}")


def _words(number: int, row: dict[str, str]) -> tuple[Use, list[Fault]]:
    """The car's use, and what is wrong with its use and its type."""
    faults = []
    kind, use = row.get("type", ""), row.get("use") or "interchange"
    if kind and not kind_of(kind):
        faults.append(Fault(number, "type", f"{kind!r} is no kind of car dated rules know{nearest(kind, KINDS)}"))
    for each in USES:
        if each == use:
            return each, faults
    faults.append(Fault(number, "use", f"{use!r} must be one of {', '.join(USES)}"))
    return USES[0], faults


def _features(
    number: int, row: dict[str, str], column: str, state: State, dated: Dated, faults: list[Fault]
) -> Iterator[Shown]:
    told: set[str] = set()
    for name in filter(None, (part.strip() for part in row.get(column, "").split(";"))):
        meant = dated.written.get(plain(name))
        if meant is None or meant not in dated.group_of:
            hint = nearest(name, set(dated.group_of))
            faults.append(Fault(number, column, f"nobody defined the feature {name!r}{hint}"))
        elif meant in told:
            faults.append(Fault(number, column, f"{meant} stands twice"))
        else:
            told.add(meant)
            yield Shown(meant, state)


def _trust(number: int, row: dict[str, str], dated: Dated, faults: list[Fault]) -> float:
    words = row.get("trust", "")
    if not words:
        return dated.weights.claim_trust
    try:
        trust = float(words)
    except ValueError:
        trust = -1.0
    if not 0 <= trust <= 1:
        faults.append(Fault(number, "trust", f"expected a number from 0 to 1, got {words!r}"))
        return dated.weights.claim_trust
    return trust


@dataclass(frozen=True, slots=True)
class Judgement:
    """A car of a roster and its window; ``as_wanted`` is right, doubtful or wrong, "" where no date is wanted."""

    line: Line
    window: Window
    as_wanted: str


def judge_roster(lines: Iterable[Line], dated: Dated) -> Iterator[Judgement]:
    """The window of every car of a roster."""
    for line in lines:
        window = window_of(dated, line.subject)
        judged = ""
        if line.wanted is not None:
            aim = best_year(window, line.wanted)
            each = {judge(stretch, aim) for stretch in told_once(window.stretches, aim)}
            judged = "wrong" if "wrong" in each else "doubtful" if "doubtful" in each else "right"
        yield Judgement(line, window, judged)


def want(lines: Iterable[Line], words: str, dated: Dated) -> list[Line]:
    """Lines that are all wanted for one date, as they are where none is given.

    Raises
    ------
    DateError
        Where the date cannot be read, or is open to one side.
    """
    span = wanted_of(words, "", dated)
    return [replace(line, wanted=span) if span is not None else line for line in lines]


def roster_text(judged: Iterable[Judgement]) -> str:
    """A roster as CSV, every cell as it was written, with the results behind them.

    A cell a spreadsheet would take for a formula gets an apostrophe before it.
    """
    listed = list(judged)
    names = [name for name in COLUMNS if any(name in each.line.cells for each in listed)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*names, *RESULTS])
    for each in listed:
        window = each.window
        writer.writerow(
            [
                *(safe_cell(each.line.cells.get(name, "")) for name in names),
                *sides_of(window),
                each.as_wanted,
                safe_cell("; ".join(bounds_of(window))),
            ]
        )
    return out.getvalue()


def sides_of(window: Window) -> tuple[str, str, str, str]:
    """Hard and soft beginning, soft and hard end: "" where open, ``no month`` where nothing is left."""
    hard, soft = ("" if spans else "no month" for spans in (window.hard, window.soft))
    return (
        iso(window.earliest) or hard, iso(window.earliest_soft) or soft, iso(window.latest_soft) or soft,
        iso(window.latest_hard) or hard,
    )  # fmt: skip


def bounds_of(window: Window) -> list[str]:
    """Rules that set the window's sides; one from memory says so."""
    told = [
        f"{each.rule}{' [from memory]' if 'from memory' in each.marks else ''}" for each in window.bounds if each.rule
    ]
    return list(dict.fromkeys(told))


def safe_cell(cell: str) -> str:
    """A cell no spreadsheet takes for a formula."""
    return f"'{cell}" if cell[:1] in {"=", "+", "-", "@", "\t"} else cell


def lines_of(lines: Iterable[Line], owner: str, number: str) -> list[Line]:
    """Lines about one car: its number, and its owner where both say."""
    return [
        line
        for line in lines
        if number
        and line.cells.get("number", "").casefold() == number.casefold()
        and (not owner or not line.cells.get("owner") or line.cells["owner"].casefold() == owner.casefold())
    ]


def as_pieces(lines: Iterable[Line], setting: Setting, file: str) -> list[Piece]:
    """Roster lines of one car as pieces of evidence."""
    return [
        Piece(
            name=line.cells.get("source") or f"{file}, line {line.number}",
            of="roster",
            subject=replace(
                setting.subject(line.cells.get("type", ""), line.cells.get("use", "")), shown=line.subject.shown
            ),
            claims=line.claims,
            number=line.cells.get("number", ""),
        )
        for line in lines
    ]
