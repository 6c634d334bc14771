"""Minimum zones of published readings, and of constructed sets with an exact answer.

No full set of points could be found in print together with its minimum zone, so no minimum zone here is a published
figure. Each check says which of these its figures are:

*published*: read in the source named; *memory*: remembered from the source named; *constructed*: a set made up so that
its zone is a closed form; *recomputed*: worked out beforehand by two searches that share no code (hull and linear
programme). Tolerance: half the last digit printed, unless said.

Files in ``data``: ``minzone_*.csv`` constructed; ``plate_1955_angles.csv`` the readings of a surface-plate worksheet of
October 1955 [arc-second], ``plate_1955_heights.csv`` its heights [10 µin] over steps of 4 in; ``nist_norris.csv`` the
Norris set of the NIST Statistical Reference Datasets, linear regression.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import linprog

from carwright.measure.minimum_zone import flatness, straightness

Array = NDArray[np.float64]

DATA = Path(__file__).parent / "data"
MICROINCH = 25.4e-6
"""[mm]"""
STEP = 4 * 25.4
"""Foot of the level on the plate, 4 in [mm]."""


def rows_of(name: str) -> list[dict[str, str]]:
    """Rows of a data file."""
    with (DATA / name).open(encoding="ascii", newline="") as file:
        return list(csv.DictReader(file))


def line_of(column: str) -> Array:
    """A constructed straightness set."""
    return np.array([[float(row["x_mm"]), float(row[column])] for row in rows_of("minzone_straightness.csv")])


def plane_of(name: str) -> Array:
    """A constructed flatness set."""
    rows = [row for row in rows_of("minzone_flatness.csv") if row["set"] == name]
    return np.array([[float(row[key]) for key in ("x_mm", "y_mm", "z_mm")] for row in rows])


def norris() -> Array:
    """NIST Norris, x and y."""
    return np.array([[float(row["x"]), float(row["y"])] for row in rows_of("nist_norris.csv")])


def plate() -> Array:
    """The plate of 1955: 126 places of eight lines [mm]."""
    rows = rows_of("plate_1955_heights.csv")
    steps = np.array([[float(row[key]) for key in ("x_steps", "y_steps", "height_10_microinch")] for row in rows])
    scaled: Array = steps * [STEP, STEP, 10 * MICROINCH]
    return scaled


def vertical_zone(points: Array) -> float:
    """Least width along the last coordinate, by linear programme."""
    base = np.column_stack([np.ones(len(points)), points[:, :-1] / np.ptp(points[:, :-1], axis=0)])
    height = points[:, -1] / np.ptp(points[:, -1])
    half = np.full((len(points), 1), 0.5)
    unknowns = base.shape[1] + 1
    result = linprog(
        np.eye(unknowns)[-1],
        A_ub=np.vstack([np.hstack([-base, -half]), np.hstack([base, -half])]),
        b_ub=np.concatenate([-height, height]),
        bounds=[(None, None)] * unknowns,
    )
    assert result.success
    assert result.x is not None
    return float(result.x[-1] * np.ptp(points[:, -1]))


def least_squares_range(points: Array) -> float:
    """Range of the residuals along the last coordinate."""
    base = np.column_stack([np.ones(len(points)), points[:, :-1]])
    fit, *_ = np.linalg.lstsq(base, points[:, -1])
    return float(np.ptp(points[:, -1] - base @ fit))


# Laser interferometer users' guide, October 1987, section 21: readings along one axis, 0 to 0.9 m, published [µm]
LASER = np.array([-0.3, 0.9, 1.5, 2.5, 2.9, 3.6, 4.2, 5.1, 5.9, 7.2])
LASER_RESIDUALS = [0, 0.4, 0.1, 0.3, -0.1, -0.3, -0.5, -0.4, -0.5, 0]


def test_laser_straightness_of_1987() -> None:
    """Slope 8.33 µm/m and residuals from the ends: published. 0.866667, 0.703636 and 0.650000 µm: recomputed."""
    x = np.arange(10) / 10
    slope = (LASER[-1] - LASER[0]) / 0.9
    assert slope == pytest.approx(8.33, abs=0.005)
    residuals = LASER - LASER[0] - slope * x
    assert residuals == pytest.approx(LASER_RESIDUALS, abs=0.05)
    assert np.ptp(residuals) == pytest.approx(0.866667, abs=5e-7)
    points = np.column_stack([1000 * x, LASER / 1000])  # mm
    assert 1000 * least_squares_range(points) == pytest.approx(0.703636, abs=5e-7)
    zone = straightness(points)
    assert 1000 * zone.width == pytest.approx(0.650000, abs=5e-7)
    assert zone.touching == (3, 6, 9)
    assert 1000 * vertical_zone(points) == pytest.approx(0.650000, abs=5e-7)


def test_the_heights_of_the_plate_follow_from_its_angles() -> None:
    """Readings published: along every line the heights bend as the angles change, 4 in times the angle [10 µin].

    Tilting or shifting a line changes no second difference. The worksheet rounds the factor: 1e-5 units allowed.
    """
    angles, heights = defaultdict(list), defaultdict(list)
    for row in rows_of("plate_1955_angles.csv"):
        angles[row["line"]].append(float(row["arcsec"]))
    for row in rows_of("plate_1955_heights.csv"):
        heights[row["line"]].append(float(row["height_10_microinch"]))
    assert len(angles) == len(heights) == 8
    factor = 4 * math.radians(1 / 3600) * 1e5
    for line, read in angles.items():
        assert len(heights[line]) == len(read) + 1
        assert np.diff(heights[line], 2) == pytest.approx(factor * np.diff(read), abs=1e-5), line


def test_surface_plate_of_1955() -> None:
    """Closure 1.357477 units and range 178.411 µin: published. 175.371 and 163.673 µin: recomputed."""
    points = plate()
    assert len(points) == 126
    rows = {(row["line"], row["x_steps"], row["y_steps"]): row["height_10_microinch"]
            for row in rows_of("plate_1955_heights.csv")}  # fmt: skip
    closure = float(rows["E_W", "16", "5"]) - float(rows["NE_SE", "16", "5"])
    assert closure == pytest.approx(1.357477, abs=1e-6)
    assert np.ptp(points[:, 2]) / MICROINCH == pytest.approx(178.411, abs=5e-4)
    assert least_squares_range(points) / MICROINCH == pytest.approx(175.371, abs=5e-4)
    assert flatness(points).width / MICROINCH == pytest.approx(163.673, abs=5e-4)
    assert vertical_zone(points) / MICROINCH == pytest.approx(163.673, abs=5e-4)


@pytest.mark.parametrize(
    ("column", "width", "vertical", "touching"),
    [
        ("s1", math.sqrt(902_500 / 100_000_001), 0.095, (0, 5, 10)),
        ("s2_hump", 0.16, 0.16, (0, 1, 2, 3, 5, 7, 8, 9, 10)),
        ("s3_line", 0.0, 0.0, tuple(range(11))),
        ("s4", math.sqrt(40_000 / 9_000_001), 0.066666666667, (4, 6, 7)),
    ],
)
def test_constructed_lines(column: str, width: float, vertical: float, touching: tuple[int, ...]) -> None:
    """Constructed, closed forms; to 1e-14 mm."""
    zone = straightness(line_of(column))
    assert zone.width == pytest.approx(width, abs=1e-14)
    assert zone.touching == touching
    assert vertical_zone(line_of(column)) == pytest.approx(vertical, abs=5e-9)


@pytest.mark.parametrize(
    ("name", "width", "vertical", "least_squares"),
    [
        ("F1_twist4", 0.1, 0.1, 0.1),
        ("F2_grid9", math.sqrt(722_500 / 100_000_017), 0.085, 0.09),
        ("F3_tilt9", 0.084999720776, 0.085, 0.09),
        ("F4_sphere", 1 / math.sqrt(3), 1, 1),
        ("F5_cubecorners", 1, 1, 1),
    ],
)
def test_constructed_planes(name: str, width: float, vertical: float, least_squares: float) -> None:
    """Constructed, closed forms but for F3 (recomputed); the last shows that a steep plane needs the square width."""
    points = plane_of(name)
    assert flatness(points).width == pytest.approx(width, abs=5e-13)
    assert vertical_zone(points) == pytest.approx(vertical, abs=5e-9)
    assert least_squares_range(points) == pytest.approx(least_squares, abs=5e-9)


def test_nist_norris_is_steep() -> None:
    """Points published (NIST), zones recomputed: at a slope near 1 the vertical width is 1.41 times the square one."""
    zone = straightness(norris())
    assert zone.width == pytest.approx(2.805906716310, abs=5e-13)
    assert vertical_zone(norris()) == pytest.approx(3.969354349803, abs=5e-9)
    assert least_squares_range(norris()) == pytest.approx(4.142163981540, abs=5e-11)


def test_nist_pontius_is_long() -> None:
    """Points of the NIST Pontius set (memory), zone recomputed: x reaches 3 million, the zone is 0.0066."""
    up = (
        ".11019 .21956 .32949 .43899 .54803 .65694 .76562 .87487 .98292 1.09146 1.20001 1.30822 1.41599 1.52399 "
        "1.63194 1.73947 1.84646 1.95392 2.06128 2.16844 .11052 .22018 .32939 .43886 .54798 .65739 .76596 .87474 "
        ".98300 1.09150 1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829"
    )
    load = np.tile(np.arange(1, 21) * 150_000.0, 2)
    points = np.column_stack([load, [float(text) for text in up.split()]])
    zone = straightness(points)
    assert zone.width == pytest.approx(0.006639473684, abs=5e-13)
    assert [load[index] for index in zone.touching] == [150_000, 1_650_000, 3_000_000]
    assert vertical_zone(points) == pytest.approx(0.006639473684, abs=5e-9)
    assert least_squares_range(points) == pytest.approx(0.006696127820, abs=5e-13)


def test_gum_h3_thermometer() -> None:
    """Points of JCGM 100:2008, H.3, table H.6 (memory): corrections of a thermometer; zone recomputed."""
    reading = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    correction = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    zone = straightness(np.column_stack([reading, correction]))
    assert zone.width == pytest.approx(0.008733044913531, abs=1e-14)
