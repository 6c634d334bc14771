"""Drawings as files of their own: SVG in which a millimetre is a millimetre of the model."""

from __future__ import annotations

from collections.abc import Iterator

from carwright.inspection import Inspection
from carwright.publish.drawing.deformed import before_after, deformation_of, deformed_scene
from carwright.publish.drawing.elevation import elevation
from carwright.publish.drawing.views import sheet_of_views
from carwright.publish.report.judged import numbered_findings
from carwright.publish.scene import standalone_svg
from carwright.publish.theme import Theme


def drawing_files(inspection: Inspection, theme: Theme, exaggerate: float | None = None) -> Iterator[tuple[str, bytes]]:
    """The side elevation with its pins, three views, and the car drawn bent where its couplers were measured.

    Parameters
    ----------
    inspection : Inspection
        The car.
    theme : Theme
        How it looks.
    exaggerate : float, optional
        How many times deformation is drawn larger; chosen so that it shows where omitted [-].

    Yields
    ------
    tuple of (str, bytes)
        File name and SVG, as wide and high on paper as the model and its dimensions.
    """
    history = inspection.history
    scenes = {
        "side": elevation(history, inspection.findings, numbered_findings(inspection)),
        "views": sheet_of_views(history, inspection.findings),
    }
    offered = inspection.plans.offered
    found = deformation_of(inspection, offered[0] if offered else None, exaggerate)
    if found is not None:
        scenes["deviations"] = deformed_scene(found, history.system, history.title)
        scenes |= dict(zip(("bent-now", "bent-then"), before_after(inspection, found), strict=False))
    for name, scene in scenes.items():
        yield f"{name}.svg", standalone_svg(scene, theme, "print").encode()
