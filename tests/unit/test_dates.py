"""Dates in words: as wide as the words allow, and never a month nobody wrote."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carwright.dates import (
    ALWAYS,
    Span,
    check_day,
    first_allowed,
    iso,
    last_allowed,
    month_of,
    overlap,
    read_date,
    spans_words,
)
from carwright.errors import DateError


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1957", "1957"),
        ("1957-06", "1957-06"),
        ("1957-06-14", "1957-06"),
        ("June 1957", "1957-06"),
        ("Sept. 1957", "1957-09"),
        ("14 Jun 1957", "1957-06"),
        ("summer 1961", "1961-06 to 1961-08"),
        ("Winter 1961", "1960-12 to 1962-02"),
        ("1950s", "1950 to 1959"),
        ("late 1950s", "1955 to 1959"),
        ("about 1957", "1955 to 1959"),
        ("c. 1957", "1955 to 1959"),
        ("before 1960", "until 1959-12"),
        ("after 1948", "from 1949-01"),
        ("since 1948-03", "from 1948-03"),
        ("by 1950-03", "until 1950-03"),
        ("1950..1955", "1950 to 1955"),
        ("1950-06 to 1951-02", "1950-06 to 1951-02"),
        ("from 1950 to 1955", "1950 to 1955"),
        ("October 1950 to October 1955", "1950-10 to 1955-10"),
        ("October 1950..1955", "1950-10 to 1955-12"),
        ("  circa   June 1957 ", "1955-06 to 1959-06"),
    ],
)
def test_a_date_is_as_wide_as_its_words(text: str, words: str) -> None:
    assert read_date(text).words() == words


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1957-13", "there is no month 13"),
        ("1957-02-30", "there is no such day"),
        ("1955..1950", "its first date must come before its last"),
        ("6-57", "expected a date such as 1957"),
        ("yesterday", "expected a date such as 1957"),
        ("3000", "expected a year from 1800 to 2100"),
        ("before after 1950", "before goes with a year or a month"),
        ("about since 1950", "about goes with a year or a month"),
        ("", "expected a date such as 1957"),
        ("c." * 3000 + "1950", "longer than 60 characters"),
    ],
)
def test_what_is_no_date_says_what_was_expected(text: str, why: str) -> None:
    with pytest.raises(DateError, match=why):
        read_date(text)


@given(st.dates(dt.date(1850, 1, 1), dt.date(2090, 12, 31)))
def test_every_day_lies_in_its_month(day: dt.date) -> None:
    span = read_date(day.isoformat())
    assert span == read_date(day.strftime("%Y-%m")) == read_date(f"{day.day} {day:%B} {day.year}")
    assert iso(span.first) == day.strftime("%Y-%m")
    assert read_date(str(day.year)).covers(span)


def test_a_ban_from_a_first_of_month_ends_the_month_before() -> None:
    assert iso(last_allowed("1953-07-01")) == "1953-06"
    assert iso(last_allowed("1966-10-15")) == "1966-10"
    assert iso(first_allowed("1934-10-12")) == "1934-10"


@pytest.mark.parametrize("text", ["1953-02-30", "1953-7-1", "1953", 1953])
def test_a_table_wants_whole_days(text: object) -> None:
    with pytest.raises(DateError):
        check_day(text)


spans = st.builds(
    lambda low, length, open_low, open_high: Span(None if open_low else low, None if open_high else low + length),
    st.integers(0, 50), st.integers(0, 30), st.booleans(), st.booleans(),
)  # fmt: skip


@given(st.lists(spans, max_size=3), st.lists(spans, max_size=3))
def test_an_overlap_holds_what_both_hold(one: list[Span], other: list[Span]) -> None:
    both = overlap(one, other)
    for month in range(-5, 90):
        wanted = any(span.holds(month) for span in one) and any(span.holds(month) for span in other)
        assert any(span.holds(month) for span in both) == wanted


def test_words_of_spans() -> None:
    assert ALWAYS.words() == "any month"
    assert spans_words(()) == "never"
    assert (
        spans_words((Span(None, month_of(1949, 12)), Span(month_of(1985, 1), None))) == "until 1949-12 and from 1985-01"
    )
    assert Span(None, 5).covers(Span(2, 5))
    assert not Span(3, 5).covers(Span(2, 5))
    assert not Span(None, 5).covers(ALWAYS)
