"""Every reading that bears on coupler height, as a linear observation of the unknowns."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from carwright.explain.latent import Array, Latent, Spreads, wide
from carwright.explain.levers import INDEX, Levers, Row
from carwright.history import Figures, History, Reading
from carwright.measure.frame import FrameShape
from carwright.measure.values import observed

HEIGHTS = ("coupler.height", "coupler.exchange", "box.height", "bolster.height", "frame.height")
"""Characteristics whose readings are heights above the rail."""


@dataclass(frozen=True)
class Observation:
    """One observation.

    Attributes
    ----------
    label : str
        ``coupler height lifted at A (entry 4)``.
    what, at : str
        Characteristic and place.
    stage : int
        Its stage.
    entry : int
        Entry of the sheet, 0 for a row of a frame's shape.
    value : float
        Reading less what the design gives [mm].
    u : float
        Of its own errors; its instrument's calibration is an unknown [mm].
    row : Array
        Coefficient of each unknown.
    """

    label: str
    what: str
    at: str
    stage: int
    entry: int
    value: float
    u: float
    row: Array


def observations_of(
    history: History,
    levers: Levers,
    latent: Latent,
    spreads: Spreads,
    frames: Mapping[int, FrameShape],
    designed: float,
) -> list[Observation]:
    """All of them, over all stages.

    Parameters
    ----------
    history : History
        Readings.
    levers, latent, spreads
        The model; unknowns of instruments and designs are added to ``latent``.
    frames : mapping
        Shape of the frame by stage.
    designed : float
        Height of the couplers as the maker designed them [mm].
    """
    turned = {reading.turned for reading in history.readings if reading.what in HEIGHTS} >= {True}
    rows: list[tuple[Reading, str, Row, float, dict[int, float], float]] = []
    for reading in history.readings:
        found = _row(reading, history, levers, latent, designed)
        if found is None:
            continue
        row, design, extra, factor = found
        if turned and reading.what in HEIGHTS and reading.at in {"A", "B"}:
            tilt = latent.named("bench.tilt", 0.0, spreads.alone("bench.tilt"))
            side = 1.0 if reading.at == "A" else -1.0
            extra[tilt] = extra.get(tilt, 0.0) + (-side if reading.turned else side)
        if reading.what == "coupler.exchange":
            extra[latent.named("coupler.exchange", 0.0, spreads.alone("coupler.exchange"))] = 1.0
        rows.append((reading, _label(reading), row, design, extra, factor))
    result = []
    for same in _repeats(rows).values():
        (reading, label, row, design, extra, factor), mean, u = _merged(same)
        if reading.figures.calibration > 0:
            offset = latent.named(offset_name(reading.figures), 0.0, reading.figures.calibration)
            extra[offset] = extra.get(offset, 0.0) + factor
        over = _over(row, extra, reading.stage, latent)
        result.append(
            Observation(
                label, reading.what, reading.at, reading.stage, reading.entry, factor * mean - design, factor * u, over
            )
        )
    return result + _shapes(frames, latent)


def offset_name(figures: Figures) -> str:
    """The unknown an instrument's calibration is."""
    assumed = f" to {figures.resolution:.4g}" if figures.basis == "assumed" else ""
    return f"calibration of {figures.name}{assumed}"


Prepared = tuple[Reading, str, Row, float, dict[int, float], float]


def _repeats(rows: Sequence[Prepared]) -> dict[tuple[object, ...], list[Prepared]]:
    """Readings of one thing with one instrument at one stage are repeats: they share their rounding."""
    found: dict[tuple[object, ...], list[Prepared]] = defaultdict(list)
    for row in rows:
        reading = row[0]
        key = (reading.what, reading.at, reading.place, reading.state, reading.stage, reading.figures, reading.turned)
        found[key].append(row)
    return found


def _merged(same: Sequence[Prepared]) -> tuple[Prepared, float, float]:
    """Repeats as one: their mean, and the uncertainty that is theirs alone [mm]."""
    first = same[0]
    numbers = sorted(quantity.value for reading, *_ in same for quantity in reading.values)
    place = observed(numbers, first[0].figures)
    own = math.sqrt(math.fsum(part.u**2 for part in place.components if not part.shared))
    return first, place.estimate, own


def _row(
    reading: Reading, history: History, levers: Levers, latent: Latent, designed: float
) -> tuple[Row, float, dict[int, float], float] | None:
    """Contributions, design value, further unknowns, and the factor on the reading; None where it has no part."""
    known, end = history.geometry, reading.at
    if reading.what in {"shank.offset", "coupler.droop"}:
        return {(reading.what, end): 1.0}, 0.0, {}, 1.0
    match reading.what:
        case "coupler.height":
            return levers.coupler(end, free=reading.state == "free"), designed, {}, 1.0
        case "coupler.exchange":
            return levers.coupler(end, own=False), designed, {}, 1.0
        case "box.height":
            return levers.box(end), *_designed("box floor", known.get("box_height"), latent, history), 1.0
        case "bolster.height":
            return levers.truck(end), *_designed("truck bearing", _ride(known), latent, history), 1.0
        case "frame.height":
            return levers.seat(end), *_designed("frame datum", known.get("frame_height"), latent, history), 1.0
        case "wheel.diameter":
            slots = levers.axle_slots(reading.at)
            if not slots:
                return None
            wheel = known.get("wheel_diameter")
            design = _designed("wheel radius", wheel / 2 if wheel is not None else None, latent, history)
            return dict.fromkeys(slots, 1.0 / len(slots)), *design, 0.5
    return None


def _ride(known: Mapping[str, float]) -> float | None:
    """Design height of the truck's bearing face."""
    if "ride_height" in known:
        return known["ride_height"]
    if "bolster_stack" in known and "wheel_diameter" in known:
        return known["wheel_diameter"] / 2 + known["bolster_stack"]
    return None


def _designed(name: str, value: float | None, latent: Latent, history: History) -> tuple[float, dict[int, float]]:
    """A design dimension: its value, or an unknown with a wide prior where the sheet does not give it."""
    if value is not None:
        return value, {}
    return 0.0, {latent.named(f"design of the {name}", wide(history), wide(history)): 1.0}


def _over(row: Row, extra: Mapping[int, float], stage: int, latent: Latent) -> Array:
    """A row of contributions at a stage, as a row over the unknowns."""
    over = row_at(row, stage, latent)
    for index, coefficient in extra.items():
        over[index] += coefficient
    return over


def row_at(row: Row, stage: int, latent: Latent) -> Array:
    """Coefficients over the unknowns of a row of contributions at a stage."""
    return weights(row) @ latent.at(stage)


def weights(row: Row) -> Array:
    """A row as an array over all contributions."""
    found = np.zeros(len(INDEX))
    for slot, value in row.items():
        found[INDEX[slot]] = value
    return found


_SHAPE = (
    ("frame.bow", ""),
    ("frame.kink", ""),
    ("frame.shape", "cubic"),
    ("frame.shape", "quartic"),
    ("frame.twist", ""),
)


def _shapes(frames: Mapping[int, FrameShape], latent: Latent) -> list[Observation]:
    """Rows of the frame's shape: sag, kink and twist over the truck centres, each row with u = 1."""
    found = []
    for stage, shape in sorted(frames.items()):
        for number, (coefficients, value) in enumerate(shape.rows, 1):
            scale = 1 / max(map(abs, coefficients))
            row: Row = {slot: each * scale for slot, each in zip(_SHAPE, coefficients, strict=True)}
            label = f"shape of the frame, row {number} (entries {', '.join(map(str, shape.entries))})"
            found.append(Observation(label, "profile", "", stage, 0, value * scale, scale, row_at(row, stage, latent)))
    return found


def _label(reading: Reading) -> str:
    state = f" {reading.state}" if reading.what == "coupler.height" else ""
    where = f" at {reading.at}" if reading.at else ""
    return f"{reading.what}{state}{where} (entry {reading.entry})"
