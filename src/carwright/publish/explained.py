"""Causes, plans and what was measured beside the clauses, as rows of the JSON document."""

from __future__ import annotations

import math
from typing import Any

from carwright.explain.records import Explanation, Plan, Plans, Share, Tell
from carwright.measure.bench import Bench
from carwright.measure.rolling import Both, Measured


def cause_rows(explanation: Explanation) -> list[dict[str, Any]]:
    """One row for every share; those of one coupler add up to reading less nominal."""
    return [_share_row(share) for coupler in explanation.couplers for share in coupler.shares]


def _share_row(share: Share) -> dict[str, Any]:
    return {
        "cause": share.cause,
        "place": share.place,
        "characteristic": share.characteristic,
        "at": share.at,
        "share_mm": share.share,
        "u_mm": share.u,
        "u_before_mm": share.before,
        "basis": share.basis,
        "not_told_from": list(share.group),
        "told_by": _tell(share.tell),
        "rests_on_calibration_of": share.rests_on or None,
    }


def _tell(tell: Tell | None) -> dict[str, Any] | None:
    if tell is None:
        return None
    return {"what": tell.what, "at": tell.at, "with": tell.with_, "cuts_variance_by": tell.cut, "words": tell.words}


def explanation_row(explanation: Explanation) -> dict[str, Any]:
    """What stands beside the shares: correlations, groups, readings that disagree, works as they came out."""
    return {
        "stage": explanation.stage,
        "reason": explanation.reason,
        "p_readings_agree": explanation.p,
        "disagreements": list(explanation.disagreements),
        "couplers": [
            {
                "at": coupler.at,
                "value_mm": coupler.value,
                "nominal_mm": coupler.nominal,
                "shares": [share.name for share in coupler.shares if not share.fixed],
                "correlation": [list(row) for row in coupler.correlation],
                "groups": [
                    {
                        "causes": list(group.names),
                        "likeliest": group.lead,
                        "share_mm": group.share,
                        "u_mm": group.u,
                        "measured": group.measured,
                        "rests_on_calibration_of": group.rests_on or None,
                        "told_by": _tell(group.tell),
                    }
                    for group in coupler.groups
                ],
            }
            for coupler in explanation.couplers
        ],
        "works": [
            {
                "stage": each.stage,
                "remedy": each.remedy,
                "at": each.at,
                "contribution": each.what,
                "meant_mm": each.meant,
                "was_mm": each.was,
                "u_mm": each.u,
                "spread_mm": each.spread,
                "z": each.z,
                "told_by_later_readings": each.known,
            }
            for each in explanation.executions
        ],
        "notes": list(explanation.notes),
        "priors": dict(explanation.priors),
    }


def plan_rows(plans: Plans) -> list[dict[str, Any]]:
    """Every plan offered."""
    return [_plan_row(plan) for plan in plans.offered]


def _plan_row(plan: Plan) -> dict[str, Any]:
    return {
        "steps": [
            {
                "remedy": step.remedy or None,
                "at": step.at,
                "amount": step.amount,
                "unit": step.unit or None,
                "words": step.words,
                "needs": step.needs,
                "side_effects": step.side,
                "cautions": list(step.cautions),
            }
            for step in plan.steps
        ],
        "effort_min": plan.effort,
        "cost": plan.cost,
        "risk": plan.risk,
        "reversible": plan.reversible,
        "p_all_conform": plan.p_closed,
        "p_all_conform_open": plan.p_open,
        "predicted": [
            {
                "characteristic": each.characteristic,
                "at": each.at,
                "value_mm": each.value,
                "u_mm": each.u,
                "p_conform": each.p_conform,
                "how": each.how,
            }
            for each in plan.predicted
        ],
        "leaves": list(plan.leaves),
        "changes": list(plan.changes),
    }


def plans_document(plans: Plans) -> dict[str, Any]:
    """``plan --json``."""
    return {
        "format": "carwright-plans/1",
        "plans": plan_rows(plans),
        "tried": plans.tried,
        "reason": plans.reason,
        "closed": list(plans.closed),
    }


def bench_row(bench: Bench) -> dict[str, Any]:
    """Frame, balance and rolling."""
    return {"frame": _frame(bench), "balance": _balance(bench), "rolling": _rolling(bench)}


def _frame(bench: Bench) -> dict[str, Any] | None:
    frame = bench.frame
    if frame is None:
        return None
    return {
        "kind": frame.kind,
        "span_mm": frame.span,
        "sag_mm": frame.sag,
        "u_sag_mm": frame.u_sag,
        "kink_as_sag_mm": frame.kink,
        "u_kink_mm": frame.u_kink,
        "kink_at_mm": frame.kink_at,
        "twist_mm": frame.twist,
        "u_twist_mm": frame.u_twist,
        "weight_of_bow": frame.weight,
        "p_fit": frame.p_fit,
        "cannot_be_told": list(frame.reasons),
        "straightness": [
            {"line": each.line, "minimum_zone_mm": each.width, "noise_bias_mm": each.bias, "noise_sd_mm": each.spread}
            for each in bench.straight
        ],
        "corner_rock_mm": bench.rock,
    }


def _balance(bench: Bench) -> dict[str, Any] | None:
    balance = bench.balance
    if balance is None:
        return None
    rows = {name: _measured(getattr(balance, name)) for name in ("x", "y", "z")}
    return {**{f"{name}_mm": row for name, row in rows.items()}, "notes": list(balance.notes)}


def _measured(found: Measured | None) -> dict[str, float] | None:
    return None if found is None else {"value": found.value, "u": found.u}


def _rolling(bench: Bench) -> dict[str, Any] | None:
    rolling = bench.rolling
    if rolling is None:
        return None
    return {
        "methods": {name: _both(both) for name, both in rolling.methods.items()},
        "breakaway": _both(rolling.breakaway) if rolling.breakaway is not None else None,
        "inertia": _measured(rolling.inertia),
        "mass_g": rolling.mass,
        "agree": rolling.comparison.agrees,
        "p_agree": rolling.comparison.p,
        "disagreement": rolling.comparison.where or None,
        "why": rolling.comparison.why,
        "notes": list(rolling.notes),
    }


def _both(both: Both) -> dict[str, Any]:
    return {
        "resistance": both.resistance.value,
        "u": both.resistance.u,
        "equivalent_grade_percent": 100 * both.resistance.value,
        "track_slope_percent": None if both.slope is None else 100 * math.tan(both.slope.value),
        "ways": [way or "not said" for way in both.ways],
    }
