"""The history as the other rooms read it: quantities read, places expanded, entries put in their stages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from carwright.dates import Span
from carwright.history.log import Happening, Reported
from carwright.history.movements import Placement, Running
from carwright.units import Kind, Quantity, System
from carwright.words import Scale


@dataclass(frozen=True, slots=True)
class Figures:
    """What an instrument does, for one kind of quantity, in its inside unit.

    Attributes
    ----------
    name : str
        The instrument; "digits written" where none was named.
    resolution : float
        Smallest step shown.
    calibration : float
        Standard uncertainty common to all its readings in one sitting.
    repeatability : float
        Standard deviation of one reading as displayed.
    dof : float
        Degrees of freedom of ``repeatability``.
    basis : str
        ``declared``, ``judgement`` (a preset) or ``assumed`` (from the digits written).
    suits : str
        Patterns of characteristics it is fit for, separated by blanks; "" for any of its kind.
    """

    name: str
    resolution: float
    calibration: float
    repeatability: float
    dof: float
    basis: str
    suits: str = ""


@dataclass(frozen=True, slots=True)
class GaugeLimits:
    """The limits a gauge itself accepts, and their standard uncertainty, in the inside unit."""

    name: str
    lower: float
    upper: float
    u: float
    edition: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """Repeats of one reading at one place."""

    entry: int
    what: str
    at: str
    place: str
    state: str
    values: tuple[Quantity, ...]
    figures: Figures
    stage: int
    name: str = ""
    turned: bool | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """Heights, or gaps under a straightedge, at stations along one line of the car.

    Attributes
    ----------
    entry, stage : int
        Entry of the sheet, counted from 1, and its stage.
    of, datum, side : str
        What was read, from what, along which line.
    stations : tuple[float, ...]
        From mid-car, + toward the A end [mm].
    lower, upper : tuple[float, ...]
        Heights or gaps; the two ends differ where only a band was read [mm].
    gaps : bool
        Whether they are gaps under a straightedge.
    nominal : tuple[float, ...] or None
        Design heights at the stations [mm].
    figures : Figures
        The instrument.
    """

    entry: int
    stage: int
    of: str
    datum: str
    side: str
    stations: tuple[float, ...]
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    gaps: bool
    nominal: tuple[float, ...] | None
    figures: Figures


@dataclass(frozen=True, slots=True)
class Spread:
    """A person's own prior of how far a contribution strays from its design [mm]."""

    what: str
    value: float
    u: float
    source: str


@dataclass(frozen=True, slots=True)
class CarPart:
    """A part of the car and what it is made of."""

    name: str
    material: str
    at: str
    fragile: bool
    removable: bool


@dataclass(frozen=True, slots=True)
class Space:
    """A pocket for ballast: x of its middle, z of its floor above the railhead, and its edges [mm]."""

    name: str
    x: float
    z: float
    length: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class GaugeCheck:
    """One attribute check at one place; ``limits`` is None where the gauge's own are not known."""

    entry: int
    what: str
    at: str
    place: str
    result: str
    limits: GaugeLimits | None
    stage: int


@dataclass(frozen=True, slots=True)
class Prior:
    """A characteristic before this bench: estimate and standard uncertainty, in the inside unit."""

    what: str
    at: str
    value: float
    u: float
    source: str


@dataclass(frozen=True, slots=True)
class Look:
    """A grade given by eye."""

    entry: int
    what: str
    at: str
    name: str
    grade: str
    note: str
    stage: int


@dataclass(frozen=True, slots=True)
class Work:
    """An operation; the stage it starts bears its number.

    ``size`` is its amount in the inside unit of ``kind`` (mm or g), None where none was written.
    """

    entry: int
    remedy: str
    at: str
    amount: str
    note: str
    stage: int
    when: str
    size: float | None = None
    kind: str = ""
    face: str = ""
    feature: str = ""
    month: int | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """The stretch of a history between works; stage 0 is the car as received."""

    number: int
    title: str


@dataclass(frozen=True, slots=True)
class Ruling:
    """A person's own deduction or waiver, or where a restricted car may run."""

    entry: int
    category: str
    points: float
    reason: str
    waives: str
    who: str
    route: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture beside the sheet."""

    entry: int
    file: str
    shows: str
    note: str
    when: str
    stage: int


@dataclass(frozen=True, slots=True)
class Sighting:
    """A feature in a piece of evidence, or a stencil and the month it bears.

    ``state`` is ``present``, ``absent`` or ``not visible``; ``trust`` is the chance that it was seen rightly [-].
    """

    feature: str
    state: str
    month: int | None = None
    trust: float = 1.0


@dataclass(frozen=True, slots=True)
class Stated:
    """A date somebody states: of the picture (``taken``), or of an event in the car's life."""

    about: str
    span: Span
    words: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """A photograph, drawing or roster line, or the model itself.

    Attributes
    ----------
    entry, stage : int
        Entry of the sheet, counted from 1, and its stage.
    of, source : str
        ``photo``, ``drawing``, ``roster`` or ``model``, and what it is, in words.
    seen : tuple[Sighting, ...]
        What it shows.
    stated : tuple[Stated, ...]
        Dates claimed.
    trust : float or None
        In what it claims; None where it does not say [-].
    copies : str
        The source it was copied from, "" where from none.
    number, type, use : str
        The number the car bears there, its type and use where they are not the sheet's.
    looked : int or None
        The month it was looked at.
    """

    entry: int
    stage: int
    of: str
    source: str
    seen: tuple[Sighting, ...] = ()
    stated: tuple[Stated, ...] = ()
    trust: float | None = None
    copies: str = ""
    number: str = ""
    type: str = ""
    use: str = ""
    looked: int | None = None


@dataclass(frozen=True, slots=True)
class Statement:
    """One claim about the prototype: ``span`` where it is a date."""

    what: str
    value: str
    source: str
    trust: float | None
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class FullSize:
    """A dimension of the full-size car and its standard uncertainty [mm]."""

    name: str
    value: float
    u: float
    of: str
    source: str
    over_scale: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Portrayed:
    """What the sheet says of the prototype, and of the time the model is wanted for.

    Attributes
    ----------
    statements : tuple[Statement, ...]
        Claims, rivals of one thing side by side.
    dimensions : tuple[FullSize, ...]
        Of the full-size car.
    wanted : str
        A date or an epoch, "" where none is wanted.
    country, use : str
        For epochs and rules.
    dated : tuple[str, ...]
        Files of dated rules of the person's own.
    roster : str
        A roster beside the sheet.
    """

    statements: tuple[Statement, ...] = ()
    dimensions: tuple[FullSize, ...] = ()
    wanted: str = ""
    country: str = ""
    use: str = ""
    dated: tuple[str, ...] = ()
    roster: str = ""


@dataclass(frozen=True, slots=True)
class Acquisition:
    """How the car was come by; never read by the verdict."""

    entry: int
    paid: float | None
    list_price: float | None
    currency: str
    source: str
    condition: str
    return_by: str
    when: str


@dataclass(frozen=True, slots=True)
class History:
    """A car and all that was seen and done, ready to be judged.

    Attributes
    ----------
    title, type : str
        What the car is called, and its type.
    scale : Scale
        Its scale.
    system : str
        Units results are printed in.
    rules : tuple[str, ...]
        Rule sets, earliest first.
    rubric : str
        Path of a rubric of the person's own, or "".
    properties : mapping
        What clauses may apply by: coupler, trip_pin, type.
    geometry : mapping
        Model dimensions [mm].
    coupler_mount : str
        ``body``, ``truck`` or "".
    axles : int or None
        How many the car has, None where the sheet does not say.
    profiles : tuple[Profile, ...]
        Of its frame.
    spreads : tuple[Spread, ...]
        Priors of contributions the sheet overrides.
    parts : tuple[CarPart, ...]
        What it is made of.
    pockets : tuple[Space, ...]
        Where ballast can go.
    stock : str
        Path of the person's stock, or "".
    evidence : tuple[Evidence, ...]
        Photographs, drawings, roster lines, and the model as it stands.
    portrayed : Portrayed
        What is said of the prototype.
    kept : mapping
        Entries no room reads yet, counted by kind.
    folder : str
        Where the sheet lies; photos and club rules are relative to it.
    id : str
        The car's UUID, "" where it has none.
    log : tuple[Happening, ...]
        Every entry in order, for whoever tells the history.
    reported : Reported
        Who publishes it.
    placements, running : tuple
        Where it stood, and how much it ran.
    """

    title: str
    type: str
    scale: Scale
    system: System
    rules: tuple[str, ...]
    rubric: str
    properties: Mapping[str, str]
    geometry: Mapping[str, float]
    geometry_text: Mapping[str, str]
    coupler_mount: str
    axles: int | None
    prototype: Mapping[str, str]
    stages: tuple[Stage, ...]
    instruments: Mapping[tuple[str, Kind], Figures]
    readings: tuple[Reading, ...]
    gauges: tuple[GaugeCheck, ...]
    priors: tuple[Prior, ...]
    looks: tuple[Look, ...]
    works: tuple[Work, ...]
    rulings: tuple[Ruling, ...]
    photos: tuple[Photo, ...]
    acquisitions: tuple[Acquisition, ...]
    profiles: tuple[Profile, ...] = ()
    spreads: tuple[Spread, ...] = ()
    parts: tuple[CarPart, ...] = ()
    pockets: tuple[Space, ...] = ()
    stock: str = ""
    evidence: tuple[Evidence, ...] = ()
    portrayed: Portrayed = Portrayed()
    kept: Mapping[str, int] = field(default_factory=dict)
    folder: str = ""
    notes: tuple[str, ...] = ()
    id: str = ""
    log: tuple[Happening, ...] = ()
    reported: Reported = field(default_factory=Reported)
    placements: tuple[Placement, ...] = ()
    running: tuple[Running, ...] = ()
