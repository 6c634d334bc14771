"""Clashes and what to doubt, against trying every set of facts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carwright.dates import Span, read_date
from carwright.prototype.conflicts import (
    Conflicts,
    Fact,
    conflicts_of,
    facts_of,
    hitting_sets,
    minimal,
    sets_to_doubt,
)
from carwright.prototype.evidence import Claim, Dating, Piece
from carwright.prototype.subject import Shown, Subject
from carwright.tables.dated_model import Dated

Shows = Callable[..., tuple[Shown, ...]]


def piece(shown: tuple[Shown, ...], *, claim: str = "", trust: float = 0.6, **stencils: str) -> Piece:
    dates = tuple(Dating(f"stencil.{name}", read_date(text).first or 0) for name, text in stencils.items())
    claims = (Claim("taken", read_date(claim), trust, claim, "caption"),) if claim else ()
    return Piece("picture", "photo", Subject("box", shown=shown), dates, claims)


def labels(conflicts: Conflicts) -> list[set[str]]:
    return [{fact.name for fact in clash.facts} for clash in conflicts.clashes]


def test_two_facts_that_cannot_meet_are_a_clash_and_either_may_be_doubted(dated: Dated, shows: Shows) -> None:
    found = conflicts_of(dated, piece(shows("bearing.plain", "reflectors.sheeting", "brake.AB")))
    assert labels(found) == [{"bearing.plain", "reflectors.sheeting"}]
    assert [{fact.name for fact in doubt.facts} for doubt in found.doubts] == [
        {"bearing.plain"},
        {"reflectors.sheeting"},
    ]
    assert sum(doubt.odds for doubt in found.doubts) == pytest.approx(1)
    assert found.doubts[0].odds > 0.5  # plain bearings' dates are of medium confidence, sheeting's of high
    [clash] = found.clashes
    assert "until 1995-12" in clash.why
    assert "from 2005-11" in clash.why
    assert "bearing.plain/banned-on-all/1994" in clash.why


def test_the_less_trusted_claim_is_doubted_first(dated: Dated, shows: Shows) -> None:
    found = conflicts_of(dated, piece(shows("brake.K"), claim="summer 1961", trust=0.3))
    assert [fact.name for fact in found.doubts[0].facts] == ["claim.taken"]
    trusted = conflicts_of(dated, piece(shows("brake.K"), claim="summer 1961", trust=0.999))
    assert [fact.name for fact in trusted.doubts[0].facts] == ["brake.K"]


def test_a_feature_may_clash_with_when_the_car_was_built(dated: Dated, shows: Shows) -> None:
    found = conflicts_of(dated, piece(shows("brake.K"), built="1948-05"))
    assert labels(found) == [{"brake.K", "stencil.built"}]
    assert "built until 1933-08" in found.clashes[0].why
    assert "rebuilt" not in found.clashes[0].why
    assert labels(conflicts_of(dated, piece(shows("brake.K"), built="1928-05", rebuilt="1940-01"))) == [
        {"brake.K", "stencil.rebuilt"}
    ]


def test_three_facts_may_clash_though_each_two_can_meet(dated: Dated, shows: Shows) -> None:
    # Without a capacity line a car is of before 1925 or of after 1984; the letters are of 1934 or later.
    found = conflicts_of(dated, piece(shows("-capacity-line", "aar-letters"), claim="by 1960", trust=0.8))
    assert labels(found) == [{"capacity-line", "aar-letters", "claim.taken"}]
    assert len(found.doubts) == 3


def test_nothing_clashes_where_all_can_hold(dated: Dated, shows: Shows) -> None:
    found = conflicts_of(dated, piece(shows("brake.AB", "bearing.plain"), claim="1957", weighed="1955-03"))
    assert found.clashes == ()
    assert found.doubts == ()
    assert found.warnings == ()


def test_when_all_is_doubtful_it_says_so(dated: Dated, shows: Shows) -> None:
    found = conflicts_of(dated, piece(shows("brake.K", "reflectors.sheeting")))
    assert found.warnings[0].startswith("everything that could date it is in some clash")
    certain = conflicts_of(dated, Piece("x", "photo", Subject("box"), (Dating("stencil.built", 23000),),
                                        (Claim("taken", Span(None, 22000), 1.0, "early", "caption"),)))  # fmt: skip
    assert any("everything in the clash is said to be certain" in line for line in certain.warnings)
    assert len(certain.doubts) == 2


def test_copies_of_one_claim_are_one_fact(dated: Dated) -> None:
    first = Claim("taken", read_date("1957"), 0.6, "1957", "the magazine")
    copy = Claim("taken", read_date("1957"), 0.5, "1957", "a web page", "the magazine")
    own = Claim("taken", read_date("1957"), 0.5, "1957", "another page")
    facts = facts_of(dated, Piece("x", "photo", Subject("box"), (), (first, copy, own)))
    assert [fact.trust for fact in facts] == [0.6, 0.5]


def test_minimal_keeps_what_holds_no_other() -> None:
    sets = [frozenset("ab"), frozenset("a"), frozenset("bc"), frozenset("abc")]
    assert minimal([frozenset(map(ord, each)) for each in sets]) == [frozenset({97}), frozenset({98, 99})]


def test_nothing_hits_an_empty_set() -> None:
    assert hitting_sets([]) == [frozenset()]
    with pytest.raises(ValueError, match="an empty set cannot be hit"):
        hitting_sets([frozenset()])


@settings(max_examples=200, deadline=None)
@given(st.lists(st.frozensets(st.integers(0, 7), min_size=1, max_size=4), max_size=6))
def test_hitting_sets_are_those_of_trying_all(sets: list[frozenset[int]]) -> None:
    universe = sorted({member for each in sets for member in each})
    hits = [
        frozenset(chosen)
        for size in range(len(universe) + 1)
        for chosen in combinations(universe, size)
        if all(each & set(chosen) for each in sets)
    ]
    brute = {one for one in hits if not any(other < one for other in hits)}
    assert set(hitting_sets(sets)) == brute


def some_spans(draw: st.DrawFn) -> tuple[Span, ...]:
    cuts = sorted(draw(st.lists(st.integers(0, 11), min_size=1, max_size=4, unique=True)))
    spans = []
    if draw(st.booleans()):
        spans.append(Span(None, cuts.pop(0)))
    while len(cuts) > 1:
        spans.append(Span(cuts.pop(0) + 1, cuts.pop(0)))
    if cuts:
        spans.append(Span(cuts[0] + 1, None))
    return tuple(span for span in spans if span.first is None or span.last is None or span.first <= span.last)


@st.composite
def fact_lists(draw: st.DrawFn) -> list[Fact]:
    facts = []
    for index in range(draw(st.integers(1, 5))):
        limits = [
            (about, spans, "")
            for about in draw(
                st.lists(st.sampled_from(["seen", "built", "rebuilt"]), min_size=1, max_size=2, unique=True)
            )
            if (spans := some_spans(draw))
        ]
        if limits:
            facts.append(Fact(str(index), str(index), 0.5, tuple(limits)))
    return facts


def possible(facts: Sequence[Fact]) -> bool:
    """Whether some months in order satisfy every fact, by trying all."""
    asked = {about for fact in facts for about, _, _ in fact.limits}

    def holds(about: str, month: int) -> bool:
        return all(
            any(span.holds(month) for span in spans)
            for fact in facts
            for what, spans, _ in fact.limits
            if what == about
        )

    months = range(-2, 15)
    return any(
        holds("built", built) and holds("rebuilt", rebuilt) and holds("seen", seen)
        for seen in months
        for rebuilt in (months if "rebuilt" in asked else [seen])
        if rebuilt <= seen
        for built in (months if "built" in asked else [rebuilt])
        if built <= rebuilt
    )


@settings(max_examples=120, deadline=None)
@given(fact_lists())
def test_sets_to_doubt_are_those_of_trying_all(facts: list[Fact]) -> None:
    everything = [
        frozenset(chosen) for size in range(len(facts) + 1) for chosen in combinations(range(len(facts)), size)
    ]
    good = [chosen for chosen in everything if possible([facts[i] for i in range(len(facts)) if i not in chosen])]
    brute = {one for one in good if not any(other < one for other in good)}
    found = sets_to_doubt(facts) if facts else [frozenset()]
    assert set(found) == brute
    if found != [frozenset()]:
        bad = [chosen for chosen in everything if not possible([facts[i] for i in sorted(chosen)])]
        clashes = {one for one in bad if not any(other < one for other in bad)}
        assert set(hitting_sets(found)) == clashes
