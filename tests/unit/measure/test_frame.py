"""Shape of a frame: what is told is right, its u is neither too small nor too large, and what cannot be told has a why.

Truths are in mm: sag over 2a, a kink as the sag it would give in the middle, twist over the width between the ends.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2

import carwright as cw
from carwright.history import Figures, Profile
from carwright.measure.frame import EDGE_SAG, FrameShape, frame_shape

Array = NDArray[np.floating]

A, W = 66.0, 31.5
REPEAT, STEP = 0.02, 0.02
STAND = Figures("stand", STEP, 0.02, REPEAT, 30, "declared")
U = math.hypot(REPEAT, STEP / math.sqrt(12))
Y = {"left": W / 2, "right": -W / 2, "centre": 0.0}
SEVEN = np.linspace(-90, 90, 7)
DRAWS = 300
HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Flat car"
scale = "HO"
[car.geometry]
body_length = "190 mm"
body_width = "31.5 mm"
truck_centers = "132 mm"
axles_per_truck = 2
"""
STEPPED = """\
[[car.geometry.deck]]
from = "-95 mm"
to = "10 mm"
height = "5.00 mm"
[[car.geometry.deck]]
from = "10 mm"
to = "95 mm"
height = "6.50 mm"
"""


def line(
    x: Sequence[float] | Array,
    z: Sequence[float] | Array,
    *,
    side: str = "left",
    of: str = "sill",
    datum: str = "plate",
    nominal: Sequence[float] | None = None,
    gaps: bool = False,
    upper: Sequence[float] | Array | None = None,
) -> Profile:
    lower = tuple(float(each) for each in z)
    return Profile(
        1, 0, of, "straightedge" if gaps else datum, side, tuple(float(each) for each in x), lower,
        lower if upper is None else tuple(float(each) for each in upper), gaps,
        None if nominal is None else tuple(nominal), STAND,
    )  # fmt: skip


def shape(
    x: Array, *, sag: float = 0.0, kink: float = 0.0, at: float = 0.0, tilt: float = 0.0, side: str = "left"
) -> Array:
    """Heights: ½ κ x² with κ = sag/(a²/2), a kink θ = 2 kink/a from ``at`` on, and τ x y with τ = ``tilt`` [1/mm]."""
    bow = 0.5 * (2 * sag / A**2) * x**2
    found: Array = 5.0 + bow + 2 * kink / A * np.maximum(0.0, x - at) + tilt * x * Y[side]
    return found


def noise(rng: np.random.Generator, count: int) -> Array:
    """Of the hand, and of rounding to the step."""
    return rng.normal(0, REPEAT, count) + rng.uniform(-STEP / 2, STEP / 2, count)


def heights(rng: np.random.Generator, side: str = "left", *, shift: float = 0.0, lean: float = 0.0) -> Profile:
    z = shape(SEVEN, sag=0.5, side=side) + shift + lean * SEVEN
    return line(SEVEN, z + noise(rng, len(SEVEN)), side=side)


def placing(rng: np.random.Generator, x: Array, first: float, slope: float, *, sag: float = 0.5) -> Profile:
    """Gaps under a straightedge that is itself a little bent."""
    middle, reach = (x.max() + x.min()) / 2, np.ptp(x)
    bent = rng.normal(0, EDGE_SAG) * 4 * (x - middle) ** 2 / reach**2
    return line(x, first + slope * x + bent - shape(x, sag=sag) + 5.0 + noise(rng, len(x)), gaps=True)


def fit(profiles: Sequence[Profile], width: float = W) -> FrameShape:
    return frame_shape(profiles, half_span=A, width=width)


Make = Callable[[np.random.Generator], list[Profile]]
ARRANGEMENTS: dict[str, Make] = {
    "one line": lambda rng: [heights(rng)],
    "both sides": lambda rng: [heights(rng, shift=0.3, lean=0.002), heights(rng, "right", lean=0.002)],
    "three lines": lambda rng: [heights(rng, side) for side in Y],
    "one placing": lambda rng: [placing(rng, SEVEN, 1.5, 0.0)],
    "three placings": lambda rng: [
        placing(rng, SEVEN, 1.5, 0.0),
        placing(rng, SEVEN[:5], 1.6, 0.004),
        placing(rng, SEVEN[2:], 1.5, -0.003),
    ],
    "plate, rail and placings": lambda rng: [
        heights(rng),
        heights(rng, "right"),
        line(SEVEN, shape(SEVEN, sag=0.5) + 9.0 + 0.01 * SEVEN + noise(rng, 7), datum="rail"),
        placing(rng, SEVEN, 1.5, 0.0),
    ],
}


def believable(z: Sequence[float]) -> None:
    """Within 3.5 u each, and χ² of them all neither too large nor too small (p 0.0005 either way)."""
    low, high = (float(chi2.ppf(p, len(z))) for p in (0.0005, 0.9995))
    assert low < sum(each**2 for each in z) < high
    assert max(abs(each) for each in z) < 3.5  # 1 in 2000 of these is beyond: with 300 draws mostly none
    assert sum(abs(each) > 3 for each in z) <= 4


@pytest.mark.parametrize("name", ARRANGEMENTS)
def test_sag_is_told_with_its_own_uncertainty(name: str) -> None:
    rng = np.random.default_rng(7)
    z = []
    for _ in range(DRAWS):
        found = fit(ARRANGEMENTS[name](rng))
        if found.sag is None:  # a fit refused at p < 0.001, as it must be now and then
            assert found.p_fit < 1e-3
            continue
        assert found.u_sag is not None
        z.append((found.sag - 0.5) / found.u_sag)
    assert len(z) >= DRAWS - 3
    believable(z)


def test_a_kink_is_told_with_its_own_uncertainty() -> None:
    rng = np.random.default_rng(3)
    z = []
    for _ in range(DRAWS):
        found = fit([line(SEVEN, shape(SEVEN, kink=0.5) + noise(rng, 7))])
        if found.kink is None:
            assert found.p_fit < 1e-3
            continue
        assert found.kind == "kink"
        assert found.u_kink is not None
        if found.kink_at == 0.0:
            z.append((found.kink - 0.5) / found.u_kink)
    assert len(z) > DRAWS * 0.9
    believable(z)


def test_twist_is_told_with_its_own_uncertainty() -> None:
    rng = np.random.default_rng(5)
    z = []
    for _ in range(DRAWS):
        found = fit([heights(rng, shift=0.4, lean=0.001), heights(rng, "right", lean=0.001)])
        if found.twist is not None:
            assert found.u_twist is not None
            z.append(found.twist / found.u_twist)
    assert len(z) >= DRAWS - 3
    believable(z)


def equations(profiles: Sequence[Profile], columns: Callable[[Array, Array], list[Array]]) -> tuple[Array, Array]:
    """Estimate and covariance of the shape's columns, all unknowns solved at once by numpy.linalg.lstsq.

    Unknown of each plane: height, slope along and, where both sides are read, across; of each straightedge: height,
    slope and its own sag, which stands beside an observation of zero with u = EDGE_SAG.
    """
    planes = list(dict.fromkeys((each.of, each.datum) for each in profiles if not each.gaps))
    edges = [each for each in profiles if each.gaps]
    rows, right = [], []
    for each in profiles:
        for place, low, high in zip(each.stations, each.lower, each.upper, strict=True):
            x, y = np.array([place]), np.array([Y[each.side]])
            told = [float(column[0]) for column in columns(x, y)]
            own = [0.0] * (3 * (len(planes) + len(edges)))
            if each.gaps:
                first = 3 * (len(planes) + next(n for n, edge in enumerate(edges) if edge is each))
                middle, reach = (max(each.stations) + min(each.stations)) / 2, np.ptp(each.stations)
                own[first : first + 3] = [1.0, place, 4 * (place - middle) ** 2 / float(reach) ** 2]
                told = [-value for value in told]
            else:
                first = 3 * planes.index((each.of, each.datum))
                own[first : first + 3] = [1.0, place, y[0]]
            u = math.sqrt(U**2 + (high - low) ** 2 / 12)
            rows.append([value / u for value in (*told, *own)])
            right.append((low + high) / 2 / u)
    count = len(rows[0])
    for number in range(len(edges)):
        held = [0.0] * count
        held[count - 3 * (len(edges) - number) + 2] = 1 / EDGE_SAG
        rows.append(held)
        right.append(0.0)
    matrix, value = np.array(rows), np.array(right)
    size = len(columns(np.zeros(1), np.zeros(1)))
    estimate = np.linalg.lstsq(matrix, value, rcond=None)[0][:size]
    covariance = np.linalg.pinv(matrix.T @ matrix, rcond=1e-14)[:size, :size]
    return estimate, covariance


def bow_and_twist(x: Array, y: Array) -> list[Array]:
    return [(x / A) ** 2 - 1, x * y / (A * W)]


@pytest.mark.parametrize("name", ["both sides", "three lines", "plate, rail and placings"])
def test_estimate_and_u_equal_those_of_all_equations_solved_at_once(name: str) -> None:
    profiles = ARRANGEMENTS[name](np.random.default_rng(11))
    estimate, covariance = equations(profiles, bow_and_twist)
    found = fit(profiles)
    assert found.sag == pytest.approx(estimate[0], abs=1e-9)
    assert found.u_sag == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-6)
    assert found.twist is not None
    assert found.u_twist is not None
    assert found.twist / found.u_twist == pytest.approx(estimate[1] / math.sqrt(covariance[1, 1]), rel=1e-6)


@pytest.mark.parametrize("name", ["one placing", "three placings"])
def test_gaps_equal_the_equations_solved_at_once(name: str) -> None:
    profiles = ARRANGEMENTS[name](np.random.default_rng(12))
    estimate, covariance = equations(profiles, lambda x, _: [(x / A) ** 2 - 1])
    found = fit(profiles)
    assert found.sag == pytest.approx(estimate[0], abs=1e-9)
    assert found.u_sag == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-6)


def wide(x: Array, y: Array) -> list[Array]:
    share = x / A
    return [share**2 - 1, np.maximum(0.0, x) * 2 / A, share**3 - share, share**4 - 1, x * y / (A * W)]


@pytest.mark.parametrize("name", ["both sides", "plate, rail and placings"])
def test_rows_hold_the_joint_answer(name: str) -> None:
    profiles = ARRANGEMENTS[name](np.random.default_rng(13))
    estimate, covariance = equations(profiles, wide)
    found = fit(profiles)
    matrix = np.array([row for row, _ in found.rows])
    value = np.array([told for _, told in found.rows])
    solved = np.linalg.lstsq(matrix, value, rcond=None)[0]
    spread = np.sqrt(np.diag(np.linalg.inv(matrix.T @ matrix)))
    assert solved[:4] == pytest.approx(estimate[:4], abs=1e-7)
    assert spread[:4] == pytest.approx(np.sqrt(np.diag(covariance))[:4], rel=1e-5)
    assert solved[4] / spread[4] == pytest.approx(estimate[4] / math.sqrt(covariance[4, 4]), rel=1e-5)


def test_rows_of_one_line_say_nothing_of_twist() -> None:
    rows = fit([heights(np.random.default_rng(1))]).rows
    assert rows
    assert all(row[4] == 0 for row, _ in rows)
    estimate, _ = equations([heights(np.random.default_rng(1))], lambda x, y: wide(x, y)[:4])
    solved = np.linalg.lstsq(np.array([row[:4] for row, _ in rows]), np.array([v for _, v in rows]), rcond=None)[0]
    assert solved == pytest.approx(estimate, abs=1e-7)


@pytest.mark.parametrize("sag", [0.4, -0.4])
@pytest.mark.parametrize("gaps", [False, True])
def test_sag_is_plus_where_the_middle_is_low(*, sag: float, gaps: bool) -> None:
    z = shape(SEVEN, sag=sag)
    found = fit([line(SEVEN, z.max() - z if gaps else z, gaps=gaps)])
    assert found.kind == "bow"
    assert found.sag == pytest.approx(sag)
    assert (z[3] < z[0]) == (sag > 0)


@pytest.mark.parametrize("kink", [0.4, -0.4])
def test_kink_is_plus_where_the_middle_is_low(kink: float) -> None:
    found = fit([line(SEVEN, shape(SEVEN, kink=kink))])
    assert (found.kind, found.kink_at, found.sag) == ("kink", 0.0, None)
    assert found.kink == pytest.approx(kink)


def twisted(tilt: float, x: Array = SEVEN) -> list[Profile]:
    return [line(x, shape(x, tilt=tilt, side=side), side=side) for side in ("left", "right")]


def test_twist_is_plus_where_left_is_high_at_a_and_grows_with_it() -> None:
    once, twice, other = (fit(twisted(tilt)).twist for tilt in (1e-4, 2e-4, -1e-4))
    assert once is not None
    assert once > 0
    assert twice == pytest.approx(2 * once)
    assert other == pytest.approx(-once)


def test_twist_is_the_difference_of_the_cross_slopes_at_both_ends() -> None:
    left, right = (shape(np.array([-A, A]), tilt=1e-4, side=side) for side in ("left", "right"))
    between = (left[1] - right[1]) - (left[0] - right[0])
    assert between == pytest.approx(2 * A * 1e-4 * W)
    assert fit(twisted(1e-4)).twist == pytest.approx(between)


def test_a_car_that_leans_and_slopes_as_a_whole_is_not_bent() -> None:
    lean = [line(SEVEN, 5 + 0.01 * SEVEN + 0.02 * Y[side], side=side) for side in ("left", "right")]
    found = fit(lean)
    assert found.sag == pytest.approx(0, abs=1e-9)
    assert found.twist == pytest.approx(0, abs=1e-9)


def test_the_centre_line_counts_as_a_side() -> None:
    found = fit([line(SEVEN, shape(SEVEN, tilt=1e-4, side=side), side=side) for side in ("left", "centre")])
    assert found.twist == pytest.approx(fit(twisted(1e-4)).twist)


def test_each_plane_has_its_own_height_and_slope() -> None:
    z = shape(SEVEN, sag=0.5)
    found = fit([line(SEVEN, z), line(SEVEN, z + 4 - 0.02 * SEVEN, datum="rail"), line(SEVEN, z + 1, of="deck")])
    assert found.sag == pytest.approx(0.5)


def test_the_edge_rocks_over_a_hump_and_the_hump_is_told() -> None:
    hump = shape(SEVEN, sag=-0.5) - 5.0
    rests = [0.0 - hump + slope * SEVEN for slope in (0.004, -0.004, 0.0)]
    found = fit([line(SEVEN, gap - gap.min(), gaps=True) for gap in rests])
    assert found.kind == "bow"
    assert found.sag == pytest.approx(-0.5)


def test_a_band_of_gaps_counts_by_its_middle_and_width() -> None:
    z = shape(SEVEN, sag=0.5)
    gap = z.max() - z + 0.1
    sharp = fit([line(SEVEN, gap, gaps=True)])
    band = fit([line(SEVEN, gap - 0.05, upper=gap + 0.05, gaps=True)])
    assert band.sag == pytest.approx(0.5)
    assert band.u_sag is not None
    assert sharp.u_sag is not None
    wide_u = math.hypot(U, 0.1 / math.sqrt(12))
    edge = sharp.u_sag**2 - (band.u_sag**2 - sharp.u_sag**2) / (wide_u**2 - U**2) * U**2  # what the edge alone adds
    assert math.sqrt(edge) == pytest.approx(EDGE_SAG * (A / 90) ** 2, rel=1e-6)


@pytest.mark.parametrize(
    ("count", "kink", "kind"),
    [
        (5, 0.6, "bow or kink: cannot be told"),
        (7, 0.02, "bow or kink: cannot be told"),
        (7, 0.6, "kink"),
        (9, 0.6, "kink"),
    ],
)
def test_a_kink_is_named_only_with_seven_stations_and_clear_evidence(count: int, kink: float, kind: str) -> None:
    x = np.linspace(-90, 90, count)
    found = fit([line(x, shape(x, kink=kink))])
    assert found.kind == kind
    if kind != "kink":
        assert found.sag is not None
        assert found.kink is not None


def test_the_evidence_for_a_kink_is_bic_with_its_place_counted() -> None:
    z = shape(SEVEN, kink=0.12) + np.array([0.01, -0.01, 0.0, 0.01, 0.0, -0.01, 0.01])
    found = fit([line(SEVEN, z)])
    ones = np.ones(7)

    def left_over(column: Array) -> float:
        matrix = np.column_stack([ones, SEVEN, column]) / U
        answer = np.linalg.lstsq(matrix, z / U, rcond=None)[0]
        return float(((z / U - matrix @ answer) ** 2).sum())

    places = np.arange(-60, 61, 15)
    kinked = min(left_over(np.maximum(0, SEVEN - place)) for place in places)
    gain = left_over(SEVEN**2) + math.log(7) - kinked - 2 * math.log(7)
    assert found.weight == pytest.approx(1 / (1 + math.exp(gain / 2)), rel=1e-6)


@pytest.mark.parametrize(
    "at",
    [
        15.0,
        30.0,
        -45.0,
    ],
)
def test_a_kink_off_centre_is_placed(at: float) -> None:
    found = fit([line(SEVEN, shape(SEVEN, kink=0.4, at=at))])
    assert found.kind == "kink"
    assert found.kink_at == at
    assert found.kink == pytest.approx(0.4)


def sheet(profiles: str, deck: str = "", head: str = HEAD) -> FrameShape:
    found = cw.inspect(cw.read_sheet_text(head + deck + profiles)).bench.frame
    assert found is not None
    return found


def written(z: Sequence[float] | Array, *, more: str = "", of: str = "deck", key: str = "heights") -> str:
    stations = ", ".join(f'"{each:g} mm"' for each in SEVEN)
    values = ", ".join(f'"{each:.2f} mm"' for each in z)
    datum = "straightedge" if key == "gaps" else "plate"
    head = f'[[entry]]\nkind = "profile"\nof = "{of}"\ndatum = "{datum}"\nside = "left"\n'
    return f"{head}stations = [{stations}]\n{key} = [{values}]\n{more}"


FLAT = np.array([5.40, 5.18, 5.05, 5.00, 5.04, 5.19, 5.41])
RAISED = np.array([0, 0, 0, 0, 1.5, 1.5, 1.5])
NOMINAL = 'nominal = ["5 mm", "5 mm", "5 mm", "5 mm", "6.5 mm", "6.5 mm", "6.5 mm"]\n'


@pytest.mark.parametrize(("deck", "nominal"), [("", NOMINAL), (STEPPED, "")], ids=["profile", "geometry"])
def test_a_stepped_deck_less_its_design_is_a_flat_one(deck: str, nominal: str) -> None:
    flat = sheet(written(FLAT))
    stepped = sheet(written(FLAT + RAISED, more=nominal), deck)
    assert flat.sag is not None
    assert flat.kind == stepped.kind
    assert stepped.sag == pytest.approx(flat.sag)
    assert stepped.u_sag == pytest.approx(flat.u_sag)
    assert np.array(stepped.lines[0][1]) == pytest.approx(np.array(flat.lines[0][1]))


def test_the_profile_s_own_nominal_goes_before_the_deck_s() -> None:
    own = 'nominal = ["1 mm", "1 mm", "1 mm", "1 mm", "1 mm", "1 mm", "1 mm"]\n'
    assert sheet(written(FLAT, more=own), STEPPED).sag == pytest.approx(sheet(written(FLAT)).sag)


def no_number(found: FrameShape) -> None:
    assert (found.kind, found.rows) == ("", ())
    assert [found.sag, found.u_sag, found.kink, found.u_kink, found.kink_at] == [None] * 5


def test_a_stepped_deck_without_its_design_is_refused() -> None:
    found = sheet(written(FLAT + RAISED))
    no_number(found)
    assert (found.twist, found.u_twist) == (None, None)
    assert found.reasons[-1].endswith("where the line steps, give its nominal heights")
    assert found.p_fit < 1e-3


def test_a_step_is_refused_with_five_stations_too() -> None:
    x = np.array([-80.0, -40.0, -5.0, 40.0, 80.0])
    deck = [line(x, [5.0, 5.0, 5.0, 7.0, 7.0], of="deck")]
    assert fit(deck).reasons[-1] == "a deck may step: fewer than six stations need its nominal heights"
    no_number(fit(deck))


def test_gaps_on_a_stepped_deck_are_less_its_design_too() -> None:
    gap = 7.5 - (FLAT + RAISED)
    flat = sheet(written(5.5 - FLAT, key="gaps"))
    assert sheet(written(gap, key="gaps"), STEPPED).sag == pytest.approx(flat.sag)


def test_two_stations_show_twist_and_no_bow() -> None:
    two = np.array([-80.0, 80.0])
    one_side = fit(twisted(1e-4, two)[:1])
    no_number(one_side)
    assert "two stations cannot show a bow: read three or more along one line" in one_side.reasons
    assert one_side.twist is None
    both = fit(twisted(1e-4, two))
    assert (both.kind, both.sag, both.kink) == ("", None, None)
    assert both.reasons == ("two stations cannot show a bow: read three or more along one line",)
    assert both.twist == pytest.approx(fit(twisted(1e-4)).twist)
    assert both.u_twist is not None
    ((row, value),) = both.rows
    assert value / row[4] == pytest.approx(both.twist)
    assert 1 / abs(row[4]) == pytest.approx(both.u_twist)


def test_u_of_twist_from_four_corners() -> None:
    """The twist is a combination of four heights with equal weights: its relative u follows by hand."""
    both = fit(twisted(1e-4, np.array([-80.0, 80.0])))
    corners = 4 * 80.0 * 1e-4 * W / 2
    assert both.twist is not None
    assert both.u_twist is not None
    assert both.twist / both.u_twist == pytest.approx(corners / (2 * U))


@pytest.mark.parametrize(
    ("profiles", "width", "reason"),
    [
        ([line(SEVEN, FLAT)], W, "from one line: read heights of both sides from one plane"),
        ([line(SEVEN, FLAT, gaps=True)], W, "from gaps under a straightedge: read heights of both sides"),
        ([line(SEVEN, FLAT), line(SEVEN, FLAT, side="right")], 0.0, "it needs body_width in [car.geometry]"),
        ([line(SEVEN, FLAT), line(SEVEN, FLAT, side="right", datum="rail")], W, "read both sides from one datum"),
    ],
)
def test_twist_that_cannot_be_told_says_why(profiles: list[Profile], width: float, reason: str) -> None:
    found = fit(profiles, width)
    assert (found.twist, found.u_twist) == (None, None)
    (said,) = found.reasons
    assert said.startswith("twist cannot be told")
    assert reason in said
    assert found.sag is not None


def test_without_a_width_a_car_that_leans_still_shows_its_bow() -> None:
    both = [line(SEVEN, shape(SEVEN, sag=0.5) + shift, side=side) for side, shift in (("left", 0.4), ("right", 0.0))]
    assert fit(both, 0.0).sag == pytest.approx(0.5)


@pytest.mark.parametrize(("text", "low", "high"), [("0.10..0.15 mm", 0.10, 0.15), ("< 0.05 mm", 0.0, 0.05)])
def test_bands_of_gaps_are_read(text: str, low: float, high: float) -> None:
    body = written([0.3, 0.2, 0.1, 0.1, 0.1, 0.2, 0.3], key="gaps").replace('"0.20 mm"', f'"{text}"', 1)
    (profile,) = cw.read_sheet_text(HEAD + body).history.profiles
    assert profile.lower[1] == pytest.approx(low)
    assert profile.upper[1] == pytest.approx(high)
    assert profile.lower[0] == profile.upper[0] == pytest.approx(0.3)


def test_lines_are_drawn_about_their_chord_with_gaps_turned_over() -> None:
    z = shape(SEVEN, sag=0.5) + 0.01 * SEVEN
    (_, heights_line), (_, gap_line) = fit([line(SEVEN, z), line(SEVEN[::-1], 3 - z[::-1], gaps=True)]).lines
    assert np.array(heights_line) == pytest.approx(np.array(gap_line))
    assert heights_line[0] == pytest.approx((-90.0, 0.0))
    assert heights_line[-1] == pytest.approx((90.0, 0.0))
    assert heights_line[3][1] == pytest.approx(-0.5 * (90 / A) ** 2)


@pytest.mark.parametrize("half", [0.0, -3.0, math.nan])
def test_a_half_span_must_be_above_zero(half: float) -> None:
    with pytest.raises(ValueError, match=rf"half_span must be > 0 mm, got {half}"):
        frame_shape([line(SEVEN, FLAT)], half_span=half, width=W)
