"""The model window: the months in which everything a car shows can be true at once, and what sets them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from carwright.dates import ALWAYS, Span, Spans, iso, overlap
from carwright.prototype.book import Bar, Book, Limit, book_of
from carwright.prototype.subject import Shown, Subject
from carwright.tables.dated_model import AgeRule, Dated, Interval
from carwright.words import KINDS

BELIEVED = 0.5
"""What is trusted less than this rules nothing out for sure [-]."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """The months one thing a car shows allows.

    Attributes
    ----------
    name, state : str
        A feature with ``present`` or ``absent``, a stencil with its date, or ``age``.
    soft, hard : tuple of Span
        Months no source objects to, and months no sure source objects to.
    bar : Bar or None
        Of a feature.
    why : tuple[str, ...]
        What sets it where no dated rule of a feature does, each with its source.
    broken : tuple[Limit, ...]
        Limits on the dates of building, rebuilding or painting that the car breaks for sure.
    doubtful : tuple[Limit, ...]
        And those some source says it breaks.
    implied : bool
        Whether it is missing because another feature of its group is there.
    force : str
        What objects where it is doubtful, for what no dated rule of a feature says.
    """

    name: str
    state: str
    soft: Spans
    hard: Spans
    bar: Bar | None = None
    why: tuple[str, ...] = ()
    broken: tuple[Limit, ...] = ()
    doubtful: tuple[Limit, ...] = ()
    implied: bool = False
    force: str = "standard"


@dataclass(frozen=True, slots=True)
class Bound:
    """What sets one side of the window."""

    side: str
    name: str
    state: str
    month: int
    hard: bool
    rule: str
    marks: str


@dataclass(frozen=True, slots=True)
class Window:
    """When a car can be right as it is shown.

    Attributes
    ----------
    soft, hard : tuple of Span
        Months no source objects to; months no sure source objects to.
    stretches : tuple[Stretch, ...]
        Of everything shown.
    bounds : tuple[Bound, ...]
        What sets the sides.
    built_soft, built_hard : int or None
        The car was built in this month at the latest, from what it shows [months].
    notes : tuple[str, ...]
        What a reader must know.
    """

    soft: Spans
    hard: Spans
    stretches: tuple[Stretch, ...]
    bounds: tuple[Bound, ...]
    built_soft: int | None = None
    built_hard: int | None = None
    notes: tuple[str, ...] = field(default=())

    @property
    def earliest(self) -> int | None:
        """First month of the hard window, None where it is open or empty."""
        return self.hard[0].first if self.hard else None

    @property
    def latest_hard(self) -> int | None:
        """Last month of the hard window."""
        return self.hard[-1].last if self.hard else None

    @property
    def earliest_soft(self) -> int | None:
        """First month no source objects to."""
        return self.soft[0].first if self.soft else None

    @property
    def from_memory(self) -> bool:
        """Whether a date from memory has a part in it."""
        bars = (stretch.bar for stretch in self.stretches if stretch.bar is not None)
        return any(limit.rule.confidence == "memory" for bar in bars for limit in bar.limits)

    @property
    def latest_soft(self) -> int | None:
        """Last month no source objects to."""
        return self.soft[-1].last if self.soft else None


def window_of(dated: Dated, subject: Subject) -> Window:
    """The window of one car.

    Parameters
    ----------
    dated : Dated
        The rules.
    subject : Subject
        What it shows and lacks, and the dates it bears.

    Returns
    -------
    Window
        Empty where no month is right; what clashes then is for :mod:`carwright.prototype.conflicts` to say.
    """
    book = book_of(dated, subject.kind, subject.use, subject.owner, subject.car_class)
    stretches = (*feature_stretches(book, subject), *stencil_stretches(dated, subject))
    soft: Spans = (ALWAYS,)
    hard: Spans = (ALWAYS,)
    for stretch in stretches:
        soft, hard = overlap(soft, stretch.soft), overlap(hard, stretch.hard)
        if stretch.broken:
            hard = soft = ()
        elif stretch.doubtful:
            soft = ()
    built = [limit for stretch in stretches if stretch.bar for limit in stretch.bar.limits if limit.about == "built"]
    return Window(
        soft=soft,
        hard=hard,
        stretches=stretches,
        bounds=tuple(_bounds(stretches, soft, hard)),
        built_soft=min((limit.soft for limit in built if limit.soft is not None), default=None),
        built_hard=min((limit.hard for limit in built if limit.hard is not None), default=None),
        notes=tuple(_notes(dated, subject)),
    )


def feature_stretches(book: Book, subject: Subject) -> list[Stretch]:
    """What each feature allows; a feature that is there speaks for its group: the others are missing."""
    present, built, rebuilt, painted = subject.present(), subject.build(), subject.rebuild(), subject.painted()
    found = []
    for shown, implied in implied_by(book.dated, subject.shown):
        bar = book.bar(shown.feature, shown.state, present, built)
        if implied and not bar.limits:
            continue
        known = {
            "built": built.first if built is not None else None,
            "rebuilt": rebuilt.first if rebuilt is not None else None,
            "painted": painted,
        }
        broken, doubtful = [], []
        for limit in bar.limits:
            date = known.get(limit.about)
            if limit.about == "seen" or date is None:
                continue
            if limit.hard is not None and date > limit.hard:
                broken.append(limit)
            elif limit.soft is not None and date > limit.soft:
                doubtful.append(limit)
        hard = bar.hard
        if shown.trust < BELIEVED:  # what was hardly seen rules nothing out for sure
            hard, doubtful, broken = (ALWAYS,), broken + doubtful, []
        found.append(
            Stretch(
                shown.feature, shown.state, bar.soft, hard, bar, (), tuple(broken), tuple(doubtful), implied
            )
        )  # fmt: skip
    return found


def implied_by(dated: Dated, shown: Iterable[Shown]) -> list[tuple[Shown, bool]]:
    """Everything shown, and the features missing because another of their group is there."""
    listed = tuple(shown)
    named = {each.feature for each in listed}
    newest = {dated.group_of[each.feature].id: each.feature for each in listed
              if each.state == "present" and each.feature in dated.features}  # fmt: skip
    found = [(each, False) for each in listed if each.state == "present" or not _replaced(each.feature, newest, dated)]
    for each in listed:
        group = dated.group_of[each.feature]
        if (each.state == "present" and each.feature in dated.features) or (
            each.state == "absent" and each.feature in dated.groups
        ):
            rest = [name for name in group.ids() if name not in named and not _replaced(name, newest, dated)]
            named |= set(rest)
            found += [(Shown(name, "absent", each.trust, each.source), True) for name in rest]
    return found


def _replaced(feature: str, newest: Mapping[str, str], dated: Dated) -> bool:
    """Whether a newer feature of its group is there, so that nobody asks for this one."""
    group = dated.group_of[feature]
    there = newest.get(group.id)
    if there is None or feature not in group.ids():
        return False
    return group.ids().index(feature) < group.ids().index(there)


def stencil_stretches(dated: Dated, subject: Subject) -> list[Stretch]:
    """What each date on the car allows: nothing before it, and by the intervals not long after it."""
    found = []
    built = subject.build()
    for name, month in subject.stencils.items():
        interval = interval_of(dated, name, subject.kind, month)
        soft = Span(month, None)
        why = [f"{dated.stencils[name].title} {iso(month)}"]
        if interval is not None:
            last = month + interval_months(interval, month, subject)
            soft = Span(month, last)
            why.append(f"{interval.id}: until {iso(last)} ({interval.strength}, confidence {interval.confidence})")
        spans: tuple[Spans, Spans] = (soft,), (Span(month, None),)
        if name != "stencil.built" and built is not None and built.first is not None and month < built.first:
            spans = (), ()
            why = [f"{dated.stencils[name].title} {iso(month)} lies before the car was built, {built.words()}"]
        sure = interval is None or (interval.strength != "practice" and interval.confidence in {"high", "medium"})
        found.append(Stretch(name, iso(month), *spans, None, tuple(why), force="standard" if sure else "practice"))
    if "stencil.built" not in subject.stencils and built is not None and built.first is not None:
        last = built.last if built.last is not None else built.first
        span = (Span(last, None),), (Span(built.first, None),)
        why = [f"built {built.words()}"]
        found.append(Stretch("stencil.built", built.words(), *span, None, tuple(why), force="adopted"))
    gone = subject.last_seen
    if gone is not None and gone.last is not None:
        why = [f"last seen {gone.words()}"]
        found.append(
            Stretch("last seen", gone.words(), (Span(None, gone.last),), (ALWAYS,), None, tuple(why), force="practice")
        )
    age = _age(dated, subject)
    if age is not None:
        found.append(age)
    return found


@lru_cache(maxsize=4096)
def interval_of(dated: Dated, stencil: str, kind: str, month: int) -> Interval | None:
    """The rule for how long a stencil may stand: of those that bind, the surest, then the one for this kind of car."""
    order = {"high": 0, "medium": 1, "low": 2, "memory": 3}
    found = [
        each
        for each in dated.intervals
        if each.stencil == stencil
        and (not each.types or kind in each.types)
        and (each.start is None or month >= each.start)
    ]
    return min(found, key=lambda each: (order[each.confidence], not each.types), default=None)


def interval_months(interval: Interval, month: int, subject: Subject) -> int:
    """Months the stencil may stand: ``first`` where it was put on when the car was built or rebuilt."""
    fresh = month in {subject.stencils.get("stencil.built"), subject.stencils.get("stencil.rebuilt")}
    new = interval.stencil == "stencil.weighed" and "new-mark" in subject.present()
    return interval.first if fresh or new else interval.later


def age_of(dated: Dated, subject: Subject, built: int) -> AgeRule | None:
    """The age limit that binds a car built in a month, None where none does."""
    for rule in dated.ages:
        if rule.scope == "interchange" and subject.use != "interchange":
            continue
        early = rule.built_before is None or built < rule.built_before
        if early and (rule.built_from is None or built >= rule.built_from):
            return rule
    return None


def _age(dated: Dated, subject: Subject) -> Stretch | None:
    built = subject.build()
    if built is None or built.first is None or built.last is None or not subject.kind:
        return None
    rules = [rule for month in (built.first, built.last) if (rule := age_of(dated, subject, month)) is not None]
    if not rules:
        return None
    soft = min(max(rule.start - 1, built.first + 12 * rule.years) for rule in rules)
    hard = max(max(rule.start - 1, built.last + 12 * rule.extended) for rule in rules)
    why = tuple(
        f"{rule.id}: {rule.years} years, {rule.extended} where rebuilt or approved ({rule.strength}, "
        f"confidence {rule.confidence})"
        for rule in dict.fromkeys(rules)
    )
    return Stretch("age", f"built {built.words()}", (Span(None, soft),), (Span(None, hard),), None, why)


def _bounds(stretches: Iterable[Stretch], soft: Spans, hard: Spans) -> Iterable[Bound]:
    """Everything whose own limit is where the window begins or ends, soft or hard."""
    for spans, is_hard in ((hard, True), (soft, False)):
        if not spans:
            continue
        for side, month in (("from", spans[0].first), ("until", spans[-1].last)):
            if month is None:
                continue
            for stretch in stretches:
                own = stretch.hard if is_hard else stretch.soft
                edges = {span.first if side == "from" else span.last for span in own}
                if month in edges:
                    rule, marks = _named(stretch, side, month, is_hard=is_hard)
                    yield Bound(side, stretch.name, stretch.state, month, is_hard, rule, marks)


def _named(stretch: Stretch, side: str, month: int, *, is_hard: bool) -> tuple[str, str]:
    if stretch.bar is None:
        return stretch.why[0 if side == "from" else -1], ""
    fit = [
        limit.rule
        for limit in stretch.bar.limits
        if limit.about == "seen" and (limit.hard if is_hard else limit.soft) == month
    ]
    own = [rule for rule in fit if month in (rule.starts if side == "from" else rule.ends)]
    chosen = (own or fit)[-1:] if is_hard else (own or fit)[:1]
    return (chosen[0].id, chosen[0].marks()) if chosen else (stretch.why[0] if stretch.why else "", "")


def _notes(dated: Dated, subject: Subject) -> Iterable[str]:
    if not subject.kind and subject.shown:
        typed = [
            rule.id
            for each in subject.shown
            for rule in dated.rules
            if rule.types and rule.feature in {each.feature, dated.group_of[each.feature].id}
        ]
        if typed:
            kinds = ", ".join(KINDS)
            yield (
                f"the kind of car is not known, so {len(set(typed))} rules for certain kinds bind nothing: "
                f"type should say one of {kinds}"
            )
