"""What explain says, as plain records any face can render."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from carwright.words import Remedy


@dataclass(frozen=True, slots=True)
class Tell:
    """The reading that would tell a share.

    Attributes
    ----------
    what, at, with_ : str
        Characteristic (``profile`` for a profile of the frame), place, instrument.
    cut : float
        Share of the remaining variance it would take away [-].
    words : str
        In words.
    """

    what: str
    at: str
    with_: str
    cut: float
    words: str


@dataclass(frozen=True, slots=True)
class Share:
    """What one cause adds to one coupler's height.

    Attributes
    ----------
    cause, place : str
        Cause id, and where the cause sits: an end, or "" for the frame as a whole.
    characteristic, at : str
        What it explains.
    share, u : float
        Its part of (reading − nominal), and the standard uncertainty of that [mm].
    before : float
        Standard deviation before any reading [mm].
    basis : str
        ``measured``, ``assumed`` or ``group``.
    group : tuple[str, ...]
        Causes it cannot be told from, with their places.
    tell : Tell or None
        What would tell.
    rests_on : str
        The instrument whose calibration holds more than a quarter of its variance, "" for none: an error beyond that
        calibration's stated u would go into this share and show nowhere else.
    u_loose : float
        Standard uncertainty had every belief about the car been twice as wide [mm].
    """

    cause: str
    place: str
    characteristic: str
    at: str
    share: float
    u: float
    before: float
    basis: str
    group: tuple[str, ...] = ()
    tell: Tell | None = None
    rests_on: str = ""
    u_loose: float = math.inf

    @property
    def fixed(self) -> bool:
        """Whether it is no contribution of the car: design, instrument, or what is left."""
        return self.cause in {"design", "instrument", "unexplained"}

    @property
    def name(self) -> str:
        """``truck.ride@A``."""
        return f"{self.cause}@{self.place}" if self.place else self.cause


@dataclass(frozen=True, slots=True)
class Group:
    """Causes that cannot be told apart, as one share.

    ``measured`` says whether their sum is known, though not its split; ``lead`` is the likeliest of them,
    ``rests_on`` the instrument whose calibration holds much of its variance, ``u_loose`` the standard uncertainty
    had every belief about the car been twice as wide, ``before`` that before any reading.
    """

    names: tuple[str, ...]
    lead: str
    at: str
    share: float
    u: float
    measured: bool
    tell: Tell | None
    rests_on: str = ""
    u_loose: float = math.inf
    before: float = 0.0


@dataclass(frozen=True, slots=True)
class Coupler:
    """Why one coupler stands where it does.

    Attributes
    ----------
    at : str
        End.
    value, nominal : float
        Reading of the stage and the clause's nominal [mm].
    shares : tuple[Share, ...]
        They add up to value − nominal, exactly.
    correlation : tuple of tuple
        Of the shares of contributions, in their order [-].
    groups : tuple[Group, ...]
        Causes not told apart.
    """

    at: str
    value: float
    nominal: float
    shares: tuple[Share, ...]
    correlation: tuple[tuple[float, ...], ...]
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Execution:
    """How a work came out against what was meant.

    ``z`` is the difference in standard deviations of the remedy's own spread; ``known`` whether later readings tell;
    ``spread_now`` the remedy's spread on this car with what was seen of it, its table's counting as five works [mm].
    """

    stage: int
    remedy: str
    at: str
    what: str
    meant: float
    was: float
    u: float
    spread: float
    z: float
    known: bool
    spread_now: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """Causes of one stage.

    Attributes
    ----------
    stage : int
        Stage shown.
    couplers : tuple[Coupler, ...]
        By end; none where ``reason`` says why.
    reason : str
        Why nothing can be told.
    p : float
        Probability of readings that disagree as much as these [-].
    disagreements : tuple[str, ...]
        Readings that disagree, named.
    executions : tuple[Execution, ...]
        Works, as they came out.
    notes : tuple[str, ...]
        What was assumed of the car.
    priors : mapping
        Standing of each contribution's prior: common practice, judgement, the sheet's.
    bow, kink_at, half_span : float
        Of the frame, for drawing it [mm].
    seats : mapping
        Height of the frame at each pivot over its design, by end [mm].
    """

    stage: int
    couplers: tuple[Coupler, ...] = ()
    reason: str = ""
    p: float = 1.0
    disagreements: tuple[str, ...] = ()
    executions: tuple[Execution, ...] = ()
    notes: tuple[str, ...] = ()
    priors: Mapping[str, str] = field(default_factory=dict)
    bow: float = 0.0
    kink: float = 0.0
    kink_at: float = 0.0
    half_span: float = 0.0
    seats: Mapping[str, float] = field(default_factory=dict)

    def of(self, at: str) -> Coupler | None:
        """The coupler of an end, None where nothing was read there."""
        return next((each for each in self.couplers if each.at == at), None)


@dataclass(frozen=True, slots=True)
class Step:
    """One step at the bench.

    ``amount`` is in mm or g by ``unit``; ``remedy`` is "" for a reading between works.
    """

    remedy: str
    at: str
    amount: float | None
    unit: str
    words: str
    side: str = ""
    needs: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Predicted:
    """What a finding would be after a plan: value and u in mm where a model tells, and the chance that it conforms."""

    characteristic: str
    at: str
    value: float | None
    u: float | None
    p_conform: float
    how: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A set of remedies with its predicted findings.

    Attributes
    ----------
    steps : tuple[Step, ...]
        In working order, with the readings between.
    effort, cost, risk : float
        Bench time [min], parts [US dollars], chance to spoil something [-].
    reversible : str
        ``yes``, ``partly`` or ``no``: the worst of its steps.
    p_open, p_closed : float
        Chance that everything conforms: as written, and when the last amounts are chosen after measuring [-].
    predicted : tuple[Predicted, ...]
        Every finding the plan moves or that is open.
    seats : mapping
        How far the frame rises at each pivot [mm].
    leaves : tuple[str, ...]
        Causes that are measured, matter, and stay as they are.
    changes : tuple[str, ...]
        What it changes beside what it cures: ride height, floor clearance, the far coupler, trip pins.
    """

    steps: tuple[Step, ...]
    effort: float
    cost: float
    risk: float
    reversible: str
    p_open: float
    p_closed: float
    predicted: tuple[Predicted, ...]
    seats: Mapping[str, float] = field(default_factory=dict)
    straightens: bool = False
    leaves: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plans:
    """Plans none of which is worse than another in effort, cost, reversibility and risk together.

    Attributes
    ----------
    offered : tuple[Plan, ...]
        Least effort first.
    tried : int
        Combinations of remedies and amounts considered [-].
    reason : str
        Why none is offered, and what would open one; "" where some are.
    closed : tuple[str, ...]
        Options the person closed.
    """

    offered: tuple[Plan, ...]
    tried: int
    reason: str = ""
    closed: tuple[str, ...] = ()


def caution_lines(remedy: Remedy, cautions: Mapping[str, str]) -> tuple[str, ...]:
    """A remedy's own cautions, in words."""
    return tuple(cautions[name] for name in remedy.cautions)
