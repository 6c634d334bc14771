"""Shares of one coupler's error as bars about zero: solid where measured, hatched where assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from carwright.explain.records import Coupler
from carwright.publish.why import ShareLine, coupler_heading
from carwright.units import System

_ROW, _BAR, _WIDTH = 37.0, 11.0, 340.0
"""Height of a row with its text, of its bar, and width of the whole, so that a phone shows it in its own size [px]."""


def shares_svg(coupler: Coupler, lines: Sequence[ShareLine], system: System) -> str:
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
    zero, scale = _WIDTH / 2, (_WIDTH / 2 - 4) / reach
    height = _ROW * len(lines) + 6
    words = _described(coupler, lines, system)
    parts = [
        f'<svg class="shares" viewBox="0 0 {_WIDTH:g} {height:g}" role="img" aria-label="{words}">',
        f'<path class="zero" d="M{zero:.1f} 0V{height:g}"/>',
    ]
    for index, line in enumerate(lines):
        words_y = 3 + _ROW * index + 9
        y = words_y + 9
        middle = y + _BAR / 2
        end = zero + line.value * scale
        kind = "assumed" if line.hatched else "measured"
        parts.append(f'<text class="name" x="0" y="{words_y:.1f}">{escape(line.name)}</text>')
        left_edge, width = min(zero, end), abs(end - zero)
        box = f'x="{left_edge:.1f}" y="{y:.1f}" width="{width:.1f}" height="{_BAR:g}"'
        parts.append(f'<rect class="{kind}" {box}/>')
        if line.hatched:
            parts.append(f'<path class="hatch" d="{_hatch(left_edge, y, width, _BAR)}"/>')
        if line.u > 0:
            low, high = (zero + (line.value + sign * 1.96 * line.u) * scale for sign in (-1, 1))
            ends = f"M{low:.1f} {middle - 3:.1f}v6M{high:.1f} {middle - 3:.1f}v6"
            parts.append(f'<path class="reach" d="M{low:.1f} {middle:.1f}H{high:.1f}{ends}"/>')
        parts.append(f'<text class="amount" x="{_WIDTH:g}" y="{words_y:.1f}">{escape(line.amount)}</text>')
    return "".join([*parts, "</svg>"])


_STEP = 5.0
"""Between two lines of the hatching [px]."""


def _hatch(x: float, y: float, width: float, height: float) -> str:
    """Slanted lines that fill a box and stay within it."""
    lines = []
    for index in range(1, math.ceil((width + height) / _STEP)):
        across = index * _STEP
        x1, y1 = x + min(across, width), y + max(0.0, across - width)
        x2, y2 = x + max(0.0, across - height), y + min(across, height)
        lines.append(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}")
    return "".join(lines)


def _described(coupler: Coupler, lines: Sequence[ShareLine], system: System) -> str:
    shares = "; ".join(f"{line.name} {line.amount}{', ' + line.basis if line.basis else ''}" for line in lines)
    return escape(f"Shares of the {coupler_heading(coupler, system)}: {shares}")
