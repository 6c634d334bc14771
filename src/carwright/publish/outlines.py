"""Body outlines for the elevation: what a car of a type looks like from the side, where the sheet does not say.

Heights are in scale inches above the railhead. They only draw; no finding is judged by them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Point = tuple[float, float]
"""Share of the half-length (−1 B end … 1 A end) and share of the body's height (0 floor … 1 top)."""

_RECTANGLE: tuple[Point, ...] = ((-1, 0), (-1, 1), (1, 1), (1, 0))


@dataclass(frozen=True, slots=True)
class Outline:
    """A body from the side.

    Attributes
    ----------
    floor, top : float
        Usual heights above the railhead [scale in].
    body : tuple of points
        Closed outline.
    lines : tuple of (point, point)
        What is drawn upon it.
    """

    floor: float
    top: float
    body: tuple[Point, ...] = _RECTANGLE
    lines: tuple[tuple[Point, Point], ...] = ()


def _posts(*stations: float) -> tuple[tuple[Point, Point], ...]:
    return tuple(((x, 0.0), (x, 1.0)) for x in stations)


_DOOR = (*_posts(-0.13, 0.13), ((-1.0, 0.97), (1.0, 0.97)), *_posts(-0.75, -0.5, -0.3, 0.3, 0.5, 0.75))
_SLATS = tuple(((-1.0, z), (1.0, z)) for z in (0.2, 0.4, 0.6, 0.8)) + _posts(-0.13, 0.13)

OUTLINES: Mapping[str, Outline] = {
    "boxcar": Outline(42, 168, lines=_DOOR),
    "refrigerator car": Outline(42, 168, lines=(*_posts(-0.11, 0.11), ((-1.0, 0.96), (1.0, 0.96)))),
    "stock car": Outline(42, 160, lines=_SLATS),
    "covered hopper": Outline(
        16, 160,
        ((-1, 0.42), (-1, 1), (1, 1), (1, 0.42), (0.86, 0.42), (0.5, 0), (0.36, 0), (0.06, 0.36), (-0.06, 0.36),
         (-0.36, 0), (-0.5, 0), (-0.86, 0.42)),
        (((-1.0, 0.95), (1.0, 0.95)), ((-1.0, 0.42), (1.0, 0.42)), ((0.0, 0.42), (0.0, 0.95))),
    ),
    "open hopper": Outline(
        14, 130,
        ((-1, 0.55), (-1, 1), (1, 1), (1, 0.55), (0.55, 0), (0.4, 0), (0.06, 0.3), (-0.06, 0.3), (-0.4, 0),
         (-0.55, 0)),
        tuple(((x, 0.35), (x, 1.0)) for x in (-0.6, -0.3, 0.0, 0.3, 0.6)),
    ),
    "gondola": Outline(42, 96, lines=_posts(-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75)),
    "flat car": Outline(34, 46, lines=_posts(-0.8, -0.4, 0.0, 0.4, 0.8)),
    "tank car": Outline(
        36, 150,
        ((-1, 0), (-1, 0.12), (-0.94, 0.12), (-0.94, 0.2), (-0.97, 0.32), (-0.97, 0.72), (-0.94, 0.84), (-0.07, 0.84),
         (-0.07, 1), (0.07, 1), (0.07, 0.84), (0.94, 0.84), (0.97, 0.72), (0.97, 0.32), (0.94, 0.2), (0.94, 0.12),
         (1, 0.12), (1, 0)),
        (((-0.94, 0.12), (0.94, 0.12)), ((-0.94, 0.52), (0.94, 0.52))),
    ),
    "caboose": Outline(
        42, 180,
        ((-1, 0), (-1, 0.08), (-0.8, 0.08), (-0.8, 0.74), (-0.9, 0.74), (-0.9, 0.8), (-0.2, 0.8), (-0.2, 1), (0.2, 1),
         (0.2, 0.8), (0.9, 0.8), (0.9, 0.74), (0.8, 0.74), (0.8, 0.08), (1, 0.08), (1, 0)),
        (((-0.5, 0.35), (-0.3, 0.35)), ((0.3, 0.35), (0.5, 0.35))),
    ),
    "passenger car": Outline(40, 168, lines=(((-1.0, 0.5), (1.0, 0.5)), ((-1.0, 0.78), (1.0, 0.78)),
                                             *_posts(-0.85, 0.85))),
    "four-wheel wagon": Outline(42, 96, lines=_posts(-0.5, 0.0, 0.5)),
    "four-wheel van": Outline(42, 150, lines=(*_posts(-0.2, 0.2), ((-1.0, 0.95), (1.0, 0.95)))),
}  # fmt: skip
PLAIN = Outline(42, 150)
"""Any other type."""


def outline_of(car_type: str) -> tuple[Outline, bool]:
    """Outline of a type, and whether the type was known."""
    found = OUTLINES.get(car_type.strip().lower())
    return (found, True) if found is not None else (PLAIN, False)
