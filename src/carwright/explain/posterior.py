"""The posterior of a linear–Gaussian model whose droops cannot be negative, and whether its readings agree."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from carwright.explain.latent import Array
from carwright.measure.distributions import chi_square_tail

_SWEEPS = 30
_SQRT2 = math.sqrt(2)
_SQRT2PI = math.sqrt(2 * math.pi)
DISAGREE = 3.0
MISFIT = 0.005


@dataclass(frozen=True)
class Posterior:
    """Unknowns after all readings.

    Attributes
    ----------
    mean, covariance : Array
        Of all unknowns, droops cut off at zero, shapes (n,) and (n, n) [mm, mm²].
    prior_mean, prior_covariance : Array
        Before any reading, droops cut off at zero.
    chi2, dof : float, int
        Whitened residuals against the prior, those that speak of droop alone left out [-].
    p : float
        Probability of residuals as large [-].
    standard : tuple[float, ...]
        Each observation's residual from what all others say, in its standard uncertainties [-].
    loose : Array
        Covariance had every belief about the car been twice as wide, none cut off, shape (n, n) [mm²].
    """

    mean: Array
    covariance: Array
    prior_mean: Array
    prior_covariance: Array
    chi2: float
    dof: int
    p: float
    standard: tuple[float, ...]
    loose: Array


def truncated_moments(mean: float, variance: float) -> tuple[float, float]:
    """Mean and variance of a normal cut off below zero [mm, mm²]."""
    s = math.sqrt(variance)
    alpha = -mean / s
    if alpha > _TAIL:  # Mills' ratio by its asymptotic series (Abramowitz and Stegun 26.2.12)
        above = (1 / alpha - 2 / alpha**3 + 10 / alpha**5) * s
        return above, variance * (1 / alpha**2 - 6 / alpha**4 + 50 / alpha**6)
    tail = 0.5 * math.erfc(alpha / _SQRT2)
    ratio = math.exp(-alpha * alpha / 2) / _SQRT2PI / tail
    return mean + s * ratio, variance * (1 + alpha * ratio - ratio * ratio)


_TAIL = 20.0
_TOGETHER = 0.1
_NODES = 48
"""Two bounded unknowns more correlated than this are cut off together, by quadrature with so many nodes."""


def bounded(mean: Array, covariance: Array, indices: Sequence[int]) -> tuple[Array, Array]:
    """Cut unknowns off at zero: each gets a normal factor that gives it the right moments (expectation propagation).

    Exact for one bounded unknown, and for several that are independent; two that are correlated are then cut off
    together, exactly.

    Parameters
    ----------
    mean, covariance : Array
        Of all unknowns, shapes (n,) and (n, n) [mm, mm²].
    indices : sequence of int
        Those that cannot be negative.
    """
    if not indices:
        return mean, covariance
    base_mean, base = mean, covariance
    precision, weighted = dict.fromkeys(indices, 0.0), dict.fromkeys(indices, 0.0)
    for _ in range(_SWEEPS):
        moved = 0.0
        for index in indices:
            variance = float(covariance[index, index])
            rest = 1 / variance - precision[index]
            if rest <= 0 or variance <= 0:
                continue
            own_variance = 1 / rest
            own_mean = own_variance * (float(mean[index]) / variance - weighted[index])
            wanted_mean, wanted = truncated_moments(own_mean, own_variance)
            new, new_weighted = 1 / wanted - rest, wanted_mean / wanted - rest * own_mean
            moved = max(moved, abs(wanted_mean - float(mean[index])) / math.sqrt(variance))
            precision[index], weighted[index] = new, new_weighted
            mean, covariance = _with_factors(base_mean, base, precision, weighted)
        if moved < 1e-9:  # noqa: PLR2004 - nothing moves any more
            break
    return _pair_exactly(base_mean, base, mean, covariance, precision, weighted)


def _pair_exactly(
    base_mean: Array,
    base: Array,
    mean: Array,
    covariance: Array,
    precision: dict[int, float],
    weighted: dict[int, float],
) -> tuple[Array, Array]:
    """Mend the two most correlated bounded unknowns: their moments by quadrature, the others' factors kept."""
    indices = list(precision)
    pairs = [(i, j) for number, i in enumerate(indices) for j in indices[number + 1 :]]
    if not pairs:
        return mean, covariance

    def together(pair: tuple[int, int]) -> float:
        i, j = pair
        return abs(float(base[i, j])) / math.sqrt(float(base[i, i] * base[j, j]) or 1.0)

    first, second = max(pairs, key=together)
    if together((first, second)) < _TOGETHER:
        return mean, covariance
    rest = [index for index in indices if index not in {first, second}]
    kept_mean, kept = _with_factors(
        base_mean, base, {index: precision[index] for index in rest}, {index: weighted[index] for index in rest}
    )
    own = [first, second]
    two = kept[own][:, own]
    wanted_mean, wanted = _both_above_zero(kept_mean[own], two)
    gain = np.linalg.solve(two, kept[own]).T
    after = kept - gain @ (two - wanted) @ gain.T
    return kept_mean + gain @ (wanted_mean - kept_mean[own]), (after + after.T) / 2


def _log_cdf(z: float) -> float:
    """Logarithm of Φ, by its asymptotic series far below zero (Abramowitz and Stegun 26.2.12)."""
    if z > -_TAIL:
        return math.log(0.5 * math.erfc(-z / _SQRT2))
    return -z * z / 2 - math.log(-z * _SQRT2PI) + math.log1p(-1 / z**2 + 3 / z**4)


@lru_cache(maxsize=1)
def _quadrature() -> tuple[Array, Array]:
    found: tuple[Array, Array] = np.polynomial.legendre.leggauss(_NODES)
    return found


def _both_above_zero(mean: Array, covariance: Array) -> tuple[Array, Array]:
    """Mean and covariance of two normals that are both above zero, by quadrature over the first."""
    m, own = float(mean[0]), float(covariance[0, 0])
    slope = float(covariance[0, 1]) / own
    left = float(covariance[1, 1]) - slope * float(covariance[0, 1])
    root = math.sqrt(max(left, 1e-18))

    def log_density_at(x: float) -> float:
        return -((x - m) ** 2) / (2 * own) + _log_cdf((float(mean[1]) + slope * (x - m)) / root)

    below = max(0.0, -float(mean[1]))
    # the second pulls the first up no further than to its own zero, nor by more than Mills' ratio there
    pull = min((below + 3 * root) / slope, own * slope / root * (below / root + 1)) if slope > 0 else 0.0
    top = max(0.0, m + pull)
    low, high = _where_it_lies(log_density_at, top, math.sqrt(own))
    nodes, weights = _quadrature()
    x = low + (high - low) * (nodes + 1) / 2
    means = float(mean[1]) + slope * (x - m)
    log_density = np.array([log_density_at(float(each)) for each in x])
    density = weights * np.exp(log_density - log_density.max())
    density /= density.sum()
    moments = np.array([truncated_moments(float(each), root * root) for each in means])
    y, y_variance = moments[:, 0], moments[:, 1]
    first, second = float(density @ x), float(density @ y)
    cross = float(density @ (x * y)) - first * second
    return np.array([first, second]), np.array(
        [
            [float(density @ (x * x)) - first * first, cross],
            [cross, float(density @ (y_variance + y * y)) - second * second],
        ]
    )


def _where_it_lies(log_density: Callable[[float], float], top: float, step: float) -> tuple[float, float]:
    """Where above zero a log-concave density is more than e⁻³⁰ of its greatest, which lies at most a step over top."""
    low, high = 0.0, top + step
    for _ in range(_HALVINGS):
        one, other = low + (high - low) * _GOLDEN, high - (high - low) * _GOLDEN
        if log_density(one) < log_density(other):
            low = one
        else:
            high = other
    mode = (low + high) / 2
    least = log_density(mode) - _DROP

    def edge(inside: float, outside: float) -> float:
        for _ in range(_HALVINGS):
            middle = (inside + outside) / 2
            inside, outside = (middle, outside) if log_density(middle) > least else (inside, middle)
        return outside

    while log_density(mode + step) > least:
        step *= 2
    return (0.0 if log_density(0.0) > least else edge(mode, 0.0)), edge(mode, mode + step)


_GOLDEN = (3 - math.sqrt(5)) / 2
_HALVINGS = 12
_DROP = 30.0


def _with_factors(
    mean: Array, covariance: Array, precision: dict[int, float], weighted: dict[int, float]
) -> tuple[Array, Array]:
    """Multiply a normal by one-dimensional normal factors."""
    own = [index for index, value in precision.items() if value > 0]
    if not own:
        return mean, covariance
    p = np.array([precision[index] for index in own])
    h = np.array([weighted[index] for index in own])
    columns = covariance[:, own]
    gain = np.linalg.solve(np.diag(1 / p) + columns[own], columns.T).T
    after = covariance - gain @ columns.T
    return mean + after[:, own] @ h - gain @ mean[own], after


def solve(
    mean: Array,
    covariance: Array,
    rows: Array,
    values: Array,
    u: Array,
    cut: Sequence[int],
    *,
    known: Array | None = None,
    free: Sequence[int] = (),
) -> Posterior:
    """Posterior of the unknowns.

    Parameters
    ----------
    mean, covariance : Array
        Prior before it is cut off, shapes (n,) and (n, n) [mm, mm²].
    rows : Array
        One row per observation, shape (m, n).
    values, u : Array
        Observed, and its own standard uncertainty > 0, shape (m,) [mm].
    cut : sequence of int
        Unknowns that cannot be negative.
    known : Array, optional
        True where an unknown's spread is no belief about the car (an instrument's calibration), shape (n,).
    free : sequence of int
        Unknowns without a real prior: designs the sheet does not give.
    """
    prior_mean, prior = bounded(mean, covariance, cut)
    if not len(values):
        return Posterior(prior_mean, prior, prior_mean, prior, 0.0, 0, 1.0, (), 4 * prior)
    spread = rows @ covariance
    total = spread @ rows.T + np.diag(u**2)
    residual = values - rows @ mean
    gain = np.linalg.solve(total, spread).T
    after_mean = mean + gain @ residual
    after = covariance - gain @ spread
    after_mean, after = bounded(after_mean, (after + after.T) / 2, cut)
    chi2, dof = _misfit(total, residual, rows[:, [*cut, *free]])
    p = chi_square_tail(chi2, dof) if dof > 0 else 1.0
    stretch = np.where(known, 1.0, 2.0) if known is not None else np.full(len(mean), 2.0)
    wide = covariance * np.outer(stretch, stretch)
    spread = rows @ wide
    loose = wide - spread.T @ np.linalg.solve(spread @ rows.T + np.diag(u**2), spread)
    return Posterior(after_mean, after, prior_mean, prior, chi2, dof, p, _standard(total, residual), loose)


def _misfit(total: Array, residual: Array, droops: Array) -> tuple[float, int]:
    """χ² of the residuals, whatever droops and unknown designs are: their part is projected out, being no normal."""
    inverse = np.linalg.inv(total)
    chi2 = float(residual @ inverse @ residual)
    if droops.shape[1]:
        weight = droops.T @ inverse @ droops
        rank = int(np.linalg.matrix_rank(weight))
        pulled = droops.T @ inverse @ residual
        chi2 -= float(pulled @ np.linalg.pinv(weight) @ pulled)
        return max(0.0, chi2), len(residual) - rank
    return chi2, len(residual)


def _standard(total: Array, residual: Array) -> tuple[float, ...]:
    """Each residual from its prediction by all the others: (S⁻¹r)ᵢ / √(S⁻¹)ᵢᵢ."""
    inverse = np.linalg.inv(total)
    pulled = inverse @ residual
    return tuple(float(each) for each in pulled / np.sqrt(np.diag(inverse)))


def partner(total: Array, residual: Array, index: int) -> int | None:
    """The other observation without which this one disagrees least, None where there is no other.

    Parameters
    ----------
    total : Array
        Covariance of the residuals, shape (m, m) [mm²].
    residual : Array
        Shape (m,) [mm].
    index : int
        The one that disagrees.
    """
    best, least = None, math.inf
    for other in range(len(residual)):
        if other == index:
            continue
        kept = [each for each in range(len(residual)) if each != other]
        standard = _standard(total[np.ix_(kept, kept)], residual[kept])
        z = abs(standard[kept.index(index)])
        if z < least:
            best, least = other, z
    return best
