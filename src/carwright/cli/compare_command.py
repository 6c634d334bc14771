"""``carwright compare``: two to six cars side by side."""

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


@click.command("compare")
@click.argument("sheets", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder the report is put in.")
@click.option("--format", "formats", type=Formats(("html", "pdf")), default="html", show_default=True)
@click.option("--name", default="comparison", show_default=True, help="Name of the file, without its ending.")
@papers
@themes
def command(
    sheets: tuple[Path, ...], folder: Path, formats: tuple[str, ...], name: str, paper: Paper, theme: Path | None
) -> None:
    """Lay two to six SHEETS side by side: drawings to one scale, verdicts, every measurement beside its like."""
    if Path(name).name != name or name in {"", ".", ".."}:
        message = f"--name is the name of a file, without folders: got {name!r}"
        raise click.UsageError(message)
    from carwright.publish.compare import comparison_of  # noqa: PLC0415 - what publishes is loaded only here
    from carwright.publish.report.files import report_files  # noqa: PLC0415
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    look = load_theme(str(theme) if theme is not None else "")
    report = comparison_of([inspect(read_sheet(sheet)) for sheet in sheets], version=__version__, theme=look)
    for path in write_all(folder, report_files(report, name, formats, look, paper)):
        click.echo(path)
