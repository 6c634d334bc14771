"""``carwright labels``: box and shelf labels, and tags, as a PDF to print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

import click

from carwright import inspect, read_sheet
from carwright.errors import CarwrightError, SheetError
from carwright.files import write_bytes_whole

if TYPE_CHECKING:
    from carwright.inspection import Inspection

MOST_SHEETS = 500
"""Sheets of one call."""


class SheetsError(CarwrightError):
    """Some of many sheets cannot be used; every one of them is named."""

    http_status = 422

    def __init__(self, messages: list[str]) -> None:
        super().__init__("\n".join(messages))


@click.command("labels")
@click.argument("sheets", metavar="SHEET...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.pdf", help="The PDF to write.")
@click.option("--size", default="", metavar="ID", help="Label sheet, one of --sizes; else one that suits the kind.")
@click.option(
    "--kind", type=click.Choice(["box", "shelf", "tag"]), default="box", show_default=True, help="What they are for."
)
@click.option("--shop", default="", metavar="URL", help="Address the QR codes lead to; else they hold the car's id.")
@click.option("--start", type=int, default=1, show_default=True, help="First free label of the first sheet.")
@click.option("--theme", type=click.Path(path_type=Path), metavar="FILE", help="A theme of your own.")
@click.option("--sizes", "list_sizes", is_flag=True, help="List the label sheets known.")
def command(
    sheets: tuple[Path, ...],
    *,
    out: Path | None,
    size: str,
    kind: str,
    shop: str,
    start: int,
    theme: Path | None,
    list_sizes: bool,
) -> None:
    """Print a label for each SHEET: for its box or shelf, or a tag for a car held for work."""
    if list_sizes:
        _list_sizes()
        return
    if not sheets or out is None:
        raise click.UsageError("at least one SHEET and --out FILE.pdf are needed, or --sizes")
    if len(sheets) > MOST_SHEETS:
        raise click.UsageError(f"at most {MOST_SHEETS} sheets at a time, got {len(sheets)}")
    if out.suffix.lower() != ".pdf":
        raise click.UsageError(f"--out must name a PDF such as labels.pdf, got {str(out)!r}")
    from carwright.publish.labels import DEFAULTS, label_sheet, labels_pdf  # noqa: PLC0415 - fonts, loaded only here
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    paper = label_sheet(size or DEFAULTS[kind])
    chosen = load_theme(str(theme) if theme is not None else "")
    inspections = _inspected(sheets)
    data = labels_pdf(inspections, sheet=paper, kind=kind, shop=shop, start=start, theme=chosen)
    written = write_bytes_whole(out, data)
    for each in inspections:
        if not each.history.id:
            fresh = f'put id = "{uuid4()}" under [car]'
            click.echo(f"{each.history.title}: no id, so no QR code; {fresh}", err=True)
    click.echo(written)


def _inspected(sheets: tuple[Path, ...]) -> list[Inspection]:
    """Every sheet judged, or every fault of every sheet."""
    found, faults = [], []
    for path in sheets:
        try:
            found.append(inspect(read_sheet(path)))
        except SheetError as error:
            faults.append(str(error))
        except CarwrightError as error:  # of its rules or rubric, which may not name the sheet
            faults.append(f"{path}: {error}")
    if faults:
        raise SheetsError(faults)
    return found


def _list_sizes() -> None:
    from carwright.publish.labels import label_sheets  # noqa: PLC0415 - loaded only where listed

    rows = [("id", "paper", "labels", "size", "kinds")]
    for each in label_sheets().values():
        grid, size = f"{each.columns} x {each.rows}", f"{each.width:g} x {each.height:g} mm"
        rows.append((each.id, each.paper, grid, size, ", ".join(each.kinds)))
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    for row in rows:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
