"""Minimum zones: right where the answer is known in closed form, and equal to slow and independent searches."""

from __future__ import annotations

import itertools
import math
import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import linprog

from carwright.measure import minimum_zone
from carwright.measure.minimum_zone import Zone, flatness, noise_bias, straightness

Array = NDArray[np.float64]

heights = st.lists(st.integers(-50, 50), min_size=3, max_size=14)
grid_points = st.lists(st.tuples(*[st.integers(-6, 6)] * 3), min_size=4, max_size=9)
plane_points = st.lists(st.tuples(*[st.integers(-9, 9)] * 2), min_size=3, max_size=20)
stretch = st.sampled_from([(1.0, 1.0, 1.0), (50.0, 20.0, 0.01), (0.01, 300.0, 2.0), (1.0, 1e-3, 1e-5)])


def line_of(values: list[int]) -> Array:
    """Heights of hundredths at every 10 mm."""
    return np.column_stack([10.0 * np.arange(len(values)), 0.01 * np.array(values, dtype=float)])


def turned(points: Array, seed: int) -> Array:
    """The set turned at random about its origin."""
    size = points.shape[1]
    axes, _ = np.linalg.qr(np.random.default_rng(seed).standard_normal((size, size)))
    moved: Array = points @ axes.T
    return moved


def every_line(points: Array) -> float:
    """Narrowest zone along any two of the points, by trying all."""
    best = math.inf
    for a, b in itertools.combinations(points, 2):
        x, y = b - a
        if math.hypot(x, y) > 0:
            best = min(best, float(np.ptp(points @ np.array([-y, x]))) / math.hypot(x, y))
    return best if math.isfinite(best) else 0.0


def every_plane(whole: list[tuple[int, ...]], scale: tuple[float, ...]) -> float:
    """Narrowest zone across any two of the connecting lines, by trying all in whole numbers, then stretching them."""
    points = np.array(whole)
    lines = np.array([b - a for a, b in itertools.combinations(points, 2)])
    first, second = np.triu_indices(len(lines), 1)
    normals = np.cross(lines[first], lines[second])
    normals = normals[normals.any(axis=1)]
    if not len(normals):
        return 0.0
    return float((np.ptp(points @ normals.T, axis=0) / np.linalg.norm(normals / np.array(scale), axis=1)).min())


def vertical_zone(points: Array) -> tuple[float, Array]:
    """Least vertical width by linear programme, and the slopes of its line or plane."""
    base = np.column_stack([np.ones(len(points)), points[:, :-1]])
    half = np.full((len(points), 1), 0.5)
    unknowns = base.shape[1] + 1
    result = linprog(
        np.eye(unknowns)[-1],
        A_ub=np.vstack([np.hstack([-base, -half]), np.hstack([base, -half])]),
        b_ub=np.concatenate([-points[:, -1], points[:, -1]]),
        bounds=[(None, None)] * unknowns,
    )
    assert result.success
    assert result.x is not None
    return float(result.x[-1]), np.asarray(result.x)[1:-1]


@pytest.mark.parametrize(
    ("points", "width", "touching"),
    [
        ([[0, 0], [4, 0], [0, 3]], 2.4, (0, 1, 2)),
        ([[0, 0], [1, 0], [1, 1], [0, 1]], 1, (0, 1, 2, 3)),
        ([[0, 0], [1, 0], [0.5, 0.5], [2, 1], [0, 1]], 1, (0, 1, 3, 4)),
        ([[0, 0], [1e6, 0], [5e5, 1e-6]], 1e-6, (0, 1, 2)),
        ([[3, 0], [0, 0], [3, 0], [2, 1], [0, 0]], 1, (0, 1, 2, 3, 4)),
    ],
)
def test_lines_by_hand(points: list[list[float]], width: float, touching: tuple[int, ...]) -> None:
    zone = straightness(np.array(points))
    assert zone.width == pytest.approx(width, rel=1e-12)
    assert zone.touching == touching


@pytest.mark.parametrize("corners", [3, 5, 8, 199, 201, 1000, 20_001])
def test_regular_polygons(corners: int) -> None:
    """Radius 2: flat to flat 4 cos(π/n) for even n, flat to corner 2 + 2 cos(π/n) for odd n."""
    angles = 2 * math.pi * np.arange(corners) / corners + 0.1
    across = 4 * math.cos(math.pi / corners) if corners % 2 == 0 else 2 + 2 * math.cos(math.pi / corners)
    zone = straightness(2 * np.column_stack([np.cos(angles), np.sin(angles)]))
    assert zone.width == pytest.approx(across, rel=1e-12)


@pytest.mark.parametrize(
    ("points", "width"),
    [
        (
            [[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]],
            2,
        ),  # regular tetrahedron: edge to edge, not face to corner
        ([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]], 2 / math.sqrt(3)),  # octahedron
        ([[0, 0, 0], [3, 0, 0], [0, 4, 0], [3, 4, 0], [1, 1, 0.5]], 0.5),  # low pyramid
        ([[0, 0, 0.1], [80, 0, 0], [0, 20, 0], [80, 20, 0.1]], 0.1),  # twist: its diagonals are level
    ],
)
def test_solids_by_hand(points: list[list[float]], width: float) -> None:
    zone = flatness(turned(np.array(points, dtype=float), 7))
    assert zone.width == pytest.approx(width, rel=1e-12)


def test_a_zone_of_planes_names_what_it_touches() -> None:
    points = np.array([[0, 0, 0], [3, 0, 0], [1.5, 2, 0.2], [0, 4, 0], [3, 4, 0], [1, 1, 0.5], [2, 2, 0.4]])
    assert flatness(points).touching == (0, 1, 3, 4, 5)


@pytest.mark.parametrize(
    "points",
    [
        [[0, 0], [1, 5]],
        [[2, 3]] * 4,
        [[0.1 * k, 0.3 * k + 7] for k in range(11)],
        [[0.1 * k, 0.3 * k + 7] for k in range(1000)],
        [[1e9 + k, 5] for k in range(5)],
    ],
)
def test_points_on_one_line_have_no_width_and_all_touch(points: list[list[float]]) -> None:
    assert straightness(np.array(points)) == Zone(0.0, tuple(range(len(points))))


@pytest.mark.parametrize(
    "points",
    [
        [[0, 0, 0], [1, 5, 2], [3, 1, 1]],
        [[2, 3, 4]] * 4,
        [[k, 2 * k, 0.1 * k] for k in range(9)],
        [[0.1 * k, 0.7 * n, 0.3 * k - 0.9 * n + 7] for k in range(9) for n in range(9)],
    ],
)
def test_points_in_one_plane_have_no_width_and_all_touch(points: list[list[float]]) -> None:
    assert flatness(np.array(points)) == Zone(0.0, tuple(range(len(points))))


@given(plane_points, stretch)
def test_lines_against_every_pair(whole: list[tuple[int, int]], scale: tuple[float, ...]) -> None:
    points = np.array(whole, dtype=float) * scale[:2]
    assert straightness(points).width == pytest.approx(every_line(points), rel=1e-9, abs=1e-12)


def test_many_points_against_every_pair() -> None:
    generator = np.random.default_rng(3)
    for scale in ([1, 1], [300, 0.01], [1e-4, 50]):
        points = turned(generator.standard_normal((260, 2)) * scale, 5)
        assert straightness(points).width == pytest.approx(every_line(points), rel=1e-11)


@given(grid_points, stretch)
def test_planes_against_every_pair_of_connecting_lines(
    whole: list[tuple[int, int, int]], scale: tuple[float, float, float]
) -> None:
    points = np.array(whole, dtype=float) * scale
    assert flatness(points).width == pytest.approx(every_plane(list(whole), scale), rel=1e-9, abs=1e-12)


def test_a_turn_is_told_right_to_the_last_bit() -> None:
    """Places a last bit apart beside a line, where floating point by itself puts some on the wrong side."""
    b, c = (17.3, 17.3), (24.00000000000005, 24.0000000000000517765)
    lost = reversed_ = 0
    for i, j in itertools.product(range(40), repeat=2):
        a = (0.5 + i * 2.0**-53, 0.5 + j * 2.0**-53)
        (ax, ay), (bx, by), (cx, cy) = ([int(value * 2**60) for value in point] for point in (a, b, c))
        exact = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        rounded = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        lost += rounded == 0 != exact
        reversed_ += rounded * exact < 0
        assert minimum_zone._turns_left(a, b, c) == (exact > 0)
        assert minimum_zone._turns_left(c, b, a) == (exact < 0)
    assert lost > 100
    assert reversed_ > 10


def test_blocks_of_any_size_give_the_same_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    """One edge, or one normal, to a block: the last pairs are tried like the first."""
    generator = np.random.default_rng(17)
    sets = [generator.integers(-9, 9, (7, 3)) for _ in range(40)]
    whole = [flatness(points.astype(float)).width for points in sets]
    monkeypatch.setattr(minimum_zone, "_BLOCK", 1)
    for points, width in zip(sets, whole, strict=True):
        assert flatness(points.astype(float)).width == pytest.approx(width, abs=1e-12)
        assert width == pytest.approx(every_plane([tuple(point) for point in points], (1.0, 1.0, 1.0)), abs=1e-12)


@given(st.integers(0, 2**32 - 1), st.integers(4, 60))
def test_lines_against_a_linear_programme(seed: int, count: int) -> None:
    """A vertical width is 1/cos of the square width: for slopes b the two differ by √(1 + b²)."""
    generator = np.random.default_rng(seed)
    points = np.column_stack([np.linspace(0, 200, count), generator.normal(0, 0.05, count)])
    vertical, slope = vertical_zone(points)
    width = straightness(points).width
    assert width <= vertical / math.sqrt(1 + slope @ slope) + 1e-9
    assert width == pytest.approx(vertical, rel=1e-5, abs=1e-9)


@given(st.integers(0, 2**32 - 1), st.integers(2, 8), st.integers(2, 8))
def test_planes_against_a_linear_programme(seed: int, columns: int, rows: int) -> None:
    x, y = np.meshgrid(np.linspace(0, 400, columns), np.linspace(0, 250, rows))
    z = np.random.default_rng(seed).normal(0, 0.02, x.size)
    points = np.column_stack([x.ravel(), y.ravel(), z])
    vertical, slope = vertical_zone(points)
    width = flatness(points).width
    assert width <= vertical / math.sqrt(1 + slope @ slope) + 1e-9
    assert width == pytest.approx(vertical, rel=1e-6, abs=1e-9)


@given(heights, st.integers(0, 2**32 - 1), st.floats(-500, 500))
def test_a_turn_a_shift_and_another_order_change_no_line_zone(values: list[int], seed: int, shift: float) -> None:
    points = line_of(values)
    zone = straightness(points)
    moved = straightness(turned(points, seed) + np.array([shift, -2 * shift]))
    assert moved.width == pytest.approx(zone.width, abs=1e-10)
    order = np.random.default_rng(seed).permutation(len(points))
    mixed = straightness(points[order])
    assert mixed.width == pytest.approx(zone.width, abs=1e-12)


@given(grid_points, st.integers(0, 2**32 - 1), st.floats(-500, 500))
def test_a_turn_and_a_shift_change_no_plane_zone(whole: list[tuple[int, int, int]], seed: int, shift: float) -> None:
    points = np.array(whole, dtype=float)
    moved = flatness(turned(points, seed) + np.array([shift, -2 * shift, 3.0]))
    assert moved.width == pytest.approx(flatness(points).width, abs=1e-10)


@given(heights)
def test_no_line_zone_is_wider_than_other_measures_of_it(values: list[int]) -> None:
    points = line_of(values)
    x, y = points.T
    slope, intercept = np.polyfit(x, y, 1)
    chord = y[0] + (y[-1] - y[0]) * (x - x[0]) / (x[-1] - x[0])
    width = straightness(points).width
    assert 0 <= width <= np.ptp(y - slope * x - intercept) + 1e-12
    assert width <= np.ptp(y - chord) + 1e-12


@given(grid_points)
def test_no_plane_zone_is_wider_than_the_least_squares_range(whole: list[tuple[int, int, int]]) -> None:
    points = np.array(whole, dtype=float)
    base = np.column_stack([np.ones(len(points)), points[:, :2]])
    fit, *_ = np.linalg.lstsq(base, points[:, 2])
    assert flatness(points).width <= np.ptp(points[:, 2] - base @ fit) + 1e-12


@given(plane_points, st.integers(0, 2**32 - 1))
def test_points_inside_and_repeated_change_nothing(whole: list[tuple[int, int]], seed: int) -> None:
    points = np.array(whole, dtype=float)
    shares = np.random.default_rng(seed).dirichlet(np.ones(len(points)), 3)
    more = np.vstack([points, shares @ points, points[::2]])
    assert straightness(more).width == pytest.approx(straightness(points).width, abs=1e-11)


@given(grid_points, st.integers(0, 2**32 - 1))
def test_points_inside_a_solid_and_repeated_change_nothing(whole: list[tuple[int, int, int]], seed: int) -> None:
    points = np.array(whole, dtype=float)
    shares = np.random.default_rng(seed).dirichlet(np.ones(len(points)), 3)
    more = np.vstack([points, shares @ points, points[::2]])
    assert flatness(more).width == pytest.approx(flatness(points).width, abs=1e-11)


@pytest.mark.parametrize("exponent", [-200, -12, 12, 200])
def test_units_do_not_matter(exponent: int) -> None:
    points = np.array([[0, 0, 0], [3, 0, 0], [0, 4, 0], [3, 4, 0], [1, 1, 0.5]])
    scale = 10.0**exponent
    assert flatness(points * scale).width == pytest.approx(0.5 * scale, rel=1e-12)
    assert straightness(points[:, 1:] * scale).width == pytest.approx(0.5 * scale, rel=1e-12)


def test_the_readings_are_left_alone() -> None:
    points = np.asfortranarray([[0.0, 1.0, 5.0], [4.0, 0.0, 5.0], [0.0, 3.0, 5.5], [2.0, 2.0, 2.0]])
    before = points.copy()
    flatness(points)
    straightness(points[:, :2])
    assert np.array_equal(points, before)


def test_memory_stays_bounded_where_every_point_is_a_corner() -> None:
    """1500 points on a sphere: 4500 edges, whose pairs would fill some 600 MB at once."""
    points = np.random.default_rng(11).standard_normal((1500, 3))
    points /= np.linalg.norm(points, axis=1)[:, None]
    flatness(points[:50])
    tracemalloc.start()
    try:
        zone = flatness(points)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert 1.9 < zone.width < 2
    assert peak < 50e6


@pytest.mark.parametrize("shape", [(1, 2), (5, 3), (4,), (0, 2)])
def test_a_line_needs_two_points_in_two_columns(shape: tuple[int, ...]) -> None:
    sentence = rf"^straightness needs two points or more in two columns, got shape \({', '.join(map(str, shape))},?\)$"
    with pytest.raises(ValueError, match=sentence):
        straightness(np.zeros(shape))


@pytest.mark.parametrize("shape", [(2, 3), (5, 2), (9,), (0, 3)])
def test_a_plane_needs_three_points_in_three_columns(shape: tuple[int, ...]) -> None:
    sentence = rf"^flatness needs three points or more in three columns, got shape \({', '.join(map(str, shape))},?\)$"
    with pytest.raises(ValueError, match=sentence):
        flatness(np.zeros(shape))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_points_must_be_finite(bad: float) -> None:
    line, plane = np.zeros((5, 2)), np.zeros((5, 3))
    line[3, 1] = plane[2, 0] = bad
    with pytest.raises(ValueError, match=f"^points must be finite numbers, got {bad:g} at point 3$"):
        straightness(line)
    with pytest.raises(ValueError, match=f"^points must be finite numbers, got {bad:g} at point 2$"):
        flatness(plane)


def test_noise_on_three_points_widens_a_line_as_theory_says() -> None:
    """The middle one leaves the chord of its neighbours by |N(0, 1.5 u²)|: mean u √(3/π), variance 1.5 u² (1 − 2/π)."""
    fitted = np.array([[0.0, 1.0], [100.0, 3.0], [200.0, 5.0]])
    mean, deviation = noise_bias(fitted, np.full(3, 0.02), straightness, draws=4000)
    slope = math.sqrt(1 + 0.02**2)
    assert mean == pytest.approx(0.02 * math.sqrt(3 / math.pi) / slope, rel=0.04)
    assert deviation == pytest.approx(0.02 * math.sqrt(1.5 * (1 - 2 / math.pi)) / slope, rel=0.05)


def test_noise_on_four_corners_widens_a_plane_as_theory_says() -> None:
    """Half the twist, |N(0, 4 u²)|/2: mean u √(2/π), variance u² (1 − 2/π)."""
    fitted = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [0.0, 50.0, 0.0], [100.0, 50.0, 0.0]])
    mean, deviation = noise_bias(fitted, np.full(4, 0.02), flatness, draws=2000)
    assert mean == pytest.approx(0.02 * math.sqrt(2 / math.pi), rel=0.05)
    assert deviation == pytest.approx(0.02 * math.sqrt(1 - 2 / math.pi), rel=0.06)


def test_noise_is_drawn_on_the_last_coordinate_and_where_it_belongs() -> None:
    fitted = np.column_stack([np.arange(6.0), np.zeros(6)])
    u = np.array([0, 0, 1.0, 0, 0, 5.0])
    seen: list[Array] = []

    def zone(points: Array) -> Zone:
        seen.append(points)
        return Zone(float(np.ptp(points[:, 1])), ())

    mean, deviation = noise_bias(fitted, u, zone, draws=500)
    drawn = np.array(seen[1:])
    widths = np.ptp(drawn[:, :, 1], axis=1)
    assert mean == pytest.approx(widths.sum() / 500)
    assert deviation == pytest.approx(math.sqrt(((widths - mean) ** 2).sum() / 499), rel=1e-9)
    assert np.array_equal(seen[0], fitted)
    assert len(drawn) == 500
    assert (drawn[:, :, 0] == fitted[:, 0]).all()
    assert drawn[:, :, 1].std(axis=0) == pytest.approx(u, rel=0.1)


def test_noise_bias_is_reproducible_and_above_zero() -> None:
    fitted = np.column_stack([np.linspace(0, 200, 12), 1e-5 * np.linspace(-100, 100, 12) ** 2])
    u = np.full(12, 0.02)
    first = noise_bias(fitted, u, straightness)
    assert noise_bias(fitted, u, straightness) == first
    assert noise_bias(fitted, u, straightness, seed=1) != first
    assert first[0] > 0
    assert noise_bias(fitted, np.zeros(12), straightness) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("fitted", "u", "draws", "sentence"),
    [
        (np.zeros(5), np.zeros(5), 9, r"^fitted must have two or three columns, got shape \(5,\)$"),
        (np.zeros((5, 4)), np.zeros(5), 9, r"^fitted must have two or three columns, got shape \(5, 4\)$"),
        (np.zeros((5, 2)), np.zeros(4), 9, r"^points_u must hold one value for each of 5 points, got shape \(4,\)$"),
        (np.zeros((5, 2)), np.zeros((5, 1)), 9, r"^points_u must hold one value .* got shape \(5, 1\)$"),
        (np.zeros((2, 2)), np.array([0, -0.1]), 9, r"^points_u must be finite and not negative, got -0\.1 at point 1$"),
        (
            np.zeros((2, 2)),
            np.array([math.nan, 0]),
            9,
            r"^points_u must be finite and not negative, got nan at point 0",
        ),
        (
            np.zeros((2, 2)),
            np.array([math.inf, 0]),
            9,
            r"^points_u must be finite and not negative, got inf at point 0",
        ),
        (np.zeros((2, 2)), np.zeros(2), 1, r"^draws must be 2 or more, got 1$"),
    ],
)
def test_noise_bias_refuses(fitted: Array, u: Array, draws: int, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        noise_bias(fitted, u, straightness, draws=draws)
