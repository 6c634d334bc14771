"""Points as a waterfall: what a car starts with, each deduction one step down, what it keeps."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.publish.charts.hatch import hatch
from carwright.publish.lettering import Lettering
from carwright.publish.scene import Path, Rect, Scene, Shape, Text, number
from carwright.verdict import Deduction, Verdict

_ROW, _BAR, WIDTH = 37.0, 12.0, 340.0
TEXT = 13.0
_AMOUNT = 78.0
"""Room for an amount at the right [px]."""


def waterfall_scene(verdict: Verdict, letters: Lettering, *, first: int | None = None) -> Scene | None:
    """Steps from all that could be had to what is kept; hatched where provisional. None where nothing was examined.

    Parameters
    ----------
    verdict : Verdict
        Its deductions, in order.
    letters : Lettering
        For the room names take.
    first : int, optional
        Only so many deductions: the points so far [-].
    """
    if verdict.out_of <= 0:
        return None
    shown: Sequence[Deduction] = verdict.deductions[:first]
    left = verdict.out_of - sum(each.points for each in shown)
    low = _floor(left, verdict.out_of)

    def at(points: float) -> float:
        return (points - low) / (verdict.out_of - low) * WIDTH

    rows: list[tuple[str, str, float, float, str]] = [
        ("starts with", f"{verdict.out_of:g}", low, verdict.out_of, "whole")
    ]
    standing = verdict.out_of
    for each in shown:
        kind = "provisional" if each.provisional else "lost"
        words = f"{each.title}, provisional" if each.provisional else each.title
        rows.append((words, f"−{each.points:.1f}", standing - each.points, standing, kind))
        standing -= each.points
    rows.append(("keeps" if first is None else "so far", f"{left:.1f}", low, left, "whole"))
    shapes: list[Shape] = []
    for index, (words, amount, start, end, kind) in enumerate(rows):
        y = _ROW * index
        x, width = at(start), max(at(end) - at(start), 1.0)
        bar = y + 18
        shapes += [
            Text(0.0, y + 13, letters.cut(words, WIDTH - _AMOUNT, TEXT), TEXT, bold=kind == "whole", what="name"),
            Text(WIDTH, y + 13, amount, TEXT, "end", bold=kind == "whole", what="amount"),
        ]
        if kind == "whole":
            shapes.append(Rect(x, bar, width, _BAR, "ink", 1.0, "wash", "whole"))
        elif kind == "lost":
            shapes.append(Rect(x, bar, width, _BAR, fill="ink", what="lost"))
        else:
            shapes += [Rect(x, bar, width, _BAR, "ink", 1.0, "none", "provisional"), hatch(x, bar, width, _BAR)]
        if index + 1 < len(rows):  # carried over to the next step
            edge = at(end) if index == 0 else x
            shapes.append(
                Path(
                    f"M{number(edge)} {number(bar + _BAR)}V{number(bar + _BAR + 7)}",
                    "soft",
                    0.8,
                    dash=(2.0, 2.0),
                    what="carried",
                )
            )
    if low > 0:
        shapes.append(Text(0.0, _ROW * len(rows) + 8, f"bars begin at {low:g} points", 11.0, ink="soft", what="note"))
    steps = "; ".join(f"{words} {amount}" for words, amount, *_ in rows)
    return Scene(
        0.0, 0.0, WIDTH, _ROW * len(rows) + (14 if low > 0 else 2), tuple(shapes), f"Points: {steps}", "waterfall"
    )


def _floor(kept: float, whole: float) -> float:
    """Where the bars begin: at zero, or higher up where all steps lie in the top third."""
    if kept < whole * 2 / 3:
        return 0.0
    return float(int((whole - 2.2 * (whole - kept) - 1) / 10) * 10) if kept < whole else 0.0
