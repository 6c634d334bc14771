"""What to change so that a model is right in a wanted year: the least work that does it, found exactly.

Every change puts another feature of a group on the car, or takes one off, or gives a stencil another date. A set of
changes is searched by its minutes, cheapest first; what is wrong on a car can only be mended in the group it is in, in
a group its rule depends on, or at a stencil it is compared with, so only those are tried, and nothing is missed. Groups
and stencils no rule ties together are searched apart, each part for its own least work.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count

from carwright.dates import Span, iso
from carwright.prototype.anachronism import Anachronism, anachronisms, judge
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
"""Sets of changes of one part of the car looked at at most; where that ends a search, the list says so."""
WAYS = 2
"""Ways that are offered: the least work, and the next that mends other groups."""


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
    unfinished : bool
        Whether a search ended at `MOST` sets of changes before it found any: then other work may do more.
    """

    wanted: Span
    changes: tuple[Change, ...]
    minutes: float
    settles: str
    incurable: tuple[str, ...] = ()
    ways_out: tuple[str, ...] = ()
    others: tuple[tuple[Change, ...], ...] = ()
    unfinished: bool = False


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
    parts = [search.part(names) for names in search.parts()]
    first = _Made(search, [part.ways[0] for part in parts])
    left = search.left(first.targets)
    settles = "nothing" if any(each.judged == "wrong" for each in left) else "allowed" if left else "right"
    return WorkList(
        wanted, first.changes, first.minutes, settles, tuple(each.words for each in left),
        ways if first.changes or left else (),
        tuple(other.changes for other in _others(search, parts)), any(part.unfinished for part in parts),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Part:
    """The work on groups that rules tie together: ways, least work first, and whether a search was cut short."""

    ways: list[Changes]
    unfinished: bool


def _others(search: _Search, parts: list[_Part]) -> list[_Made]:
    """The least work but for one part, which is done the second way: the least of these."""
    found = [
        _Made(search, [part.ways[1 if part is chosen else 0] for part in parts])
        for chosen in parts
        if len(chosen.ways) > 1
    ]
    return sorted(found, key=lambda made: made.minutes)[: WAYS - 1]


class _Made:
    """A set of changes in words, least work first."""

    def __init__(self, search: _Search, parts: Iterable[Changes]) -> None:
        self.targets = {name: target for part in parts for name, target in part.items()}
        made = (search.change(name, target) for name, target in self.targets.items())
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

    def parts(self) -> list[frozenset[str]]:
        """Groups and stencils with something to mend, with all that rules tie to them."""
        ties = [
            self._tied(set(self._levers(stretch)))
            for stretch in self._stretches({})
            if judge(stretch, self._wanted) != "right"
        ]
        return list(dict.fromkeys(frozenset(each) for each in ties if each))

    def _tied(self, names: set[str]) -> set[str]:
        """All groups and stencils that a change of some may bring into question, and theirs."""
        edges = self._edges
        open_ = list(names)
        while open_:
            more = edges.get(open_.pop(), set()) - names
            names |= more
            open_ += more
        return names

    @cached_property
    def _edges(self) -> dict[str, set[str]]:
        """By group or stencil, those that some rule or interval speaks of in one breath with it."""
        pairs: list[tuple[str, str]] = []
        for target, rules in self._book.rules.items():
            own = self._dated.group_of[target].id
            for rule in rules:
                pairs += [(own, self._dated.group_of[name].id) for name in (*rule.when, *rule.unless)]
                if rule.event == "no longer required" and "stencil.repainted" in self._subject.stencils:
                    pairs.append((own, "stencil.repainted"))
        pairs += [("stencil.weighed", self._dated.group_of["new-mark"].id), ("stencil.weighed", "stencil.rebuilt")]
        edges: dict[str, set[str]] = {}
        for one, other in pairs:
            edges.setdefault(one, set()).add(other)
            edges.setdefault(other, set()).add(one)
        return edges

    def part(self, names: frozenset[str]) -> _Part:
        """The work on one part: right in all, or in all but doubts, or as far as work can mend it."""
        unfinished = False
        for doubts, incurable in ((True, False), (False, False), (False, True)):
            found, ended = self.least(names, doubts=doubts, incurable=incurable)
            unfinished |= ended
            if found:
                return _Part(found[:1] if incurable else found, unfinished)
        return _Part([{}], unfinished)

    def least(self, names: frozenset[str], *, doubts: bool, incurable: bool) -> tuple[list[Changes], bool]:
        """Sets of changes after which nothing is wrong, cheapest first; each mends other groups than those before.

        Parameters
        ----------
        names : frozenset of str
            Groups and stencils to mend.
        doubts : bool
            Whether nothing may be doubtful either.
        incurable : bool
            Whether to leave what is wrong and nobody can change as it is.

        Returns
        -------
        list of Changes
            `WAYS` at most.
        bool
            Whether the search ended at `MOST` sets with none found.
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
            problem = self._problem(changes, names, doubts=doubts, incurable=incurable)
            if problem is None:
                found.append(changes)
                continue
            for group in self._levers(problem):
                if group in changes:
                    continue
                for target in self._targets(group):
                    more = minutes + self.change(group, target).minutes
                    heapq.heappush(queue, (more, next(order), {**changes, group: target}))
        return found, not found and bool(queue)

    def _stretches(self, changes: Changes) -> list[Stretch]:
        subject = self.after(changes)
        return [*feature_stretches(self._book, subject), *stencil_stretches(self._dated, subject)]

    def _problem(self, changes: Changes, names: frozenset[str], *, doubts: bool, incurable: bool) -> Stretch | None:
        """Something to mend in one part; what is doubtful and nobody can mend is left as it is."""
        stretches = [each for each in self._stretches(changes) if not names.isdisjoint(self._levers(each))]
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
        if "stencil.repainted" in self._subject.stencils:
            yield from ("stencil.repainted" for each in (*problem.broken, *problem.doubtful) if each.about == "painted")

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

    def left(self, changes: Mapping[str, str]) -> list[Anachronism]:
        """What stays wrong, or doubtful, after some changes."""
        return anachronisms(window_of(self._dated, self.after(changes)), self._wanted, self._dated)


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
