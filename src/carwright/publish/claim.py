"""A claim: a paper to go with a faulty car back to who sold it, with what was found as received against its limits."""

from __future__ import annotations

from carwright.errors import NothingToPublishError
from carwright.history import Acquisition
from carwright.inspection import Inspection
from carwright.judge import Finding
from carwright.publish.charts.limits import limits_scene
from carwright.publish.drawing.elevation import elevation
from carwright.publish.photos import picture_of
from carwright.publish.report.content import (
    Block,
    Cell,
    Column,
    Facts,
    Figure,
    Front,
    Item,
    Items,
    Paragraph,
    Photograph,
    Report,
    Section,
    Table,
)
from carwright.publish.report.method import NOT_STATED, measuring_days, readers
from carwright.publish.wording import limit_words, probability_words, upper_first, value_words
from carwright.units import System, outside, say, shown_unit

_COLUMNS = (
    Column("No.", share=0.4, label="No."),
    Column("What is wrong", share=3.4, label="Wrong"),
    Column("Found", numbers=True, share=1.6, label="Found"),
    Column("Allowed", numbers=True, share=1.6, label="Allowed"),
    Column("Against limits", share=1.4),
    Column("Requirement", share=1.8, label="By"),
)


class ClaimError(NothingToPublishError):
    """There is nothing to claim."""

    def __init__(self, title: str) -> None:
        self.title = title
        super().__init__(
            f"{title[:60]!r}: as received nothing fails that a requirement forbids, so there is no claim to make"
        )


def claim_of(inspection: Inspection, *, version: str, digest: str = "") -> Report:
    """The claim, in plain words.

    Parameters
    ----------
    inspection : Inspection
        Its findings as received are claimed; what is undecided is not.
    version : str
        The program's.
    digest : str
        Of the sheet.

    Raises
    ------
    ClaimError
        Where nothing fails as received.
    """
    history = inspection.history
    counted = [each for each in inspection.received if _counts(each, inspection)]
    faults = [each for each in counted if each.outcome == "fails"]
    if not faults:
        raise ClaimError(history.title)
    bought = history.acquisitions[-1] if history.acquisitions else None
    sections = [
        Section("What is wrong", tuple(_faults(faults, inspection))),
        Section("What is asked", tuple(_asked(bought))),
        *_pictures(inspection),
        Section("How it was measured", tuple(_measured(inspection, counted))),
    ]
    numbered = list(enumerate(faults, 1))
    figure = Figure(
        (elevation(history, inspection.received, numbered),), "Where each fault is; numbers lead to the table."
    )
    many = f"{len(faults)} {'fault' if len(faults) == 1 else 'faults'}"
    summary = [
        f"This car, as it came out of its box, has {many} against published requirements or by plain sight.",
        _worst(faults, history.system),
        f"It is to be returned by {bought.return_by}."
        if bought is not None and bought.return_by
        else "No date of return is stated.",
    ]
    front = Front("Claim about a car bought", history.title, _purchase(bought, inspection), (), tuple(summary), figure)
    mark = f"carwright {version}{f'; sheet {digest}' if digest else ''}"
    law = "It is no legal advice: your terms of sale and the law where you live decide."
    foot = (f"{mark}. This paper states measurements. {law}",)
    return Report(front, tuple(sections), foot, f"Claim, {history.title}")


def _counts(finding: Finding, inspection: Inspection) -> bool:
    """Whether a finding may be claimed: a requirement that counts, and something seen before any work."""
    if finding.force not in inspection.rubric.charges or finding.rule_set == "dated":
        return False
    early = {each.entry for each in inspection.history.log if each.stage == 0}
    return not finding.grade or bool(early & set(finding.entries))


def _purchase(bought: Acquisition | None, inspection: Inspection) -> str:
    history = inspection.history
    facts = [f"{history.scale.name}", *([history.type] if history.type else [])]
    if bought is not None:
        if bought.paid is not None:
            facts.append(f"paid {bought.paid:.2f} {bought.currency}")
        facts += [f"{name} {text}" for name, text in (("from", bought.source), ("on", bought.when)) if text]
        if bought.condition:
            facts.append(f"sold as {bought.condition}")
    return ", ".join(facts)


def _worst(faults: list[Finding], system: System) -> str:
    measured = [each for each in faults if each.kind is not None and each.value is not None]
    if not measured:
        tried = [each for each in faults if not each.grade]
        return f"The plainest: {plain_fault(tried[0], system)}." if tried else "They can be seen without measuring."
    worst = max(measured, key=lambda each: each.excess / each.u if each.u else 0.0)
    return f"The plainest measured one: {plain_fault(worst, system)}."


def plain_fault(finding: Finding, system: System) -> str:
    """A fault as one would say it: ``coupler height at A is 0.4115 in, 0.0105 in more than the 0.401 in allowed``."""
    if finding.grade:
        return f"{finding.subject} is {finding.grade}"
    if finding.value is None or finding.kind is None:
        return f"{finding.subject} does not {'pass its gauge' if finding.kind is not None else 'work as it should'}"
    found = _bare(finding.value, finding, system)
    side = finding.upper if finding.upper is not None and finding.value > finding.upper else finding.lower
    if side is None or not finding.excess:
        return f"{finding.subject} is {found}"
    word = "more" if side == finding.upper else "less"
    by, allowed = _bare(finding.excess, finding, system), say(side, finding.kind, system)
    return f"{finding.subject} is {found}, {by} {word} than the {allowed} allowed"


def _bare(value: float, finding: Finding, system: System) -> str:
    """A quantity with the digits its finding's uncertainty allows, or as many as it takes not to be nothing."""
    if finding.kind is None:
        return f"{value:g}"
    unit = shown_unit(finding.kind, system)
    number = say(value, finding.kind, system, finding.half_width, unit=False).split(" ±")[0].removesuffix(f" {unit}")
    if not any(digit in number for digit in "123456789"):
        number = f"{outside(value, finding.kind, unit):.2g}"
    return f"{number} {unit}"


def _faults(faults: list[Finding], inspection: Inspection) -> list[Block]:
    system = inspection.history.system
    rows = []
    for number, finding in enumerate(faults, 1):
        said = f"{upper_first(plain_fault(finding, system))}."
        p = probability_words(finding.p_conform)
        small = [finding.reason] if finding.reason else []
        small += [f"chance that it is within its limits all the same: {p}"] if p else []
        source = finding.sources[0][1].sentence() if finding.sources else finding.clause
        rows.append(
            (
                Cell(str(number)),
                Cell(said, tuple(small)),
                Cell(value_words(finding, system)),
                Cell(limit_words(finding, system)),
                Cell(scene=limits_scene(finding, system)),
                Cell(source),
            )
        )
    anchors = tuple(f"f{number}" for number in range(1, len(faults) + 1))
    table = Table("As received", _COLUMNS, tuple(rows), "findings", anchors, head=1)
    stages = inspection.history.stages
    done = [stage.title.removeprefix("after ") for stage in stages[1:]]
    after = (
        f"Since then this was done to the car: {', '.join(done)}. The faults above were measured before it."
        if done
        else ("Nothing has been done to the car.")
    )
    return [table, Paragraph(after)]


def _asked(bought: Acquisition | None) -> list[Block]:
    ways = (
        "that the car be put right, or",
        "that it be exchanged for one without these faults, or",
        "that the price be paid back",
    )
    blocks: list[Block] = [
        Paragraph("One of these, as your terms and the law provide:"),
        Items(tuple(Item(way) for way in ways)),
    ]
    if bought is not None:
        money = {"Paid": bought.paid, "List price": bought.list_price}
        pairs = [(name, f"{value:.2f} {bought.currency}") for name, value in money.items() if value is not None]
        facts = (
            ("Bought from", bought.source),
            ("On", bought.when),
            ("Sold as", bought.condition),
            ("Return by", bought.return_by),
        )
        blocks.append(Facts((*pairs, *((name, text or NOT_STATED) for name, text in facts))))
    else:
        blocks.append(
            Paragraph("The sheet does not say where the car was bought: add an entry of kind acquisition.", "note")
        )
    return blocks


def _pictures(inspection: Inspection) -> list[Section]:
    history = inspection.history
    taken = [photo for photo in history.photos if photo.stage == 0]
    if not taken:
        return []
    shown = [Photograph(picture_of(photo, history.folder)) for photo in taken]
    undated = [photo.file for photo in taken if not photo.when]
    note = (Paragraph(f"Without a date in the sheet: {', '.join(undated)}.", "note"),) if undated else ()
    return [Section("Photographs as received", (*shown, *note))]


def _measured(inspection: Inspection, counted: list[Finding]) -> list[Block]:
    history = inspection.history
    used = dict.fromkeys(name for each in counted if each.outcome == "fails" for name in each.instruments)
    people = readers([each for each in history.log if each.stage == 0])
    dates = measuring_days([each for each in history.log if each.stage == 0])
    undecided = list(dict.fromkeys(each.subject for each in counted if each.outcome == "undecided"))
    pairs = (
        ("Measured by", history.reported.by or ", ".join(people) or NOT_STATED),
        ("On", f"{dates[0]} to {dates[-1]}" if dates and dates[0] != dates[-1] else next(iter(dates), NOT_STATED)),
        ("With", ", ".join(used) or NOT_STATED),
        ("Rule", f"fails where the chance to conform is {inspection.rubric.thresholds.fail:g} or less (JCGM 106:2012)"),
        (
            "Not claimed",
            f"too near a limit to decide: {', '.join(undecided)}" if undecided else "nothing was too near a limit",
        ),
    )
    return [Facts(pairs), Paragraph("Figures after ± hold the value with probability 0.95.", "key")]
