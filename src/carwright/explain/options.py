"""What can be done about coupler heights: for each end and for the car, every option with its amounts and its price."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from carwright.explain.levers import ENDS
from carwright.explain.model import Model
from carwright.explain.stock import Item, stacks
from carwright.words import Remedy, Vocabulary

LEVELS = {"yes": 0, "partly": 1, "no": 2}
_MOST_STEPS = 24


@dataclass(frozen=True)
class Act:
    """One remedy at one place, with the amounts it could take.

    Attributes
    ----------
    remedy : Remedy
        From the table.
    at : str
        End, ``all`` or "".
    amounts : tuple[float, ...]
        Amounts to choose from, (0,) where it takes none [mm].
    words : tuple[str, ...]
        What each amount is made of.
    cost : float
        Of its parts beyond the remedy's own.
    face : str
        Of a shank that is dressed.
    """

    remedy: Remedy
    at: str
    amounts: tuple[float, ...] = (0.0,)
    words: tuple[str, ...] = ("",)
    cost: float = 0.0
    face: str = ""

    @property
    def adjustable(self) -> bool:
        """Whether its amount is chosen to meet a height."""
        return any(shift.mode == "+" for shift in self.remedy.shifts)

    @property
    def sign(self) -> float:
        """What one unit of its amount does to the contribution it shifts."""
        factor = next((shift.factor for shift in self.remedy.shifts if shift.mode == "+"), 0.0)
        return -factor if self.face == "top" else factor

    @property
    def on_truck(self) -> bool:
        """Whether it lifts the pivot, and so reaches the far coupler too."""
        return any(shift.what in {"truck.ride", "frame.bolster"} and shift.mode == "+" for shift in self.remedy.shifts)


@dataclass(frozen=True)
class Structure:
    """A combination of remedies, amounts still open."""

    acts: tuple[Act, ...]

    @property
    def price(self) -> tuple[float, float, int, float]:
        """Effort [min], cost, level of what cannot be undone, and risk [-]."""
        effort = sum(act.remedy.effort for act in self.acts)
        cost = sum(act.remedy.cost + act.cost for act in self.acts)
        level = max((LEVELS[act.remedy.reversible] for act in self.acts), default=0)
        risk = 1 - float(np.prod([1 - act.remedy.risk for act in self.acts]))
        return round(effort, 6), round(cost, 6), level, round(risk, 9)


def is_closed(remedy: str, at: str, closed: Iterable[str]) -> bool:
    """Whether a person closed this option: ``washer@A`` closes one place, ``washer`` all."""
    for each in closed:
        name, _, place = each.partition("@")
        if name == remedy and (not place or place == at or at in {"", "all"}):
            return True
    return False


def structures(
    model: Model, words: Vocabulary, stock: Sequence[Item], closed: Sequence[str], ends: Sequence[str]
) -> list[Structure]:
    """Every combination that matters, cheapest first.

    Each end takes one coupler treatment (leave, cure its droop, new coupler, shank that lifts or lowers) and up to two
    remedies whose amount is chosen, one that lifts the pivot and one that moves only the head; the car may be
    straightened and may get other wheels.

    Parameters
    ----------
    model : Model
        For what the car has: no pivot remedy reaches a coupler on the truck.
    words, stock, closed
        Remedies, what is in the drawer, and options the person closed.
    ends : sequence of str
        Ends with a coupler height to meet.
    """
    both = [list(_end(model, words, stock, closed, end)) if end in ends else [()] for end in ENDS]
    shared = list(_shared(model, words, stock, closed))
    found = [Structure((*whole, *first, *second)) for whole, first, second in product(shared, both[0], both[1])]
    return sorted(found, key=lambda each: (each.price, [(act.remedy.order, act.at) for act in each.acts]))


def _end(
    model: Model, words: Vocabulary, stock: Sequence[Item], closed: Sequence[str], end: str
) -> Iterator[tuple[Act, ...]]:
    pivots = (
        []
        if model.levers.truck_mounted
        else list(_chosen(model, words, stock, closed, end, ("washer", "dress-bolster")))
    )
    heads = list(_chosen(model, words, stock, closed, end, ("box-shim", "box-raise", "dress-shank")))
    for treatment in _treatments(words, stock, closed, end):
        for pivot in [None, *pivots]:
            for head in [None, *heads]:
                dressed = head is not None and head.remedy.id == "dress-shank"
                if dressed and treatment and treatment[0].remedy.id != "cure-droop":
                    continue  # a new shank is chosen, not dressed
                yield (*treatment, *(act for act in (pivot, head) if act is not None))


def _treatments(words: Vocabulary, stock: Sequence[Item], closed: Sequence[str], end: str) -> Iterator[tuple[Act, ...]]:
    yield ()
    for name in ("cure-droop", "replace-coupler"):
        if not is_closed(name, end, closed):
            yield (Act(words.remedies[name], end),)
    for name in ("shank-high", "shank-low"):
        for item in stock:
            if item.use == name and not is_closed(name, end, closed):
                yield (Act(words.remedies[name], end, (item.thickness,), (item.name,), item.cost),)


def _chosen(
    model: Model, words: Vocabulary, stock: Sequence[Item], closed: Sequence[str], end: str, names: Sequence[str]
) -> Iterator[Act]:
    inch = 25.4 / model.history.scale.ratio
    for name in names:
        remedy = words.remedies[name]
        if is_closed(name, end, closed):
            continue
        most = remedy.most * inch
        if remedy.step > 0:
            amounts = tuple(
                remedy.step * count for count in range(1, _MOST_STEPS + 1) if remedy.step * count <= most * 1.0001
            )
            for face in ("under", "top") if name == "dress-shank" else ("",):
                if amounts:
                    yield Act(remedy, end, amounts, ("",) * len(amounts), face=face)
            continue
        piled = stacks(stock, {"washer": "washer", "box-shim": "shim"}[name], most)
        if piled:
            yield Act(remedy, end, tuple(each[0] for each in piled), tuple(each[2] for each in piled))


def _shared(model: Model, words: Vocabulary, stock: Sequence[Item], closed: Sequence[str]) -> Iterator[tuple[Act, ...]]:
    straighten = [()] if is_closed("straighten", "", closed) or model.levers.truck_mounted else [
        (), (Act(words.remedies["straighten"], ""),)
    ]  # fmt: skip
    wheels: list[tuple[Act, ...]] = [()]
    designed = model.history.geometry.get("wheel_diameter")
    if designed is not None and not is_closed("wheel-size", "all", closed):
        sizes = {round(designed, 4): (designed, "the designed size", 0.0)}
        sizes |= {
            round(item.thickness, 4): (item.thickness, item.name, item.cost) for item in stock if item.use == "wheel"
        }
        wheels += [
            (Act(words.remedies["wheel-size"], "all", (size,), (name,), cost),) for size, name, cost in sizes.values()
        ]
    for first, second in product(straighten, wheels):
        yield (*second, *first)
