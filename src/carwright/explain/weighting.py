"""Ballast for a car as its sheet gives it: target from the clause, pieces from stock, pockets of the car."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from carwright.explain.ballast import Ballast, Car, Piece, Pocket, Wanted, place
from carwright.explain.hazards import hazards_of
from carwright.explain.load import Load, design_load, pulled
from carwright.explain.stock import Item
from carwright.history import CarPart, History
from carwright.judge import Finding
from carwright.measure.bench import Bench
from carwright.tables import Tables

LEVEL_RESISTANCE = 0.02
"""Rolling resistance where nobody measured it: common practice, "about 2 % of its weight" [-]."""
TRAIN = 20
"""Cars a train is said to lose or keep some of [-]."""
_BALANCED = 0.05
"""Part of the truck centres within which the centre of gravity should lie: judgement [-]."""
_UNKNOWN_HEIGHT = 45.0
"""Height of an untipped car's centre of gravity: judgement, it only ranks placements [scale in]."""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to put where, with what it costs and its cautions.

    Attributes
    ----------
    needed : float
        Mass missing to the target, negative where the car is too heavy [g].
    target, least, most : float
        Of the complete car, by the clause [g].
    ballast : Ballast or None
        The best placement of this stock; None where there is nothing to place.
    without_lead : Ballast or None
        The best placement without lead, where the best one holds some.
    load : Load or None
        A load of the wanted size that brings the car to its target.
    before, after : float
        Cars of this weight that an engine pulls which pulls :data:`TRAIN` of them now; after ballast [-].
    notes, cautions : tuple[str, ...]
        What was assumed, and what to mind.
    """

    needed: float
    target: float
    least: float
    most: float
    ballast: Ballast | None
    without_lead: Ballast | None
    load: Load | None
    before: float
    after: float
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def advise(
    history: History,
    tables: Tables,
    finding: Finding | None,
    bench: Bench,
    stock: Sequence[Item],
    size: tuple[float, float, float] | None = None,
) -> Advice | str:
    """Ballast for a car, or why none can be advised.

    Parameters
    ----------
    history : History
        Pockets and parts.
    tables : Tables
        Hazards.
    finding : Finding or None
        The clause about the weight of the complete car, judged.
    bench : Bench
        Balance and rolling, where measured.
    stock : sequence of Item
        With its ballast.
    size : tuple of float, optional
        Length, width and height of a load to design [mm].
    """
    if finding is None or finding.value is None:
        return "weigh the complete car first: weight.total"
    if finding.nominal is None and finding.lower is None:
        return f"no clause in force says what the car should weigh{': ' + finding.reason if finding.reason else ''}"
    half = finding.half_width or 0.0
    low = finding.lower if finding.lower is not None else finding.nominal or 0.0
    high = finding.upper if finding.upper is not None else max(finding.nominal or 0.0, low)
    low, high = (low + half, high - half) if high - low > 2 * half else (low, high)
    target = min(max(finding.nominal if finding.nominal is not None else (low + high) / 2, low), high)
    notes: list[str] = []
    car = _car(history, finding.value, bench, notes)
    span = history.geometry.get("truck_centers") or history.geometry.get("wheelbase") or 0.0
    wanted = Wanted(low, high, target, _BALANCED * span if span else car.z)
    needed = target - finding.value
    pieces = [Piece(item.name, item.mass, _edges(item), item.material, item.cost, item.count)
              for item in stock if item.use == "ballast"]  # fmt: skip
    pockets = [Pocket(each.name, each.x, each.z, each.length, each.width, each.height) for each in history.pockets]
    ballast = without = None
    inside = low <= finding.value <= high
    if inside and needed > 0:
        notes.append("within its band already: nothing must be added")
    if needed > 0 and pieces and pockets and not inside:
        ballast = place(pieces, pockets, car, wanted)
        leaden = {piece.name for piece in pieces if "lead" in piece.material.lower()}
        if any(each.piece in leaden for each in ballast.placed):
            without = place([piece for piece in pieces if piece.name not in leaden], pockets, car, wanted)
    notes += _missing(needed, pieces, pockets)
    load = None
    if size is not None and needed > 0:
        load = design_load(length=size[0], width=size[1], height=size[2], mass=needed)
    after = ballast.mass if ballast is not None else max(target, finding.value)
    c = bench.rolling.resistance.value if bench.rolling is not None and bench.rolling.resistance is not None else None
    if c is None:
        notes.append("rolling resistance taken as 2 % of the weight: common practice, nobody measured it here")
    resistance = c if c is not None else LEVEL_RESISTANCE
    cars = pulled(
        mass_before=finding.value, mass_after=after, resistance_before=resistance, resistance_after=resistance,
        grade=0.0, cars=TRAIN,
    )  # fmt: skip
    return Advice(
        needed, target, low, high, ballast, without, load, float(TRAIN), cars, tuple(notes),
        tuple(_cautions(history, tables, ballast, without, pieces, load)),
    )  # fmt: skip


def _edges(item: Item) -> tuple[float, float, float]:
    first, second, third = item.size
    return first, second, third


def _car(history: History, mass: float, bench: Bench, notes: list[str]) -> Car:
    x = bench.balance.x if bench.balance is not None else None
    z = bench.balance.z if bench.balance is not None else None
    if x is None:
        notes.append("centre of gravity taken at mid-length: weigh both trucks (weight.truck) to know it")
    if z is None:
        notes.append("height of the centre of gravity taken as 45 scale inches: it ranks placements only")
    height = z.value if z is not None else _UNKNOWN_HEIGHT * 25.4 / history.scale.ratio
    return Car(mass, x.value if x is not None else 0.0, height)


def _missing(needed: float, pieces: Sequence[Piece], pockets: Sequence[Pocket]) -> list[str]:
    if needed <= 0:
        return ["the car is heavy enough: nothing to add"]
    notes = []
    if not pieces:
        notes.append('no ballast in stock: list it as [[piece]] in a stock file and name that in [car] stock = "..."')
    if not pockets:
        notes.append("no pocket on the car: list where ballast fits as [[pocket]] with x, z, length, width, height")
    return notes


def _cautions(
    history: History,
    tables: Tables,
    ballast: Ballast | None,
    without: Ballast | None,
    pieces: Sequence[Piece],
    load: Load | None,
) -> list[str]:
    """Of the car's parts with what is placed among them, and of lead wherever it is offered."""
    material = {piece.name: piece.material for piece in pieces}
    placed = [each.piece for found in (ballast, without) if found is not None for each in found.placed]
    own = tuple(CarPart(name, material[name], "", fragile=False, removable=True) for name in dict.fromkeys(placed))
    hazards = hazards_of(replace(history, parts=(*history.parts, *own)), tables)
    lines = [hazard.text for hazard in hazards if hazard.matters_to("ballast")]
    if load is not None:
        lines.append(tables.table("words/cautions").rows["lead"].words["text"])
    return list(dict.fromkeys(lines))
