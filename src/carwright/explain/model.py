"""The model of one car: its levers, its unknowns, every observation, and the posterior."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from carwright.explain.latent import Array, Latent, Spreads, latent_of, spreads_of
from carwright.explain.levers import Levers, Row, levers_of
from carwright.explain.observed import Observation, observations_of, row_at
from carwright.explain.posterior import Posterior, solve
from carwright.history import History, Profile
from carwright.measure.frame import BELIEVABLE, FrameShape, frame_shape
from carwright.words import Vocabulary


@dataclass(frozen=True)
class Model:
    """Everything known of a car's coupler heights.

    Attributes
    ----------
    history : History
        What was seen and done.
    words : Vocabulary
        Remedies and contributions.
    levers, spreads, latent
        Geometry, priors and unknowns.
    frames : mapping
        Shape of the frame by stage.
    observations : list of Observation
        All that bears on it.
    posterior : Posterior
        The unknowns after them.
    total, residual : Array
        Covariance and size of the residuals before the update, for naming readings that disagree.
    """

    history: History
    words: Vocabulary
    levers: Levers
    spreads: Spreads
    latent: Latent
    frames: Mapping[int, FrameShape]
    observations: list[Observation]
    posterior: Posterior
    total: Array
    residual: Array

    def row(self, contributions: Row, stage: int) -> Array:
        """A row of contributions at a stage, over the unknowns."""
        return row_at(contributions, stage, self.latent)

    def estimate(self, row: Array) -> tuple[float, float]:
        """Mean and standard deviation of a combination of unknowns [mm]."""
        variance = float(row @ self.posterior.covariance @ row)
        return float(row @ self.posterior.mean), float(np.sqrt(max(variance, 0.0)))


@lru_cache(maxsize=64)
def _shape(profiles: tuple[Profile, ...], half: float, width: float, believable: float) -> FrameShape:
    return frame_shape(profiles, half_span=half, width=width, believable=believable)


def frames_of(history: History) -> dict[int, FrameShape]:
    """Shape of the frame at each stage a profile was read in."""
    known = history.geometry
    span = known.get("truck_centers") or known.get("wheelbase")
    found = {}
    for stage in sorted({profile.stage for profile in history.profiles}):
        own = [profile for profile in history.profiles if profile.stage == stage]
        half = span / 2 if span else max(max(map(abs, profile.stations)) for profile in own) or 1.0
        found[stage] = own, half
    width = known.get("body_width", 0.0)
    believable = BELIEVABLE * 25.4 / history.scale.ratio
    return {stage: _shape(tuple(own), half, width, believable) for stage, (own, half) in found.items()}


def model_of(
    history: History, words: Vocabulary, *, designed: float, factors: dict[str, float] | None = None
) -> Model | str:
    """The model, or what the sheet lacks for it, in words.

    Parameters
    ----------
    history : History
        The car's.
    words : Vocabulary
        Contributions and remedies.
    designed : float
        Coupler height as the maker designed it; the clause's nominal where the sheet does not say [mm].
    factors : mapping, optional
        What to stretch priors by [-].
    """
    levers = levers_of(history)
    if isinstance(levers, str):
        return levers
    spreads = spreads_of(history, words, factors)
    latent = latent_of(history, words, levers, spreads)
    frames = frames_of(history)
    observations = observations_of(history, levers, latent, spreads, frames, designed)
    mean, covariance = latent.prior()
    size = len(mean)
    rows = np.array([_padded(each.row, size) for each in observations]).reshape(-1, size)
    values = np.array([each.value for each in observations])
    u = np.array([each.u for each in observations])
    known = np.array([name.startswith(("calibration", "bench")) for name in latent.names])
    known[[index for index in latent.done if index < len(known)]] = True
    designs = [index for index, name in enumerate(latent.names) if name.startswith("design of")]
    posterior = solve(mean, covariance, rows, values, u, latent.bounded, known=known, free=designs)
    total = rows @ covariance @ rows.T + np.diag(u**2)
    return Model(history, words, levers, spreads, latent, frames, observations, posterior, total, values - rows @ mean)


def _padded(row: Array, size: int) -> Array:
    return np.concatenate([row, np.zeros(size - len(row))])
