"""Dimensions as an engineer's drawing has them: extension lines, arrows, the figure over the line (ISO 129-1)."""

from __future__ import annotations

from carwright.publish.drawing.pen import DETAIL, Pen
from carwright.publish.scene import Path, Text, line, number

TEXT = 3.5
"""Height of figures [mm of paper]."""
_ARROW, _BARB = 2.2, 0.42
"""Length of an arrowhead and half its width [mm of paper]."""
_GAP, _BEYOND = 0.8, 1.2
"""Between the thing and its extension line, and how far that runs past the dimension line [mm of paper]."""
_SIGN = 0.56
"""Width of a sign of a figure, in its height, for the room it needs [-]."""


def across(pen: Pen, left: float, right: float, level: float, words: str, *, start: float = 0.0) -> None:
    """A horizontal dimension.

    Parameters
    ----------
    pen : Pen
        Of the view.
    left, right : float
        What is measured [mm].
    level : float
        z of the dimension line, below the thing [mm].
    words : str
        The figure, with what it is.
    start : float
        z from which the extension lines run [mm].
    """
    mm = pen.mm
    sign = 1.0 if level < start else -1.0
    ends = "".join(line([(x, -(start - sign * _GAP * mm)), (x, -(level - sign * _BEYOND * mm))]) for x in (left, right))
    pen.items.append(Path(ends, "soft", DETAIL * mm, "none", (), "extension"))
    room = (right - left) / mm
    outside = room < 2 * _ARROW + 1
    if outside:  # arrows from without, where there is no room between
        for x, way in ((left, -1.0), (right, 1.0)):
            pen.items.append(
                Path(
                    line([(x, -level), (x + way * 2 * _ARROW * mm, -level)]),
                    "soft",
                    DETAIL * mm,
                    "none",
                    (),
                    "dimension",
                )
            )
    pen.items.append(Path(line([(left, -level), (right, -level)]), "soft", DETAIL * mm, "none", (), "dimension"))
    for x, way in ((left, 1.0), (right, -1.0)):
        _arrow(pen, x, -level, (-way if outside else way, 0.0))
    fits = len(words) * _SIGN * TEXT < room
    x = (left + right) / 2 if fits else right + (2 * _ARROW + 1) * mm
    pen.reach_to((left, level - TEXT * mm), (right, level))
    if not fits:
        pen.reach_to((x + len(words) * _SIGN * TEXT * mm, level))
    pen.items.append(Text(x, -level - 0.8 * mm, words, TEXT * mm, "middle" if fits else "start", "soft", what="figure"))


def upright(pen: Pen, low: float, high: float, x: float, words: str, *, start: float) -> None:
    """A vertical dimension beside the car, its figure read from the right.

    Parameters
    ----------
    pen : Pen
        Of the view.
    low, high : float
        What is measured [mm].
    x : float
        Where the dimension line stands [mm].
    words : str
        The figure.
    start : float
        x from which the upper extension line runs; the lower stands on the rail [mm].
    """
    mm = pen.mm
    sign = 1.0 if x > start else -1.0
    lower = line([(x - sign * 2 * mm, -low), (x + sign * _BEYOND * mm, -low)])
    upper = line([(start + sign * _GAP * mm, -high), (x + sign * _BEYOND * mm, -high)])
    pen.items.append(Path(lower + upper, "soft", DETAIL * mm, "none", (), "extension"))
    pen.items.append(Path(line([(x, -low), (x, -high)]), "soft", DETAIL * mm, "none", (), "dimension"))
    outside = (high - low) / mm < 2 * _ARROW + 1
    for z, way in ((low, -1.0), (high, 1.0)):
        _arrow(pen, x, -z, (0.0, -way if outside else way))
    room = (high - low) / mm
    pen.reach_to((x - TEXT * mm, low), (x + TEXT * mm, high))
    if len(words) * _SIGN * TEXT < room:
        pen.items.append(
            Text(x - 0.8 * mm, -(low + high) / 2, words, TEXT * mm, "middle", "soft", turn=-90.0, what="figure")
        )
    else:
        above = 1.6 + (_ARROW if outside else 0.0)
        half = 0.5 * len(words) * _SIGN * TEXT * mm
        pen.reach_to((x - half, high + (above + TEXT) * mm), (x + half, high))
        pen.items.append(Text(x, -high - above * mm, words, TEXT * mm, "middle", "soft", what="figure"))


def _arrow(pen: Pen, x: float, y: float, way: tuple[float, float]) -> None:
    """An arrowhead with its point at (x, y), its shaft going ``way``, in SVG's directions."""
    dx, dy = (each * _ARROW * pen.mm for each in way)
    bx, by = (-way[1] * _BARB * pen.mm, way[0] * _BARB * pen.mm)
    points = ((x, y), (x + dx + bx, y + dy + by), (x + dx - bx, y + dy - by))
    d = "M" + "L".join(f"{number(px)} {number(py)}" for px, py in points) + "Z"
    pen.items.append(Path(d, "none", 0.0, "soft", (), "arrow"))
