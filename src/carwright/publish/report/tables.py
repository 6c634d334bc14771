"""Findings and changes as tables of the report."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.inspection import Inspection
from carwright.judge import Finding
from carwright.publish.changes import Change, fate_words
from carwright.publish.charts.limits import limits_scene
from carwright.publish.report.content import Cell, Column, Table
from carwright.publish.wording import MARKS, limit_words, probability_words, rule_words, value_words
from carwright.units import System

_FINDINGS = (
    Column("What", share=2.7),
    Column("Found, 95 %", numbers=True, share=1.7, label="Found"),
    Column("Limits", numbers=True, share=1.7, label="Limits"),
    Column("Against limits", share=1.35),
    Column("P conforms", numbers=True, share=0.85, label="P conforms"),
    Column("Rule", share=1.6, label="Rule"),
)
_PIN = Column("Pin", share=0.42, label="Pin")


def finding_table(caption: str, numbered: Sequence[tuple[int, Finding]], inspection: Inspection) -> Table:
    """Findings under one outcome; numbers other than 0 lead to their pins on the drawing."""
    pinned = any(number for number, _ in numbered)
    rows = []
    for number, finding in numbered:
        cells = _finding_cells(finding, caption, inspection)
        pin = Cell(pin=(number, "fails" if finding.outcome == "fails" else "open"))
        rows.append((pin, *cells) if pinned else cells)
    anchors = tuple(f"f{number}" for number, _ in numbered) if pinned else ()
    columns = (_PIN, *_FINDINGS) if pinned else _FINDINGS
    return Table(caption, columns, tuple(rows), "findings", anchors, head=1 if pinned else 0)


def _finding_cells(finding: Finding, caption: str, inspection: Inspection) -> tuple[Cell, ...]:
    system = inspection.history.system
    outcome = finding.outcome if finding.outcome.capitalize() != caption else ""
    reason = ": ".join(part for part in (outcome, finding.reason) if part)
    small = tuple(part for part in (reason, *finding.notes) if part)
    return (
        Cell(finding.subject, small, MARKS[finding.outcome]),
        Cell(value_words(finding, system)),
        Cell(limit_words(finding, system)),
        Cell(scene=limits_scene(finding, system)),
        Cell(probability_words(finding.p_conform)),
        Cell(rule_words(finding, inspection.rubric.charges)),
    )


def change_table(caption: str, changes: Sequence[Change], system: System, names: tuple[str, str]) -> Table:
    """Before and after, side by side."""
    columns = (
        Column("What", share=2.2),
        Column(names[0], share=1.9, label=names[0]),
        Column(names[1], share=1.9, label=names[1]),
        Column("Limits", numbers=True, share=1.6, label="Limits"),
        Column("What became of it", share=2.2, label="So"),
    )
    rows = [
        (
            Cell(change.finding.subject),
            _then(change.before, system),
            _then(change.after, system),
            Cell(limit_words(change.finding, system)),
            Cell(fate_words(change, system)),
        )
        for change in changes
    ]
    return Table(caption, columns, tuple(rows), "changes")


def _then(finding: Finding | None, system: System) -> Cell:
    if finding is None:
        return Cell("not judged")
    value = value_words(finding, system)
    return Cell(f"{value}, {finding.outcome}" if value else finding.outcome, mark=MARKS[finding.outcome])
