"""``carwright shop add``: sheets into the shop."""

from __future__ import annotations

from pathlib import Path

import click

from carwright.cli.labels_command import SheetsError
from carwright.cli.shop.options import opened, place, who
from carwright.errors import CarwrightError, SheetError
from carwright.files import WriteError, write_whole
from carwright.history.sheet import LARGEST
from carwright.shop import Added, Given, Shop
from carwright.shop.instruments import read_for
from carwright.shop.writing_ids import with_ids
from carwright.textfile import read_text


@click.command("add")
@click.argument("sheets", metavar="SHEET...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--write-ids", is_flag=True, help="Put ids into the sheets, so that they may be changed and added again.")
@click.option("--correct", is_flag=True, help="Where a sheet says something else, let it go before: as corrections.")
@click.option("--another", is_flag=True, help="A sheet without ids is of another car, however much it resembles one.")
@place
@who
def command(sheets: tuple[Path, ...], *, write_ids: bool, correct: bool, another: bool, place: str, who: str) -> None:
    """Add each SHEET with the files it names: all of them or none. The same sheet again changes nothing."""
    with opened(place, create=True) as shop:
        given = _read(shop, sheets)
        added = shop.add(given, who=who, correct=correct, another=another)
        for path, each in zip(sheets, added, strict=True):
            _say(each)
            if write_ids:
                _write_ids(path, each)


def _read(shop: Shop, sheets: tuple[Path, ...]) -> list[Given]:
    """Every sheet, or every fault of every sheet."""
    found, faults = [], []
    for path in sheets:
        try:
            found.append(Given(read_for(shop, path), path.parent))
        except SheetError as error:
            faults.append(str(error))
        except CarwrightError as error:  # of an instrument kept in the shop, which does not name the sheet
            faults.append(f"{path}: {error}")
    if faults:
        raise SheetsError(faults)
    return found


def _say(added: Added) -> None:
    addition = added.addition
    name = f"{added.title} ({addition.car[:8]})"
    if added.new:
        click.echo(f"{name}: new, {_count(addition.entries, 'entry', 'entries')}")
    elif not addition.lines:
        click.echo(f"{name}: nothing new")
    else:
        parts = [
            _count(addition.entries - addition.corrected, "new entry", "new entries"),
            _count(addition.corrected, "correction", "corrections"),
            _count(
                addition.stated, "change to what the sheet says of the car", "changes to what the sheet says of the car"
            ),
        ]
        click.echo(f"{name}: {', '.join(part for part in parts if not part.startswith('0 '))}")
    if addition.elsewhere:
        kept = _count(addition.elsewhere, "entry", "entries")
        click.echo(f"  {kept} of the car not on this sheet: kept", err=True)
    for key in addition.older:
        click.echo(
            f"  {key}: the sheet is older than the shop; the shop's is kept (--correct takes the sheet's)", err=True
        )
    for file in added.missing:
        click.echo(f"  {file}: not found, added without it", err=True)


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _write_ids(path: Path, added: Added) -> None:
    text = read_text(path, most=LARGEST, what="bench sheet")
    made = with_ids(text, added.addition.car, added.addition.ids, file=str(path))
    if made == text:
        return
    try:
        write_whole(path, made)
    except WriteError as error:
        raise CarwrightError(f"{error}; the shop has the sheet, only its ids are not in the file") from error
    click.echo(f"  ids are in {path}")
