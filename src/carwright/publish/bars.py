"""A value against its limits, as a small drawing: band, interval and estimate on one axis."""

from __future__ import annotations

import math

from carwright.judge import Finding

WIDTH, HEIGHT = 160.0, 22.0


def bar_svg(finding: Finding) -> str:
    """The bar of one finding, "" where there is no value or no limit.

    The shaded band is what the clause allows; an open side fades to the edge. The line holds the value with
    probability 0.95; the estimate is a filled square where it fails, a diamond where undecided, a disc where it
    conforms.
    """
    lower, upper = finding.lower, finding.upper
    if finding.value is None or finding.half_width is None or (lower is None and upper is None):
        return ""
    x, half = finding.value, finding.half_width
    ends = [side for side in (lower, upper) if side is not None]
    span = (upper - lower) if lower is not None and upper is not None else 4 * half
    low = min(*ends, x - half) - 0.25 * span
    high = max(*ends, x + half) + 0.25 * span

    def at(value: float) -> float:
        return 4 + (WIDTH - 8) * (value - low) / (high - low)

    left = at(lower) if lower is not None else 0.0
    right = at(upper) if upper is not None else WIDTH
    middle = HEIGHT / 2
    ticks = "".join(f"M{at(side):.1f} 2V{HEIGHT - 2:.0f}" for side in ends)
    start, end = at(x - half), at(x + half)
    return (
        f'<svg class="bar" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" aria-hidden="true">'
        f'<rect class="allowed" x="{left:.1f}" y="5" width="{max(0.0, right - left):.1f}" height="{HEIGHT - 10:.0f}"/>'
        f'<path class="limit" d="{ticks}"/>'
        f'<path class="interval" d="M{start:.1f} {middle:.0f}H{end:.1f}M{start:.1f} {middle - 3:.0f}v6'
        f'M{end:.1f} {middle - 3:.0f}v6"/>{_estimate(finding.outcome, at(x), middle)}</svg>'
    )


def _estimate(outcome: str, x: float, y: float) -> str:
    if not math.isfinite(x):
        return ""
    match outcome:
        case "fails":
            return f'<rect class="estimate" x="{x - 3.5:.1f}" y="{y - 3.5:.1f}" width="7" height="7"/>'
        case "undecided":
            return f'<path class="estimate open" d="M{x:.1f} {y - 5:.1f}l5 5l-5 5l-5 -5Z"/>'
        case _:
            return f'<circle class="estimate" cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>'
