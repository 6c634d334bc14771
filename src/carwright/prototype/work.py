"""What to change so that a model is right in a wanted year: the least work that does it, found exactly.

Every change puts another feature of a group on the car, or takes one off, or gives a stencil another date. A set of
changes is searched by its minutes, cheapest first; what is wrong on a car can only be mended in the group it is in, in
a group its rule depends on, or at a stencil it is compared with, so only those are tried, and nothing is missed.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import count

from carwright.dates import Span, iso
from carwright.prototype.anachronism import anachronisms, judge
from carwright.prototype.book import book_of
from carwright.prototype.subject import USES, Shown, Subject
from carwright.prototype.window import (
    Stretch,
    feature_stretches,
    interval_months,
    interval_of,
    stencil_stretches,
    window_of,
)
from carwright.tables.dated_model import Dated, Feature

RESTENCIL_MIN = 10.0
"""Bench time of one new date; judgement [min]."""
MOST = 20_000
"""Sets of changes looked at at most."""
WAYS = 2
"""Ways that are offered: the least work, and the least that mends other groups."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing to do to a model.

    Attributes
    ----------
    verb : str
        ``add``, ``remove``, ``exchange`` or ``restencil``.
    name : str
        The feature put on or taken off, or the stencil.
    instead_of : str
        The feature taken off first, "" where none is.
    to : str
        The new date of a stencil.
    where, how : str
        Where on the car, and what with.
    minutes : float
        Bench time, judgement [min].
    size, model_size : str
        Of the full-size thing, and of the model's.
    """

    verb: str
    name: str
    where: str
    how: str
    minutes: float
    instead_of: str = ""
    to: str = ""
    size: str = ""
    size_source: str = ""


@dataclass(frozen=True, slots=True)
class WorkList:
    """The least work, or why there is none.

    Attributes
    ----------
    wanted : Span
        Months the car is to be right in.
    changes : tuple[Change, ...]
        Least work first; () where nothing need be done.
    minutes : float
        Of all of them.
    settles : str
        ``right`` where no source objects afterwards, ``allowed`` where no sure source does, ``nothing`` where something
        stays wrong whatever is done.
    incurable : tuple[str, ...]
        What no work can cure, in words.
    ways_out : tuple[str, ...]
        What helps without work.
    others : tuple of tuples of Change
        Other ways, dearer, that change other things.
    """

    wanted: Span
    changes: tuple[Change, ...]
    minutes: float
    settles: str
    incurable: tuple[str, ...] = ()
    ways_out: tuple[str, ...] = ()
    others: tuple[tuple[Change, ...], ...] = ()


def work_list(dated: Dated, subject: Subject, wanted: Span) -> WorkList:
    """The least work that makes a model right in the wanted months.

    Parameters
    ----------
    dated : Dated
        The rules.
    subject : Subject
        The model as it is.
    wanted : Span
        With a first and a last month.
    """
    search = _Search(dated, subject, wanted)
    ways = tuple(_ways_out(dated, subject, wanted))
    found = search.least(doubts=True, incurable=False) or search.least(doubts=False, incurable=False)
    whole = bool(found)
    if not found:
        found = search.least(doubts=False, incurable=True)[:1]
    first, *others = [_Made(search, changes) for changes in found] or [_Made(search, {})]
    left = tuple(search.incurable(first.targets))
    settles = "nothing" if not whole else "allowed" if left else "right"
    return WorkList(
        wanted, first.changes, first.minutes, settles, left, ways if first.changes or left else (),
        tuple(other.changes for other in others),
    )  # fmt: skip


class _Made:
    """A set of changes in words, least work first."""

    def __init__(self, search: _Search, targets: Changes) -> None:
        self.targets = targets
        made = (search.change(group, target) for group, target in targets.items())
        self.changes = tuple(sorted(made, key=lambda each: each.minutes))
        self.minutes = sum(each.minutes for each in self.changes)


Changes = dict[str, str]
"""By group, the feature it is to show, "" for none; by stencil, its new month in words."""


class _Search:
    def __init__(self, dated: Dated, subject: Subject, wanted: Span) -> None:
        self._dated, self._subject, self._wanted = dated, subject, wanted
        self._book = book_of(dated, subject.kind, subject.use, subject.owner, subject.car_class)
        self._shows: dict[str, str] = {}
        for each in subject.shown:
            if each.state == "present" and each.feature in dated.features:
                self._shows[dated.group_of[each.feature].id] = each.feature

    def least(self, *, doubts: bool, incurable: bool) -> list[Changes]:
        """Sets of changes after which nothing is wrong, cheapest first; each mends other groups than those before.

        Parameters
        ----------
        doubts : bool
            Whether nothing may be doubtful either.
        incurable : bool
            Whether to leave what is wrong and nobody can change as it is.
        """
        order = count()
        queue: list[tuple[float, int, Changes]] = [(0.0, next(order), {})]
        seen: set[frozenset[tuple[str, str]]] = set()
        found: list[Changes] = []
        while queue and len(seen) < MOST and len(found) < WAYS:
            minutes, _, changes = heapq.heappop(queue)
            key = frozenset(changes.items())
            if key in seen or any(set(other) <= set(changes) for other in found):
                continue
            seen.add(key)
            problem = self._problem(changes, doubts=doubts, incurable=incurable)
            if problem is None:
                found.append(changes)
                continue
            for group in self._levers(problem):
                if group in changes:
                    continue
                for target in self._targets(group):
                    more = minutes + self.change(group, target).minutes
                    heapq.heappush(queue, (more, next(order), {**changes, group: target}))
        return found

    def _stretches(self, changes: Changes) -> list[Stretch]:
        subject = self.after(changes)
        return [*feature_stretches(self._book, subject), *stencil_stretches(self._dated, subject)]

    def _problem(self, changes: Changes, *, doubts: bool, incurable: bool) -> Stretch | None:
        """Something to mend; what is doubtful and nobody can mend is left as it is."""
        stretches = self._stretches(changes)
        for stretch in stretches:
            if judge(stretch, self._wanted) == "wrong" and not (incurable and not self._curable(stretch)):
                return stretch
        for stretch in stretches if doubts else ():
            if judge(stretch, self._wanted) == "doubtful" and self._curable(stretch):
                return stretch
        return None

    def _curable(self, stretch: Stretch) -> bool:
        return any(True for name in self._levers(stretch) for _ in self._targets(name))

    def after(self, changes: Mapping[str, str]) -> Subject:
        """The car with changes made to it."""
        shown = [each for each in self._subject.shown if self._dated.group_of[each.feature].id not in changes]
        stencils = dict(self._subject.stencils)
        for name, target in changes.items():
            if name in self._dated.stencils:
                stencils[name] = self._month(name)
            elif target:
                shown.append(Shown(target, "present"))
            else:
                shown.append(Shown(name, "absent"))
        return replace(self._subject, shown=tuple(shown), stencils=stencils)

    def _levers(self, problem: Stretch) -> Iterable[str]:
        """Groups and stencils a change of which may mend a problem."""
        if problem.bar is None:
            if problem.name in self._subject.stencils and problem.name != "stencil.built":
                yield problem.name
            return
        yield self._dated.group_of[problem.name].id
        for rule in self._book.about(problem.name):
            for name in (*rule.when, *rule.unless):
                yield self._dated.group_of[name].id
        for limit in (*problem.broken, *problem.doubtful):
            if limit.about == "painted" and "stencil.repainted" in self._subject.stencils:
                yield "stencil.repainted"

    def _targets(self, name: str) -> Iterable[str]:
        """What a group may show instead, newest first, so that of two equal works the one that lasts is taken."""
        if name in self._dated.stencils:
            yield iso(self._month(name))
            return
        group, now = self._dated.groups[name], self._shows.get(name, "")
        if now and self._dated.features[now].fixed:
            return
        for feature in reversed(group.features):
            if feature.id != now and not feature.fixed:
                yield feature.id
        if now and not group.one:
            yield ""

    def _month(self, name: str) -> int:
        """A date for a stencil that stands well in the wanted months: half its interval before their end."""
        first, last = self._wanted.first or 0, self._wanted.last or 0
        interval = interval_of(self._dated, name, self._subject.kind, first)
        back = interval_months(interval, first, self._subject) // 2 if interval is not None else 0
        built = self._subject.build()
        low = built.last if built is not None and built.last is not None else first - back
        return min(first, max(low, last - back - (last - first) // 2))

    def change(self, name: str, target: str) -> Change:
        """A change in words and minutes."""
        if name in self._dated.stencils:
            stencil = self._dated.stencils[name]
            return Change("restencil", name, stencil.where, "decal or stencil", RESTENCIL_MIN, to=target)
        now, features = self._shows.get(name, ""), self._dated.features
        if not target:
            gone = features[now]
            return Change("remove", now, gone.where, gone.remove, gone.remove_min)
        new = features[target]
        old: Feature | None = features.get(now)
        how = f"{old.remove}; then {new.add}" if old is not None else new.add
        return Change(
            "exchange" if old is not None else "add", target, new.where, how,
            new.add_min + (old.remove_min if old is not None else 0.0), now, "", new.size, new.size_source,
        )  # fmt: skip

    def incurable(self, changes: Mapping[str, str]) -> Iterable[str]:
        """What stays wrong, or doubtful, after some changes."""
        window = window_of(self._dated, self.after(changes))
        return (each.words for each in anachronisms(window, self._wanted, self._dated))


def _ways_out(dated: Dated, subject: Subject, wanted: Span) -> Iterable[str]:
    """Another use that lets the car stand, and the nearest months in which it is right as it is."""
    if not anachronisms(window_of(dated, subject), wanted, dated):
        return
    for use in USES:
        if use != subject.use and not anachronisms(window_of(dated, replace(subject, use=use)), wanted, dated):
            yield f"as it is, it may stand in {use} in the wanted months"
    window = window_of(dated, subject)
    near = [(_far(span, wanted), span) for span in window.soft]
    if near:
        _, span = min(near, key=lambda each: each[0])
        yield f"as it is, it is right {span.words()}"


def _far(span: Span, wanted: Span) -> int:
    low = (span.first - (wanted.last or 0)) if span.first is not None else 0
    high = ((wanted.first or 0) - span.last) if span.last is not None else 0
    return max(low, high, 0)
