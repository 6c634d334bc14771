"""What can be measured where: the spots of a car a person touches, and the characteristics each has."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from carwright.history import History
from carwright.judge import Finding
from carwright.words import Characteristic, Vocabulary

Part = Literal["coupler", "truck", "body"]
_COUPLER = ("coupler.", "pin.", "box.", "shank.", "buffer.height")
_TRUCK = ("truck.", "bolster.", "wheel.", "weight.truck", "frame.height")
_USUAL = (
    "coupler.height",
    "buffer.height",
    "wheel.back_to_back",
    "weight.total",
    "coupler.droop",
    "wheel.check_gauge",
    "truck.swing",
    "coupler.action",
    "body.length",
)
"""What is measured most, first; judgement."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the car one can touch.

    Attributes
    ----------
    id : str
        ``coupler-A``, ``truck-B`` or ``body``.
    part : str
        coupler, truck or body.
    end : str
        A, B or "".
    title : str
        In words.
    axles : tuple[int, ...]
        Axles that stand there.
    """

    id: str
    part: Part
    end: str
    title: str
    axles: tuple[int, ...] = ()

    def has(self, what: str, at: str) -> bool:
        """Whether a characteristic at a place belongs here."""
        part: Part = "coupler" if what.startswith(_COUPLER) else "truck" if what.startswith(_TRUCK) else "body"
        if part != self.part:
            return False
        if at[:1].isdigit():
            number = at.rstrip("LR")
            return number.isascii() and number.isdecimal() and int(number[:4]) in self.axles
        return part == "body" or not at or at == self.end or at in {"all", "L", "R"}


def spots_of(history: History) -> tuple[Spot, ...]:
    """Spots of a car, B end first, as they stand in the drawing."""
    count = history.axles or 4
    first = count - count // 2  # an odd axle is the A truck's
    buffers = "length_over_buffers" in history.geometry
    name = "Buffers" if buffers else "Coupler"
    two = history.axles == 2  # noqa: PLR2004 - a car on two axles has no trucks
    under = "Wheelset" if two else "Truck"
    return (
        Spot("coupler-B", "coupler", "B", f"{name} at B"),
        Spot("truck-B", "truck", "B", f"{under} at B", tuple(range(first + 1, count + 1))),
        Spot("body", "body", "", "Body and whole car"),
        Spot("truck-A", "truck", "A", f"{under} at A", tuple(range(1, first + 1))),
        Spot("coupler-A", "coupler", "A", f"{name} at A"),
    )


def spot_of(spots: Iterable[Spot], what: str, at: str) -> Spot | None:
    """The spot a characteristic at a place belongs to."""
    return next((spot for spot in spots if spot.has(what, at)), None)


def measured_at(spot: Spot, words: Vocabulary, history: History) -> list[Characteristic]:
    """Characteristics one can read at a spot, the usual ones first; pass-or-fail ones too."""
    buffers = "length_over_buffers" in history.geometry
    found = []
    for each in words.characteristics.values():
        if not spot.has(each.id, "") or (each.id.startswith("buffer.") and not buffers):
            continue
        found.append(each)
    return sorted(found, key=lambda each: _USUAL.index(each.id) if each.id in _USUAL else len(_USUAL))


def choices_at(spot: Spot, what: Characteristic) -> tuple[str, ...]:
    """Places of a characteristic at a spot, "" where it has none."""
    match what.places:
        case "ends":
            return (spot.end,) if spot.end else ("A", "B")
        case "axles":
            return tuple(str(axle) for axle in spot.axles)
        case "wheels":
            return tuple(f"{axle}{side}" for axle in spot.axles for side in "LR")
        case "sides":
            return ("L", "R")
        case "directions":
            return ("", "A", "B")
        case _:
            return ("",)


def after(what: Characteristic, at: str, history: History) -> tuple[str, str]:
    """The next place of the same characteristic, and the spot it is at: A then B, axle by axle, around again."""
    every: list[tuple[str, str]] = []
    for spot in reversed(spots_of(history)):
        if spot.has(what.id, ""):
            every += [(place, spot.id) for place in choices_at(spot, what)]
    places = list(dict.fromkeys(every))
    here = next((index for index, (place, _) in enumerate(places) if place == at), -1)
    return places[(here + 1) % len(places)] if places else (at, "")


def worst(findings: Sequence[Finding], charges: Iterable[str]) -> dict[str, int]:
    """How many findings have each outcome, of those whose clause may cost points."""
    may = set(charges)
    counts: dict[str, int] = {}
    for finding in findings:
        if finding.force in may:
            counts[finding.outcome] = counts.get(finding.outcome, 0) + 1
    return counts


def by_spot(findings: Iterable[Finding], spots: Sequence[Spot]) -> Mapping[str, list[Finding]]:
    """Findings of each spot; looks at an end belong to its coupler, all else without a place to the body."""
    found: dict[str, list[Finding]] = {spot.id: [] for spot in spots}
    for finding in findings:
        what, at = finding.characteristic, finding.at
        spot = next((each for each in spots if each.part != "body" and at and each.has(what, at)), None)
        if spot is None and what.startswith("look.") and at in {"A", "B"}:
            spot = next(each for each in spots if each.id == f"coupler-{at}")
        found[spot.id if spot else "body"].append(finding)
    return found
