"""A value against its limits: the band a clause allows, the interval that holds the value, and the estimate."""

from __future__ import annotations

import math
from collections.abc import Sequence

from carwright.judge import Finding
from carwright.publish.scene import Circle, Path, Rect, Scene, Shape, number
from carwright.publish.wording import limit_words, value_words
from carwright.units import System

WIDTH, HEIGHT = 160.0, 22.0
Window = tuple[float, float]


def limits_scene(finding: Finding, system: System = "us") -> Scene | None:
    """The bar of one finding, None where there is no value or no limit.

    The shaded band is what the clause allows; an open side runs to the edge. The line holds the value with probability
    0.95; the estimate is a filled square where it fails, a diamond where undecided, a disc where it conforms.
    """
    shapes = bar_shapes(finding, 0.0, 0.0, WIDTH, HEIGHT, 1.0)
    if not shapes:
        return None
    words = (
        f"{finding.subject}: {value_words(finding, system)} against {limit_words(finding, system)}, {finding.outcome}"
    )
    return Scene(0.0, 0.0, WIDTH, HEIGHT, tuple(shapes), words, "bar")


def bar_shapes(
    finding: Finding, x: float, y: float, width: float, height: float, weight: float, window: Window | None = None
) -> list[Shape]:
    """The same within any frame; ``weight`` scales its lines. Empty where there is nothing to show.

    ``window`` is what the bar spans, so that several may stand on one scale; its own where omitted [inside unit].
    """
    lower, upper = finding.lower, finding.upper
    if finding.value is None or finding.half_width is None or (lower is None and upper is None):
        return []
    value, half = finding.value, finding.half_width
    ends = [side for side in (lower, upper) if side is not None]
    low, high = window or _window(finding)
    pad = 4.0 * weight
    if not math.isfinite(value + low + high) or high <= low:
        return []

    def at(quantity: float) -> float:
        return x + pad + (width - 2 * pad) * (quantity - low) / (high - low)

    left = at(lower) if lower is not None else x
    right = at(upper) if upper is not None else x + width
    middle, inset = y + height / 2, height * 5 / 22
    ticks = "".join(f"M{number(at(side))} {number(y + 2 * weight)}V{number(y + height - 2 * weight)}" for side in ends)
    start, end, cap = at(value - half), at(value + half), 3 * weight
    reach = (
        f"M{number(start)} {number(middle)}H{number(end)}"
        f"M{number(start)} {number(middle - cap)}v{number(2 * cap)}"
        f"M{number(end)} {number(middle - cap)}v{number(2 * cap)}"
    )
    return [
        Rect(left, y + inset, max(0.0, right - left), height - 2 * inset, fill="allowed", what="allowed"),
        Path(ticks, "ink", 1.2 * weight, what="limit"),
        Path(reach, "ink", 1.4 * weight, what="interval"),
        estimate(finding.outcome, at(value), middle, weight),
    ]


def _window(finding: Finding) -> Window:
    """What one bar spans: limits and interval, and a quarter of the band more on both sides."""
    lower, upper, value, half = finding.lower, finding.upper, finding.value, finding.half_width
    ends = [side for side in (lower, upper) if side is not None]
    if value is None or half is None or not ends:
        return math.inf, -math.inf
    span = (upper - lower) if lower is not None and upper is not None else 4 * half
    return min(*ends, value - half) - 0.25 * span, max(*ends, value + half) + 0.25 * span


def window_of(findings: Sequence[Finding]) -> Window | None:
    """What the bars of several findings span together; None where none has a bar."""
    windows = [own for own in map(_window, findings) if own[0] < own[1]]
    return (min(low for low, _ in windows), max(high for _, high in windows)) if windows else None


def estimate(outcome: str, x: float, y: float, weight: float) -> Shape:
    """The mark of an estimate, its outcome told by its shape."""
    match outcome:
        case "fails":
            return Rect(x - 3.5 * weight, y - 3.5 * weight, 7 * weight, 7 * weight, fill="ink", what="estimate")
        case "undecided":
            s = 5 * weight
            right, left = number(s), number(-s)
            d = f"M{number(x)} {number(y - s)}l{right} {right}l{left} {right}l{left} {left}Z"
            return Path(d, "ink", 1.4 * weight, "paper", what="estimate open")
        case _:
            return Circle(x, y, 3.5 * weight, fill="ink", what="estimate")
