"""``carwright shop add``: sheets into the shop."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from carwright.cli.labels_command import SheetsError
from carwright.cli.shop.options import count, one_line, opened, place, who
from carwright.errors import CarwrightError, SheetError
from carwright.files import WriteError, write_bytes_whole
from carwright.history.sheet import LARGEST
from carwright.shop import Added, Given, Shop
from carwright.shop.faults import NoShopError
from carwright.shop.forms import FORMS
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
    with _shop(place, sheets) as (shop, given):
        added = shop.add(given, who=who, correct=correct, another=another)
    faults = []
    for path, each in zip(sheets, added, strict=True):
        _say(each)
        if write_ids:
            try:
                _write_ids(path, each)
            except CarwrightError as error:
                faults.append(str(error))
    if faults:
        raise SheetsError(faults)


@contextmanager
def _shop(place: str, sheets: tuple[Path, ...]) -> Iterator[tuple[Shop, list[Given]]]:
    """The shop and the sheets; a new shop is started only once all sheets are read."""
    try:
        with opened(place) as shop:
            yield shop, _read(shop, sheets)
            return
    except NoShopError:
        given = _read(None, sheets)
    with opened(place, create=True) as shop:
        yield shop, given


def _read(shop: Shop | None, sheets: tuple[Path, ...]) -> list[Given]:
    """Every sheet, or every fault of every sheet."""
    found, faults = [], []
    for path in sheets:
        try:
            sheet, borrowed = read_for(shop, path)
            found.append(Given(sheet, path.parent, borrowed))
        except SheetError as error:
            shared = any(f"got {form!r}" in str(error) for form in FORMS)
            faults.append(f"{error}{'; `carwright shop keep` keeps it for all cars' if shared else ''}")
        except CarwrightError as error:  # of an instrument kept in the shop, which does not name the sheet
            faults.append(f"{path}: {error}")
    if faults:
        raise SheetsError(faults)
    return found


def _say(added: Added) -> None:
    addition = added.addition
    name = f"{one_line(added.title)} ({addition.car[:8]})"
    if added.new:
        click.echo(f"{name}: new, {count(addition.entries, 'entry')}")
    elif not addition.lines:
        click.echo(f"{name}: nothing new")
    else:
        parts = [
            (addition.entries - addition.corrected, "new entry"),
            (addition.corrected, "correction"),
            (addition.stated, "change of what the sheet says of the car"),
        ]
        click.echo(f"{name}: {', '.join(count(number, what) for number, what in parts if number)}")
    if addition.elsewhere:
        click.echo(f"  {count(addition.elsewhere, 'entry')} of the car not on this sheet: kept", err=True)
    for key in addition.unstated:
        click.echo(f"  {key}: not on this sheet; the shop's is kept (--correct takes it back)", err=True)
    for key in addition.older:
        click.echo(
            f"  {key}: the sheet is older than the shop; the shop's is kept (--correct takes the sheet's)", err=True
        )
    for file in added.missing:
        click.echo(f"  {file}: not found, added without it", err=True)


def _write_ids(path: Path, added: Added) -> None:
    """Ids into the file itself, wherever a link leads, with the mark of byte order it may begin with."""
    text = read_text(path, most=LARGEST, what="bench sheet")
    made = with_ids(text, added.addition.car, added.addition.ids, file=str(path))
    if made == text:
        return
    try:
        mark = codecs.BOM_UTF8 if path.read_bytes().startswith(codecs.BOM_UTF8) else b""
        write_bytes_whole(path.resolve(), mark + made.encode("utf-8"))
    except (WriteError, OSError) as error:
        raise CarwrightError(f"{error}; the shop has the sheet, only its ids are not in the file") from error
    click.echo(f"  ids are in {path}")
