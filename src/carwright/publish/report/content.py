"""What a report is made of, before it is a page or a print: blocks of words, tables, scenes and photographs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from carwright.publish.photos import Picture
from carwright.publish.scene import Scene

Tone = Literal["plain", "lead", "note", "key", "strong"]
"""How a paragraph speaks: plainly, first, aside, as a key to what stands above it, or aloud."""
Kind = Literal["findings", "plain", "abreast", "changes"]
"""What a table is of; a page lays each out in its own way on a phone."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Words."""

    text: str
    tone: Tone = "plain"
    mark: str = ""
    kind: Literal["paragraph"] = "paragraph"


@dataclass(frozen=True, slots=True)
class Item:
    """One of a list: words, what stands smaller under them, and a mark before them."""

    text: str
    small: tuple[str, ...] = ()
    mark: str = ""
    strip: float | None = None


@dataclass(frozen=True, slots=True)
class Items:
    """A list; ``numbered`` where order matters, ``cautions`` where it warns."""

    items: tuple[Item, ...]
    style: Literal["plain", "numbered", "told", "cautions", "marked", "strips", "small"] = "plain"
    kind: Literal["items"] = "items"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, whether it holds numbers, its share of the width, and its label on a phone."""

    title: str
    numbers: bool = False
    share: float = 1.0
    label: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: words and what stands smaller under them, a mark, a chart, or the pin of a finding."""

    text: str = ""
    small: tuple[str, ...] = ()
    mark: str = ""
    scene: Scene | None = None
    pin: tuple[int, str] | None = None
    span: int = 1


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first cell of a row heads it. ``total`` marks its last row as a sum."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    style: Kind = "plain"
    anchors: tuple[str, ...] = ()
    total: bool = False
    head: int = 0
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Figure:
    """Drawings or charts with a caption; ``wide`` across the page, else as wide as a phone."""

    scenes: tuple[Scene, ...]
    caption: str
    wide: bool = True
    kind: Literal["figure"] = "figure"


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph with what it shows."""

    picture: Picture
    kind: Literal["photograph"] = "photograph"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are."""

    pairs: tuple[tuple[str, str], ...]
    title: str = ""
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True)
class Piece:
    """A heading within a section and what stands under it, kept together where it fits.

    ``style``: a ``chain`` of a deduction, a ``plan``, or plain. ``amount`` stands before the title, ``tags`` after it.
    """

    title: str
    blocks: tuple[Block, ...]
    style: Literal["plain", "chain", "plan"] = "plain"
    amount: str = ""
    tags: tuple[str, ...] = ()
    kind: Literal["piece"] = "piece"


@dataclass(frozen=True, slots=True)
class Abreast:
    """Pieces side by side where there is room."""

    pieces: tuple[Piece, ...]
    kind: Literal["abreast"] = "abreast"


Block = Paragraph | Items | Table | Figure | Photograph | Facts | Piece | Abreast


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the report under its own heading."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Front:
    """What the first page says at once.

    Attributes
    ----------
    kicker, title, facts : str
        What kind of paper this is, of what, and the car in a line.
    verdict : tuple of (name, strong, rest)
        The verdict line.
    summary : tuple[str, ...]
        Three sentences.
    figure : Figure or None
        The drawing.
    """

    kicker: str
    title: str
    facts: str
    verdict: tuple[tuple[str, str, str], ...]
    summary: tuple[str, ...]
    figure: Figure | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """A whole paper: its front, its sections, and what stands at its foot.

    ``mark`` names it at the foot of every printed page, so that no page can be taken for another's.
    """

    front: Front
    sections: tuple[Section, ...]
    foot: tuple[str, ...]
    mark: str


def texts_of(block: Block) -> list[str]:
    """Every text of a block, for a search or a count."""
    match block:
        case Paragraph():
            return [block.text]
        case Items():
            return [text for item in block.items for text in (item.text, *item.small)]
        case Table():
            cells = [text for row in block.rows for cell in row for text in (cell.text, *cell.small)]
            return [block.caption, *(column.title for column in block.columns), *cells]
        case Figure():
            return [block.caption]
        case Photograph():
            return [block.picture.photo.shows, block.picture.photo.note, block.picture.problem]
        case Facts():
            return [block.title, *(text for pair in block.pairs for text in pair)]
        case Piece():
            return [block.title, *block.tags, *(text for each in block.blocks for text in texts_of(each))]
        case Abreast():
            return [text for piece in block.pieces for text in texts_of(piece)]


def all_texts(report: Report) -> list[str]:
    """Every text of a report."""
    front = report.front
    told = [front.kicker, front.title, front.facts, *(part for line in front.verdict for part in line), *front.summary]
    return [
        *told,
        *((front.figure.caption,) if front.figure else ()),
        *(
            text
            for section in report.sections
            for block in section.blocks
            for text in (section.title, *texts_of(block))
        ),
        *report.foot,
    ]
