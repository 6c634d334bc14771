"""When a car is due again: against a second reading of the rules in words, and case by case."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import carwright as cw
from carwright.errors import TableError
from carwright.history import History
from carwright.inspection import words_of
from carwright.measure import values_at
from carwright.publish.labels import LabelError, label_sheet, labels_pdf
from carwright.publish.labels.label import MARGIN, bench_tag
from carwright.publish.lettering import lettering_of
from carwright.publish.scene import Circle, Group, Scene, Text
from carwright.publish.theme import load_theme
from carwright.tables import shipped
from carwright.verdict.due import Due, DueReason, due_of
from carwright.verdict.due_rules import DueRules, read_due_rules, usual_rules

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n[car.geometry]\naxles_per_truck = 2\n'
ID = "123e4567-e89b-12d3-a456-426614174000"
WORDS = words_of(shipped())
Written = Mapping[str, Any]
VALUES = {"coupler.height": "0.39 in", "wheel.back_to_back": "14.4 mm", "weight.total": "110 g", "roll.start": "1 %"}


def history_of(*entries: Written) -> History:
    body = "".join(
        "[[entry]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in entry.items()) for entry in entries
    )
    return cw.read_sheet_text(HEAD + body, file="car.toml").history


def due(*entries: Written, rules: DueRules | None = None) -> Due:
    history = history_of(*entries)
    stale = values_at(history, WORDS, len(history.stages) - 1).stale
    return due_of(history, stale, rules or usual_rules(), WORDS)


def only(*entries: Written, rules: DueRules | None = None) -> DueReason:
    (reason,) = due(*entries, rules=rules).reasons
    return reason


def by(found: Due, rule: str) -> list[DueReason]:
    return [each for each in found.reasons if each.rule == rule]


def reading(what: str = "coupler.height", at: str = "A", when: str = "") -> Written:
    place = {} if what in {"weight.total", "roll.start"} else {"at": at}
    return dated({"kind": "reading", "what": what, "values": [VALUES[what]], **place}, when)


def gauge(what: str = "coupler.action", at: str = "A", when: str = "") -> Written:
    return dated({"kind": "gauge", "what": what, "at": at, "result": "pass"}, when)


def work(remedy: str = "straighten", at: str = "all", when: str = "", **more: str) -> Written:
    return dated({"kind": "work", "remedy": remedy, "at": at, **more}, when)


def placed(how: str, start: str = "", end: str = "", when: str = "") -> Written:
    days = {key: value for key, value in (("from", start), ("to", end)) if value}
    return dated({"kind": "placement", "where": "x", "how": how, **days}, when)


def trouble(when: str = "") -> Written:
    return dated({"kind": "trouble", "defect": "came off"}, when)


def ran(runs: int, when: str = "") -> Written:
    return dated({"kind": "exposure", "runs": runs}, when)


def dated(entry: Written, when: str) -> Written:
    return {**entry, "when": when} if when else entry


def rule(after: str, *, identity: str = "own", **more: object) -> str:
    keys = {"id": identity, "after": after, "why": "why", **more}
    return "[[rule]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())


def rules_of(*bodies: str) -> DueRules:
    head = 'format = "carwright-due/1"\nid = "own"\ntitle = "own"\n'
    return read_due_rules(head + "".join(bodies), "own.toml", WORDS)


# --- a second reading of the rules --------------------------------------------------------------------------------

TOUCHED: Mapping[tuple[str, str], Sequence[tuple[str, str]]] = {
    ("straighten", "all"): [("coupler.height", "A"), ("coupler.height", "B")],
    ("replace-coupler", "A"): [("coupler.height", "A"), ("coupler.action", "A"), ("weight.total", "")],
    ("box-shim", "B"): [("coupler.height", "B")],
    ("regauge", "1"): [("wheel.back_to_back", "1")],
    ("ballast", "all"): [("weight.total", "")],
    ("truck-screws", "all"): [],
}
AMOUNTS = {"box-shim": "0.4 mm", "ballast": "5 g"}
LOOKED = [
    ("coupler.height", "A"), ("coupler.height", "B"), ("wheel.back_to_back", "1"), ("wheel.back_to_back", "2"),
    ("weight.total", ""), ("coupler.action", "A"),
]  # fmt: skip
OWN = (
    rule("time", identity="own-time", days=90),
    rule("running", identity="own-runs", runs=30),
    rule("trouble", identity="own-trouble", read=["weight.total"]),
    rule("storage", identity="own-storage", days=60, read=["coupler.height"]),
    rule("work", identity="own-work", remedy=["replace-coupler", "ballast"], read=["coupler.action"]),
)
BOTH = DueRules("both", "both", (*usual_rules().rules, *rules_of(*OWN).rules))
Event = tuple[str, Any]
FIRST = dt.date(2023, 11, 20)


def written(event: Event, day: dt.date) -> Written:
    kind, what = event
    when = day.isoformat()
    match kind:
        case "look":
            return gauge(what[0], what[1], when) if what[0] == "coupler.action" else reading(what[0], what[1], when)
        case "work":
            amount = {"amount": AMOUNTS[what[0]]} if what[0] in AMOUNTS else {}
            return work(what[0], what[1], when, **amount)
        case "placed":
            return placed(what, when=when)
        case "ran":
            return ran(what, when)
        case _:
            return trouble(when)


def unread_since(events: Sequence[tuple[dt.date, Event]], index: int, names: Sequence[str]) -> bool:
    """Whether one of the names was not read after an event; nothing at all, where there are none."""
    later = [what for _, (kind, what) in events[index + 1 :] if kind == "look"]
    return not later if not names else not set(names) <= {each[0] for each in later}


def told(events: Sequence[tuple[dt.date, Event]], today: dt.date) -> set[str]:
    """Rules a car is due by, said again from the words alone."""
    found = set()
    carried = ("coupler.height", "coupler.action", "wheel.back_to_back")
    for index, (_, (kind, what)) in enumerate(events):
        if kind == "trouble":
            found |= {"after-trouble"} if unread_since(events, index, ()) else set()
            found |= {"own-trouble"} if unread_since(events, index, ["weight.total"]) else set()
        if (kind, what) == ("placed", "transport") and unread_since(events, index, carried):
            found.add("after-transport")
        if (kind, what) == ("placed", "storage"):
            found |= stored(events, index, today)
        if kind == "work":
            before = {each for _, (sort, each) in events[:index] if sort == "look"}
            after = {each for _, (sort, each) in events[index + 1 :] if sort == "look"}
            if (before & set(TOUCHED[what])) - after or not after:
                found.add("after-work")
            counted = what[0] in {"replace-coupler", "ballast"}
            found |= {"own-work"} if counted and ("coupler.action", "A") not in after else set()
    for name, limit, read in (
        ("after-running", 50, ["wheel.back_to_back", "coupler.height"]), ("own-runs", 30, [])
    ):  # fmt: skip
        if any(runs_since(events, each) >= limit for each in read or [""]):
            found.add(name)
    looks = [day for day, (kind, _) in events if kind == "look"]
    if not looks or looks[-1] + dt.timedelta(days=90) <= today:
        found.add("own-time")
    return found


def stored(events: Sequence[tuple[dt.date, Event]], index: int, today: dt.date) -> set[str]:
    day = events[index][0]
    ended = next((when for when, (kind, _) in events[index + 1 :] if kind == "placed"), today)
    found = set()
    for name, days, read in (("after-storage", 180, ""), ("own-storage", 60, "coupler.height")):
        long = (ended - day).days >= days
        looked = any(
            kind == "look" and read in {"", what[0]} and (when - day).days >= days for when, (kind, what) in events
        )
        found |= {name} if long and not looked else set()
    return found


def runs_since(events: Sequence[tuple[dt.date, Event]], name: str) -> int:
    runs = 0
    for _, (kind, what) in events:
        runs += what if kind == "ran" else kind == "trouble"
        if kind == "look" and name in {"", what[0]}:
            runs = 0
    return runs


EVENTS = st.one_of(
    st.tuples(st.just("look"), st.sampled_from(LOOKED)),
    st.tuples(st.just("look"), st.sampled_from(LOOKED)),
    st.tuples(st.just("work"), st.sampled_from(sorted(TOUCHED))),
    st.tuples(st.just("placed"), st.sampled_from(["transport", "shelf", "layout"])),
    st.tuples(st.just("ran"), st.integers(1, 40)),
    st.tuples(st.just("trouble"), st.just(None)),
)
STEPS = st.lists(st.tuples(st.integers(1, 75), EVENTS), min_size=1, max_size=9)


@settings(max_examples=300)
@given(STEPS, st.none() | st.integers(0, 9), st.sampled_from([0, 1, 59, 60, 89, 90, 179, 180, 400]))
@example([(1, ("placed", "shelf")), (60, ("look", ("coupler.height", "A")))], 0, 120)
def test_a_second_reading_of_the_rules_finds_the_same_due(
    steps: list[tuple[int, Event]], at: int | None, later: int
) -> None:
    """One stay in storage at most, each entry on a day of its own: what the words of the rules leave no doubt about."""
    if at is not None:
        steps = [*steps[:at], (30, ("placed", "storage")), *steps[at:]]
    day, events = FIRST, []
    for step, event in steps:
        day += dt.timedelta(days=step)
        events.append((day, event))
    today = day + dt.timedelta(days=later)
    found = due(*(written(event, when) for when, event in events), rules=BOTH)
    assert {each.rule for each in found.reasons if each.is_due(today)} == told(events, today)
    assert not found.untold


@settings(max_examples=100)
@given(STEPS, st.randoms(use_true_random=False))
def test_the_order_of_dated_entries_in_the_file_changes_nothing(steps: list[tuple[int, Event]], random: Any) -> None:  # noqa: ANN401
    day, entries = FIRST, []
    for step, event in steps:
        day += dt.timedelta(days=step)
        entries.append(written(event, day))
    mixed = random.sample(entries, len(entries))
    assert due(*mixed, rules=BOTH) == due(*entries, rules=BOTH)


# --- after a work -------------------------------------------------------------------------------------------------


def test_a_work_asks_for_what_it_made_stale_and_for_no_more() -> None:
    found = only(reading(), reading(at="B"), reading("weight.total"), work(when="2026-04-12"))
    assert found.read == ("coupler height (A, B)",)
    assert found.start == dt.date(2026, 4, 12)
    assert found.why == "a work was done since it was read: straighten"


def test_what_was_read_again_is_no_longer_asked_for() -> None:
    before = [reading(), reading(at="B"), work()]
    assert only(*before, reading(at="B")).read == ("coupler height (A)",)
    assert due(*before, reading(at="B"), reading()).reasons == ()


def test_a_remedy_of_one_end_leaves_the_other_as_it_was_read() -> None:
    shimmed = work("box-shim", "A", amount="0.4 mm")
    assert only(reading(), reading(at="B"), shimmed).read == ("coupler height (A)",)
    assert only(reading(at="B"), shimmed).read == ()
    assert due(reading(at="B"), shimmed, gauge(at="B")).reasons == ()


def test_a_work_that_touches_nothing_read_is_answered_by_any_look() -> None:
    screwed = work("truck-screws")
    assert only(reading(), screwed).read == ()
    assert due(reading(), screwed, {"kind": "look", "what": "paint", "grade": "sound"}).reasons == ()
    assert only(screwed).start is None


def test_a_superseded_work_makes_nothing_due() -> None:
    first, second = "00000000-0000-4000-8000-000000000001", "00000000-0000-4000-8000-000000000002"
    gone = [reading(), {**work(), "id": first}, {"kind": "note", "note": "not done", "supersedes": first}]
    assert due(*gone).reasons == ()
    other = {**work("ballast", amount="5 g"), "id": second, "supersedes": first}
    assert only(reading(), {**work(), "id": first}, other).why.endswith(": ballast")


def test_a_corrected_reading_stands_where_the_first_stood_and_answers_nothing() -> None:
    first = "00000000-0000-4000-8000-000000000001"
    corrected = {**reading(when="2026-05-01"), "supersedes": first}
    assert only({**reading(when="2026-03-01"), "id": first}, work(when="2026-04-12"), corrected).read == (
        "coupler height (A)",
    )


def test_a_rule_counts_only_the_works_it_names() -> None:
    own = rules_of(rule("work", remedy=["ballast"]))
    assert due(reading(), work(), rules=own).reasons == ()
    assert only(reading("weight.total"), work("ballast", amount="5 g"), rules=own).read == (
        "weight of the complete car",
    )


def test_a_rule_for_one_work_is_not_answered_by_a_later_work_of_another_kind() -> None:
    own = rules_of(rule("work", remedy=["straighten"]))
    shim = work("washer", "A", "2026-05-01", amount="0.4 mm")
    before = [reading(), work(when="2026-04-12"), reading("weight.total", when="2026-04-13")]
    assert by(due(*before, rules=own), "own")
    assert by(due(*before, shim, reading("weight.total", when="2026-05-02"), rules=own), "own")


def test_a_car_is_due_since_the_first_work_after_which_it_was_not_read() -> None:
    shim = work("washer", "A", "2026-05-01", amount="0.4 mm")
    found = due(reading(), work(when="2026-04-12"), reading("weight.total", when="2026-04-13"), shim)
    assert found.reasons[0].start == dt.date(2026, 4, 12)


def test_a_rule_with_its_own_readings_lists_all_that_are_missing() -> None:
    own = rules_of(rule("work", read=["coupler.height", "wheel.back_to_back"]))
    found = only(reading(), work(), reading("weight.total"), rules=own)
    assert {each.partition(" (")[0] for each in found.read} == {"coupler height", "back-to-back"}


# --- after trouble and transport ----------------------------------------------------------------------------------


def test_trouble_is_answered_by_any_later_look() -> None:
    assert only(reading(when="2026-03-01"), trouble("2026-03-02")).start == dt.date(2026, 3, 2)
    assert due(reading(when="2026-03-01"), trouble("2026-03-02"), gauge(when="2026-03-02")).reasons == ()
    assert only(gauge(when="2026-03-02"), trouble("2026-03-02")).rule == "after-trouble"
    assert only(trouble()).start is None


def test_a_photo_is_no_look_at_the_car() -> None:
    assert only(trouble(), {"kind": "photo", "file": "a.jpg"}, {"kind": "note", "note": "looked"}).rule


def test_a_car_is_due_since_the_first_trouble_nobody_looked_after() -> None:
    assert only(trouble("2026-03-01"), trouble("2026-05-01")).start == dt.date(2026, 3, 1)


def test_transport_answered_in_part_asks_for_the_rest() -> None:
    carried = placed("transport", when="2026-06-01")
    assert only(carried).read == ("coupler height", "coupler action", "back-to-back")
    answered = [carried, reading(when="2026-06-02"), gauge(when="2026-06-02")]
    assert only(*answered).read == ("back-to-back",)
    assert due(*answered, reading("wheel.back_to_back", "1", "2026-06-03")).reasons == ()


def test_a_superseded_placement_makes_nothing_due() -> None:
    first = "00000000-0000-4000-8000-000000000001"
    shelf = {**placed("shelf", when="2026-06-01"), "supersedes": first}
    assert due({**placed("transport", when="2026-06-01"), "id": first}, shelf).reasons == ()


def test_a_transport_to_come_does_not_put_off_what_an_earlier_one_asks_for() -> None:
    found = due(
        reading(when="2026-01-01"), placed("transport", when="2026-02-01"), placed("transport", when="2027-02-01")
    )
    assert any(each.is_due(dt.date(2026, 11, 26)) for each in found.reasons)


def test_a_transport_makes_due_from_the_day_it_says() -> None:
    found = only(placed("transport", "2027-02-01", "2027-02-01"))
    assert not found.is_due(dt.date(2026, 11, 26))
    assert found.start == dt.date(2027, 2, 1)


# --- storage ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "limit"),
    [("2026-01-01", "2026-06-30"), ("2027-09-03", "2028-03-01"), ("2028-09-03", "2029-03-02"),
     ("2026-02", "2026-07-31"), ("summer 2026", "2026-11-28"), ("Dec 2026", "2027-05-30"),
     ("2027-12-31", "2028-06-28")],
)  # fmt: skip
def test_storage_makes_due_from_the_day_it_became_too_long(start: str, limit: str) -> None:
    found = only(placed("storage", start))
    day = dt.date.fromisoformat(limit)
    assert found.start == day
    assert found.is_due(day)
    assert not found.is_due(day - dt.timedelta(days=1))


def test_storage_that_ended_in_time_makes_nothing_due() -> None:
    assert due(placed("storage", "2026-01-01", "2026-06-29")).reasons == ()
    assert only(placed("storage", "2026-01-01", "2026-06-30")).start == dt.date(2026, 6, 30)
    assert due(placed("storage", when="2026-01-01"), placed("shelf", when="2026-06-29")).reasons == ()
    assert due(placed("storage", "2026-01"), placed("lent", "2026-06")).reasons == ()


def test_storage_is_answered_by_a_look_from_the_limit_on_and_no_earlier() -> None:
    kept = placed("storage", when="2026-01-01")
    assert only(kept, reading(when="2026-06-29")).rule == "after-storage"
    assert due(kept, reading(when="2026-06-30")).reasons == ()
    assert due(kept, placed("layout", when="2026-09-01"), gauge(when="2026-09-01")).reasons == ()


def test_storage_then_transport_asks_for_both() -> None:
    found = due(placed("storage", "2026-01-01"), placed("transport", when="2026-09-01"))
    assert [each.rule for each in found.reasons] == ["after-storage", "after-transport"]


def test_storage_from_an_unknown_day_cannot_be_told() -> None:
    found = due(placed("storage"))
    assert found == Due((), ("after-storage: entry 1 (placement) says no day from which on it was stored",))


def test_a_new_stay_does_not_answer_an_earlier_one() -> None:
    stays = [placed("storage", "2024-01-02", "2025-12-31"), placed("storage", "2026-11-01")]
    assert any(each.is_due(dt.date(2026, 11, 26)) for each in due(*stays).reasons)


def test_a_stay_written_down_at_its_end_is_answered_by_a_look_within_it() -> None:
    stay = placed("storage", "2025-01-01", "2026-01-01", "2026-01-01")
    assert due(reading(when="2025-12-01"), stay).reasons == ()


def test_a_stay_is_ended_by_a_placement_from_a_later_day_written_down_before_it() -> None:
    assert due(placed("layout", "2025-03-01"), placed("storage", "2025-01-01")).reasons == ()


@pytest.mark.parametrize(
    "entries",
    [[placed("storage", "9999-12-01")], [reading(when="9999-12-31")]],
)
def test_a_day_at_the_end_of_the_calendar_is_never_due(entries: list[Written]) -> None:
    own = rules_of(rule("storage", days=180), rule("time", identity="time", days=180))
    found = due(*entries, rules=own)
    assert not any(each.rule == "own" and each.is_due(dt.date(2026, 11, 26)) for each in found.reasons)


# --- running and time ---------------------------------------------------------------------------------------------


def test_runs_count_across_exposures_and_trouble_is_one_of_them() -> None:
    read = [reading(when="2026-01-01"), reading("wheel.back_to_back", "1", "2026-01-01")]
    runs = [ran(20, "2026-02-01"), ran(29, "2026-03-01")]
    assert due(*read, *runs).reasons == ()
    found = due(*read, *runs, trouble("2026-04-01"), ran(5, "2026-05-01"))
    assert {each.rule: each.start for each in found.reasons} == {
        "after-running": dt.date(2026, 4, 1),
        "after-trouble": dt.date(2026, 4, 1),
    }
    assert by(found, "after-running")[0].read == ("back-to-back", "coupler height")


def test_runs_count_from_the_oldest_of_what_must_be_read() -> None:
    read = [reading(when="2026-01-01"), reading("wheel.back_to_back", "1", "2026-01-01"), ran(50, "2026-02-01")]
    assert only(*read, reading(when="2026-03-01")).rule == "after-running"
    both = [*read, reading(when="2026-03-01"), reading("wheel.back_to_back", "2", "2026-03-01")]
    assert due(*both).reasons == ()
    assert only(ran(50)).start is None


def test_time_counts_from_the_last_dated_look() -> None:
    own = rules_of(rule("time", days=365))
    assert only(reading(when="2027-03-01"), rules=own).start == dt.date(2028, 2, 29)
    assert only(reading(when="2028-02-29"), rules=own).start == dt.date(2029, 2, 28)
    assert only(rules=own).start is None
    assert due(reading(), rules=own) == Due((), ("own: no reading says when it was taken",))
    named = rules_of(rule("time", days=1, read=["weight.total"]))
    found = only(reading("weight.total", when="2026-12-31T23:30:00-05:00"), gauge(when="2027-03-01"), rules=named)
    assert (found.start, found.read) == (dt.date(2027, 1, 1), ("weight of the complete car",))


def test_what_was_never_read_is_due_even_where_another_reading_has_no_day() -> None:
    own = rules_of(rule("time", days=30, read=["coupler.height", "weight.total"]))
    assert only(reading(), rules=own).start is None


# --- rules of one's own -------------------------------------------------------------------------------------------

GOOD = rule("transport", identity="show")


@pytest.mark.parametrize(
    ("body", "message"),
    [
        (rule("travel"), "unknown after 'travel'"),
        (rule("Transport"), "unknown after 'Transport'; did you mean 'transport'?"),
        (rule(""), "needs after"),
        (rule("work").replace('why = "why"\n', ""), "needs why"),
        (rule("storage"), "storage needs days"),
        (rule("time"), "time needs days"),
        (rule("running"), "running needs runs"),
        (rule("running", runs=5, days=5), "days does not go with running"),
        (rule("storage", runs=5, days=5), "runs does not go with storage"),
        (rule("work", days=5), "days does not go with work"),
        (rule("trouble", runs=1), "runs does not go with trouble"),
        (rule("storage", days=0), "days must be a whole number from 1 to 36500, got 0"),
        (rule("storage", days=1.5), "days must be a whole number from 1 to 36500, got 1.5"),
        (rule("storage", days=-1), "days must be a number of zero or more, got '-1'"),
        (rule("running", runs="5"), "runs must be a number of zero or more, got '5'"),
        (rule("running", runs=True), "runs must be a number of zero or more, got 'True'"),
        (rule("storage") + "days = inf\n", "days must be a number of zero or more, got 'inf'"),
        (rule("storage") + "days = nan\n", "days must be a number of zero or more, got 'nan'"),
        (rule("work", read="coupler.height"), "read must be a list of texts"),
        (rule("work", read=[1]), "read must be a list of texts"),
        (rule("work", read=["coupler.hight"]), "read: unknown name 'coupler.hight'; did you mean 'coupler.height'?"),
        (rule("work", remedy=["straigten"]), "remedy: unknown name 'straigten'; did you mean 'straighten'?"),
        (rule("trouble", remedy=["straighten"]), "remedy does not go with trouble"),
        (rule("work", reads=["coupler.height"]), "unknown key 'reads'; did you mean 'read'?"),
        (rule("work", why=3), "why must be a text"),
        (rule("work").replace('"work"', "3"), "after must be a text, got '3'"),
    ],
)
def test_a_slip_in_a_rule_is_named_with_its_file_and_rule(body: str, message: str) -> None:
    with pytest.raises(TableError) as error:
        rules_of(GOOD, body)
    assert str(error.value).startswith(f"own.toml, rule 2 (own): {message}")


def test_a_rule_without_an_id_or_with_one_twice_is_refused() -> None:
    with pytest.raises(TableError, match=r"^own\.toml, rule 2 \(\?\): needs id$"):
        rules_of(GOOD, rule("work").replace('id = "own"\n', ""))
    with pytest.raises(TableError, match=r"^own\.toml, rule 2 \(show\): its id stands twice$"):
        rules_of(GOOD, GOOD)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "own.toml: format must be 'carwright-due/1', got None"),
        ('format = "carwright-due/2"', "own.toml: format must be 'carwright-due/1', got 'carwright-due/2'"),
        ('format = "carwright-due/1"\nrules = []', "own.toml: unknown key 'rules'; did you mean 'rule'?"),
        ('format = "carwright-due/1"\n[rule]\nid = "a"', "own.toml: rule must be a list of tables"),
        ('format = "carwright-due/1"\nid = 1', "own.toml: id must be a text, got '1'"),
        ("format = ", "own.toml"),
    ],
)
def test_a_file_that_holds_no_rules_is_named(text: str, message: str) -> None:
    with pytest.raises(TableError) as error:
        read_due_rules(text, "own.toml", WORDS)
    assert str(error.value).startswith(message)


def test_a_file_without_a_rule_makes_nothing_due() -> None:
    assert due(trouble(), work(), rules=rules_of()) == Due((), ())


def test_every_rule_speaks_for_itself_first_day_first_and_then_by_name() -> None:
    own = rules_of(
        rule("trouble", identity="b"), rule("trouble", identity="a"), rule("storage", identity="c", days=30),
        rule("running", identity="d", runs=1),
    )  # fmt: skip
    found = due(placed("storage", when="2026-01-01"), trouble("2026-03-01"), rules=own)
    assert [each.rule for each in found.reasons] == ["c", "a", "b", "d"]
    undated = due(
        placed("storage", when="2026-01-01"), trouble(), rules=rules_of(rule("trouble", identity="z"), OWN[3])
    )
    assert [(each.rule, each.start) for each in undated.reasons] == [("z", None), ("own-storage", dt.date(2026, 3, 2))]


@pytest.mark.parametrize("days", ["4000000", "1e300"])
def test_more_days_than_a_calendar_has_are_refused_or_never_over(days: str) -> None:
    try:
        own = rules_of(rule("storage") + f"days = {days}\n")
    except TableError as error:
        assert str(error).startswith("own.toml, rule 1 (own): ")  # noqa: PT017 - refusing it is as good
        return
    assert not any(
        each.is_due(dt.date(2026, 11, 26)) for each in due(placed("storage", "2026-01-01"), rules=own).reasons
    )


# --- tags ---------------------------------------------------------------------------------------------------------

LETTERS = lettering_of(load_theme())
TAG = label_sheet("a4-tag")


def example_car(name: str) -> cw.Inspection:
    text = Path(f"examples/{name}.toml").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith('id = "')]
    headed = "\n".join(lines).replace("[car]\n", f'[car]\nid = "{ID}"\n', 1)
    return cw.inspect(cw.read_sheet_text(headed, file=name, folder="examples"))


def tag(name: str, reasons: Sequence[str]) -> Scene:
    return bench_tag(example_car(name), width=TAG.width, height=TAG.height, letters=LETTERS, due=reasons)


def test_a_car_in_service_gets_a_tag_only_where_it_is_due() -> None:
    found = example_car("ho-boxcar")
    assert found.verdict.status == "in service"
    with pytest.raises(LabelError):
        labels_pdf([found], sheet=TAG, kind="tag")
    assert labels_pdf([found], sheet=TAG, kind="tag", due={ID: ["it was carried"]}).startswith(b"%PDF")
    scene = tag("ho-boxcar", ["it was carried; read coupler height"])
    assert [each.text for each in said(scene, "due")] == ["it was carried; read coupler height"]
    assert "Look again: it was carried; read coupler height" in scene.words


def said(scene: Scene, what: str) -> list[Text]:
    return [each for each in scene.placed() if isinstance(each, Text) and each.what == what]


@pytest.mark.parametrize("name", ["n-gondola", "o-tank-car"])
def test_a_tag_says_that_a_car_is_due_however_many_reasons_hold_it(name: str) -> None:
    scene = tag(name, ["it was carried"])
    assert [each.text for each in said(scene, "due")] == ["it was carried"]


LONG = "a work was done since it was read: replace-truck; read " + ", ".join(
    f"wheel back-to-back ({n})" for n in range(9)
)


@pytest.mark.parametrize("name", ["ho-boxcar", "ho-flat-car", "ho-covered-hopper", "n-gondola"])
@pytest.mark.parametrize("reasons", [["short"], [LONG], [LONG] * 2, [LONG] * 12, ["x" * 300] * 5, ["short"] * 40])
def test_however_much_is_due_nothing_overlaps_or_leaves_the_tag(name: str, reasons: list[str]) -> None:
    scene = tag(name, reasons)
    lines = [each for each in scene.placed() if isinstance(each, Text)]
    boxes = [
        (each.x, each.y - 0.8 * each.size, each.x + LETTERS.width(each.text, each.size, bold=each.bold),
         each.y + 0.25 * each.size)
        for each in lines
    ]  # fmt: skip
    for left, top, right, bottom in boxes:
        assert left >= MARGIN - 1e-6
        assert top >= MARGIN - 1e-6
        assert right <= TAG.width - MARGIN + 1e-6
        assert bottom <= TAG.height - MARGIN + 1e-6
    (hole,) = [each for each in scene.items if isinstance(each, Circle)]
    (code,) = [each for each in scene.items if isinstance(each, Group) and each.what == "qr"]
    side = 24.0
    kept = [
        (hole.x - hole.r, hole.y - hole.r, hole.x + hole.r, hole.y + hole.r),
        (TAG.width - MARGIN - side, TAG.height - MARGIN - side, TAG.width - MARGIN, TAG.height - MARGIN),
    ]
    assert code.items
    every = [*boxes, *kept]
    for index, one in enumerate(every):
        for other in every[index + 1 :]:
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            assert min(across, down) <= 1e-6, (one, other)
