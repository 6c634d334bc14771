"""Hatching: slanted lines filling a box, so that parts of a chart are told apart in grey and by touch of pen alone."""

from __future__ import annotations

import math

from carwright.publish.scene import Path, number

STEP = 5.0
"""Between two lines of the hatching [px]."""


def hatch(x: float, y: float, width: float, height: float, *, back: bool = False, step: float = STEP) -> Path:
    """Lines that rise to the left, or ``back`` to the right, and stay within the box."""
    lines = []
    for index in range(1, math.ceil((width + height) / step)):
        across = index * step
        x1, y1 = min(across, width), max(0.0, across - width)
        x2, y2 = max(0.0, across - height), min(across, height)
        if back:
            x1, x2 = width - x1, width - x2
        lines.append(f"M{number(x + x1)} {number(y + y1)}L{number(x + x2)} {number(y + y2)}")
    return Path("".join(lines), "ink", 1.3, what="hatch")
