"""How it was measured, what this paper is, its cautions and sources, and how to derive it again.

The list of what a report must hold is that of ISO/IEC 17025:2017, clause 7.8 (items a to p of 7.8.2.1, conditions and
uncertainty of 7.8.3.1, the decision rule of 7.8.6); what a sheet does not give is said to be not stated.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence

from carwright.history import Figures
from carwright.history.log import Happening
from carwright.inspection import Inspection, words_of
from carwright.publish.charts.composition import composition_scene
from carwright.publish.lettering import Lettering
from carwright.publish.report.content import (
    Block,
    Cell,
    Column,
    Facts,
    Figure,
    Item,
    Items,
    Paragraph,
    Piece,
    Section,
    Table,
)
from carwright.publish.report.judged import decision_rule
from carwright.publish.wording import split, upper_first
from carwright.tables import Tables
from carwright.units import Kind, System, outside, say, shown_unit

NOT_STATED = "not stated"
_SHARE = 0.005
"""Parts of an uncertainty below this are not told [-]."""
_BUDGETS = 4
"""Budgets drawn."""


def measured(inspection: Inspection, tables: Tables, letters: Lettering) -> Section:
    """Methods, instruments, gauges, and where the uncertainty comes from."""
    history = inspection.history
    blocks: list[Block] = []
    methods = _methods(inspection, tables)
    if methods is not None:
        blocks.append(methods)
    used = [_instrument(figures, history.system) for figures in _instruments(inspection)]
    if used:
        columns = (
            Column("Instrument", share=1.5),
            *(Column(title, numbers=True, label=title) for title in ("Resolution", "Calibration u", "Repeatability")),
            Column("Worth", numbers=True, share=1.4, label="Worth"),
            Column("Figures", label="Figures"),
        )
        blocks.append(Table("Instruments", columns, tuple(used)))
    gauges = _gauges(inspection, tables)
    if gauges:
        blocks.append(Paragraph(f"Gauges: {'; '.join(gauges)}."))
    blocks += _budgets(inspection, letters)
    unjudged = list(dict.fromkeys(value.what for value in inspection.unjudged))
    if unjudged:
        why = "".join(f" {line}." for line in inspection.conditions)
        blocks.append(Paragraph(f"Measured, but no chosen clause applies to it: {', '.join(unjudged)}.{why}"))
    if history.kept:
        kept = ", ".join(f"{number} {kind}" for kind, number in history.kept.items())
        blocks.append(Paragraph(f"Kept, not judged: {kept}."))
    blocks.append(
        Paragraph("Uncertainty by the GUM (JCGM 100:2008); intervals hold the value with probability 0.95.", "key")
    )
    return Section("How it was measured", tuple(blocks))


def _methods(inspection: Inspection, tables: Tables) -> Table | None:
    """Each thing read: how, with what, how often."""
    texts, words = tables.table("words/methods").rows, words_of(tables)
    readings: dict[str, dict[str, int]] = {}
    for reading in inspection.history.readings:
        own = readings.setdefault(reading.what, {})
        own[reading.figures.name] = own.get(reading.figures.name, 0) + len(reading.values)
    for check in inspection.history.gauges:
        own = readings.setdefault(check.what, {})
        name = check.limits.name if check.limits is not None else "by eye"
        own[name] = own.get(name, 0) + 1
    rows = [
        (
            Cell(words.characteristics[what].title),
            Cell(upper_first(texts[what].words["text"])),
            Cell(", ".join(f"{name} ({count})" for name, count in sorted(own.items()))),
        )
        for what, own in readings.items()
        if what in words.characteristics
    ]
    columns = (
        Column("What", share=1.2),
        Column("Method", share=3.2, label="Method"),
        Column("With (readings)", share=1.6, label="With"),
    )
    return Table("Methods (common practice)", columns, tuple(rows)) if rows else None


def _budgets(inspection: Inspection, letters: Lettering) -> list[Block]:
    charged, informing = split(inspection)
    told = [each for each in (*charged, *informing) if each.budget]
    if not told:
        return []
    lines = []
    for finding in told:
        shares = ", ".join(f"{label} {share:.0%}" for label, _, share in finding.budget if share >= _SHARE)
        lines.append(Item(f"{finding.subject} ({'/'.join(finding.clause.split('/')[:2])}): {shares}"))
    widest = sorted(told, key=lambda each: (each.outcome == "conforms", each.outcome != "undecided"))
    scenes = []
    drawn: set[str] = set()
    for finding in widest:
        if finding.subject in drawn or len(drawn) == _BUDGETS:
            continue
        drawn.add(finding.subject)
        parts = [(label, share, f"{share:.0%}") for label, _, share in finding.budget]
        scene = composition_scene(f"Variance of {finding.subject}", parts, letters)
        if scene is not None:
            scenes.append(scene)
    caption = "What the variance of a value is made of: first of what is undecided, then of what fails."
    figure = (Figure(tuple(scenes), caption, wide=False),) if scenes else ()
    return [Piece("Where the uncertainty comes from", (*figure, Items(tuple(lines), "small")))]


def _instruments(inspection: Inspection) -> list[tuple[Figures, Kind]]:
    """Instruments used, each with the kind of quantity it read."""
    seen: dict[tuple[str, Kind], tuple[Figures, Kind]] = {}
    for reading in inspection.history.readings:
        kind = reading.values[0].kind
        seen.setdefault((reading.figures.name, kind), (reading.figures, kind))
    return [seen[key] for key in sorted(seen)]


def _instrument(used: tuple[Figures, Kind], system: System) -> tuple[Cell, ...]:
    figures, kind = used
    unit = shown_unit(kind, system)
    sizes = (figures.resolution, figures.calibration, figures.repeatability)
    told = tuple(Cell(f"{outside(value, kind, unit):.3g} {unit}") for value in sizes)
    return (Cell(figures.name), *told, Cell(f"{figures.dof:.0f} degrees of freedom"), Cell(figures.basis))


def _gauges(inspection: Inspection, tables: Tables) -> list[str]:
    """Gauges used, with what each accepts."""
    system, found = inspection.history.system, set()
    for check in inspection.history.gauges:
        kind = words_of(tables).characteristics[check.what].kind
        if check.limits is None or kind is None:
            continue
        limits = check.limits
        low = "" if math.isinf(limits.lower) else f"{say(limits.lower, kind, system, unit=False)} to "
        edition = f"; {limits.edition}" if limits.edition else ""
        found.add(f"{limits.name}: accepts {low or 'up to '}{say(limits.upper, kind, system)}{edition}")
    return sorted(found)


def identity(inspection: Inspection, *, number: str) -> Section:
    """What this paper is: who, where, when, for whom, of what, by which rule."""
    history = inspection.history
    told, dates, people = history.reported, measuring_days(history.log), readers(history.log)
    received = next((each.when for each in history.acquisitions if each.when), "")
    span = f"{dates[0]} to {dates[-1]}" if len(dates) > 1 else next(iter(dates), "")
    last = max((day_of(each.when) for each in history.log if each.when), default="")
    stage = history.stages[inspection.stage].title
    known = ", ".join(
        part for part in (history.scale.name, history.type, f"id {history.id}" if history.id else "") if part
    )
    rows = (
        ("Title", f"Inspection of {history.title}"),
        ("Report number", number),
        ("Made by", told.by or ", ".join(people) or NOT_STATED),
        ("Where", told.place or NOT_STATED),
        ("For", told.customer or NOT_STATED),
        ("The item", f"{history.title} ({known}); {stage}"),
        ("Received", received or NOT_STATED),
        ("Measured", span or NOT_STATED),
        ("Issued", told.issued or last or NOT_STATED),
        ("Read by", ", ".join(people) or NOT_STATED),
        ("Sampling", "none: this one car, as it stood on the bench"),
        ("Conditions", "room; temperature and humidity not stated"),
        ("From others", _from_others(inspection)),
        ("Departures", _departures(inspection)),
        ("Conformity", f"to {inspection.rules.title}; {decision_rule(inspection).split('. ', 1)[1]}"),
        ("Opinions", "looks, causes, plans and the verdict are judgements; what each rests on stands beside it"),
    )
    said = (
        "These results are of this car alone, as it stood at the stage named. Copy the report whole, or say that it is "
        "a part."
    )
    return Section("About this report", (Facts(rows), Paragraph(said, "note")))


_READING = {"reading", "gauge", "profile", "look"}
"""Kinds of entries in which something is measured or judged by eye."""


def day_of(when: str) -> str:
    """The day of a moment as ISO 8601 writes it with strokes."""
    return dt.datetime.fromisoformat(when).date().isoformat()


def measuring_days(log: Sequence[Happening]) -> list[str]:
    """Days on which something was measured or judged by eye, each once, in order."""
    return sorted({day_of(each.when) for each in log if each.when and each.kind in _READING})


def readers(log: Sequence[Happening]) -> list[str]:
    """Who measured or judged by eye, each once."""
    return list(dict.fromkeys(each.who for each in log if each.who and each.kind in _READING))


def _from_others(inspection: Inspection) -> str:
    """What was measured elsewhere, and by whom."""
    history = inspection.history
    found = [each.source for each in history.priors] + [each.source for each in history.spreads]
    if not found:
        return "nothing measured elsewhere"
    sources = "; ".join(dict.fromkeys(found))
    return f"{len(found)} prior value{'s' if len(found) > 1 else ''}, from: {sources}"


def _departures(inspection: Inspection) -> str:
    assumed = sorted({each.figures.name for each in inspection.history.readings if each.figures.basis == "assumed"})
    parts = []
    if assumed:
        parts.append("where no instrument is named, the digits written speak for its resolution")
    unmeasured = inspection.count("not measured")
    if unmeasured:
        parts.append(f"{unmeasured} requirements not measured")
    return "; ".join(parts) or "none known"


def cautions(inspection: Inspection, tables: Tables) -> Section:
    """Every caution that goes with this car and what may be done to it."""
    lines = [line for plan in inspection.plans.offered for step in plan.steps for line in step.cautions]
    told = tuple(Item(line) for line in dict.fromkeys(lines))
    general = tables.table("words/cautions").rows["eyes"].words["text"]
    items = told or (Item(general),)
    after = "Cautions remind; local codes, the data sheets of what you use, and licensed practice go before them."
    return Section("Cautions", (Items(items, "cautions"), Paragraph(after, "key")))


def sources(inspection: Inspection, tables: Tables) -> Section:
    """Every source behind a finding, with what it is and how it was seen."""
    seen: dict[str, Item] = {}
    for finding in (*inspection.findings, *inspection.older):
        for _, source in finding.sources:
            row = tables.bibliography.get(source.key, {})
            key = f"{source.key}, {source.edition}, {source.status}, {source.confidence}"
            body = f" {row['body']}." if row.get("body") else ""
            title = f"{row.get('title', source.key)}, {source.edition}.{body}"
            seen.setdefault(key, Item(title, (f"{source.status}; {source.confidence}",)))
    key = (
        "Text: read in the document. Second-hand: quoted by others. Derived: computed, as said. Own: ours. A "
        "standard's figure quoted second-hand is shown as such; check the sheet before you rely on it."
    )
    return Section("Sources", (Items(tuple(seen[each] for each in sorted(seen)), "small"), Paragraph(key, "key")))


def again(inspection: Inspection, *, version: str, digest: str) -> Section:
    """How to derive every figure of this paper again."""
    rows = (
        ("Program", f"carwright {version}"),
        ("Sheet", digest or "given as text"),
        ("Rule sets", inspection.rules.title),
        ("Rubric", inspection.rubric.title),
        ("Command", "carwright report SHEET --out FOLDER"),
        ("Figures", "carwright inspect SHEET --json"),
        ("Sources", "carwright tables"),
    )
    said = (
        "The same sheet, tables and rubric give this report again, byte for byte; every limit and every source can be "
        "asked for by its name."
    )
    return Section("How to derive it again", (Facts(rows), Paragraph(said, "note")))


def beyond_fonts(signs: list[str]) -> Iterator[Section]:
    """Signs the fonts here cannot show, by their numbers, so that nothing is lost without a word."""
    if signs:
        numbers = ", ".join(f"U+{ord(sign):04X}" for sign in signs)
        said = (
            f"Shown as ▯, since no font of this theme has them: {numbers}. A theme with a font of your own shows them."
        )
        yield Section("Signs not shown", (Paragraph(said),))
