"""Shares of one coupler's error as bars about zero: solid where measured, hatched where assumed."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.explain.records import Coupler
from carwright.publish.charts.hatch import hatch
from carwright.publish.scene import Path, Rect, Scene, Shape, Text, number
from carwright.publish.why import ShareLine, coupler_heading
from carwright.units import System

_ROW, _BAR, WIDTH = 37.0, 11.0, 340.0
"""Height of a row with its text, of its bar, and width of the whole, so that a phone shows it in its own size [px]."""
TEXT = 13.0


def shares_scene(coupler: Coupler, lines: Sequence[ShareLine], system: System) -> Scene:
    """Bars with their 95 % intervals; the names, amounts and what would tell stand beside them as text.

    Parameters
    ----------
    coupler : Coupler
        Whose shares.
    lines : sequence of ShareLine
        In the order shown.
    system : str
        Units.
    """
    reach = max((abs(line.value) + 1.96 * line.u for line in lines), default=1.0) or 1.0
    zero, scale = WIDTH / 2, (WIDTH / 2 - 4) / reach
    height = _ROW * len(lines) + 6
    shapes: list[Shape] = [Path(f"M{number(zero)} 0V{number(height)}", "ink", 1.2, what="zero")]
    for index, line in enumerate(lines):
        words_y = 3 + _ROW * index + 9
        y = words_y + 9
        end = zero + line.value * scale
        left, width = min(zero, end), abs(end - zero)
        shapes.append(Text(0.0, words_y + 4.4, line.name, TEXT, what="name"))
        if line.hatched:
            shapes += [Rect(left, y, width, _BAR, "ink", 1.0, "none", "assumed"), hatch(left, y, width, _BAR)]
        else:
            shapes.append(Rect(left, y, width, _BAR, fill="ink", what="measured"))
        if line.u > 0:
            shapes.append(_reach(zero, line, scale, y + _BAR / 2))
        shapes.append(Text(WIDTH, words_y + 4.4, line.amount, TEXT, "end", "soft", what="amount"))
    return Scene(0.0, 0.0, WIDTH, height, tuple(shapes), _described(coupler, lines, system), "shares")


def _reach(zero: float, line: ShareLine, scale: float, middle: float) -> Path:
    low, high = (zero + (line.value + sign * 1.96 * line.u) * scale for sign in (-1, 1))
    ends = f"M{number(low)} {number(middle - 3)}v6M{number(high)} {number(middle - 3)}v6"
    return Path(f"M{number(low)} {number(middle)}H{number(high)}{ends}", "accent", 1.5, what="reach")


def _described(coupler: Coupler, lines: Sequence[ShareLine], system: System) -> str:
    shares = "; ".join(f"{line.name} {line.amount}{', ' + line.basis if line.basis else ''}" for line in lines)
    return f"Shares of the {coupler_heading(coupler, system)}: {shares}"
