"""Previews and downloads of everything a car is published as."""

from __future__ import annotations

import io
import re
import zipfile
from typing import Annotated, Literal

from fastapi import APIRouter, Path, Query
from starlette.responses import HTMLResponse, Response

from carwright import __version__
from carwright.errors import NothingToPublishError, UnknownNameError
from carwright.history import write_sheet
from carwright.inspection import inspect
from carwright.shop.blobs import fetch
from carwright.shop.document import files_of
from carwright.shop.judging import due_rules
from carwright.shop.listing import list_cars
from carwright.web.asked import UUID, Asked, Asking, Car
from carwright.web.guard.headers import PAPER_POLICY
from carwright.web.pages import Bar
from carwright.web.pictures import PictureError, photo_of

router = APIRouter(include_in_schema=False)
BAR = Bar("Papers", 50, "/papers")
PAPERS = (
    ("report.html", "Report, as a page", "One file with everything in it, to send or to put on a site."),
    ("report.pdf", "Report, in print", "The same on paper."),
    ("drawings.zip", "Drawings", "SVG, true to scale."),
    ("overlays.zip", "Cards for video", "Transparent pictures, 1920 by 1080, with a cover."),
    ("chapters.vtt", "Chapters for video", "WebVTT, from the times noted in the history."),
    ("shots.pdf", "What to film and say", "A shot list from the history."),
    ("changes.pdf", "What changed", "What went wrong, came right or moved since it was received."),
    ("claim.pdf", "Claim", "What is wrong with a car as bought, for whoever sold it."),
    ("box-label.pdf", "Box label", "With a QR code that leads to this car."),
    ("shelf-label.pdf", "Shelf label", "The same, narrow."),
    ("tag.pdf", "Tag", "For a car held, restricted, or due again."),
    ("sheet.toml", "Bench sheet", "The car and its history as one text file."),
    ("inspection.json", "Inspection", "Every number, for programs."),
)
_TYPES = {
    "html": "text/html; charset=utf-8",
    "pdf": "application/pdf",
    "zip": "application/zip",
    "vtt": "text/vtt; charset=utf-8",
    "toml": "application/toml; charset=utf-8",
    "json": "application/json",
}
MOST_OTHERS = 300
"""Cars offered to be laid beside this one."""
Paper = Annotated[Literal["a4", "letter"], Query()]
Named = Annotated[str, Path(pattern=r"^[a-z-]+\.[a-z]+$", max_length=40)]


@router.get("/car/{car}/papers")
def papers(asking: Asking, car: Car) -> HTMLResponse:
    """The page."""
    seen = asking.seen(car)
    others = [(each.id, each.title) for each in list_cars(asking.desk.shop, most=MOST_OTHERS) if each.id != car]
    photos = [photo for photo in seen.history.photos if photo.file in files_of(seen.state)]
    return asking.page(
        "papers/papers.html", car=car, title=seen.history.title, papers=PAPERS, photos=photos, others=others
    )


@router.get("/car/{car}/papers/{name}")
def paper(asking: Asking, car: Car, name: Named, look: bool = False, sheet: Paper = "a4") -> Response:  # noqa: FBT001, FBT002 - a query
    """One of them, to be looked at within a page, or as a file."""
    if name not in {each for each, _, _ in PAPERS}:
        raise UnknownNameError("paper", name)
    stem, _, form = name.partition(".")
    content = _made(asking, car, stem, form, sheet)
    headers = {"content-security-policy": PAPER_POLICY}
    if not look:
        title = re.sub(r"[^A-Za-z0-9]+", "-", asking.desk.shop.known(car).title).strip("-").lower()[:60] or "car"
        headers["content-disposition"] = f'attachment; filename="{title}-{name}"'
    return Response(content, media_type=_TYPES[form], headers=headers)


@router.get("/car/{car}/compare.{form}")
def compare(
    asking: Asking,
    car: Car,
    form: Literal["html", "pdf"],
    other: Annotated[list[Annotated[str, Query(pattern=UUID)]], Query(min_length=1, max_length=5)],
) -> Response:
    """The car beside others, two to six in all."""
    from carwright.publish.compare import comparison_of  # noqa: PLC0415 - what publishes is loaded when it is asked for
    from carwright.publish.report.files import report_files  # noqa: PLC0415
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    theme = load_theme()
    inspections = [asking.seen(each).inspection for each in dict.fromkeys((*other, car))]
    report = comparison_of(inspections[::-1], version=__version__, theme=theme)
    [(_, content)] = report_files(report, "compare", [form], theme, "a4")
    return Response(content, media_type=_TYPES[form], headers={"content-security-policy": PAPER_POLICY})


def _made(asking: Asked, car: str, stem: str, form: str, sheet: Literal["a4", "letter"]) -> bytes:
    if stem == "sheet":
        return write_sheet(asking.desk.shop.sheet(car)).encode()
    from carwright.publish.again import reinspection_of  # noqa: PLC0415 - what publishes is loaded when it is asked for
    from carwright.publish.document import as_json_text  # noqa: PLC0415 - what publishes is loaded when it is first asked for
    from carwright.publish.formats import Maker, digest_of  # noqa: PLC0415
    from carwright.publish.labels import DEFAULTS, label_sheet, label_sheets, labels_pdf  # noqa: PLC0415
    from carwright.publish.report.files import report_files  # noqa: PLC0415
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    with asking.desk.with_photos(car, system=asking.system) as (bench, inspection):
        theme = load_theme()
        if stem == "inspection":
            return as_json_text(inspection).encode()
        if stem in {"box-label", "shelf-label", "tag"}:
            kind = stem.removesuffix("-label")
            size = label_sheet(DEFAULTS[kind]) if kind in DEFAULTS else next(iter(label_sheets().values()))
            rules = due_rules(asking.desk.shop)
            due = {car: [each.sentence for each in inspection.due(rules).reasons]}
            address = str(asking.request.base_url).rstrip("/")
            return labels_pdf([inspection], sheet=size, kind=kind, shop=address, due=due, theme=theme)
        if stem == "changes":
            if not inspection.stage:
                raise NothingToPublishError("nothing can have changed: no work was done since it was received")
            before = inspect(inspection.history, asking.desk.shop.tables, stage="received")
            report = reinspection_of(before, inspection, version=__version__)
            return next(data for _, data in report_files(report, "changes", [form], theme, sheet))
        maker = Maker(inspection, "car", digest_of(bench), theme, sheet)
        made = list(maker.make({"report": form}.get(stem, stem)))
    if form == "zip":
        return _zipped(made)
    return next(data for name, data in made if name.endswith(f".{form}"))


def _zipped(files: list[tuple[str, bytes]]) -> bytes:
    """Files in one, the same bytes for the same content."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files:
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, data)
    return out.getvalue()


@router.get("/car/{car}/photos/{name:path}")
def photo(asking: Asking, car: Car, name: Annotated[str, Path(max_length=300)]) -> Response:
    """A photo of the car, written anew so that it is nothing but a picture."""
    state = asking.desk.shop.known(car)
    digest = files_of(state).get(name, "")
    with asking.desk.shop.reading() as connection:
        content = fetch(connection, asking.desk.shop.address, digest) if digest else None
    if content is None:
        raise UnknownNameError("photo", name)
    try:
        _, data = photo_of(content)
    except PictureError as error:
        raise UnknownNameError("photo that can be shown", name) from error
    return Response(data, media_type="image/jpeg")
