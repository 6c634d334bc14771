"""``carwright shop inspect`` and ``carwright shop tags``: results of many cars."""

from __future__ import annotations

import datetime as dt
from contextlib import ExitStack
from pathlib import Path

import click

from carwright import inspect
from carwright.cli.shop.listing import day, listed, show
from carwright.cli.shop.options import opened, place, processes, progress
from carwright.files import write_bytes_whole
from carwright.shop.judging import due_rules, judge_all, stale_cars
from carwright.shop.judging import opened as laid
from carwright.shop.listing import Wanted, list_cars
from carwright.shop.shared import collection
from carwright.verdict import STATUSES

MOST_TAGS = 500
"""Tags of one file."""


@click.command("inspect")
@click.argument("words", nargs=-1)
@click.option("--again", is_flag=True, help="Also those whose result is known and still good.")
@click.option("--jobs", type=click.IntRange(1, 64), help="Processes; else as many as there are cores.")
@place
def inspect_all(words: tuple[str, ...], *, again: bool, jobs: int | None, place: str) -> None:
    """Inspect every car whose result is not known, or those in which all WORDS stand, and keep the results.

    What is done stays done when this is stopped.
    """
    with opened(place) as shop:
        cars = [each.id for each in list_cars(shop, Wanted(" ".join(words)))]
        wanted = cars if again else stale_cars(shop, cars)
        with progress("inspecting") as tell:
            loose = judge_all(shop, wanted, jobs=jobs or processes(len(wanted)), progress=tell)
        found = list_cars(shop, Wanted(" ".join(words)), loose=loose)
    click.echo(f"{len(wanted)} inspected, {len(cars) - len(wanted)} known already")
    for status in STATUSES:
        count = sum(each.status == status for each in found)
        if count:
            click.echo(f"  {count} {status}")
    faulty = [each for each in found if each.fault]
    if faulty:
        click.echo(f"  {len(faulty)} cannot be inspected; `carwright shop list` says why")


@click.command("tags")
@click.argument("words", nargs=-1)
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FILE.pdf", help="The PDF to write.")
@click.option("--size", default="", metavar="ID", help="Tag sheet, one of `carwright labels --sizes`.")
@click.option("--link", default="", metavar="URL", help="Address the QR codes lead to; else they hold the cars' ids.")
@click.option("--on", callback=day, metavar="DAY", help="The day by which cars are due; else today.")
@click.option("--collection", "name", default="", metavar="NAME", help="Only cars of this collection.")
@place
def tags(words: tuple[str, ...], *, out: Path, size: str, link: str, on: dt.date, name: str, place: str) -> None:
    """Print a tag for every car that is not in service, or is to be looked at again, of those in which WORDS stand."""
    from carwright.publish.labels import DEFAULTS, label_sheet, labels_pdf  # noqa: PLC0415 - fonts, loaded only here

    paper = label_sheet(size or DEFAULTS["tag"])
    with opened(place) as shop, ExitStack() as folders:
        cars = tuple(collection(shop, name)) if name else None
        found = listed(shop, Wanted(" ".join(words), cars=cars))
        tagged = [each for each in found if not each.fault and (each.status != STATUSES[0] or each.due_now(on))]
        for each in found:
            if each.fault:
                click.echo(f"{each.title}: no tag, it cannot be inspected: {each.fault}", err=True)
        if not tagged:
            click.echo("no car needs a tag")
            return
        if len(tagged) > MOST_TAGS:
            raise click.UsageError(
                f"{len(tagged)} cars need a tag, and one file holds {MOST_TAGS}; name fewer by WORDS"
            )
        sheets = [folders.enter_context(laid(shop.bench(each.id), shop.tables)) for each in tagged]
        inspections = [inspect(each, shop.tables) for each in sheets]
        rules = due_rules(shop)
        due = {
            each.history.id: [reason.sentence for reason in each.due(rules).reasons if reason.is_due(on)]
            for each in inspections
        }
        data = labels_pdf(inspections, sheet=paper, kind="tag", shop=link, due=due)
    click.echo(write_bytes_whole(out, data))
    show(tagged, on)
