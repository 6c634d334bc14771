"""Everything a car is published as, format by format, as files."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

from carwright import __version__
from carwright.history import Sheet, write_sheet
from carwright.inspection import Inspection, words_of

if TYPE_CHECKING:
    from carwright.publish.report.printed import Paper
    from carwright.publish.theme import Theme

FORMATS = ("html", "pdf", "drawings", "overlays", "chapters", "shots", "claim")
LISTING = "cards.txt"
"""Lists the cards of a run, so that the next one takes away its own and no other picture."""


def digest_of(sheet: Sheet) -> str:
    """What tells one sheet from another in print."""
    return hashlib.sha256(write_sheet(sheet).encode()).hexdigest()[:12]


class Maker:
    """Makes the files of each format, every one when it is asked for.

    Parameters
    ----------
    inspection : Inspection
        What to publish.
    name : str
        What file names begin with.
    digest : str
        Of the sheet, see :func:`digest_of`.
    theme : Theme
        How it looks.
    paper, size : str
        Of a PDF, and lines of a card for video.
    exaggerate : float, optional
        How many times deformation is drawn larger [-].
    """

    def __init__(
        self,
        inspection: Inspection,
        name: str,
        digest: str,
        theme: Theme,
        paper: Paper = "a4",
        size: str = "1080",
        exaggerate: float | None = None,
    ) -> None:
        self._inspection, self._name, self._digest, self._theme = inspection, name, digest, theme
        self._paper, self._size, self._exaggerate = paper, size, exaggerate

    def make(self, form: str) -> Iterator[tuple[str, bytes]]:
        """Files of one format: name and content.

        Raises
        ------
        NothingToPublishError
            When there is no fault to claim, or no time for a chapter.
        """
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
