"""Labels on their sheets: pages drawn true to size, and the PDF of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from carwright.inspection import Inspection
from carwright.publish.labels.label import bench_tag, box_label, named, shelf_label
from carwright.publish.labels.link import LabelError
from carwright.publish.labels.sizes import LabelSheet
from carwright.publish.lettering import lettering_of
from carwright.publish.scene import Group, Path, Scene, Shape, line, standalone_svg
from carwright.publish.theme import Theme, load_theme
from carwright.publish.typeset import pdf
from carwright.verdict import STATUSES

HAIRLINE = 0.1
"""Width of a cut line [mm]."""
_DRAWN: dict[str, Callable[..., Scene]] = {"box": box_label, "shelf": shelf_label, "tag": bench_tag}
_MANY = {"box": "box labels", "shelf": "shelf labels", "tag": "tags"}


def labels_pdf(
    inspections: Sequence[Inspection],
    *,
    sheet: LabelSheet,
    kind: str,
    shop: str = "",
    start: int = 1,
    theme: Theme | None = None,
    due: Mapping[str, Sequence[str]] | None = None,
) -> bytes:
    """A label for each car, on as many sheets as they take.

    Parameters
    ----------
    inspections : sequence of Inspection
        The cars, in the order of their labels.
    sheet : LabelSheet
        What is printed on.
    kind : str
        ``box``, ``shelf`` or ``tag``.
    shop : str
        Address the codes lead to; the cars' own ids where omitted.
    start : int
        First label of the first sheet that is still free, counted from 1, row by row [-].
    theme : Theme, optional
        How they look; the shipped one where omitted.
    due : mapping, optional
        By the id of a car, what a tag says it is to be looked at again for.

    Returns
    -------
    bytes
        The same for the same cars.

    Raises
    ------
    LabelError
        Where the sheet does not suit, ``start`` is no place on it, a tag is asked for a car in service that is not due,
        or a code cannot be made.
    TextFitError
        Where a title does not fit its label.
    """
    chosen = theme or load_theme()
    pages = pages_of(inspections, sheet=sheet, kind=kind, shop=shop, start=start, theme=chosen, due=due or {})
    width, height = sheet.page
    drawn = [{"svg": standalone_svg(page, chosen, "print"), "words": page.words} for page in pages]
    return pdf(
        "labels.typ",
        {"title": "Labels", "width": width, "height": height, "pages": drawn},
        chosen,
        what=f"{len(inspections)} labels on {sheet.id}",
    )


def pages_of(
    inspections: Sequence[Inspection],
    *,
    sheet: LabelSheet,
    kind: str,
    shop: str,
    start: int,
    theme: Theme,
    due: Mapping[str, Sequence[str]] | None = None,
) -> list[Scene]:
    """The pages as drawings in millimetres; see :func:`labels_pdf`."""
    again = due or {}
    _check(inspections, sheet, kind, start, again)
    letters = lettering_of(theme)
    size = {"width": sheet.width, "height": sheet.height}
    labels = [
        _DRAWN[kind](each, **size, letters=letters, shop=shop, **_told(kind, again.get(each.history.id, ())))
        for each in inspections
    ]
    before = start - 1
    pages: list[list[Scene | None]] = [[]]
    for label in [*[None] * before, *labels]:
        if len(pages[-1]) == sheet.per_page:
            pages.append([])
        pages[-1].append(label)
    return [_page(sheet, page) for page in pages]


def _told(kind: str, due: Sequence[str]) -> dict[str, Sequence[str]]:
    """What only a tag says."""
    return {"due": due} if kind == "tag" else {}


def _check(
    inspections: Sequence[Inspection], sheet: LabelSheet, kind: str, start: int, due: Mapping[str, Sequence[str]]
) -> None:
    if kind not in sheet.kinds:
        suits = " and ".join(_MANY[each] for each in sheet.kinds)
        raise LabelError(f"--size: {sheet.id} suits {suits}, not {_MANY.get(kind, repr(kind))}")
    if not 1 <= start <= sheet.per_page:
        raise LabelError(f"--start: {start} is no label of {sheet.id}: expected 1 to {sheet.per_page}")
    if not inspections:
        raise LabelError("labels: no car was given; at least one is needed")
    if kind == "tag":
        sound = [
            named(each.history)
            for each in inspections
            if each.verdict.status == STATUSES[0] and not due.get(each.history.id)
        ]
        if sound:
            raise LabelError("\n".join(f"{title}: is in service and needs no tag" for title in sound))


def _page(sheet: LabelSheet, labels: Sequence[Scene | None]) -> Scene:
    width, height = sheet.page
    items: list[Shape] = list(_cuts(sheet)) if sheet.cut else []
    words = []
    for place, label in enumerate(labels):
        if label is not None:
            items.append(Group(label.items, what="label", move=sheet.corner(place)))
            words.append(label.words)
    return Scene(0.0, 0.0, width, height, tuple(items), " ".join(words), "labels", 1.0)


def _cuts(sheet: LabelSheet) -> list[Path]:
    """Hairlines on the labels' edges, right across the paper, so that a knife has both ends of each to lie on."""
    width, height = sheet.page
    across, down = sheet.edges()
    lines = [[(x, 0.0), (x, height)] for x in across] + [[(0.0, y), (width, y)] for y in down]
    return [Path(line(each), "soft", HAIRLINE, "none", (), "cut") for each in lines]
