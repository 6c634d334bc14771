"""Propagation of distributions by Monte Carlo (JCGM 101:2008), for what is bounded, non-linear or thinly repeated.

Draws are made in blocks, each from its own child of one seed, so that a result is the same whatever the block runs
on. NumPy is imported when first asked for: most sheets never need it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from carwright.errors import ContradictionError
from carwright.measure.combine import Component, Place

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

DRAWS = 40_000
"""Draws behind one finding: the standard error of a probability of 0.95 is 0.0011."""
SEED = 20_261_125
UNLIKELY = 1e-3
"""Observations with a smaller probability than this, given the others, contradict them."""
_BLOCK = 20_000


@dataclass(frozen=True)
class Draws:
    """Weighted draws of one quantity.

    Attributes
    ----------
    values : array of shape (n,)
        Sorted [inside unit].
    weights : array of shape (n,)
        Normalised to sum 1 [-].
    """

    values: Array
    weights: Array

    @property
    def estimate(self) -> float:
        """Mean [inside unit]."""
        return float(self.values @ self.weights)

    @property
    def u(self) -> float:
        """Standard deviation [inside unit]."""
        return math.sqrt(max(0.0, float((self.values - self.estimate) ** 2 @ self.weights)))

    def probability(self, lower: float, upper: float) -> float:
        """P(lower ≤ x ≤ upper) [-]."""
        return float(self.weights[(self.values >= lower) & (self.values <= upper)].sum())

    def quantile(self, p: float) -> float:
        """X below which probability p lies [inside unit]."""
        import numpy as np  # noqa: PLC0415 - loaded only where draws are made

        index = int(np.searchsorted(np.cumsum(self.weights), p))
        return float(self.values[min(index, len(self.values) - 1)])

    def shortest(self, p: float) -> tuple[float, float]:
        """Shortest interval that holds probability p (JCGM 101:2008, 5.3.4), for equal weights [inside unit]."""
        count = math.ceil(p * len(self.values))
        widths = self.values[count - 1 :] - self.values[: len(self.values) - count + 1]
        start = int(widths.argmin())
        return float(self.values[start]), float(self.values[start + count - 1])


def draw(components: Sequence[Component], draws: int, seed: int = SEED) -> list[Array]:
    """Draw each component's error.

    Parameters
    ----------
    components : sequence of Component
        Normal ones with finite degrees of freedom are drawn from the scaled and shifted t (JCGM 101:2008, 6.4.9).
    draws : int
        How many [-].
    seed : int
        Root of the block seeds [-].

    Returns
    -------
    list of arrays of shape (draws,)
        One per component [inside unit].
    """
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made

    blocks = math.ceil(draws / _BLOCK)
    parts: list[list[Array]] = [[] for _ in components]
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(blocks)):
        generator = np.random.Generator(np.random.PCG64(child))
        size = min(_BLOCK, draws - number * _BLOCK)
        for index, component in enumerate(components):
            if component.shape == "rectangular":
                half = abs(component.u) * math.sqrt(3)
                sample = generator.uniform(-half, half, size)
            elif math.isfinite(component.dof):
                # u is the scale of the t itself, s_p/√n, not its standard deviation.
                sample = component.u * generator.standard_t(component.dof, size)
            else:
                sample = component.u * generator.standard_normal(size)
            parts[index].append(sample)
    return [np.concatenate(part) if part else np.zeros(0) for part in parts]


def draw_places(places: Sequence[Place], draws: int = DRAWS, seed: int = SEED) -> list[Array]:
    """Joint draws of several places; a nuisance they share is drawn once.

    Returns
    -------
    list of arrays of shape (draws,)
        One per place [inside unit].
    """
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made

    unit: dict[str, Component] = {}
    own: list[Component] = []
    for place in places:
        for component in place.components:
            if component.shared:
                unit.setdefault(component.shared, replace(component, u=1.0))
            else:
                own.append(component)
    shared = dict(zip(unit, draw(list(unit.values()), draws, seed), strict=True))
    errors = iter(draw(own, draws, seed + 1))
    result = []
    for place in places:
        total = np.full(draws, place.estimate)
        for component in place.components:
            total += component.u * shared[component.shared] if component.shared else next(errors)
        result.append(total)
    return result


def weighted(values: Array, weights: Array | None = None) -> Draws:
    """Sort draws and normalise their weights, likelihoods between 0 and 1.

    Raises
    ------
    ContradictionError
        "the observations contradict each other, or what is possible"
    """
    import numpy as np  # noqa: PLC0415 - loaded only where draws are made

    order = np.argsort(values, kind="stable")
    chosen = np.full(len(values), 1.0 / len(values)) if weights is None else weights
    total = float(chosen.sum())
    if weights is not None and not total >= UNLIKELY * len(values):
        raise ContradictionError
    return Draws(values[order], (chosen / total)[order])


def propagate_draws(
    function: Callable[..., Array], components: Sequence[tuple[float, Component]], draws: int = 1_000_000
) -> Draws:
    """Propagate distributions through a function of arrays.

    Parameters
    ----------
    function : callable
        Takes one array per input.
    components : sequence of (float, Component)
        Estimate and error of each input.
    draws : int
        How many; JCGM 101:2008, 7.2.2 recommends a million for a 95 % interval to two digits [-].

    Returns
    -------
    Draws
        Of the result.
    """
    errors = draw([component for _, component in components], draws)
    return weighted(function(*(estimate + error for (estimate, _), error in zip(components, errors, strict=True))))
