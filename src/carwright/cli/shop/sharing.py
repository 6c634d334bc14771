"""``carwright shop keep``, ``kept`` and ``collect``: what is kept for all cars, and cars kept together."""

from __future__ import annotations

from pathlib import Path

import click

from carwright.cli.shop.options import count, opened, place, who
from carwright.shop import Shop, ShopError
from carwright.shop.forms import form_of
from carwright.shop.naming import stays_inside
from carwright.shop.shared import collect as put_together
from carwright.shop.shared import collection, collections, keep_file, kept_files, kept_text
from carwright.textfile import read_text

LARGEST = 2_000_000
"""Bytes of a file kept for all cars."""


@click.command("keep")
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@place
@who
def keep(files: tuple[Path, ...], *, place: str, who: str) -> None:
    """Keep each FILE for all cars: rules, rubric, stock, instruments, dated rules, roster, track, when cars are due.

    A sheet names it as if it lay beside; where one does lie beside, that goes before. Kept again, it takes the place of
    the earlier one, and every car that goes by it is judged anew.
    """
    texts = {path: read_text(path, most=LARGEST, what="file kept for all cars") for path in files}
    names = [path.name for path in files]
    for path in files:
        if names.count(path.name) > 1:
            raise ShopError(f"{path}: another of these files has the same name; nothing was kept")
        if not stays_inside(path.name):
            raise ShopError(f"{path.name!r} is no name of a file below a folder; nothing was kept")
    with opened(place, create=True) as shop:
        forms = {path: form_of(text, str(path), shop.tables) for path, text in texts.items()}
        for path, text in texts.items():
            new = keep_file(shop, path.name, forms[path], text, who=who)
            click.echo(f"{path.name}: {forms[path]}{'' if new else ', kept already'}")


@click.command("kept")
@click.argument("name", default="")
@place
def kept(name: str, *, place: str) -> None:
    """List the files kept for all cars, or print one of them by its NAME."""
    with opened(place) as shop:
        if name:
            click.echo(kept_text(shop, name), nl=False)
            return
        found = kept_files(shop)
    if not found:
        click.echo("nothing is kept")
    for each, form in found:
        click.echo(f"{each}: {form}")


@click.command("collect")
@click.argument("name", default="")
@click.argument("cars", nargs=-1)
@click.option("--remove", is_flag=True, help="Take the cars out of it.")
@place
@who
def collect(name: str, cars: tuple[str, ...], *, remove: bool, place: str, who: str) -> None:
    """Put CARS into the collection NAME, or list its cars; without NAME, list the collections."""
    if remove and not cars:
        raise click.UsageError("--remove needs the cars to take out")
    with opened(place) as shop:
        if cars:
            found = [shop.find(each) for each in cars]
            changed = put_together(shop, name, found, remove=remove, who=who)
            click.echo(f"{name}: {changed} {'taken out' if remove else 'put in'}")
            return
        _list(shop, name)


def _list(shop: Shop, name: str) -> None:
    if name:
        for car in collection(shop, name):
            click.echo(f"{car[:8]}  {shop.state(car).title}")
        return
    found = collections(shop)
    if not found:
        click.echo("no collection")
    for each, cars in found.items():
        click.echo(f"{each}: {count(len(cars), 'car')}")
