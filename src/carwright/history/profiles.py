"""Profiles as written: stations, heights or gaps, and the design heights they are compared with."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from carwright.errors import UnitError
from carwright.history.entries import ProfileEntry
from carwright.history.geometry import ReadGeometry
from carwright.units import Quantity, parse, parse_band, say
from carwright.words import Scale


@dataclass
class ReadProfile:
    """Numbers of a profile [mm], and what was wrong with it by key."""

    stations: tuple[float, ...] = ()
    lower: tuple[float, ...] = ()
    upper: tuple[float, ...] = ()
    nominal: tuple[float, ...] | None = None
    gaps: bool = False
    digits: list[Quantity] = field(default_factory=list)
    faults: list[tuple[str, str]] = field(default_factory=list)


def read_profile(entry: ProfileEntry, scale: Scale, geometry: ReadGeometry, scales: Mapping[str, float]) -> ReadProfile:
    """Read a profile; every fault is noted with its key.

    Parameters
    ----------
    entry : ProfileEntry
        As written.
    scale : Scale
        For lengths of the full-size car.
    geometry : ReadGeometry
        For the end of the body and the steps of the deck.
    scales : mapping
        Ratio by scale name, for lengths of the full-size car [-].
    """
    read = ReadProfile(gaps=entry.gaps is not None)

    def lengths(key: str, texts: Sequence[str]) -> tuple[Quantity, ...]:
        return _each(texts, key, read, lambda text: parse(text, "length", ratio=scale.ratio, scales=scales))

    read.stations = tuple(quantity.value for quantity in lengths("stations", entry.stations))
    if entry.heights is not None:
        read.digits = list(lengths("heights", entry.heights))
        read.lower = read.upper = tuple(quantity.value for quantity in read.digits)
    bands = _each(entry.gaps or [], "gaps", read, lambda text: parse_band(text, "length"))
    if entry.gaps is not None:
        read.lower, read.upper = tuple(low for low, _ in bands), tuple(high for _, high in bands)
        if any(low < 0 for low in read.lower):
            read.faults.append(("gaps", f"a gap is never below zero, got {min(read.lower):g} mm"))
        read.digits = (
            [parse(text.rpartition("..")[2].lstrip(" <"), "length") for text in entry.gaps] if not read.faults else []
        )
    if entry.nominal is not None:
        read.nominal = tuple(quantity.value for quantity in lengths("nominal", entry.nominal))
    if read.faults:
        return read
    if (entry.gaps is not None) != (entry.datum == "straightedge"):
        read.faults.append(("datum", "gaps are read under a straightedge, heights from the rail or a plate"))
    if len(set(read.stations)) < len(read.stations):
        read.faults.append(("stations", "a station stands twice: give repeats as a profile of their own"))
    _within_body(read, geometry)
    if read.nominal is None and not read.faults and entry.of == "deck" and geometry.deck:
        read.nominal = _from_deck(read, geometry)
    return read


Item = TypeVar("Item")


def _each(texts: Sequence[str], key: str, read: ReadProfile, reader: Callable[[str], Item]) -> tuple[Item, ...]:
    found: list[Item] = []
    for text in texts:
        try:
            found.append(reader(text))
        except UnitError as error:
            read.faults.append((key, str(error)))
    return tuple(found)


def _within_body(read: ReadProfile, geometry: ReadGeometry) -> None:
    length = geometry.lengths.get("body_length") or geometry.lengths.get("length_over_buffers")
    far = max(abs(station) for station in read.stations)
    if length is not None and far > length / 2 * 1.02:
        shown = say(far, "length", "metric")
        message = (
            f"a station {shown} from mid-car lies beyond the body, which ends at {say(length / 2, 'length', 'metric')}"
        )
        read.faults.append(("stations", message))


def _from_deck(read: ReadProfile, geometry: ReadGeometry) -> tuple[float, ...] | None:
    """Design heights of a stepped deck at the stations."""
    found = []
    for station in read.stations:
        stretch = next((each for each in geometry.deck if each[0] <= station <= each[1]), None)
        if stretch is None:
            message = f"station {station:g} mm lies on no [[car.geometry.deck]], and no nominal is given"
            read.faults.append(("stations", message))
            return None
        found.append(stretch[2])
    return tuple(found)
