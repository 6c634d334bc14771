"""An inspection on a terminal: rich where it is one, plain text elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence

import click

from carwright.inspection import Inspection, words_of
from carwright.judge import Finding
from carwright.publish.why import bench_lines, coupler_heading, execution_lines, share_lines
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
from carwright.tables import shipped
from carwright.units import System

HEADS = ("", "what", "found", "limits", "p conforms", "rule")
_SHOWN_NEXT = 5


def show_inspection(inspection: Inspection, *, everything: bool = False, editions: bool = False) -> None:
    """Print faults, then what is undecided, then one line that counts what was not measured."""
    history, verdict = inspection.history, inspection.verdict
    stage = history.stages[inspection.stage]
    click.echo(f"{history.title}: {history.scale.name} 1:{history.scale.ratio:g}, {stage.title}")
    click.echo(f"{verdict.status}; {points_words(verdict)}")
    for reason in verdict.status_reasons:
        click.echo(f"  {reason}")
    charged, informing = split(inspection)
    for outcome, head in (("fails", "Fails"), ("undecided", "Undecided"), ("conforms", "Conforms")):
        found = [finding for finding in charged if finding.outcome == outcome]
        if found and (outcome != "conforms" or everything):
            _table(f"{head}: {len(found)}", found, inspection)
    beside = [finding for finding in informing if finding.outcome in {"fails", "undecided"} or everything]
    if beside:
        _table(f"Clauses that only inform: {len(beside)}", beside, inspection)
    _not_measured(inspection, everything=everything)
    if not everything and inspection.count("conforms"):
        click.echo(f"{MARKS['conforms']} {inspection.count('conforms')} conform (--all shows them)")
    _causes(inspection)
    _era(inspection)
    _bench(inspection)
    _next(inspection)
    _points_lost(inspection)
    if editions:
        _editions(inspection)
    if inspection.unjudged:
        names = ", ".join(dict.fromkeys(value.what for value in inspection.unjudged))
        click.echo(f"Measured, but no clause of {inspection.rules.title} applies to it: {names}")
        for line in inspection.conditions:
            click.echo(f"  {line}")
    if history.kept:
        kept = ", ".join(f"{count} {kind}" for kind, count in history.kept.items())
        click.echo(f"Kept, not judged: {kept}")


def _row(finding: Finding, system: System, charges: Iterable[str]) -> tuple[str, ...]:
    return (
        MARKS[finding.outcome],
        finding.subject,
        value_words(finding, system),
        limit_words(finding, system),
        probability_words(finding.p_conform),
        rule_words(finding, charges),
    )


def _table(head: str, findings: Sequence[Finding], inspection: Inspection) -> None:
    rows = [_row(finding, inspection.history.system, inspection.rubric.charges) for finding in findings]
    notes = ["; ".join(filter(None, (finding.reason, *finding.notes))) for finding in findings]
    if sys.stdout.isatty():
        _rich_table(head, rows, notes)
        return
    widths = [max(len(row[column]) for row in (HEADS, *rows)) for column in range(len(HEADS))]
    click.echo(f"\n{head}")
    for row, note in zip(rows, notes, strict=True):
        click.echo("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
        if note:
            click.echo(f"     {note}")


def _rich_table(head: str, rows: Sequence[tuple[str, ...]], notes: Sequence[str]) -> None:
    from rich.console import Console  # noqa: PLC0415 - only a terminal needs it
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    table = Table(title=head, title_justify="left", title_style="bold", box=None, pad_edge=False)
    for column, name in enumerate(HEADS):
        table.add_column(name, justify="right" if column in {2, 3, 4} else "left", overflow="fold")
    for row, note in zip(rows, notes, strict=True):
        first, subject, *rest = (Text(cell) for cell in row)
        if note:
            subject.append(f"\n{note}", style="dim")
        table.add_row(first, subject, *rest)
    click.echo()
    Console().print(table)


def _not_measured(inspection: Inspection, *, everything: bool) -> None:
    found = [finding for finding in inspection.findings if finding.outcome == "not measured"]
    if not found:
        return
    if everything:
        _table(f"Not measured: {len(found)}", found, inspection)
        return
    click.echo(f"\n{MARKS['not measured']} {len(found)} not measured: {'; '.join(not_measured_words(found))}")


_WIDTH = 18
"""Characters of the widest bar of a share."""


def _causes(inspection: Inspection) -> None:
    """Shares of each coupler's error: solid bars where measured, light ones where assumed."""
    explanation, system = inspection.explanation, inspection.history.system
    if not explanation.couplers:
        if inspection.history.readings and "needs" in explanation.reason:
            click.echo(f"\nCauses of the coupler heights: {explanation.reason}")
        return
    click.echo("\nCauses (█ measured, ░ assumed)")
    for coupler in explanation.couplers:
        click.echo(f"  {coupler_heading(coupler, system)}")
        lines = share_lines(coupler, system)
        most = max((abs(line.value) for line in lines), default=0.0) or 1.0
        for line in lines:
            bar = ("░" if line.hatched else "█") * max(1, round(_WIDTH * abs(line.value) / most))
            told = f"read {line.reading}" if line.reading else line.note
            words = "; ".join(filter(None, (line.basis, told)))
            click.echo(f"    {line.name:<20} {line.amount:<20} {bar:<{_WIDTH}} {words}".rstrip())
    for words in (*explanation.disagreements, *execution_lines(explanation, system)):
        click.echo(f"  {words}")


def _era(inspection: Inspection) -> None:
    """When the model can be right, and its dimensions; the evidence in full is for ``carwright date``."""
    history, portrayal = inspection.history, inspection.portrayal
    if portrayal is None and inspection.fidelity is None:
        return
    from carwright.cli.show_era import show_fidelity, show_model_briefly  # noqa: PLC0415 - only where there is evidence

    if portrayal is not None:
        show_model_briefly(portrayal, inspection.stage, history.scale.ratio, history.system)
    if inspection.fidelity is not None:
        show_fidelity(inspection.fidelity, history.system)


def _bench(inspection: Inspection) -> None:
    lines = list(bench_lines(inspection.bench, inspection.history.system))
    if lines:
        click.echo("\nMeasured, judged by no clause")
    for line in lines:
        click.echo(f"  {line}")


def _next(inspection: Inspection) -> None:
    if not inspection.next_readings:
        return
    click.echo("\nMeasure next")
    lines = next_words(inspection.next_readings, words_of(shipped()))
    for number, line in enumerate(lines[:_SHOWN_NEXT], 1):
        click.echo(f"  {number}. {line}")
    if len(lines) > _SHOWN_NEXT:
        click.echo(f"  and {len(lines) - _SHOWN_NEXT} more (the report and --json list them)")


def _points_lost(inspection: Inspection) -> None:
    lost = [deduction for deduction in inspection.verdict.deductions if deduction.points > 0]
    if lost:
        click.echo("\nPoints lost, as received")
    for deduction in lost:
        mark = " provisional" if deduction.provisional else ""
        settled = f", settled by {deduction.settled_by}" if deduction.settled_by else ""
        click.echo(f"  {deduction.points:4.1f}{mark}  {deduction.title} ({deduction.category}){settled}")
    if len(inspection.verdict.if_only) > 1:
        best = inspection.verdict.if_only[0]
        click.echo(f"  if only {best.title} had been right: {best.points:g} points")
    for line in (*inspection.verdict.waived, *inspection.verdict.notes):
        click.echo(f"  {line}")


def _editions(inspection: Inspection) -> None:
    """Superseded editions beside the one in force: what passes the old sheet and fails the new."""
    read = [finding for finding in inspection.older if finding.outcome != "not measured"]
    if not read:
        click.echo("\nNo superseded edition is about anything read here.")
        return
    click.echo("\nBy superseded editions")
    current = {
        (finding.characteristic, finding.at): finding for finding in inspection.findings if finding.force != "derived"
    }
    for old in read:
        now = current.get((old.characteristic, old.at))
        beside = f"; {now.outcome} {'/'.join(now.clause.split('/')[:2])}" if now is not None else ""
        click.echo(
            f"  {old.subject}: {old.outcome} {'/'.join(old.clause.split('/')[:2])} "
            f"({limit_words(old, inspection.history.system)}){beside}"
        )
