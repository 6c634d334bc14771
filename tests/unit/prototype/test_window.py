"""The model window: intersections, what bounds them, stencils, ages."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carwright.dates import Span, iso, month_of, read_date, spans_words
from carwright.prototype.subject import Shown, Subject
from carwright.prototype.window import interval_of, window_of
from carwright.tables import shipped
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import Dated
from carwright.words import kind_of

Shows = Callable[..., tuple[Shown, ...]]


def month(text: str) -> int:
    found = read_date(text).first
    assert found is not None
    return found


def stencils(**dates: str) -> dict[str, int]:
    return {f"stencil.{name}": month(text) for name, text in dates.items()}


def test_everything_shown_meets(dated: Dated, shows: Shows) -> None:
    window = window_of(dated, Subject("box", shown=shows("brake.AB", "truck.cast-itl", "running-board.wood")))
    assert (spans_words(window.soft), spans_words(window.hard)) == ("1933-09 to 1955-12", "1925 to 1956")
    sides = {(bound.side, bound.hard): (bound.name, bound.rule) for bound in window.bounds}
    assert sides["from", True] == ("brake.AB", "brake.AB/first-seen/1925")
    assert sides["until", True] == ("truck.cast-itl", "truck.cast-itl/banned-on-all/1957")
    assert sides["until", False] == ("truck.cast-itl", "truck.cast-itl/banned-on-all/1956")
    assert all("confidence" in bound.marks for bound in window.bounds)


def test_what_is_there_excludes_the_others_of_its_group(dated: Dated, shows: Shows) -> None:
    plain = window_of(dated, Subject("box", shown=shows("brake.K")))
    assert iso(plain.built_hard) == "1933-08"  # AB was required on new cars from 1933-09-01
    assert {stretch.name for stretch in plain.stretches if stretch.implied} == {"brake.AB"}


@pytest.mark.parametrize(
    ("feature", "built"),
    [("coupler-type.E", "1950-03"), ("coupler-type.F", "1960-03"), ("inspection-panel.three", "1976-03")],
)
def test_a_newer_feature_serves_for_an_older_duty(dated: Dated, shows: Shows, feature: str, built: str) -> None:
    window = window_of(dated, Subject("box", shown=shows(feature), stencils=stencils(built=built)))
    assert window.hard != ()
    assert all(not stretch.broken for stretch in window.stretches)


def test_any_feature_of_a_group_serves_for_a_duty_of_the_group(dated: Dated, shows: Shows) -> None:
    panel = window_of(dated, Subject("box", shown=shows("inspection-panel.two")))
    assert spans_words(panel.hard) == "from 1974-01"
    none = window_of(dated, Subject("box", shown=shows("-inspection-panel")))
    assert spans_words(none.hard) == "until 1979-12 and from 2016-01"


def test_a_stencil_older_than_the_car_has_no_month(dated: Dated) -> None:
    window = window_of(dated, Subject("box", stencils=stencils(built="1926-05", weighed="1925-03")))
    assert window.hard == ()
    [weighed] = [stretch for stretch in window.stretches if stretch.name == "stencil.weighed"]
    assert "lies before the car was built" in weighed.why[0]


def test_features_that_cannot_meet_leave_no_month(dated: Dated, shows: Shows) -> None:
    # Plain bearings went by 1995 at the latest, sheeting came in 2005-11.
    window = window_of(dated, Subject("box", shown=shows("bearing.plain", "reflectors.sheeting")))
    assert window.hard == ()
    assert window.soft == ()
    assert window.earliest is window.latest_hard is window.earliest_soft is window.latest_soft is None


def test_a_car_built_too_late_for_what_it_shows_has_no_month(dated: Dated, shows: Shows) -> None:
    late = window_of(dated, Subject("box", shown=shows("brake.K"), stencils=stencils(built="1948-05")))
    assert late.hard == ()
    [broken] = [stretch for stretch in late.stretches if stretch.broken]
    assert broken.name == "brake.AB"
    for month_built, right in (
        ("1933-08", True),
        ("1933-09", False),
    ):  # the last month without AB, and the first with it
        edge = window_of(dated, Subject("box", shown=shows("brake.K"), stencils=stencils(built=month_built)))
        assert bool(edge.hard) is right
    early = window_of(dated, Subject("box", shown=shows("brake.K"), stencils=stencils(built="1928-05")))
    assert spans_words(early.hard) == "1928-05 to 1953-06"


def test_a_rebuilt_car_goes_by_its_rebuilding(dated: Dated, shows: Shows) -> None:
    subject = Subject("box", shown=shows("brake.K"), stencils=stencils(built="1928-05", rebuilt="1940-02"))
    assert window_of(dated, subject).hard == ()  # AB was required on rebuilt cars from 1937-08-01


def test_paint_newer_than_what_it_shows_is_doubtful(dated: Dated, shows: Shows) -> None:
    subject = Subject("box", shown=shows("aci-label"), stencils=stencils(built="1960-03", repainted="1984-02"))
    window = window_of(dated, subject)
    assert window.soft == ()
    assert spans_words(window.hard) == "1984-02 to 2010-03"


@pytest.mark.parametrize(
    ("kind", "dates", "shown", "soft"),
    [
        ("box", {"weighed": "1955-03"}, "", "1955-03 to 1959-03"),  # 48 months
        ("box", {"weighed": "1955-03", "built": "1955-03"}, "", "1955-03 to 1957-09"),  # 30 when new
        ("box", {"weighed": "1955-03"}, "new-mark", "1955-03 to 1957-09"),
        ("flat", {"weighed": "1955-03"}, "", "1955-03 to 1957-09"),  # only the undated 30 months bind
        ("box", {"tested": "2004-06"}, "", "2004-06 to 2009-06"),
        ("box", {"tested": "1990-06"}, "", "from 1990-06"),  # before any rule
        ("box", {"repainted": "1961-06"}, "", "from 1961-06"),
    ],
)
def test_a_stencil_bounds_both_sides(
    dated: Dated, shows: Shows, kind: str, dates: dict[str, str], shown: str, soft: str
) -> None:
    window = window_of(dated, Subject(kind, shown=shows(*shown.split()), stencils=stencils(**dates)))
    assert spans_words(window.soft) == soft
    assert window.hard[0].first == max(month(text) for text in dates.values())


def test_the_rule_for_the_kind_of_car_goes_before_the_general_one(dated: Dated) -> None:
    interval = interval_of(dated, "stencil.weighed", "box", month_of(1955, 3))
    assert interval is not None
    assert interval.id == "stencil.weighed/interval/1949"
    older = interval_of(dated, "stencil.weighed", "box", month_of(1940, 3))
    assert older is not None
    assert older.id == "stencil.weighed/interval/steel"


@pytest.mark.parametrize(
    ("built", "soft", "hard"),
    [("1942-05", "1982-05", "1992-05"), ("1980-05", "2030-05", "2045-05"), ("1920-05", "1974-06", "1974-06")],
)
def test_a_car_may_be_so_old(dated: Dated, built: str, soft: str, hard: str) -> None:
    window = window_of(dated, Subject("box", stencils=stencils(built=built)))
    assert (iso(window.latest_soft), iso(window.latest_hard)) == (soft, hard)
    home = window_of(dated, Subject("box", use="home road", stencils=stencils(built=built)))
    assert home.latest_hard is None


@pytest.mark.parametrize(
    ("first", "last", "soft", "hard"),
    [("1974-06", "1974-08", "2014-06", "2039-08"), ("1974-01", "1974-06", "2014-01", "2024-06")],
)
def test_a_car_built_about_the_time_the_age_rule_changed_goes_by_both(
    dated: Dated, first: str, last: str, soft: str, hard: str
) -> None:
    window = window_of(dated, Subject("box", built=Span(month(first), month(last))))
    assert (iso(window.latest_soft), iso(window.latest_hard)) == (soft, hard)


def test_what_was_hardly_seen_rules_nothing_out_for_sure(dated: Dated) -> None:
    for trust, sure in ((0.49, False), (0.5, True)):
        window = window_of(dated, Subject("box", shown=(Shown("reflectors.sheeting", "present", trust),)))
        assert (window.earliest is not None) is sure
        assert window.earliest_soft is not None


def test_a_span_of_building_begins_softly_and_hard(dated: Dated) -> None:
    window = window_of(dated, Subject("box", built=Span(month("1941-01"), month("1943-12"))))
    assert (iso(window.earliest), iso(window.earliest_soft)) == ("1941-01", "1943-12")


def test_without_a_kind_of_car_it_says_what_binds_nothing(dated: Dated, shows: Shows) -> None:
    [note] = window_of(dated, Subject("", shown=shows("running-board.wood"))).notes
    assert "rules for certain kinds bind nothing" in note
    assert window_of(dated, Subject("box", shown=shows("running-board.wood"))).notes == ()


@pytest.mark.parametrize(
    ("words", "kind"),
    [("boxcar", "box"), ("Covered hopper, two-bay", "covered hopper"), ("reefer", "refrigerator"), ("tank car", "tank"),
     ("four-wheel van", ""), ("stock car", "stock"), ("way car", "caboose"), ("", "")],
)  # fmt: skip
def test_kinds_of_car_by_the_words_of_a_sheet(words: str, kind: str) -> None:
    assert kind_of(words) == kind


names = st.sampled_from(sorted(dated_of(shipped()).features))


@settings(max_examples=150, deadline=None)
@given(st.lists(names, max_size=8, unique_by=lambda name: name.partition(".")[0]), st.integers(1900, 2020))
def test_the_window_is_what_every_stretch_allows(features: list[str], year: int) -> None:
    subject = Subject("box", shown=tuple(Shown(name, "present") for name in features))
    window = window_of(dated_of(shipped()), subject)
    for probe in range(month_of(year, 1), month_of(year, 12) + 1):
        for spans, parts in (
            (window.soft, [each.soft for each in window.stretches]),
            (window.hard, [each.hard for each in window.stretches]),
        ):
            wanted = all(any(span.holds(probe) for span in part) for part in parts)
            assert any(span.holds(probe) for span in spans) == wanted
        if any(span.holds(probe) for span in window.soft):
            assert any(span.holds(probe) for span in window.hard)
