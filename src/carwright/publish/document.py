"""An inspection as one JSON document; numbers in mm, g, rad, with the unit beside them."""

from __future__ import annotations

import json
import math
from typing import Any

from carwright.inspection import FORMAT, Inspection
from carwright.judge import Finding, NextReading
from carwright.publish.era_rows import era_row, fidelity_rows
from carwright.publish.explained import bench_row, cause_rows, explanation_row, plan_rows
from carwright.units import INSIDE
from carwright.verdict import Verdict


def as_json_text(inspection: Inspection, *, ascii_only: bool = False) -> str:
    """The document as text, stable for the same history; escaped where the reader takes ASCII only."""
    return json.dumps(as_document(inspection), ensure_ascii=ascii_only, indent=1, allow_nan=False)


def as_document(inspection: Inspection) -> dict[str, Any]:
    """The document as plain values."""
    history = inspection.history
    return {
        "format": FORMAT,
        "car": {
            "title": history.title,
            "type": history.type,
            "scale": history.scale.name,
            "ratio": history.scale.ratio,
            "rules": list(history.rules),
            "geometry_mm": dict(history.geometry),
        },
        "stages": [{"number": stage.number, "title": stage.title} for stage in history.stages],
        "stage": inspection.stage,
        "findings": [finding_row(finding) for finding in inspection.findings],
        "superseded": [finding_row(finding) for finding in inspection.older],
        "causes": cause_rows(inspection.explanation),
        "explanation": explanation_row(inspection.explanation),
        "plans": plan_rows(inspection.plans),
        "no_plan": inspection.plans.reason,
        "bench": bench_row(inspection.bench),
        "next_readings": [_next_row(reading) for reading in inspection.next_readings],
        "verdict": _verdict(inspection.verdict),
        "era": era_row(inspection.portrayal, inspection.stage, history.scale.ratio, history.system),
        "fidelity": fidelity_rows(inspection.fidelity),
        "kept_not_judged": dict(history.kept),
    }


def _number(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def finding_row(finding: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "clause": finding.clause,
        "characteristic": finding.characteristic,
        "title": finding.title,
        "at": finding.at,
        "stage": finding.stage,
        "outcome": finding.outcome,
        "basis": finding.basis,
        "reason": finding.reason,
        "p_conform": finding.p_conform,
        "value": finding.value,
        "u": finding.u,
        "dof": _number(finding.dof),
        "half_width_95": finding.half_width,
        "unit": INSIDE[finding.kind] if finding.kind else None,
        "limits": {
            "nominal": finding.nominal,
            "lower": finding.lower,
            "upper": finding.upper,
            "u": finding.u_limit,
        },
        "force": finding.force,
        "source": "; ".join(f"{side}: {source.sentence()}" for side, source in finding.sources),
        "status": finding.status,
        "rule_set": finding.rule_set,
        "superseded_by": finding.superseded_by or None,
        "grade": finding.grade or None,
        "instruments": list(finding.instruments),
        "capable": finding.capable,
        "u_needed": finding.u_needed,
        "entries": list(finding.entries),
        "places": [{"place": name, "value": value, "u": u} for name, value, u in finding.places],
        "budget": [{"component": label, "u": u, "share": share} for label, u, share in finding.budget],
        "derived": finding.derived,
        "notes": list(finding.notes),
        "clause_note": finding.clause_note,
    }


def _next_row(reading: NextReading) -> dict[str, Any]:
    return {
        "what": reading.what,
        "at": reading.at,
        "with": reading.instrument,
        "n": reading.n,
        "minutes": reading.minutes,
        "p_decided": reading.p_decided,
        "expected_drop_points": reading.drop,
        "settles": list(reading.settles),
        "why": reading.why,
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "points": verdict.points,
        "out_of": verdict.out_of,
        "unexamined_points": verdict.unexamined,
        "unmeasured_requirements": verdict.unmeasured,
        "points_if_provisional_lifted": verdict.points_if_provisional_lifted,
        "band": verdict.band,
        "scored_stage": verdict.scored_stage,
        "status": verdict.status,
        "status_stage": verdict.status_stage,
        "status_reasons": list(verdict.status_reasons),
        "rubric": verdict.rubric,
        "categories": [
            {
                "category": each.id,
                "title": each.title,
                "points": each.points,
                "lost": each.lost,
                "examined": each.examined,
            }
            for each in verdict.categories
        ],
        "deductions": [
            {
                "points": each.points,
                "provisional": each.provisional,
                "settled_by": each.settled_by or None,
                "category": each.category,
                "cause": each.cause,
                "at": each.at,
                "title": each.title,
                "chain": list(each.chain),
                "clauses": list(each.clauses),
            }
            for each in verdict.deductions
        ],
        "waived": list(verdict.waived),
        "notes": list(verdict.notes),
    }
