"""Straightness and flatness as the minimum zone (ISO 1101): the narrowest pair of parallel lines or planes about a set.

Only corners of the convex hull can touch the zone, and while a zone turns about its contacts its width has no minimum:
the narrowest zone is held by an edge and a corner (lines), by a facet and a corner or by two edges (planes). All of
these are tried, so the answer is exact but for rounding. Which of them face one another does not change when the axes
are stretched; the search therefore runs on the set stretched to like spread along its principal axes, where a bow of
0.01 mm over 300 mm is as thick as it is long. NumPy and SciPy are imported when first asked for.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SEED = 20_261_125
_ROUNDING = 64 * sys.float_info.epsilon
"""Widths below this share of the largest coordinate are rounding, and are 0 [-]."""
_TOUCHES = 1e-9
"""Share of the width within which a point touches a side: the rounding of a short edge grows with its lever [-]."""
_FEW = 200
"""Points up to which plain Python alone is quicker than loading SciPy [-]."""
_BLOCK = 20_000_000
"""Bytes of one block of candidates; what is derived from it about doubles that."""


@dataclass(frozen=True, slots=True)
class Zone:
    """A minimum zone.

    Attributes
    ----------
    width : float
        Distance of the two lines or planes, square to them (ISO 1101) [mm].
    touching : tuple[int, ...]
        Indices of the points that touch either side, sorted; all of them when the width is 0 [-].
    """

    width: float
    touching: tuple[int, ...]


def straightness(points: Array) -> Zone:
    """Narrowest zone between two parallel lines, ISO 1101 straightness in one plane.

    Parameters
    ----------
    points : array of shape (n, 2)
        Position along the line and height, n ≥ 2, in any order [mm].

    Returns
    -------
    Zone
        Width [mm] and touching points; width 0 for points on one line. Takes time in n log n.

    Raises
    ------
    ValueError
        "straightness needs two points or more in two columns, got shape (1, 2)";
        "points must be finite numbers, got nan at point 3"
    """
    stretched = _stretched(_checked(points, "straightness", "two", 2))
    return stretched if isinstance(stretched, Zone) else stretched.zone(_across_lines(stretched))


def flatness(points: Array) -> Zone:
    """Narrowest zone between two parallel planes, ISO 1101 flatness.

    Parameters
    ----------
    points : array of shape (n, 3)
        n ≥ 3, in any order [mm].

    Returns
    -------
    Zone
        Width [mm] and touching points; width 0 for points in one plane. Takes time in the square of the hull's edges,
        in blocks of less than 50 MB.

    Raises
    ------
    ValueError
        "flatness needs three points or more in three columns, got shape (2, 3)";
        "points must be finite numbers, got nan at point 3"
    """
    stretched = _stretched(_checked(points, "flatness", "three", 3))
    return stretched if isinstance(stretched, Zone) else stretched.zone(_across_planes(stretched))


def noise_bias(
    fitted: Array, points_u: Array, zone: Callable[[Array], Zone], *, draws: int = 400, seed: int = SEED
) -> tuple[float, float]:
    """How much the noise of the readings widens a minimum zone, by Monte Carlo (JCGM 101:2008).

    A zone is held by the most extreme points, so noise widens it: subtract the mean, and count the standard deviation
    into the uncertainty.

    Parameters
    ----------
    fitted : array of shape (n, 2) or (n, 3)
        Points on the smooth shape, without noise [mm].
    points_u : array of shape (n,)
        Standard uncertainty of the last coordinate of each point [mm].
    zone : callable
        ``straightness`` or ``flatness``.
    draws : int
        Sets of noise drawn, 2 or more; the standard error of the mean is the second result over √draws [-].
    seed : int
        Of the noise [-].

    Returns
    -------
    tuple of float
        Mean and standard deviation of the zone with noise less the zone without [mm].

    Raises
    ------
    ValueError
        "fitted must have two or three columns, got shape (5,)";
        "points_u must hold one value for each of 5 points, got shape (4,)";
        "points_u must be finite and not negative, got -0.1 at point 2"; "draws must be 2 or more, got 1"
    """
    import numpy as np  # noqa: PLC0415 - loaded only where a set of points is judged

    smooth, u = np.asarray(fitted, dtype=float), np.asarray(points_u, dtype=float)
    if smooth.ndim != 2 or smooth.shape[1] not in {2, 3}:  # noqa: PLR2004 - a line lies in two columns, a plane in three
        raise ValueError(f"fitted must have two or three columns, got shape {smooth.shape}")
    if u.shape != smooth.shape[:1]:
        raise ValueError(f"points_u must hold one value for each of {len(smooth)} points, got shape {u.shape}")
    wrong = np.flatnonzero(~(np.isfinite(u) & (u >= 0)))
    if wrong.size:
        raise ValueError(f"points_u must be finite and not negative, got {u[wrong[0]]:g} at point {wrong[0]}")
    if draws < 2:  # noqa: PLR2004 - one draw has no standard deviation
        raise ValueError(f"draws must be 2 or more, got {draws}")
    quiet = zone(smooth).width
    generator = np.random.Generator(np.random.PCG64(seed))
    gained = np.empty(draws)
    for number in range(draws):
        noisy = smooth.copy()
        noisy[:, -1] += u * generator.standard_normal(len(u))
        gained[number] = zone(noisy).width - quiet
    return float(gained.mean()), float(gained.std(ddof=1))


@dataclass(frozen=True, slots=True)
class _Stretched:
    """A set with like spread along its principal axes.

    Attributes
    ----------
    points : array of shape (n, d)
        Stretched points [-].
    spreads : array of shape (d,)
        Of the set along its axes, in units of its extent [-].
    axes : array of shape (d, d)
        Principal axes as rows; points * spreads @ axes is the set again [-].
    extent : float
        Half the longest side of the box around the set [mm].
    slack : float
        Rounding of the coordinates, in units of the extent [-].
    """

    points: Array
    spreads: Array
    axes: Array
    extent: float
    slack: float

    def lengths(self, normals: Array) -> Array:
        """Lengths in true shape of normals of the stretched set: divided by them, spreads are true [-]."""
        import numpy as np  # noqa: PLC0415 - see above

        lengths: Array = np.linalg.norm(normals / self.spreads, axis=-1)
        return lengths

    def zone(self, normal: Array) -> Zone:
        """Zone of the whole set across a normal of the stretched set."""
        import numpy as np  # noqa: PLC0415 - see above

        heights = self.points @ (normal / self.lengths(normal))
        low, high = heights.min(), heights.max()
        near = self.slack + _TOUCHES * (high - low)
        touching = np.flatnonzero((heights - low <= near) | (high - heights <= near))
        return Zone(float(high - low) * self.extent, tuple(touching.tolist()))


def _checked(points: Array, what: str, count: str, columns: int) -> Array:
    """Points as an array of numbers, refused in words where they are no such set."""
    import numpy as np  # noqa: PLC0415 - see above

    found = np.asarray(points, dtype=float)
    if found.ndim != 2 or found.shape[1] != columns or len(found) < columns:  # noqa: PLR2004 - rows and columns
        raise ValueError(f"{what} needs {count} points or more in {count} columns, got shape {found.shape}")
    wrong = np.argwhere(~np.isfinite(found))
    if wrong.size:
        raise ValueError(f"points must be finite numbers, got {found[tuple(wrong[0])]:g} at point {wrong[0][0]}")
    return found


def _stretched(points: Array) -> _Stretched | Zone:
    """The set stretched, or its zone of width 0 when it has no thickness to stretch."""
    import numpy as np  # noqa: PLC0415 - see above

    columns = np.asfortranarray(points)  # each coordinate in one piece, for speed
    shifted = columns - (columns.min(axis=0) / 2 + columns.max(axis=0) / 2)
    extent = float(np.abs(shifted).max())
    if extent == 0:
        return Zone(0.0, tuple(range(len(points))))
    shifted /= extent
    shifted -= shifted.mean(axis=0)
    slack = _ROUNDING * float(np.abs(points).max()) / extent
    _, spreads, axes = np.linalg.svd(np.linalg.qr(shifted, mode="r"))
    if np.ptp(shifted @ axes[-1]) <= slack:
        return Zone(0.0, tuple(range(len(points))))
    spreads /= math.sqrt(len(points))
    return _Stretched(shifted @ (axes.T / spreads), spreads, axes, extent, slack)


def _across_lines(stretched: _Stretched) -> Array:
    """Normal of the narrowest zone of a set in the plane: every hull edge against the corner farthest from it."""
    import numpy as np  # noqa: PLC0415 - see above

    corners = _corners(stretched.points)
    edges = np.roll(corners, -1, axis=0) - corners
    angles = np.arctan2(edges[:, 1], edges[:, 0])
    first = int(angles.argmin())
    corners, edges, angles = (np.roll(each, -first, axis=0) for each in (corners, edges, angles))
    # Anticlockwise, the angles of the edges rise: the corner farthest from an edge stands where they pass half a turn
    # more. Its two neighbours are tried with it, for angles that differ by their rounding only.
    turned = np.where(angles < 0, angles + math.pi, angles - math.pi)
    opposite = np.searchsorted(angles, turned)
    normals = np.column_stack([-edges[:, 1], edges[:, 0]])
    farthest = np.max(
        [np.einsum("ij,ij->i", normals, corners[(opposite + step) % len(corners)] - corners) for step in (-1, 0, 1)],
        axis=0,
    )
    narrowest: Array = normals[int(np.argmin(farthest / stretched.lengths(normals)))]
    return narrowest


def _corners(points: Array) -> Array:
    """Corners of the convex hull of a set in the plane that is not on one line, anticlockwise."""
    import numpy as np  # noqa: PLC0415 - see above

    if len(points) > _FEW:
        from scipy.spatial import ConvexHull  # noqa: PLC0415 - only many points are worth loading it

        points = points[ConvexHull(points).vertices]  # convex to rounding; the chain makes it strictly so
    ordered = sorted(set(map(tuple, points.tolist())))
    chains = []
    for row in (ordered, ordered[::-1]):
        chain: list[tuple[float, ...]] = []
        for point in row:
            while len(chain) > 1 and not _turns_left(chain[-2], chain[-1], point):
                chain.pop()
            chain.append(point)
        chains += chain[:-1]
    return np.array(chains)


def _turns_left(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> bool:
    """Whether a, b, c turn left; in whole fractions where rounding could hide it."""
    one, other = (b[0] - a[0]) * (c[1] - a[1]), (b[1] - a[1]) * (c[0] - a[0])
    if abs(one - other) > 4 * sys.float_info.epsilon * (abs(one) + abs(other)):
        return one > other
    (ax, ay), (bx, by), (cx, cy) = (map(Fraction, point) for point in (a, b, c))
    return (bx - ax) * (cy - ay) > (by - ay) * (cx - ax)


def _across_planes(stretched: _Stretched) -> Array:
    """Normal of the narrowest zone of a set in space: every facet and every two edges that face one another."""
    import numpy as np  # noqa: PLC0415 - see above
    from scipy.spatial import ConvexHull  # noqa: PLC0415 - loaded only where a set of points is judged

    hull = ConvexHull(stretched.points)
    corners = stretched.points[hull.vertices]
    best: Array = corners[0]
    width = math.inf
    upright = np.ascontiguousarray(corners.T)
    for normals, bounds in _candidates(stretched, hull):
        hopeful = normals[bounds < width]
        rows = max(1, _BLOCK // (8 * len(corners)))
        for start in range(0, len(hopeful), rows):
            block = hopeful[start : start + rows]
            widths = np.ptp(_dots(block, upright), axis=1) / stretched.lengths(block)
            index = int(widths.argmin())
            if widths[index] < width:
                best, width = block[index], float(widths[index])
    return best


def _dots(rows: Array, columns: Array) -> Array:
    """Products of (n, 3) rows with (3, m) columns, in one thread: for three terms, waking others costs more."""
    import numpy as np  # noqa: PLC0415 - see above

    dots: Array = np.einsum("ik,kj->ij", rows, columns)
    return dots


def _candidates(stretched: _Stretched, hull: Any) -> Iterator[tuple[Array, Array]]:  # noqa: ANN401 - SciPy is not loaded for a type
    """Normals that may bound the narrowest zone, in blocks, each with a width [extent] its zone cannot go below."""
    import numpy as np  # noqa: PLC0415 - see above

    outward = hull.equations[:, :3]
    yield outward, np.zeros(len(outward))
    one, side = np.nonzero(np.arange(len(outward))[:, None] < hull.neighbors)
    ends = hull.simplices[one[:, None], np.array([[1, 2], [2, 0], [0, 1]])[side]]
    left, right = outward[one], outward[hull.neighbors[one, side]]
    foot = stretched.points[ends[:, 0]]
    along = stretched.points[ends[:, 1]] - foot
    # An edge supports the planes whose normals lie on the arc from its left to its right facet's normal; give it the
    # sense of that turn. Within one flat face the arc is a point, and the facet has been tried.
    along *= np.sign(np.einsum("ij,ij->i", np.cross(right, left), along))[:, None]
    real = along.any(axis=1)
    left, right, foot, along = left[real], right[real], foot[real], along[real]
    lefts, rights, alongs = (np.ascontiguousarray(each.T) for each in (left, right, along))
    rows = max(1, _BLOCK // (48 * max(1, len(along))))
    for start in range(0, len(along), rows):
        block, rest = slice(start, start + rows), slice(start, None)
        # Two edges face one another when the arc of one crosses the reversed arc of the other: each parts the ends of
        # the other, and they meet on the same side of the sphere.
        over_left, over_right = (_dots(along[block], columns[:, rest]) for columns in (lefts, rights))
        under_left, under_right = (_dots(normal[block], alongs[:, rest]) for normal in (left, right))
        facing = (over_left * over_right < 0) & (under_left * under_right < 0) & (over_left * under_right < 0)
        i, j = (index + start for index in np.nonzero(facing))
        normals = np.cross(along[i], along[j])
        lengths = stretched.lengths(normals)
        sound = lengths > 0
        gaps = np.abs(np.einsum("ij,ij->i", normals, foot[i] - foot[j]))
        yield normals[sound], gaps[sound] / lengths[sound]
