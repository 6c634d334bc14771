"""When a car is to be looked at again: after works, trouble, transport, storage, running or time, by one's own rules.

A rule counts from what happened, and is answered by reading the car again. All of it follows from the history, so that
what is due stands on the same ground as the status beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from carwright.history import History, Work
from carwright.history.log import Happening
from carwright.history.movements import Placement, day_of
from carwright.measure import characteristic_of
from carwright.measure.values import touches
from carwright.verdict.due_rules import DueRule, DueRules
from carwright.words import Vocabulary

_LOOKED = ("reading", "gauge", "profile", "look")
"""Kinds of entry that are an inspection."""
_ANY = "*"
"""Stands for any look at the car."""


@dataclass(frozen=True, slots=True)
class DueReason:
    """Why a car is to be looked at again.

    Attributes
    ----------
    rule, why : str
        The rule, and the reason in words.
    start : date or None
        The day from which on; None where it is due at once and no day is known.
    read : tuple[str, ...]
        What to read: titles of characteristics with their places.
    """

    rule: str
    why: str
    start: dt.date | None
    read: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Why, and what to read."""
        return f"{self.why}; read {', '.join(self.read)}" if self.read else self.why

    def is_due(self, today: dt.date) -> bool:
        """Whether that day has come."""
        return self.start is None or self.start <= today


@dataclass(frozen=True, slots=True)
class Due:
    """All of it.

    Attributes
    ----------
    reasons : tuple[DueReason, ...]
        What is due, now or later, first day first.
    untold : tuple[str, ...]
        Rules that cannot be told for want of a date, one sentence each.
    """

    reasons: tuple[DueReason, ...]
    untold: tuple[str, ...]


def due_of(history: History, stale: Mapping[tuple[str, str], Work], rules: DueRules, words: Vocabulary) -> Due:
    """What a car is to be looked at again for.

    Parameters
    ----------
    history : History
        What was seen and done.
    stale : mapping
        Characteristics and places that were read before a work that touches them and not since
        (:mod:`carwright.measure`).
    rules : DueRules
        When.
    words : Vocabulary
        Titles, and what each remedy touches.
    """
    looking = _Looking(history, tuple(stale), words)
    reasons: list[DueReason] = []
    untold: list[str] = []
    for rule in rules.rules:
        for found in looking.by(rule):
            if isinstance(found, str):
                untold.append(found)
            else:
                reasons.append(found)
    return Due(tuple(sorted(reasons, key=lambda each: (each.start or dt.date.min, each.rule))), tuple(untold))


def _later(day: dt.date, days: int) -> dt.date | None:
    """A day some days later, None where no calendar has it."""
    try:
        return day + dt.timedelta(days=days)
    except OverflowError:
        return None


class _Looking:
    """One history, and where in it the car was looked at."""

    def __init__(self, history: History, stale: Sequence[tuple[str, str]], words: Vocabulary) -> None:
        self._history, self._stale, self._words = history, stale, words
        self._at = {happening.entry: index for index, happening in enumerate(history.log)}
        self._looks = [(index, each) for index, each in enumerate(history.log) if each.kind in _LOOKED]

    def by(self, rule: DueRule) -> Iterator[DueReason | str]:
        match rule.after:
            case "work":
                yield from self._works(rule)
            case "trouble":
                yield from self._since(rule, {each.entry: each.when for each in self._history.running if each.defect})
            case "transport":
                carried = [each for each in self._history.placements if each.how == "transport"]
                yield from self._since(rule, {each.entry: each.end or each.start for each in carried})
            case "storage":
                yield from self._stored(rule)
            case "running":
                yield from self._run(rule)
            case _:
                yield from self._time(rule)

    # --- the rules -----------------------------------------------------------------------------------------

    def _works(self, rule: DueRule) -> Iterator[DueReason]:
        """One reason for each work after which not all was read that the rule asks for."""
        for work in self._history.works:
            if rule.remedies and work.remedy not in rule.remedies:
                continue
            spoilt = [key for key in self._stale if self._spoils(work, key)]
            wanted = [key for key in spoilt if not rule.read or characteristic_of(key[0]) in rule.read]
            after = self._at[work.entry]
            known = {characteristic_of(what) for what, _ in wanted}
            missing = [each for each in rule.read if each not in known and not self._answered(each, after)]
            if wanted or missing or (not rule.read and not self._answered(_ANY, after)):
                read = (*self._titles(wanted), *self._all(missing))
                yield DueReason(rule.id, f"{rule.why}: {work.remedy}", day_of(work.when), read)

    def _spoils(self, work: Work, key: tuple[str, str]) -> bool:
        """Whether a work made a reading stale that was not taken again since, nor between it and a later work."""
        if not touches(work, key, self._words):
            return False
        what, at = characteristic_of(key[0]), key[1]
        read = [each.stage for each in self._history.readings if (each.what, each.at) == (what, at)]
        read += [each.stage for each in self._history.gauges if (each.what, each.at) == (what, at)]
        return max(read, default=-1) < work.stage

    def _since(self, rule: DueRule, events: Mapping[int, dt.date | None]) -> Iterator[DueReason]:
        """What of several events of one kind is not answered, from the first of their days on."""
        days: list[dt.date | None] = []
        missing: dict[str, None] = {}
        for entry, day in events.items():
            lacking = [each for each in rule.read or (_ANY,) if not self._answered(each, self._at[entry])]
            if lacking:
                days.append(day)
                missing |= dict.fromkeys(lacking)
        if days:
            start = None if None in days else min(each for each in days if each is not None)
            yield DueReason(rule.id, rule.why, start, self._all(missing))

    def _stored(self, rule: DueRule) -> Iterator[DueReason | str]:
        """Every stay in storage that became too long and was not answered, from the first such day on."""
        found: list[tuple[dt.date, list[str]]] = []
        for first, end, entry in self._stays():
            if first is None:
                yield f"{rule.id}: entry {entry} (placement) says no day from which on it was stored"
                continue
            full = _later(first, rule.days)
            if full is None or (end is not None and end < full):
                continue
            missing = [each for each in rule.read or (_ANY,) if not self._answered_from(each, self._at[entry], full)]
            if missing:
                found.append((full, missing))
        if found:
            wanted = dict.fromkeys(each for _, missing in found for each in missing)
            yield DueReason(rule.id, rule.why, min(day for day, _ in found), self._all(wanted))

    def _stays(self) -> Iterator[tuple[dt.date | None, dt.date | None, int]]:
        """First day, last day and entry of each time in storage; stays that follow one another are one."""
        dated = sorted((each for each in self._history.placements if each.start is not None), key=_start)
        for each in self._history.placements:
            if each.how == "storage" and each.start is None:
                yield None, each.end, each.entry
        first: dt.date | None = None
        for index, each in enumerate(dated):
            if each.how != "storage":
                continue
            first = first or each.start
            following = dated[index + 1] if index + 1 < len(dated) else None
            end = each.end or (following.start if following is not None else None)
            goes_on = following is not None and following.how == "storage" and _start(following) <= (end or dt.date.max)
            if not goes_on:
                yield first, end, each.entry
                first = None

    def _run(self, rule: DueRule) -> Iterator[DueReason]:
        """Runs since what must be read was read; the oldest of it counts."""
        since = min(self._last(what) for what in rule.read or (_ANY,))
        runs = 0
        for each in self._history.running:
            if self._at[each.entry] > since:
                runs += each.runs
                if runs >= rule.runs:
                    yield DueReason(rule.id, f"{rule.why}: {rule.runs} runs or more", each.when, self._all(rule.read))
                    return

    def _time(self, rule: DueRule) -> Iterator[DueReason | str]:
        last: list[dt.date] = []
        undated = False
        for what in rule.read or (_ANY,):
            looks = [day_of(each.when) for _, each in self._looks if _about(what, each)]
            known = [each for each in looks if each is not None]
            if not looks:
                yield DueReason(rule.id, rule.why, None, self._all(rule.read))
                return
            undated |= not known
            last += [max(known)] if known else []
        if undated:
            yield f"{rule.id}: no reading says when it was taken"
            return
        start = _later(min(last), rule.days)
        if start is not None:
            yield DueReason(rule.id, rule.why, start, self._all(rule.read))

    # --- what was read -------------------------------------------------------------------------------------

    def _last(self, what: str) -> int:
        return max((index for index, each in self._looks if _about(what, each)), default=-1)

    def _answered(self, what: str, after: int) -> bool:
        return self._last(what) > after

    def _answered_from(self, what: str, after: int, day: dt.date) -> bool:
        """Whether it was read on a day or later; what bears no date answers what stands before it."""
        for index, each in self._looks:
            when = day_of(each.when)
            if _about(what, each) and (index > after if when is None else when >= day):
                return True
        return False

    # --- words ---------------------------------------------------------------------------------------------

    def _all(self, names: Iterable[str]) -> tuple[str, ...]:
        return tuple(self._title(each) for each in names if each != _ANY)

    def _title(self, what: str) -> str:
        known = self._words.characteristics.get(characteristic_of(what))
        return known.title if known is not None else what

    def _titles(self, keys: Sequence[tuple[str, str]]) -> tuple[str, ...]:
        places: dict[str, list[str]] = {}
        for what, at in keys:
            places.setdefault(self._title(what), []).append(at)
        return tuple(
            f"{title} ({', '.join(sorted({each for each in at if each}))})" if any(at) else title
            for title, at in places.items()
        )


def _about(what: str, happening: Happening) -> bool:
    """Whether a look is of a characteristic; a car that rolled on a grade says from which slope on it does."""
    if what == _ANY:
        return True
    read = happening.what if happening.kind in {"reading", "gauge"} else happening.kind
    return what == read or (what == "roll.start" and read == "roll.free")


def _start(placement: Placement) -> dt.date:
    return placement.start or dt.date.min
