"""Months: read as people write dates, kept as one number inside.

A month is ``12 × year + month − 1`` [months since the year 0]. A date somebody states is a :class:`Span` of months,
both ends included, as wide as the words allow: ``1957`` is twelve months, ``about 1957`` five years, ``before 1960``
has no first month.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from carwright.errors import DateError

EARLIEST, LATEST = 1800, 2100
"""Years a date may lie in."""
ABOUT = 2
"""Years either side of a date that is only about right; judgement."""
_LONGEST = 60
"""Characters of a date."""
EXPECTED = (
    "a date such as 1957, 1957-06, 1957-06-14, June 1957, summer 1957, 1950s, about 1957, before 1960, after 1948, "
    "1950 to 1955 or 1950..1955"
)


@dataclass(frozen=True, slots=True)
class Span:
    """Months from ``first`` to ``last``, both included; None where that side is open [months]."""

    first: int | None
    last: int | None

    def meets(self, other: Span) -> bool:
        """Whether some month lies in both."""
        return self.common(other) is not None

    def common(self, other: Span) -> Span | None:
        """Months in both, None where there are none."""
        first, last = self.first, self.last
        if first is None or (other.first is not None and other.first > first):
            first = other.first
        if last is None or (other.last is not None and other.last < last):
            last = other.last
        return None if first is not None and last is not None and first > last else Span(first, last)

    def holds(self, month: int) -> bool:
        """Whether a month lies in it."""
        return (self.first is None or self.first <= month) and (self.last is None or month <= self.last)

    def covers(self, other: Span) -> bool:
        """Whether every month of another lies in it."""
        low = self.first is None or (other.first is not None and self.first <= other.first)
        high = self.last is None or (other.last is not None and other.last <= self.last)
        return low and high

    def words(self) -> str:
        """``1953-07 to 1959-12``, ``1957`` for all of a year, ``from 1953-07``, ``until 1959-12`` or ``any month``."""
        if self.first is None and self.last is None:
            return "any month"
        if self.first is None or self.last is None:
            return f"from {iso(self.first)}" if self.first is not None else f"until {iso(self.last)}"
        if self.first % 12 == 0 and self.last % 12 == 11:  # noqa: PLR2004 - from January to December
            first, last = self.first // 12, self.last // 12
            return str(first) if first == last else f"{first} to {last}"
        return iso(self.first) if self.first == self.last else f"{iso(self.first)} to {iso(self.last)}"


ALWAYS = Span(None, None)
Spans = tuple[Span, ...]
"""Spans in order, none touching another."""


def month_of(year: int, month: int) -> int:
    """The number of a month, 1 to 12, of a year."""
    return 12 * year + month - 1


def iso(month: int | None) -> str:
    """``1957-06``; "" for None."""
    return "" if month is None else f"{month // 12:04d}-{month % 12 + 1:02d}"


def overlap(one: Iterable[Span], other: Iterable[Span]) -> Spans:
    """Months in both of two sets of spans."""
    others = tuple(other)
    found = [both for left in one for right in others if (both := left.common(right)) is not None]
    return tuple(sorted(found, key=lambda span: span.first if span.first is not None else -1))


def span_of(pieces: Iterable[Span]) -> Span:
    """The stretch from the first to the last of several spans."""
    listed = list(pieces)
    firsts = [span.first for span in listed if span.first is not None]
    lasts = [span.last for span in listed if span.last is not None]
    return Span(min(firsts, default=None), max(lasts, default=None))


def spans_words(spans: Spans) -> str:
    """Spans in words, ``never`` where there are none."""
    return " and ".join(span.words() for span in spans) or "never"


def first_allowed(day: str) -> int:
    """Month in which something may first be seen, when it begins on a day."""
    year, month, _ = _day(day)
    return month_of(year, month)


def last_allowed(day: str) -> int:
    """Month in which something may last be seen, when it ends on a day: the month before where the day is its first."""
    year, month, date = _day(day)
    return month_of(year, month) - (date == 1)


def _day(text: str) -> tuple[int, int, int]:
    year, month, day = (int(part) for part in text.split("-"))
    return year, month, day


def check_day(text: object) -> str:
    """A day as written in a table, ``1953-07-01``.

    Raises
    ------
    DateError
        "cannot read '1953-02-30' as a date: there is no such day"
    """
    if not isinstance(text, str) or re.fullmatch(r"\d{4}-\d\d-\d\d", text) is None:
        raise DateError(str(text), "expected a day such as 1953-07-01")
    year, month, day = _day(text)
    _one_day(text, year, month, day)
    return text


EPOCH = re.compile(r"(?:(?:nem \d+ )?(D|A|CH|DK|F|EU) )?(?:(?:epoche?|ep\.?) ?)?([IVX]+)([a-f]{0,2})", re.IGNORECASE)
"""A name of an epoch as the European norms write it: country where it is given, number, part."""


def read_wanted(text: str) -> Span:
    """The months a model is wanted for, with a first and a last.

    Raises
    ------
    DateError
        "cannot read 'after 1950' as a date: a wanted date has a first and a last month, such as 1957 or 1955..1958"
    """
    span = read_date(text)
    if span.first is None or span.last is None:
        raise DateError(text, "a wanted date has a first and a last month, such as 1957 or 1955..1958")
    return span


def read_date(text: str) -> Span:
    """The months a date in words may mean.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    Span
        As wide as the words allow.

    Raises
    ------
    DateError
        "cannot read '1957-13' as a date: there is no month 13", "cannot read '6-57' as a date: expected a date such as
        1957, ..."
    """
    if len(text) > _LONGEST:
        raise DateError(text, f"longer than {_LONGEST} characters")
    plain = " ".join(text.strip().casefold().replace("–", "-").replace("—", "-").split())
    for pattern, read in _FORMS:
        found = pattern.fullmatch(plain)
        if found is not None:
            return read(text, *found.groups())
    raise DateError(text, f"expected {EXPECTED}")


def _months() -> dict[str, int]:
    names = {name.casefold(): number for number, name in enumerate(calendar.month_name) if name}
    return names | {name.casefold(): number for number, name in enumerate(calendar.month_abbr) if name} | {"sept": 9}


_NAMES = _months()
_SEASONS = {"spring": (2, 4), "summer": (5, 7), "autumn": (8, 10), "fall": (8, 10), "winter": (-1, 13)}
"""First and last month of a season, counted from January; a winter is the one before or the one after New Year."""


def _year(text: str, year: str) -> int:
    number = int(year)
    if not EARLIEST <= number <= LATEST:
        raise DateError(text, f"expected a year from {EARLIEST} to {LATEST}")
    return number


def _whole_year(text: str, year: str) -> Span:
    number = _year(text, year)
    return Span(month_of(number, 1), month_of(number, 12))


def _one_month(text: str, year: str, month: str) -> Span:
    number = _year(text, year)
    if not 1 <= int(month) <= 12:  # noqa: PLR2004 - months of a year
        raise DateError(text, f"there is no month {int(month)}")
    return Span(month_of(number, int(month)), month_of(number, int(month)))


def _one_day(text: str, year: str | int, month: str | int, day: str | int) -> Span:
    span = _one_month(text, str(year), str(month))
    if not 1 <= int(day) <= calendar.monthrange(int(year), int(month))[1]:
        raise DateError(text, "there is no such day")
    return span


def _named_month(text: str, name: str, year: str) -> Span:
    return _one_month(text, year, str(_NAMES[name]))


def _named_day(text: str, day: str, name: str, year: str) -> Span:
    return _one_day(text, year, _NAMES[name], day)


def _season(text: str, name: str, year: str) -> Span:
    first, last = _SEASONS[name]
    start = month_of(_year(text, year), 1)
    return Span(start + first, start + last)


def _decade(text: str, part: str | None, year: str) -> Span:
    start = _year(text, year)
    first, last = {None: (0, 9), "early": (0, 4), "mid": (3, 7), "late": (5, 9)}[part]
    return Span(month_of(start + first, 1), month_of(start + last, 12))


def _about(text: str, rest: str) -> Span:
    span = read_date(rest)
    if span.first is None or span.last is None:
        raise DateError(text, "about goes with a year or a month")
    return Span(span.first - 12 * ABOUT, span.last + 12 * ABOUT)


def _side(text: str, word: str, rest: str) -> Span:
    span = read_date(rest)
    if span.first is None or span.last is None:
        raise DateError(text, f"{word} goes with a year or a month")
    match word:
        case "before":
            return Span(None, span.first - 1)
        case "after":
            return Span(span.last + 1, None)
        case "from" | "since":
            return Span(span.first, None)
        case _:
            return Span(None, span.last)


def _between(text: str, one: str, other: str) -> Span:
    first, last = read_date(one).first, read_date(other).last
    if first is None or last is None or first > last:
        raise DateError(text, "its first date must come before its last")
    return Span(first, last)


_FORMS: tuple[tuple[re.Pattern[str], Callable[..., Span]], ...] = (
    (re.compile(r"(\d{4})"), _whole_year),
    (re.compile(r"(\d{4})-(\d{1,2})"), _one_month),
    (re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})"), _one_day),
    (re.compile(r"(?:(early|mid|late)[ -])?(\d{3}0)s"), _decade),
    (re.compile(rf"({'|'.join(_SEASONS)}) (\d{{4}})"), _season),
    (re.compile(rf"({'|'.join(_NAMES)})\.? (\d{{4}})"), _named_month),
    (re.compile(rf"(\d{{1,2}})\.? ({'|'.join(_NAMES)})\.? (\d{{4}})"), _named_day),
    (re.compile(r"(?:about|circa|ca\.?|c\.) ?(.+)"), _about),
    (re.compile(r"(?:(?:from|since) )?(.+?) ?\.\. ?(.+)"), _between),
    (re.compile(r"(?:(?:from|since) )?(.+?) to (.+)"), _between),
    (re.compile(r"(before|after|from|since|until|by) (.+)"), _side),
)
