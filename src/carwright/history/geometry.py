"""The car's geometry: read, and refused where no car could be built so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from carwright.errors import UnitError
from carwright.history.entries import Car, Pocket
from carwright.history.faults import Faults
from carwright.history.records import Space
from carwright.units import parse, say
from carwright.words import Scale, Vocabulary

LENGTHS = (
    "body_length", "body_width", "body_height", "length_over_buffers", "truck_centers", "truck_wheelbase",
    "wheelbase", "pivot_offset", "coupler_face", "coupler_face_A", "coupler_face_B", "coupler_pivot",
    "coupler_pivot_A", "coupler_pivot_B", "floor_clearance", "knuckle_height", "ride_height", "bolster_stack",
    "wheel_diameter", "box_height", "frame_height", "coupler_height", "sink_per_100g",
)  # fmt: skip
"""Geometry that is a length."""

_SIGNED = {"pivot_offset"}
_LONGEST_PROTOTYPE = 60_000.0
"""No railroad car reaches 60 m: a longer one is a prototype length without its scale [mm]."""
_SHORTER_THAN = (
    ("truck_wheelbase", "truck_centers", 1.0),
    ("body_width", "body_length", 1.0),
    ("coupler_pivot", "coupler_face", 1.0),
    ("coupler_pivot_A", "coupler_face_A", 1.0),
    ("coupler_pivot_B", "coupler_face_B", 1.0),
    ("body_length", "length_over_buffers", 1.0),
    ("wheelbase", "length_over_buffers", 1.0),
    ("truck_centers", "coupler_face", 2.0),
)
"""First is at most the given multiple of the second."""


@dataclass
class ReadGeometry:
    """Lengths [mm] with their texts, and how many axles the car has."""

    lengths: Mapping[str, float]
    texts: Mapping[str, str]
    axles: int | None
    faults: Faults = field(repr=False)
    deck: tuple[tuple[float, float, float], ...] = ()

    def read_pocket(self, number: int, pocket: Pocket) -> Space:
        """A ballast pocket; what cannot be read in it is noted."""
        found = {}
        for key in ("x", "z", "length", "width", "height"):
            try:
                value = parse(getattr(pocket, key), "length").value
            except UnitError as error:
                self.faults.add(f"pocket {number + 1}", str(error), "pocket", number, key)
                continue
            if value <= 0 and key not in {"x", "z"}:
                self.faults.add(f"pocket {number + 1}", "must be above zero", "pocket", number, key)
            found[key] = value
        if self.faults.found:
            found = dict.fromkeys(("x", "z", "length", "width", "height"), 1.0) | found
        return Space(pocket.name or f"pocket {number + 1}", **found)


def read_geometry(car: Car, scale: Scale, words: Vocabulary, faults: Faults) -> ReadGeometry:
    """Read and check ``[car.geometry]``.

    Parameters
    ----------
    car : Car
        As written.
    scale : Scale
        Its scale.
    words : Vocabulary
        For scale names in prototype lengths.
    faults : Faults
        Where to note what is wrong.
    """
    lengths: dict[str, float] = {}
    texts: dict[str, str] = {}
    for key in LENGTHS:
        text = getattr(car.geometry, key)
        if text is None:
            continue
        try:
            value = parse(text, "length", ratio=scale.ratio, scales=words.ratios).value
        except UnitError as error:
            faults.add("car.geometry", str(error), "car.geometry", 0, key)
            continue
        longest = _LONGEST_PROTOTYPE / scale.ratio
        if (value <= 0 and key not in _SIGNED) or abs(value) > longest:
            full = f"; a prototype length names its scale, as in {text.strip()} {scale.name}" if value > longest else ""
            wanted = f"above zero and at most {say(longest, 'length', 'metric')}"
            faults.add("car.geometry", f"{text!r} is impossible: expected {wanted}{full}", "car.geometry", 0, key)
            continue
        lengths[key], texts[key] = value, text
    for short, long, factor in _SHORTER_THAN:
        if short in lengths and long in lengths and lengths[short] >= factor * lengths[long]:
            times = "twice " if factor > 1 else ""
            faults.add(
                "car.geometry",
                f"{short} {texts[short]!r} must be less than {times}{long} {texts[long]!r}",
                "car.geometry", 0, short,
            )  # fmt: skip
    return ReadGeometry(lengths, texts, _axles(car, faults), faults, _deck(car, scale, faults))


def _deck(car: Car, scale: Scale, faults: Faults) -> tuple[tuple[float, float, float], ...]:
    """Stretches of a stepped deck: from, to, design height [mm]."""
    found = []
    for number, stretch in enumerate(car.geometry.deck):
        read = []
        for key, text in (("from", stretch.from_), ("to", stretch.to), ("height", stretch.height)):
            try:
                read.append(parse(text, "length", ratio=scale.ratio).value)
            except UnitError as error:
                faults.add(f"car.geometry.deck {number + 1}", str(error), "car.geometry.deck", number, key)
        if len(read) == 3:  # noqa: PLR2004 - all of them
            if read[0] >= read[1]:
                message = f"must run from the lower to the higher station, got {stretch.from_!r} to {stretch.to!r}"
                faults.add(f"car.geometry.deck {number + 1}", message, "car.geometry.deck", number, "from")
            found.append((read[0], read[1], read[2]))
    return tuple(found)


def _axles(car: Car, faults: Faults) -> int | None:
    geometry = car.geometry
    if None not in {geometry.axles, geometry.axles_per_truck} and geometry.axles != 2 * (geometry.axles_per_truck or 0):
        message = f"{geometry.axles} axles do not go with {geometry.axles_per_truck} in each of two trucks"
        faults.add("car.geometry", message, "car.geometry", 0, "axles")
    if geometry.axles is not None:
        return geometry.axles
    return None if geometry.axles_per_truck is None else 2 * geometry.axles_per_truck
