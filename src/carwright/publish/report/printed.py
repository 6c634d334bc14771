"""A report as a PDF: tagged for screen readers, searchable, fonts embedded, the same bytes for the same content."""

from __future__ import annotations

import re
from typing import Any, Literal

from carwright.inspection import Inspection
from carwright.publish.lettering import Lettering, lettering_of
from carwright.publish.photos import Picture
from carwright.publish.report.assemble import report_of
from carwright.publish.report.content import (
    Block,
    Cell,
    Facts,
    Figure,
    Item,
    Items,
    Paragraph,
    Photograph,
    Piece,
    Report,
    Section,
    Table,
)
from carwright.publish.scene import Raster, Scene, simplified, standalone_svg
from carwright.publish.signs import LONG_WORD, breakable, clusters
from carwright.publish.theme import INKS, Theme, load_theme
from carwright.publish.typeset import TypesetError, pdf
from carwright.tables import Tables

Paper = Literal["a4", "letter"]
_MM_PER_PT = 25.4 / 72
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:in|mm|oz|g|%|deg)\b|%)")
"""The blank between a figure and its unit, at which no line of a table ends."""
_GUTTER = 2.5
"""Between two columns of a table [mm]."""
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Sheets a report is printed on [mm]. ISO 216; ANSI/ASME Y14.1."""


def pages_pdf(report: Report, theme: Theme | None = None, *, paper: Paper = "a4") -> bytes:
    """Any report in print.

    Parameters
    ----------
    report : Report
        What it says.
    theme : Theme, optional
        How it looks; the shipped one where omitted.
    paper : str
        ``a4`` or ``letter``.

    Raises
    ------
    TypesetError
        What the typesetter said.
    """
    chosen = theme or load_theme()
    what = f"the report {report.mark[:60]!r}"
    try:
        return pdf("report.typ", _Writer(chosen, paper).report(report, paper), chosen, what=what)
    except TypesetError:
        # signs joined in a drawing that the typesetter cannot join: once more, each by itself
        return pdf("report.typ", _Writer(chosen, paper, simple=True).report(report, paper), chosen, what=what)


def report_pdf(
    inspection: Inspection,
    tables: Tables | None = None,
    *,
    version: str,
    digest: str = "",
    exaggerate: float | None = None,
    theme: Theme | None = None,
    paper: Paper = "a4",
) -> bytes:
    """The report of an inspection in print; see :func:`carwright.publish.report.assemble.report_of`."""
    report = report_of(inspection, tables, version=version, digest=digest, exaggerate=exaggerate, theme=theme)
    return pages_pdf(report, theme, paper=paper)


class _Writer:
    """Puts blocks into the plain values the template reads; no text of a person's becomes markup on the way."""

    def __init__(self, theme: Theme, paper: Paper, *, simple: bool = False) -> None:
        self._simple = simple
        self._theme = theme
        self._room = PAPERS[paper][0] - 2 * theme.margin_mm
        self._letters: Lettering = lettering_of(theme)

    def words(self, text: str, room: float | None = None, size: float = 1.0) -> str:
        """A text the fonts can show and the lines can hold.

        Parameters
        ----------
        text : str
            What.
        room : float, optional
            Width it stands in; the page's where omitted [mm].
        size : float
            Of its letters, in those of the body [em].
        """
        high, wide = self._theme.print_pt * size * _MM_PER_PT, self._room if room is None else room
        longest = max(4, int(wide / (0.62 * high)))

        def held(word: str) -> str:
            whole = len(word) <= LONG_WORD and self._letters.width(word, high, bold=True) <= wide
            return word if whole else breakable(word, min(longest, LONG_WORD))

        shown = self._letters.shown(text)
        if self._simple:
            shown = "".join(cluster[0] for cluster in clusters(shown))
        return " ".join(held(word) for word in shown.split(" "))

    def _plain(self, text: str) -> str:
        shown = self._letters.shown(text)
        return "".join(cluster[0] for cluster in clusters(shown)) if self._simple else shown

    def report(self, report: Report, paper: Paper) -> dict[str, Any]:
        front, theme = report.front, self._theme
        width, height = PAPERS[paper]
        return {
            "width": width,
            "height": height,
            "look": {
                "families": [theme.family, *theme.fallback],
                "size": theme.print_pt,
                "head": theme.head_pt,
                "margin": theme.margin_mm,
                "gap": theme.gap_mm,
                "leading": theme.line,
                **{name: theme.ink(name, "print") for name in INKS},
            },
            "title": self._plain(front.title),
            "mark": self._plain(self._letters.cut(report.mark, 150.0, 3.0)),
            "front": {
                "kicker": self.words(front.kicker),
                "title": self.words(front.title, size=theme.head_pt / theme.print_pt),
                "facts": self.words(front.facts),
                "verdict": [
                    [self.words(part, self._room / len(front.verdict) - 8, 1.3) for part in line]
                    for line in front.verdict
                ],
                "summary": [self.words(line) for line in front.summary],
                "figure": self.block(front.figure) if front.figure is not None else None,
            },
            "sections": [self._section(section) for section in report.sections],
            "foot": [self.words(line) for line in report.foot],
        }

    def _section(self, section: Section) -> dict[str, Any]:
        return {"title": self.words(section.title), "blocks": [self.block(block) for block in section.blocks]}

    def block(self, block: Block) -> dict[str, Any]:
        """One block as plain values."""
        match block:
            case Paragraph():
                return {"kind": block.kind, "text": self.words(block.text), "tone": block.tone, "mark": block.mark}
            case Items():
                return {"kind": block.kind, "style": block.style, "items": [self._item(item) for item in block.items]}
            case Table():
                return self._table(block)
            case Figure():
                drawn = [self._scene(scene) for scene in block.scenes]
                return {"kind": block.kind, "scenes": drawn, "caption": self.words(block.caption), "wide": block.wide}
            case Photograph():
                return self._photograph(block.picture)
            case Facts():
                pairs = [[self.words(part) for part in pair] for pair in block.pairs]
                return {"kind": block.kind, "title": self.words(block.title), "pairs": pairs}
            case Piece():
                return {
                    "kind": block.kind,
                    "title": self.words(block.title),
                    "style": block.style,
                    "amount": block.amount,
                    "tags": [self.words(tag) for tag in block.tags],
                    "blocks": [self.block(each) for each in block.blocks],
                }
            case _:
                return {"kind": block.kind, "pieces": [self.block(piece) for piece in block.pieces]}

    def _item(self, item: Item) -> dict[str, Any]:
        small = [self.words(text) for text in item.small]
        return {"text": self.words(item.text), "small": small, "mark": item.mark, "strip": item.strip}

    def _table(self, table: Table) -> dict[str, Any]:
        whole = sum(each.share for each in table.columns)
        free = self._room - _GUTTER * (len(table.columns) - 1)
        rooms = [free * each.share / whole for each in table.columns]
        columns = [
            {"title": self.words(each.title, room), "numbers": each.numbers, "share": each.share}
            for each, room in zip(table.columns, rooms, strict=True)
        ]
        return {
            "kind": table.kind,
            "caption": self.words(table.caption),
            "columns": columns,
            "rows": [
                [self._cell(cell, room * cell.span) for cell, room in zip(row, rooms, strict=False)]
                for row in table.rows
            ],
            "style": table.style,
            "total": table.total,
            "head": table.head,
        }

    def _cell(self, cell: Cell, room: float) -> dict[str, Any]:
        return {
            "text": self.words(_BEFORE_UNIT.sub("\u00a0", cell.text), room),
            "small": [self.words(text, room) for text in cell.small],
            "mark": cell.mark,
            "scene": self._scene(cell.scene) if cell.scene is not None else None,
            "pin": list(cell.pin) if cell.pin is not None else None,
            "span": cell.span,
        }

    def _scene(self, scene: Scene) -> dict[str, Any]:
        words = self._plain(scene.words)
        drawn = simplified(scene) if self._simple else scene
        return {"svg": standalone_svg(drawn, self._theme, "print"), "words": words, "ratio": scene.height / scene.width}

    def _photograph(self, picture: Picture) -> dict[str, Any]:
        photo = picture.photo
        said = photo.shows + (f": {photo.note}" if photo.note else "") + (f" ({photo.when})" if photo.when else "")
        found: dict[str, Any] = {
            "kind": "photograph",
            "caption": self.words(said),
            "problem": self.words(picture.problem),
        }
        if picture.data:
            raster = Raster(0.0, 0.0, picture.width, picture.height, picture.data)
            scene = Scene(0.0, 0.0, picture.width, picture.height, (raster,), photo.shows or photo.file, "photo")
            found |= {"scene": self._scene(scene)}
        return found
