"""The frame of a card, where text is safe, and the plate a card stands on.

Cards are drawn for 1920 × 1080 and may be made larger. Everything that must be read stands within the safe title area,
90 % of width and height (SMPTE ST 2046-1; memory), and no letter is smaller than 32 px of 1080 (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

from carwright.publish.scene import Path, Rect, Scene, Shape, Text, box

WIDTH, HEIGHT = 1920.0, 1080.0
SAFE = 0.05
"""Part of width and height left free on each side [-]."""
LEFT, RIGHT = SAFE * WIDTH, (1 - SAFE) * WIDTH
TOP, BOTTOM = SAFE * HEIGHT, (1 - SAFE) * HEIGHT
SMALLEST = 32.0
"""Height of the smallest letters [px]."""
PAD = 34.0
"""Between the edge of a plate and what stands on it [px]."""
_BAR = 12.0
SIZES: dict[str, float] = {"1080": 1.0, "2160": 2.0}
"""Lines of a picture, and by how much cards are enlarged for it."""


@dataclass(frozen=True, slots=True)
class Card:
    """A card: its place in the row, what it is of, and its scene.

    ``name`` is its file's; ``about`` says in words what it shows, for the shot list; ``entries`` are the entries of the
    sheet it tells of.
    """

    name: str
    about: str
    scene: Scene
    entries: tuple[int, ...] = ()


def plate(left: float, top: float, right: float, bottom: float) -> list[Shape]:
    """The ground of a card with its accent along the left edge."""
    return [
        Path(box(left, top, right, bottom), "none", 0.0, "paper", what="plate"),
        Rect(left, top, _BAR, bottom - top, fill="accent", what="edge"),
    ]


def card_scene(shapes: list[Shape], words: str) -> Scene:
    """A whole frame, transparent where nothing is drawn."""
    return Scene(0.0, 0.0, WIDTH, HEIGHT, tuple(shapes), words, "card")


def label(
    x: float, y: float, text: str, size: float, *, bold: bool = False, ink: str = "ink", end: bool = False
) -> Text:
    """A line of a card; never smaller than :data:`SMALLEST`."""
    return Text(x, y, text, max(size, SMALLEST), "end" if end else "start", ink, bold, what="words")
