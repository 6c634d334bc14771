"""Shape of a frame from profiles: bow, kink and twist, with what can and what cannot be told.

Heights less their design heights follow ``z = c + p x + r y + ½ κ x² + θ max(0, x − x₀) + τ x y``; gaps under a
straightedge are ``α + β x − z`` and tell of bow and kink only. κ, sag and θ are + where the middle is low (DESIGN §5).
Real frames bend like neither alone, so what is handed on holds both, and a cubic and a quartic of the span beside them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from carwright.history import Profile
from carwright.measure.distributions import chi_square_tail

Array = NDArray[np.floating]

EDGE_SAG = 0.01
"""Standard uncertainty of a straightedge's own straightness, as sag over what it spans: judgement [mm]."""
BELIEVABLE = 5.0
"""Greatest sag a frame is believed to have, judgement; the prior's standard deviation is 0.7 [scale in]."""
STATIONS_FOR_A_DECK = 6
"""Stations from which residuals betray a step in a deck without nominal heights."""
STATIONS_FOR_A_KINK = 7
NAMED = 6.0
"""ΔBIC from which bow or kink is named [-]."""
NO_SHAPE = 1e-3
"""Probability of the residuals below which heights follow none of these shapes [-]."""


Row = tuple[tuple[float, float, float, float, float], float]
"""Coefficients of sag, kink, cubic, quartic and twist, and what they add up to."""
MOVED = 16.0
"""Δχ² from which a named kink is said to lie elsewhere than at mid-car [-]."""


@dataclass(frozen=True, slots=True)
class FrameShape:
    """What profiles of one stage say of the frame.

    Attributes
    ----------
    kind : str
        ``bow``, ``kink``, ``bow or kink: cannot be told``, or "" where nothing can be told.
    span, width : float
        Over which sag and twist are given [mm]; width 0 where unknown.
    sag, u_sag : float or None
        κ span²/8, + where the middle is low; of the bow alone, None where it cannot be told [mm].
    kink, u_kink, kink_at : float or None
        θ as the sag it gives over the span were it in the middle, and its station [mm].
    twist, u_twist : float or None
        Over the width between the ends of the span, + where the left side is high at the A end [mm].
    weight : float
        Weight of the bow against the kink, by BIC [-].
    off_centre : bool
        Whether a kink is named that clearly lies elsewhere than at mid-car, where ``rows`` have it.
    reasons : tuple[str, ...]
        What could not be told, and why.
    p_fit : float
        Probability of residuals as large as these [-].
    rows : tuple of (tuple of five float, float)
        What was observed of (sag, kink, cubic, quartic, twist) together, as independent rows: coefficients and value,
        each with u = 1 [1/mm, -].
    lines : tuple of (str, tuple of (float, float))
        Each line's station and height less design, about its own chord [mm].
    stage : int
        Stage of the profiles.
    entries : tuple[int, ...]
        Entries behind it.
    """

    kind: str
    span: float
    width: float
    sag: float | None = None
    u_sag: float | None = None
    kink: float | None = None
    u_kink: float | None = None
    kink_at: float | None = None
    twist: float | None = None
    u_twist: float | None = None
    weight: float = 1.0
    off_centre: bool = False
    reasons: tuple[str, ...] = ()
    p_fit: float = 1.0
    rows: tuple[Row, ...] = ()
    lines: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = ()
    stage: int = 0
    entries: tuple[int, ...] = ()


@dataclass
class _System:
    """Whitened equations: the shape's columns, the nuisance columns, and the heights."""

    x: Array
    y: Array
    sign: Array
    u: Array
    z: Array
    nuisance: Array
    twistable: bool
    reasons: list[str] = field(default_factory=list)
    _basis: Array | None = None

    def _reduced(self, columns: Sequence[Array]) -> tuple[Array, Array]:
        """Whitened columns of the shape and heights, with what the nuisance columns can take up projected out."""
        if self._basis is None:
            basis, strength, _ = np.linalg.svd(self.nuisance / self.u[:, None], full_matrices=False)
            self._basis = basis[:, strength > 1e-9 * strength[0]]
        basis = self._basis
        shape = np.column_stack(columns) / self.u[:, None]
        observed = self.z / self.u
        return shape - basis @ (basis.T @ shape), observed - basis @ (basis.T @ observed)

    def misfit(self, columns: Sequence[Array]) -> float:
        """χ² left by a fit of these columns [-]."""
        shape, observed = self._reduced(columns)
        estimate, *_ = np.linalg.lstsq(shape, observed, rcond=1e-9)
        residual = observed - shape @ estimate
        return float(residual @ residual)

    def solve(self, columns: Sequence[Array]) -> tuple[Array, Array, float, Array, Array]:
        """Estimates, covariance, χ², and the reduced rows R, z of the shape's columns."""
        shape, observed = self._reduced(columns)
        q, r = np.linalg.qr(shape)
        rows = q.T @ observed
        estimate, *_ = np.linalg.lstsq(shape, observed, rcond=1e-9)
        residual = observed - shape @ estimate
        covariance = np.linalg.pinv(shape.T @ shape, rcond=1e-12)
        return estimate, covariance, float(residual @ residual), r, rows

    @property
    def freedom(self) -> int:
        """Observations beyond the nuisance columns [-]."""
        return len(self.z) - (self._basis.shape[1] if self._basis is not None else 0)


def frame_shape(
    profiles: Sequence[Profile], *, half_span: float, width: float, believable: float = math.inf
) -> FrameShape:
    """Fit all profiles of one stage together.

    Parameters
    ----------
    profiles : sequence of Profile
        At least one, all of one stage; different datums and lines each have their own height and slope.
    half_span : float
        a, pivot distance from mid-car, > 0: sag is given over 2a [mm].
    width : float
        Distance between the left and the right line, 0 where unknown [mm].
    believable : float
        Greatest sag a frame is believed to have; more is a step without nominal heights [mm].

    Returns
    -------
    FrameShape
        Sag, kink and twist with u, or why they cannot be told. Never a number where there is none.

    Raises
    ------
    ValueError
        "half_span must be > 0 mm, got -3.0"
    """
    if not half_span > 0:
        msg = f"half_span must be > 0 mm, got {half_span}"
        raise ValueError(msg)
    span = 2 * half_span
    lines = tuple((f"{each.of}, {each.side}", _about_chord(each)) for each in profiles)
    entries, stage = tuple(each.entry for each in profiles), profiles[0].stage
    system = _assemble(profiles, width)
    told = FrameShape("", span, width, reasons=tuple(system.reasons), lines=lines, stage=stage, entries=entries)
    most = max(len(set(each.stations)) for each in profiles)
    if most < 3:  # noqa: PLR2004 - two points lie on a line
        reasons = (*system.reasons, "two stations cannot show a bow: read three or more along one line")
        told = _with(told, reasons=reasons)
        return _twist_alone(told, system, span)
    if most < STATIONS_FOR_A_DECK and any(each.of == "deck" and each.nominal is None for each in profiles):
        reason = "a deck may step: fewer than six stations need its nominal heights"
        return _with(told, reasons=(*system.reasons, reason))
    share = system.x / half_span
    bend = system.sign * (share**2 - 1)
    turn = [system.sign * system.x * system.y / (span * width)] if system.twistable else []
    candidates = _kink_places(system.x) if most >= STATIONS_FOR_A_KINK else [0.0]
    hats = [system.sign * np.maximum(0.0, system.x - x0) * 2 / half_span for x0 in candidates]
    misfits = [system.misfit([hat, *turn]) for hat in hats]
    best = misfits.index(min(misfits))
    as_kink = system.solve([hats[best], *turn])
    as_bow = system.solve([bend, *turn])
    n = len(system.z)
    gain = (as_bow[2] + math.log(n)) - (as_kink[2] + 2 * math.log(n))
    weight = 1 / (1 + math.exp(min(50.0, max(-50.0, gain / 2))))
    named = most >= STATIONS_FOR_A_KINK and abs(gain) >= NAMED
    both = system.misfit([bend, hats[best], *turn])
    named = named and min(as_bow[2], as_kink[2]) - both < NAMED + math.log(n)
    kind = ("kink" if gain > 0 else "bow") if named else "bow or kink: cannot be told"
    hat = system.sign * np.maximum(0.0, system.x) * 2 / half_span
    beyond = [system.sign * (share**3 - share), system.sign * (share**4 - 1)]
    whole = system.solve([bend, hat, *beyond, *turn])
    spare = system.freedom - int(np.linalg.matrix_rank(whole[3]))
    p_fit = chi_square_tail(whole[2], spare) if spare > 0 else 1.0
    if kind == "kink" and system.freedom > 2 + len(turn):
        p_fit = max(p_fit, chi_square_tail(as_kink[2], system.freedom - 2 - len(turn)))
    if p_fit < NO_SHAPE or abs(float(as_bow[0][0])) > believable:
        reason = "the heights follow neither bow nor kink nor twist: where the line steps, give its nominal heights"
        return _with(told, reasons=(*system.reasons, reason), p_fit=p_fit)
    sag = as_bow if kind != "kink" else None
    kink = as_kink if kind != "bow" else None
    found = _with(
        told,
        kind=kind,
        weight=weight,
        p_fit=p_fit,
        kink_at=candidates[best] if kind == "kink" else 0.0,
        sag=float(sag[0][0]) if sag else None,
        u_sag=math.sqrt(sag[1][0, 0]) if sag else None,
        kink=float(kink[0][0]) if kink else None,
        u_kink=math.sqrt(kink[1][0, 0]) if kink else None,
        rows=_rows(whole),
        off_centre=kind == "kink" and _off_centre(system, bend, hat, candidates, turn),
    )
    if turn:
        found = _with(found, twist=float(as_bow[0][-1]), u_twist=math.sqrt(as_bow[1][-1, -1]))
    return found


def _off_centre(
    system: _System, bend: Array, middle: Array, candidates: Sequence[float], turn: Sequence[Array]
) -> bool:
    """Whether a kink elsewhere goes clearly better with the bow than one at mid-car."""
    fits = [system.misfit([bend, system.sign * np.maximum(0.0, system.x - place), *turn]) for place in candidates]
    return system.misfit([bend, middle, *turn]) - min(fits) > MOVED


def _with(shape: FrameShape, **changes: object) -> FrameShape:
    from dataclasses import replace  # noqa: PLC0415 - only here

    return replace(shape, **changes)  # type: ignore[arg-type]


def _rows(solved: tuple[Array, Array, float, Array, Array]) -> tuple[Row, ...]:
    """The reduced equations in the order (sag, kink, cubic, quartic, twist)."""
    rows = []
    for line, value in zip(solved[3], solved[4], strict=True):
        full = [*(float(each) for each in line), 0.0][:5]
        if max(map(abs, full)) > 1e-9 * float(np.abs(solved[3]).max()):
            rows.append(((full[0], full[1], full[2], full[3], full[4]), float(value)))
    return tuple(rows)


def _twist_alone(told: FrameShape, system: _System, span: float) -> FrameShape:
    """Two stations on both sides still tell the twist."""
    if not system.twistable:
        return told
    solved = system.solve([system.sign * system.x * system.y / (span * told.width)])
    row = ((0.0, 0.0, 0.0, 0.0, float(solved[3][0, 0])), float(solved[4][0]))
    return _with(told, twist=float(solved[0][0]), u_twist=math.sqrt(solved[1][0, 0]), rows=(row,))


def _kink_places(x: Array) -> list[float]:
    """Inner stations and the middles between them; at a rim a kink cannot be told from a bad reading."""
    stations = np.unique(x)[1:-1]
    return [float(each) for each in np.sort(np.concatenate([stations, (stations[1:] + stations[:-1]) / 2]))]


def height_u(profile: Profile, index: int) -> float:
    """Standard uncertainty of one height or gap among the others of its line [mm].

    GUM 4.3.7 for rounding and for a band; what the instrument's calibration does to all of a line alike is left out.

    Parameters
    ----------
    profile : Profile
        The line.
    index : int
        Which of its stations, from 0 [-].
    """
    figures, band = profile.figures, profile.upper[index] - profile.lower[index]
    return math.sqrt(figures.repeatability**2 + figures.resolution**2 / 12 + band**2 / 12)


def _assemble(profiles: Sequence[Profile], width: float) -> _System:
    side = {"left": width / 2, "right": -width / 2, "centre": 0.0}
    x, y, sign, u, z, group = [], [], [], [], [], []
    # a line read again was set up again: it pairs with the other side's second reading
    alike = [(profile.of, profile.datum, profile.side) for profile in profiles]
    turns = [alike[:number].count(line) for number, line in enumerate(alike)]
    for number, profile in enumerate(profiles):
        for index, station in enumerate(profile.stations):
            low, high = profile.lower[index], profile.upper[index]
            nominal = profile.nominal[index] if profile.nominal is not None else 0.0
            x.append(station)
            y.append(side[profile.side])
            sign.append(-1.0 if profile.gaps else 1.0)
            z.append((low + high) / 2 + (nominal if profile.gaps else -nominal))
            u.append(height_u(profile, index))
            # without a width both sides may lean by any amount against one another
            plane = (profile.of, profile.datum, "" if width > 0 else profile.side, turns[number])
            group.append(("gaps", number) if profile.gaps else plane)
    xs, ys = np.array(x), np.array(y)
    columns, reasons, twistable = [], [], False
    for name in dict.fromkeys(group):
        inside = np.array([each == name for each in group])
        columns += [inside * 1.0, inside * xs]
        if name[0] == "gaps":
            continue
        sides = {float(each) for each in ys[inside]}
        if len(sides) > 1:
            columns.append(inside * ys)
            spans = [len(np.unique(xs[inside & (ys == each)])) for each in sides]
            twistable = twistable or (width > 0 and sorted(spans)[-2] > 1)
    if not twistable:
        reasons.append(_no_twist(profiles, width))
    system = _System(xs, ys, np.array(sign), np.array(u), np.array(z), np.column_stack(columns), twistable, reasons)
    return _with_edges(system, profiles)


def _with_edges(system: _System, profiles: Sequence[Profile]) -> _System:
    """Each straightedge's own curvature: a column, held near zero by an observation of its own."""
    start = 0
    for profile in profiles:
        count = len(profile.stations)
        if profile.gaps:
            reach = max(profile.stations) - min(profile.stations)
            own = np.zeros(len(system.z))
            middle = (max(profile.stations) + min(profile.stations)) / 2
            own[start : start + count] = 4 * (np.array(profile.stations) - middle) ** 2 / reach**2
            system.nuisance = np.column_stack([system.nuisance, own])
            held = np.zeros((1, system.nuisance.shape[1]))
            held[0, -1] = 1.0
            system.nuisance = np.vstack([system.nuisance, held])
            for name, value in (("x", 0.0), ("y", 0.0), ("sign", 0.0), ("u", EDGE_SAG), ("z", 0.0)):
                setattr(system, name, np.append(getattr(system, name), value))
        start += count
    return system


def _no_twist(profiles: Sequence[Profile], width: float) -> str:
    if all(each.gaps for each in profiles):
        return "twist cannot be told from gaps under a straightedge: read heights of both sides from one plane"
    if len({each.side for each in profiles if not each.gaps}) < 2:  # noqa: PLR2004 - two lines
        return "twist cannot be told from one line: read heights of both sides from one plane"
    if not width > 0:
        return "twist cannot be told: it needs body_width in [car.geometry]"
    return "twist cannot be told: read both sides from one datum, at two stations or more each"


def _about_chord(profile: Profile) -> tuple[tuple[float, float], ...]:
    """Heights less design (gaps turned over) about the chord of the line's end stations, for drawing [mm]."""
    sign = -1.0 if profile.gaps else 1.0
    nominal = profile.nominal if profile.nominal is not None else (0.0,) * len(profile.stations)
    points = sorted(
        (station, sign * (low + high) / 2 - design)
        for station, low, high, design in zip(profile.stations, profile.lower, profile.upper, nominal, strict=True)
    )
    (x1, z1), (x2, z2) = points[0], points[-1]
    slope = (z2 - z1) / (x2 - x1)
    return tuple((x, z - z1 - slope * (x - x1)) for x, z in points)
