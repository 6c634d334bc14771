"""The names a sheet may use, as plain records any room can hold.

The tables fill a :class:`Vocabulary`; the history checks a sheet against it.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
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
class Shift:
    """What a remedy does to one contribution.

    Attributes
    ----------
    what : str
        Its id.
    mode : str
        ``+`` moves it by factor times the amount, ``=`` sets it anew about that with the remedy's spread, ``~`` sets it
        anew as parts come, with the contribution's own spread, ``<>`` exchanges the ends.
    factor : float
        Per unit of the amount [-].
    """

    what: str
    mode: str
    factor: float


@dataclass(frozen=True, slots=True)
class Remedy:
    """An operation on the car.

    Attributes
    ----------
    id, title : str
        ``washer`` and its plain name.
    touches : tuple[str, ...]
        Characteristics whose earlier readings it makes stale.
    only_there : bool
        Whether it touches only the place it was done at.
    amount : str
        Kind of amount it takes: ``length``, ``mass``, ``any`` or "".
    shifts : tuple[Shift, ...]
        Contributions it moves.
    spread : float
        Standard deviation of what it does about what was meant [mm].
    step : float
        Finest amount by hand; 0 where it comes in stock sizes [mm].
    most : float
        Greatest amount that makes sense [scale in].
    effort, cost, risk : float
        Bench time [min], parts [US dollars], chance to spoil something [-].
    reversible : str
        ``yes``, ``partly`` or ``no``.
    order : int
        Place in working order.
    success : float
        Chance that what it cures conforms afterwards, where no model predicts it [-].
    cures : tuple[str, ...]
        Characteristics it is for, where no model of contributions says so.
    how, needs, side : str
        What to do, what must be so before, and what else it changes, in words.
    cautions : tuple[str, ...]
        Rows of ``words/cautions``.
    """

    id: str
    title: str
    touches: tuple[str, ...]
    only_there: bool
    amount: str = "any"
    shifts: tuple[Shift, ...] = ()
    spread: float = 0.0
    step: float = 0.0
    most: float = 0.0
    effort: float = 0.0
    cost: float = 0.0
    risk: float = 0.0
    reversible: str = "yes"
    order: int = 0
    success: float = 0.0
    cures: tuple[str, ...] = ()
    how: str = ""
    needs: str = ""
    side: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Contribution:
    """Something that adds to the height of a coupler, and how far it strays before anything is read.

    Attributes
    ----------
    id, title : str
        ``truck.ride`` and its plain name.
    mean, common, own : float
        Prior mean, and standard deviations common to both ends and of each place alone [scale in].
    status : str
        What the figure is: common practice, judgement, measured here.
    signs : str
        What + means.
    """

    id: str
    title: str
    mean: float
    common: float
    own: float
    status: str
    signs: str


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
    contributions: Mapping[str, Contribution] = field(default_factory=dict)
    cautions: Mapping[str, str] = field(default_factory=dict)
    features: Callable[[], Mapping[str, str]] = dict
    """Features, their groups and stencils, by their names as :func:`plain` writes them; read when first asked for."""

    @property
    def ratios(self) -> Mapping[str, float]:
        """Scale ratio by scale name [-]."""
        return {name: scale.ratio for name, scale in self.scales.items()}


KINDS: Mapping[str, tuple[str, ...]] = {
    "covered hopper": ("covered hopper",),
    "refrigerator": ("refrigerator", "reefer"),
    "stock": ("stock car", "stock"),
    "box": ("boxcar", "box car", "box", "automobile car"),
    "tank": ("tank car", "tank"),
    "well": ("well", "double stack"),
    "flat": ("flat car", "flatcar", "flat"),
    "gondola": ("gondola",),
    "hopper": ("hopper",),
    "caboose": ("caboose", "way car", "brake van"),
    "passenger": ("passenger", "coach", "baggage"),
}
"""Kinds of car dated rules speak of, and the words of a sheet's ``type`` they are known by."""


def kind_of(words: str) -> str:
    """The kind of car a sheet's ``type`` means, "" where it means none of them."""
    told = plain(words)
    return next((kind for kind, names in KINDS.items() if any(_holds(told, name) for name in names)), "")


def _holds(words: str, name: str) -> bool:
    """Whether a name begins a word of some words."""
    return f" {name}" in f" {words}"


def plain(name: str) -> str:
    """A name without the differences people make no point of: case, hyphens and blanks."""
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())


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
