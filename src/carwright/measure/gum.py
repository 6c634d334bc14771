"""Propagation of uncertainty through any smooth function, to first order (JCGM 100:2008, 5.1 and 5.2)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Input:
    """An input quantity: estimate, standard uncertainty, degrees of freedom, label."""

    estimate: float
    u: float
    dof: float = math.inf
    label: str = ""


@dataclass(frozen=True, slots=True)
class Propagated:
    """What comes out.

    Attributes
    ----------
    estimate, u : float
        Of the result, in the function's unit.
    dof : float
        Effective degrees of freedom; with correlated inputs only an approximation [-].
    contributions : tuple[float, ...]
        c_i u_i of each input, signed; their squares add to u² where the inputs are independent.
    """

    estimate: float
    u: float
    dof: float
    contributions: tuple[float, ...]


def propagate(
    function: Callable[[Sequence[float]], float],
    inputs: Sequence[Input],
    correlation: Sequence[Sequence[float]] | None = None,
) -> Propagated:
    """Propagate standard uncertainties to first order.

    Sensitivities are central differences over ±u_i, as JCGM 100:2008, 5.1.3 note 2 allows.

    Parameters
    ----------
    function : callable
        Takes the inputs' values in order.
    inputs : sequence of Input
        With u ≥ 0.
    correlation : matrix, optional
        r_ij, symmetric with ones on the diagonal; independent where omitted [-].

    Returns
    -------
    Propagated
        Estimate, u, degrees of freedom and signed contributions.

    Raises
    ------
    ValueError
        "correlation must be 3 by 3, got 2 rows"
    """
    if correlation is not None and len(correlation) != len(inputs):
        msg = f"correlation must be {len(inputs)} by {len(inputs)}, got {len(correlation)} rows"
        raise ValueError(msg)
    centre = [entry.estimate for entry in inputs]
    contributions = []
    for index, entry in enumerate(inputs):
        if entry.u == 0:
            contributions.append(0.0)
            continue
        step = entry.u * 1e-3
        above, below = centre.copy(), centre.copy()
        above[index] += step
        below[index] -= step
        contributions.append((function(above) - function(below)) / (2 * step) * entry.u)
    variance = math.fsum(value**2 for value in contributions)
    if correlation is not None:
        variance += math.fsum(
            2 * correlation[i][j] * contributions[i] * contributions[j]
            for i in range(len(inputs))
            for j in range(i + 1, len(inputs))
        )
    u = math.sqrt(max(0.0, variance))
    quartics = math.fsum(
        value**4 / entry.dof for value, entry in zip(contributions, inputs, strict=True) if math.isfinite(entry.dof)
    )
    return Propagated(function(centre), u, u**4 / quartics if quartics > 0 else math.inf, tuple(contributions))
