"""Values: what the readings say of each characteristic at each place, at one stage.

A reading speaks for every stage, earlier or later, that no work touching its characteristic there separates it from;
beyond such a work it is stale.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from carwright.history import Figures, GaugeCheck, History, Prior, Reading, Work
from carwright.measure.combine import Component, Place, combine_linear, merge
from carwright.measure.repeatability import pooled_repeatability, rounding_share
from carwright.words import Characteristic, Vocabulary

Key = tuple[str, str]
"""Characteristic and place."""

_DISAGREE = 3.0
_RESTLESS = 4.0


def stdev(numbers: Sequence[float]) -> float:
    """Standard deviation of two or more numbers."""
    mean = math.fsum(numbers) / len(numbers)
    return math.sqrt(math.fsum([(number - mean) ** 2 for number in numbers]) / (len(numbers) - 1))


@dataclass(frozen=True, slots=True)
class Value:
    """What is known of a characteristic at a place, at one stage.

    Attributes
    ----------
    what, at : str
        Characteristic (a dimension bears its name) and place.
    stage : int
        Last stage it was read in; another than the one asked for where no work came between.
    places : tuple[Place, ...]
        One, or for an ``every`` characteristic each place round the wheel; none where only a gauge spoke.
    gauges : tuple[GaugeCheck, ...]
        What gauges said.
    bounded : bool
        Whether values below zero are impossible.
    figures : tuple[Figures, ...]
        Instruments used.
    entries : tuple[int, ...]
        Entries of the sheet behind it, counted from 1.
    derived : str
        How it was computed, "" where it was read.
    notes : tuple[str, ...]
        What a reader must know.
    """

    what: str
    at: str
    stage: int
    places: tuple[Place, ...]
    gauges: tuple[GaugeCheck, ...] = ()
    bounded: bool = False
    figures: tuple[Figures, ...] = ()
    entries: tuple[int, ...] = ()
    derived: str = ""
    notes: tuple[str, ...] = ()

    def told(self) -> list[tuple[Place, list[GaugeCheck]]]:
        """Each place with the gauge checks that speak of it; one without a place of its own speaks of all."""
        return [
            (place, [check for check in self.gauges if not check.place or place.name in {check.place, ""}])
            for place in self.places
        ]

    def lone_gauges(self) -> list[GaugeCheck]:
        """Gauge checks at places where nothing was read."""
        names = {place.name for place in self.places}
        if "" in names:
            return []
        return [check for check in self.gauges if not names or (check.place and check.place not in names)]


@dataclass(frozen=True, slots=True)
class Values:
    """All values of one stage, and what went stale.

    Attributes
    ----------
    stage : int
        The stage asked for.
    found : mapping
        Value by characteristic and place.
    stale : mapping
        The work that made a reading stale, by characteristic and place.
    lifted : mapping
        Lifted coupler heights by end.
    """

    stage: int
    found: Mapping[Key, Value]
    stale: Mapping[Key, Work]

    def of(self, what: str) -> list[Value]:
        """Every value of a characteristic, in order of place."""
        return [value for (name, _), value in sorted(self.found.items()) if name == what]


def values_at(history: History, words: Vocabulary, stage: int) -> Values:
    """Values of one stage.

    Parameters
    ----------
    history : History
        The car's.
    words : Vocabulary
        Characteristics and what remedies touch.
    stage : int
        0 as received, or the number of the work before it.

    Returns
    -------
    Values
        From all readings no work separates from this stage; derived values where their parts are known.
    """
    found: dict[Key, Value] = {}
    stale: dict[Key, Work] = {}
    observations = _observations(history)
    for key, (readings, gauges) in observations.items():
        spoiling = [work for work in history.works if touches(work, key, words)]
        here = _segment(stage, spoiling)
        near = [reading for reading in readings if _segment(reading.stage, spoiling) == here]
        told = [check for check in gauges if _segment(check.stage, spoiling) == here]
        if near or told:
            priors = history.priors if here == 0 else ()
            found[key] = _value(key, near, told, words.characteristics[characteristic_of(key[0])], priors)
        elif min(_stages(readings, gauges)) < stage:
            stale[key] = [work for work in spoiling if work.stage <= stage][-1]
    _derive(found)
    _derive_droop(found, observations, history, words, stage)
    _derive_stale(found, stale)
    return Values(stage, {key: value for key, value in found.items() if not key[0].endswith("~")}, stale)


def _stages(readings: Sequence[Reading], gauges: Sequence[GaugeCheck]) -> list[int]:
    return [*(reading.stage for reading in readings), *(check.stage for check in gauges)]


def _segment(stage: int, spoiling: Sequence[Work]) -> int:
    """How many works that spoil a reading lie before a stage: equal numbers are the same state of the car."""
    return sum(work.stage <= stage for work in spoiling)


def touches(work: Work, key: Key, words: Vocabulary) -> bool:
    """Whether a work makes a reading of a characteristic at a place stale."""
    remedy = words.remedies[work.remedy]
    if characteristic_of(key[0]) not in remedy.touches:
        return False
    return not remedy.only_there or work.at in {"all", key[1].rstrip("LR") or key[1]} or key[1] in {"", "all"}


def characteristic_of(what: str) -> str:
    """Characteristic behind a key: ``dimension:door width`` is a dimension, ``coupler.height~`` a lifted height."""
    return what.partition(":")[0].rstrip("~")


Observations = Mapping[Key, tuple[list[Reading], list[GaugeCheck]]]


def _observations(history: History) -> Observations:
    found: dict[Key, tuple[list[Reading], list[GaugeCheck]]] = defaultdict(lambda: ([], []))
    for reading in history.readings:
        what = f"{reading.what}:{reading.name}" if reading.name else reading.what
        if reading.state == "lifted":
            what += "~"
        if reading.state != "pulled":
            found[what, reading.at][0].append(reading)
    for check in history.gauges:
        found[check.what, check.at][1].append(check)
    return found


def _value(
    key: Key,
    readings: Sequence[Reading],
    gauges: Sequence[GaugeCheck],
    characteristic: Characteristic,
    priors: Iterable[Prior],
) -> Value:
    prior = next((prior for prior in priors if prior.what == key[0] and prior.at in {key[1], ""}), None)
    notes: list[str] = []
    groups: dict[str, list[Reading]] = defaultdict(list)
    for reading in readings:
        groups[reading.place if characteristic.combine == "every" else ""].append(reading)
    places = [_place(name, groups[name], notes) for name in sorted(groups)]
    if not places and gauges and prior is not None:
        places = [Place("", prior.value, (Component(f"prior: {prior.source}", prior.u),), 0)]
    return Value(
        what=key[0],
        at=key[1],
        stage=max(_stages(readings, gauges)),
        places=tuple(places),
        gauges=tuple(sorted(gauges, key=lambda check: (check.place, check.result, check.entry))),
        bounded=characteristic.bounded,
        figures=tuple(sorted({reading.figures for reading in readings}, key=lambda figures: figures.name)),
        entries=tuple(sorted({*(reading.entry for reading in readings), *(check.entry for check in gauges)})),
        notes=tuple(notes),
    )


def _place(name: str, readings: Sequence[Reading], notes: list[str]) -> Place:
    """Readings of one place: repeats of one instrument pooled, several instruments weighted."""
    by_instrument: dict[Figures, list[Reading]] = defaultdict(list)
    for reading in readings:
        by_instrument[reading.figures].append(reading)
    parts = []
    for figures in sorted(by_instrument, key=lambda each: (each.name, each.resolution)):
        numbers = sorted(quantity.value for reading in by_instrument[figures] for quantity in reading.values)
        parts.append(observed(numbers, figures, name=name))
        if len(numbers) > 1 and stdev(numbers) > _RESTLESS * figures.repeatability:
            times = stdev(numbers) / figures.repeatability
            notes.append(
                f"repeats with {figures.name} scatter {times:.0f} times as much as it usually does: read again"
            )
    for first, second in pairwise(parts):
        if abs(first.estimate - second.estimate) > _DISAGREE * math.hypot(first.u, second.u):
            names = " and ".join(sorted({figures.name for figures in by_instrument}))
            notes.append(f"readings with {names} disagree by more than three standard uncertainties")
    return merge(parts, name=name)


def observed(numbers: Sequence[float], figures: Figures, *, name: str = "") -> Place:
    """What repeats with one instrument at one place say.

    Parameters
    ----------
    numbers : sequence of float
        The readings [inside unit].
    figures : Figures
        The instrument.
    name : str
        The place.

    Returns
    -------
    Place
        Mean, with repeatability (pooled, Type A), the rounding common to all repeats, and the calibration the
        instrument's readings share.
    """
    scatter, dof = pooled_repeatability(numbers, repeatability=figures.repeatability, dof=figures.dof)
    share = rounding_share(scatter, resolution=figures.resolution)
    n = len(numbers)
    components = [Component(f"repeatability of {figures.name}", scatter / math.sqrt(n), dof)]
    if share > 1e-4:  # noqa: PLR2004 - a hundredth of a step
        rounding = figures.resolution * math.sqrt(share / 12)
        components.append(Component("resolution", rounding, shape="rectangular"))
    if figures.calibration > 0:
        label = f"calibration of {figures.name}"  # readings to other digits are another instrument
        if figures.basis == "assumed":
            label += f" to {figures.resolution:.4g}"
        components.append(Component(label, figures.calibration, shared=label))
    return Place(name, math.fsum(numbers) / n, tuple(components), n)


# --- derived ---------------------------------------------------------------------------------------------------


def _derive(found: dict[Key, Value]) -> None:
    """Add what follows from other values where it was not read itself."""
    for key, value in list(found.items()):
        what, at = key
        known = found.get(("wheel.check_gauge", at))
        if what == "wheel.back_to_back" and (known is None or not known.places):
            _derive_check_gauge(found, value, known.gauges if known is not None else ())
    ends = [found.get(("roll.start", end)) for end in ("A", "B")]
    if ends[0] and ends[1] and ("roll.start", "") not in found and ends[0].places and ends[1].places:
        found["roll.start", ""] = _both(
            ends[0],
            ends[1],
            "roll.start",
            "",
            (0.5, 0.5),
            "mean of both directions: the track's own slope drops out",
        )


def _derive_stale(found: Mapping[Key, Value], stale: dict[Key, Work]) -> None:
    """What cannot be derived any more because a part of it went stale."""
    for (what, at), work in list(stale.items()):
        if what == "wheel.back_to_back" and ("wheel.check_gauge", at) not in found:
            thickness = [("wheel.flange_thickness", at + side) for side in ("", "L", "R")]
            if any(key in found or key in stale for key in thickness):
                stale["wheel.check_gauge", at] = work


def _derive_check_gauge(found: dict[Key, Value], back: Value, gauges: tuple[GaugeCheck, ...]) -> None:
    """K = B + T at every pair of a place of the axle and a flange; a reading in several pairs is one reading."""
    thickness = [found[key] for side in ("", "L", "R") if (key := ("wheel.flange_thickness", back.at + side)) in found]
    flanges = [(other.at, _one_reading(place, f"T {other.at}")) for other in thickness for place in other.places]
    backs = [_one_reading(place, "B") for place in back.places]
    places = [
        combine_linear([(1.0, place), (1.0, flange)], name=" ".join(filter(None, (place.name, at))))
        for at, flange in flanges
        for place in backs
    ]
    if places:
        found["wheel.check_gauge", back.at] = replace(
            back,
            what="wheel.check_gauge",
            places=tuple(places),
            gauges=gauges,
            derived="back-to-back plus flange thickness",
            figures=tuple(
                dict.fromkeys((*back.figures, *(figures for other in thickness for figures in other.figures)))
            ),
            entries=tuple(sorted({*back.entries, *(entry for other in thickness for entry in other.entries)})),
        )


def _one_reading(place: Place, name: str) -> Place:
    """The place with its own errors named, so that they stay one where it enters several sums."""
    parts = tuple(
        part if part.shared else replace(part, shared=f"{part.label}, {name} {place.name}") for part in place.components
    )
    return replace(place, components=parts)


def _derive_droop(
    found: dict[Key, Value], observations: Observations, history: History, words: Vocabulary, stage: int
) -> None:
    """Droop is the height lifted less the height free, both read between the same works; it outlasts a washer."""
    for end in ("A", "B"):
        lifted, free = (observations.get((what, end), ([], []))[0] for what in ("coupler.height~", "coupler.height"))
        if ("coupler.droop", end) in found or not lifted or not free:
            continue
        drooping = [work for work in history.works if touches(work, ("coupler.droop", end), words)]
        raising = [work for work in history.works if touches(work, ("coupler.height", end), words)]
        here = _segment(stage, drooping)
        spans = {
            _segment(reading.stage, raising) for reading in lifted if _segment(reading.stage, drooping) == here
        } & {_segment(reading.stage, raising) for reading in free}
        if not spans:
            continue
        span = max(spans)
        parts = []
        for readings in (lifted, free):
            own = [reading for reading in readings if _segment(reading.stage, raising) == span]
            parts.append(_value(("coupler.height", end), own, [], words.characteristics["coupler.height"], ()))
        droop = _both(parts[0], parts[1], "coupler.droop", end, (1.0, -1.0), "height lifted less height free")
        found["coupler.droop", end] = replace(droop, bounded=True)


def _both(first: Value, second: Value, what: str, at: str, factors: tuple[float, float], derived: str) -> Value:
    place = combine_linear([(factors[0], first.places[0]), (factors[1], second.places[0])])
    return Value(
        what=what,
        at=at,
        stage=min(first.stage, second.stage),
        places=(place,),
        bounded=first.bounded,
        figures=tuple(dict.fromkeys((*first.figures, *second.figures))),
        entries=tuple(sorted({*first.entries, *second.entries})),
        derived=derived,
    )
