"""The shot list: bench order, what to show, what to say, and which card to lay over it."""

from __future__ import annotations

from carwright.history.log import Happening
from carwright.inspection import Inspection, words_of
from carwright.judge import Finding
from carwright.publish.lettering import lettering_of
from carwright.publish.report.content import Cell, Column, Front, Item, Items, Paragraph, Report, Section, Table
from carwright.publish.theme import Theme, load_theme
from carwright.publish.video.cards import cards_of
from carwright.publish.video.chapters import chapter_title, clock
from carwright.publish.video.frame import Card
from carwright.publish.wording import MARKS, limit_words, probability_words, split, upper_first, value_words
from carwright.tables import Tables, shipped
from carwright.units import System
from carwright.verdict import Deduction
from carwright.words import Vocabulary

_COLUMNS = (
    Column("Shot", share=1.5),
    Column("Show", share=2.2, label="Show"),
    Column("Say", share=3.2, label="Say"),
    Column("Card", share=1.7, label="Card"),
    Column("At", numbers=True, share=0.6, label="At"),
)


def shot_list(
    inspection: Inspection, tables: Tables | None = None, *, version: str, theme: Theme | None = None
) -> Report:
    """What to film, in the order things are done at the bench, with the facts to say.

    Parameters
    ----------
    inspection : Inspection
        What is told.
    tables : Tables, optional
        For methods and names.
    version : str
        The program's.
    theme : Theme, optional
        For the cards' names.

    Raises
    ------
    TextFitError
        Where a card has no room for its title.
    """
    facts, history = tables or shipped(), inspection.history
    words = words_of(facts)
    cards = cards_of(inspection, lettering_of(theme or load_theme()))
    by_stage: dict[int, list[tuple[Cell, ...]]] = {}
    seen: set[int] = set()
    count = 0
    for each in history.log:
        if each.entry in seen:
            continue
        alike = [other for other in history.log if _alike(each, other)]
        seen |= {other.entry for other in alike}
        count += 1
        row = _shot(count, each, alike, inspection, facts, words, cards)
        by_stage.setdefault(each.stage, []).append(row)
    sections = [
        Section(upper_first(history.stages[stage].title), (Table("In bench order", _COLUMNS, tuple(rows)),))
        for stage, rows in sorted(by_stage.items())
    ]
    laid = {name for rows in by_stage.values() for row in rows for name in row[3].text.split(", ")}
    sections.append(_ending(inspection, [card.name for card in cards if card.name not in laid]))
    verdict = inspection.verdict
    front = Front(
        kicker="Shot list",
        title=history.reported.short or history.title,
        facts=f"{', '.join(filter(None, (history.scale.name, history.type)))}; {count} shots and {len(cards)} cards",
        verdict=(),
        summary=(
            "Film in this order; say what stands under “Say”, in your own words.",
            f"It ends {verdict.status}, with {verdict.points:g} of {verdict.out_of:g} points.",
        ),
    )
    foot = (
        f"carwright {version}. Note the time of each shot as offset_s in the sheet, and the chapters make themselves.",
    )
    return Report(front, tuple(sections), foot, f"Shot list, {history.title}")


def _alike(one: Happening, other: Happening) -> bool:
    """Entries told in one shot: one thing read at one place in one stage, or at every axle in a row."""
    if one.kind != other.kind or one.stage != other.stage or one.kind not in {"reading", "gauge"}:
        return one.entry == other.entry
    axles = one.at[:1].isdigit() and other.at[:1].isdigit()
    return (one.what, one.name) == (other.what, other.name) and (one.at == other.at or axles)


def _shot(
    number: int,
    first: Happening,
    alike: list[Happening],
    inspection: Inspection,
    tables: Tables,
    words: Vocabulary,
    cards: list[Card],
) -> tuple[Cell, ...]:
    entries = {each.entry for each in alike}
    findings = [each for each in _pool(first.stage, inspection) if entries & set(each.entries)]
    places = list(dict.fromkeys(each.at for each in alike if each.at))
    where = f" ({', '.join(places)})" if places and first.kind in {"reading", "gauge"} else ""
    title = f"{number}. {chapter_title(first, words)}{where}"
    said = _say(first, findings, inspection)
    told = said.casefold()
    notes = tuple(dict.fromkeys(each.note for each in alike if each.note and each.note.casefold() not in told))
    named = [card.name for card in cards if entries & set(card.entries)]
    noted = [each.offset for each in alike if each.offset is not None]
    at = clock(min(noted)) if noted else ""
    return (Cell(title), Cell(_show(first, tables)), Cell(said, notes), Cell(", ".join(named)), Cell(at))


def _pool(stage: int, inspection: Inspection) -> list[Finding]:
    """Findings that may be told in a shot: of the car as received until the first work, else of the stage shown."""
    if stage:
        return split(inspection)[0]
    charges = inspection.rubric.charges
    return [each for each in inspection.received if each.force in charges and each.outcome != "not measured"]


def _show(each: Happening, tables: Tables) -> str:
    methods = tables.table("words/methods").rows
    match each.kind:
        case "reading" | "gauge" if each.what in methods:
            return upper_first(methods[each.what].words["text"])
        case "profile":
            return f"The {each.what} along the car, from end to end"
        case "look":
            return f"{upper_first(each.name or each.what)}{f' at {each.at}' if each.at else ''}, close by"
        case "work":
            return "The work in close-up, then the place afterwards"
        case "photo":
            return f"The photograph {each.what}"
        case "evidence":
            return upper_first(each.what)
        case "acquisition":
            return "The box and its label"
    return "The car on the bench"


def _say(each: Happening, findings: list[Finding], inspection: Inspection) -> str:
    system = inspection.history.system
    told = [_fact(finding, system) for finding in findings]
    if told:
        return "; ".join(dict.fromkeys(told))
    match each.kind:
        case "work":
            title = inspection.history.stages[each.stage].title.removeprefix("after ")
            return upper_first(title)
        case "ruling":
            ruling = next((r for r in inspection.history.rulings if r.entry == each.entry), None)
            if ruling is not None:
                what = (
                    f"{ruling.points:g} points of {ruling.category}" if ruling.category else f"waives {ruling.waives}"
                )
                return f"Ruling, {what}: {ruling.reason}"
        case "acquisition":
            bought = next((a for a in inspection.history.acquisitions if a.entry == each.entry), None)
            if bought is not None and bought.paid is not None:
                return (
                    f"Bought for {bought.paid:.2f} {bought.currency}{f' from {bought.source}' if bought.source else ''}"
                )
        case "reading" | "gauge":
            return "Read; no clause of the chosen rules judges it, or a later reading speaks for it"
    return upper_first(each.note or each.name or each.what or each.kind)


def _fact(finding: Finding, system: System) -> str:
    value, limits = value_words(finding, system), limit_words(finding, system)
    parts = [f"{finding.subject}: {value}" if value else finding.subject]
    if limits:
        parts.append(f"limits {limits}")
    p = probability_words(finding.p_conform)
    parts.append(f"{MARKS[finding.outcome]} {finding.outcome}{f' (P {p})' if p else ''}")
    return ", ".join(parts)


def _open(deduction: Deduction) -> str:
    return " (provisional)" if deduction.provisional else ""


def _ending(inspection: Inspection, cards: list[str]) -> Section:
    """What closes the film: each point with its chain, and the cards that go with no one shot."""
    rows = tuple(
        Item(f"{each.points:.1f} points, {each.title}{_open(each)}: {each.chain[-1]}")
        for each in inspection.verdict.deductions
    )
    blocks = [Paragraph(f"Cards that go with no one shot: {', '.join(cards)}.", "note")]
    if rows:
        return Section("Points and verdict", (Items(rows, "numbered"), *blocks))
    return Section("Points and verdict", tuple(blocks))
