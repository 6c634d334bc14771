"""Do shares of coupler height hold the truth 95 times in 100? Cars drawn from the prior, and worlds it does not know.

A synthetic car's contributions come from the tabled prior, its instruments get a calibration error each, and a random
set of readings goes onto a sheet, with the noise the sheet states and no rounding to speak of. The program reads that
sheet and shares out both coupler heights, as received and after a work where one was done. The true share of a
contribution is its own size times the lever of DESIGN §7, written here from the formulas, not taken from the program.

*Flagged*: readings that disagree (|z| > 3), a probability of all residuals below 0.005, or a frame whose heights follow
none of the known shapes. A flagged car is excused in the worlds the prior does not know, and counted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

import carwright as cw
from carwright.explain.levers import ENDS
from carwright.explain.model import Model, model_of
from carwright.explain.posterior import MISFIT
from carwright.explain.records import Coupler, Explanation
from carwright.explain.shares import designed_height, explanation_of, heights_of
from carwright.history import History
from carwright.inspection import rules_of, words_of
from carwright.judge import Finding, judge_stage
from carwright.measure import values_at
from carwright.measure.frame import NO_SHAPE
from carwright.tables import shipped
from carwright.verdict import load_rubric

CARS, CARS_ELSEWHERE, CHUNK, SEED = 5000, 1500, 250, 20261125
WIDE_95 = 1.959964
FAR = 8.0
"""Standard deviations from zero beyond which a cut at zero no longer shows."""
OTHER = {"A": "B", "B": "A"}
INCH = 25.4 / 87.1
"""A scale inch in HO [mm]."""

A, WHEELBASE, OFFSET = 48.0, 19.3, 0.4
"""Pivots from mid-car, truck wheelbase, and pivot from the truck's middle toward the car end [mm]."""
E, C = {"A": 76.7, "B": 75.9}, {"A": 68.6, "B": 68.2}
"""Coupler faces and coupler pivots from mid-car [mm]."""
BODY, DESIGN, RIDE, BOX, WHEEL, SILL = 135.9, 9.90, 8.2, 8.6, 10.49, 10.4
"""Body length; designed coupler height, truck bearing, box floor, wheel diameter and sill height [mm]."""
HEIGHT_GAUGE, CALLIPER = (0.03, 0.02), (0.018, 0.02)
"""Standard deviation of one reading, and calibration u [mm]."""
WASHER = 0.381
SPREAD_WASHER, SPREAD_STRAIGHTEN = 0.02, 0.1
"""A washer's thickness, and what a washer and a straightening add of their own [mm]."""
FINER = 0.2
"""Part of a straightening's spread that goes into bends beside bow and kink [-]."""

_CAR = f"""format = "carwright-sheet/1"

[car]
title = "Synthetic car"
scale = "HO"
rules = ["nmra", "bench"]
coupler = "knuckle"

[car.geometry]
body_length = "{BODY} mm"
truck_centers = "{2 * A} mm"
truck_wheelbase = "{WHEELBASE} mm"
axles_per_truck = 2
pivot_offset = "{OFFSET} mm"
coupler_mount = "body"
coupler_face_A = "{E["A"]} mm"
coupler_face_B = "{E["B"]} mm"
coupler_pivot_A = "{C["A"]} mm"
coupler_pivot_B = "{C["B"]} mm"
coupler_height = "{DESIGN} mm"
ride_height = "{RIDE} mm"
box_height = "{BOX} mm"
wheel_diameter = "{WHEEL} mm"
"""
_INSTRUMENT = """
[[instrument]]
name = "{}"
resolution = "0.001 mm"
repeatability = "{} mm"
calibration = "{} mm"
repeatability_n = 400
"""

_HEAD = """# Shares of coupler height against the truth

Made by `make studies`; seeds fixed. Synthetic HO cars: contributions drawn from a world, instruments with a calibration
error each, a random set of readings on a sheet (both couplers free always; lifted, wheels, bolster, box, shank, a
known-good coupler, a profile of five to nine stations at random; on three cars in ten a washer or a straightening, and
heights again). The program shares out both couplers at every stage. *Held*: part of the shares whose 95 % interval held
the true share, lever times contribution. *Measured*: those the program marks so. *Flagged*: cars of which it says that
readings disagree, or that the frame follows none of the shapes it knows. The interval is share ± 1.96 u, for droop that
of the normal cut off at zero with the same mean and u. Where the frame bends otherwise than in a parabola, the share of
the bow stands for the whole bend.
"""

Array = NDArray[np.float64]
Generator = np.random.Generator
Bend = Callable[[float], float]


@dataclass(frozen=True)
class World:
    """What nature does: the prior's world, or another.

    Attributes
    ----------
    name : str
        In words.
    spread : float
        True spread of every contribution over the prior's [-].
    shape : str
        Of the frame: ``bow and kink`` at mid-car as the prior has it, ``bow``, ``kink``, ``bow and kink off centre``,
        ``quartic``, ``s``.
    bias : float
        Error of every height gauge in its calibration u; drawn anew for each car where None [-].
    tails : bool
        Whether noise is a t with three degrees of freedom of the same variance.
    """

    name: str
    spread: float = 1.0
    shape: str = "bow and kink"
    bias: float | None = None
    tails: bool = False


WORLDS = (
    World("the prior's"),
    World("frames bowed or kinked at mid-car, not both", shape="bow or kink"),
    World("spreads half the prior's", spread=0.5),
    World("spreads twice the prior's", spread=2.0),
    World("bows of the fourth power", shape="quartic"),
    World("kinks off centre and no bow", shape="kink"),
    World("bows and kinks off centre", shape="bow and kink off centre"),
    World("frames bent like an S", shape="s"),
    World("height gauges off by three calibration u", bias=3.0),
    World("noise with tails, t with 3 degrees of freedom", tails=True),
)


@dataclass
class Truth:
    """One car as it is: contributions by cause and place [mm], and how its frame bends.

    ``bend`` is what the share of the bow stands for: rise over the line through both pivots [mm], and its slope [-].
    """

    parts: dict[tuple[str, str], float]
    bend: Bend
    slope: Bend
    kink_at: float
    exchange: float = 0.0
    offsets: dict[str, float] = field(default_factory=dict)

    def radius(self, end: str) -> float:
        """Height of a truck's plane at its pivot over its design: T = r̄ + (o/w)(r_out − r_in)."""
        out, inner = self.parts["wheel.diameter", f"{end} outer"], self.parts["wheel.diameter", f"{end} inner"]
        return (out + inner) / 2 + OFFSET / WHEELBASE * (out - inner)

    def shares(self, end: str, x: float | None = None) -> dict[tuple[str, str], float]:
        """What each contribution adds to the coupler of an end, or to the frame at x beyond the coupler's pivot."""
        e, far, own = E[end] if x is None else x, OTHER[end], self.parts
        up, down = (e + A) / (2 * A), (e - A) / (2 * A)
        sign = 1.0 if end == "A" else -1.0
        theta = 2 * own["frame.kink", ""] / A
        return {
            ("wheel.diameter", ""): self.radius(end) * up - self.radius(far) * down,
            ("truck.ride", end): own["truck.ride", end] * up,
            ("truck.ride", far): -own["truck.ride", far] * down,
            ("frame.bolster", end): own["frame.bolster", end] * up,
            ("frame.bolster", far): -own["frame.bolster", far] * down,
            ("frame.bow", ""): self.bend(sign * C[end]) + sign * self.slope(sign * C[end]) * (e - C[end]),
            ("frame.kink", ""): theta * (e - A) * (A + sign * self.kink_at) / (2 * A),
            ("box.position", end): own["box.position", end],
            ("shank.offset", end): own["shank.offset", end],
            ("coupler.droop", end): -own["coupler.droop", end],
        }

    def box(self, end: str) -> float:
        """Box mouth over its design; it lies midway between coupler pivot and face."""
        shares = self.shares(end, (C[end] + E[end]) / 2)
        return math.fsum(share for (what, _), share in shares.items() if what not in {"shank.offset", "coupler.droop"})

    def coupler(self, end: str, *, lifted: bool = False) -> float:
        """Coupler height over its design [mm]."""
        return math.fsum(self.shares(end).values()) + (self.parts["coupler.droop", end] if lifted else 0.0)

    def sill(self, x: float) -> float:
        """Frame over its design at a station, inside the body: the chord, the bend and the kink."""
        seats = {end: self.radius(end) + self.parts["truck.ride", end] + self.parts["frame.bolster", end]
                 for end in ENDS}  # fmt: skip
        chord = (seats["A"] + seats["B"]) / 2 + (seats["A"] - seats["B"]) * x / (2 * A)
        theta = 2 * self.parts["frame.kink", ""] / A
        kinked = max(0.0, x - self.kink_at) - (A - self.kink_at) * (x + A) / (2 * A)
        return chord + self.bend(x) + theta * kinked


@lru_cache(maxsize=1)
def priors() -> dict[str, tuple[float, float, float]]:
    """Mean, common and own standard deviation of each contribution, from the tables [mm]."""
    words = words_of(shipped())
    return {name: (row.mean * INCH, row.common * INCH, row.own * INCH) for name, row in words.contributions.items()}


def positive(mean: float, spread: float, generator: Generator) -> float:
    """One draw of a normal cut off below zero."""
    while True:
        value = float(generator.normal(mean, spread))
        if value >= 0:
            return value


def truth_of(world: World, generator: Generator) -> Truth:
    """One car of a world."""
    parts: dict[tuple[str, str], float] = {}
    places = {
        "wheel.diameter": tuple(f"{end} {axle}" for end in ENDS for axle in ("outer", "inner")),
        "frame.bow": ("",),
        "frame.kink": ("",),
    }
    for what in ("wheel.diameter", "truck.ride", "frame.bolster", "frame.bow", "frame.kink", "box.position",
                 "shank.offset"):  # fmt: skip
        mean, common, own = priors()[what]
        shared = generator.normal(mean, world.spread * common)
        for place in places.get(what, ENDS):
            parts[what, place] = float(shared + generator.normal(0.0, world.spread * own))
    mean, _, own = priors()["coupler.droop"]
    for end in ENDS:
        parts["coupler.droop", end] = positive(mean, world.spread * own, generator)
    sag, away = parts["frame.bow", ""], float(generator.uniform(0.25, 0.6) * generator.choice([-1, 1]) * A)
    if world.shape in {"quartic", "s"} or (world.shape == "bow or kink" and generator.random() < 0.5):  # noqa: PLR2004 - evens
        parts["frame.kink", ""] = 0.0
    elif world.shape in {"kink", "bow or kink"}:
        sag = parts["frame.bow", ""] = 0.0
    cubic, quartic = (float(each) for each in generator.normal(0.0, world.spread * priors()["frame.shape"][2], 2))
    if world.shape != "bow and kink":
        cubic = quartic = 0.0
    bend, slope = bent(world.shape, sag, cubic, quartic)
    kink_at = away if world.shape in {"kink", "bow and kink off centre"} else 0.0
    exchange = float(generator.normal(0.0, priors()["coupler.exchange"][2]))
    offsets = {
        "height": HEIGHT_GAUGE[1] * (float(generator.standard_normal()) if world.bias is None else world.bias),
        "calliper": CALLIPER[1] * float(generator.standard_normal()),
    }
    return Truth(parts, bend, slope, kink_at, exchange, offsets)


def bent(shape: str, sag: float, cubic: float = 0.0, quartic: float = 0.0) -> tuple[Bend, Bend]:
    """Rise over the line through the pivots, and its slope: nothing at either pivot, at most ``sag`` between them.

    A bow of the prior's world carries the prior's cubic and quartic too.
    """
    match shape:
        case "quartic":
            return lambda x: sag * ((x / A) ** 4 - 1), lambda x: 4 * sag * x**3 / A**4
        case "s":
            most = 2 / math.sqrt(27)  # of u − u³, at u = 1/√3
            return lambda x: sag / most * ((x / A) ** 3 - x / A), lambda x: sag / most * (3 * x**2 / A**3 - 1 / A)
        case _:
            return (
                lambda x: sag * ((x / A) ** 2 - 1) + cubic * ((x / A) ** 3 - x / A) + quartic * ((x / A) ** 4 - 1),
                lambda x: (2 * sag * x / A + cubic * (3 * x * x / A**2 - 1) + 4 * quartic * x**3 / A**3) / A,
            )


class Sheet:
    """A sheet being written for a car, its noise drawn as it goes."""

    def __init__(self, truth: Truth, world: World, generator: Generator) -> None:
        self.truth, self._tails, self._generator = truth, world.tails, generator
        self._text = [_CAR, _INSTRUMENT.format("height", *HEIGHT_GAUGE), _INSTRUMENT.format("calliper", *CALLIPER)]

    @property
    def text(self) -> str:
        """All of it."""
        return "".join(self._text)

    def _seen(self, value: float, instrument: str) -> str:
        noise = self._generator.standard_t(3) / math.sqrt(3) if self._tails else self._generator.standard_normal()
        spread = (HEIGHT_GAUGE if instrument == "height" else CALLIPER)[0]
        return f'"{value + self.truth.offsets[instrument] + spread * float(noise):.4f} mm"'

    def read(self, what: str, at: str, value: float, instrument: str, state: str = "") -> None:
        """One to three readings."""
        seen = ", ".join(self._seen(value, instrument) for _ in range(int(self._generator.integers(1, 4))))
        text = (
            f'\n[[entry]]\nkind = "reading"\nwhat = "{what}"\nat = "{at}"\nvalues = [{seen}]\nwith = "{instrument}"\n'
        )
        self._text.append(text + (f'state = "{state}"\n' if state else ""))

    def heights(self, *, lifted: bool) -> None:
        """Both couplers, free, and lifted if wanted."""
        for end in ENDS:
            self.read("coupler.height", end, DESIGN + self.truth.coupler(end), "height", "free")
            if lifted:
                self.read("coupler.height", end, DESIGN + self.truth.coupler(end, lifted=True), "height", "lifted")

    def wheels(self) -> None:
        """All four axles over their treads."""
        for axle, place in enumerate(("A outer", "A inner", "B inner", "B outer"), 1):
            self.read("wheel.diameter", str(axle), WHEEL + 2 * self.truth.parts["wheel.diameter", place], "calliper")

    def profile(self, stations: int) -> None:
        """Heights of the sill over the rail, evenly along the body."""
        places = np.linspace(-0.49 * BODY, 0.49 * BODY, stations)
        heights = ", ".join(self._seen(SILL + self.truth.sill(float(x)), "height") for x in places)
        where = ", ".join(f'"{x:.4f} mm"' for x in places)
        nominal = ", ".join([f'"{SILL} mm"'] * stations)
        self._text.append(
            f'\n[[entry]]\nkind = "profile"\nof = "sill"\ndatum = "rail"\nside = "centre"\nstations = [{where}]\n'
            f'heights = [{heights}]\nnominal = [{nominal}]\nwith = "height"\n'
        )

    def work(self, remedy: str, at: str = "", amount: float | None = None) -> None:
        """A work, done on the true car with the remedy's own spread."""
        if remedy == "washer" and amount is not None:
            self.truth.parts["truck.ride", at] += amount + float(self._generator.normal(0.0, SPREAD_WASHER))
        else:
            sag, kink, *finer = (float(each) for each in self._generator.normal(0.0, SPREAD_STRAIGHTEN, 4))
            cubic, quartic = (FINER * each for each in finer)
            self.truth.parts["frame.bow", ""], self.truth.parts["frame.kink", ""] = sag, kink
            self.truth.bend, self.truth.slope = bent("bow", sag, cubic, quartic)
        text = f'\n[[entry]]\nkind = "work"\nremedy = "{remedy}"\n' + (f'at = "{at}"\n' if at else "")
        self._text.append(text + (f'amount = "{amount} mm"\n' if amount is not None else ""))


def written(world: World, generator: Generator) -> tuple[str, list[dict[str, dict[tuple[str, str], float]]]]:
    """A car's sheet, and the true shares at A and B of each of its stages."""
    sheet = Sheet(truth_of(world, generator), world, generator)
    truth, chance = sheet.truth, generator.random(7)
    sheet.heights(lifted=bool(chance[0] < 0.5))  # noqa: PLR2004 - shares of cars as the study's page says
    if chance[1] < 0.5:  # noqa: PLR2004
        sheet.wheels()
    for end in ENDS:
        if chance[2] < 0.4:  # noqa: PLR2004
            bearing = truth.radius(end) + truth.parts["truck.ride", end]
            sheet.read("bolster.height", end, RIDE + bearing, "height")
        if chance[3] < 0.4:  # noqa: PLR2004
            sheet.read("box.height", end, BOX + truth.box(end), "height")
        if chance[4] < 0.3:  # noqa: PLR2004
            sheet.read("shank.offset", end, truth.parts["shank.offset", end], "calliper")
        if chance[5] < 0.2:  # noqa: PLR2004
            bare = truth.coupler(end, lifted=True) - truth.parts["shank.offset", end]
            sheet.read("coupler.exchange", end, DESIGN + bare + truth.exchange, "height")
    if chance[6] < 0.6:  # noqa: PLR2004
        sheet.profile(int(generator.integers(5, 10)))
    stages = [{end: truth.shares(end) for end in ENDS}]
    if generator.random() < 0.3:  # noqa: PLR2004
        if generator.random() < 0.5:  # noqa: PLR2004
            sheet.work("washer", str(generator.choice(ENDS)), WASHER)
        else:
            sheet.work("straighten")
        sheet.heights(lifted=False)
        stages.append({end: truth.shares(end) for end in ENDS})
    return sheet.text, stages


@dataclass(frozen=True)
class Seen:
    """One share of one car against the truth.

    ``kind`` names cause and end, ``held`` whether the interval held the truth, ``flagged`` whether the car was.
    """

    kind: str
    basis: str
    held: bool
    flagged: bool
    stage: int


@dataclass(frozen=True)
class Car:
    """What the program said of one car: its shares, the probability of its residuals (None where none is left over)."""

    shares: tuple[Seen, ...]
    p: float | None
    flagged: bool


def read(text: str) -> History:
    """A sheet as the program reads it."""
    return cw.read_sheet_text(text).history


def judged(history: History, stage: int) -> list[Finding]:
    """Findings of one stage, by the shipped tables and rubric."""
    words = words_of(shipped())
    clauses, thresholds = rules_of(history, shipped()).clauses, load_rubric().thresholds
    return judge_stage(clauses, values_at(history, words, stage), history, words, thresholds)


def explained(history: History) -> tuple[Model, list[Explanation]]:
    """The program's model of a car and what it makes of each stage."""
    heights = [heights_of(judged(history, stage)) for stage in range(len(history.stages))]
    model = model_of(history, words_of(shipped()), designed=designed_height(history, heights[-1]))
    if isinstance(model, str):
        raise TypeError(model)
    return model, [explanation_of(model, each, stage) for stage, each in enumerate(heights)]


def is_flagged(model: Model, explanation: Explanation) -> bool:
    """Whether the program says that something does not fit."""
    refused = any(shape.p_fit < NO_SHAPE for shape in model.frames.values())
    return bool(explanation.disagreements) or explanation.p < MISFIT or refused


def droop_interval(mean: float, u: float) -> tuple[float, float]:
    """Central 95 % interval of the normal cut off at zero that has this mean and standard deviation [mm]."""
    from scipy.special import ndtr, ndtri  # noqa: PLC0415 - the study alone needs quantiles

    if mean > FAR * u:
        return mean - WIDE_95 * u, mean + WIDE_95 * u
    ratios, starts = _cut_shapes()
    start = float(np.interp(u / mean, ratios, starts))  # mean of the uncut normal in its standard deviations
    density = math.exp(-start * start / 2) / math.sqrt(2 * math.pi) / float(ndtr(start))
    s = mean / (start + density)
    low, high = (s * (start - float(ndtri(float(ndtr(start)) * tail))) for tail in (0.975, 0.025))
    return low, high


@lru_cache(maxsize=1)
def _cut_shapes() -> tuple[Array, Array]:
    """Standard deviation over mean of cut normals, rising, and where the uncut mean lies for each."""
    from scipy.special import ndtr  # noqa: PLC0415

    starts = np.linspace(FAR + 1, -25.0, 13_601)
    density = np.exp(-starts * starts / 2) / math.sqrt(2 * math.pi) / ndtr(starts)
    mean = starts + density
    return np.sqrt(np.maximum(1 - density * mean, 0.0)) / mean, starts


def compared(coupler: Coupler, truth: dict[tuple[str, str], float], *, flagged: bool, stage: int) -> Iterable[Seen]:
    """Every share of one coupler against the truth, and sums the program gives as one."""
    causes = [share for share in coupler.shares if not share.fixed]
    for share in causes:
        true = truth[share.cause, share.place]
        where = "" if not share.place else " at its own end" if share.place == coupler.at else " at the far end"
        plain = abs(share.share - true) <= WIDE_95 * share.u
        if share.cause != "coupler.droop":
            yield Seen(f"{share.cause}{where}", share.basis, plain, flagged or bool(share.rests_on), stage)
            continue
        low, high = droop_interval(-share.share, share.u)
        yield Seen(f"{share.cause}, cut at zero", share.basis, low <= -true <= high, flagged, stage)
        yield Seen(f"{share.cause}, share ± 1.96 u", f"plain {share.basis}", plain, flagged, stage)
    index = {share.cause: number for number, share in enumerate(causes)}
    frame = [index[cause] for cause in ("frame.bow", "frame.kink") if cause in index]  # a kink may not reach this end
    spread = np.array([causes[number].u for number in frame])
    u = math.sqrt(max(float(spread @ np.array(coupler.correlation)[np.ix_(frame, frame)] @ spread), 0.0))
    off = math.fsum(causes[number].share for number in frame) - truth["frame.bow", ""] - truth["frame.kink", ""]
    cut = any(group.measured for group in coupler.groups if "frame.bow" in group.names)
    yield Seen(
        "the frame, bow and kink together", "sum measured" if cut else "sum", abs(off) <= WIDE_95 * u, flagged, stage
    )
    by_name = {share.name: truth[share.cause, share.place] for share in causes}
    for group in coupler.groups:
        off = group.share - math.fsum(by_name[name] for name in group.names)
        basis = "sum measured" if group.measured else "sum"
        within = abs(off) <= WIDE_95 * group.u
        yield Seen("causes not told apart, as one", basis, within, flagged or bool(group.rests_on), stage)


def car(world: World, number: int) -> Car:
    """One car of a world, by its number; the same car every time."""
    generator = np.random.default_rng([SEED, WORLDS.index(world), number])
    text, truths = written(world, generator)
    model, explanations = explained(read(text))
    flags = [is_flagged(model, each) for each in explanations]
    shares = [
        seen
        for explanation, truth, flagged in zip(explanations, truths, flags, strict=True)
        for coupler in explanation.couplers
        for seen in compared(coupler, truth[coupler.at], flagged=flagged, stage=explanation.stage)
    ]
    return Car(tuple(shares), model.posterior.p if model.posterior.dof else None, any(flags))


def cars(world: World, start: int, count: int) -> list[Car]:
    """Cars ``start`` to ``start + count`` of a world."""
    return [car(world, number) for number in range(start, start + count)]


@dataclass(frozen=True)
class Row:
    """Coverage of one kind of share in one world.

    Attributes
    ----------
    world, kind : str
        In words.
    count, held : int, float
        Shares of this kind, and the part whose 95 % interval held the truth.
    measured, measured_held : int, float
        The same of those the program calls measured.
    plain, plain_held : int, float
        The same of measured ones in cars it did not flag.
    """

    world: str
    kind: str
    count: int
    held: float
    measured: int
    measured_held: float
    plain: int
    plain_held: float


@dataclass(frozen=True)
class Result:
    """One world: a row for each kind of share, how many cars were flagged, and whether residuals are uniform.

    ``uniform`` is the p of a Kolmogorov–Smirnov test of all cars' residual probabilities [-].
    """

    world: World
    cars: int
    flagged: int
    uniform: float
    rows: tuple[Row, ...]


ALL_MEASURED = "all single shares marked measured"
NO_FRAME = "all of them but bow and kink"


def result_of(world: World, found: Sequence[Car]) -> Result:
    """Rows of one world."""
    from scipy.stats import kstest  # noqa: PLC0415 - the study alone needs it

    kinds: dict[str, list[Seen]] = {}
    for each in found:
        for seen in each.shares:
            kinds.setdefault(seen.kind, []).append(seen)
    single = [seen for each in found for seen in each.shares if seen.basis == "measured"]
    kinds |= {ALL_MEASURED: single, NO_FRAME: [seen for seen in single if seen.kind not in {"frame.bow", "frame.kink"}]}
    rows = [_row(world, kind, seen) for kind, seen in kinds.items()]
    tested = [each.p for each in found if each.p is not None]
    uniform = float(kstest(tested, "uniform").pvalue)
    return Result(world, len(found), sum(each.flagged for each in found), uniform, tuple(rows))


def _row(world: World, kind: str, seen: Sequence[Seen]) -> Row:
    measured = [each for each in seen if each.basis.endswith("measured")]
    plain = [each for each in measured if not each.flagged]
    return Row(world.name, kind, len(seen), _part(seen), len(measured), _part(measured), len(plain), _part(plain))


def _part(seen: Sequence[Seen]) -> float:
    return sum(each.held for each in seen) / len(seen) if seen else math.nan


Mapper = Callable[..., Iterable[list[Car]]]


def study(mapper: Mapper = map, *, known: int = CARS, elsewhere: int = CARS_ELSEWHERE) -> list[Result]:
    """Every world.

    Parameters
    ----------
    mapper : callable
        ``map``, or that of a pool of processes.
    known, elsewhere : int
        Cars of the prior's world, and of each other one.
    """
    counts = [known if world is WORLDS[0] else elsewhere for world in WORLDS]
    jobs = [
        (world, start, min(CHUNK, count - start))
        for world, count in zip(WORLDS, counts, strict=True)
        for start in range(0, count, CHUNK)
    ]
    found: dict[str, list[Car]] = {}
    for (world, _, _), some in zip(jobs, mapper(cars, *zip(*jobs, strict=True)), strict=True):
        found.setdefault(world.name, []).extend(some)
    return [result_of(world, found[world.name]) for world in WORLDS]


def page(results: Sequence[Result]) -> str:
    """The study as a page of Markdown."""
    blocks = [_HEAD]
    for result in results:
        blocks.append(
            f"\n## {result.world.name[0].upper()}{result.world.name[1:]}\n\n{result.cars:,} cars, {result.flagged:,} "
            f"flagged ({result.flagged / result.cars:.1%}). Kolmogorov–Smirnov p of the residual probabilities: "
            f"{result.uniform:.2g}.\n\n| share | all | held | measured | held | measured, not flagged | held |\n"
            "|---|---|---|---|---|---|---|\n"
        )
        blocks += [
            f"| {row.kind} | {row.count:,} | {row.held:.4f} | {_cell(row.measured, row.measured_held)} | "
            f"{_cell(row.plain, row.plain_held)} |\n"
            for row in result.rows
        ]
    return "".join(blocks)


def _cell(count: int, held: float) -> str:
    return f"{count:,} | {held:.4f}" if count else "0 | -"
