"""``carwright plan``: what to do, in working order, and what it will bring."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from carwright import inspect, read_sheet
from carwright.cli.options import exaggerate
from carwright.explain.records import Plan
from carwright.inspection import Inspection
from carwright.units import System


@click.command("plan")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--close", "closed", multiple=True, metavar="REMEDY[@PLACE]", help="An option you lack; repeatable.")
@exaggerate
@click.option("--rubric", type=click.Path(path_type=Path), help="A rubric of your own, before the sheet's.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")
def command(
    sheet: Path, *, closed: tuple[str, ...], exaggerate: float | None, rubric: Path | None, as_json: bool
) -> None:
    """Offer plans for SHEET as it stands: those no other is better than in effort, cost, undoing and risk together."""
    inspection = inspect(read_sheet(sheet), rubric=str(rubric.resolve()) if rubric else "")
    plans = inspection.plan(closed)
    if as_json:
        from carwright.publish.explained import plans_document  # noqa: PLC0415 - loaded only when asked for

        click.echo(json.dumps(plans_document(plans), ensure_ascii=False, indent=1, allow_nan=False))
        return
    history = inspection.history
    click.echo(f"{history.title}: {history.stages[-1].title}")
    if plans.reason:
        click.echo(plans.reason)
    if plans.offered:
        click.echo(f"{len(plans.offered)} of {plans.tried:,} combinations: of these none is better than another in all")
        _side_by_side(plans.offered, history.system)
        _elevation(inspection, plans.offered[0], exaggerate)
    for number, plan in enumerate(plans.offered, 1):
        _show(number, plan, history.system)
    _unplanned(inspection)


def _side_by_side(offered: Sequence[Plan], system: System) -> None:
    from carwright.publish.why import plan_table  # noqa: PLC0415 - loaded only when asked for

    rows = plan_table(offered[:_ABREAST], system)
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    click.echo()
    for row in rows:
        click.echo("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


_ABREAST = 5
"""Plans that stand side by side."""


def _elevation(inspection: Inspection, plan: Plan, exaggerate: float | None) -> None:
    from carwright.publish.drawing.deformed import ascii_elevation  # noqa: PLC0415 - loaded only when asked for

    for line in ascii_elevation(inspection, plan, exaggerate):
        click.echo(line)


def _show(number: int, plan: Plan, system: System) -> None:
    from carwright.publish.why import plan_heading, predicted_words  # noqa: PLC0415 - loaded only when asked for

    click.echo(f"\n{plan_heading(number, plan)}")
    for index, step in enumerate(plan.steps, 1):
        click.echo(f"  {index}. {step.words}")
        for label, words in (("needs", step.needs), ("also", step.side)):
            if words:
                click.echo(f"     {label}: {words}")
    for line in dict.fromkeys(line for step in plan.steps for line in step.cautions):
        click.echo(f"  ! {line}")
    for each in plan.predicted:
        click.echo(f"  then {predicted_words(each, system)}")
    for label, lines in (("changes", plan.changes), ("leaves", plan.leaves)):
        for line in lines:
            click.echo(f"  {label}: {line}")


def _unplanned(inspection: Inspection) -> None:
    charges = inspection.rubric.charges
    open_ones = [each for each in inspection.last if each.outcome == "not measured" and each.force in charges]
    if open_ones:
        click.echo(f"\nNot in any plan: {len(open_ones)} requirements nobody measured (carwright inspect lists them)")
    click.echo("Cautions remind; local codes and licensed practice go before them.")
