"""Dating against a general Bayesian library and against simple cases worked by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial

import lea
import numpy as np
import pytest

from carwright.dates import Span, iso, month_of, read_date
from carwright.prototype.evidence import Claim, Dating, Piece
from carwright.prototype.posterior import FALSE_PRIOR, FALSE_TIMES, Dater, date_piece
from carwright.prototype.shares import Curves, GroupShares
from carwright.prototype.subject import Shown, Subject
from carwright.tables.dated_model import Dated

Shows = Callable[..., tuple[Shown, ...]]


def month(text: str) -> int:
    return read_date(text).first or 0


def short(dated: Dated, first: str, last: str) -> Dated:
    return replace(dated, weights=replace(dated.weights, grid=month(first), horizon=month(last)))


def photo(
    shown: tuple[Shown, ...] = (), *, kind: str = "box", claims: tuple[Claim, ...] = (), **stencils: str
) -> Piece:
    dates = tuple(Dating(f"stencil.{name}", month(text)) for name, text in stencils.items())
    return Piece("picture", "photo", Subject(kind, shown=shown), dates, claims)


def _seen(dater: Dater, shares: GroupShares, place: int, hit: float, pair: tuple[int, int], times: float) -> float:
    """Chance to see a feature on a car built and pictured in two months."""
    row = int(np.searchsorted(shares.breaks, pair[0], side="right"))
    there = float(shares.shares[row, place, pair[1] - int(dater.months[0])])
    return there * hit + (1 - there) * min(dater.weights.false_seen * times, 0.5)


def by_library(dated: Dated, piece: Piece) -> dict[int, float]:
    """The same posterior by Lea, which enumerates the joint distribution of building, picture, states and sightings."""
    dater = Dater(dated)
    months = [int(each) for each in dater.months]
    alive = np.diff(dater._living, prepend=0.0)
    ages = {(built, seen): float(alive[seen - built]) for built in months for seen in months if seen >= built}
    when = lea.pmf(ages)
    picture = when.map(lambda pair: pair[1])
    curves = Curves(dater.curves(piece)._book, dater.months)
    false = lea.pmf(dict(zip(FALSE_TIMES, FALSE_PRIOR, strict=True)))
    evidence = []
    for each in piece.subject.shown:
        group = dated.group_of[each.feature]
        shares = curves.group(group, piece.subject.present())

        chance = partial(_seen, dater, shares, shares.features.index(each.feature), dated.weights.seen(group.seen))
        both = lea.joint(when, false)
        seen = both.switch({(pair, times): lea.event(chance(pair, times)) for pair in ages for times in FALSE_TIMES})
        evidence.append(seen if each.state == "present" else ~seen)
    found = picture.given(*evidence) if evidence else picture
    return {int(value): float(p) for value, p in found.pmf_dict().items()}


@pytest.mark.parametrize(
    "features",
    ["brake.AB", "brake.AB -aci-label", "running-board.none reflectors.sheeting", "-reflectors.sheeting bearing.plain"],
)
def test_the_posterior_is_that_of_a_general_library(dated: Dated, shows: Shows, features: str) -> None:
    # Lea 4 (probabilistic programming by exact enumeration), on a grid of four years
    own = short(
        dated, "2004-01" if "reflect" in features else "1932-01", "2007-12" if "reflect" in features else "1935-12"
    )
    piece = photo(shows(*features.split()))
    posterior = Dater(own).posterior(piece)
    other = by_library(own, piece)
    for value, mass in zip(posterior.months, posterior.mass, strict=True):
        assert other.get(int(value), 0.0) == pytest.approx(float(mass), abs=1e-12)


def test_two_claims_by_hand(dated: Dated) -> None:
    # Six months, no more: a claim that is true with trust τ, else any month. Exact fractions.
    own = short(dated, "1950-01", "1950-06")
    own = replace(own, weights=replace(own.weights, near_part=0.0))
    early = Claim("taken", Span(month("1950-01"), month("1950-02")), 0.5, "early", "one")
    late = Claim("taken", Span(month("1950-02"), month("1950-06")), 0.8, "late", "other")
    dater = Dater(own)
    dater._living = np.arange(1.0, 7.0)  # every month of life alike: prior weight of month k is k (built in any before)
    mass = dater.posterior(photo(claims=(early, late))).mass
    weights = []
    for k in range(1, 7):
        first = Fraction(1, 2) * (k <= 2) + Fraction(1, 2) * Fraction(2, 6)
        second = Fraction(8, 10) * (k >= 2) + Fraction(2, 10) * Fraction(5, 6)
        weights.append(k * first * second)
    total = sum(weights, Fraction(0))
    assert mass == pytest.approx([float(weight / total) for weight in weights], abs=1e-14)


def test_a_legible_stencil_is_a_wall_and_then_a_slope(dated: Dated) -> None:
    posterior, _ = date_piece(dated, photo(weighed="1955-03"))
    assert posterior.quantile(1e-9) == month("1955-03")
    span, mass = posterior.interval(0.95)
    assert span.last is not None
    assert month("1958-10") < span.last < month("1963-01")
    assert mass >= 0.95
    doubtful = Piece("x", "photo", Subject("box"), (Dating("stencil.weighed", month("1955-03"), 0.8),))
    wide, _ = date_piece(dated, doubtful)
    assert wide.quantile(0.025) < month("1955-03")


def test_not_visible_tells_nothing_and_absent_tells_a_little(dated: Dated, shows: Shows) -> None:
    base = photo(shows("running-board.wood"), built="1942-05")
    hidden = replace(base, hidden=("aci-label",))
    absent = replace(base, subject=replace(base.subject, shown=shows("running-board.wood", "-aci-label")))
    assert Dater(dated).posterior(hidden).mass == pytest.approx(Dater(dated).posterior(base).mass)
    late = month("1968-06")

    def after(piece: Piece) -> float:
        found = Dater(dated).posterior(piece)
        return float(found.mass[found.months > late].sum())

    assert 0 < after(absent) < after(base)


def test_a_picture_is_no_later_than_the_day_it_was_looked_at(dated: Dated, shows: Shows) -> None:
    piece = replace(photo(shows("reflectors.sheeting")), until=month("2010-05"))
    found = Dater(dated).posterior(piece)
    assert found.quantile(1.0) <= month("2010-05")


def test_copied_claims_count_once(dated: Dated) -> None:
    one = Claim("taken", read_date("1957"), 0.6, "1957", "the magazine")
    copies = tuple(replace(one, source=f"copy {index}", root="the magazine", trust=0.5) for index in range(5))
    plain = Dater(dated).posterior(photo(claims=(one,)))
    copied = Dater(dated).posterior(photo(claims=(one, *copies)))
    assert copied.mass == pytest.approx(plain.mass)
    witnesses = tuple(replace(one, source=f"witness {index}", trust=0.5) for index in range(5))
    assert Dater(dated).posterior(photo(claims=(one, *witnesses))).interval(0.9)[1] > plain.interval(0.9)[1] - 1e-9
    assert Dater(dated).posterior(photo(claims=(one, *witnesses))).mass.max() > plain.mass.max()


def test_what_is_sure_and_impossible_leaves_no_month(dated: Dated) -> None:
    certain = Claim("taken", read_date("1950"), 1.0, "1950", "the negative")
    posterior, tellings = date_piece(dated, photo(claims=(certain,), weighed="1955-03"))
    assert posterior.reason == "no month is left: what is sure contradicts itself"
    assert tellings == []
    assert posterior.mass.sum() == 0.0


def test_leaving_one_out_shows_what_speaks_loudest(dated: Dated, shows: Shows) -> None:
    piece = photo(shows("brake.AB", "running-board.wood", "capacity-line"), weighed="1955-03", built="1942-05")
    posterior, tellings = date_piece(dated, piece)
    assert tellings[0].label == "weigh date 1955-03"
    assert [each.bits for each in tellings] == sorted((each.bits for each in tellings), reverse=True)
    dater = Dater(dated)
    without = dater.posterior(piece, [each for each in dater.observations(piece) if each.label == "weigh date 1955-03"])
    assert (tellings[0].p10, tellings[0].p90) == (without.quantile(0.1), without.quantile(0.9))
    inside = posterior.mass > 0
    bits = float(np.sum(posterior.mass[inside] * np.log2(posterior.mass[inside] / without.mass[inside])))
    assert tellings[0].bits == pytest.approx(bits)


def test_a_sighting_that_does_not_go_with_the_rest_is_named(dated: Dated, shows: Shows) -> None:
    odd = photo(shows("brake.K", "truck.arch-bar", "hand-brake.staff", "reflectors.sheeting"), weighed="1934-02")
    posterior, _ = date_piece(dated, odd)
    [warning] = posterior.warnings
    assert warning.startswith("reflective sheeting")
    assert iso(posterior.quantile(0.9)) < "1945-01"


def test_more_false_sightings_widen_the_interval(dated: Dated, shows: Shows) -> None:
    clean = photo(shows("brake.AB", "bearing.plain", "running-board.metal", "aci-label", "capacity-line"))
    spoilt = photo(shows("brake.AB", "bearing.plain", "running-board.metal", "aci-label", "capacity-line",
                         "truck.arch-bar", "hand-brake.staff"))  # fmt: skip

    def width(piece: Piece) -> int:
        span, _ = Dater(dated).posterior(piece).interval(0.95)
        assert span.first is not None
        assert span.last is not None
        return span.last - span.first

    assert width(spoilt) > width(clean)


def test_a_trusted_sighting_is_a_hard_one(dated: Dated) -> None:
    sure = photo((Shown("reflectors.sheeting", "present", 0.999999),))
    posterior = Dater(dated).posterior(sure)
    assert posterior.mass[posterior.months < month_of(2005, 11)].sum() < 0.01
    doubted = Dater(dated).posterior(photo((Shown("reflectors.sheeting", "present", 0.5),)))
    assert doubted.mass[doubted.months < month_of(2005, 11)].sum() > 0.5


def test_an_interval_never_holds_less_than_asked(dated: Dated, shows: Shows) -> None:
    posterior = Dater(dated).posterior(photo(shows("brake.AB", "bearing.plain"), weighed="1955-03"))
    for p in (0.5, 0.8, 0.9, 0.95, 0.99):
        span, mass = posterior.interval(p)
        inside = (posterior.months >= (span.first or 0)) & (posterior.months <= (span.last or 0))
        assert mass == pytest.approx(float(posterior.mass[inside].sum()))
        assert mass >= p


def test_a_claim_of_last_sight_is_an_upper_bound(dated: Dated, shows: Shows) -> None:
    gone = Claim("last seen", read_date("1961"), 1.0, "1961", "the scrap list")
    posterior = Dater(dated).posterior(photo(shows("brake.AB"), claims=(gone,)))
    assert posterior.quantile(1.0) == month("1961-12")


def test_claims_of_building_move_the_picture(dated: Dated, shows: Shows) -> None:
    built = Claim("built", read_date("1950"), 1.0, "1950", "builder list")
    posterior = Dater(dated).posterior(photo(shows("brake.AB"), claims=(built,)))
    assert posterior.quantile(1e-9) >= month("1950-01")
    two = Claim("built", read_date("1948..1951"), 0.7, "1948..1951", "roster")
    both = Dater(dated).posterior(photo(shows("brake.AB"), claims=(built, two)))
    assert both.mass == pytest.approx(posterior.mass, abs=1e-9)  # the sure claim lies within the other
