"""``carwright report``: publish a sheet, on a page, in print and for video."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from carwright import Sheet, inspect, read_sheet
from carwright.cli.options import exaggerate as exaggerated
from carwright.cli.published import EVERY, Formats, write_all
from carwright.cli.published import paper as papers
from carwright.cli.published import theme as themes
from carwright.errors import NothingToPublishError
from carwright.publish.formats import FORMATS, Maker, digest_of

if TYPE_CHECKING:
    from carwright.publish.report.printed import Paper


@click.command("report")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder the report is put in.")
@click.option(
    "--format",
    "formats",
    type=Formats(FORMATS),
    default="html",
    show_default=True,
    help=f"One or more of {', '.join(FORMATS)}, with commas between, or all.",
)
@click.option("--stage", default="last", show_default=True, metavar="received|last|N", help="Whose findings to show.")
@papers
@click.option(
    "--size", type=click.Choice(["1080", "2160"]), default="1080", show_default=True, help="Lines of a card for video."
)
@themes
@exaggerated
@click.option("--rubric", type=click.Path(path_type=Path), help="A rubric of your own, before the sheet's.")
def command(
    sheet: Path,
    folder: Path,
    formats: tuple[str, ...],
    *,
    stage: str,
    paper: Paper,
    size: str,
    theme: Path | None,
    exaggerate: float | None,
    rubric: Path | None,
) -> None:
    """Publish SHEET.

    html is one self-contained page, pdf the same in print; drawings are SVG true to scale; overlays are transparent
    cards for video with a cover; chapters come from the times noted in the sheet; shots is what to film and say; claim
    goes back with a faulty car.
    """
    written = write_report(
        read_sheet(sheet),
        folder,
        sheet.stem,
        formats=formats,
        stage=stage,
        rubric=rubric,
        exaggerate=exaggerate,
        paper=paper,
        size=size,
        theme=theme,
    )
    for path in written:
        click.echo(path)


def write_report(  # noqa: PLR0913 - one for each option of the command
    sheet: Sheet,
    folder: Path,
    name: str,
    *,
    formats: tuple[str, ...] = ("html",),
    stage: str = "last",
    rubric: Path | None = None,
    exaggerate: float | None = None,
    paper: Paper = "a4",
    size: str = "1080",
    theme: Path | None = None,
) -> list[Path]:
    """Write what was asked for into a folder, all of it or nothing.

    Raises
    ------
    CarwrightError
        When the sheet's rules, rubric or theme cannot be used, a text does not fit its card, there is nothing to claim
        or no time is noted, or the folder cannot be written.
    """
    from carwright.publish.theme import load_theme  # noqa: PLC0415 - what publishes is loaded only here

    inspection = inspect(sheet, stage=stage, rubric=str(rubric.resolve()) if rubric else "")
    look = load_theme(str(theme) if theme is not None else "")
    maker = Maker(inspection, name, digest_of(sheet), look, paper, size, exaggerate)
    asked = [each for each in formats if each != EVERY]
    return write_all(folder, (file for each in asked for file in _made(maker, each, everything=EVERY in formats)))


def _made(maker: Maker, form: str, *, everything: bool) -> list[tuple[str, bytes]]:
    """Files of one format; where all are asked for, one that has nothing to say is left out, and said to be."""
    try:
        return list(maker.make(form))
    except NothingToPublishError as error:
        if not everything:
            raise
        click.echo(f"left out: {error}", err=True)
        return []
