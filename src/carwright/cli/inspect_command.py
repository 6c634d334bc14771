"""``carwright inspect``: the main job on one sheet."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from carwright import inspect, read_sheet
from carwright.cli.options import ascii_only


@click.command("inspect")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")
@click.option("--stage", default="last", show_default=True, metavar="received|last|N", help="Whose findings to show.")
@click.option("--rubric", type=click.Path(path_type=Path), help="A rubric of your own, before the sheet's.")
@click.option("--editions", is_flag=True, help="Judge by superseded editions too, side by side.")
@click.option("--all", "everything", is_flag=True, help="Show what conforms and what was not measured, line by line.")
@click.option("--strict", is_flag=True, help="Exit status 1 when anything that may cost points fails.")
def command(
    sheet: Path,
    *,
    as_json: bool,
    stage: str,
    rubric: Path | None,
    editions: bool,
    everything: bool,
    strict: bool,
) -> None:
    """Judge SHEET: every requirement with its probability, what is open, what to measure next, what it costs."""
    inspection = inspect(read_sheet(sheet), stage=stage, rubric=str(rubric.resolve()) if rubric else "")
    if as_json:
        from carwright.publish.document import as_json_text  # noqa: PLC0415 - loaded only when asked for

        click.echo(as_json_text(inspection, ascii_only=ascii_only()))
    else:
        from carwright.cli.show import show_inspection  # noqa: PLC0415

        show_inspection(inspection, everything=everything, editions=editions)
    counted = [each for each in inspection.findings if each.force in inspection.rubric.charges]
    if strict and any(each.outcome == "fails" for each in counted):
        sys.exit(1)
