"""How many cars show a feature in a month: the adoption curve between first sighting, duty and ban.

In a group of features every car shows one at most. Of the cars that newer features leave, a feature takes its own
part: none before its first sighting; then a part that grows in a straight line to a counted share or to the duty that
binds all cars, or by halves of ``turnover_months`` where neither is known; half, always, where nothing is known of its
beginning. A ban leaves what exceptions leave; what nobody asks for any longer halves in ``fade_months``. Cars built
once a rule for new cars holds show it all, or not at all, but for exceptions. Where every car shows one feature of a
group, the oldest takes what the others leave, and shares that were counted stand as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from carwright.prototype.book import Book
from carwright.tables.dated_model import DatedRule, Feature, Group

Array = npt.NDArray[np.float64]
Knot = tuple[int, float]
DOUBT = 0.1
"""Added to what a rule leaves where it is of low confidence or from memory; judgement [-]."""
BEFORE_COUNT = 480
"""Months before its first counted share at which the oldest feature of a group was on every car; judgement."""


@dataclass(frozen=True, slots=True)
class GroupShares:
    """Shares of the features of one group over the months, for cars built in each of some stretches.

    Attributes
    ----------
    features : tuple[str, ...]
        Ids, oldest first; what is left to 1 shows none of them.
    breaks : tuple[int, ...]
        Months at which the share of newly built cars changes: cars of one stretch were built from one break on, and
        before the next; the first stretch has no beginning.
    shares : array, (stretches, features, months)
        Part of the cars [-].
    """

    features: tuple[str, ...]
    breaks: tuple[int, ...]
    shares: Array


class Curves:
    """Shares under one book, on one grid of months.

    Parameters
    ----------
    book : Book
        Rules that bind.
    months : array, (months,)
        The grid, one month apart.
    """

    def __init__(self, book: Book, months: npt.NDArray[np.int64]) -> None:
        self._book, self._months = book, months
        self._weights = book.dated.weights
        self._made: dict[tuple[str, frozenset[str]], GroupShares] = {}
        self._asked: dict[str, frozenset[str]] = {}

    def group(self, group: Group, shown: frozenset[str]) -> GroupShares:
        """Shares of a group among cars that show certain other features."""
        key = (group.id, shown & self._conditions(group))
        if key not in self._made:
            self._made[key] = self._make(group, key[1])
        return self._made[key]

    def _conditions(self, group: Group) -> frozenset[str]:
        """Features the rules of a group ask for."""
        if group.id not in self._asked:
            rules = [rule for feature in group.ids() for rule in self._book.about(feature)]
            self._asked[group.id] = frozenset(name for rule in rules for name in (*rule.when, *rule.unless))
        return self._asked[group.id]

    def _rules(self, feature: Feature, shown: frozenset[str]) -> list[DatedRule]:
        found = [
            rule
            for rule in self._book.about(feature.id)
            if rule.preferred
            and all(name in shown for name in rule.when)
            and not any(name in shown for name in rule.unless)
        ]
        special = {rule.event for rule in found if rule.when}
        return [rule for rule in found if rule.when or rule.event not in special]

    def _make(self, group: Group, shown: frozenset[str]) -> GroupShares:
        rules = {feature.id: self._rules(feature, shown) for feature in group.features}
        breaks = sorted({
            rule.starts[1]
            for own in rules.values()
            for rule in own
            if _for_new_cars(rule)
        })  # fmt: skip
        stretches = [None, *breaks]
        shares = np.stack([self._of_stretch(group, rules, built) for built in stretches])
        return GroupShares(group.ids(), tuple(breaks), shares)

    def _one(self, group: Group) -> bool:
        """Whether every car of the book's kind shows one of a group; an unknown kind is taken to be one it is about."""
        kind = self._book.kind
        return group.one and (not group.types or not kind or kind in group.types)

    def _of_stretch(self, group: Group, rules: dict[str, list[DatedRule]], built: int | None) -> Array:
        """Shares among cars built in a month, or before every rule for new cars, (features, months)."""
        one = self._one(group)
        taken: dict[str, Array] = {}
        counted: list[bool] = []
        free = np.ones(self._months.size)
        for rank, feature in reversed(list(enumerate(group.features))):
            own = rules[feature.id]
            oldest = rank == 0 and one
            counts = _counts(own)
            forced = self._on_new(own, built)
            others = [rule for name in group.ids() if name != feature.id for rule in rules[name]] if one else []
            stands = bool(counts) and built is None and one
            rise = self._counted(own, others, counts, oldest=oldest) if counts else self._rise(feature, own, oldest)
            if forced is not None:
                rise = np.where(self._months >= _begin(own), forced, 0.0)
            fall = self._fall(own, counted=bool(counts))
            taken[feature.id] = (rise if stands else free * rise) * fall
            free = free * (1.0 - rise)
            counted.insert(0, stands)
        shares = np.stack([taken[name] for name in group.ids()])
        return _whole(shares, np.array(counted)) if one else shares

    def _on_new(self, rules: Sequence[DatedRule], built: int | None) -> float | None:
        """Share among cars built under a rule for new cars, None where no such rule binds."""
        if built is None:
            return None
        binding = [rule for rule in rules if _for_new_cars(rule) and rule.starts[1] <= built]
        if not binding:
            return None
        last = max(binding, key=lambda rule: rule.starts[1])
        return 1.0 - self._left(last) if last.event == "required on new" else self._left(last)

    def _left(self, rule: DatedRule) -> float:
        return self._weights.left(rule.strength) + (DOUBT if rule.confidence in {"low", "memory"} else 0.0)

    def _counted(
        self, own: Sequence[DatedRule], others: Sequence[DatedRule], counts: Sequence[Knot], *, oldest: bool
    ) -> Array:
        """Share through the counts: up to a duty, or to the ban of all others, or down to a ban of its own."""
        begin = _begin(own)
        knots = list(counts)
        if oldest:
            knots.insert(0, (counts[0][0] - BEFORE_COUNT, 1.0))
        elif 0 <= begin < counts[0][0]:
            knots.insert(0, (begin, 0.0))
        duties = [rule for rule in own if rule.event == "required on all"]
        bans = [rule for rule in own if rule.event == "banned on all" and rule.hard]
        ends = [rule for rule in others if rule.event == "banned on all" and rule.hard]
        for rules, left in ((duties, False), (bans, True), ([] if oldest else ends, False)):
            if rules and max(rule.starts[1] for rule in rules) > knots[-1][0]:
                share = max(self._left(rule) for rule in rules)
                knots.append((max(rule.starts[1] for rule in rules), share if left else 1.0 - share))
                break
        x, y = np.array([knot[0] for knot in knots], float), np.array([knot[1] for knot in knots])
        curve: Array = np.interp(self._months, x, y)
        late = self._months > x[-1]
        if oldest:
            curve[late] *= 0.5 ** ((self._months[late] - x[-1]) / self._weights.fade_months)
        curve[self._months < begin] = 0.0
        return curve

    def _rise(self, feature: Feature, own: Sequence[DatedRule], oldest: bool) -> Array:  # noqa: FBT001 - its rank
        """Part of the cars newer features leave that show this one."""
        months, begin = self._months, _begin(own)
        duties = [rule for rule in own if rule.event == "required on all" and rule.starts[1] > begin]
        if oldest:
            return np.ones(months.size)
        if begin <= months[0]:
            known = np.full(months.size, self._weights.rare if feature.rare else 0.5)
            begin = int(months[0])
        else:
            known = 1.0 - 0.5 ** (np.maximum(months - begin, 0) / self._weights.turnover_months)
            if feature.rare:
                known *= self._weights.rare
        if duties:
            full = min(rule.starts[1] for rule in duties)
            goal = 1.0 - max(self._left(rule) for rule in duties if rule.starts[1] == full)
            line = np.interp(months, [begin, max(full, begin + 1)], [known[0], goal])
            known = np.where(months >= full, goal, line)
        known[months < begin] = 0.0
        return known

    def _fall(self, own: Sequence[DatedRule], *, counted: bool) -> Array:
        months = self._months
        curve = np.ones(months.size)
        for rule in own:
            if rule.event == "banned on all":
                first, left = rule.ends[0], self._left(rule)
                last = max(rule.starts[1], first + 1)
                if counted and rule.hard:
                    continue  # the counts lead down to it
                ramp = np.interp(months, [first, last], [1.0, left])
                late = np.maximum(months - last, 0) / self._weights.fade_months
                curve = np.minimum(curve, ramp * 0.5**late)
            elif rule.event == "no longer required" or (
                rule.event == "gone in practice"
                and rule.scope not in {"new", "new or rebuilt"}
                and not (counted and rule.scope == "older")
            ):
                late = np.maximum(months - rule.starts[0], 0) / self._weights.fade_months
                curve = np.minimum(curve, 0.5**late)
        return curve


def _begin(rules: Sequence[DatedRule]) -> int:
    """First month any rule lets the feature be seen in."""
    begins = [rule.starts[0] for rule in rules if rule.event in {"first seen", "permitted"}]
    return min(begins, default=-1)


def _for_new_cars(rule: DatedRule) -> bool:
    """Whether a rule says what newly built cars show."""
    gone = rule.event == "gone in practice" and rule.scope in {"new", "new or rebuilt"}
    return gone or rule.event in {"required on new", "banned on new"}


def _counts(rules: Sequence[DatedRule]) -> list[Knot]:
    return sorted((rule.starts[0], rule.share) for rule in rules if rule.share is not None and rule.scope == "all")


def _whole(shares: Array, stands: npt.NDArray[np.bool_]) -> Array:
    """Shares that add up to 1: counted ones stand, the others share what is left in their own proportion."""
    shares = shares.copy()
    fixed = shares[stands].sum(axis=0)
    shares[stands] /= np.maximum(fixed, 1.0)
    free = np.maximum(1.0 - fixed, 0.0)
    rest = shares[~stands].sum(axis=0)
    if (~stands).any():
        shares[~stands] *= np.divide(free, rest, out=np.zeros_like(free), where=rest > 0)
    return shares
