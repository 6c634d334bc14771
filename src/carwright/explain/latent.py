"""The unknowns of a car: what every contribution was as received, what each work did, and what instruments add.

Contributions are deviations from the maker's design [mm]. The state after a work is a linear map of the unknowns: a
work adds an unknown of its own (its execution), sets a contribution anew, or exchanges the ends.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from carwright.explain.levers import ENDS, INDEX, SLOTS, Levers, Slot, ends_of
from carwright.history import History, Work
from carwright.words import Contribution, Shift, Vocabulary

Array = NDArray[np.float64]

_WIDE = 20.0
"""Spread of a design dimension the sheet does not give [scale in]."""
_SPRINGS = 0.2
"""Relative uncertainty of a stated spring rate: judgement [-]."""


@dataclass
class Latent:
    """Prior of the unknowns, grown one by one.

    Attributes
    ----------
    names : list of str
        What each unknown is.
    mean : list of float
        Prior means, before any is cut off at zero [mm].
    blocks : list of (indices, covariance)
        Prior covariance, block by block [mm²].
    bounded : list of int
        Unknowns nature keeps at zero or above.
    stages : list of Array
        For each stage the map from unknowns to contributions, shape (len(SLOTS), unknowns so far).
    executed : list of (Work, int, float)
        Work, its unknown, and the mean it was meant to have [mm].
    done : list of int
        Unknowns that are a work's own execution, not what makers do.
    """

    names: list[str] = field(default_factory=list)
    mean: list[float] = field(default_factory=list)
    blocks: list[tuple[list[int], Array]] = field(default_factory=list)
    bounded: list[int] = field(default_factory=list)
    stages: list[Array] = field(default_factory=list)
    executed: list[tuple[Work, int, float]] = field(default_factory=list)
    done: list[int] = field(default_factory=list)
    _held: tuple[Array, Array] | None = field(default=None, repr=False)

    def add(self, name: str, mean: float, spread: float, *, bounded: bool = False) -> int:
        """One more unknown; its index."""
        index = len(self.names)
        self.names.append(name)
        self.mean.append(mean)
        self.blocks.append(([index], np.array([[spread**2]])))
        if bounded:
            self.bounded.append(index)
        return index

    def named(self, name: str, mean: float, spread: float) -> int:
        """An unknown by its name, added when first asked for."""
        return self.names.index(name) if name in self.names else self.add(name, mean, spread)

    def prior(self) -> tuple[Array, Array]:
        """Mean and covariance of all unknowns, before any is cut off at zero."""
        size = len(self.names)
        if self._held is None or len(self._held[0]) != size:
            covariance = np.zeros((size, size))
            for indices, block in self.blocks:
                if len(indices) == 1:
                    covariance[indices[0], indices[0]] = block[0, 0]
                else:
                    covariance[np.ix_(indices, indices)] = block
            self._held = np.array(self.mean), covariance
        return self._held

    def at(self, stage: int) -> Array:
        """Map of a stage over all unknowns, shape (len(SLOTS), unknowns)."""
        held = self.stages[stage]
        full = np.zeros((len(SLOTS), len(self.names)))
        full[:, : held.shape[1]] = held
        return full


@dataclass(frozen=True)
class Spreads:
    """Priors of contributions for one car [mm], with what each is."""

    rows: dict[str, tuple[float, float, float, str]]

    def of(self, what: str) -> tuple[float, float, float]:
        """Mean, common and own standard deviation."""
        mean, common, own, _ = self.rows[what]
        return mean, common, own

    def alone(self, what: str) -> float:
        """Standard deviation at one place."""
        _, common, own = self.of(what)
        return math.hypot(common, own)


def spreads_of(history: History, words: Vocabulary, factors: dict[str, float] | None = None) -> Spreads:
    """Priors from the table, overridden by the sheet.

    Parameters
    ----------
    history : History
        Its own spreads go first.
    words : Vocabulary
        The table.
    factors : mapping, optional
        What to stretch a contribution's spread by, to see what would change [-].
    """
    inch = 25.4 / history.scale.ratio
    rows = {}
    for name, row in words.contributions.items():
        own = next((spread for spread in history.spreads if spread.what == name), None)
        factor = (factors or {}).get(name, 1.0)
        if own is not None:
            share = row.common / math.hypot(row.common, row.own) if row.common else 0.0
            common, alone = own.u * share, own.u * math.sqrt(1 - share**2)
            rows[name] = (own.value, common * factor, alone * factor, f"sheet: {own.source}")
        else:
            rows[name] = _in_mm(row, inch, factor)
    return Spreads(rows)


def _in_mm(row: Contribution, inch: float, factor: float) -> tuple[float, float, float, str]:
    return row.mean * inch, row.common * inch * factor, row.own * inch * factor, row.status


def latent_of(history: History, words: Vocabulary, levers: Levers, spreads: Spreads) -> Latent:
    """Unknowns and maps of every stage of a car."""
    latent = Latent()
    for what in dict.fromkeys(slot[0] for slot in SLOTS):
        own = [slot for slot in SLOTS if slot[0] == what]
        mean, common, alone = spreads.of(what)
        indices = [latent.add(f"{what} {slot[1]}".strip(), mean, 1.0) for slot in own]
        del latent.blocks[-len(own) :]
        block = np.full((len(own), len(own)), common**2) + np.eye(len(own)) * alone**2
        latent.blocks.append((indices, block))
        if what == "coupler.droop":
            latent.bounded += indices
    latent.stages.append(np.eye(len(SLOTS)))
    for work in history.works:
        latent.stages.append(_after(work, latent, history, words, levers, spreads))
    return latent


def _after(work: Work, latent: Latent, history: History, words: Vocabulary, levers: Levers, spreads: Spreads) -> Array:
    remedy = words.remedies[work.remedy]
    state = latent.at(len(latent.stages) - 1)
    for shift in remedy.shifts:
        if shift.what == "weight":
            state = _sunk(state, work, latent, history)
            continue
        if shift.mode == "<>":
            state = _exchanged(state, shift.what)
            continue
        first = len(latent.names)
        for slot in _slots(shift, work, levers):
            state = _moved(state, slot, shift, work, latent, words, spreads, history)
        if shift.mode == "~":
            _alike(latent, first, spreads.of(shift.what)[1])
    return state


def _alike(latent: Latent, first: int, common: float) -> None:
    """New parts of one kind share what such parts share."""
    indices = list(range(first, len(latent.names)))
    if len(indices) < 2:  # noqa: PLR2004 - one shares with none
        return
    own = [latent.blocks.pop()[1][0, 0] for _ in indices][::-1]
    block = np.full((len(indices), len(indices)), common**2)
    np.fill_diagonal(block, own)
    latent.blocks.append((indices, block))


def _slots(shift: Shift, work: Work, levers: Levers) -> Sequence[Slot]:
    own = [slot for slot in SLOTS if slot[0] == shift.what]
    if shift.what == "wheel.diameter":
        if work.at[:1].isdigit():
            return levers.axle_slots(work.at)
        return [slot for slot in own if slot[1][0] in ends_of(work.at)]
    return [slot for slot in own if slot[1] not in ENDS or slot[1] in ends_of(work.at)]


def _moved(
    state: Array,
    slot: Slot,
    shift: Shift,
    work: Work,
    latent: Latent,
    words: Vocabulary,
    spreads: Spreads,
    history: History,
) -> Array:
    spread = spread_of(words.remedies[work.remedy].spread, shift.what)
    size, factor = work.size, shift.factor
    if work.remedy == "dress-shank" and work.face == "top":
        factor = -factor
    if shift.what == "wheel.diameter" and shift.mode == "=":
        designed = history.geometry.get("wheel_diameter")
        size = (size - designed) / 2 if size is not None and designed is not None else None
    mean = factor * size if size is not None else 0.0
    if size is None and factor:
        spread = spreads.alone(shift.what)  # the amount was not written down
    if shift.mode == "~":
        spread = spreads.alone(shift.what)
        mean += spreads.of(shift.what)[0]
    bounded = slot[0] == "coupler.droop"
    index = latent.add(f"{work.remedy} {slot[0]} {slot[1]} (stage {work.stage})", mean, spread, bounded=bounded)
    latent.executed.append((work, index, mean))
    if shift.mode != "~":
        latent.done.append(index)
    state = np.hstack([state, np.zeros((len(SLOTS), len(latent.names) - state.shape[1]))])
    row = INDEX[slot]
    if shift.mode != "+":
        state[row] = 0.0
    state[row, index] = 1.0
    return state


def _exchanged(state: Array, what: str) -> Array:
    result = state.copy()
    for slot in SLOTS:
        if slot[0] == what:
            other = slot[1].translate(str.maketrans("AB", "BA", ""))
            result[INDEX[slot]] = state[INDEX[what, other]]
    return result


def _sunk(state: Array, work: Work, latent: Latent, history: History) -> Array:
    """Sprung trucks sink under added mass, all of them alike."""
    sink = history.geometry.get("sink_per_100g")
    if sink is None or work.size is None:
        return state
    mean = -sink * work.size / 100
    index = latent.add(f"{work.remedy} springs (stage {work.stage})", mean, abs(mean) * _SPRINGS + 1e-6)
    state = np.hstack([state, np.zeros((len(SLOTS), len(latent.names) - state.shape[1]))])
    for end in ENDS:
        state[INDEX["truck.ride", end], index] = 1.0
    return state


def spread_of(spread: float, what: str) -> float:
    """A remedy's spread in one contribution: what is straightened keeps a fifth of it in bends beside bow and kink."""
    return spread * _BESIDE if what == "frame.shape" else spread


_BESIDE = 0.2
"""Part of a straightening's spread that goes into cubic and quartic: judgement [-]."""


def wide(history: History) -> float:
    """Spread of a design dimension the sheet does not give [mm]."""
    return _WIDE * 25.4 / history.scale.ratio


__all__ = ["ENDS", "Latent", "Spreads", "latent_of", "spreads_of", "wide"]
