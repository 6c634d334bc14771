"""What remedies would do: heights of both couplers after a combination, as a normal of two."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from carwright.explain.latent import Array, spread_of
from carwright.explain.levers import ENDS, INDEX, SLOTS, Slot
from carwright.explain.model import Model
from carwright.explain.observed import weights
from carwright.explain.options import Act, Structure
from carwright.explain.posterior import truncated_moments
from carwright.explain.shares import executions


@dataclass(frozen=True)
class After:
    """Both couplers after the remedies whose amount is not chosen, and what chosen amounts add.

    Attributes
    ----------
    mean : Array
        Heights over the design at A and B, shape (2,) [mm].
    covariance : Array
        Of them, the execution of all remedies included, shape (2, 2) [mm²].
    before : Array
        The same without the execution of remedies whose amount is chosen: what a reading between would see [mm²].
    lift : dict
        For each chosen act what one millimetre of it does to both couplers, shape (2,) [-].
    droop : dict
        Mean and standard deviation of each end's droop [mm].
    uncertain : bool
        Whether something is set anew, so that measuring before the last amounts pays.
    """

    mean: Array
    covariance: Array
    before: Array
    lift: dict[int, Array]
    droop: dict[str, tuple[float, float]]
    uncertain: bool


class Predictor:
    """Predicts combinations for one car at its last stage; what does not depend on amounts is kept.

    A remedy done on this car before is predicted with the spread it showed.
    """

    def __init__(self, model: Model) -> None:
        stage = len(model.history.stages) - 1
        self.model = model
        self.rows = np.array([weights(model.levers.coupler(end)) for end in ENDS])
        state = model.latent.at(stage)
        self.state_mean = state @ model.posterior.mean
        self.state_covariance = state @ model.posterior.covariance @ state.T
        told = [each for each in executions(model) if not each.what.startswith("frame.shape")]
        self._spread = {each.remedy: each.spread_now for each in told if each.spread > 0}
        self._held: dict[tuple[tuple[Slot, float, float, bool], ...], tuple[Array, Array]] = {}

    def after(self, structure: Structure) -> After:
        """Heights after a combination, amounts still open."""
        anew: list[tuple[Slot, float, float, bool]] = []
        lift: dict[int, Array] = {}
        executed = np.zeros((2, 2))
        for number, act in enumerate(structure.acts):
            if act.adjustable:
                column = act.sign * self.rows[:, INDEX[_shifted(act)]]
                lift[number] = column
                executed += np.outer(column, column) * self._spread.get(act.remedy.id, act.remedy.spread) ** 2
                continue
            anew += self._anew(act)
        key = tuple(sorted(anew))
        if key not in self._held:
            self._held[key] = self._set(key)
        mean, covariance = self._held[key]
        droop = {}
        for end in ENDS:
            index = INDEX["coupler.droop", end]
            droop[end] = (
                float(self.state_mean[index]),
                math.sqrt(max(float(self.state_covariance[index, index]), 0.0)),
            )
        for slot, new, spread, cut in anew:
            if slot[0] == "coupler.droop":
                droop[slot[1]] = _cut(new, spread, cut=cut)
        return After(mean, covariance + executed, covariance, lift, droop, uncertain=bool(anew))

    def _set(self, anew: tuple[tuple[Slot, float, float, bool], ...]) -> tuple[Array, Array]:
        """Mean and covariance of both heights with some contributions set anew."""
        kept = np.ones(len(SLOTS))
        mean_add, covariance_add = np.zeros(2), np.zeros((2, 2))
        for slot, new, spread, cut in anew:
            column = self.rows[:, INDEX[slot]]
            kept[INDEX[slot]] = 0.0
            centre, u = _cut(new, spread, cut=cut)
            mean_add += column * centre
            covariance_add += np.outer(column, column) * u * u
        rows = self.rows * kept
        return rows @ self.state_mean + mean_add, rows @ self.state_covariance @ rows.T + covariance_add

    def _anew(self, act: Act) -> list[tuple[Slot, float, float, bool]]:
        """Contributions an act sets anew: slot, mean, standard deviation, cut off at zero."""
        found = []
        spreads = self.model.spreads
        for shift in act.remedy.shifts:
            for slot in SLOTS:
                if slot[0] != shift.what or not _reaches(slot, act):
                    continue
                mean = shift.factor * act.amounts[0]
                spread = spread_of(self._spread.get(act.remedy.id, act.remedy.spread), shift.what)
                if shift.what == "wheel.diameter":
                    designed = self.model.history.geometry["wheel_diameter"]
                    mean = (act.amounts[0] - designed) / 2
                if shift.mode == "~":
                    spread = spreads.alone(shift.what)
                    mean += spreads.of(shift.what)[0]
                found.append((slot, mean, spread, slot[0] == "coupler.droop"))
        return found


def _shifted(act: Act) -> Slot:
    what = next(shift.what for shift in act.remedy.shifts if shift.mode == "+")
    return (what, act.at)


def _reaches(slot: Slot, act: Act) -> bool:
    return act.at in {"", "all"} or not slot[1] or slot[1][0] == act.at


def _cut(mean: float, spread: float, *, cut: bool) -> tuple[float, float]:
    if not cut:
        return mean, spread
    centre, variance = truncated_moments(mean, spread**2)
    return centre, math.sqrt(variance)
