"""``carwright report``: publish a sheet."""

from __future__ import annotations

import hashlib
from pathlib import Path

import click

from carwright import Sheet, __version__, inspect, read_sheet, write_sheet
from carwright.cli.files import write_whole
from carwright.cli.options import exaggerate


@click.command("report")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder the report is put in.")
@click.option("--format", "form", type=click.Choice(["html"]), default="html", show_default=True)
@click.option("--stage", default="last", show_default=True, metavar="received|last|N", help="Whose findings to show.")
@exaggerate
@click.option("--rubric", type=click.Path(path_type=Path), help="A rubric of your own, before the sheet's.")
def command(sheet: Path, folder: Path, form: str, stage: str, exaggerate: float | None, rubric: Path | None) -> None:
    """Publish SHEET as one self-contained page that prints well."""
    del form
    written = write_report(read_sheet(sheet), folder, sheet.stem, stage=stage, rubric=rubric, exaggerate=exaggerate)
    click.echo(written)


def write_report(
    sheet: Sheet,
    folder: Path,
    name: str,
    *,
    stage: str = "last",
    rubric: Path | None = None,
    exaggerate: float | None = None,
) -> Path:
    """Write ``<name>.html`` into a folder, whole or not at all.

    Raises
    ------
    CarwrightError
        When the sheet's rules or rubric cannot be used, or the folder cannot be written.
    """
    from carwright.publish.report import report_html  # noqa: PLC0415 - the template engine is loaded only here

    inspection = inspect(sheet, stage=stage, rubric=str(rubric.resolve()) if rubric else "")
    digest = hashlib.sha256(write_sheet(sheet).encode()).hexdigest()[:12]
    page = report_html(inspection, version=__version__, digest=digest, exaggerate=exaggerate)
    return write_whole(folder / f"{name}.html", page)
