"""Dates against the texts they cite, and interval and diagnosis reasoning against textbook cases."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from carwright.dates import Span
from carwright.prototype.conflicts import hitting_sets
from carwright.prototype.fidelity import through_origin
from carwright.publish.era import model_size
from carwright.tables import shipped
from carwright.tables.dated import dated_of

DATED = dated_of(shipped())
RULES = {rule.id: rule for rule in DATED.rules}


@pytest.mark.parametrize(
    ("rule", "earliest", "latest", "source"),
    [
        # 49 CFR 224.107: sheeting from 2005-11-28, on new cars from 2006-01-26, on all cars from 2015-11-28
        ("reflectors.sheeting/permitted/2005", "2005-11-28", "2005-11-28", "fr2005-oct"),
        ("reflectors.sheeting/required-on-new/2006", "2006-01-26", "2006-01-26", "cfr-224-107"),
        ("reflectors.sheeting/required-on-all/2015", "2015-11-28", "2015-11-28", "cfr-224-107"),
        # 49 CFR 231.27, house cars without roof hatches: in service by 1966-10-01, built by 1966-04-01
        ("running-board.wood/banned-on-new/1966-b", "1966-10-01", "1966-10-01", "cfr-231-27"),
        ("hand-brake-height.low/required-on-new/1966", "1966-10-01", "1966-10-01", "cfr-231-27"),
        ("end-platform/required-on-new/1966", "1966-10-01", "1966-10-01", "cfr-231-27"),
        ("ladders.cut-A-end/required-on-all/1966", "1966-04-01", "1966-10-01", "cfr-231-27"),
        # 49 CFR 231.24 and its footnote (40 FR 34347): very tall house cars
        ("running-board.none/permitted/1964", "1964-11-23", "1964-11-23", "cfr-231-24"),
        ("height-sign.plain/required-on-new/1976", "1976-01-01", "1976-01-01", "cfr-231-24"),
        # 49 CFR 231.28: with roof hatches the board stays
        ("running-board.none/banned-on-new/1966", "1966-10-01", "1966-10-01", "cfr-231-28"),
        # 49 CFR 215 subpart D, 44 FR 77340 (1979-12-31), 45 FR 26711 (1980-04-21): marks, R, MW
        ("marks-7-inch/required-on-all/1979", "1979-12-31", "1980-04-21", "cfr-215-d"),
        ("mw-letters/required-on-all/1979", "1979-12-31", "1980-04-21", "cfr-215-d"),
        # 38 FR 32230 (1973-11-21), 40 FR 17574 (1975-04-21): first issue of part 215
        ("restricted-mark/permitted/1973", "1973-11-21", "1975-04-21", "cfr-215-1973"),
        # 49 CFR 215.121(d): door hangers
        ("door-hangers/required-on-all/1983", "1983-12-01", "1983-12-01", "cfr-215-121"),
        # 49 CFR 179.14 (54 FR 38797, 1989-09-20)
        ("shelf-coupler.double/required-on-all/1989", "1989-09-20", "2015-12-31", "cfr-179-14"),
        # 49 CFR 173.31: half of the fleet by half of 1996-2006
        ("head-shield/required-on-all/2006", "2006-07-01", "2006-07-01", "cfr-173-31"),
        ("tank-class.103-104/banned-on-new/2003", "2003-09-30", "2003-09-30", "cfr-173-31"),
        # 49 CFR 179.13 (35 FR 14217)
        ("tank-size.large/banned-on-new/1970", "1970-11-30", "1970-11-30", "cfr-179-13"),
        # ICC order of 1911-03-13, kept as the date of older cars in part 231
        ("safety-appliances/required-on-new/1911", "1911-07-01", "1911-07-01", "cfr-231-3"),
    ],
)
def test_regulation_dates_are_those_of_their_texts(rule: str, earliest: str, latest: str, source: str) -> None:
    found = RULES[rule]
    assert (found.earliest, found.latest) == (earliest, latest)
    assert source in found.sources
    assert found.strength == "regulation"


def test_the_air_test_interval_is_that_of_232_305() -> None:
    # 49 CFR 232.305 (66 FR 39688, 2001-08-01): 8 years after building or rebuilding, then 5 years
    [interval] = [each for each in DATED.intervals if each.id == "stencil.tested/interval/2001"]
    assert (interval.first, interval.later) == (8 * 12, 5 * 12)


def test_the_age_limit_is_that_of_interchange_rule_88() -> None:
    # AAR Rule 88, second-hand: 40 years (50 extended) built before 1974-07, 50 (65) from then on
    assert [(rule.years, rule.extended) for rule in DATED.ages] == [(40, 50), (50, 65)]


@pytest.mark.parametrize(
    ("country", "name", "first", "last"),
    [
        # NEM 806 D (2008), read in the sheet
        ("D", "I", 1835, 1920), ("D", "II", 1920, 1950), ("D", "IV", 1965, 1990), ("D", "IIb", 1925, 1937),
        # NEM 804 CH (2009), read in the sheet
        ("CH", "I", 1844, 1920),
        # NEM 810 F (2010) and NEM 808 DK (2015), read in the sheets
        ("F", "I", 1832, 1925), ("F", "IIa", 1926, 1933), ("DK", "II", 1920, 1941),
        # NEM 801 A (2008)
        ("A", "IIc", 1938, 1945),
    ],
)  # fmt: skip
def test_epochs_are_those_of_the_norms(country: str, name: str, first: int, last: int) -> None:
    [epoch] = [each for each in DATED.epochs if (each.country, each.name) == (country, name)]
    assert (epoch.first, epoch.last) == (first, last)


def test_german_epochs_overlap_by_design() -> None:
    years = {each.name: (each.first, each.last) for each in DATED.epochs if each.country == "D"}
    assert years["III"][1] > years["IV"][0]
    assert years["II"][1] > years["III"][0]


def test_letters_at_least_so_high_on_a_model() -> None:
    # 49 CFR 215.301: marks 7 in high; 7 in / 87.1 = 2.04 mm, and 231.27's 1.5 in letters 0.44 mm in 1:87.1
    assert model_size("letters 7 in at least", 87.1, "metric") == "letters 2.04 mm at least"
    assert model_size("letters 1.5 in", 87.1, "metric") == "letters 0.44 mm"
    assert model_size("20 in wide", 87.1, "metric") == "5.83 mm wide"  # 49 CFR 231.1


def relations() -> list[dict[str, str]]:
    with Path("tests/published/data/interval_relations.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", relations(), ids=lambda row: f"{row['i']}-{row['j']}")
def test_intervals_share_months_as_the_thirteen_relations_say(row: dict[str, str]) -> None:
    # Communications of the ACM 26(11):832-843 (1983); fifteen dated intervals, closed at both ends
    one = Span(int(row["lo_i"]), int(row["hi_i"]))
    other = Span(int(row["lo_j"]), int(row["hi_j"]))
    relation = row["relation"]
    assert one.meets(other) == (relation not in {"precedes", "preceded_by"})
    assert one.covers(other) == (relation in {"equals", "contains", "started_by", "finished_by"})
    assert other.covers(one) == (relation in {"equals", "during", "starts", "finishes"})
    if relation == "meets":
        assert one.common(other) == Span(one.last, one.last)


@pytest.mark.parametrize(
    ("sets", "hits"),
    [
        # the smallest case
        (["AB", "BC"], ["B", "AC"]),
        # Artificial Intelligence 32(1):57-95 (1987), one-bit full adder (memory): X1 = a, X2 = b, A2 = c, O1 = d
        (["ab", "acd"], ["a", "bc", "bd"]),
        # three multipliers and two adders (memory): M1 M2 M3 = m n o, A1 A2 = p q
        (["mnp", "mopq"], ["m", "p", "no", "nq"]),
    ],
)
def test_minimal_hitting_sets_are_those_of_the_textbooks(sets: list[str], hits: list[str]) -> None:
    found = hitting_sets([frozenset(map(ord, each)) for each in sets])
    assert {frozenset(map(chr, each)) for each in found} == {frozenset(each) for each in hits}


@pytest.mark.parametrize(
    ("x", "y", "slope", "deviation", "residual"),
    [
        # NIST StRD, linear regression, NoInt1 and NoInt2: certified values
        (range(60, 71), range(130, 141), 2.07438016528926, 0.165289256198347e-01, 3.56753034006338),
        ([4, 5, 6], [3, 4, 4], 0.727272727272727, 0.420827318078432e-01, 0.369274472937998),
    ],
)
def test_a_regression_through_the_origin_is_certified(
    x: list[int], y: list[int], slope: float, deviation: float, residual: float
) -> None:
    found, u, chi2 = through_origin([float(each) for each in x], [float(each) for each in y], [1.0] * len(list(x)))
    scatter = (chi2 / (len(list(x)) - 1)) ** 0.5
    assert found == pytest.approx(slope, rel=1e-13)
    assert scatter == pytest.approx(residual, rel=1e-12)
    assert u * scatter == pytest.approx(deviation, rel=1e-12)
