"""The dated rules that bind one kind of car, and what each says of one feature: from when, until when, built when.

Every rule gives a hard limit, which nothing it is sure of lets a car pass, and a soft one, which some source already
sets. Where sources differ the earliest of them is the soft end of a thing and the latest the hard one; a rule from
memory, of low confidence or of practice sets soft ends only. What begins is the other way round: the earliest sighting
is the hard beginning, and none where that sighting is doubtful; the latest the soft one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from carwright.dates import ALWAYS, Span, Spans, overlap
from carwright.prototype.subject import State, Use
from carwright.tables.dated_model import Dated, DatedRule

FULL_SHARE = 0.98
"""A duty is enforced where no count found fewer cars obeying it [-]."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One end that a rule sets.

    Attributes
    ----------
    rule : DatedRule
        Which.
    about : str
        Whose date is limited: ``seen`` (the month shown), ``built``, ``rebuilt``, ``painted``.
    side : str
        ``from`` or ``until``.
    soft, hard : int or None
        The month, included; None where that limit is not set [months].
    """

    rule: DatedRule
    about: str
    side: str
    soft: int | None
    hard: int | None


@dataclass(frozen=True, slots=True)
class Bar:
    """The months in which a feature may be there, or missing.

    Attributes
    ----------
    feature, state : str
        What is shown.
    soft, hard : tuple of Span
        Months no source objects to; months no sure source objects to.
    limits : tuple[Limit, ...]
        What sets them, limits on the dates of building, rebuilding and painting included.
    """

    feature: str
    state: State
    soft: Spans
    hard: Spans
    limits: tuple[Limit, ...]


class Book:
    """Dated rules as they bind one kind of car.

    Parameters
    ----------
    dated : Dated
        All rules.
    kind : str
        Kind of car, "" where it is not known: rules for certain kinds then bind nothing.
    use : str
        Interchange, home road or company service.
    owner, car_class : str
        For rules of one owner or class.
    """

    def __init__(
        self, dated: Dated, kind: str = "", use: Use = "interchange", owner: str = "", car_class: str = ""
    ) -> None:
        self.dated, self.kind, self.use = dated, kind, use
        self.owner, self.car_class = owner, car_class
        self.rules: dict[str, list[DatedRule]] = defaultdict(list)
        for rule in dated.rules:
            if self._binds(rule):
                self.rules[rule.feature].append(rule)
        self._conditions = {
            name: frozenset(each for rule in rules for each in (*rule.when, *rule.unless))
            for name, rules in self.rules.items()
        }
        self._older = {name: [rule for rule in rules if rule.scope == "older"] for name, rules in self.rules.items()}
        self._bars: dict[tuple[object, ...], Bar] = {}

    def _binds(self, rule: DatedRule) -> bool:
        if rule.types and self.kind not in rule.types:
            return False
        if self.kind and self.kind in rule.not_types:
            return False
        if rule.owners and self.owner.casefold() not in {each.casefold() for each in rule.owners}:
            return False
        if rule.classes and self.car_class.casefold() not in {each.casefold() for each in rule.classes}:
            return False
        if rule.scope == "company service":
            return self.use == "company service"
        return rule.scope != "interchange" or self.use == "interchange"

    def about(self, feature: str) -> list[DatedRule]:
        """Rules of a feature and of its whole group."""
        group = self.dated.group_of[feature].id
        return self.rules.get(feature, []) + (self.rules.get(group, []) if group != feature else [])

    def bar(self, feature: str, state: State, shown: frozenset[str], built: Span | None = None) -> Bar:
        """When a feature may be there, or missing, on a car that shows certain others.

        Parameters
        ----------
        feature, state : str
            What is shown.
        shown : frozenset of str
            Features the car shows, and their groups.
        built : Span, optional
            When the car was built; rules for older cars bind it for sure only where this says that it is older.
        """
        group = self.dated.group_of[feature].id
        relevant = self._conditions.get(feature, frozenset()) | self._conditions.get(group, frozenset())
        older = [*self._older.get(feature, ()), *self._older.get(group, ())]
        key = (feature, state, shown & relevant, tuple(_is_older(rule, built) for rule in older))
        if key not in self._bars:
            page = _Page(self, feature, shown, built)
            self._bars[key] = page.present() if state == "present" else page.absent()
        return self._bars[key]


def _is_older(rule: DatedRule, built: Span | None) -> bool | None:
    """Whether a car was built before a rule for older cars; None where that is not known."""
    if built is None:
        return None
    if built.last is not None and built.last <= rule.ends[0]:
        return True
    return False if built.first is not None and built.first > rule.ends[1] else None


_BEGINS = ("first seen", "permitted")


class _Page:
    """What a book says of one feature on a car that shows certain others."""

    def __init__(self, book: Book, feature: str, shown: frozenset[str], built: Span | None) -> None:
        self._feature, self._shown, self._built = feature, shown, built
        self._about = [rule for rule in book.about(feature) if rule.preferred and self._binds(rule)]
        self._own = [rule for rule in self._about if rule.feature == feature]
        self._shares = [rule for rule in book.about(feature) if rule.event == "share"]

    def _binds(self, rule: DatedRule) -> bool:
        if not all(name in self._shown for name in rule.when) or any(name in self._shown for name in rule.unless):
            return False
        return rule.scope != "older" or rule.event in _BEGINS or _is_older(rule, self._built) is not False

    def _of(self, *events: str) -> list[DatedRule]:
        """Rules of some events; one for cars that show something certain goes before one for all."""
        found = [rule for rule in self._about if rule.event in events]
        return [rule for rule in found if rule.when] or found

    def _hard(self, rule: DatedRule) -> bool:
        sure = rule.scope != "older" or rule.event in _BEGINS or _is_older(rule, self._built) is True
        return rule.hard and sure

    def _last(self, rule: DatedRule) -> int | None:
        """The hard end a rule sets, no earlier than that of any rule that says otherwise; None where it sets none."""
        if not self._hard(rule):
            return None
        others = [each for each in self._about if each.id in rule.rivals and each.event == rule.event]
        return max(each.ends[1] for each in (rule, *others))

    # --- present ------------------------------------------------------------------------------------------

    def present(self) -> Bar:
        """Months in which the feature may be there."""
        limits = [*self._begins(), *self._ends(), *self._on_new(self._of("banned on new"))]
        soft, hard = _spans(limits)
        return Bar(self._feature, "present", soft, hard, tuple(limits))

    def _begins(self) -> list[Limit]:
        rules = self._of(*_BEGINS)
        if not rules:
            return []
        sure = all(self._hard(rule) for rule in rules)
        earliest = min(rule.starts[0] for rule in rules)
        return [
            Limit(rule, "seen", "from", rule.starts[1], earliest if sure and rule.starts[0] == earliest else None)
            for rule in rules
        ]

    def _ends(self) -> list[Limit]:
        """Bans, and last ordinary sightings; of several bans the latest is hard."""
        limits = [Limit(rule, "seen", "until", rule.ends[0], self._last(rule)) for rule in self._of("banned on all")]
        for rule in self._of("gone in practice"):
            about = "built" if rule.scope in {"new", "new or rebuilt"} else "seen"
            limits.append(Limit(rule, about, "until", rule.ends[1], None))
        limits += [Limit(rule, "painted", "until", rule.ends[1], None) for rule in self._of("no longer required")]
        return limits

    def _on_new(self, rules: Iterable[DatedRule]) -> list[Limit]:
        """Limits on the dates of building and rebuilding that a rule for new cars sets."""
        limits = []
        for rule in rules:
            hard = self._last(rule)
            if rule.scope != "rebuilt":
                limits.append(Limit(rule, "built", "until", rule.ends[0], hard))
            if rule.scope in {"rebuilt", "new or rebuilt"}:
                limits.append(Limit(rule, "rebuilt", "until", rule.ends[0], hard))
        return limits

    # --- absent -------------------------------------------------------------------------------------------

    def absent(self) -> Bar:
        """Months in which the feature may be missing; a duty to show any of a group is the group's alone."""
        self._about = self._own
        limits = self._on_new(self._of("required on new"))
        limits += [
            Limit(rule, "rebuilt", "until", rule.ends[0], self._last(rule)) for rule in self._of("required on rebuilt")
        ]
        duties = self._of("required on all")
        over = self._of("no longer required") + self._of("banned on all")
        soft: Spans = (ALWAYS,)
        hard: Spans = (ALWAYS,)
        for rule in duties:
            own = self._last(rule) if self._enforced(rule) else None
            limits.append(Limit(rule, "seen", "until", rule.ends[0], own))
            soft = overlap(soft, _until(rule.ends[0], max((each.starts[1] for each in over), default=None)))
            if own is not None:
                hard = overlap(hard, _until(own, min((each.starts[0] for each in over), default=None)))
        return Bar(self._feature, "absent", soft, hard, tuple(limits))

    def _enforced(self, duty: DatedRule) -> bool:
        """Whether no count after it found cars that did not obey."""
        return all(rule.share is None or rule.share >= FULL_SHARE for rule in self._shares
                   if rule.ends[0] >= duty.ends[1])  # fmt: skip


def _until(last: int, freed: int | None) -> Spans:
    """Months up to a duty, and those from where it is over again."""
    spans = [Span(None, last)]
    if freed is not None and freed > last:
        spans.append(Span(freed, None))
    return tuple(spans)


def _spans(limits: Iterable[Limit]) -> tuple[Spans, Spans]:
    """Soft and hard months of a feature that is there, from its limits on the month shown."""
    found: list[Spans] = []
    for side in ("soft", "hard"):
        own = [(limit.side, getattr(limit, side)) for limit in limits if limit.about == "seen"]
        first = max((month for which, month in own if which == "from" and month is not None), default=None)
        last = min((month for which, month in own if which == "until" and month is not None), default=None)
        found.append(() if first is not None and last is not None and first > last else (Span(first, last),))
    return found[0], found[1]


@lru_cache(maxsize=64)
def book_of(dated: Dated, kind: str, use: Use, owner: str, car_class: str) -> Book:
    """The book for one kind of car, made once."""
    return Book(dated, kind, use, owner, car_class)
