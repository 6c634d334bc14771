"""What dates a car: features in groups, dated rules about them, stencils, ages and epochs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from carwright.dates import first_allowed, last_allowed
from carwright.words import plain

EVENTS = (
    "first seen", "permitted", "required on new", "required on rebuilt", "required on all",
    "banned on new", "banned on all", "no longer required", "gone in practice",
    "recommended", "restricted", "banned as a spare", "deadline moved", "share", "informs",
)  # fmt: skip
"""What may happen to a feature on a date; those from ``recommended`` on set no limit."""
STRENGTHS = ("regulation", "interchange rule", "practice")
DATED_CONFIDENCES = ("high", "medium", "low", "memory")
SCOPES = ("all", "interchange", "new", "rebuilt", "new or rebuilt", "older", "trains", "company service")


@dataclass(frozen=True, slots=True)
class Feature:
    """A thing seen on a car.

    Attributes
    ----------
    id, group, title, where : str
        ``brake.K``, ``brake``, its plain name, and where on the car it is.
    add, remove : str
        The work, with its material; "" where there is none.
    add_min, remove_min : float
        Bench time, judgement [min].
    fixed : bool
        Whether no work on a finished model changes it.
    size, size_source : str
        Of the full-size thing, and the bibliography's key; "" where no figure was found.
    rare : bool
        Whether few cars ever showed it; judgement.
    """

    id: str
    group: str
    title: str
    where: str
    add: str = ""
    add_min: float = 0.0
    remove: str = ""
    remove_min: float = 0.0
    fixed: bool = False
    size: str = ""
    size_source: str = ""
    rare: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Features that exclude one another, oldest first.

    Attributes
    ----------
    id, title, where : str
        Name, plain name, and place on the car.
    seen : str
        How surely a picture of the place shows it: high, medium, low.
    one : bool
        Whether every car shows exactly one of them.
    types : tuple[str, ...]
        Kinds of car it is about; () for all.
    features : tuple[Feature, ...]
        Oldest first.
    also : tuple[str, ...]
        Other names the trade has for it.
    """

    id: str
    title: str
    where: str
    seen: str
    one: bool
    types: tuple[str, ...]
    features: tuple[Feature, ...]
    also: tuple[str, ...] = ()

    def ids(self) -> tuple[str, ...]:
        """Ids of its features."""
        return tuple(feature.id for feature in self.features)


@dataclass(frozen=True, slots=True)
class DatedRule:
    """One event in the life of a feature.

    Attributes
    ----------
    id, feature, event : str
        ``brake.K/banned-on-all/1953``; a feature or a whole group; one of :data:`EVENTS`.
    earliest, latest : str
        Days between which the event lies, equal where it is exact.
    strength, confidence : str
        One of :data:`STRENGTHS` and of :data:`DATED_CONFIDENCES`.
    sources : tuple[str, ...]
        Keys of the bibliography, or a person's own words.
    scope : str
        One of :data:`SCOPES`.
    types, not_types : tuple[str, ...]
        Kinds of car it is and is not about; () for all and none.
    when, unless : tuple[str, ...]
        Features the car must, and must not, show.
    owners, classes : tuple[str, ...]
        Owners and classes it is about; () for all.
    share : float or None
        Part of the cars that show the feature on that date [-].
    rivals : tuple[str, ...]
        Rules that say otherwise.
    preferred : bool
        False for a date that is kept because it is often quoted; it sets no limit.
    authority, note : str
        Whose rule it is, and what a reader must know.
    file : str
        The person's own file it comes from, "" for a shipped rule.
    """

    id: str
    feature: str
    event: str
    earliest: str
    latest: str
    strength: str
    confidence: str
    sources: tuple[str, ...]
    scope: str = "all"
    types: tuple[str, ...] = ()
    not_types: tuple[str, ...] = ()
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    owners: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    share: float | None = None
    rivals: tuple[str, ...] = ()
    preferred: bool = True
    authority: str = ""
    note: str = ""
    file: str = ""

    @property
    def hard(self) -> bool:
        """Whether it may rule a month out: a regulation or interchange rule somebody read, or a first sighting."""
        sure = self.preferred and self.confidence in {"high", "medium"}
        return sure and (self.strength != "practice" or self.event in {"first seen", "permitted"})

    @property
    def starts(self) -> tuple[int, int]:
        """First month from which it may hold, and from which it surely holds [months]."""
        return first_allowed(self.earliest), first_allowed(self.latest)

    @property
    def ends(self) -> tuple[int, int]:
        """Last month before it may hold, and before it surely holds [months]."""
        return last_allowed(self.earliest), last_allowed(self.latest)

    def date_words(self) -> str:
        """``1953-07-01``, or ``1940-07-01 to 1941-08-01``."""
        return self.earliest if self.earliest == self.latest else f"{self.earliest} to {self.latest}"

    def marks(self) -> str:
        """What must stand beside it wherever it is shown: ``interchange rule, medium``, ``practice, from memory``."""
        confidence = "from memory" if self.confidence == "memory" else f"confidence {self.confidence}"
        own = f", {self.file}" if self.file else ""
        return f"{self.strength}, {confidence}{own}"


@dataclass(frozen=True, slots=True)
class Stencil:
    """A date a car may bear."""

    id: str
    title: str
    where: str


@dataclass(frozen=True, slots=True)
class Interval:
    """How long a stencil's date may stand: ``first`` after building or rebuilding, ``later`` otherwise [months]."""

    id: str
    stencil: str
    first: int
    later: int
    types: tuple[str, ...]
    start: int | None
    strength: str
    confidence: str
    sources: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class AgeRule:
    """How old a car may be: ``years``, or ``extended`` where it was rebuilt or approved."""

    id: str
    years: int
    extended: int
    start: int
    scope: str
    strength: str
    confidence: str
    sources: tuple[str, ...]
    built_before: int | None = None
    built_from: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Epoch:
    """An epoch of a European norm, both years included."""

    country: str
    name: str
    title: str
    first: int
    last: int
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Weights:
    """What dating weighs by; every figure is a judgement with its meaning in the file."""

    horizon: int
    grid: int
    life_years: float
    life_spread: float
    seen_high: float
    seen_medium: float
    seen_low: float
    false_seen: float
    left_regulation: float
    left_rule: float
    left_practice: float
    fade_months: float
    turnover_months: float
    rare: float
    late_months: float
    paint_months: float
    near_months: float
    near_part: float
    claim_trust: float

    def seen(self, how: str) -> float:
        """Chance that a thing that is there is seen where its place shows [-]."""
        return {"high": self.seen_high, "medium": self.seen_medium, "low": self.seen_low}[how]

    def left(self, strength: str) -> float:
        """Share of cars a rule of such strength leaves as they were [-]."""
        return {
            "regulation": self.left_regulation, "interchange rule": self.left_rule, "practice": self.left_practice,
        }[strength]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Dated:
    """Everything that dates a car.

    Attributes
    ----------
    region : str
        Where the shipped rules hold.
    groups : mapping
        Groups by id.
    rules : tuple[DatedRule, ...]
        Of every feature.
    stencils, intervals, ages, epochs, weights
        As their names say.
    """

    region: str
    groups: Mapping[str, Group]
    rules: tuple[DatedRule, ...]
    stencils: Mapping[str, Stencil]
    intervals: tuple[Interval, ...]
    ages: tuple[AgeRule, ...]
    epochs: tuple[Epoch, ...]
    weights: Weights
    own: tuple[str, ...] = field(default=())

    @cached_property
    def features(self) -> Mapping[str, Feature]:
        """Every feature by id."""
        return {feature.id: feature for group in self.groups.values() for feature in group.features}

    @cached_property
    def group_of(self) -> Mapping[str, Group]:
        """The group of a feature, or of itself."""
        own = {group.id: group for group in self.groups.values()}
        return own | {feature.id: group for group in self.groups.values() for feature in group.features}

    @cached_property
    def names(self) -> frozenset[str]:
        """Everything a piece of evidence may show."""
        return frozenset(self.group_of) | frozenset(self.stencils)

    @cached_property
    def written(self) -> Mapping[str, str]:
        """Every name as a person may write it, plain (:func:`carwright.words.plain`), and what it means."""
        also = {word: group.id for group in self.groups.values() for word in group.also}
        return {plain(name): meant for name, meant in (also | {name: name for name in self.names}).items()}

    def title(self, name: str) -> str:
        """Plain name of a feature, a group or a stencil; any other name, such as ``age``, is plain itself."""
        if name in self.features:
            return self.features[name].title
        if name in self.groups:
            return self.groups[name].title
        return self.stencils[name].title if name in self.stencils else name
