"""``carwright report``: publish a sheet, on a page, in print and for video."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from carwright import Inspection, Sheet, __version__, inspect, read_sheet
from carwright.cli.options import exaggerate as exaggerated
from carwright.cli.published import EVERY, LISTING, Formats, digest_of, write_all
from carwright.cli.published import paper as papers
from carwright.cli.published import theme as themes
from carwright.errors import NothingToPublishError

if TYPE_CHECKING:
    from carwright.publish.report.printed import Paper
    from carwright.publish.theme import Theme

FORMATS = ("html", "pdf", "drawings", "overlays", "chapters", "shots", "claim")


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
    maker = _Maker(inspection, name, digest_of(sheet), look, paper, size, exaggerate)
    asked = [each for each in formats if each != EVERY]
    return write_all(folder, (file for each in asked for file in _made(maker, each, everything=EVERY in formats)))


def _made(maker: _Maker, form: str, *, everything: bool) -> list[tuple[str, bytes]]:
    """Files of one format; where all are asked for, one that has nothing to say is left out, and said to be."""
    try:
        return list(maker.make(form))
    except NothingToPublishError as error:
        if not everything:
            raise
        click.echo(f"left out: {error}", err=True)
        return []


class _Maker:
    """Makes the files of each format."""

    def __init__(
        self,
        inspection: Inspection,
        name: str,
        digest: str,
        theme: Theme,
        paper: Paper,
        size: str,
        exaggerate: float | None,
    ) -> None:
        self._inspection, self._name, self._digest, self._theme = inspection, name, digest, theme
        self._paper, self._size, self._exaggerate = paper, size, exaggerate

    def make(self, form: str) -> Iterator[tuple[str, bytes]]:
        """Files of one format: name and content."""
        yield from getattr(self, f"_{form}")()

    def _html(self) -> Iterator[tuple[str, bytes]]:
        from carwright.publish.report import report_html  # noqa: PLC0415 - the template engine is loaded only here

        page = report_html(
            self._inspection,
            version=__version__,
            digest=self._digest,
            exaggerate=self._exaggerate,
            theme=self._theme,
        )
        yield f"{self._name}.html", page.encode()

    def _pdf(self) -> Iterator[tuple[str, bytes]]:
        from carwright.publish.report import report_pdf  # noqa: PLC0415 - the typesetter is loaded only here

        printed = report_pdf(
            self._inspection,
            version=__version__,
            digest=self._digest,
            exaggerate=self._exaggerate,
            theme=self._theme,
            paper=self._paper,
        )
        yield f"{self._name}.pdf", printed

    def _drawings(self) -> Iterator[tuple[str, bytes]]:
        from carwright.publish.drawing.files import drawing_files  # noqa: PLC0415

        for name, svg in drawing_files(self._inspection, self._theme, self._exaggerate):
            yield f"{self._name}-drawings/{name}", svg

    def _overlays(self) -> Iterator[tuple[str, bytes]]:
        from carwright.publish.video.overlays import overlay_files  # noqa: PLC0415

        made = list(overlay_files(self._inspection, self._theme, lines=self._size))
        for name, data in made:
            yield f"{self._name}-overlays/{name}", data
        yield f"{self._name}-overlays/{LISTING}", "".join(f"{name}\n" for name, _ in made).encode()

    def _chapters(self) -> Iterator[tuple[str, bytes]]:
        from carwright import words_of  # noqa: PLC0415
        from carwright.publish.video.chapters import webvtt  # noqa: PLC0415

        words = words_of(self._inspection.tables)
        yield f"{self._name}.vtt", webvtt(self._inspection.history, words, version=__version__).encode()

    def _shots(self) -> Iterator[tuple[str, bytes]]:
        from carwright.publish.report.page import page_html  # noqa: PLC0415
        from carwright.publish.report.printed import pages_pdf  # noqa: PLC0415
        from carwright.publish.video.shots import shot_list  # noqa: PLC0415

        shots = shot_list(self._inspection, version=__version__, theme=self._theme)
        yield f"{self._name}-shots.html", page_html(shots, self._theme).encode()
        yield f"{self._name}-shots.pdf", pages_pdf(shots, self._theme, paper=self._paper)

    def _claim(self) -> Iterator[tuple[str, bytes]]:
        from carwright.publish.claim import claim_of  # noqa: PLC0415
        from carwright.publish.report.page import page_html  # noqa: PLC0415
        from carwright.publish.report.printed import pages_pdf  # noqa: PLC0415

        claim = claim_of(self._inspection, version=__version__, digest=self._digest)
        yield f"{self._name}-claim.html", page_html(claim, self._theme).encode()
        yield f"{self._name}-claim.pdf", pages_pdf(claim, self._theme, paper=self._paper)
