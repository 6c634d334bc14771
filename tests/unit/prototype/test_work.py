"""The work list: the least work that makes a model right, against trying every set of changes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product

import pytest

from carwright.dates import Span, read_date
from carwright.prototype.anachronism import anachronisms, judge
from carwright.prototype.subject import Shown, Subject
from carwright.prototype.window import window_of
from carwright.prototype.work import RESTENCIL_MIN, WorkList, work_list
from carwright.tables.dated_model import Dated

Shows = Callable[..., tuple[Shown, ...]]


def month(text: str) -> int:
    return read_date(text).first or 0


def model(shown: tuple[Shown, ...], kind: str = "box", **stencils: str) -> Subject:
    return Subject(kind, shown=shown, stencils={f"stencil.{name}": month(text) for name, text in stencils.items()})


def wrong(dated: Dated, subject: Subject, wanted: Span, words: tuple[str, ...] = ("wrong", "doubtful")) -> list[str]:
    stretches = window_of(dated, subject).stretches
    return [each.name for each in stretches if judge(each, wanted) in words]


@pytest.mark.parametrize("year", ["1930", "1936", "1949", "1957", "1968", "1972", "1979", "1988"])
def test_what_the_list_says_makes_it_right(dated: Dated, shows: Shows, year: str) -> None:
    wanted = read_date(year)
    subject = model(
        shows("brake.K", "truck.arch-bar", "running-board.wood", "hand-brake.staff", "capacity-line", "-aci-label"),
        weighed="1946-03",
    )
    work = work_list(dated, subject, wanted)
    assert work.settles == "right"
    assert wrong(dated, done(dated, subject, work), wanted) == []
    assert list(work.changes) == sorted(work.changes, key=lambda change: change.minutes)
    assert work.minutes == sum(change.minutes for change in work.changes)


def done(dated: Dated, subject: Subject, work: WorkList) -> Subject:
    shown, stencils = list(subject.shown), dict(subject.stencils)
    for change in work.changes:
        if change.verb == "restencil":
            stencils[change.name] = month(change.to)
            continue
        group = dated.group_of[change.name].id
        shown = [each for each in shown if dated.group_of[each.feature].id != group]
        state = "absent" if change.verb == "remove" else "present"
        shown.append(Shown(group if state == "absent" else change.name, state))  # type: ignore[arg-type]
    return replace(subject, shown=tuple(shown), stencils=stencils)


def every_change(dated: Dated, subject: Subject) -> Iterator[tuple[float, Subject]]:
    """Every model that can be made of one by other features in its own groups, with its minutes."""
    groups = {dated.group_of[each.feature].id for each in subject.shown}
    groups |= {"keep-off-roof-sign", "end-handhold"} & set(groups)
    options = []
    for name in sorted(groups):
        group = dated.groups[name]
        now = next((each.feature for each in subject.shown if each.state == "present"
                    and dated.group_of[each.feature].id == name), "")  # fmt: skip
        choices: list[tuple[float, tuple[Shown, ...] | None]] = [(0.0, None)]
        gone = dated.features[now].remove_min if now else 0.0
        others = [feature for feature in group.features if feature.id != now and not feature.fixed]
        choices += [(gone + feature.add_min, (Shown(feature.id, "present"),)) for feature in others]
        if now and not group.one:
            choices.append((gone, (Shown(name, "absent"),)))
        options.append([(name, minutes, shown) for minutes, shown in choices])
    for chosen in product(*options):
        shown = list(subject.shown)
        minutes = 0.0
        for name, cost, new in chosen:
            if new is None:
                continue
            minutes += cost
            shown = [each for each in shown if dated.group_of[each.feature].id != name] + list(new)
        yield minutes, replace(subject, shown=tuple(shown))


@pytest.mark.parametrize(
    ("features", "year"),
    [
        ("brake.K truck.arch-bar -aci-label", "1950"),
        ("brake.K truck.arch-bar bearing.roller", "1948"),
        ("running-board.none ladders.full hand-brake-height.high -keep-off-roof-sign -end-handhold", "1972"),
        ("running-board.metal ladders.full hand-brake-height.high -keep-off-roof-sign -end-handhold", "1990"),
        ("inspection-panel.three aci-label wheel-dot.white", "1979-03"),
        ("reflectors.sheeting -aei-tag bearing.plain", "1985"),
    ],
)
def test_the_list_is_the_least_of_all(dated: Dated, shows: Shows, features: str, year: str) -> None:
    wanted = read_date(year)
    subject = (
        model(shows(*features.split()), built="1950-03") if "none" in features else model(shows(*features.split()))
    )
    found = work_list(dated, subject, wanted)
    for words, settles in ((("wrong", "doubtful"), "right"), (("wrong",), "allowed")):
        costs = [minutes for minutes, made in every_change(dated, subject) if not wrong(dated, made, wanted, words)]
        if costs:
            assert found.settles == settles
            assert found.minutes == min(costs)
            return
    assert found.settles == "nothing"


def test_taking_the_board_off_asks_for_what_goes_with_it(dated: Dated, shows: Shows) -> None:
    subject = model(
        shows("running-board.wood", "ladders.full", "hand-brake-height.high", "-keep-off-roof-sign", "-end-handhold"),
        built="1940-03",
    )
    work = work_list(dated, subject, read_date("1985"))
    assert work.settles == "allowed"  # at more than forty years it is doubtful whatever is done
    assert [line.split(" (")[0] for line in work.incurable] == ["age"]
    names = {change.name for change in work.changes}
    assert names == {"running-board.none", "ladders.cut-A-end", "keep-off-roof-sign", "end-handhold"}


def test_a_weigh_date_is_restencilled_to_stand_in_the_wanted_year(dated: Dated) -> None:
    subject = model((), weighed="1962-05", built="1941-07")
    work = work_list(dated, subject, read_date("1957"))
    [change] = work.changes
    assert (change.verb, change.name, change.minutes) == ("restencil", "stencil.weighed", RESTENCIL_MIN)
    assert month("1953-12") <= month(change.to) <= month("1957-01")


def test_what_no_work_can_cure_is_said(dated: Dated, shows: Shows) -> None:
    work = work_list(dated, model(shows("car-kind.box-86", "aci-label")), read_date("1957"))
    assert work.settles == "nothing"
    assert [change.name for change in work.changes] == ["aci-label"]  # what work can mend is still said
    assert any("86 ft box car" in line for line in work.incurable)
    assert any("it is right from 1967-12" in line for line in work.ways_out)


def test_a_wrong_age_alone_is_not_called_right(dated: Dated) -> None:
    work = work_list(dated, model((), built="1920-01"), read_date("1985"))
    assert (work.settles, work.changes) == ("nothing", ())
    assert [line.split(" (")[0] for line in work.incurable] == ["age"]


MANY = (
    "brake.K", "truck.arch-bar", "bearing.roller", "reflectors.sheeting", "aci-label", "wheel-dot.white",
    "inspection-panel.three", "hand-brake.staff", "capacity-line", "aei-tag",
)  # fmt: skip


def test_many_faults_are_mended_one_by_one(dated: Dated, shows: Shows) -> None:
    # All their changes together are far more sets of changes than one search may look at.
    wanted = read_date("1957")
    subject = model(shows(*MANY), weighed="1970-03")
    work = work_list(dated, subject, wanted)
    assert not work.unfinished
    assert work.settles == "right"
    assert len(work.changes) >= 8
    assert wrong(dated, done(dated, subject, work), wanted) == []


def test_faults_no_rule_ties_together_cost_together_what_they_cost_alone(dated: Dated, shows: Shows) -> None:
    wanted = read_date("1957")
    ones = ["aci-label", "truck.arch-bar", "reflectors.sheeting"]
    alone = sum(work_list(dated, model(shows(name)), wanted).minutes for name in ones)
    assert work_list(dated, model(shows(*ones)), wanted).minutes == alone


def test_a_search_that_ends_early_says_so(dated: Dated, shows: Shows, monkeypatch: pytest.MonkeyPatch) -> None:
    subject, wanted = model(shows("aci-label", "truck.arch-bar")), read_date("1957")
    assert not work_list(dated, subject, wanted).unfinished
    monkeypatch.setattr("carwright.prototype.work.MOST", 1)
    work = work_list(dated, subject, wanted)
    assert work.unfinished
    assert work.settles == "nothing"


def test_another_way_is_offered(dated: Dated, shows: Shows) -> None:
    # The board is off: put one on, or change all that goes with its absence.
    subject = model(
        shows("running-board.none", "ladders.full", "hand-brake-height.high", "-keep-off-roof-sign", "-end-handhold"),
        built="1950-03",
    )
    work = work_list(dated, subject, read_date("1975"))
    first, [other] = (
        {change.name for change in work.changes},
        [{change.name for change in each} for each in work.others],
    )
    assert first == {"running-board.metal"}
    assert other == {"ladders.cut-A-end", "keep-off-roof-sign", "end-handhold"}
    assert work.minutes <= sum(change.minutes for change in work.others[0])


def test_a_car_right_already_needs_no_work(dated: Dated, shows: Shows) -> None:
    work = work_list(dated, model(shows("brake.AB", "running-board.wood")), read_date("1957"))
    assert (work.changes, work.minutes, work.settles, work.ways_out) == ((), 0.0, "right", ())


def test_another_use_may_let_it_stand(dated: Dated, shows: Shows) -> None:
    work = work_list(dated, model(shows("truck.arch-bar")), read_date("1945"))
    assert "as it is, it may stand in home road in the wanted months" in work.ways_out


def test_the_part_of_a_year_that_is_right_is_said(dated: Dated, shows: Shows) -> None:
    subject = model(shows("brake.K"))
    [each] = anachronisms(window_of(dated, subject), read_date("1953"), dated)
    assert each.judged == "doubtful"
    assert "so in a part of the wanted months" in each.words
    assert anachronisms(window_of(dated, subject), read_date("1953-06"), dated) == []


def test_anachronisms_come_wrong_first_and_strongest_first(dated: Dated, shows: Shows) -> None:
    subject = model(shows("reflectors.sheeting", "brake.AB", "aci-label", "truck.arch-bar", "bearing.roller"))
    found = anachronisms(window_of(dated, subject), read_date("1957"), dated)
    assert [each.name for each in found] == ["reflectors.sheeting", "truck.arch-bar", "aci-label", "bearing.roller"]
    assert [each.judged for each in found] == ["wrong", "wrong", "wrong", "doubtful"]
    assert all(each.rules for each in found)
