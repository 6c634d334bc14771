"""``carwright shop list``: the cars of a shop."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import click

from carwright.cli.options import ascii_only
from carwright.cli.shop.options import count, one_line, opened, place, processes, progress
from carwright.shop import Shop
from carwright.shop.judging import judge_all, stale_cars
from carwright.shop.listing import CarLine, Wanted, list_cars
from carwright.shop.shared import collection
from carwright.verdict import STATUSES
from carwright.verdict.status import STATUS_MARKS

FORMAT = "carwright-cars/1"


def day(context: click.Context, parameter: click.Parameter, value: str | None) -> dt.date:
    """A day such as 2026-03-01; today where none is given."""
    if value is None:
        return dt.datetime.now().astimezone().date()
    try:
        return dt.date.fromisoformat(value)
    except ValueError as error:
        raise click.BadParameter(f"expected a day such as 2026-03-01, got {value!r}", context, parameter) from error


@click.command("list")
@click.argument("words", nargs=-1)
@click.option("--status", type=click.Choice(STATUSES), help="Only cars of this status.")
@click.option("--due", is_flag=True, help="Only cars to be looked at again.")
@click.option("--on", callback=day, metavar="DAY", help="The day by which they are due; else today.")
@click.option("--collection", "name", default="", metavar="NAME", help="Only cars of this collection.")
@click.option("--as-is", is_flag=True, help="Inspect nothing: say of cars not inspected yet that they are not.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")
@place
def command(
    words: tuple[str, ...],
    *,
    status: str | None,
    due: bool,
    on: dt.date,
    name: str,
    as_is: bool,
    as_json: bool,
    place: str,
) -> None:
    """List cars by title, with status and points; only those in which all WORDS stand, where some are given."""
    with opened(place) as shop:
        cars = tuple(collection(shop, name)) if name else None
        wanted = Wanted(" ".join(words), status or "", cars, on if due else None)
        found = listed(shop, wanted, as_is=as_is)
    if as_json:
        rows = [row_of(each, on) for each in found]
        click.echo(json.dumps({"format": FORMAT, "cars": rows}, ensure_ascii=ascii_only(), indent=1))
        return
    show(found, on)


def listed(shop: Shop, wanted: Wanted, *, as_is: bool = False) -> list[CarLine]:
    """Cars that are wanted, those inspected first whose result is not known."""
    loose = None
    if not as_is:
        near = Wanted(wanted.words, cars=wanted.cars)
        stale = stale_cars(shop, [each.id for each in list_cars(shop, near)])
        if stale:
            with progress("inspecting") as tell:
                loose = judge_all(shop, stale, jobs=processes(len(stale)), progress=tell)
    return list_cars(shop, wanted, loose=loose)


def show(found: list[CarLine], on: dt.date) -> None:
    """A line for each car, and under it what restricts it or what it is due for."""
    if not found:
        click.echo("no car")
        return
    rows = [
        (
            STATUS_MARKS.get(each.status, "?"), _status(each), one_line(each.title), each.scale,
            f"{each.points:g} of {each.out_of:g}" if each.out_of else "", each.id[:8],
        )
        for each in found
    ]  # fmt: skip
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    for each, row in zip(found, rows, strict=True):
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
        if each.fault:
            click.echo(f"   {each.fault}")
        if each.route:
            click.echo(f"   may run: {each.route}")
        for reason in each.due_now(on):
            click.echo(f"   due{_since(reason.start)}: {reason.sentence}")
        if each.forks:
            click.echo(f"   disputed on {count(each.forks, 'point')}; `carwright shop check` names them")
    click.echo(f"{count(len(found), 'car')}{_statuses(found)}")


def _status(each: CarLine) -> str:
    return each.status or ("cannot be inspected" if each.fault else "not inspected yet")


def _since(start: dt.date | None) -> str:
    return f" since {start.isoformat()}" if start is not None else ""


def _statuses(found: list[CarLine]) -> str:
    counts = {status: sum(each.status == status for each in found) for status in STATUSES}
    told = ", ".join(f"{number} {status}" for status, number in counts.items() if number)
    return f": {told}" if told else ""


def row_of(each: CarLine, on: dt.date) -> dict[str, Any]:
    """A car as JSON."""
    return {
        "id": each.id, "title": each.title, "scale": each.scale, "type": each.type, "owner": each.owner,
        "number": each.number, "place": each.place, "entries": each.entries, "disputed": each.forks,
        "inspected": each.known, "status": each.status or None, "status_reasons": list(each.reasons),
        "route": each.route or None, "points": each.points if each.known else None,
        "out_of": each.out_of if each.known else None, "band": each.band or None, "fault": each.fault or None,
        "fails": each.fails, "undecided": each.undecided, "not_measured": each.unmeasured,
        "due": [
            {"from": reason.start.isoformat() if reason.start else None, "now": reason.is_due(on), "why": reason.why,
             "read": list(reason.read)}
            for reason in each.due
        ],
    }  # fmt: skip
