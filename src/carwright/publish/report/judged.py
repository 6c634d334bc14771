"""Findings, condition, what to measure next and the verdict, as sections of the report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from carwright.history import Acquisition
from carwright.inspection import Inspection, words_of
from carwright.judge import Finding
from carwright.publish.charts.waterfall import waterfall_scene
from carwright.publish.lettering import Lettering
from carwright.publish.photos import Picture
from carwright.publish.report.content import (
    Block,
    Cell,
    Column,
    Facts,
    Figure,
    Item,
    Items,
    Paragraph,
    Photograph,
    Piece,
    Section,
    Table,
)
from carwright.publish.report.tables import finding_table
from carwright.publish.why import flip_lines
from carwright.publish.wording import MARKS, limit_words, next_words, not_measured_words, split, value_words
from carwright.tables import Tables

_SHOWN_NEXT = 10
_IF_ONLY = 5
_DATED = "dated"
"""Rule set of what goes with the wanted year; its findings are told with their rules in a section of their own."""


def numbered_findings(inspection: Inspection) -> list[tuple[int, Finding]]:
    """What fails or is undecided and may cost points, with the number of its row and of its pin."""
    charged, _ = split(inspection)
    return list(enumerate([each for each in charged if each.outcome in {"fails", "undecided"}], 1))


def decision_rule(inspection: Inspection) -> str:
    """How a value becomes an outcome."""
    rubric = inspection.rubric
    return (
        "The interval holds the value with probability 0.95. A value conforms where the probability that it lies "
        f"within the limits is {rubric.thresholds.conform:g} or more, fails at {rubric.thresholds.fail:g} or less, and "
        "is undecided between (JCGM 106:2012). “Informs” marks a clause that never costs points."
    )


def findings(inspection: Inspection, numbered: Sequence[tuple[int, Finding]]) -> Section:
    """Every clause judged on a value."""
    charged, informing = split(inspection)
    blocks: list[Block] = []
    fails = [(number, each) for number, each in numbered if each.outcome == "fails"]
    undecided = [(number, each) for number, each in numbered if each.outcome == "undecided"]
    if fails:
        blocks.append(finding_table("Fails", fails, inspection))
    else:
        blocks.append(Paragraph("Nothing that was measured fails."))
    if undecided:
        blocks.append(finding_table("Undecided", undecided, inspection))
    missing = not_measured_words(inspection.findings)
    if missing:
        words = f"{inspection.count('not measured')} not measured: {'; '.join(missing)}."
        blocks.append(Paragraph(words, mark=MARKS["not measured"]))
    good = [(0, each) for each in charged if each.outcome == "conforms" and each.rule_set != _DATED]
    if good:
        blocks.append(finding_table("Conforms", good, inspection))
    beside = [(0, each) for each in informing if not each.grade and each.rule_set != _DATED]
    if beside:
        blocks.append(finding_table("Clauses that only inform", beside, inspection))
    dated = [
        each for each in (*charged, *informing) if each.rule_set == _DATED and each not in [f for _, f in numbered]
    ]
    if dated:
        names = "; ".join(dict.fromkeys(f"{MARKS[each.outcome]} {each.subject} {each.outcome}" for each in dated))
        blocks.append(Paragraph(f"By dated rules, told under Era: {names}."))
    blocks.append(Paragraph(decision_rule(inspection), "key"))
    return Section("Findings", tuple(blocks))


def measure_next(inspection: Inspection, tables: Tables) -> Iterator[Section]:
    """What would settle most for the least bench time."""
    lines = next_words(inspection.next_readings, words_of(tables))[:_SHOWN_NEXT]
    if lines:
        yield Section("Measure next", (Items(tuple(Item(line) for line in lines), "numbered"),))


def condition(inspection: Inspection, pictures: Sequence[Picture]) -> Iterator[Section]:
    """Looks with their photographs, then the other photographs."""
    looks = [each for each in inspection.findings if each.grade]
    shown = {id(picture) for look in looks for picture in pictures_of(look, pictures)}
    blocks: list[Block] = []
    for look in looks:
        under: list[Block] = [Paragraph(look.reason)]
        under += [Paragraph(note, "note") for note in look.notes]
        under += [Photograph(picture) for picture in pictures_of(look, pictures)]
        blocks.append(Piece(f"{MARKS[look.outcome]} {look.subject}: {look.grade}", tuple(under)))
    blocks += [Photograph(picture) for picture in pictures if id(picture) not in shown]
    if blocks:
        yield Section("Condition and detail", tuple(blocks))


def pictures_of(finding: Finding, pictures: Sequence[Picture]) -> list[Picture]:
    """Photos that say they show this thing: its name, or its name and place."""
    names = {finding.title.casefold(), f"{finding.title} {finding.at}".casefold(), finding.subject.casefold()}
    return [each for each in pictures if each.photo.shows.casefold() in names]


def verdict(inspection: Inspection, letters: Lettering) -> Section:
    """Points as received with the chain of every one, status, and the price beside them."""
    found = inspection.verdict
    blocks: list[Block] = [_points(inspection)]
    scene = waterfall_scene(found, letters)
    if scene is not None and found.deductions:
        caption = "Points, step by step. Solid: lost. Hatched: provisional, while what costs them is undecided."
        blocks.append(Figure((scene,), caption, wide=False))
    if found.status_reasons:
        blocks.append(Paragraph(f"Status: {found.status}.", "strong"))
        blocks.append(Items(tuple(Item(reason) for reason in found.status_reasons)))
    chains = []
    for each in found.deductions:
        tags = ("provisional",) * each.provisional + ((f"settled by {each.settled_by}",) if each.settled_by else ())
        steps = Items(tuple(Item(step) for step in each.chain), "numbered")
        chains.append(Piece(each.title, (steps,), "chain", f"{each.points:.1f}", tags))
    if chains:
        blocks += [Piece("How every point was lost", tuple(chains))]
    if len(found.if_only) > 1:
        lines = tuple(
            Item(f"{each.title}: {each.points:g} of {found.out_of:g} points") for each in found.if_only[:_IF_ONLY]
        )
        blocks.append(Piece("If only this had been right", (Items(lines),)))
    flips = sorted(flip_lines(inspection), key=lambda flip: flip.nearness) if found.deductions else []
    if flips:
        strips = tuple(
            Item(f"{flip.words}: {flip.effect}", strip=min(flip.nearness / (1 + flip.nearness), 1.0)) for flip in flips
        )
        key = (
            "Nearest first; the shorter the strip, the smaller the change that would do it. Priors are what is "
            "believed of the maker's parts before any reading."
        )
        blocks.append(Piece("What would change the verdict", (Items(strips, "strips"), Paragraph(key, "key"))))
    blocks += [Paragraph(line) for line in found.waived]
    blocks += [Paragraph(line, "note") for line in found.notes]
    prices = [_price(each) for each in inspection.history.acquisitions]
    if any(prices):
        beside = Paragraph("Beside the faults, for the reader to weigh. A price never changes points.", "note")
        blocks.append(Piece("Price", (*(Facts(tuple(price.items())) for price in prices if price), beside)))
    return Section("Verdict", tuple(blocks))


def _points(inspection: Inspection) -> Table:
    found = inspection.verdict
    columns = (
        Column("Category", share=2.0),
        *(Column(title, numbers=True, label=title.lower()) for title in ("Has", "Lost", "Keeps")),
    )
    rows: list[tuple[Cell, ...]] = []
    for each in found.categories:
        if each.examined:
            kept = each.points - each.lost
            rows.append((Cell(each.title), Cell(f"{each.points:g}"), Cell(f"{each.lost:.1f}"), Cell(f"{kept:.1f}")))
        else:
            rows.append((Cell(each.title), Cell(f"{each.points:g}"), Cell("not examined", span=2)))
    lost = found.out_of - found.points
    rows.append(
        (Cell("All that was examined"), Cell(f"{found.out_of:g}"), Cell(f"{lost:.1f}"), Cell(f"{found.points:.1f}"))
    )
    return Table("Points as received", columns, tuple(rows), total=True)


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


def editions(inspection: Inspection) -> Iterator[Section]:
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
        told = [_edition(each, inspection) for each in (old, now)]
        rows.append((Cell(old.subject), Cell(value_words(old, system)), *told))
    if rows:
        columns = (
            Column("What", share=1.3),
            Column("Found", numbers=True, label="Found"),
            Column("Old edition", share=1.8, label="Old"),
            Column("In force", share=1.8, label="In force"),
        )
        yield Section("Old sheets beside new", (Table("The same values by superseded editions", columns, tuple(rows)),))


def _edition(finding: Finding, inspection: Inspection) -> Cell:
    sheet = "/".join(finding.clause.split("/")[:2])
    limits = limit_words(finding, inspection.history.system)
    return Cell(f"{finding.outcome} {sheet} ({limits})", mark=MARKS[finding.outcome])
