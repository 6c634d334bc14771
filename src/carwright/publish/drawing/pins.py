"""Findings pinned to the drawing where they are: a filled square fails, an outlined diamond is undecided."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from carwright.judge import Finding
from carwright.publish.drawing.pen import DETAIL, PART
from carwright.publish.drawing.shape import Sizes
from carwright.publish.scene import Circle, Group, Path, Rect, Shape, Text, line
from carwright.publish.wording import MARKS

_SIZE = 2.7
"""Half the side of a mark [mm of paper]."""
APART = 7.2
"""Between the middles of two pins in a row [mm of paper]."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A mark on the drawing: row number of the finding, where it points, and its shape."""

    number: int
    outcome: str
    x: float
    z: float
    words: str


def pins_of(numbered: Sequence[tuple[int, Finding]], sizes: Sizes) -> list[Pin]:
    """Where each finding belongs on the drawing."""
    return [
        Pin(number, finding.outcome, *_spot(finding, sizes, number), f"{finding.subject}: {finding.outcome}")
        for number, finding in numbered
    ]


def _spot(finding: Finding, sizes: Sizes, number: int) -> tuple[float, float]:
    what, at = finding.characteristic, finding.at
    end = {"A": 1.0, "B": -1.0}.get(at, 0.0)
    middle = (sizes.floor + sizes.top) / 2
    if what.startswith(("coupler.", "buffer.", "pin.")) and end:
        return end * sizes.face(at), sizes.coupler(at)
    if what.startswith("wheel.") and at[:1].isdigit():
        index = int(at.rstrip("LR")) - 1
        return (sizes.axles[index] if index < len(sizes.axles) else 0.0), sizes.wheel / 2
    if what.startswith(("wheel.", "roll.")):
        return 0.0, 0.0
    if end:
        return end * sizes.half_length * 0.88, middle
    return sizes.half_length * (0.12 * ((number * 3) % 5 - 2)), middle


def pin_shapes(pins: Sequence[Pin], sizes: Sizes, mm: float, limit: float, top: float | None = None) -> list[Shape]:
    """Pins in rows: wheels and track under the rail, everything else above the roof, spread so none overlap.

    Parameters
    ----------
    pins : sequence of Pin
        What to draw.
    sizes : Sizes
        Of the car.
    mm : float
        Model millimetres on one of paper.
    limit : float
        Half of the room across [mm].
    top : float, optional
        What the upper row stands clear of; the body's top where omitted [mm].
    """
    shapes: list[Shape] = []
    low = [pin for pin in pins if pin.z <= sizes.wheel / 2]
    high = [pin for pin in pins if pin.z > sizes.wheel / 2]
    for group, level in ((high, (sizes.top if top is None else top) + 7.5 * mm), (low, -6.2 * mm)):
        places = _spread(group, APART * mm, limit - 0.2 * mm)
        for pin, x in zip(sorted(group, key=lambda pin: (pin.x, pin.number)), places, strict=True):
            shapes.append(Path(line([(pin.x, -pin.z), (x, -level)]), "accent", DETAIL * 1.3 * mm, "none", (), "leader"))
            shapes.append(Circle(pin.x, -pin.z, 0.7 * mm, fill="accent", what="spot"))
            shapes.append(_pin(pin, x, -level, mm))
    return shapes


def _pin(pin: Pin, x: float, y: float, mm: float) -> Group:
    word = "fails" if pin.outcome == "fails" else "open"
    ink = "paper" if pin.outcome == "fails" else "ink"
    text = Text(x, y + 1.0 * mm, str(pin.number), 2.9 * mm, "middle", ink, bold=True, what="pin-number")
    title = f"{pin.words} {MARKS[pin.outcome]}"
    return Group((mark(pin.outcome, x, y, _SIZE * mm, mm), text), title, f"#f{pin.number}", f"pin {word}")


def mark(outcome: str, x: float, y: float, r: float, mm: float) -> Shape:
    """The shape of an outcome, told from the others without colour."""
    if outcome == "fails":
        return Rect(x - r, y - r, 2 * r, 2 * r, "ink", PART * mm, "ink", "mark")
    if outcome == "undecided":
        s = r * 1.35
        return Path(
            line([(x, y - s), (x + s, y), (x, y + s), (x - s, y)], closed=True), "ink", PART * mm, "paper", (), "mark"
        )
    return Circle(x, y, r, "ink", PART * mm, "ink" if outcome == "conforms" else "paper", "mark")


def _spread(pins: Sequence[Pin], gap: float, limit: float) -> list[float]:
    """Places along a row, in order, at least ``gap`` apart where there is room, within the drawing."""
    places = sorted(pin.x for pin in pins)
    if not places:
        return []
    room = 2 * (limit - gap / 2)
    step = min(gap, room / max(1, len(places) - 1))
    result: list[float] = []
    for x in places:
        result.append(max(x, result[-1] + step) if result else max(x, -limit + gap / 2))
    over = result[-1] - (limit - gap / 2)
    if over > 0:
        result[-1] -= over
        for index in range(len(result) - 2, -1, -1):
            result[index] = min(result[index], result[index + 1] - step)
    return result
