"""When a car is to be looked at again: after works, trouble, transport, storage, running or time, by one's own rules.

A rule counts from what happened, and is answered by reading the car again. All of it follows from the history, so that
what is due stands on the same ground as the status beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from carwright.errors import TableError
from carwright.history import History, Work
from carwright.history.log import Happening
from carwright.history.movements import day_of
from carwright.measure import characteristic_of
from carwright.tables.load import read_toml
from carwright.tables.shape import check_shape
from carwright.words import Vocabulary, nearest

FORMAT = "carwright-due/1"
AFTER = ("work", "trouble", "transport", "storage", "running", "time")
_KEYS = {
    **dict.fromkeys(("id", "after", "why"), "a text"),
    **dict.fromkeys(("read", "remedy"), "a list of texts"),
    **dict.fromkeys(("days", "runs"), "a number of zero or more"),
}
_NEEDS = {"storage": "days", "time": "days", "running": "runs"}
_LOOKED = ("reading", "gauge", "profile", "look")
"""Kinds of entry that are an inspection."""


@dataclass(frozen=True, slots=True)
class DueRule:
    """One rule.

    Attributes
    ----------
    id, after, why : str
        Its name, one of :data:`AFTER`, and the reason in words.
    read : tuple[str, ...]
        Characteristics that must be read again; where there are none, what a work made stale, or any look at the car.
    remedies : tuple[str, ...]
        Works it counts, () for all.
    days, runs : int
        How long it may stand, and how often it may run.
    """

    id: str
    after: str
    why: str
    read: tuple[str, ...] = ()
    remedies: tuple[str, ...] = ()
    days: int = 0
    runs: int = 0


@dataclass(frozen=True, slots=True)
class DueRules:
    """Rules that go together."""

    id: str
    title: str
    rules: tuple[DueRule, ...]


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


@lru_cache(maxsize=1)
def usual_rules() -> DueRules:
    """The shipped rules: common practice."""
    text = (files("carwright.verdict") / "rubrics" / "due.toml").read_text("utf-8")
    return read_due_rules(text, "rubrics/due.toml")


def read_due_rules(text: str, file: str, words: Vocabulary | None = None) -> DueRules:
    """Read rules.

    Parameters
    ----------
    text : str
        TOML, ``format = "carwright-due/1"``.
    file : str
        Its name, for errors.
    words : Vocabulary, optional
        Where characteristics and remedies are checked.

    Raises
    ------
    TableError
        "my-due.toml, rule 2 (show): unknown after 'travel'; did you mean 'transport'?", "...: storage needs days"
    """
    raw = read_toml(text, file)
    if raw.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {raw.get('format')!r}")
    check_shape(raw, {**dict.fromkeys(("format", "id", "title"), "a text"), "rule": "a list of tables"}, file)
    rules: list[DueRule] = []
    for number, row in enumerate(raw.get("rule", []), 1):
        place = f"{file}, rule {number} ({row.get('id', '?')})"
        rules.append(_rule(row, place, words))
        if rules[-1].id in [each.id for each in rules[:-1]]:
            raise TableError(place, "its id stands twice")
    return DueRules(str(raw.get("id", "")), str(raw.get("title", "")), tuple(rules))


def _rule(row: Mapping[str, Any], place: str, words: Vocabulary | None) -> DueRule:
    check_shape(row, _KEYS, place)
    for key in ("id", "after", "why"):
        if not row.get(key):
            raise TableError(place, f"needs {key}")
    after = row["after"]
    if after not in AFTER:
        raise TableError(place, f"unknown after {after!r}{nearest(after, AFTER)}")
    _check_counts(row, after, place)
    if row.get("remedy") and after != "work":
        raise TableError(place, f"remedy does not go with {after}")
    if words is not None:
        _check_names(row, words, place)
    return DueRule(
        id=row["id"],
        after=after,
        why=row["why"],
        read=tuple(row.get("read", ())),
        remedies=tuple(row.get("remedy", ())),
        days=int(row.get("days", 0)),
        runs=int(row.get("runs", 0)),
    )


def _check_counts(row: Mapping[str, Any], after: str, place: str) -> None:
    need = _NEEDS.get(after)
    for key in ("days", "runs"):
        value = row.get(key)
        if (key == need) != (value is not None):
            raise TableError(place, f"{after} needs {need}" if key == need else f"{key} does not go with {after}")
        if value is not None and (value != int(value) or value < 1):
            raise TableError(place, f"{key} must be a whole number above zero, got {value!r}")


def _check_names(row: Mapping[str, Any], words: Vocabulary, place: str) -> None:
    for key, known in (("read", words.characteristics), ("remedy", words.remedies)):
        for name in row.get(key, []):
            if name not in known:
                raise TableError(place, f"{key}: unknown name {name!r}{nearest(name, known)}")


def due_of(history: History, stale: Mapping[tuple[str, str], Work], rules: DueRules, words: Vocabulary) -> Due:
    """What a car is to be looked at again for.

    Parameters
    ----------
    history : History
        What was seen and done.
    stale : mapping
        By characteristic and place, the work after which it was not read again (:mod:`carwright.measure`).
    rules : DueRules
        When.
    words : Vocabulary
        Titles.
    """
    looking = _Looking(history, stale, words)
    reasons: list[DueReason] = []
    untold: list[str] = []
    for rule in rules.rules:
        for found in looking.by(rule):
            if isinstance(found, str):
                untold.append(found)
            else:
                reasons.append(found)
    return Due(tuple(sorted(reasons, key=lambda each: (each.start or dt.date.min, each.rule))), tuple(untold))


class _Looking:
    """One history, and where in it the car was last looked at."""

    def __init__(self, history: History, stale: Mapping[tuple[str, str], Work], words: Vocabulary) -> None:
        self._history, self._stale, self._words = history, stale, words
        self._at = {happening.entry: index for index, happening in enumerate(history.log)}
        self._looks = [(index, each) for index, each in enumerate(history.log) if each.kind in _LOOKED]

    def by(self, rule: DueRule) -> Iterator[DueReason | str]:
        match rule.after:
            case "work":
                yield from self._works(rule)
            case "trouble":
                troubles = [each.entry for each in self._history.running if each.defect]
                yield from self._since(rule, troubles[-1:])
            case "transport":
                carried = [each.entry for each in self._history.placements if each.how == "transport"]
                yield from self._since(rule, carried[-1:])
            case "storage":
                yield from self._stored(rule)
            case "running":
                yield from self._run(rule)
            case _:
                yield from self._time(rule)

    def _works(self, rule: DueRule) -> Iterator[DueReason]:
        """One reason for each work whose own readings were not taken again."""
        for work in self._history.works:
            if rule.remedies and work.remedy not in rule.remedies:
                continue
            spoilt = [key for key, by in self._stale.items() if by.entry == work.entry]
            wanted = [key for key in spoilt if not rule.read or characteristic_of(key[0]) in rule.read]
            after = self._at[work.entry]
            missing = set(rule.read) - self._read_after(after)
            read = self._titles(wanted) if wanted else tuple(self._title(each) for each in rule.read if each in missing)
            if wanted or (rule.read and missing) or not self._looked_after(after):
                yield DueReason(rule.id, f"{rule.why}: {work.remedy}", day_of(work.when), read)

    def _since(self, rule: DueRule, entries: Sequence[int], start: dt.date | None = None) -> Iterator[DueReason]:
        for entry in entries:
            after = self._at[entry]
            missing = [each for each in rule.read if each not in self._read_after(after)]
            if missing or (not rule.read and not self._looked_after(after)):
                titles = tuple(self._title(each) for each in missing)
                yield DueReason(rule.id, rule.why, start or day_of(self._history.log[after].when), titles)

    def _stored(self, rule: DueRule) -> Iterator[DueReason | str]:
        """The last stay in storage, from the day it became too long."""
        stays = [each for each in self._history.placements if each.how == "storage"]
        for stay in stays[-1:]:
            if stay.start is None:
                yield f"{rule.id}: entry {stay.entry} (placement) says no day from which on it was stored"
                continue
            full = stay.start + dt.timedelta(days=rule.days)
            later = [each for each in self._history.placements if self._at[each.entry] > self._at[stay.entry]]
            end = stay.end or next((each.start for each in later if each.start is not None), None)
            if end is not None and end < full:
                continue
            answered = {
                what for index, each in self._looks
                for what in ("*", _what(each))
                if index > self._at[stay.entry] and ((day_of(each.when) or dt.date.max) >= full)
            }  # fmt: skip
            missing = [each for each in rule.read or ("*",) if each not in answered]
            if missing:
                yield DueReason(rule.id, rule.why, full, tuple(self._title(each) for each in missing if each != "*"))

    def _run(self, rule: DueRule) -> Iterator[DueReason]:
        """Runs since what must be read was read; the oldest of it counts."""
        seen = [
            max((index for index, each in self._looks if what in {"*", _what(each)}), default=-1)
            for what in rule.read or ("*",)
        ]
        since = min(seen)
        runs, start = 0, None
        for each in self._history.running:
            if self._at[each.entry] > since:
                runs += each.runs
                if runs >= rule.runs:
                    start = each.when
                    break
        if runs >= rule.runs:
            yield DueReason(rule.id, f"{rule.why}: {rule.runs} runs or more", start, self._all(rule.read))

    def _time(self, rule: DueRule) -> Iterator[DueReason | str]:
        days = []
        for what in rule.read or ("*",):
            dated = [day_of(each.when) for _, each in self._looks if what in {"*", _what(each)}]
            known = [each for each in dated if each is not None]
            if dated and not known:
                yield f"{rule.id}: no reading says when it was taken"
                return
            days.append(max(known, default=None))
        if any(each is None for each in days):
            yield DueReason(rule.id, rule.why, None, self._all(rule.read))
        else:
            start = min(each for each in days if each is not None) + dt.timedelta(days=rule.days)
            yield DueReason(rule.id, rule.why, start, self._all(rule.read))

    def _read_after(self, index: int) -> set[str]:
        return {_what(each) for at, each in self._looks if at > index}

    def _looked_after(self, index: int) -> bool:
        return any(at > index for at, _ in self._looks)

    def _all(self, names: Iterable[str]) -> tuple[str, ...]:
        return tuple(self._title(each) for each in names)

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


def _what(happening: Happening) -> str:
    return happening.what if happening.kind in {"reading", "gauge"} else happening.kind
