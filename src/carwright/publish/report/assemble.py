"""From an inspection to the content of its report: the front, then every section that has something to say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from carwright.inspection import Inspection
from carwright.publish.drawing.elevation import elevation
from carwright.publish.drawing.shape import assumed_of
from carwright.publish.drawing.views import sheet_of_views
from carwright.publish.lettering import Lettering, lacking, lettering_of
from carwright.publish.photos import picture_of
from carwright.publish.report import judged, method, reasons
from carwright.publish.report.content import Figure, Front, Report, Section, all_texts
from carwright.publish.report.portrait import portrait
from carwright.publish.theme import Theme, load_theme
from carwright.publish.wording import points_words, split
from carwright.tables import Tables, shipped

_NAMED = 3
"""Things that fail named in the first sentence."""


def report_of(
    inspection: Inspection,
    tables: Tables | None = None,
    *,
    version: str,
    digest: str = "",
    exaggerate: float | None = None,
    theme: Theme | None = None,
) -> Report:
    """Everything the report says; nothing is computed here but words and drawings.

    Parameters
    ----------
    inspection : Inspection
        What to publish.
    tables : Tables, optional
        For titles of sources, methods and cautions.
    version : str
        The program's.
    digest : str
        Of the sheet, so that a reader can tell which one it was.
    exaggerate : float, optional
        How many times deformation is drawn larger; chosen so that it shows where omitted [-].
    theme : Theme, optional
        For the room its letters take; the shipped one where omitted.
    """
    facts, chosen = tables or shipped(), theme or load_theme()
    letters = lettering_of(chosen)
    history = inspection.history
    number = history.reported.number or (f"CW-{digest[:8].upper()}" if digest else method.NOT_STATED)
    sections = tuple(
        _sections(inspection, facts, letters, version=version, digest=digest, exaggerate=exaggerate, number=number)
    )
    foot = (
        (
            f"carwright {version}; rule sets {inspection.rules.title}; rubric {inspection.rubric.title}"
            f"{f'; sheet {digest}' if digest else ''}. End of the report."
        ),
    )
    mark = history.title if number == method.NOT_STATED else f"{number}, {history.title}"
    report = Report(_front(inspection), sections, foot, mark)
    lost = lacking(all_texts(report), chosen)
    return replace(report, sections=(*sections, *method.beyond_fonts(lost))) if lost else report


def _sections(
    inspection: Inspection,
    tables: Tables,
    letters: Lettering,
    *,
    version: str,
    digest: str,
    exaggerate: float | None,
    number: str,
) -> Iterator[Section]:
    history = inspection.history
    pictures = [picture_of(photo, history.folder) for photo in history.photos]
    yield judged.findings(inspection, judged.numbered_findings(inspection))
    yield from reasons.causes(inspection, exaggerate)
    yield from reasons.plans(inspection)
    yield from reasons.work_done(inspection)
    yield from reasons.measured_beside(inspection)
    yield from portrait(inspection, letters)
    yield from reasons.running(inspection)
    yield from judged.measure_next(inspection, tables)
    yield from judged.condition(inspection, pictures)
    yield judged.verdict(inspection, letters)
    yield from judged.editions(inspection)
    yield _drawings(inspection)
    yield method.measured(inspection, tables, letters)
    yield method.identity(inspection, number=number)
    yield method.cautions(inspection, tables)
    yield method.sources(inspection, tables)
    yield method.again(inspection, version=version, digest=digest)


def _drawings(inspection: Inspection) -> Section:
    history = inspection.history
    scene = sheet_of_views(history, inspection.findings)
    caption = (
        "Plan, side and end to one scale. Sizes are the sheet's where it gives them; details are those of an ordinary "
        "car of this kind."
    )
    return Section("Drawings", (Figure((scene,), caption),))


def _front(inspection: Inspection) -> Front:
    history, verdict = inspection.history, inspection.verdict
    stage = history.stages[inspection.stage]
    pinned = [(n, each) for n, each in judged.numbered_findings(inspection) if each.characteristic != "look.packing"]
    assumed = assumed_of(history, inspection.findings)
    drawn = f" Drawn from usual proportions, since the sheet does not give it: {', '.join(assumed)}." if assumed else ""
    caption = (
        "Side elevation to scale, A end on the right. A filled square fails, an outlined diamond is undecided; numbers "
        f"lead to the table. What names no place is pinned to the middle of the body.{drawn}"
    )
    facts = [f"{history.scale.name}, 1:{history.scale.ratio:g}", *([history.type] if history.type else [])]
    facts += [f"{key} {fact}" for key, fact in history.prototype.items()]
    return Front(
        kicker=f"Inspection of a scale railroad car{f', {stage.title}' if stage.number else ''}",
        title=history.title,
        facts=", ".join(facts),
        verdict=(
            ("Status", verdict.status, ""),
            ("As received", f"{verdict.points:g}", f"of {verdict.out_of:g} points"),
            ("In words", verdict.band, ""),
        ),
        summary=tuple(summary(inspection)),
        figure=Figure((elevation(history, inspection.findings, pinned),), caption),
    )


def summary(inspection: Inspection) -> list[str]:
    """Three sentences: what was found, what may be done with the car, and what it keeps."""
    verdict = inspection.verdict
    charged, _ = split(inspection)
    names = list(dict.fromkeys(each.subject for each in charged if each.outcome == "fails"))
    shown = "; ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
    fails = f"{len(names)} {'thing fails' if len(names) == 1 else 'things fail'}: {shown}" if names else "Nothing fails"
    undecided = sum(each.outcome == "undecided" for each in charged)
    good = sum(each.outcome == "conforms" for each in charged)
    first = f"{fails}; {undecided} undecided, {inspection.count('not measured')} not measured, {good} conform."
    second = f"The car is {verdict.status}"
    stage = inspection.history.stages[verdict.status_stage].title
    second += f" ({stage})." if verdict.status_stage else "."
    third = f"It keeps {points_words(verdict)}."
    return [first, second, third]
