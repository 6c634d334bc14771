"""Dimensional fidelity: the model's measured dimensions against those of the full-size car taken to its scale.

Deviation d = y − x, with y measured on the model and x = X/ratio; u² = u_y² + (u_X/ratio)². An error of the scale as a
whole is told from local ones by a regression through the origin, y = k x: k = Σ w x y / Σ w x², w = 1/u²,
u_k = 1/√(Σ w x²), widened by √(χ²/ν) where the dimensions scatter more than their uncertainties say (as handbooks of
least squares have it). Dimensions marked as over scale for strength are shown and left out of both.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from carwright.history.records import FullSize
from carwright.measure import Value

_INCH = 25.4
COVERS = 1.959963984540054
"""Standard uncertainties that hold a normal value with probability 0.95 [-]."""


@dataclass(frozen=True, slots=True)
class ToleranceClass:
    """How far a dimension may be off: the greater of an absolute and a relative tolerance.

    Attributes
    ----------
    id, title : str
        Name and sentence.
    scale_in : float
        [scale in].
    percent : float
        [%].
    """

    id: str
    title: str
    scale_in: float
    percent: float

    def allows(self, nominal: float, ratio: float) -> float:
        """Greatest deviation of a model dimension [mm]."""
        return max(self.scale_in * _INCH / ratio, abs(nominal) * self.percent / 100)


@dataclass(frozen=True, slots=True)
class Compared:
    """One dimension.

    Attributes
    ----------
    full : FullSize
        Of the full-size car.
    nominal, u_nominal : float
        Taken to the model's scale [mm].
    value, u : float
        Measured, and its standard uncertainty [mm].
    deviation, u_deviation : float
        Model less nominal [mm].
    local, u_local : float
        What is left of it when the scale as a whole is as the model has it [mm].
    allowed : float
        By the tolerance class [mm].
    measured : Value
        What was read.
    """

    full: FullSize
    nominal: float
    u_nominal: float
    value: float
    u: float
    deviation: float
    u_deviation: float
    local: float
    u_local: float
    allowed: float
    measured: Value

    @property
    def percent(self) -> float:
        """Deviation in per cent of the nominal [%]."""
        return 100 * self.deviation / self.nominal

    def scale_inches(self, ratio: float) -> float:
        """Deviation at full size [in]."""
        return self.deviation * ratio / _INCH


@dataclass(frozen=True, slots=True)
class ScaleError:
    """The error of the scale as a whole.

    Attributes
    ----------
    factor, u : float
        k, 1 where the model is to scale, and its standard uncertainty, widened where dimensions scatter [-].
    u_fit : float
        The same from the dimensions' own uncertainties alone [-].
    chi2 : float
        Of the dimensions about it [-].
    dof : int
        n − 1 [-].
    """

    factor: float
    u: float
    u_fit: float
    chi2: float
    dof: int

    @property
    def told(self) -> bool:
        """Whether it differs from 1 for sure."""
        return abs(self.factor - 1) > COVERS * self.u


@dataclass(frozen=True, slots=True)
class Fidelity:
    """All dimensions of one model.

    Attributes
    ----------
    compared : tuple[Compared, ...]
        Those measured on the model.
    over_scale : tuple[Compared, ...]
        Those larger on purpose.
    unmeasured : tuple[FullSize, ...]
        Known at full size and not measured on the model.
    scale : ScaleError or None
        From two dimensions on.
    tolerance : ToleranceClass
        By which they are judged.
    ratio : float
        Of the scale [-].
    """

    compared: tuple[Compared, ...]
    over_scale: tuple[Compared, ...]
    unmeasured: tuple[FullSize, ...]
    scale: ScaleError | None
    tolerance: ToleranceClass
    ratio: float


def through_origin(x: Sequence[float], y: Sequence[float], u: Sequence[float]) -> tuple[float, float, float]:
    """Weighted regression through the origin.

    Parameters
    ----------
    x, y, u : sequences, (n,)
        Abscissae, ordinates, and standard uncertainties of the ordinates, all above zero.

    Returns
    -------
    tuple
        Slope, its standard uncertainty from ``u`` alone, and χ².

    Raises
    ------
    ValueError
        "a regression needs points with x other than zero"
    """
    sxx = math.fsum(a * a / (s * s) for a, s in zip(x, u, strict=True))
    if not sxx > 0:
        msg = "a regression needs points with x other than zero"
        raise ValueError(msg)
    slope = math.fsum(a * b / (s * s) for a, b, s in zip(x, y, u, strict=True)) / sxx
    chi2 = math.fsum(((b - slope * a) / s) ** 2 for a, b, s in zip(x, y, u, strict=True))
    return slope, 1 / math.sqrt(sxx), chi2


def fidelity_of(
    dimensions: Sequence[FullSize], measured: Mapping[str, Value], ratio: float, tolerance: ToleranceClass
) -> Fidelity | None:
    """Compare every dimension known at full size.

    Parameters
    ----------
    dimensions : sequence of FullSize
        Of the full-size car.
    measured : mapping
        Values by name: ``body.length``, or the name of a dimension.
    ratio : float
        Of the scale [-].
    tolerance : ToleranceClass
        The rubric's.

    Returns
    -------
    Fidelity or None
        None where no dimension is known at full size.
    """
    if not dimensions:
        return None
    pairs = [(full, measured[full.name]) for full in dimensions if full.name in measured and measured[full.name].places]
    judged = [(full, value) for full, value in pairs if not full.over_scale]
    scale = _scale_error(judged, ratio)
    return Fidelity(
        compared=tuple(_compared(full, value, ratio, tolerance, scale) for full, value in judged),
        over_scale=tuple(_compared(full, value, ratio, tolerance, None) for full, value in pairs if full.over_scale),
        unmeasured=tuple(full for full in dimensions if full not in [pair[0] for pair in pairs]),
        scale=scale,
        tolerance=tolerance,
        ratio=ratio,
    )


def _estimate(value: Value) -> tuple[float, float]:
    place = value.places[0]
    return place.estimate, place.u


def _scale_error(pairs: Sequence[tuple[FullSize, Value]], ratio: float) -> ScaleError | None:
    if len(pairs) < 2:  # noqa: PLR2004 - one dimension cannot tell the scale from itself
        return None
    x = [full.value / ratio for full, _ in pairs]
    y = [_estimate(value)[0] for _, value in pairs]
    u = [math.hypot(_estimate(value)[1], full.u / ratio) for full, value in pairs]
    slope, u_slope, chi2 = through_origin(x, y, u)
    dof = len(pairs) - 1
    return ScaleError(slope, u_slope * math.sqrt(max(1.0, chi2 / dof)), u_slope, chi2, dof)


def _compared(
    full: FullSize, value: Value, ratio: float, tolerance: ToleranceClass, scale: ScaleError | None
) -> Compared:
    estimate, u = _estimate(value)
    nominal, u_nominal = full.value / ratio, full.u / ratio
    deviation, u_deviation = estimate - nominal, math.hypot(u, u_nominal)
    factor, u_factor = (scale.factor, scale.u_fit) if scale is not None else (1.0, 0.0)
    # The factor was fitted to this dimension too, so that less is left of it: var(y − k x) = u² − x² u_k².
    left = math.sqrt(max(0.0, u_deviation**2 - (nominal * u_factor) ** 2))
    return Compared(
        full, nominal, u_nominal, estimate, u, deviation, u_deviation, estimate - factor * nominal, left,
        tolerance.allows(nominal, ratio), value,
    )  # fmt: skip
