"""Speed of the minimum zones, beside a linear programme over the same points in the same run.

Machines differ and are shared: quote the ratios. The programme (HiGHS, its constraints built beforehand) finds the
least vertical width; on shapes as level as these it is the same width, which is printed so that both can be seen to
answer the same question.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from carwright.measure.minimum_zone import flatness, straightness

Array = NDArray[np.float64]

LINE = 100_000
"""Points on the line [-]."""
PLATE = 20_000
"""Points on the plate [-]."""
SEED = 20_261_125


def median_cpu(work: Callable[[], float], runs: int) -> tuple[float, float]:
    """Middle CPU seconds of several runs after one to warm up, and what the work returns."""
    result = work()
    taken = []
    for _ in range(runs):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return sorted(taken)[len(taken) // 2], result


def bowed_line(generator: np.random.Generator) -> Array:
    """A bow of 0.2 mm over 300 mm with noise of 0.01 mm."""
    x = generator.uniform(0, 300, LINE)
    return np.column_stack([x, 0.2 * (1 - (x / 150 - 1) ** 2) + generator.normal(0, 0.01, LINE)])


def bowed_plate(generator: np.random.Generator) -> Array:
    """The same bow on a plate 40 mm wide, and 0.05 mm across it."""
    x, y = generator.uniform(0, 300, PLATE), generator.uniform(0, 40, PLATE)
    bow = 0.2 * (1 - (x / 150 - 1) ** 2) + 0.05 * (1 - (y / 20 - 1) ** 2)
    return np.column_stack([x, y, bow + generator.normal(0, 0.01, PLATE)])


def programme(points: Array) -> Callable[[], float]:
    """Linear programme for the least vertical width about all the points, ready to run."""
    base = np.column_stack([np.ones(len(points)), points[:, :-1]])
    half = np.full((len(points), 1), 0.5)
    unknowns = base.shape[1] + 1
    above = np.vstack([np.hstack([-base, -half]), np.hstack([base, -half])])
    right = np.concatenate([-points[:, -1], points[:, -1]])
    cost = np.eye(unknowns)[-1]

    def solve() -> float:
        result = linprog(cost, A_ub=above, b_ub=right, bounds=[(None, None)] * unknowns, method="highs")
        if not result.success or result.x is None:
            raise RuntimeError(f"the linear programme found no zone: {result.message}")
        return float(result.x[-1])

    return solve


def compared(name: str, zone: Callable[[], float], solve: Callable[[], float]) -> str:
    """One line: both times, both widths, and the ratio."""
    ours, width = median_cpu(zone, 9)
    theirs, vertical = median_cpu(solve, 3)
    return (
        f"{name:<28} {ours * 1e3:7.1f} ms CPU  linear programme {theirs * 1e3:8.1f} ms  {theirs / ours:6.1f} x faster  "
        f"width {width:.6f} and {vertical:.6f} mm"
    )


def measure() -> list[str]:
    """Measure both zones.

    Returns
    -------
    list of str
        Lines to print.
    """
    generator = np.random.default_rng(SEED)
    line, plate = bowed_line(generator), bowed_plate(generator)
    return [
        compared(f"straightness, {LINE:,} points", lambda: straightness(line).width, programme(line)),
        compared(f"flatness, {PLATE:,} points", lambda: flatness(plate).width, programme(plate)),
    ]


if __name__ == "__main__":
    print("\n".join(measure()))
