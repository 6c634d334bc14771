"""The report: one self-contained HTML page from an inspection."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from carwright.history import Acquisition, Figures
from carwright.inspection import Inspection, words_of
from carwright.judge import Finding
from carwright.publish.bars import bar_svg
from carwright.publish.deformed import deformation_of, deformed_svg
from carwright.publish.elevation import assumed_of, elevation_svg
from carwright.publish.photos import Picture, picture_of
from carwright.publish.share_bars import shares_svg
from carwright.publish.why import (
    bench_lines,
    coupler_heading,
    execution_lines,
    flip_lines,
    plan_heading,
    plan_table,
    predicted_words,
    share_lines,
)
from carwright.publish.wording import (
    MARKS,
    limit_words,
    next_words,
    not_measured_words,
    points_words,
    probability_words,
    rule_words,
    split,
    value_words,
)
from carwright.tables import Tables, shipped
from carwright.units import Kind, System, outside, say, shown_unit

_SHOWN_NEXT = 10
_SHOWN_PLANS, _TOLD_PLANS = 5, 3


@dataclass(frozen=True, slots=True)
class Row:
    """One finding, in words."""

    number: int
    mark: str
    finding: Finding
    value: str
    limits: str
    p: str
    rule: str
    bar: str
    budget: str


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("carwright.publish"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def report_html(
    inspection: Inspection,
    tables: Tables | None = None,
    *,
    version: str,
    digest: str = "",
    exaggerate: float | None = None,
) -> str:
    """The page.

    Parameters
    ----------
    inspection : Inspection
        What to publish; nothing is computed here but words and drawings.
    tables : Tables, optional
        For the titles of the sources.
    version : str
        The program's.
    digest : str
        Of the sheet, so that a reader can tell which one it was.
    exaggerate : float, optional
        How many times deformation is drawn larger; chosen so that it shows where omitted [-].

    Returns
    -------
    str
        HTML with everything inside: no address outside is ever asked for.
    """
    facts = tables or shipped()
    history, verdict = inspection.history, inspection.verdict
    found = list(inspection.findings)
    charged, informing = split(inspection)
    open_ones = [finding for finding in charged if finding.outcome in {"fails", "undecided"}]
    rows = [_row(number, finding, inspection) for number, finding in enumerate(open_ones, 1)]
    conforming = [_row(0, finding, inspection) for finding in charged if finding.outcome == "conforms"]
    beside = [_row(0, finding, inspection) for finding in informing if not finding.grade]
    pinned = [(row.number, row.finding) for row in rows if row.finding.characteristic != "look.packing"]
    pictures = [picture_of(photo, history.folder) for photo in history.photos]
    looks = [finding for finding in found if finding.grade]
    return (
        _environment()
        .get_template("report.html")
        .render(
            history=history,
            stage=history.stages[inspection.stage],
            verdict=verdict,
            summary=summary(inspection),
            elevation=elevation_svg(history, found, pinned),
            assumed=assumed_of(history, found),
            fails=[row for row in rows if row.finding.outcome == "fails"],
            undecided=[row for row in rows if row.finding.outcome == "undecided"],
            conforming=conforming,
            beside=beside,
            not_measured=not_measured_words(found),
            count=inspection.count,
            next_words=next_words(inspection.next_readings, words_of(facts))[:_SHOWN_NEXT],
            looks=looks,
            pictures_of=lambda finding: _pictures_of(finding, pictures),
            other_pictures=[
                each for each in pictures if not any(each in _pictures_of(look, pictures) for look in looks)
            ],
            prices=[_price(each) for each in history.acquisitions],
            editions=_editions(inspection),
            instruments=[_instrument(figures, history.system) for figures in _instruments(inspection)],
            gauges=_gauges(inspection),
            sources=_sources(inspection, facts),
            conditions=list(inspection.conditions),
            unjudged=list(dict.fromkeys(value.what for value in inspection.unjudged)),
            rubric=inspection.rubric,
            rules=inspection.rules,
            why=_why(inspection, exaggerate),
            era=_era(inspection),
            marks=MARKS,
            version=version,
            digest=digest,
            prototype=history.prototype,
        )
    )


def _era(inspection: Inspection) -> dict[str, Any]:
    """What the car portrays and when, its evidence and its dimensions; empty where the sheet says nothing of it."""
    if inspection.portrayal is None and inspection.fidelity is None:
        return dict.fromkeys(("prototype", "model", "evidence", "fidelity"))
    from carwright.publish.era_page import era_page  # noqa: PLC0415 - only where there is evidence

    return era_page(inspection)


def _why(inspection: Inspection, exaggerate: float | None) -> dict[str, Any]:
    """Causes, plans, what was measured beside, and what would flip the verdict."""
    system, explanation = inspection.history.system, inspection.explanation
    offered = inspection.plans.offered
    couplers = []
    for coupler in explanation.couplers:
        lines = share_lines(coupler, system)
        told = [line for line in lines if line.hatched]
        couplers.append(
            {"heading": coupler_heading(coupler, system), "bars": shares_svg(coupler, lines, system), "told": told}
        )
    deformation = deformation_of(inspection, offered[0] if offered else None, exaggerate)
    return {
        "couplers": couplers,
        "reason": explanation.reason if "needs" in explanation.reason else "",
        "disagreements": explanation.disagreements,
        "executions": execution_lines(explanation, system),
        "notes": explanation.notes,
        "deformed": deformed_svg(deformation, system, inspection.history.title) if deformation is not None else "",
        "after": deformation is not None and deformation.after is not None,
        "bench": list(bench_lines(inspection.bench, system)),
        "plans": [
            {
                "heading": plan_heading(number, plan),
                "plan": plan,
                "cautions": list(dict.fromkeys(line for step in plan.steps for line in step.cautions)),
                "predicted": [predicted_words(each, system) for each in plan.predicted],
            }
            for number, plan in enumerate(offered[:_TOLD_PLANS], 1)
        ],
        "table": plan_table(offered[:_SHOWN_PLANS], system) if offered else [],
        "more": max(0, len(offered) - _TOLD_PLANS),
        "no_plan": inspection.plans.reason,
        "flips": flip_lines(inspection) if inspection.verdict.deductions else [],
    }


def _row(number: int, finding: Finding, inspection: Inspection) -> Row:
    system = inspection.history.system
    shares = [f"{label} {share:.0%}" for label, _, share in finding.budget if share >= 0.005]  # noqa: PLR2004
    return Row(
        number=number,
        mark=MARKS[finding.outcome],
        finding=finding,
        value=value_words(finding, system),
        limits=limit_words(finding, system),
        p=probability_words(finding.p_conform),
        rule=rule_words(finding, inspection.rubric.charges),
        bar=bar_svg(finding),
        budget=", ".join(shares),
    )


def summary(inspection: Inspection) -> list[str]:
    """Three sentences: what was found, what may be done with the car, and what it keeps."""
    verdict = inspection.verdict
    charged, _ = split(inspection)
    names = list(dict.fromkeys(each.subject for each in charged if each.outcome == "fails"))
    shown = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")  # noqa: PLR2004
    fails = f"{len(names)} {'thing fails' if len(names) == 1 else 'things fail'}: {shown}" if names else "Nothing fails"
    undecided = sum(each.outcome == "undecided" for each in charged)
    good = sum(each.outcome == "conforms" for each in charged)
    first = f"{fails}; {undecided} undecided, {inspection.count('not measured')} not measured, {good} conform."
    second = f"The car is {verdict.status}"
    stage = inspection.history.stages[verdict.status_stage].title
    second += f" ({stage})." if verdict.status_stage else "."
    third = f"It keeps {points_words(verdict)}."
    return [first, second, third]


def _pictures_of(finding: Finding, pictures: Sequence[Picture]) -> list[Picture]:
    """Photos that say they show this thing: its name, or its name and place."""
    names = {finding.title.casefold(), f"{finding.title} {finding.at}".casefold(), finding.subject.casefold()}
    return [each for each in pictures if each.photo.shows.casefold() in names]


def _price(acquisition: Acquisition) -> dict[str, str]:
    money = {"paid": acquisition.paid, "list price": acquisition.list_price}
    words = {name: f"{value:.2f} {acquisition.currency}" for name, value in money.items() if value is not None}
    facts = {
        "from": acquisition.source,
        "condition stated": acquisition.condition,
        "return by": acquisition.return_by,
        "on": acquisition.when,
    }
    return words | {name: text for name, text in facts.items() if text}


def _editions(inspection: Inspection) -> list[dict[str, str]]:
    """What superseded editions say of what was read, beside the ones in force."""
    system = inspection.history.system
    current = {
        (each.characteristic, each.at): each
        for each in inspection.findings
        if each.force not in {"derived", "practice"}
    }
    rows = []
    for old in inspection.older:
        now = current.get((old.characteristic, old.at))
        if old.outcome == "not measured" or now is None:
            continue
        rows.append(
            {
                "subject": old.subject,
                "value": value_words(old, system),
                "old": "/".join(old.clause.split("/")[:2]),
                "old_limits": limit_words(old, system),
                "old_outcome": f"{MARKS[old.outcome]} {old.outcome}",
                "new": "/".join(now.clause.split("/")[:2]),
                "new_limits": limit_words(now, system),
                "new_outcome": f"{MARKS[now.outcome]} {now.outcome}",
            }
        )
    return rows


def _instruments(inspection: Inspection) -> list[tuple[Figures, Kind]]:
    """Instruments used, each with the kind of quantity it read."""
    seen: dict[tuple[str, Kind], tuple[Figures, Kind]] = {}
    for reading in inspection.history.readings:
        kind = reading.values[0].kind
        seen.setdefault((reading.figures.name, kind), (reading.figures, kind))
    return [seen[key] for key in sorted(seen)]


def _gauges(inspection: Inspection) -> list[str]:
    """Gauges used, with what each accepts."""
    system = inspection.history.system
    found = set()
    for check in inspection.history.gauges:
        kind = words_of(shipped()).characteristics[check.what].kind
        if check.limits is None or kind is None:
            continue
        limits = check.limits
        low = "" if math.isinf(limits.lower) else f"{say(limits.lower, kind, system, unit=False)} to "
        edition = f"; {limits.edition}" if limits.edition else ""
        found.add(f"{limits.name}: accepts {low or 'up to '}{say(limits.upper, kind, system)}{edition}")
    return sorted(found)


def _instrument(used: tuple[Figures, Kind], system: System) -> dict[str, str]:
    figures, kind = used
    unit = shown_unit(kind, system)

    def words(value: float) -> str:
        return f"{outside(value, kind, unit):.3g} {unit}"

    return {
        "name": figures.name,
        "resolution": words(figures.resolution),
        "calibration": words(figures.calibration),
        "repeatability": words(figures.repeatability),
        "dof": f"{figures.dof:.0f}",
        "basis": figures.basis,
    }


def _sources(inspection: Inspection, tables: Tables) -> list[Mapping[str, str]]:
    """Every source behind a finding, with what it is and how it was seen."""
    seen: dict[str, dict[str, str]] = {}
    for finding in (*inspection.findings, *inspection.older):
        for _, source in finding.sources:
            row = tables.bibliography.get(source.key, {})
            key = f"{source.key}, {source.edition}, {source.status}, {source.confidence}"
            seen.setdefault(
                key,
                {
                    "title": str(row.get("title", source.key)),
                    "body": str(row.get("body", "")),
                    "edition": source.edition,
                    "status": source.status,
                    "confidence": source.confidence,
                    "url": str(row.get("url", "")),
                },
            )
    return [seen[key] for key in sorted(seen)]
