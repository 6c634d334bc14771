"""``carwright changes``: what changed since a car was last looked at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from carwright import __version__, inspect, read_sheet
from carwright.cli.published import Formats, write_all
from carwright.cli.published import paper as papers
from carwright.cli.published import theme as themes

if TYPE_CHECKING:
    from carwright.publish.report.printed import Paper


@click.command("changes")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option(
    "--since", metavar="received|N", help="An earlier stage of SHEET; received where --from is not given either."
)
@click.option("--from", "older", type=click.Path(path_type=Path), help="An older sheet of the same car.")
@click.option("--stage", default="last", show_default=True, metavar="received|last|N", help="The later stage of SHEET.")
@click.option("--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder the report is put in.")
@click.option("--format", "formats", type=Formats(("html", "pdf")), default="html", show_default=True)
@papers
@themes
def command(
    sheet: Path,
    *,
    since: str | None,
    older: Path | None,
    stage: str,
    folder: Path,
    formats: tuple[str, ...],
    paper: Paper,
    theme: Path | None,
) -> None:
    """Re-inspection: what went wrong, came right or moved in SHEET's car, and how sure that is."""
    from carwright.publish.again import reinspection_of  # noqa: PLC0415 - what publishes is loaded only here
    from carwright.publish.report.files import report_files  # noqa: PLC0415
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    if since is not None and older is not None:
        message = "either --since a stage of this sheet, or --from another sheet"
        raise click.UsageError(message)
    look = load_theme(str(theme) if theme is not None else "")
    read = read_sheet(sheet)
    after = inspect(read, stage=stage)
    before = inspect(read_sheet(older)) if older is not None else inspect(read, stage=since or "received")
    if older is None and before.stage >= after.stage:
        message = f"stage {before.stage} is not before stage {after.stage}: nothing can have changed since"
        raise click.UsageError(message)
    report = reinspection_of(before, after, version=__version__)
    for path in write_all(folder, report_files(report, f"{sheet.stem}-changes", formats, look, paper)):
        click.echo(path)
