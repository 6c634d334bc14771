"""``carwright shop sheet``, ``export``, ``import`` and ``backup``: out of one shop and into another."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from pathlib import Path

import click

from carwright import write_sheet
from carwright.cli.published import write_all
from carwright.cli.shop.options import count, opened, place, progress
from carwright.errors import CarwrightError
from carwright.shop import Shop, ShopError, address_of
from carwright.shop.backup import back_up
from carwright.shop.listing import Wanted, list_cars
from carwright.shop.merging import Merged, export_zip, merge_shop, merge_zip
from carwright.shop.naming import plain_name, stays_inside
from carwright.shop.shared import collection
from carwright.shop.source import Progress


@click.command("sheet")
@click.argument("car")
@click.option("--out", "folder", type=click.Path(path_type=Path), required=True, help="Folder the sheet is put in.")
@click.option("--replace", is_flag=True, help="Write over files there that say something else.")
@place
def sheet(car: str, *, folder: Path, replace: bool, place: str) -> None:
    """Write the sheet of one CAR with all its entries and ids, and the files it names beside it."""
    with opened(place) as shop:
        found = shop.find(car)
        bench = shop.bench(found, photos=True)
        text = write_sheet(shop.sheet(found))
    name = f"{file_name(bench.title)}-{found[:8]}.toml"
    bad = [each for each in bench.files if not stays_inside(each)]
    if bad:
        raise ShopError(f"{bench.title}: {bad[0]!r} is no name of a file below a folder")
    files = {plain_name(each): content for each, content in bench.files.items()}
    if name in files:
        raise ShopError(f"{bench.title}: has a file of the name its sheet would get, {name}")
    files = {name: text.encode("utf-8"), **files}
    if not replace:
        _refuse_changed(folder, files)
    for path in write_all(folder, list(files.items())):
        click.echo(path)
    for each in bench.missing:
        click.echo(f"{each}: the shop does not have it", err=True)


def _refuse_changed(folder: Path, files: Mapping[str, bytes]) -> None:
    """What lies there and says something else may be somebody's work."""
    for name, content in files.items():
        path = folder / name
        if path.is_file() and path.read_bytes() != content:
            raise ShopError(f"{path}: is there already, and is another; nothing was written (--replace writes over it)")


def file_name(title: str) -> str:
    """A title as the name of a file: letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "car"


@click.command("export")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("cars", nargs=-1)
@click.option("--collection", "name", default="", metavar="NAME", help="Only cars of this collection.")
@place
def export(file: Path, cars: tuple[str, ...], *, name: str, place: str) -> None:
    """Write the shop, or only some CARS, into FILE: a zip of JSON Lines and photos, for another shop to import."""
    with opened(place) as shop, progress("exporting") as tell:
        chosen = [shop.find(each) for each in cars] + (collection(shop, name) if name else [])
        made = export_zip(shop, file, chosen if cars or name else None, tell)
    told = ", ".join(count(number, what.removesuffix("s")) for what, number in made.counts.items())
    click.echo(f"{file}: {told}")
    for digest in made.lost:
        click.echo(f"left out, gone or altered: file {digest[:12]}; `carwright shop check` says whose", err=True)


@click.command("import")
@click.argument("source", metavar="FILE|SHOP")
@place
def import_(source: str, *, place: str) -> None:
    """Take in an export, or another shop: whatever this one does not have yet. Nothing that is here is lost."""
    path = Path(source)
    if "://" not in source and not path.exists():
        raise CarwrightError(f"{source}: there is no such file")
    with opened(place, create=True) as shop, progress("importing") as tell:
        merged = merge_zip(shop, path, tell) if _is_zip(source, path) else _merge(shop, source, tell)
    _say(merged)


def _is_zip(source: str, path: Path) -> bool:
    if "://" in source:
        return False
    with path.open("rb") as opened_file:
        return opened_file.read(16) != b"SQLite format 3\0"


def _merge(shop: Shop, source: str, tell: Progress) -> Merged:
    with opened(source) as other:
        return merge_shop(shop, other, tell)


def _say(merged: Merged) -> None:
    click.echo(f"{count(merged.writings, 'writing')} new here, about {count(len(merged.cars), 'car')}")
    for line in merged.forks:
        click.echo(f"disputed: {line}; one version is taken, the others are kept", err=True)
    for line in merged.faulty:
        click.echo(f"makes no good sheet any more: {line}", err=True)


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@place
def backup(file: Path, *, place: str) -> None:
    """Copy the shop, as it is at one moment, into FILE and a photo folder beside it, while others may write to it."""
    with opened(place) as shop, progress("copying") as tell:
        copied = back_up(shop, file, tell)
        cars = len(list_cars(shop, Wanted()))
    click.echo(f"{address_of(str(file))}: {count(cars, 'car')}, {count(copied, 'file')} beside it")
