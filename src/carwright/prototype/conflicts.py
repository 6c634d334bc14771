"""Where hard facts clash: every smallest clash, and every smallest set of claims that would resolve them all.

A fact says in which months the picture can have been taken, or the car built or rebuilt. The limits of all facts cut
the months into cells; building, rebuilding and the picture each fall into one, in that order. What must be wrong for a
choice of cells is the set of facts that rule it out, and the smallest of these sets are the sets of facts to doubt: all
of them, exactly. A clash is a smallest set of facts that cannot all hold: it has one member of every set to doubt, so
the clashes are the minimal hitting sets of those.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from carwright.dates import ALWAYS, Span, Spans, iso, spans_words
from carwright.prototype.book import book_of
from carwright.prototype.evidence import Piece, counted_once
from carwright.prototype.window import Stretch, feature_stretches, stencil_stretches
from carwright.tables.dated_model import Dated, DatedRule

CERTAIN = 1e-6
"""Doubt left in what is said to be certain, so that clashes of certain things can be ranked; judgement [-]."""
RULE_TRUST = {"high": 0.99, "medium": 0.95, "low": 0.8, "memory": 0.7}
"""How far a dated rule is trusted by its confidence; judgement [-]."""
MOST = 1000
"""Sets to doubt that are listed."""
_RANK = ("built", "rebuilt", "seen")
"""What facts limit, in the order in which it must happen."""
Limited = tuple[str, Spans, str]
"""What is limited, the months it may be, and what says so."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is seen, read or claimed, and the months it allows.

    Attributes
    ----------
    name, label : str
        The feature, stencil or claim, and in words.
    trust : float
        Chance that it holds, the rule behind it included [-].
    limits : tuple of (about, spans, why)
        Months it allows for what is ``seen``, ``built`` or ``rebuilt``, and what says so.
    """

    name: str
    label: str
    trust: float
    limits: tuple[Limited, ...]


@dataclass(frozen=True, slots=True)
class Clash:
    """A smallest set of facts that cannot all hold, and why."""

    facts: tuple[Fact, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """A smallest set of facts to doubt; ``odds`` is how likely just these are wrong beside all other such sets [-]."""

    facts: tuple[Fact, ...]
    odds: float


@dataclass(frozen=True, slots=True)
class Conflicts:
    """All clashes, and what to doubt, likeliest first."""

    facts: tuple[Fact, ...]
    clashes: tuple[Clash, ...]
    doubts: tuple[Doubt, ...]
    warnings: tuple[str, ...] = ()


def conflicts_of(dated: Dated, piece: Piece) -> Conflicts:
    """Clashes among the hard facts of one piece of evidence.

    Parameters
    ----------
    dated : Dated
        The rules.
    piece : Piece
        What is shown, read and claimed.
    """
    facts = facts_of(dated, piece)
    sets = sets_to_doubt(facts)
    clashes = [] if sets == [frozenset()] else [_told(facts, each) for each in hitting_sets(sets)]
    return Conflicts(tuple(facts), tuple(clashes), tuple(_ranked(facts, sets)), tuple(_warnings(facts, clashes)))


def facts_of(dated: Dated, piece: Piece) -> list[Fact]:
    """Every hard fact: features by their dated rules, the age limit, stencils, claims."""
    return [*_feature_facts(dated, piece), *_age_facts(dated, piece), *_date_facts(dated, piece), *_claim_facts(piece)]


def _feature_facts(dated: Dated, piece: Piece) -> Iterable[Fact]:
    """What is shown or missing; what its showing implies of the rest of its group is one fact with it."""
    subject = piece.as_of()
    book = book_of(dated, subject.kind, subject.use, subject.owner, subject.car_class)
    usual = 1.0 - dated.weights.false_seen
    trusts = {each.feature: each.trust for each in subject.shown}
    rebuilt = "stencil.rebuilt" in subject.stencils or any(each.about == "rebuilt" for each in piece.claims)
    groups: dict[str, list[Stretch]] = {}
    for stretch in feature_stretches(book, subject):
        groups.setdefault(dated.group_of[stretch.name].id, []).append(stretch)
    for stretches in groups.values():
        shown = [stretch for stretch in stretches if not stretch.implied]
        for stretch in shown:
            alike = [stretch, *(each for each in stretches if each.implied and stretch is _teller(shown))]
            limits = [limit for each in alike for limit in _limits(each) if rebuilt or limit[0] != "rebuilt"]
            if limits:
                missing = "no " if stretch.state == "absent" else ""
                trust = trusts[stretch.name]
                rules = [rule for each in alike for rule in _hard_rules(each)]
                trust = (usual if trust >= 1.0 else trust) * min(RULE_TRUST[rule.confidence] for rule in rules)
                yield Fact(stretch.name, f"{missing}{dated.title(stretch.name)}", trust, tuple(limits))


def _age_facts(dated: Dated, piece: Piece) -> Iterable[Fact]:
    for stretch in stencil_stretches(dated, piece.as_of()):
        if stretch.name == "age":
            limits = (("seen", stretch.hard, stretch.why[0]),)
            yield Fact("age", f"age ({stretch.state})", RULE_TRUST["medium"], limits)


def _date_facts(dated: Dated, piece: Piece) -> Iterable[Fact]:
    for dating in piece.datings:
        span = Span(dating.month, dating.month)
        about = {"stencil.built": "built", "stencil.rebuilt": "rebuilt"}.get(dating.stencil, "seen")
        spans = (span,) if about != "seen" else (Span(dating.month, None),)
        words = f"{dated.stencils[dating.stencil].title} {iso(dating.month)}"
        limits = [(about, spans, "the stencil")]
        if about == "seen":
            limits.append(("built", (Span(None, dating.month),), "the stencil"))
        yield Fact(dating.stencil, words, dating.trust, tuple(limits))


def _claim_facts(piece: Piece) -> Iterable[Fact]:
    for claim in counted_once(piece.claims):
        limited = {"taken": "seen", "built": "built", "rebuilt": "rebuilt", "last seen": "seen"}.get(claim.about)
        if limited is not None:
            spans = (claim.span if claim.about != "last seen" else Span(None, claim.span.last),)
            told = "" if claim.about == "taken" else f"{claim.about} "
            label = f"claim {told}{claim.words} ({claim.source})"
            yield Fact(f"claim.{claim.about}", label, claim.trust, ((limited, spans, "claimed"),))


def _teller(shown: Sequence[Stretch]) -> Stretch:
    """The one that implies that others of its group are missing: what is there, before what is not."""
    return min(shown, key=lambda stretch: stretch.state != "present")


def _hard_rules(stretch: Stretch) -> list[DatedRule]:
    limits = stretch.bar.limits if stretch.bar is not None else ()
    return [limit.rule for limit in limits if limit.hard is not None and limit.about != "painted"]


def _limits(stretch: Stretch) -> Iterable[Limited]:
    """Hard limits of one feature: on the month shown, and on the dates of building and rebuilding."""
    limits = stretch.bar.limits if stretch.bar is not None else ()
    if stretch.hard != (ALWAYS,):
        yield "seen", stretch.hard, _said(limit.rule for limit in limits if limit.about == "seen"
                                          and limit.hard is not None)  # fmt: skip
    for limit in limits:
        if limit.about in _RANK and limit.about != "seen" and limit.hard is not None:
            yield limit.about, (Span(None, limit.hard),), _said([limit.rule])


def _said(rules: Iterable[DatedRule]) -> str:
    return "; ".join(f"{rule.id}, {rule.marks()}" for rule in dict.fromkeys(rules))


def sets_to_doubt(facts: Sequence[Fact]) -> list[frozenset[int]]:
    """Every smallest set of facts without which the others can all hold, by their places; ``[∅]`` where all can."""
    cells = _cells(facts)
    ruled = {about: [_ruled_out(facts, about, month) for month in cells] for about in _RANK}
    asked = {about for fact in facts for about, _, _ in fact.limits}
    found: set[frozenset[int]] = set()
    for last, shown in enumerate(ruled["seen"]):
        for middle, rebuilt in enumerate(ruled["rebuilt"][: last + 1] if "rebuilt" in asked else [frozenset()]):
            most = middle if "rebuilt" in asked else last
            for built in ruled["built"][: most + 1] if "built" in asked else [frozenset()]:
                found.add(shown | rebuilt | built)
    return minimal(found)


def minimal(sets: Iterable[frozenset[int]]) -> list[frozenset[int]]:
    """Those that hold no other of them, smallest first."""
    kept: list[frozenset[int]] = []
    for each in sorted(set(sets), key=lambda one: (len(one), sorted(one))):
        if not any(other <= each for other in kept):
            kept.append(each)
    return kept


def _cells(facts: Sequence[Fact]) -> list[int]:
    """A month of every cell the limits cut time into, in order."""
    edges = {span.first for fact in facts for _, spans, _ in fact.limits for span in spans if span.first is not None}
    edges |= {span.last + 1 for fact in facts for _, spans, _ in fact.limits for span in spans if span.last is not None}
    return [min(edges) - 1, *sorted(edges)] if edges else [0]


def _ruled_out(facts: Sequence[Fact], about: str, month: int) -> frozenset[int]:
    """Facts that do not allow a month."""
    return frozenset(
        index
        for index, fact in enumerate(facts)
        for what, spans, _ in fact.limits
        if what == about and not any(span.holds(month) for span in spans)
    )


def _told(facts: Sequence[Fact], clash: frozenset[int]) -> Clash:
    """A clash in words: of each fact, only the limits that are needed for it."""
    own = [facts[index] for index in sorted(clash)]
    for left in range(len(own)):
        for limit in own[left].limits:
            fewer = replace(own[left], limits=tuple(each for each in own[left].limits if each is not limit))
            if fewer.limits and sets_to_doubt([*own[:left], fewer, *own[left + 1 :]]) != [frozenset()]:
                own[left] = fewer
    words = [f"{fact.label}: {' and '.join(_asks(limit) for limit in fact.limits)}" for fact in own]
    return Clash(tuple(facts[index] for index in sorted(clash)), " against ".join(words))


def _asks(limit: Limited) -> str:
    about, spans, why = limit
    what = {"seen": "shown", "built": "built", "rebuilt": "rebuilt"}[about]
    return f"{what} {spans_words(spans)} ({why})"


def hitting_sets(sets: Sequence[frozenset[int]]) -> list[frozenset[int]]:
    """Every minimal set that has a member of each of some sets, exactly.

    Parameters
    ----------
    sets : sequence of frozenset of int
        None of them empty.

    Returns
    -------
    list of frozenset
        Smallest first; one empty set where there is nothing to hit.

    Raises
    ------
    ValueError
        "an empty set cannot be hit"
    """
    if any(not each for each in sets):
        msg = "an empty set cannot be hit"
        raise ValueError(msg)
    found: set[frozenset[int]] = {frozenset()}
    for each in sorted(set(sets), key=len):
        hit = {one for one in found if one & each}
        grown = {one | {member} for one in found - hit for member in each}
        found = hit | {one for one in grown if not any(other <= one for other in hit)}
    return sorted(found, key=lambda one: (len(one), sorted(one)))


def _ranked(facts: Sequence[Fact], sets: Iterable[frozenset[int]]) -> Iterable[Doubt]:
    """Sets to doubt by how likely just they are wrong: the product of (1 − trust)/trust, shared out."""
    known = [each for each in sets if each]
    weights = [math.exp(sum(_log_odds(facts[index].trust) for index in each)) for each in known]
    total = sum(weights) or 1.0
    ranked = sorted(zip(weights, known, strict=True), key=lambda pair: (-pair[0], sorted(pair[1])))
    for weight, each in ranked[:MOST]:
        yield Doubt(tuple(facts[index] for index in sorted(each)), weight / total)


def _log_odds(trust: float) -> float:
    inside = min(max(trust, CERTAIN), 1.0 - CERTAIN)
    return math.log((1.0 - inside) / inside)


def _warnings(facts: Sequence[Fact], clashes: Sequence[Clash]) -> Iterable[str]:
    clashing = {fact for clash in clashes for fact in clash.facts}
    if clashes and clashing == set(facts) and len(facts) > 1:
        yield "everything that could date it is in some clash: no date is stated as sure"
    if clashes and all(fact.trust >= 1.0 for fact in clashing):
        yield "everything in the clash is said to be certain, yet it cannot all be: say what is trusted less"
