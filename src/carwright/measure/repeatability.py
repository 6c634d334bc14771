"""What repeats are worth, and what rounding adds that repeats cannot take away.

The display shows ``round(x + noise)``. Its scatter at one place has variance σ² + (r²/12)(1 − ρ), and the rounding
error common to all repeats has variance (r²/12) ρ, where r is the resolution, σ the noise before rounding and

    ρ(σ/r) = (6/π²) Σ_k exp(−4π²k²(σ/r)²)/k²

is the correlation of two rounding errors at one place (the Fourier series of the rounding error, averaged over where
the true value lies between two steps). So the scatter seen already holds the rounding that repeats average out,
and only the common part is added: nothing is counted twice (GUM F.2.2.1), and where rounding hides the noise
entirely, ρ is 1 and the whole step counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

_WIDE = 1.0
"""Scatter in steps from which the common rounding is under 1e-17 of a step's variance."""


def pooled_repeatability(values: Sequence[float], *, repeatability: float, dof: float) -> tuple[float, float]:
    """Pool the scatter of repeats with the instrument's own record.

    DESIGN §5: s_p² = (ν₀ s₀² + (n − 1) s²)/(ν₀ + n − 1).

    Parameters
    ----------
    values : sequence of float
        n ≥ 1 repeats at one place [inside unit].
    repeatability : float
        s₀ > 0, the instrument's standard deviation of one reading [inside unit].
    dof : float
        ν₀ > 0, what s₀ is worth [-].

    Returns
    -------
    tuple[float, float]
        s_p [inside unit] and ν₀ + n − 1 [-]; s_p is above zero even where all repeats are equal.

    Raises
    ------
    ValueError
        "repeatability and dof must be > 0, got 0.0 and 5.0"
    """
    if not (repeatability > 0 and dof > 0):
        msg = f"repeatability and dof must be > 0, got {repeatability} and {dof}"
        raise ValueError(msg)
    n = len(values)
    mean = math.fsum(values) / n
    squares = math.fsum((value - mean) ** 2 for value in values)
    pooled_dof = dof + n - 1
    return math.sqrt((dof * repeatability**2 + squares) / pooled_dof), pooled_dof


def rounding_correlation(noise: float) -> float:
    """ρ for noise σ in steps [-]: 1 without noise, 0.005 at half a step."""
    if noise >= _WIDE:
        return 0.0
    rate = 4 * math.pi**2 * noise**2
    total, k = 0.0, 1
    while k * k * rate < 40:  # noqa: PLR2004 - exp(-40) is nothing
        total += math.exp(-k * k * rate) / k**2
        k += 1
        if k > 400:  # noqa: PLR2004 - the tail of Σ1/k² from here is 1/400
            total += 1 / k
            break
    return min(1.0, total * 6 / math.pi**2)


@lru_cache(maxsize=4096)
def _share_at(scatter: float) -> float:
    """ρ for a scatter in steps, by bisection on the noise that gives it."""
    low, high = 0.0, scatter
    for _ in range(40):
        noise = (low + high) / 2
        if noise**2 + (1 - rounding_correlation(noise)) / 12 < scatter**2:
            low = noise
        else:
            high = noise
    return rounding_correlation((low + high) / 2)


def rounding_share(scatter: float, *, resolution: float) -> float:
    """Share ρ of the rounding variance that is common to all repeats at one place.

    Parameters
    ----------
    scatter : float
        Standard deviation of readings as displayed [inside unit].
    resolution : float
        Step of the display, > 0 [inside unit].

    Returns
    -------
    float
        Between 0 (noise spans many steps) and 1 (all readings equal) [-].
    """
    steps = scatter / resolution
    return 0.0 if steps > math.sqrt(_WIDE**2 + 1 / 12) else _share_at(round(steps, 3))
