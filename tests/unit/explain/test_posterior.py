"""Shares, bounded unknowns and disagreements against cars drawn at random by a second implementation (second_stack).

Every comparison allows four standard errors of the Monte Carlo run it is made with, unless said.
"""

import functools
import math
from collections.abc import Iterator, Mapping

import numpy as np
import pytest
import second_stack as second
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import integrate, linalg, stats

import carwright as cw
from carwright.explain.model import Model, model_of
from carwright.explain.posterior import bounded, truncated_moments
from carwright.explain.records import Coupler, Explanation, Group
from carwright.inspection import words_of
from carwright.tables import shipped

DRAWS = 100_000
WEIGHED = 300_000
ENOUGH = 1000
ERRORS = 4.0
NOTHING = 1e-9
FRAME = ("frame.bow", "frame.kink")

STAND = second.Tool("stand", 0.08, 0.03)
FINE = second.Tool("fine stand", 0.012, 0.02)
DIAL = second.Tool("dial", 0.03, 0.02)
RULE = second.Tool("calliper", 0.02, 0.015)

PLAIN = second.Build()
KNOWN = second.Build(design={"wheel_diameter": 9.6, "box_height": 8.2, "bolster_stack": 3.1, "coupler_height": 9.85})
UNLIKE = second.Build(
    face={"A": 78.0, "B": 73.0},
    pivot={"A": 69.0, "B": 61.0},
    offset=2.5,
    body_length=160.0,
    design={"ride_height": 7.7},
)
UNEQUAL = second.Build(face=UNLIKE.face, pivot=UNLIKE.pivot, offset=-1.0, body_length=160.0, design=KNOWN.design)
ON_TRUCKS = second.Build(mount="truck", offset=-1.5, design={"wheel_diameter": 9.6})


def seen(
    what: str, at: str, *values: float, state: str = "", tool: second.Tool = FINE, turned: bool | None = None
) -> second.Seen:
    return second.Seen(what, at, values, tool, state, turned)


def heights(a: float, b: float, tool: second.Tool = FINE) -> tuple[second.Seen, second.Seen]:
    return seen("coupler.height", "A", a, tool=tool), seen("coupler.height", "B", b, tool=tool)


def lifted(a: float, b: float, tool: second.Tool = FINE) -> tuple[second.Seen, second.Seen]:
    return (
        seen("coupler.height", "A", a, state="lifted", tool=tool),
        seen("coupler.height", "B", b, state="lifted", tool=tool),
    )


LONG = second.Build(body_length=160.0)
NINE = (-70.0, -50.0, -35.0, -15.0, 0.0, 15.0, 35.0, 50.0, 70.0)
SCATTER = (0.004, -0.011, 0.006, 0.009, -0.008, 0.002, -0.005, 0.010, -0.007)
SHARP = second.Tool("sharp dial", 0.01, 0.02)


def line(stations: tuple[float, ...], bow: float, kink: float, at: float) -> second.Line:
    """A profile of a frame with this bow and this kink [mm]."""
    heights = [
        3 + bow * (x / PLAIN.a) ** 2 + kink * 2 * max(0.0, x - at) / PLAIN.a + error
        for x, error in zip(stations, SCATTER, strict=False)
    ]
    return second.Line(stations, tuple(heights), SHARP)


Case = tuple[second.Build, second.Story]
Pair = tuple[float, float]
Grid = NDArray[np.float64]
CASES: dict[str, Case] = {
    "heights": (PLAIN, heights(9.6, 9.95)),
    "heights of repeats": (PLAIN, (seen("coupler.height", "A", 9.6, 9.63, 9.58), seen("coupler.height", "B", 9.9))),
    "both high": (PLAIN, heights(10.6, 10.7)),
    "designed elsewhere": (KNOWN, heights(9.6, 9.95)),
    "one end": (PLAIN, heights(9.6, 9.95)[:1]),
    "lifted, droop near zero": (PLAIN, (*heights(9.6, 9.95), *lifted(9.605, 9.94))),
    "lifted below free": (PLAIN, (*heights(9.6, 9.95, STAND), *lifted(9.50, 9.83, STAND))),
    "wheels": (
        KNOWN,
        (
            *heights(9.7, 9.8),
            seen("wheel.diameter", "1", 9.42, 9.45, tool=RULE),
            seen("wheel.diameter", "2", 9.40, tool=RULE),
            seen("wheel.diameter", "4", 9.45, tool=RULE),
        ),
    ),
    "wheels of unknown design": (
        PLAIN,
        (
            *heights(9.7, 9.8),
            seen("wheel.diameter", "1", 9.42, tool=RULE),
            seen("wheel.diameter", "4", 9.35, tool=RULE),
        ),
    ),
    "profile of 3": (PLAIN, (*heights(9.7, 9.8), second.Line((-60.0, 0.0, 62.0), (3.31, 3.02, 3.36), DIAL))),
    "profile of 5": (
        UNLIKE,
        (
            *heights(10.2, 9.9),
            second.Line((-70.0, -30.0, 0.0, 35.0, 64.0), (3.31, 3.10, 3.02, 3.15, 3.36), DIAL),
        ),
    ),
    "all parts": (
        KNOWN,
        (
            *heights(9.7, 9.8),
            seen("box.height", "A", 8.1),
            seen("bolster.height", "A", 7.95),
            seen("bolster.height", "B", 7.85, tool=DIAL),
            seen("coupler.exchange", "B", 9.9),
            seen("frame.height", "A", 12.1),
            seen("frame.height", "B", 12.25),
            seen("shank.offset", "A", -0.05, tool=RULE),
            seen("coupler.droop", "B", 0.02, tool=RULE),
        ),
    ),
    "parts of unknown design": (
        UNLIKE,
        (
            *heights(9.7, 9.8),
            seen("box.height", "A", 8.1),
            seen("box.height", "B", 8.3),
            seen("bolster.height", "A", 7.95),
            seen("frame.height", "A", 12.1),
            seen("frame.height", "B", 12.25),
        ),
    ),
    "on trucks": (ON_TRUCKS, (*heights(9.7, 9.8), seen("wheel.diameter", "1", 9.42, tool=RULE))),
    "on trucks, boxes": (ON_TRUCKS, (*heights(9.7, 9.8), seen("box.height", "A", 8.1), seen("box.height", "B", 8.3))),
    "turned end for end": (
        PLAIN,
        (
            *heights(9.7, 9.9),
            seen("coupler.height", "A", 9.8, turned=True),
            seen("coupler.height", "B", 9.75, turned=True),
        ),
    ),
    "turned for a bolster": (
        KNOWN,
        (
            *heights(9.7, 9.9),
            seen("coupler.height", "A", 9.8, turned=True),
            seen("bolster.height", "B", 7.75, turned=True),
            seen("bolster.height", "A", 7.75, turned=False),
        ),
    ),
    "washer": (PLAIN, (*heights(9.6, 9.95), second.Done("washer", "A", 0.4), *heights(10.08, 9.9))),
    "straighten": (
        UNLIKE,
        (
            *heights(10.4, 10.3),
            second.Line((-60.0, 0.0, 62.0), (3.31, 2.92, 3.36), DIAL),
            second.Done("straighten"),
            *heights(9.98, 9.95),
        ),
    ),
    "exchange": (PLAIN, (*heights(9.6, 9.95), second.Done("exchange-couplers"), *heights(9.82, 9.68))),
    "exchange, one lifted": (
        PLAIN,
        (
            *heights(9.6, 9.95),
            seen("coupler.height", "A", 9.72, state="lifted"),
            second.Done("exchange-couplers"),
            *heights(9.62, 9.93),
        ),
    ),
    "replaced": (
        PLAIN,
        (*heights(9.6, 9.95), second.Done("replace-coupler", "A"), seen("coupler.height", "A", 9.9)),
    ),
    "both replaced": (
        PLAIN,
        (*heights(9.6, 9.95), second.Done("replace-coupler", "all"), *heights(9.75, 9.9)),
    ),
    "trucks replaced": (
        KNOWN,
        (
            *heights(9.6, 9.95),
            second.Done("replace-truck", "all"),
            *heights(10.0, 9.8),
            seen("bolster.height", "A", 8.0),
        ),
    ),
    "one truck replaced": (
        UNLIKE,
        (
            *heights(9.6, 9.95),
            second.Done("replace-truck", "B"),
            *heights(9.7, 10.1),
            seen("wheel.diameter", "3", 9.5, tool=RULE),
        ),
    ),
    "two instruments": (
        PLAIN,
        (*heights(9.7, 9.9), *heights(9.76, 9.83, STAND), seen("coupler.height", "A", 9.74, turned=True, tool=STAND)),
    ),
    "profile of nine names a bow": (LONG, (*heights(10.2, 10.1), line(NINE, 0.5, 0.0, 0.0))),
    "profile of nine names a kink": (LONG, (*heights(10.2, 10.1), line(NINE, 0.0, 0.14, 25.0))),
    "profile of nine, sharp kink off mid-car": (LONG, (*heights(10.2, 10.1), line(NINE, 0.0, 0.5, 35.0))),
    "profile of nine, kink at mid-car": (LONG, (*heights(10.2, 10.1), line(NINE, 0.0, 0.5, 0.0))),
    "both sides": (
        LONG,
        (
            *heights(10.2, 10.1),
            second.Line((-70.0, -30.0, 0.0, 20.0, 64.0), (3.31, 3.10, 3.02, 3.08, 3.36), DIAL, "left"),
            second.Line((-64.0, 0.0, 35.0, 64.0), (3.36, 3.08, 3.10, 3.29), DIAL, "right"),
        ),
    ),
    "nine, straightened, five": (
        LONG,
        (
            *heights(10.4, 10.3),
            line(NINE, 0.1, 0.5, 0.0),
            second.Done("straighten"),
            *heights(9.98, 9.95),
            line((-60.0, -20.0, 5.0, 30.0, 62.0), 0.08, -0.03, 15.0),
        ),
    ),
    "three stages": (
        PLAIN,
        (
            *heights(10.3, 10.25),
            second.Done("box-shim", "B", 0.25),
            seen("coupler.height", "B", 10.0),
            second.Done("dress-bolster", "A", 0.2),
            *heights(10.1, 10.05),
        ),
    ),
}


@functools.cache
def _explained(text: str) -> dict[int, Explanation]:
    return dict(cw.inspect(cw.read_sheet_text(text)).explanations)


def explained(case: Case) -> dict[int, Explanation]:
    return _explained(second.sheet(*case))


def model(build: second.Build, story: second.Story) -> Model:
    found = model_of(
        cw.read_sheet_text(second.sheet(build, story)).history,
        words_of(shipped()),
        designed=build.design.get("coupler_height", second.NOMINAL),
    )
    assert isinstance(found, Model)
    return found


Row = tuple[second.Share, float, float, float]


def rows(case: Case) -> Iterator[Row]:
    """Every share of every stage: what it is, mean, u and standard deviation before."""
    for stage, explanation in explained(case).items():
        assert explanation.couplers, explanation.reason
        for coupler in explanation.couplers:
            for share in coupler.shares:
                if not share.fixed:
                    yield (stage, coupler.at, share.cause, share.place), share.share, share.u, share.before


def off(name: str, ours: float, theirs: float, error: float) -> str | None:
    times = abs(ours - theirs) / (error + NOTHING / ERRORS)
    return f"{name}: {ours:.5f}, drawn {theirs:.5f} ± {error:.5f} ({times:.1f} errors)" if times > ERRORS else None


def compared(case: Case, found: dict[second.Share, second.Summary]) -> list[str]:
    wrong = []
    for key, mean, u, _ in rows(case):
        drawn = found[key]
        wrong.append(off(f"share {key}", mean, drawn.mean, drawn.mean_error))
        wrong.append(off(f"u {key}", u, drawn.sd, drawn.sd_error))
    return [each for each in wrong if each]


def instruments(case: Case, found: Mapping[second.Share, second.Summary]) -> Iterator[str]:
    """What calibration and bench add to a height's own free readings."""
    for stage, explanation in explained(case).items():
        for coupler in explanation.couplers:
            ours = next(share.share for share in coupler.shares if share.cause == "instrument")
            drawn = found[stage, coupler.at, "instrument", ""]
            wrong = off(f"instrument at {coupler.at}", ours, drawn.mean, drawn.mean_error)
            if wrong:
                yield wrong


def bends(case: Case) -> dict[second.Share, tuple[list[second.Share], Group]]:
    """The group that holds bow and kink: its key among the sums, its members, and what is said of it."""
    found: dict[second.Share, tuple[list[second.Share], Group]] = {}
    for stage, explanation in explained(case).items():
        for coupler in explanation.couplers:
            for group in coupler.groups:
                if set(FRAME) <= set(group.names):
                    parts = [name.partition("@") for name in group.names]
                    members = [(stage, coupler.at, cause, place) for cause, _, place in parts]
                    found[stage, coupler.at, "bend", ""] = members, group
    return found


@functools.cache
def told_of(name: str) -> second.Linear:
    """A case as matrices, with sums of the groups that hold bow and kink."""
    return second.linear(*CASES[name]).with_sums({key: members for key, (members, _) in bends(CASES[name]).items()})


@functools.cache
def drawn_of(name: str) -> tuple[dict[second.Share, second.Summary], int]:
    """Shares and sums of cars drawn after all readings."""
    return told_of(name).summarise(DRAWS, seed=7)


# --- shares against cars drawn at random -----------------------------------------------------------------------


@pytest.mark.parametrize("name", CASES)
def test_shares_are_those_of_cars_drawn_from_the_posterior(name: str) -> None:
    found, cars = drawn_of(name)
    assert cars > ENOUGH
    assert compared(CASES[name], found) == []
    assert list(instruments(CASES[name], found)) == []


@pytest.mark.parametrize("name", ["lifted below free", "heights", "washer"])
def test_shares_are_those_of_cars_drawn_blindly_and_weighed_by_their_readings(name: str) -> None:
    """No algebra at all: cars from the prior, each weighed by how likely it shows readings of a coarse stand."""
    build, story = CASES[name]
    coarse = second.Tool("coarse stand", 0.15, 0.05)
    story = tuple(
        second.Seen(each.what, each.at, each.values, coarse, each.state) if isinstance(each, second.Seen) else each
        for each in story
    )
    found, cars = second.weighed(build, story, WEIGHED, seed=11)
    assert cars > ENOUGH
    assert compared((build, story), found) == []


@pytest.mark.parametrize("name", CASES)
def test_spreads_before_any_reading_are_those_of_the_prior(name: str) -> None:
    told = told_of(name)
    found = {key: before for key, _, _, before in rows(CASES[name])}
    assert found == pytest.approx({key: told.sd_before(key) for key in found}, rel=1e-8)


@pytest.mark.parametrize("name", CASES)
def test_every_cause_that_moves_a_coupler_has_a_share_and_no_other(name: str) -> None:
    case = CASES[name]
    shown = {(stage, coupler.at) for stage, each in explained(case).items() for coupler in each.couplers}
    keys = [key for key in second.linear(*case).keys if key[:2] in shown and key[2] != "instrument"]
    assert {key for key, *_ in rows(case)} == set(keys)


@pytest.mark.parametrize("name", CASES)
def test_bow_and_kink_are_one_group_which_is_that_of_drawn_cars(name: str) -> None:
    """Measured is what readings cut to a quarter, so long as doubling all beliefs about the car leaves it (1.15²)."""
    case = CASES[name]
    groups = bends(case)
    if case[0].mount == "truck":
        assert groups == {}
        return
    assert len(groups) == sum(len(each.couplers) for each in explained(case).values())
    told, found, wrong = told_of(name), drawn_of(name)[0], []
    for key, (_, group) in groups.items():
        wrong.append(off(f"group {key}", group.share, found[key].mean, found[key].mean_error))
        wrong.append(off(f"u of group {key}", group.u, found[key].sd, found[key].sd_error))
        cut, doubt = found[key].sd / told.sd_before(key), told.sd_uncut(key, 2.0) / found[key].sd
        never = cut > 0.505 or doubt > 1.155 or second.off_centre(*case)
        surely = cut < 0.495 and doubt < 1.145 and not never
        assert surely or never, f"{key} is too near a bound to tell: {cut:.4f}, {doubt:.4f}"
        assert group.measured == surely, f"{key}: cut to {cut:.4f}, doubted {doubt:.4f}"
    assert [each for each in wrong if each] == []
    shares = [share for each in couplers(case) for share in each.shares if share.cause in FRAME]
    assert {share.basis for share in shares} == {"group"}


def test_every_bound_on_a_measured_bend_decides_in_some_case() -> None:
    """Else the test above could not tell one rule from another."""
    decided = set()
    for name, case in CASES.items():
        told = told_of(name)
        for key in bends(case):
            sd = told.sd_uncut(key, 1.0)
            rules = {
                "cut": sd > 0.5 * told.sd_before(key),
                "doubt": told.sd_uncut(key, 2.0) > 1.15 * sd,
                "place": second.off_centre(*case),
            }
            broken = [rule for rule, broke in rules.items() if broke]
            decided |= {broken[0] if broken else "none"} if len(broken) < 2 else set()
    assert decided >= {"doubt", "place", "none"}


@pytest.mark.parametrize("name", CASES)
def test_a_kink_off_mid_car_is_noted_where_lines_show_one(name: str) -> None:
    for each in explained(CASES[name]).values():
        assert each.kink_at == 0
        assert any("off mid-car" in note for note in each.notes) == second.off_centre(*CASES[name])


def test_lines_that_show_a_kink_off_mid_car_and_lines_that_do_not_are_both_tried() -> None:
    found = {name: second.off_centre(*CASES[name]) for name in CASES if "nine" in name}
    assert found["profile of nine names a kink"]
    assert not found["profile of nine names a bow"]
    assert found["profile of nine, sharp kink off mid-car"]
    assert not found["profile of nine, kink at mid-car"]


def test_a_profile_of_nine_stations_that_names_a_bow_leaves_no_wide_kink() -> None:
    """With bow, cubic and quartic free beside it the kink is still told to a third of its spread before."""
    (stage,) = explained(CASES["profile of nine names a bow"]).values()
    kink = next(share for share in stage.couplers[0].shares if share.cause == "frame.kink")
    bow = next(share for share in stage.couplers[0].shares if share.cause == "frame.bow")
    assert bow.u < bow.before / 4
    assert kink.u < kink.before / 3


def test_a_short_profile_before_hardly_moves_what_a_long_one_tells() -> None:
    """0.5 mm of kink at mid-car and no bow; a profile of three stations comes first."""
    three, nine = (line(stations, 0.0, 0.5, 0.0) for stations in ((-60.0, 0.0, 60.0), NINE))
    works = (second.Done("box-shim", "B", 0.2), seen("coupler.height", "B", 9.8), nine)
    alone = explained((LONG, (*heights(10.2, 10.0), *works)))[1]
    after = explained((LONG, (*heights(10.2, 10.0), three, *works)))[1]
    assert after.kink == pytest.approx(alone.kink, abs=0.02)
    assert after.bow == pytest.approx(alone.bow, abs=0.02)


# --- what adds up ----------------------------------------------------------------------------------------------


readings = st.floats(9.0, 11.0).map(lambda x: round(x, 3))


def couplers(case: Case) -> Iterator[Coupler]:
    for explanation in explained(case).values():
        yield from explanation.couplers


@pytest.mark.parametrize("name", CASES)
@settings(max_examples=12)
@given(data=st.data())
def test_shares_add_up_to_reading_less_nominal(name: str, data: st.DataObject) -> None:
    build, story = CASES[name]
    anew = tuple(
        second.Seen(each.what, each.at, (data.draw(readings),), each.tool, each.state, each.turned)
        if isinstance(each, second.Seen) and each.what in {"coupler.height", "coupler.exchange"}
        else each
        for each in story
    )
    first = {
        each.at: each for each in reversed(anew) if isinstance(each, second.Seen) and each.what == "coupler.height"
    }
    for coupler in couplers((build, anew)):
        by_cause = {share.cause: share for share in coupler.shares}
        assert math.fsum(share.share for share in coupler.shares) == pytest.approx(
            coupler.value - second.NOMINAL, abs=1e-9
        )
        assert coupler.nominal == pytest.approx(second.NOMINAL, abs=1e-9)
        designed = build.design.get("coupler_height", second.NOMINAL)
        assert by_cause["design"].share == pytest.approx(designed - second.NOMINAL, abs=1e-9)
        assert all(share.share <= 0 for share in coupler.shares if share.cause == "coupler.droop")
    if len(anew) == len(first):
        for coupler in couplers((build, anew)):
            assert coupler.value == pytest.approx(first[coupler.at].values[0], abs=1e-9)


@given(readings, readings, readings, readings)
def test_droop_never_lifts_a_head(free_a: float, free_b: float, lifted_a: float, lifted_b: float) -> None:
    case = PLAIN, (*heights(free_a, free_b), *lifted(lifted_a, lifted_b))
    droops = [share for each in couplers(case) for share in each.shares if share.cause == "coupler.droop"]
    assert len(droops) == 2
    assert all(share.share < 0 < share.u for share in droops)


# --- unknowns that cannot be negative --------------------------------------------------------------------------


def both_above_zero(mean: Pair, sd: Pair, correlation: float) -> list[float]:
    """Means, variances and covariance of two normals above zero, from a plain sum over a fine grid about the mode."""

    def log(x: Grid, y: Grid) -> Grid:
        p, q = (x - mean[0]) / sd[0], (y - mean[1]) / sd[1]
        found: Grid = -(p * p - 2 * correlation * p * q + q * q) / (2 * (1 - correlation**2))
        return found

    corner = [(mean[1] - correlation * sd[1] / sd[0] * mean[0]), (mean[0] - correlation * sd[0] / sd[1] * mean[1])]
    modes = [(max(0.0, mean[0]), max(0.0, mean[1])), (0.0, max(0.0, corner[0])), (max(0.0, corner[1]), 0.0)]
    mode = max(modes, key=lambda at: float(log(np.array(at[0]), np.array(at[1]))))
    p, q = ((at - m) / s for at, m, s in zip(mode, mean, sd, strict=True))
    steep = [(p - correlation * q) / (1 - correlation**2) / sd[0], (q - correlation * p) / (1 - correlation**2) / sd[1]]
    axes = []
    for at, s, fall in zip(mode, sd, steep, strict=True):
        reach = min(10 * s, 60 / fall) if fall > 1e-9 else 10 * s
        low, high = max(0.0, at - reach), at + reach
        axes.append(low + (high - low) * (np.arange(800) + 0.5) / 800)
    x, y = np.meshgrid(*axes)
    weight = log(x, y)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    at_x, at_y = float((weight * x).sum()), float((weight * y).sum())
    products = ((x - at_x) ** 2, (y - at_y) ** 2, (x - at_x) * (y - at_y))
    return [at_x, at_y, *(float((weight * each).sum()) for each in products)]


@pytest.mark.parametrize("correlation", [-0.8, -0.4, 0.0, 0.15, 0.6])
@pytest.mark.parametrize(
    "mean",
    [(0.06, 0.06), (0.1, -0.1), (-0.15, -0.1), (0.4, 0.02), (-0.3, 0.2), (-0.9, -0.1), (-2.0, -1.5), (-7.0, 0.1)],
)
def test_two_bounded_unknowns_are_exact_and_a_third_moves_with_them(mean: Pair, correlation: float) -> None:
    """However far below zero they were, up to 47 standard deviations; the third is 0.8 x - 0.5 y and its own."""
    sd = (0.15, 0.12)
    tied = correlation * sd[0] * sd[1]
    made = np.array([[1, 0, 0], [0, 1, 0], [0.8, -0.5, 1]])
    loose = np.array([[sd[0] ** 2, tied, 0], [tied, sd[1] ** 2, 0], [0, 0, 0.1**2]])
    after_mean, after = bounded(made @ np.array([*mean, 0.3]), made @ loose @ made.T, [0, 1])
    x, y, var_x, var_y, both = both_above_zero(mean, sd, correlation)
    share = 0.003  # of a standard deviation; the grid itself is good to 0.0005
    expected = made @ np.array([[var_x, both, 0], [both, var_y, 0], [0, 0, 0.1**2]]) @ made.T
    spread = np.sqrt(np.diag(expected))
    assert (after_mean - made @ np.array([x, y, 0.3])) / spread == pytest.approx([0, 0, 0], abs=share)
    assert after / np.outer(spread, spread) == pytest.approx(expected / np.outer(spread, spread), abs=2 * share)


def test_of_three_bounded_unknowns_the_two_most_correlated_are_exact_and_the_third_is_near() -> None:
    """The third hangs loosely on them: expectation propagation leaves it within 1 % of its spread."""
    sd = np.array([0.15, 0.12, 0.1])
    ties = np.array([[1, -0.7, 0.1], [-0.7, 1, 0.05], [0.1, 0.05, 1]])
    mean = np.array([0.02, -0.05, 0.04])
    after_mean, after = bounded(mean, ties * np.outer(sd, sd), [0, 1, 2])
    random = np.random.default_rng(4)
    cars = random.multivariate_normal(mean, ties * np.outer(sd, sd), size=1_000_000, method="cholesky")
    cars = cars[np.all(cars >= 0, axis=1)]
    assert len(cars) > ENOUGH
    assert after_mean == pytest.approx(cars.mean(axis=0), abs=0.01 * 0.1)
    assert np.sqrt(np.diag(after)) == pytest.approx(cars.std(axis=0), rel=0.02)


@pytest.mark.parametrize("mean", [-0.4, -0.05, 0.0, 0.05, 0.5])
def test_one_bounded_unknown_carries_what_hangs_on_it_exactly(mean: float) -> None:
    """The other unknown given the bounded one is normal, so its moments follow from those of scipy's truncnorm."""
    sd, tie, own = 0.15, 0.7, 0.1
    covariance = np.array([[sd**2, tie * sd**2], [tie * sd**2, tie**2 * sd**2 + own**2]])
    after_mean, after = bounded(np.array([mean, 1.0]), covariance, [0])
    cut_mean, cut = (float(each) for each in stats.truncnorm.stats(-mean / sd, np.inf, loc=mean, scale=sd))
    assert after_mean == pytest.approx([cut_mean, 1.0 + tie * (cut_mean - mean)], rel=1e-9)
    expected = [cut, tie * cut, tie * cut, tie**2 * cut + own**2]
    assert after.ravel() == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("mean", [-4.0, -2.5, -1.0, -0.1, 0.0, 0.3, 1.0, 4.0, 20.0])
def test_moments_of_a_cut_normal_are_those_of_scipy(mean: float) -> None:
    scale = 0.37
    found = truncated_moments(mean * scale, scale**2)
    expected = stats.truncnorm.stats(-mean, np.inf, loc=mean * scale, scale=scale)
    assert found == pytest.approx([float(each) for each in expected], rel=1e-9)


@functools.cache
def tail_moments(alpha: float) -> tuple[float, float]:
    """Mean and variance of a standard normal beyond alpha, less alpha, by quadrature of its tail in steps 1/alpha."""

    def moment(power: int, about: float) -> float:
        def weight(v: float) -> float:
            return (v - about) ** power * math.exp(-v - v * v / (2 * alpha**2))

        value, _ = integrate.quad(weight, 0, 60, epsabs=0, epsrel=1e-12, limit=400)
        return float(value)

    whole = moment(0, 0)
    mean = moment(1, 0) / whole
    return mean / alpha, moment(2, mean) / whole / alpha**2


@pytest.mark.parametrize("alpha", [5.0, 10.0, 19.9, 20.1, 25.0, 29.9, 30.1, 35.0, 60.0, 300.0, 3e3, 3e4, 1e6])
def test_moments_far_in_the_tail(alpha: float) -> None:
    """The quadrature agrees with truncnorm where that still works; beyond, the tail is exponential."""
    mean, variance = tail_moments(alpha)
    if alpha <= 30:
        theirs = stats.truncnorm.stats(alpha, np.inf, loc=-alpha)
        assert [mean, variance] == pytest.approx([float(each) for each in theirs], rel=1e-6)
    found = truncated_moments(-alpha, 1.0)
    # a mean so far out is a small difference of numbers near alpha; series of three terms leave out the fourth
    assert found[0] == pytest.approx(mean, rel=max(1e-9, 80 / alpha**6), abs=1e-14 * alpha)
    assert found[1] == pytest.approx(variance, rel=max(1e-8, 550 / alpha**6))


# --- readings that disagree ------------------------------------------------------------------------------------


CHAIN: second.Story = (
    *heights(9.9, 9.9, STAND),
    *lifted(9.9, 9.9, STAND),
    seen("box.height", "A", 8.2, tool=STAND),
    seen("bolster.height", "B", 7.9, tool=DIAL),
    seen("wheel.diameter", "1", 9.6, tool=RULE),
    seen("wheel.diameter", "3", 9.6, tool=RULE),
    seen("coupler.exchange", "A", 9.9, turned=True, tool=STAND),
    second.Line((-70.0, -30.0, 0.0, 35.0, 64.0), (3.0,) * 5, DIAL),
    second.Done("washer", "A", 0.3),
    *heights(9.9, 9.9, STAND),
    second.Done("replace-coupler", "B"),
    seen("coupler.height", "B", 9.9, tool=STAND),
)


def misfit(build: second.Build, story: second.Story) -> tuple[float, int, list[float]]:
    """χ² whatever droops and designs not given are, its freedom, and each reading from all others."""
    found = second.linear(build, story)
    columns = [*found.floors, *(i for i, name in enumerate(found.names) if name.startswith("design of"))]
    own = np.diag(found.u**2)
    total = found.seen @ found.seen.T + own
    free = found.seen[:, columns]
    standard = np.linalg.solve(total, found.gap) / np.sqrt(np.diag(np.linalg.inv(total)))
    # keep only combinations of readings that no droop and no unknown design enters
    kept = linalg.null_space(free.T, rcond=1e-9).T if columns else np.eye(len(found.gap))
    if not len(kept):
        return 0.0, 0, [float(each) for each in standard]
    gap, covariance = kept @ found.gap, kept @ total @ kept.T
    return float(gap @ np.linalg.solve(covariance, gap)), len(kept), [float(each) for each in standard]


@pytest.mark.parametrize("name", CASES)
def test_the_misfit_is_that_of_the_second_stack(name: str) -> None:
    build, story = CASES[name]
    story = tuple(each for each in story if not isinstance(each, second.Line))
    chi2, dof, standard = misfit(build, story)
    found = model(build, story).posterior
    assert found.dof == dof
    assert found.chi2 == pytest.approx(chi2, rel=1e-6, abs=1e-9)
    expected = stats.chi2.sf(chi2, dof) if dof else 1.0
    assert found.p == pytest.approx(float(expected), abs=1e-6)
    assert found.standard == pytest.approx(standard, rel=1e-5, abs=1e-8)


@pytest.mark.parametrize("build", [UNEQUAL, second.Build(offset=-1.0), UNLIKE], ids=["given", "none given", "some"])
def test_misfits_of_cars_drawn_from_the_prior_are_uniform(build: second.Build) -> None:
    """Designs not given take up readings of their own and leave the others as much to disagree about as before."""
    random = np.random.default_rng(20)
    found = [model(build, second.drawn(build, CHAIN, random)).posterior.p for _ in range(200)]
    assert float(stats.kstest(found, "uniform").pvalue) > 0.001


def test_a_reading_whose_design_is_not_given_can_disagree_with_nothing() -> None:
    """One free height with its own droop, and one wheel of unknown size: no freedom is left, so p is 1."""
    story = (*heights(9.9, 9.2)[:1], seen("wheel.diameter", "1", 7.1, tool=RULE))
    found = model(PLAIN, story).posterior
    assert (found.dof, found.p) == (0, 1.0)
    given = model(KNOWN, story).posterior
    assert given.dof == 1
    assert given.p < 0.05


def test_a_reading_that_contradicts_another_is_named_with_it() -> None:
    build = KNOWN
    story: second.Story = (
        *heights(9.85, 9.85),
        seen("bolster.height", "A", 7.9, tool=FINE),
        seen("bolster.height", "A", 8.9, tool=DIAL),
        seen("wheel.diameter", "1", 9.6, tool=RULE),
    )
    (explanation,) = explained((build, story)).values()
    first, other = "bolster.height at A (entry 3)", "bolster.height at A (entry 4)"
    pairs = (f"{first} and {other} disagree by", f"{other} and {first} disagree by")
    assert sum(each.startswith(pairs) for each in explanation.disagreements) == 1  # a pair is named once
    assert explanation.p < 0.005
    _, _, standard = misfit(build, story)
    assert any(f"by {abs(standard[2]):.1f} standard" in each for each in explanation.disagreements)


def test_a_washer_that_does_not_show_is_named() -> None:
    story = (*heights(9.7, 9.9), second.Done("washer", "A", 0.8), *heights(9.7, 9.9))
    explanation = explained((PLAIN, story))[1]
    assert explanation.p < 0.005
    assert any("coupler.height free at A" in each for each in explanation.disagreements)


def test_a_car_that_agrees_with_itself_names_nothing() -> None:
    """Readings of a designed car, one of which is moved little by little until it is named."""
    named = []
    for step in range(40):
        story = (
            *heights(9.85, 9.85),
            *lifted(9.88, 9.89),
            seen("bolster.height", "A", 7.9 + 0.05 * step),
            seen("bolster.height", "A", 7.91, tool=DIAL),
            seen("box.height", "B", 8.2),
        )
        (explanation,) = explained((KNOWN, story)).values()
        named.append(bool(explanation.disagreements))
    assert not any(named[:3])
    assert all(named[4:])
