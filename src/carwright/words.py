"""The names a sheet may use, as plain records any room can hold.

The tables fill a :class:`Vocabulary`; the history checks a sheet against it.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from carwright.units import Kind

Places = Literal["none", "ends", "axles", "wheels", "sides", "directions"]


@dataclass(frozen=True, slots=True)
class Characteristic:
    """What is measured, and where.

    Attributes
    ----------
    id, title : str
        ``wheel.back_to_back`` and its plain name.
    kind : str or None
        Kind of quantity; None where it is only passed or failed.
    places : str
        Where it has a place: none, ends (A, B), axles (3), wheels (3L), sides (L, R), directions (A or B
        leading, or none).
    combine : str
        ``repeat`` (readings are averaged) or ``every`` (each place must conform).
    bounded : bool
        True where nature forbids a value below zero.
    believable : tuple[float, float]
        Least and greatest believable value, as a multiple of ``per``.
    per : str
        ``scale in``, ``scale tonne``, ``gauge`` or an inside unit.
    minutes : float
        Bench time of one reading [min].
    spread : float
        Car-to-car standard deviation before anything is read, in ``per``.
    """

    id: str
    title: str
    kind: Kind | None
    places: Places
    combine: Literal["repeat", "every"]
    bounded: bool
    believable: tuple[float, float]
    per: str
    minutes: float
    spread: float


@dataclass(frozen=True, slots=True)
class Scale:
    """A modelling scale.

    Attributes
    ----------
    name : str
        ``HO``.
    ratio : float
        87.1 [-].
    gauge : float
        Track gauge [mm].
    track : float or None
        Nominal gauge by which the European wheelset norm goes [mm].
    """

    name: str
    ratio: float
    gauge: float
    track: float | None

    def unit(self, per: str) -> float:
        """Inside units in one ``scale in``, ``scale tonne``, ``gauge`` or inside unit."""
        match per:
            case "scale in":
                return 25.4 / self.ratio
            case "scale tonne":
                return 1e6 / self.ratio**3
            case "gauge":
                return self.gauge
            case _:
                return 1.0


@dataclass(frozen=True, slots=True)
class Remedy:
    """An operation on the car, as far as it touches what was read before."""

    id: str
    title: str
    touches: tuple[str, ...]
    only_there: bool


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Every name a sheet may use."""

    characteristics: Mapping[str, Characteristic]
    scales: Mapping[str, Scale]
    instruments: Mapping[str, Mapping[str, str]]
    remedies: Mapping[str, Remedy]
    looks: Mapping[str, str]
    rule_sets: tuple[str, ...]
    european: frozenset[str] = frozenset()

    @property
    def ratios(self) -> Mapping[str, float]:
        """Scale ratio by scale name [-]."""
        return {name: scale.ratio for name, scale in self.scales.items()}


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint that ends a sentence: ``; did you mean 'washer'?``, or the known names, or where they are listed."""
    names = sorted(known)
    best, score = "", 0.0
    for candidate in names:
        alike = max(_alike(part, candidate) for part in {name, *name.split()})
        if alike > score:
            best, score = candidate, alike
    if score >= _CLOSE:
        return f"; did you mean {best!r}?"
    if not names:
        return ""
    return f"; known: {', '.join(names)}" if len(names) <= _FEW else "; `carwright words` lists what is known"


_CLOSE = 0.65
_FEW = 14


def _alike(written: str, candidate: str) -> float:
    return difflib.SequenceMatcher(None, written.casefold(), candidate.casefold()).ratio()
