"""What changed between two looks: every fate, what is sure, and how it is said."""

from __future__ import annotations

import math
import random
import re
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

import carwright as cw
from carwright.judge import Finding
from carwright.publish.changes import SURE, Change, changes_of, fate_words, worth_telling

NOTHING = re.compile(r"[-−]0\.?0*(?![.\d])")
"""A negative nothing."""
OUTCOMES = ("fails", "undecided", "not measured", "conforms")


def finding(
    outcome: str = "conforms",
    value: float | None = 9.93,
    u: float | None = 0.01,
    entries: tuple[int, ...] = (1,),
    what: str = "coupler.height",
    at: str = "A",
    grade: str = "",
    clause: str = "a/b/c",
    title: str = "coupler height",
) -> Finding:
    """A finding of a length [mm]."""
    return Finding(
        clause, title, what, at, 0, outcome, "standard", "standard", "x", "measured",  # type: ignore[arg-type]
        value=value, u=u, kind="length", entries=entries, grade=grade,
    )  # fmt: skip


def change(before: Finding | None, after: Finding | None) -> Change:
    """The only change between two looks."""
    [found] = changes_of([before] if before is not None else [], [after] if after is not None else [])
    return found


# --- fates ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("was", "now", "fate"),
    [
        ("fails", "fails", "still fails"),
        ("fails", "undecided", "undone"),
        ("fails", "not measured", "undone"),
        ("fails", "conforms", "came right"),
        ("undecided", "fails", "decided"),
        ("undecided", "undecided", "as before"),
        ("undecided", "not measured", "undone"),
        ("undecided", "conforms", "decided"),
        ("not measured", "fails", "decided"),
        ("not measured", "undecided", "as before"),
        ("not measured", "not measured", "as before"),
        ("not measured", "conforms", "decided"),
        ("conforms", "fails", "went wrong"),
        ("conforms", "undecided", "undone"),
        ("conforms", "not measured", "undone"),
        ("conforms", "conforms", "as before"),
    ],
)
def test_a_fate_is_that_of_its_outcomes(was: str, now: str, fate: str) -> None:
    assert change(finding(was), finding(now, entries=(2,))).fate == fate
    unread = change(finding(was, None, None), finding(now, None, None, (2,)))
    assert unread.fate == fate


def test_what_stands_in_one_look_alone_is_new_or_gone() -> None:
    for outcome in OUTCOMES:
        new, gone = change(None, finding(outcome)), change(finding(outcome), None)
        assert (new.fate, new.moved, new.u) == ("new", None, None)
        assert (gone.fate, gone.moved, gone.u) == ("gone", None, None)
        assert new.finding is new.after
        assert gone.finding is gone.before
    assert changes_of([], []) == []


def test_a_change_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^a change needs a finding$"):
        _ = Change(None, None, None, None, "new").finding


def test_the_later_finding_is_told() -> None:
    found = change(finding("fails"), finding("conforms", entries=(2,)))
    assert found.finding is found.after
    assert found.before is not None
    assert found.before.outcome == "fails"


@pytest.mark.parametrize(
    ("was", "now", "fate"), [("slight", "marked", "moved"), ("slight", "slight", "as before"), ("", "slight", "moved")]
)
def test_another_grade_of_the_same_outcome_is_a_move(was: str, now: str, fate: str) -> None:
    before = finding("fails" if was == "never" else "conforms", None, None, grade=was)
    assert change(before, finding("conforms", None, None, (2,), grade=now)).fate == fate


def test_a_reading_without_a_grade_is_not_compared_by_it() -> None:
    assert (
        change(finding("conforms", None, None, grade="slight"), finding("conforms", None, None, (2,))).fate
        == "as before"
    )


# --- sure -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("share", "sure"), [(1.9599, False), (1.9601, True), (0.0, False), (3.0, True)])
def test_a_change_is_sure_beyond_so_many_uncertainties(share: float, sign: int, *, sure: bool) -> None:
    u = math.hypot(0.03, 0.04)  # 0.05
    found = change(finding(value=10.0, u=0.03), finding(value=10.0 + sign * share * u, u=0.04, entries=(2,)))
    assert found.u == pytest.approx(0.05)
    assert found.moved == pytest.approx(sign * share * 0.05)
    assert found.sure is sure
    assert found.fate == ("moved" if sure else "as before")
    assert SURE == 1.96


def test_exactly_so_many_uncertainties_are_not_enough() -> None:
    assert not Change(None, finding(), 1.96, 1.0, "moved").sure
    assert Change(None, finding(), math.nextafter(1.96, 2), 1.0, "moved").sure
    assert not Change(None, finding(), None, None, "moved").sure
    assert not Change(None, finding(), 5.0, None, "moved").sure


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (finding(entries=(1, 2)), finding(value=99.0, entries=(1, 2))),
        (finding(value=None), finding(entries=(2,))),
        (finding(), finding(value=None, entries=(2,))),
        (finding(u=None), finding(entries=(2,))),
        (finding(), finding(u=None, entries=(2,))),
    ],
)
def test_nothing_moved_where_nothing_was_measured_again(before: Finding, after: Finding) -> None:
    found = change(before, after)
    assert (found.moved, found.u, found.sure) == (None, None, False)
    assert found.fate == "as before"


def test_whether_readings_are_the_same_may_be_told_otherwise() -> None:
    before, after = finding(value=9.0), finding(value=9.5)
    [found] = changes_of([before], [after], lambda one, other: one.value == other.value)
    assert (found.moved, found.fate) == (0.5, "moved")
    [found] = changes_of([before], [replace(after, entries=(7,))], lambda *_: True)
    assert (found.moved, found.fate) == (None, "as before")


def test_readings_added_are_measured_again() -> None:
    found = change(finding(value=9.0, entries=(1,)), finding(value=9.5, entries=(1, 2)))
    assert found.moved == pytest.approx(0.5)


values = st.floats(-50, 50)
spreads = st.floats(1e-6, 5)


@given(values, spreads, values, spreads, st.sampled_from(OUTCOMES), st.sampled_from(OUTCOMES))
def test_looking_back_turns_the_sign(one: float, u: float, other: float, v: float, was: str, now: str) -> None:
    before, after = finding(was, one, u), finding(now, other, v, (2,))
    forth, back = change(before, after), change(after, before)
    assert forth.moved is not None
    assert back.moved is not None
    assert forth.moved == -back.moved == pytest.approx(other - one)
    assert forth.u == back.u == pytest.approx(math.hypot(u, v))
    assert forth.sure == back.sure
    if was == now:
        assert forth.fate == back.fate
    if {was, now} == {"fails", "conforms"}:
        assert {forth.fate, back.fate} == {"came right", "went wrong"}


# --- pairs and order ------------------------------------------------------------------------------------------------


def test_findings_are_paired_by_clause_thing_place_and_title() -> None:
    base = finding()
    for key, other in (("clause", "x/y/z"), ("characteristic", "pin.height"), ("at", "B"), ("title", "other")):
        found = changes_of([base], [replace(base, **{key: other})])  # type: ignore[arg-type]
        assert sorted(each.fate for each in found) == ["gone", "new"]
    same = replace(base, stage=3, outcome="fails", value=1.0)
    assert [each.fate for each in changes_of([base], [same])] == ["went wrong"]


def test_what_went_wrong_comes_first_and_the_rest_in_the_order_of_the_later_look() -> None:
    fates = {
        "went wrong": ("conforms", "fails"), "undone": ("conforms", "undecided"), "still fails": ("fails", "fails"),
        "came right": ("fails", "conforms"), "decided": ("undecided", "conforms"), "moved": ("conforms", "conforms"),
        "new": (None, "conforms"), "gone": ("conforms", None), "as before": ("undecided", "undecided"),
    }  # fmt: skip
    before, after = [], []
    for (fate, (was, now)), at in product(fates.items(), "BA"):
        if was is not None:
            before.append(finding(was, at=at, title=fate))
        if now is not None:
            moved = 0.5 if fate == "moved" else 0.0
            after.append(finding(now, 9.93 + moved, at=at, title=fate, entries=(2,)))
    random.Random(3).shuffle(before)
    random.Random(4).shuffle(after)
    found = changes_of(before, after)
    assert [each.fate for each in found] == [fate for fate in fates for _ in "AB"]
    assert all(each.finding.title == each.fate for each in found)
    for fate in fates:
        told = [each.finding.at for each in found if each.fate == fate]
        order = before if fate == "gone" else after
        assert told == [each.at for each in order if each.title == fate]
    assert worth_telling(found) == [each for each in found if each.fate != "as before"]
    assert len(worth_telling(found)) == 16


# --- in words ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "u", "system", "words"),
    [
        (9.48, 0.02, "metric", "came right; moved −0.45 ± 0.06 mm"),
        (10.38, 0.02, "metric", "came right; moved +0.45 ± 0.06 mm"),
        (9.48, 0.02, "us", "came right; moved −0.0177 ± 0.0023 in"),
        (9.98, 0.04, "metric", "came right; no change shown (+0.05 ± 0.10 mm)"),
        (9.88, 0.04, "metric", "came right; no change shown (−0.05 ± 0.10 mm)"),
    ],
)
def test_a_move_is_told_with_its_sign_and_uncertainty(value: float, u: float, system: str, words: str) -> None:
    before = finding("fails", 9.93, math.sqrt(0.03**2 - 0.02**2) if u == 0.02 else 0.03)
    assert fate_words(change(before, finding("conforms", value, u, (2,))), system) == words  # type: ignore[arg-type]


def test_what_was_not_measured_twice_is_told_by_its_fate_alone() -> None:
    assert fate_words(change(finding("fails"), finding("conforms")), "us") == "came right"
    assert fate_words(change(None, finding()), "us") == "new"
    look = replace(finding("conforms", 1.0, 0.1), kind=None)
    assert fate_words(change(look, replace(look, value=2.0, entries=(2,))), "us") == "moved"


def test_no_move_is_a_negative_nothing() -> None:
    words = fate_words(change(finding(value=9.93, u=0.02), finding(value=9.9299, u=0.02, entries=(2,))), "metric")
    assert not NOTHING.search(words), words


def test_the_demo_car_came_right_by_its_works() -> None:
    inspection = cw.inspect(cw.read_sheet("examples/ho-covered-hopper.toml"))
    found = changes_of(inspection.received, inspection.last)
    assert len(found) >= len(inspection.last)
    right = [each for each in found if each.fate == "came right"]
    assert right
    for each in right:
        assert each.before is not None
        assert each.after is not None
        assert (each.before.outcome, each.after.outcome) == ("fails", "conforms")
        if each.moved is not None and each.before.value is not None and each.after.value is not None:
            assert each.moved == each.after.value - each.before.value
