"""What a car portrays and when, as rows of a JSON document; months as ``1957-06``, null where a side is open."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from carwright.dates import Span, Spans, iso
from carwright.prototype.anachronism import Anachronism
from carwright.prototype.conflicts import Conflicts
from carwright.prototype.fidelity import Compared, Fidelity
from carwright.prototype.life import LifeLine
from carwright.prototype.portrayal import DatedPiece, Portrayal
from carwright.prototype.record import Record, trust_of
from carwright.prototype.roster import Judgement, bounds_of, safe_cell
from carwright.prototype.window import Window
from carwright.prototype.work import Change
from carwright.publish.era import model_size
from carwright.tables.dated_model import DatedRule
from carwright.units import System

if TYPE_CHECKING:
    from carwright.prototype.posterior import Posterior

DATE_FORMAT = "carwright-date/1"


def month(value: int | None) -> str | None:
    """``1957-06``, None where a side is open."""
    return iso(value) if value is not None else None


def span_row(span: Span) -> dict[str, str | None]:
    """First and last month of a span."""
    return {"first": month(span.first), "last": month(span.last)}


def _spans(spans: Spans) -> list[dict[str, str | None]]:
    return [span_row(span) for span in spans]


def rule_row(rule: DatedRule) -> dict[str, Any]:
    """A dated rule with its source and how far it is to be trusted."""
    return {
        "rule": rule.id,
        "feature": rule.feature,
        "event": rule.event,
        "earliest": rule.earliest,
        "latest": rule.latest,
        "strength": rule.strength,
        "confidence": rule.confidence,
        "from_memory": rule.confidence == "memory",
        "sources": list(rule.sources),
        "note": rule.note,
    }


def window_row(window: Window) -> dict[str, Any]:
    """The window, what sets its sides, and the months each thing shown allows."""
    return {
        "earliest": month(window.earliest),
        "earliest_soft": month(window.earliest_soft),
        "latest_soft": month(window.latest_soft),
        "latest_hard": month(window.latest_hard),
        "right": _spans(window.soft),
        "not_ruled_out": _spans(window.hard),
        "built_by": month(window.built_hard),
        "bounded_by": [
            {
                "side": bound.side, "month": month(bound.month), "hard": bound.hard, "feature": bound.name,
                "state": bound.state, "rule": bound.rule, "marks": bound.marks,
            }
            for bound in window.bounds
        ],
        "features": [
            {
                "feature": stretch.name,
                "state": stretch.state,
                "implied": stretch.implied,
                "right": _spans(stretch.soft),
                "not_ruled_out": _spans(stretch.hard),
                "rules": [rule_row(rule) for rule in dict.fromkeys(limit.rule for limit in stretch.bar.limits)]
                if stretch.bar is not None
                else [],
                "why": list(stretch.why),
            }
            for stretch in window.stretches
        ],
        "notes": list(window.notes),
    }  # fmt: skip


def posterior_row(posterior: Posterior) -> dict[str, Any]:
    """Quantiles as months, and two intervals with the mass in them; null where no month is left."""
    if posterior.reason:
        return {"p10": None, "p50": None, "p90": None, "intervals": [], "reason": posterior.reason, "warnings": []}
    intervals = []
    for p in (0.8, 0.95):
        span, mass = posterior.interval(p)
        intervals.append({"asked": p, **span_row(span), "probability": mass})
    quantiles = {f"p{round(100 * p)}": month(posterior.quantile(p)) for p in (0.1, 0.5, 0.9)}
    return {**quantiles, "intervals": intervals, "reason": "", "warnings": list(posterior.warnings)}


def conflicts_rows(conflicts: Conflicts) -> list[dict[str, Any]]:
    """Every clash."""
    return [{"claims": [fact.label for fact in clash.facts], "why": clash.why} for clash in conflicts.clashes]


def doubts_rows(conflicts: Conflicts) -> list[dict[str, Any]]:
    """Every smallest set of claims to doubt, likeliest first."""
    return [{"doubt": [fact.label for fact in doubt.facts], "odds": doubt.odds} for doubt in conflicts.doubts]


def anachronism_rows(found: Iterable[Anachronism]) -> list[dict[str, Any]]:
    """What is not right in the wanted months."""
    return [
        {
            "feature": each.name,
            "state": each.state,
            "judged": each.judged,
            "words": each.words,
            "rules": [rule_row(rule) for rule in each.rules],
            "why": list(each.why),
        }
        for each in found
    ]


def work_rows(changes: Iterable[Change], ratio: float | None, system: System) -> list[dict[str, Any]]:
    """A work list, least work first."""
    return [
        {
            "do": change.verb,
            "feature": change.name,
            "instead_of": change.instead_of or None,
            "to": change.to or None,
            "where": change.where,
            "how": change.how,
            "minutes": change.minutes,
            "size_full": change.size or None,
            "size_model": model_size(change.size, ratio, system) or None,
            "size_source": change.size_source or None,
        }
        for change in changes
    ]


def piece_row(each: DatedPiece) -> dict[str, Any]:
    """One piece of evidence."""
    return {
        "of": each.piece.of,
        "source": each.piece.name,
        "entry": each.piece.entry or None,
        "number": each.piece.number or None,
        "window": window_row(each.window),
        "posterior": posterior_row(each.posterior),
        "tells": [
            {
                "what": telling.label, "bits": telling.bits, "without": {
                    "p10": month(telling.p10), "p50": month(telling.p50), "p90": month(telling.p90),
                }, "chance_seen_wrongly": telling.false,
            }
            for telling in each.tellings
        ],
        "conflicts": conflicts_rows(each.conflicts),
        "doubts": doubts_rows(each.conflicts),
        "warnings": list(each.conflicts.warnings),
    }  # fmt: skip


def record_rows(record: Record) -> dict[str, Any]:
    """The prototype record: claims side by side, and how many cars there were, for limits of a fleet."""
    cars = record.quantity
    return {
        "facts": [
            {
                "what": fact.what,
                "agreed": fact.agreed,
                "claims": [
                    {"value": claim.value, "source": claim.source or None, "trust": trust_of(claim)}
                    for claim in fact.claims
                ],
            }
            for fact in record.facts
        ],
        "quantity": None
        if cars is None
        else {"cars": cars.estimate, "u": cars.u, "least": cars.low, "greatest": cars.high},
        "notes": list(record.notes),
    }


def life_rows(life: LifeLine | None) -> dict[str, Any] | None:
    """The life line."""
    if life is None:
        return None
    return {
        "events": [
            {"what": each.what, **span_row(each.span), "by": each.by, "claimed": each.claimed} for each in life.events
        ],
        "evidence": [
            {
                "source": each.piece.name, "of": each.piece.of, **span_row(each.span),
                "model_agrees": list(each.agrees), "model_differs": list(each.differs),
            }
            for each in life.sights
        ],
        "gaps": _spans(life.gaps),
        "conflicts": list(life.conflicts),
        "model_stands_nearest_to": None
        if life.represents is None
        else life.sights[life.represents].piece.name,
        "notes": list(life.notes),
    }  # fmt: skip


def fidelity_rows(fidelity: Fidelity | None) -> dict[str, Any] | None:
    """Dimensions against the full-size car."""
    if fidelity is None:
        return None
    scale = fidelity.scale
    return {
        "class": fidelity.tolerance.id,
        "ratio": fidelity.ratio,
        "scale_error": None
        if scale is None
        else {
            "factor": scale.factor, "u": scale.u, "chi2": scale.chi2, "dof": scale.dof, "told": scale.told,
            "as_ratio": fidelity.ratio / scale.factor,
        },
        "dimensions": [_dimension(each, fidelity, None) for each in fidelity.compared]
        + [_dimension(each, fidelity, each.full.over_scale) for each in fidelity.over_scale],
        "not_measured": [full.name for full in fidelity.unmeasured],
    }  # fmt: skip


def _dimension(each: Compared, fidelity: Fidelity, over_scale: str | None) -> dict[str, Any]:
    return {
        "name": each.full.name,
        "full_mm": each.full.value,
        "u_full_mm": each.full.u,
        "of": each.full.of,
        "source": each.full.source or None,
        "nominal_mm": each.nominal,
        "u_nominal_mm": each.u_nominal,
        "value_mm": each.value,
        "u_mm": each.u,
        "deviation_mm": each.deviation,
        "u_deviation_mm": each.u_deviation,
        "deviation_scale_in": each.scale_inches(fidelity.ratio),
        "deviation_percent": each.percent,
        "local_mm": each.local,
        "u_local_mm": each.u_local,
        "allowed_mm": each.allowed,
        "over_scale": over_scale,
    }


def era_row(portrayal: Portrayal | None, stage: int, ratio: float | None, system: System) -> dict[str, Any] | None:
    """All of it, for ``inspect --json``; null where the sheet says nothing of it."""
    if portrayal is None:
        return None
    window, clashes, work = portrayal.window(stage), portrayal.clashes(stage), portrayal.work
    aim = portrayal.aim(stage)
    return {
        "wanted": span_row(portrayal.wanted) if portrayal.wanted is not None else None,
        "judged_for": span_row(aim) if aim is not None else None,
        "window": window_row(window) if window is not None else None,
        "anachronisms": anachronism_rows(portrayal.anachronisms(stage)),
        "conflicts": conflicts_rows(clashes) if clashes is not None else [],
        "doubts": doubts_rows(clashes) if clashes is not None else [],
        "work": work_rows(work.changes if work is not None else (), ratio, system),
        "work_other_ways": [work_rows(each, ratio, system) for each in (work.others if work is not None else ())],
        "work_settles": work.settles if work is not None else None,
        "work_cannot_cure": list(work.incurable) if work is not None else [],
        "ways_out": list(work.ways_out) if work is not None else [],
        "work_unfinished": work.unfinished if work is not None else False,
        "evidence": [piece_row(each) for each in portrayal.datings],
        "prototype": record_rows(portrayal.record),
        "life": life_rows(portrayal.life),
    }


def date_document(
    portrayal: Portrayal, title: str, ratio: float | None, system: System, pieces: Sequence[DatedPiece]
) -> dict[str, Any]:
    """The document of ``date --json``: the model's window, or the only picture's, on top; everything below.

    Parameters
    ----------
    portrayal : Portrayal
        Of the file.
    title : str
        Its title, "" where it has none.
    ratio : float or None
        For sizes on the model [-].
    system : str
        Units of sizes.
    pieces : sequence of DatedPiece
        Its evidence.
    """
    last = len(portrayal.models) - 1
    whole = era_row(portrayal, last, ratio, system) or {}
    single = pieces[0] if len(pieces) == 1 else None
    window = portrayal.window(last) or (single.window if single is not None else None)
    conflicts = portrayal.clashes(last)
    own = conflicts_rows(conflicts) if conflicts is not None else []
    return {
        "format": DATE_FORMAT,
        "title": title,
        **whole,
        "window": window_row(window) if window is not None else None,
        "posterior": posterior_row(single.posterior) if single is not None else None,
        "conflicts": own + [row for each in pieces for row in conflicts_rows(each.conflicts)],
    }


def roster_rows(judged: Iterable[Judgement]) -> dict[str, Any]:
    """A roster with the window of every car."""
    return {
        "format": "carwright-roster/1",
        "cars": [
            {
                **each.line.cells,
                "line": each.line.number,
                "earliest": month(each.window.earliest),
                "earliest_soft": month(each.window.earliest_soft),
                "latest_soft": month(each.window.latest_soft),
                "latest_hard": month(each.window.latest_hard),
                "as_wanted": each.as_wanted or None,
                "bounded_by": bounds_of(each.window),
            }
            for each in judged
        ],
    }


EVIDENCE_COLUMNS = ("of", "source", "number", "earliest", "latest", "p10", "p50", "p90", "clashes")


def evidence_text(portrayal: Portrayal) -> str:
    """Every piece of evidence with its dates, as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(EVIDENCE_COLUMNS)
    for each in portrayal.datings:
        posterior = each.posterior
        quantiles = [iso(posterior.quantile(p)) if not posterior.reason else "" for p in (0.1, 0.5, 0.9)]
        sides = [iso(side) for side in (each.window.earliest, each.window.latest_hard)]
        clashes = "; ".join(clash.why for clash in each.conflicts.clashes)
        cells = [each.piece.of, each.piece.name, each.piece.number, *sides, *quantiles, clashes]
        writer.writerow([safe_cell(cell) for cell in cells])
    return out.getvalue()
