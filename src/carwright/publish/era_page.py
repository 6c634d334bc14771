"""What a car portrays and when, as parts of the report: prototype, era, evidence, dimensions."""

from __future__ import annotations

from typing import Any

from carwright.inspection import Inspection
from carwright.prototype.fidelity import Fidelity
from carwright.prototype.portrayal import Portrayal
from carwright.publish.era import (
    JUDGED,
    UNFINISHED,
    anachronism_words,
    bound_lines,
    change_words,
    conflict_lines,
    dimension_cells,
    life_lines,
    other_ways,
    piece_heading,
    posterior_words,
    record_lines,
    represents_words,
    scale_words,
    side_by_side,
    states_of,
    telling_lines,
    wanted_words,
    window_words,
    work_heading,
)
from carwright.publish.timeline import evidence_svg, timeline_svg
from carwright.units import System

_CLASHES = 4
"""Clashes told in full."""
_COLUMNS = 4
"""Pieces of evidence that stand beside the model in one table."""


def era_page(inspection: Inspection) -> dict[str, Any]:
    """Everything the page shows, in words and drawings."""
    history = inspection.history
    found: dict[str, Any] = {"prototype": None, "model": None, "evidence": None, "fidelity": None}
    if inspection.portrayal is not None:
        found |= _portrayal(inspection.portrayal, inspection.stage, history.scale.ratio, history.system)
    if inspection.fidelity is not None:
        found["fidelity"] = _fidelity(inspection.fidelity, history.system)
    return found


def _portrayal(portrayal: Portrayal, stage: int, ratio: float, system: System) -> dict[str, Any]:
    life = portrayal.life
    lines = list(record_lines(portrayal.record))
    return {
        "prototype": {
            "lines": lines,
            "life": list(life_lines(life)) if life is not None else [],
            "represents": represents_words(life) if life is not None else "",
        }
        if lines or life is not None
        else None,
        "model": _model(portrayal, stage, ratio, system),
        "evidence": _evidence(portrayal, stage),
    }


def _model(portrayal: Portrayal, stage: int, ratio: float, system: System) -> dict[str, Any] | None:
    window, clashes, work = portrayal.window(stage), portrayal.clashes(stage), portrayal.work
    if window is None:
        return None
    aim = portrayal.aim(stage)
    return {
        "window": window_words(window),
        "timeline": timeline_svg(window, aim, portrayal.dated),
        "wanted": aim.words() if aim is not None else "",
        "wanted_words": wanted_words(portrayal.wanted, aim) if portrayal.wanted is not None else "",
        "bounds": bound_lines(window, portrayal.dated),
        "notes": list(window.notes),
        "epochs": [f"{each.name} ({each.title})" for each in portrayal.epochs(stage)],
        "clashes": list(conflict_lines(clashes, _CLASHES)) if clashes is not None and clashes.clashes else [],
        "anachronisms": [
            {"mark": JUDGED[each.judged], "judged": each.judged, "words": anachronism_words(each)}
            for each in portrayal.anachronisms(stage)
        ],
        "work": {
            "heading": work_heading(work),
            "lines": [change_words(change, portrayal.dated, ratio, system) for change in work.changes],
            "others": list(other_ways(work, portrayal.dated, ratio, system)),
            "incurable": list(work.incurable),
            "ways_out": list(work.ways_out),
            "note": UNFINISHED if work.unfinished else "",
        }
        if work is not None
        else None,
        "from_memory": window.from_memory,
    }


def _evidence(portrayal: Portrayal, stage: int) -> dict[str, Any] | None:
    pieces = portrayal.datings
    model = portrayal.models[stage]
    if not pieces:
        return None
    columns = [] if model is None else [("model", states_of(model, portrayal.dated))]
    columns += [
        (each.piece.name, states_of(each.piece.subject, portrayal.dated, each.piece)) for each in pieces[:_COLUMNS]
    ]
    return {
        "picture": evidence_svg(pieces),
        "pieces": [
            {
                "heading": piece_heading(each),
                "when": posterior_words(each.posterior),
                "window": window_words(each.window),
                "tells": telling_lines(each),
                "clashes": [*each.posterior.warnings, *conflict_lines(each.conflicts, _CLASHES)],
            }
            for each in pieces
        ],
        "table": side_by_side(portrayal.dated, columns),
        "more": max(0, len(pieces) - _COLUMNS),
    }


def _fidelity(fidelity: Fidelity, system: System) -> dict[str, Any]:
    return {
        "rows": [dimension_cells(each, fidelity, system) for each in fidelity.compared],
        "over_scale": [(dimension_cells(each, fidelity, system), each.full.over_scale) for each in fidelity.over_scale],
        "scale": scale_words(fidelity),
        "class": fidelity.tolerance.id,
        "allows": f"{fidelity.tolerance.scale_in:g} scale in or {fidelity.tolerance.percent:g} %",
        "unmeasured": [full.name for full in fidelity.unmeasured],
    }
