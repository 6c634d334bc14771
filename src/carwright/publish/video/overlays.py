"""Cards as files: SVG and PNG, transparent, at 1080 lines or more, and the cover as a still."""

from __future__ import annotations

from collections.abc import Iterator

from carwright.inspection import Inspection
from carwright.publish.lettering import lettering_of
from carwright.publish.scene import standalone_svg
from carwright.publish.theme import Theme, load_theme
from carwright.publish.typeset import pictures
from carwright.publish.video.cards import cards_of, cover_scene
from carwright.publish.video.frame import HEIGHT, SIZES, WIDTH

COVER = "00-cover"


def overlay_files(
    inspection: Inspection, theme: Theme | None = None, *, lines: str = "1080"
) -> Iterator[tuple[str, bytes]]:
    """Every card and the cover, twice: as SVG and as PNG.

    Parameters
    ----------
    inspection : Inspection
        What is told.
    theme : Theme, optional
        How it looks; the shipped one where omitted.
    lines : str
        ``1080`` or ``2160``.

    Yields
    ------
    tuple of (str, bytes)
        File name and content.

    Raises
    ------
    TextFitError
        Where a text does not fit its card: nothing is drawn cut off.
    """
    chosen = theme or load_theme()
    letters = lettering_of(chosen)
    named = [
        (COVER, cover_scene(inspection, letters)),
        *((each.name, each.scene) for each in cards_of(inspection, letters)),
    ]
    drawn = [standalone_svg(scene, chosen, "video") for _, scene in named]
    made = pictures(
        drawn,
        chosen,
        width=WIDTH,
        height=HEIGHT,
        scale=SIZES[lines],
        what=f"the cards of {inspection.history.title[:60]!r}",
    )
    for (name, _), svg, png in zip(named, drawn, made, strict=True):
        yield f"{name}.svg", svg.encode()
        yield f"{name}.png", png
