"""Do the stated 95 % intervals hold the true value 95 times in 100? Simulated readings that really round.

Two questions for each kind of instrument:

- *preset*: its figures are a judgement worth five degrees of freedom. A bench then owns one instrument out of the
  population that judgement describes: the variance seen on the display is ν₀ s₀²/χ²(ν₀).
- *declared*: its owner took twenty readings of one thing and wrote down their standard deviation.

Every trial draws the truth between two steps of the display, a calibration error, one to three repeats, rounds them,
and asks the program for its interval. Nothing is discarded: readings that happen to be equal count like all others.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from carwright.history import Figures
from carwright.inspection import presets_of
from carwright.measure import knowledge
from carwright.measure.repeatability import rounding_correlation
from carwright.measure.values import observed
from carwright.tables import shipped

TRIALS = 20_000
_RECORD = 20


@dataclass(frozen=True, slots=True)
class Coverage:
    """Share of trials whose interval held the truth."""

    instrument: str
    mode: str
    trials: int
    equal: int
    held: float


def instruments() -> dict[str, Figures]:
    """One of each kind of instrument the tables know."""
    return {name: figures for (name, _), figures in presets_of(shipped()).items()}


def noise_of(scatter: float, resolution: float) -> float:
    """Noise before rounding whose display scatters by ``scatter``, by bisection."""
    low, high = 0.0, scatter
    for _ in range(60):
        noise = (low + high) / 2
        seen = noise**2 + (1 - rounding_correlation(noise / resolution)) * resolution**2 / 12
        low, high = (noise, high) if seen < scatter**2 else (low, noise)
    return (low + high) / 2


def trials(figures: Figures, mode: str, count: int, seed: int) -> Iterator[tuple[bool, bool]]:
    """For each trial whether its interval held the truth, and whether repeats were all equal."""
    generator = np.random.default_rng(seed)
    step = figures.resolution

    def shown(values: np.ndarray) -> np.ndarray:
        return np.round(values / step) * step

    for _ in range(count):
        truth = 1000 * step + step * generator.uniform(-0.5, 0.5)
        offset = figures.calibration * generator.standard_normal()
        own = figures
        if mode == "preset":
            scatter = figures.repeatability * np.sqrt(figures.dof / generator.chisquare(figures.dof))
            noise = noise_of(float(scatter), step)
        else:
            noise = noise_of(figures.repeatability, step)
            thing = 500 * step + step * generator.uniform(-0.5, 0.5)
            record = shown(thing + noise * generator.standard_normal(_RECORD))
            spread = float(record.std(ddof=1))
            own = replace(
                figures, repeatability=spread if spread > 0 else step / 4, dof=_RECORD - 1.0, basis="declared"
            )
        n = int(generator.integers(1, 4))
        seen = shown(truth + offset + noise * generator.standard_normal(n))
        state = knowledge(observed([float(value) for value in seen], own))
        yield abs(state.estimate - truth) <= state.half_width(), n > 1 and float(np.ptp(seen)) < step / 2


def coverage(name: str, mode: str, count: int = TRIALS) -> Coverage:
    """Coverage of one kind of instrument; the seed is made of its name and the mode.

    Parameters
    ----------
    name : str
        Of a preset.
    mode : str
        ``preset`` or ``declared``.
    count : int
        Trials.
    """
    results = list(trials(instruments()[name], mode, count, zlib.crc32(f"{name} {mode}".encode())))
    held = sum(good for good, _ in results) / count
    return Coverage(name, mode, count, sum(equal for _, equal in results), held)
