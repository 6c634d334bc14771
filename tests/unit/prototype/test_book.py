"""What dated rules say of one feature: soft and hard ends, rivals, conditions, scopes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from carwright.dates import iso, read_date, spans_words
from carwright.prototype.book import Bar, Book
from carwright.prototype.subject import State, Use
from carwright.tables.dated_model import Dated


def bar(
    dated: Dated, name: str, *, kind: str = "box", use: Use = "interchange", shown: str = "", built: str = ""
) -> Bar:
    state: State = "absent" if name.startswith("-") else "present"
    book = Book(dated, kind, use)
    return book.bar(name.lstrip("-"), state, frozenset(shown.split()), read_date(built) if built else None)


@pytest.mark.parametrize(
    ("name", "soft", "hard"),
    [
        # exact: banned from 1953-07-01, begun by memory only, so softly
        ("brake.K", "1910-12 to 1953-06", "until 1953-06"),
        # two readings of the circulars: the earlier is soft, the later hard
        ("truck.arch-bar", "1870-12 to 1940-06", "until 1941-07"),
        # tests from 1925, fitted from 1932 or 1933
        ("brake.AB", "from 1933-09", "from 1925-01"),
        # no removal date in the text read: practice only
        ("running-board.wood", "until 1981-12", "any month"),
        # a duty that nine cars in ten obeyed is soft, and over again by 1978
        ("-aci-label", "until 1966-12 and from 1978-12", "any month"),
        # a duty that ended
        ("-capacity-line", "until 1925-04 and from 1997-12", "until 1925-04 and from 1985-01"),
        # known only with low confidence
        ("placard.coloured", "from 1976-12", "any month"),
        ("bearing.plain", "until 1993-12", "until 1995-12"),
    ],
)
def test_soft_and_hard_months(dated: Dated, name: str, soft: str, hard: str) -> None:
    found = bar(dated, name)
    assert (spans_words(found.soft), spans_words(found.hard)) == (soft, hard)


def test_a_home_road_car_goes_by_no_interchange_rule(dated: Dated) -> None:
    assert spans_words(bar(dated, "brake.K", use="home road").hard) == "any month"
    assert spans_words(bar(dated, "advertising", kind="refrigerator").hard) == "until 1937-03"
    assert spans_words(bar(dated, "advertising", kind="refrigerator", use="home road").hard) == "any month"
    # company service has rules of its own
    assert spans_words(bar(dated, "-mw-letters").hard) == "any month"
    assert spans_words(bar(dated, "-mw-letters", use="company service").hard) == "until 1980-04"


def test_a_rule_for_certain_cars_binds_those(dated: Dated) -> None:
    assert spans_words(bar(dated, "brake.K", kind="tank").hard) == "until 1953-09"
    assert spans_words(bar(dated, "brake.K", kind="").hard) == "until 1953-06"
    tank = bar(dated, "-shelf-coupler.double", kind="tank", shown="pressure-tank")
    assert spans_words(tank.hard) == "until 1979-12"
    assert spans_words(bar(dated, "-shelf-coupler.double", kind="tank").hard) == "any month"
    assert spans_words(bar(dated, "-shelf-coupler.double", kind="box", shown="pressure-tank").hard) == "any month"


def test_a_rule_for_what_a_car_shows_goes_before_one_for_all(dated: Dated) -> None:
    assert spans_words(bar(dated, "running-board.none").hard) == "from 1966-10"
    tall = bar(dated, "running-board.none", shown="excess-height")
    assert (spans_words(tall.soft), spans_words(tall.hard)) == ("from 1964-11", "from 1964-11")
    assert spans_words(bar(dated, "bearing.plain", shown="hazardous-service").hard) == "until 1990-12"


def test_a_rule_may_be_lifted_by_what_a_car_shows(dated: Dated) -> None:
    plain = [limit.rule.id for limit in bar(dated, "running-board.wood").limits]
    hatched = [limit.rule.id for limit in bar(dated, "running-board.wood", shown="roof-hatches").limits]
    assert "running-board.wood/banned-on-new/1966-b" in plain
    assert "running-board.wood/banned-on-new/1966-b" not in hatched
    assert "running-board.wood/banned-on-new/1944" in hatched


def test_rivals_set_the_hard_end_together(dated: Dated) -> None:
    limits = {limit.rule.id: limit for limit in bar(dated, "truck.cast-itl").limits}
    assert iso(limits["truck.cast-itl/banned-on-all/1956"].soft) == "1955-12"
    assert iso(limits["truck.cast-itl/banned-on-all/1956"].hard) == "1956-12"
    alone = replace(dated, rules=tuple(replace(rule, rivals=()) for rule in dated.rules))
    assert spans_words(bar(alone, "truck.cast-itl").hard) == "until 1955-12"


def test_a_rule_for_older_cars_binds_for_sure_only_an_older_car(dated: Dated) -> None:
    shown = "running-board.none hand-brake-height.high"
    old = bar(dated, "-keep-off-roof-sign", shown=shown, built="1950")
    unknown = bar(dated, "-keep-off-roof-sign", shown=shown)
    new = bar(dated, "-keep-off-roof-sign", shown=shown, built="1970")
    assert spans_words(old.hard) == "until 1966-09"
    assert (spans_words(unknown.soft), spans_words(unknown.hard)) == ("until 1966-03", "any month")
    assert spans_words(new.soft) == "any month"


def test_rules_for_new_cars_limit_the_month_of_building(dated: Dated) -> None:
    [built] = [limit for limit in bar(dated, "-brake.AB").limits if limit.about == "built"]
    assert (iso(built.soft), iso(built.hard)) == ("1933-08", "1933-08")
    [painted] = [limit for limit in bar(dated, "aci-label").limits if limit.about == "painted"]
    assert (iso(painted.soft), painted.hard) == ("1978-12", None)


def test_a_quoted_date_that_is_not_preferred_sets_no_limit(dated: Dated) -> None:
    assert all(limit.rule.preferred for limit in bar(dated, "truss-rods").limits)
    assert spans_words(bar(dated, "truss-rods").hard) == "any month"


def test_rules_of_an_owner_bind_its_cars(dated: Dated) -> None:
    rule = replace(dated.rules[0], id="own", feature="brake.K", event="banned on all", earliest="1948-01-01",
                   latest="1948-01-01", owners=("Tansy River",), scope="all", confidence="high")  # fmt: skip
    wider = replace(dated, rules=(*dated.rules, rule))
    theirs = Book(wider, "box", "interchange", "tansy river").bar("brake.K", "present", frozenset())
    others = Book(wider, "box", "interchange", "Quillback").bar("brake.K", "present", frozenset())
    assert spans_words(theirs.hard) == "until 1947-12"
    assert spans_words(others.hard) == "until 1953-06"
